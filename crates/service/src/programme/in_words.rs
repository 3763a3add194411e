//! A programme in words, as commands, pages and calendars show it.

use domain::programme::weekday_name;
use domain::{Mass, PlannedLift, Programme, ProgrammeDay, Progression, Unit};
use serde::Serialize;

/// One day of a programme in words.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct DayWords {
    /// The weekday.
    pub weekday: &'static str,
    /// The minutes that there are, if told.
    pub minutes: Option<u16>,
    /// The lifts in order.
    pub lifts: Vec<LiftWords>,
}

/// One planned lift in words.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct LiftWords {
    /// The lift, as it was written.
    pub lift: String,
    /// Sets, repetitions and reserve in that week: `3 × 5–8, 2 in reserve`.
    pub sets: String,
    /// How it moves on: `double progression, 2.5 kg a step`.
    pub moves_on: String,
    /// Rest between sets, if told: `3 min`.
    pub rest: Option<String>,
}

/// The days of a week of a programme, the first week being 0, with masses in `unit`.
#[must_use]
pub fn days_in_words(programme: &Programme, week: usize, unit: Unit) -> Vec<DayWords> {
    programme.days().iter().map(|day| day_in_words(day, week, unit)).collect()
}

/// One day in a week of its programme, the first week being 0, with masses in `unit`.
#[must_use]
pub fn day_in_words(day: &ProgrammeDay, week: usize, unit: Unit) -> DayWords {
    DayWords {
        weekday: weekday_name(day.weekday()),
        minutes: day.minutes(),
        lifts: day.lifts().iter().map(|planned| lift_in_words(planned, week, unit)).collect(),
    }
}

fn lift_in_words(planned: &PlannedLift, week: usize, unit: Unit) -> LiftWords {
    let mut sets = sets_in_words(planned, week);
    if let Some(rir) = planned.rir() {
        sets.push_str(&format!(", {rir} in reserve"));
    }
    LiftWords {
        lift: planned.lift().to_string(),
        sets,
        moves_on: moves_on(planned.progression(), unit),
        rest: planned.rest_seconds().map(rest_in_words),
    }
}

/// `3 × 5–8`, `3 × 6 at 75 % of today's 1RM`.
fn sets_in_words(planned: &PlannedLift, week: usize) -> String {
    match planned.progression() {
        Progression::Wave { weeks } => {
            let week = weeks[week % weeks.len()];
            let pct = week.share().pct();
            format!("{} × {} at {pct}\u{a0}% of today's 1RM", week.sets(), week.reps())
        }
        Progression::OfToday(share) => {
            let (sets, reps, pct) = (planned.sets(), planned.reps(), share.pct());
            format!("{sets} × {reps} at {pct}\u{a0}% of today's 1RM")
        }
        _ => format!("{} × {}", planned.sets(), planned.reps()),
    }
}

/// How a lift moves on.
fn moves_on(progression: &Progression, unit: Unit) -> String {
    let name = progression.name();
    let with_step = |step: &Option<Mass>, more: &str| match step {
        Some(step) => format!("{name}{more}, {} a step", mass(*step, unit)),
        None => format!("{name}{more}"),
    };
    match progression {
        Progression::Double { step } => with_step(step, ""),
        Progression::LoadSteps { step, back } => {
            let (misses, pct) = (back.misses(), back.pct());
            let times = if misses == 1 { "one miss" } else { &format!("{misses} misses in a row") };
            with_step(step, &format!(", {pct}\u{a0}% back after {times}"))
        }
        Progression::RepGoal { total, step } => with_step(step, &format!(" of {total}")),
        Progression::OfToday(_) => name.to_owned(),
        Progression::Wave { weeks } => format!("{name} of {} weeks", weeks.len()),
    }
}

fn mass(mass: Mass, unit: Unit) -> String {
    let shown = (mass.kg() / unit.kg() * 100.0).round() / 100.0;
    format!("{shown} {}", unit.as_str())
}

fn rest_in_words(seconds: u16) -> String {
    match (seconds / 60, seconds % 60) {
        (0, seconds) => format!("{seconds} s"),
        (minutes, 0) => format!("{minutes} min"),
        (minutes, seconds) => format!("{minutes} min {seconds} s"),
    }
}
