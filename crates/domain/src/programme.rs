//! A programme: the days of a training week and the lifts planned for each of them.
//!
//! Valid by construction: every planned lift has sets and repetitions that its progression can use, and
//! no weekday comes twice. Doesn't know whether a lift is in the catalogue, what the week adds up to, or
//! how it is written in a file.

use std::collections::BTreeMap;

use jiff::civil::Weekday;

use crate::bounds::within;
use crate::{EquipmentClass, Joint, LiftName, Mass, Muscle, Note, ProgrammeName, Refused, Rir};

/// Why a programme was refused, with the place.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum ProgrammeError {
    /// A weekday that comes twice.
    #[error("{} comes twice: put its lifts into one day", weekday_name(*.0))]
    DayTwice(Weekday),
    /// No day at all.
    #[error("the programme has no day: write at least one with a lift")]
    NoDays,
    /// A day with no lift, or with too many.
    #[error(
        "{} has {got} lifts: it must have from 1 to {}", weekday_name(*.weekday), ProgrammeDay::MOST_LIFTS
    )]
    LiftCount {
        /// The day.
        weekday: Weekday,
        /// Its lifts.
        got: usize,
    },
    /// Something that the progression can't work with.
    #[error("`{lift}`: {reason}")]
    Progression {
        /// The lift.
        lift: LiftName,
        /// What is wrong and what would do.
        reason: String,
    },
    /// A value out of its range.
    #[error(transparent)]
    Refused(#[from] Refused),
}

/// A programme for one lifter, or for anybody.
#[derive(Clone, Debug, PartialEq)]
pub struct Programme {
    /// What it is called.
    pub name: ProgrammeName,
    /// A free remark.
    pub note: Note,
    /// What it is written for, against which it is checked.
    pub purpose: Purpose,
    days: Vec<ProgrammeDay>,
}

impl Programme {
    /// Puts days into the order of the week; refuses none at all, and a weekday that comes twice.
    pub fn new(
        name: ProgrammeName,
        note: Note,
        purpose: Purpose,
        mut days: Vec<ProgrammeDay>,
    ) -> Result<Programme, ProgrammeError> {
        days.sort_by_key(|day| day.weekday.to_monday_zero_offset());
        if days.is_empty() {
            return Err(ProgrammeError::NoDays);
        }
        if let Some(twice) = days.windows(2).find(|two| two[0].weekday == two[1].weekday) {
            return Err(ProgrammeError::DayTwice(twice[0].weekday));
        }
        Ok(Programme { name, note, purpose, days })
    }

    /// The days, Monday first.
    #[must_use]
    pub fn days(&self) -> &[ProgrammeDay] {
        &self.days
    }

    /// Weeks after which every wave has come to its end: the longest one, 1 without any.
    #[must_use]
    pub fn weeks(&self) -> usize {
        let lifts = self.days.iter().flat_map(ProgrammeDay::lifts);
        lifts.map(|planned| planned.progression.weeks()).max().unwrap_or(1)
    }
}

/// What a programme is for and what it must get by with.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Purpose {
    /// The lifts that are to go up.
    pub raise: Vec<LiftName>,
    /// The equipment at hand; none if it isn't told, and then everything is.
    pub equipment: Option<Vec<EquipmentClass>>,
    /// Joints that complain and are to be spared.
    pub spare: Vec<Joint>,
    /// Ranges of dose in place of the usual ones.
    pub dose: BTreeMap<Muscle, DoseRange>,
    /// Lifts that are not to be taken.
    pub refuse: Vec<LiftName>,
    /// What counts only when weeks are drafted.
    pub drafting: Drafting,
}

/// What a coach wants of drafted weeks, over and above their purpose.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Drafting {
    /// How much muscles matter; the others matter as usual.
    pub priorities: BTreeMap<Muscle, Priority>,
    /// The most lifts in a day; none for the usual number.
    pub most_lifts: Option<u8>,
    /// Whether a muscle may be loaded again before it is back.
    pub ignore_hours: bool,
}

/// How much a muscle matters beside the others.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Priority {
    /// Half as much.
    Low,
    /// As usual.
    Usual,
    /// Twice as much.
    High,
}

impl Priority {
    /// The word for it in files and forms.
    #[must_use]
    pub fn key(self) -> &'static str {
        match self {
            Priority::Low => "low",
            Priority::Usual => "usual",
            Priority::High => "high",
        }
    }

    /// The priority of that word.
    pub fn parse(text: &str) -> Result<Priority, Refused> {
        let all = [Priority::Low, Priority::Usual, Priority::High];
        all.into_iter().find(|one| one.key() == text.trim()).ok_or_else(|| Refused::Text {
            what: "priority",
            got: text.to_owned(),
            needed: "write `low`, `usual` or `high`".to_owned(),
        })
    }
}

