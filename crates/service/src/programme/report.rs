//! A programme checked, and its dose counted: from the text of its file to what is shown.

use std::collections::BTreeMap;

use domain::{Catalogue, Joint, LiftName, LifterName, Muscle, Programme, Purpose};
use engine::programme::check::Finding;
use engine::programme::dose::{MuscleDoses, WeekDose};
use engine::programme::joints::joint_loads;
use engine::programme::minutes::session_seconds;
use engine::programme::{Ground, Mend, RecoveryHours, Urgency, Week, check, mend, ranges};
use jiff::civil::Date;
use store::Store;

use super::view::{CheckView, DayView, DoseView, FindingView, JointView, MuscleDose};
use super::{FileError, read_programme};
use crate::ServiceError;
use crate::import::near_lifts;
use crate::record::history::Standing;
use crate::record::person::Person;
use crate::words::{self, sentence};

/// Lead sets after which a lift's own record says whether it is a gauge, and its class doesn't.
const OWN_RECORD: usize = 12;

pub(super) const CAUTIONS: &str = "Use a spotter or safety bars where named, and set them first. Pain, faintness, a \
    tight chest or sudden breathlessness: stop and get help. New to hard training, ill, or long away: be \
    screened by a licensed professional before starting. This looks at a plan; it diagnoses nothing and \
    clears nobody to train.";

/// Why a programme could not be looked at.
#[derive(Debug, thiserror::Error)]
pub enum ProgrammeError {
    /// The file can't be read.
    #[error(transparent)]
    File(#[from] FileError),
    /// Lifts that the catalogue doesn't know.
    #[error("{}; write a known name, or add them with a lift file", unknown_words(.0))]
    UnknownLifts(Vec<UnknownLift>),
    /// A week that the programme doesn't have.
    #[error("there is no week {got}: the programme has {has}; name one from 1 to {has}")]
    NoSuchWeek {
        /// The week asked for, from 1.
        got: usize,
        /// How many there are.
        has: usize,
    },
    /// A drafted week that doesn't keep to the wishes after all: a fault of the program.
    #[error("the drafted week doesn't stand up to being added up again: {0}; please report this")]
    NotSound(String),
    /// A remark that isn't there, or that no small change cures: what, with what would do.
    #[error("{0}")]
    NothingToMend(String),
    /// The lifter's record can't be read.
    #[error(transparent)]
    Service(#[from] ServiceError),
}

/// A lift that the catalogue doesn't know.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct UnknownLift {
    /// The name.
    pub name: String,
    /// Known names that are like it.
    pub near: Vec<String>,
}

/// What is known of a lifter for planning, besides the programme.
#[derive(Clone, Debug)]
pub struct Planning {
    lifter: Option<String>,
    hours: RecoveryHours,
    gauges: BTreeMap<String, bool>,
    recovery: String,
    /// Joints with a complaint that stands, with the telling in words.
    complaining: Vec<(Joint, String)>,
}

impl Planning {
    /// Whose hours between sessions these are, in words.
    #[must_use]
    pub fn recovery(&self) -> &str {
        &self.recovery
    }

    /// For nobody in particular: the values of lifters in general.
    #[must_use]
    pub fn for_anybody() -> Planning {
        Planning {
            lifter: None,
            hours: RecoveryHours::default(),
            gauges: BTreeMap::new(),
            recovery: "Hours between sessions are those of lifters in general.".to_owned(),
            complaining: Vec::new(),
        }
    }

    /// For a lifter on record, as of `today`.
    ///
    /// # Errors
    /// The store has trouble, or there is nobody of that name.
    pub fn for_lifter(
        store: &Store,
        name: &LifterName,
        today: Date,
    ) -> Result<Planning, ServiceError> {
        Ok(Planning::of(&Person::load(store, name)?, today))
    }

    /// For a lifter who was read already, as of `today`.
    pub(super) fn of(person: &Person, today: Date) -> Planning {
        let standing = person.history.on(today);
        let lifter = person.lifter.name.to_string();
        let complaining = complaining(person, today);
        let Some(model) = standing.recovery() else {
            return Planning { lifter: Some(lifter), complaining, ..Planning::for_anybody() };
        };
        let slowness = model.parameters().slowness;
        let recovery = match model.n_lead_sets() {
            0 => format!(
                "Hours between sessions are those of lifters in general: {lifter} has no lead set on record yet."
            ),
            n => format!(
                "Hours between sessions are {lifter}'s own: {slowness:.2} times those of lifters in general, \
                 estimated from {n} lead sets and drawn towards 1 where they say little."
            ),
        };
        let hours = RecoveryHours::with_slowness(slowness);
        let gauges = gauges(person, &standing);
        Planning { lifter: Some(lifter), hours, gauges, recovery, complaining }
    }

