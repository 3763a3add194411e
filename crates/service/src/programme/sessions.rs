//! The sessions that a programme plans, week by week, as changes of plan leave them.
//!
//! A session that no change touches is the programme's own; the others are made anew once, when the schedule
//! is.

use std::collections::BTreeMap;

use domain::programme::{WaveWeek, weekday_name};
use domain::{
    Catalogue, EquipmentClass, Lift, Muscle, PlannedLift, ProgrammeDay, Progression, Purpose,
};
use engine::programme::swap::{in_the_place_of, is_at_hand, substitute_but};
use jiff::civil::Date;

use super::{Followed, PlanChange, monday_of};
use crate::words;

/// A week of the programme (from 0, counted on for ever) and a place among its days.
pub(super) type At = (usize, usize);

/// A session that a change of plan has touched.
#[derive(Clone, Debug)]
pub(super) struct Changed {
    /// The day of the calendar on which it is planned now.
    pub(super) date: Date,
    /// Its lifts now; none if it is left out.
    pub(super) day: Option<ProgrammeDay>,
    /// The lifts looked up.
    pub(super) lifts: Vec<Option<Lift>>,
    /// What was changed, as sentences.
    pub(super) why: Vec<String>,
    /// Lifts with fewer sets than the programme has.
    pub(super) light: Vec<String>,
}

/// Applies the changes, in the order in which they were recorded: first what moves and falls out, then what
/// changes within a session.
pub(super) fn changed(
    followed: &Followed,
    lifts: &[Vec<Option<Lift>>],
    changes: &[PlanChange],
    catalogue: &Catalogue,
) -> BTreeMap<At, Changed> {
    let mut all = Sessions { followed, lifts, catalogue, changed: BTreeMap::new() };
    for change in changes {
        match change {
            PlanChange::Move { day, to } => all.shift(*day, *to),
            PlanChange::Drop { day } => all.drop(*day),
            PlanChange::Light { .. } | PlanChange::Away { .. } => {}
        }
    }
    for change in changes {
        match change {
            PlanChange::Away { days, equipment } => all.swap(*days, equipment),
            PlanChange::Move { .. } | PlanChange::Drop { .. } | PlanChange::Light { .. } => {}
        }
    }
    for change in changes {
        if let PlanChange::Light { days, sets_pct, muscles } = change {
            all.lighten(*days, *sets_pct, muscles);
        }
    }
    all.changed
}

/// The day of the calendar on which the programme itself plans a session.
pub(super) fn planned_date(followed: &Followed, (week, place): At) -> Date {
    let weeks = i64::try_from(week).unwrap_or(i64::MAX).saturating_mul(7).min(100_000);
    let weekday = followed.programme.days()[place].weekday();
    let days = weeks + i64::from(weekday.to_monday_zero_offset());
    followed.first_monday().saturating_add(jiff::Span::new().days(days))
}

struct Sessions<'a> {
    followed: &'a Followed,
    lifts: &'a [Vec<Option<Lift>>],
    catalogue: &'a Catalogue,
    changed: BTreeMap<At, Changed>,
}

