//! The dose on record: hard sets of each muscle week by week beside what was planned, how they have changed,
//! and what eight weeks propose.

use domain::{LifterName, LoggedSet, Muscle, SetKind};
use engine::programme::dose::{Dose, MuscleDoses, is_hard, reserve_in};
use engine::programme::proposal::{FEWEST_READINGS, MuscleRecord, Proposal, Shift, WEEKS, propose};
use engine::programme::ranges;
use engine::trend::expectation::Z_80;
use jiff::Span;
use jiff::civil::Date;
use serde::Serialize;

use crate::desk::Desk;
use crate::programme::{NextSession, Schedule, monday_of};
use crate::record::person::Person;
use crate::view::{all_as_text, as_text};
use crate::{ServiceError, words};

/// Weeks shown, the present one among them.
const SHOWN_WEEKS: i64 = 13;
/// Weeks whose mean is compared with that of as many before.
const COMPARED: usize = 4;

const HOW_COUNTED: &str = "A work set is hard up to 4 repetitions in reserve, or if none was told. It counts 1 for a prime \
    mover and by the catalogue's weight for a muscle that assists (the fractional way of Pelland 2024). Sets that \
    were eased or left out count as they were done. The present week is still going on and counts in no mean.";

const HOW_PROPOSED: &str = "A proposal weighs three states of affairs (too much, about right, too little) by where the dose \
    lies in its range, how many lead sets of its lifts fell short in eight weeks, and how those lifts grow. Weeks \
    that a change of plan made light don't count in the dose. Its numbers are our choice and were held against no \
    lifter whose best dose is known; sleep, food and life beside the gym are not in it. So it is a reason to look, \
    and the decision is yours. Change one thing, give it four to six weeks (common practice, no source), look again.";

/// A lifter's dose over the last weeks.
#[derive(Clone, Debug, Serialize)]
pub struct DoseRecordView {
    /// The lifter.
    pub lifter: String,
    /// The day for which it was made.
    #[serde(serialize_with = "as_text")]
    pub today: Date,
    /// What must be said of the whole record, such as that its people are invented.
    pub remark: Option<&'static str>,
    /// The Mondays of the weeks shown, in order of time; the last one's week is still going on.
    #[serde(serialize_with = "all_as_text")]
    pub weeks: Vec<Date>,
    /// Whether there is a programme to plan anything.
    pub has_programme: bool,
    /// Muscles that were trained or are planned, in the usual order.
    pub muscles: Vec<MuscleDoseRecord>,
    /// How sets are counted and how proposals are made.
    pub notes: Vec<&'static str>,
}

/// One muscle's dose over the last weeks.
#[derive(Clone, Debug, Serialize)]
pub struct MuscleDoseRecord {
    /// The muscle.
    pub muscle: &'static str,
    /// Each week, in the order of [`DoseRecordView::weeks`].
    pub weeks: Vec<WeekOfDose>,
    /// The range: least, aim, most.
    pub range: (f64, f64, f64),
    /// Whether the range is the programme's own.
    pub own_range: bool,
    /// Mean of the last four full weeks; none without so long a record.
    pub mean: Option<f64>,
    /// That less the mean of the four weeks before; none without so long a record.
    pub change: Option<f64>,
    /// What eight weeks propose; none where they say too little.
    pub proposal: Option<ProposalView>,
}

/// One week of one muscle, in hard sets.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct WeekOfDose {
    /// Done as a prime mover.
    pub direct: f64,
    /// Done while assisting, by its weight.
    pub assisting: f64,
    /// Planned; none where no programme planned the week.
    pub planned: Option<f64>,
    /// Whether sets of the muscle were left out by plan: light days, or a session dropped.
    pub is_light: bool,
}

/// More or fewer sets, with odds.
#[derive(Clone, Debug, Serialize)]
pub struct ProposalView {
    /// `fewer`, `keep` or `more`.
    pub shift: &'static str,
    /// The dose proposed, in hard sets a week.
    pub dose: f64,
    /// Probabilities that the dose is too much, about right, too little.
    pub p: [f64; 3],
    /// What it is built on, as a sentence.
    pub words: String,
}