    /// The programme with joints that complain to be spared, besides those that it names itself.
    fn sparing(&self, mut programme: Programme) -> Programme {
        let more = self.complaining.iter().map(|(joint, _)| *joint);
        let new: Vec<Joint> = more.filter(|one| !programme.purpose.spare.contains(one)).collect();
        programme.purpose.spare.extend(new);
        programme
    }

    /// The remarks on a week of a programme that spares joints which only complain besides its `own`. That one of
    /// those is loaded is no fault of the programme, and the coach's to weigh.
    fn remarks(&self, week: &Week<'_>, own: &[Joint], ground: &Ground<'_>) -> Vec<Finding> {
        let mut found = check(week, ground);
        for finding in &mut found {
            if finding.spared().is_some_and(|joint| !own.contains(&joint)) {
                finding.words = finding.words.replacen("is to be spared", "complains", 1);
                finding.urgency = finding.urgency.max(Urgency::Change);
            }
        }
        found.sort_by_key(|finding| finding.urgency); // stable
        found
    }

    /// What a check goes by besides the file, as sentences.
    fn grounds(&self, spare: &[Joint]) -> String {
        let told = self.complaining.iter().filter(|(joint, _)| !spare.contains(joint));
        let told: Vec<String> = told.map(|(_, words)| words.clone()).collect();
        match told.as_slice() {
            [] => self.recovery.clone(),
            some => format!(
                "{} Complaining, which the programme doesn't say: {}.",
                self.recovery,
                words::list(some)
            ),
        }
    }