/// A range for the weekly dose of one muscle, in hard sets shared out by the muscles' weights.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DoseRange {
    least: f64,
    aim: f64,
    most: f64,
}

impl DoseRange {
    /// The highest dose that a range may name, in hard sets a week.
    pub const MAX: f64 = 60.0;

    /// Takes the dose below which is little, the dose to aim at, and the dose above which more isn't
    /// known to help, in hard sets a week: each from 0 to 60, none above the next.
    pub fn new(least: f64, aim: f64, most: f64) -> Result<DoseRange, Refused> {
        within("least dose", least, 0.0, Self::MAX, "hard sets a week")?;
        within("dose to aim at", aim, least, Self::MAX, "hard sets a week")?;
        within("most dose", most, aim, Self::MAX, "hard sets a week")?;
        Ok(DoseRange { least, aim, most })
    }

    /// Below this the dose is little.
    #[must_use]
    pub fn least(self) -> f64 {
        self.least
    }

    /// The dose to aim at.
    #[must_use]
    pub fn aim(self) -> f64 {
        self.aim
    }

    /// Above this, more isn't known to help.
    #[must_use]
    pub fn most(self) -> f64 {
        self.most
    }
}

/// One day of the week.
#[derive(Clone, Debug, PartialEq)]
pub struct ProgrammeDay {
    weekday: Weekday,
    minutes: Option<u16>,
    lifts: Vec<PlannedLift>,
}

impl ProgrammeDay {
    /// The most lifts in a day.
    pub const MOST_LIFTS: usize = 20;

    /// Takes the minutes that there are, 10 to 300 if told, and 1 to 20 lifts in their order.
    pub fn new(
        weekday: Weekday,
        minutes: Option<u16>,
        lifts: Vec<PlannedLift>,
    ) -> Result<ProgrammeDay, ProgrammeError> {
        if let Some(minutes) = minutes {
            checked_minutes(minutes)?;
        }
        if lifts.is_empty() || lifts.len() > Self::MOST_LIFTS {
            return Err(ProgrammeError::LiftCount { weekday, got: lifts.len() });
        }
        Ok(ProgrammeDay { weekday, minutes, lifts })
    }

    /// The day of the week.
    #[must_use]
    pub fn weekday(&self) -> Weekday {
        self.weekday
    }

    /// The minutes that there are, if told.
    #[must_use]
    pub fn minutes(&self) -> Option<u16> {
        self.minutes
    }

    /// The lifts in order.
    #[must_use]
    pub fn lifts(&self) -> &[PlannedLift] {
        &self.lifts
    }
}

/// Repetitions of a set: lowest and highest, both included.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct RepRange {
    low: u16,
    high: u16,
}

impl RepRange {
    /// The most repetitions that a set may be planned with.
    pub const MAX: u16 = 50;

    /// Takes 1 to 50 repetitions, lowest first; the two may be equal.
    pub fn new(low: u16, high: u16) -> Result<RepRange, Refused> {
        within("reps", low.into(), 1.0, Self::MAX.into(), "reps")?;
        within("highest reps", high.into(), low.into(), Self::MAX.into(), "reps")?;
        Ok(RepRange { low, high })
    }

    /// The lowest.
    #[must_use]
    pub fn low(self) -> u16 {
        self.low
    }

    /// The highest.
    #[must_use]
    pub fn high(self) -> u16 {
        self.high
    }

    /// Whether it is a single number.
    #[must_use]
    pub fn is_one(self) -> bool {
        self.low == self.high
    }
}

impl std::fmt::Display for RepRange {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        if self.is_one() {
            write!(f, "{}", self.low)
        } else {
            write!(f, "{}–{}", self.low, self.high)
        }
    }
}

/// One lift of a day.
#[derive(Clone, Debug, PartialEq)]
pub struct PlannedLift {
    lift: LiftName,
    sets: u8,
    reps: RepRange,
    rir: Option<Rir>,
    rest_seconds: Option<u16>,
    progression: Progression,
}

impl PlannedLift {
    /// The most work sets of a lift in a day.
    pub const MOST_SETS: u8 = 20;