impl Desk {
    /// A lifter's dose over the last weeks, as of a day.
    ///
    /// # Errors
    /// The store has trouble, or there is nobody of that name.
    pub fn dose_record(
        &self,
        name: &LifterName,
        today: Date,
    ) -> Result<DoseRecordView, ServiceError> {
        let person = self.person(name)?;
        let weeks: Vec<Date> = (0..SHOWN_WEEKS)
            .rev()
            .map(|back| monday_of(today).saturating_sub(Span::new().weeks(back)))
            .collect();
        let done: Vec<MuscleDoses> =
            weeks.iter().map(|monday| done_in_week(&person, *monday, today)).collect();
        let planned: Vec<Option<MuscleDoses>> = weeks
            .iter()
            .map(|monday| planned_in_week(person.schedule.as_ref()?, *monday))
            .collect();
        let first = person.history.days.first().map(|day| monday_of(day.date));
        // The first week on record may have begun before the record did.
        let known = weeks.iter().filter(|monday| first.is_some_and(|first| **monday > first));
        let full_weeks = known.count().saturating_sub(1);
        let muscles = Muscle::ALL
            .iter()
            .map(|muscle| {
                let weeks: Vec<WeekOfDose> = done
                    .iter()
                    .zip(&planned)
                    .zip(&weeks)
                    .map(|((done, planned), monday)| {
                        let Dose { direct, assisting, .. } = done.of(*muscle);
                        let planned = planned.as_ref().map(|planned| planned.of(*muscle).total());
                        let is_light = person.leaves_out(*muscle, (*monday, sunday_of(*monday)));
                        WeekOfDose { direct, assisting, planned, is_light }
                    })
                    .collect();
                muscle_record(&person, *muscle, weeks, full_weeks, today)
            })
            .filter(|record| record.weeks.iter().any(WeekOfDose::is_told))
            .collect();
        Ok(DoseRecordView {
            lifter: person.lifter.name.to_string(),
            today,
            remark: self.remark()?,
            weeks,
            has_programme: person.schedule.is_some(),
            muscles,
            notes: vec![HOW_COUNTED, ranges::UNCERTAINTY, HOW_PROPOSED],
        })
    }
}

impl WeekOfDose {
    /// Direct and assisting sets together.
    #[must_use]
    pub fn done(&self) -> f64 {
        self.direct + self.assisting
    }

    fn is_told(&self) -> bool {
        self.done() > 0.0 || self.planned.is_some_and(|planned| planned > 0.0)
    }
}

fn muscle_record(
    person: &Person,
    muscle: Muscle,
    weeks: Vec<WeekOfDose>,
    full_weeks: usize,
    today: Date,
) -> MuscleDoseRecord {
    let purpose = person.schedule.as_ref().map(|known| &known.followed.programme.purpose);
    let own = purpose.and_then(|purpose| purpose.dose.get(&muscle));
    let range = own.copied().unwrap_or_else(|| ranges::usual(muscle).range);
    let full = &weeks[..weeks.len() - 1];
    let mean_of = |skip: usize, n: usize| {
        let end = full.len().checked_sub(skip)?;
        let part = full.get(end.checked_sub(n)?..end)?;
        (full_weeks >= skip + n).then(|| part.iter().map(WeekOfDose::done).sum::<f64>() / n as f64) // a few weeks
    };
    let (mean, before) = (mean_of(0, COMPARED), mean_of(COMPARED, COMPARED));
    let eight = full.last_chunk::<WEEKS>().filter(|_| full_weeks >= WEEKS);
    let proposal = eight.and_then(|weeks| usual_dose(weeks)).and_then(|(dose, light)| {
        let (record, lifts) = proposal_record(person, muscle, dose, range, today)?;
        Some(proposal_view(&record, &lifts, light, propose(&record)?))
    });
    MuscleDoseRecord {
        muscle: muscle.label(),
        weeks,
        range: (range.least(), range.aim(), range.most()),
        own_range: own.is_some(),
        mean,
        change: mean.zip(before).map(|(mean, before)| mean - before),
        proposal,
    }
}

/// The mean dose of the weeks that weren't light by plan, and how many were; none if more than half were. A
/// week that the coach made light says nothing of the dose that the lifter usually gets.
fn usual_dose(weeks: &[WeekOfDose]) -> Option<(f64, usize)> {
    let usual: Vec<f64> =
        weeks.iter().filter(|week| !week.is_light).map(WeekOfDose::done).collect();
    let n = usual.len();
    (2 * n >= weeks.len()).then(|| (usual.iter().sum::<f64>() / n as f64, weeks.len() - n)) // a few weeks
}