    pub(super) fn ground<'a>(&'a self, catalogue: &'a Catalogue) -> Ground<'a> {
        Ground { catalogue, hours: &self.hours, gauges: &self.gauges }
    }
}

/// Checks week `week` (from 1) of the programme in `text`.
///
/// # Errors
/// The file can't be read, names lifts that aren't known, or has no such week.
pub fn check_programme(
    text: &str,
    week: usize,
    catalogue: &Catalogue,
    planning: &Planning,
) -> Result<CheckView, ProgrammeError> {
    checked(text, week, catalogue, (planning, true))
}

/// [`check_programme`], and whether to look for changes that cure what is found, which takes longer.
pub(super) fn checked(
    text: &str,
    week: usize,
    catalogue: &Catalogue,
    (planning, mends): (&Planning, bool),
) -> Result<CheckView, ProgrammeError> {
    let programme = read_programme(text)?;
    let own = programme.purpose.spare.clone();
    let recovery = planning.grounds(&own);
    let programme = planning.sparing(programme);
    let (idx, number) = (week.saturating_sub(1), (week, programme.weeks()));
    let week = week_of(&programme, week, catalogue)?;
    let ground = planning.ground(catalogue);
    let found = planning.remarks(&week, &own, &ground);
    let elsewhere = other_weeks(&programme, idx, &found, &ground);
    let findings = found
        .into_iter()
        .map(|finding| {
            let found = mends.then(|| mended(&programme, idx, &finding, &ground)).flatten();
            finding_view(&finding, found.map(|mend| mend.words))
        })
        .collect();
    Ok(CheckView {
        name: programme.name.to_string(),
        lifter: planning.lifter.clone(),
        week: number,
        recovery: format!("{recovery}{elsewhere}"),
        findings,
        days: day_views(&week),
        joints: joint_views(&week, &own),
        spotted: spotted(&week),
        cautions: CAUTIONS,
    })
}

/// What other weeks of a wave are remarked on and the week looked at isn't, as a sentence after others.
fn other_weeks(
    programme: &Programme,
    looked_at: usize,
    found: &[Finding],
    ground: &Ground<'_>,
) -> String {
    let others = (0..programme.weeks()).filter(|idx| *idx != looked_at);
    let with_more: Vec<String> = others
        .filter_map(|idx| {
            let week = Week::of(programme, ground.catalogue, idx).ok()?;
            let is_new = |one: &Finding| !found.iter().any(|other| one.is_like(other));
            let n = check(&week, ground).iter().filter(|one| is_new(one)).count();
            (n > 0).then(|| format!("week {} ({n})", idx + 1))
        })
        .collect();
    match with_more.as_slice() {
        [] => String::new(),
        weeks => format!(" Other weeks have remarks of their own: {}.", words::list(weeks)),
    }
}

/// The change that cures a remark. Sparing a joint may cost as much as any cure may, though a joint that only
/// complains makes a milder remark.
fn mended(
    programme: &Programme,
    week: usize,
    finding: &Finding,
    ground: &Ground<'_>,
) -> Option<Mend> {
    let mut finding = finding.clone();
    if finding.spared().is_some() {
        finding.urgency = Urgency::PutRight;
    }
    mend(programme, week, &finding, ground)
}

fn finding_view(finding: &Finding, mend: Option<String>) -> FindingView {
    FindingView {
        urgency: finding.urgency.as_str(),
        place: finding.place,
        words: sentence(&finding.words),
        cure: finding.cure.as_deref().map(sentence),
        mend,
    }
}

/// Which finding of a check is to be mended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Remark<'a> {
    /// By its number in the list, from 1.
    Number(usize),
    /// By its [`FindingView::key`].
    Key(&'a str),
}

/// The programme in `text` after the change that cures a finding of its week `week` (from 1), and what was
/// changed, as a phrase.
///
/// # Errors
/// As [`check_programme`]; there is no such finding, or no small change that cures it.
pub fn mend_programme(
    text: &str,
    week: usize,
    remark: Remark<'_>,
    (catalogue, planning): (&Catalogue, &Planning),
) -> Result<(Programme, String), ProgrammeError> {
    let programme = read_programme(text)?;
    let purpose = programme.purpose.clone();
    let programme = planning.sparing(programme);
    let of_week = week_of(&programme, week, catalogue)?;
    let ground = planning.ground(catalogue);
    let findings = planning.remarks(&of_week, &purpose.spare, &ground);
    let found = match remark {
        Remark::Number(number) => number.checked_sub(1).and_then(|idx| findings.get(idx)),
        Remark::Key(key) => findings.iter().find(|one| finding_view(one, None).key() == key),
    };
    let Some(finding) = found else {
        return Err(ProgrammeError::NothingToMend(match remark {
            Remark::Number(number) => {
                format!("there is no remark {number}: there are {}", findings.len())
            }
            Remark::Key(_) => "that remark isn't made any more: check it again".to_owned(),
        }));
    };
    let found = mended(&programme, week - 1, finding, &ground);
    let mended = found.map(|mut mend| {
        mend.programme.purpose = purpose;
        (mend.programme, mend.words)
    });
    mended.ok_or_else(|| {
        let words = "no small change cures that without doing harm elsewhere: change it by hand";
        ProgrammeError::NothingToMend(words.to_owned())
    })
}

/// Counts the dose in week `week` (from 1) of the programme in `text`.
///
/// # Errors
/// As [`check_programme`].
pub fn programme_dose(
    text: &str,
    week: usize,
    catalogue: &Catalogue,
) -> Result<DoseView, ProgrammeError> {
    let programme = read_programme(text)?;
    let number = (week, programme.weeks());
    let week = week_of(&programme, week, catalogue)?;
    Ok(DoseView {
        name: programme.name.to_string(),
        week: number,
        weekdays: week.days.iter().map(engine::programme::WeekDay::name).collect(),
        muscles: muscle_doses(&week),
        notes: vec![
            "A set with 4 or fewer repetitions in reserve, or with none asked for, counts 1 for a prime \
             mover and the catalogue's weight for a muscle that assists (fractional counting, Pelland \
             2024)."
                .to_owned(),
            sentence(&format!("usual ranges of muscles trained for their own sake: {}", ranges::TRAINED)),
            sentence(&format!("usual ranges of the others: {}", ranges::TRAINED_ALONG)),
            ranges::UNCERTAINTY.to_owned(),
        ],
    })
}

/// The lifts of a week looked up, unknown ones answered with near names.
fn week_of<'a>(
    programme: &'a Programme,
    week: usize,
    catalogue: &'a Catalogue,
) -> Result<Week<'a>, ProgrammeError> {
    let has = programme.weeks();
    if week == 0 || week > has {
        return Err(ProgrammeError::NoSuchWeek { got: week, has });
    }
    Week::of(programme, catalogue, week - 1).map_err(|names| unknown_lifts(&names, catalogue))
}