impl Sessions<'_> {
    /// The sessions planned from one day to another, as changes so far leave them.
    fn between(&self, (from, until): (Date, Date)) -> Vec<At> {
        let n_days = self.followed.programme.days().len();
        let begin = from.max(self.followed.begins);
        let mut all = Vec::new();
        let mut monday = monday_of(begin);
        while monday <= until {
            if let Some(week) = self.followed.week_on(monday.max(begin)) {
                all.extend((0..n_days).map(|place| (week, place)));
            }
            monday = monday.saturating_add(jiff::Span::new().days(7));
        }
        all.retain(|at| {
            let date =
                self.changed.get(at).map_or_else(|| planned_date(self.followed, *at), |c| c.date);
            let is_done = self.changed.get(at).is_none_or(|changed| changed.day.is_some());
            date >= begin && date <= until && is_done
        });
        all
    }

    fn entry(&mut self, at: At) -> &mut Changed {
        let (followed, lifts) = (self.followed, self.lifts);
        self.changed.entry(at).or_insert_with(|| Changed {
            date: planned_date(followed, at),
            day: Some(followed.programme.days()[at.1].clone()),
            lifts: lifts[at.1].clone(),
            why: Vec::new(),
            light: Vec::new(),
        })
    }

    fn shift(&mut self, day: Date, to: Date) {
        if let Some(at) = self.between((day, day)).first().copied() {
            let session = self.entry(at);
            session.date = to;
            session.why.push(format!("Moved from {}.", weekday_name(day.weekday())));
        }
    }

    fn drop(&mut self, day: Date) {
        for at in self.between((day, day)) {
            self.entry(at).day = None;
        }
    }

    /// Swaps lifts for what is at hand; one that nothing can stand in for is left out.
    fn swap(&mut self, days: (Date, Date), equipment: &[EquipmentClass]) {
        let purpose = Purpose {
            equipment: Some(equipment.to_vec()),
            ..self.followed.programme.purpose.clone()
        };
        for at in self.between(days) {
            let catalogue = self.catalogue;
            let session = self.entry(at);
            let Some(day) = session.day.clone() else { continue };
            let mut taken: Vec<Lift> = Vec::new();
            let mut planned: Vec<PlannedLift> = Vec::new();
            let (mut swapped, mut lost) = (0, Vec::new());
            for (slot, lift) in day.lifts().iter().zip(&session.lifts) {
                let Some(lift) = lift else { continue };
                // A lift that is there later in the session stands in for none before it.
                let is_taken = |other: &Lift| {
                    taken
                        .iter()
                        .chain(session.lifts.iter().flatten())
                        .any(|one| one.name == other.name)
                };
                if is_at_hand(lift, &purpose) {
                    planned.push(slot.clone());
                    taken.push(lift.clone());
                } else if let Some(other) = substitute_but(lift, &purpose, catalogue, &is_taken) {
                    planned.push(in_the_place_of(slot, lift, other));
                    taken.push(other.clone());
                    swapped += 1;
                } else {
                    lost.push(lift.name.to_string());
                }
            }
            if swapped > 0 {
                session.why.push("Away: lifts are swapped for what is there.".to_owned());
            }
            if !lost.is_empty() {
                let lost = words::list(&lost);
                session.why.push(format!(
                    "Away: {lost} left out, since nothing there trains nearly the same."
                ));
            }
            session.day = ProgrammeDay::new(day.weekday(), day.minutes(), planned).ok();
            session.lifts = taken.into_iter().map(Some).collect();
        }
    }

    fn lighten(&mut self, days: (Date, Date), pct: u8, muscles: &[Muscle]) {
        for at in self.between(days) {
            let session = self.entry(at);
            let Some(day) = session.day.clone() else { continue };
            let mut planned: Vec<PlannedLift> = Vec::new();
            let mut light: Vec<String> = Vec::new();
            for (slot, lift) in day.lifts().iter().zip(&session.lifts) {
                let is_meant = |lift: &Lift| {
                    muscles.is_empty() || muscles.iter().any(|muscle| lift.has_prime_mover(*muscle))
                };
                match lift.as_ref().filter(|lift| is_meant(lift)) {
                    Some(lift) => {
                        planned.push(with_share(slot, pct));
                        light.push(lift.name.key());
                    }
                    None => planned.push(slot.clone()),
                }
            }
            if light.is_empty() {
                continue;
            }
            let of = match muscles {
                [] => String::new(),
                some => {
                    let names: Vec<&str> = some.iter().map(|muscle| muscle.label()).collect();
                    format!(" for {}", words::list(&names))
                }
            };
            session.why.push(format!("Light by plan: {pct}\u{a0}% of the sets{of}."));
            session.light.extend(light);
            if let Ok(day) = ProgrammeDay::new(day.weekday(), day.minutes(), planned) {
                session.day = Some(day);
            }
        }
    }
}

/// A lift with a share of its sets, in %; at least one set.
fn with_share(planned: &PlannedLift, pct: u8) -> PlannedLift {
    let share = |sets: u8| {
        // Rounded to the nearest, halves up; at least one.
        let sets = (u16::from(sets) * u16::from(pct) + 50) / 100;
        u8::try_from(sets).unwrap_or(u8::MAX).max(1)
    };
    let (lift, rir, rest) = (planned.lift().clone(), planned.rir(), planned.rest_seconds());
    let light = match planned.progression() {
        Progression::Wave { weeks } => {
            let week =
                |week: &WaveWeek| WaveWeek::new(share(week.sets()), week.reps(), week.share());
            let weeks: Result<Vec<WaveWeek>, _> = weeks.iter().map(week).collect();
            weeks.ok().and_then(|weeks| PlannedLift::wave(lift, weeks, rir, rest).ok())
        }
        progression => {
            let sets = share(planned.sets());
            let progression = match progression {
                Progression::RepGoal { total, step } => {
                    let total =
                        (u32::from(*total) * u32::from(sets)).div_ceil(planned.sets().into());
                    Progression::RepGoal {
                        total: u16::try_from(total).unwrap_or(u16::MAX),
                        step: *step,
                    }
                }
                other => other.clone(),
            };
            PlannedLift::new(lift, sets, planned.reps(), rir, rest, progression).ok()
        }
    };
    light.unwrap_or_else(|| planned.clone())
}