/// What eight weeks say of a muscle, and the lifts that say it; none where no lift with a trend trains it as a
/// prime mover.
fn proposal_record(
    person: &Person,
    muscle: Muscle,
    dose: f64,
    range: domain::DoseRange,
    today: Date,
) -> Option<(MuscleRecord, Vec<String>)> {
    let since = monday_of(today).saturating_sub(Span::new().weeks(WEEKS as i64)); // eight
    let (mut readings, mut shortfalls) = (0, 0.0);
    let (mut precision, mut weighted) = (0.0, 0.0);
    let mut lifts = Vec::new();
    let lifts_of_it = person.history.lifts.iter();
    for record in lifts_of_it.filter(|record| record.lift.has_prime_mover(muscle)) {
        let recent = record
            .points
            .iter()
            .filter(|point| (since..=today).contains(&point.set.when.date()))
            .filter(|point| point.reading.is_some());
        let p: Vec<f64> = recent.clone().filter_map(|point| point.p_shortfall).collect();
        let Some(last) = recent.clone().filter_map(|point| point.today).next_back() else {
            continue;
        };
        readings += p.len();
        shortfalls += p.iter().sum::<f64>();
        let sd = 700.0 * last.slope_sd;
        precision += sd.powi(-2);
        weighted += 700.0 * last.slope * sd.powi(-2);
        lifts.push(record.lift.name.to_string());
    }
    let growth = (weighted / precision, precision.powf(-0.5));
    (!lifts.is_empty() && growth.0.is_finite())
        .then_some((MuscleRecord { dose, range, growth, readings, shortfalls }, lifts))
}

fn proposal_view(
    record: &MuscleRecord,
    lifts: &[String],
    light: usize,
    proposal: Proposal,
) -> ProposalView {
    let shift = match proposal.shift {
        Shift::Fewer => "fewer",
        Shift::Keep => "keep",
        Shift::More => "more",
    };
    let (growth, sd) = record.growth;
    let named = match lifts {
        [most @ .., _, _, _] if !most.is_empty() => format!("its {} lifts", lifts.len()),
        _ => words::list(lifts),
    };
    let but = match light {
        0 => String::new(),
        1 => " (without one week that was light by plan)".to_owned(),
        n => format!(" (without {n} weeks that were light by plan)"),
    };
    let words = format!(
        "In eight weeks about {:.0} of {} lead sets of {named} fell short; growth {growth:+.2}\u{a0}% a week, give or \
         take {:.2}; {:.1} hard sets a week{but} in a range of {:.0} to {:.0}.",
        record.shortfalls,
        record.readings,
        Z_80 * sd,
        record.dose,
        record.range.least(),
        record.range.most(),
    );
    ProposalView { shift, dose: proposal.dose, p: proposal.p, words }
}

/// Hard sets done in a week, up to today.
fn done_in_week(person: &Person, monday: Date, today: Date) -> MuscleDoses {
    done_between(person, monday, sunday_of(monday).min(today))
}

fn sunday_of(monday: Date) -> Date {
    monday.saturating_add(Span::new().days(6))
}

/// Hard sets done from one day to another, counted as a programme's are, so that both can stand side by side.
pub(crate) fn done_between(person: &Person, from: Date, to: Date) -> MuscleDoses {
    let mut doses = MuscleDoses::default();
    let counts = |set: &&LoggedSet| {
        let date = set.when.date();
        set.kind == SetKind::Work && is_hard(set.rir) && from <= date && date <= to
    };
    for record in &person.history.lifts {
        let sets = record.sets.iter().filter(counts).count();
        if sets > 0 {
            doses.add(&record.lift, sets as f64); // a week's sets
        }
    }
    doses
}

/// Hard sets that the programme plans for the week of a Monday; none before it begins.
pub(crate) fn planned_in_week(schedule: &Schedule, monday: Date) -> Option<MuscleDoses> {
    let week = schedule.followed.week_on(sunday_of(monday))?;
    let mut planned = MuscleDoses::default();
    for slot in schedule.week(week).flat_map(NextSession::slots) {
        if let Some(lift) = slot.lift.filter(|_| is_hard(reserve_in(slot.planned, week))) {
            planned.add(lift, f64::from(slot.planned.sets_in(week)));
        }
    }
    Some(planned)
}

/// What is said where nothing can be proposed.
#[must_use]
pub fn why_nothing() -> String {
    format!(
        "Proposals need {WEEKS} full weeks and {FEWEST_READINGS} lead sets read in them of lifts that train the \
         muscle as a prime mover."
    )
}