/// That these lifts aren't known, with near names.
pub(super) fn unknown_lifts(names: &[LiftName], catalogue: &Catalogue) -> ProgrammeError {
    let unknown = |name: &LiftName| UnknownLift {
        name: name.to_string(),
        near: near_lifts(name.as_str(), catalogue),
    };
    ProgrammeError::UnknownLifts(names.iter().map(unknown).collect())
}

fn complaining(person: &Person, today: Date) -> Vec<(Joint, String)> {
    let standing = person.complaints(today).unwrap_or_default();
    let told = standing.into_iter().map(|complaint| {
        let (joint, rating) = (complaint.pain.joint, complaint.pain.rating());
        let day = words::day(complaint.when.date(), today);
        (joint, format!("the {}, with pain of {rating} in 10 told on {day}", joint.label()))
    });
    told.collect()
}

fn gauges(person: &Person, standing: &Standing<'_>) -> BTreeMap<String, bool> {
    let mut gauges = BTreeMap::new();
    for record in &person.history.lifts {
        let Some(model) = standing.lift(record) else { continue };
        if model.exposures() >= OWN_RECORD {
            let gauge = engine::reading::gauge(&record.lift, &*model);
            gauges.insert(record.lift.name.key(), gauge.is_gauge);
        }
    }
    gauges
}

fn day_views(week: &Week<'_>) -> Vec<DayView> {
    week.days
        .iter()
        .map(|day| DayView {
            weekday: day.name(),
            minutes: session_seconds(&day.slots).div_ceil(60),
            minutes_there: day.minutes,
            sets: day.slots.iter().map(|slot| u32::from(slot.sets)).sum(),
            lifts: day.slots.len(),
        })
        .collect()
}

/// What each joint is loaded by in a week that spares, besides its programme's `own`, joints that complain.
fn joint_views(week: &Week<'_>, own: &[Joint]) -> Vec<JointView> {
    joint_loads(week)
        .into_iter()
        .filter(|load| load.week > 0.0)
        .map(|load| JointView {
            joint: load.joint.label(),
            spared: own.contains(&load.joint),
            complains: week.purpose.spare.contains(&load.joint) && !own.contains(&load.joint),
            days: load.days,
            week: load.week,
        })
        .collect()
}

fn spotted(week: &Week<'_>) -> Vec<String> {
    let mut names: Vec<String> = Vec::new();
    for slot in week.days.iter().flat_map(|day| &day.slots).filter(|slot| slot.lift.spotter) {
        let name = slot.lift.name.to_string();
        if !names.contains(&name) {
            names.push(name);
        }
    }
    names
}

fn muscle_doses(week: &Week<'_>) -> Vec<MuscleDose> {
    let dose = WeekDose::of(week);
    let row = |muscle: Muscle| muscle_dose(week.purpose, &dose.days, &dose.week, muscle);
    let rows = Muscle::ALL.iter().map(|muscle| row(*muscle));
    rows.filter(|row| row.total > 0.0 || row.range.0 > 0.0).collect()
}

fn muscle_dose(
    purpose: &Purpose,
    days: &[MuscleDoses],
    week: &MuscleDoses,
    muscle: Muscle,
) -> MuscleDose {
    let own = purpose.dose.get(&muscle).copied();
    let range = own.unwrap_or_else(|| ranges::usual(muscle).range);
    let dose = week.of(muscle);
    let total = dose.total();
    let verdict = match total {
        low if low < range.least() => "below least",
        some if some < range.aim() => "below aim",
        high if high > range.most() => "above most",
        _ => "in range",
    };
    MuscleDose {
        muscle: muscle.label(),
        direct: dose.direct,
        assisting: dose.assisting,
        total,
        days: days.iter().map(|day| day.of(muscle).total()).collect(),
        range: (range.least(), range.aim(), range.most()),
        own_range: own.is_some(),
        verdict,
    }
}

fn unknown_words(unknown: &[UnknownLift]) -> String {
    let each: Vec<String> = unknown
        .iter()
        .map(|lift| match lift.near.as_slice() {
            [] => format!("there is no lift `{}`", lift.name),
            near => format!("there is no lift `{}`; did you mean {}?", lift.name, near.join(", ")),
        })
        .collect();
    each.join("; ")
}