    /// Takes 1 to 20 work sets, their repetitions, the reserve if one is asked for, the rest between
    /// sets (10 to 900 s) if it is told, and a progression other than a wave.
    ///
    /// # Errors
    /// A value is out of range; load steps or a share of today's 1RM with a range of repetitions; a rep
    /// goal that the sets can't come to; a wave.
    pub fn new(
        lift: LiftName,
        sets: u8,
        reps: RepRange,
        rir: Option<Rir>,
        rest_seconds: Option<u16>,
        progression: Progression,
    ) -> Result<PlannedLift, ProgrammeError> {
        checked_sets(sets)?;
        let refuse =
            |reason: String| Err(ProgrammeError::Progression { lift: lift.clone(), reason });
        match &progression {
            Progression::Double { .. } => {}
            Progression::LoadSteps { .. } | Progression::OfToday { .. } => {
                if !reps.is_one() {
                    return refuse(format!(
                        "{} goes with one number of repetitions, and {reps} is a range: write one \
                         number, or take double progression",
                        progression.name()
                    ));
                }
            }
            Progression::RepGoal { total, .. } => {
                let (least, most) = (u16::from(sets) * reps.low(), u16::from(sets) * reps.high());
                if !(least..=most).contains(total) {
                    return refuse(format!(
                        "a goal of {total} repetitions is not within {sets} sets of {reps}, which \
                         make {least} to {most}: change the goal, the sets or the repetitions"
                    ));
                }
            }
            Progression::Wave { .. } => {
                return refuse(
                    "a wave gives sets and repetitions week by week: leave out `sets` and `reps`"
                        .to_owned(),
                );
            }
        }
        let rest_seconds = checked_rest(rest_seconds)?;
        Ok(PlannedLift { lift, sets, reps, rir, rest_seconds, progression })
    }

    /// Takes a wave over 2 to 12 weeks, which begins again when it is over.
    pub fn wave(
        lift: LiftName,
        weeks: Vec<WaveWeek>,
        rir: Option<Rir>,
        rest_seconds: Option<u16>,
    ) -> Result<PlannedLift, ProgrammeError> {
        within("weeks of a wave", weeks.len() as f64, 2.0, 12.0, "weeks")?;
        let reps = |pick: fn(u16, u16) -> u16| weeks.iter().map(|week| week.reps).reduce(pick);
        let range = RepRange::new(reps(u16::min).unwrap_or(1), reps(u16::max).unwrap_or(1))?;
        let sets = weeks.iter().map(|week| week.sets).max().unwrap_or(1);
        Ok(PlannedLift {
            lift,
            sets,
            reps: range,
            rir,
            rest_seconds: checked_rest(rest_seconds)?,
            progression: Progression::Wave { weeks },
        })
    }

    /// The lift.
    #[must_use]
    pub fn lift(&self) -> &LiftName {
        &self.lift
    }

    /// Work sets; of a wave those of its fullest week.
    #[must_use]
    pub fn sets(&self) -> u8 {
        self.sets
    }

    /// Work sets in a week of the programme, the first being 0.
    #[must_use]
    pub fn sets_in(&self, week: usize) -> u8 {
        match &self.progression {
            Progression::Wave { weeks } => weeks[week % weeks.len()].sets,
            _ => self.sets,
        }
    }

    /// Repetitions a set; of a wave those of all its weeks.
    #[must_use]
    pub fn reps(&self) -> RepRange {
        self.reps
    }

    /// Repetitions a set in a week of the programme, the first being 0.
    #[must_use]
    pub fn reps_in(&self, week: usize) -> RepRange {
        match &self.progression {
            Progression::Wave { weeks } => {
                let reps = weeks[week % weeks.len()].reps;
                RepRange { low: reps, high: reps }
            }
            _ => self.reps,
        }
    }

    /// Repetitions to keep in reserve, if that is asked for.
    #[must_use]
    pub fn rir(&self) -> Option<Rir> {
        self.rir
    }

    /// Rest between sets in seconds, if told.
    #[must_use]
    pub fn rest_seconds(&self) -> Option<u16> {
        self.rest_seconds
    }

    /// How the lift moves on.
    #[must_use]
    pub fn progression(&self) -> &Progression {
        &self.progression
    }
}

/// How a lift moves on from session to session.
#[derive(Clone, Debug, PartialEq)]
pub enum Progression {
    /// Repetitions first, within the range, then load.
    Double {
        /// The step of the load; the equipment's own if none.
        step: Option<Mass>,
    },
    /// Load at every success; so many misses in a row go back.
    LoadSteps {
        /// The step of the load; the equipment's own if none.
        step: Option<Mass>,
        /// What follows misses.
        back: StepBack,
    },
    /// A number of repetitions over all sets, then load.
    RepGoal {
        /// The repetitions over all sets.
        total: u16,
        /// The step of the load; the equipment's own if none.
        step: Option<Mass>,
    },
    /// A fixed share of today's 1RM.
    OfToday(ShareOfToday),
    /// Sets, repetitions and share of today's 1RM week by week, then from the start again.
    Wave {
        /// The weeks.
        weeks: Vec<WaveWeek>,
    },
}

