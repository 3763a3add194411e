//! What a lifter does now: the programme that is followed, or else what the log of the last weeks shows.

use std::collections::BTreeMap;

use domain::programme::WEEK;
use domain::{
    Note, PlannedLift, Programme, ProgrammeDay, ProgrammeName, Progression, Purpose, RepRange,
    SetKind,
};
use engine::loading::Ladder;
use engine::target;
use jiff::ToSpan;
use jiff::civil::{Date, Weekday};

use crate::record::history::TrainingDay;
use crate::record::person::Person;

/// Weeks of the log that say what a lifter does lately.
const WEEKS: i64 = 4;
/// The most lifts that a day of a programme has.
const MOST_LIFTS: usize = 20;

/// What a lifter does now, and where that is known from.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Present {
    /// The week.
    pub(super) programme: Programme,
    /// Whether it is the programme that is followed, and not what the log shows.
    pub(super) is_followed: bool,
}

/// What the lifter does now; none if neither a programme nor the log of the last four weeks tells.
pub(super) fn present(person: &Person, today: Date) -> Option<Present> {
    if let Some(schedule) = &person.schedule {
        let programme = schedule.followed.programme.clone();
        return Some(Present { programme, is_followed: true });
    }
    let programme = of_log(person, today)?;
    Some(Present { programme, is_followed: false })
}

/// The weekdays on which the lifter trained in at least half of the last four weeks (or of those since the
/// first session), each with the lifts of its last session.
fn of_log(person: &Person, today: Date) -> Option<Programme> {
    let from = today.saturating_sub(WEEKS.weeks());
    let lately = person.history.days.iter().filter(|day| day.date > from && day.date <= today);
    let mut by_weekday: BTreeMap<i8, Vec<&TrainingDay>> = BTreeMap::new();
    let mut first = today;
    for day in lately {
        first = first.min(day.date);
        by_weekday.entry(day.date.weekday().to_monday_zero_offset()).or_default().push(day);
    }
    let weeks = (today.duration_since(first).as_hours() / (24 * 7) + 1).clamp(1, WEEKS);
    let enough = |times: usize| 2 * times as i64 >= weeks;
    let days: Vec<ProgrammeDay> = by_weekday
        .into_iter()
        .filter(|(_, days)| enough(days.len()))
        .filter_map(|(weekday, days)| {
            day(person, WEEK[usize::try_from(weekday).ok()?], days.last()?)
        })
        .collect();
    let name = ProgrammeName::new("as on record").ok()?;
    Programme::new(name, Note::default(), Purpose::default(), days).ok()
}

/// A day as it was last done; none if no lift of it had a work set.
fn day(person: &Person, weekday: Weekday, last: &TrainingDay) -> Option<ProgrammeDay> {
    let lifts: Vec<PlannedLift> =
        last.lifts.iter().filter_map(|name| planned(person, name)).take(MOST_LIFTS).collect();
    ProgrammeDay::new(weekday, None, lifts).ok()
}

/// A lift as its latest sessions go on.
fn planned(person: &Person, name: &domain::LiftName) -> Option<PlannedLift> {
    let record = person.history.lift(name)?;
    if !record.sets.iter().any(|set| set.kind == SetKind::Work) {
        return None;
    }
    let logged: Vec<domain::Load> = record.sets.iter().map(|set| set.load).collect();
    let ladder = Ladder::for_record(&record.lift, &person.lifter, &logged);
    let exposures = target::exposures(&record.sets);
    let rule = target::infer(&exposures, ladder.usual_step()).ok()?;
    let (low, high) = rule.range();
    let reps = RepRange::new(low.get(), high.get()).ok()?;
    let double = Progression::Double { step: None };
    PlannedLift::new(record.lift.name.clone(), rule.sets(), reps, rule.rir(), None, double).ok()
}