impl Progression {
    /// The name in sentences and files.
    #[must_use]
    pub fn name(&self) -> &'static str {
        match self {
            Progression::Double { .. } => "double progression",
            Progression::LoadSteps { .. } => "load steps",
            Progression::RepGoal { .. } => "rep goal",
            Progression::OfToday(_) => "share of today",
            Progression::Wave { .. } => "wave",
        }
    }

    fn weeks(&self) -> usize {
        match self {
            Progression::Wave { weeks } => weeks.len(),
            _ => 1,
        }
    }
}

/// Going back after misses in a row at one load.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StepBack {
    misses: u8,
    pct: f64,
}

impl StepBack {
    /// Takes the misses in a row that go back (1 to 10) and by how much of the load (1 to 30 %).
    pub fn new(misses: u8, pct: f64) -> Result<StepBack, Refused> {
        within("misses", misses.into(), 1.0, 10.0, "in a row")?;
        Ok(StepBack { misses, pct: within("step back", pct, 1.0, 30.0, "%")? })
    }

    /// Misses in a row.
    #[must_use]
    pub fn misses(self) -> u8 {
        self.misses
    }

    /// The step back, in % of the load.
    #[must_use]
    pub fn pct(self) -> f64 {
        self.pct
    }
}

impl Default for StepBack {
    /// Three misses in a row go back by a tenth (common practice, no source).
    fn default() -> StepBack {
        StepBack { misses: 3, pct: 10.0 }
    }
}

/// A share of today's 1RM: 20 to 105 %.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ShareOfToday(f64);

impl ShareOfToday {
    /// Takes 20 to 105 %.
    pub fn new(pct: f64) -> Result<ShareOfToday, Refused> {
        within("share of today's 1RM", pct, 20.0, 105.0, "%").map(ShareOfToday)
    }

    /// The share in %.
    #[must_use]
    pub fn pct(self) -> f64 {
        self.0
    }
}

/// One week of a wave.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WaveWeek {
    sets: u8,
    reps: u16,
    share: ShareOfToday,
}

impl WaveWeek {
    /// Takes 1 to 20 sets of 1 to 50 repetitions at a share of today's 1RM.
    pub fn new(sets: u8, reps: u16, share: ShareOfToday) -> Result<WaveWeek, Refused> {
        checked_sets(sets)?;
        RepRange::new(reps, reps)?;
        Ok(WaveWeek { sets, reps, share })
    }

    /// Work sets.
    #[must_use]
    pub fn sets(self) -> u8 {
        self.sets
    }

    /// Repetitions a set.
    #[must_use]
    pub fn reps(self) -> u16 {
        self.reps
    }

    /// The share of today's 1RM.
    #[must_use]
    pub fn share(self) -> ShareOfToday {
        self.share
    }
}

/// The weekdays with their names, Monday first.
const WEEKDAYS: [(&str, Weekday); 7] = [
    ("Monday", Weekday::Monday),
    ("Tuesday", Weekday::Tuesday),
    ("Wednesday", Weekday::Wednesday),
    ("Thursday", Weekday::Thursday),
    ("Friday", Weekday::Friday),
    ("Saturday", Weekday::Saturday),
    ("Sunday", Weekday::Sunday),
];

/// The days of the week, Monday first.
pub const WEEK: [Weekday; 7] = [
    Weekday::Monday,
    Weekday::Tuesday,
    Weekday::Wednesday,
    Weekday::Thursday,
    Weekday::Friday,
    Weekday::Saturday,
    Weekday::Sunday,
];

/// The English name of a weekday.
#[must_use]
pub fn weekday_name(weekday: Weekday) -> &'static str {
    WEEKDAYS[weekday.to_monday_zero_offset() as usize].0 // offsets are 0 to 6
}

/// The English name of a weekday in short: `Mon`.
#[must_use]
pub fn short_weekday(weekday: Weekday) -> &'static str {
    &weekday_name(weekday)[..3]
}

/// Reads the English name of a weekday, or its first three letters, in any case.
pub fn parse_weekday(text: &str) -> Result<Weekday, Refused> {
    let short = WEEKDAYS.iter().find(|(name, _)| name[..3].eq_ignore_ascii_case(text.trim()));
    match short {
        Some((_, weekday)) => Ok(*weekday),
        None => crate::bounds::word("weekday", text, &WEEKDAYS),
    }
}

/// Checks the minutes of a session: 10 to 300.
pub fn checked_minutes(minutes: u16) -> Result<u16, Refused> {
    within("minutes", minutes.into(), 10.0, 300.0, "minutes").map(|_| minutes)
}

fn checked_sets(sets: u8) -> Result<(), Refused> {
    within("sets", sets.into(), 1.0, PlannedLift::MOST_SETS.into(), "sets").map(|_| ())
}

fn checked_rest(seconds: Option<u16>) -> Result<Option<u16>, Refused> {
    if let Some(seconds) = seconds {
        within("rest", seconds.into(), 10.0, 900.0, "seconds")?;
    }
    Ok(seconds)
}
