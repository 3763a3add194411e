//! One week of a programme with its lifts looked up in the catalogue.

use domain::programme::weekday_name;
use domain::{Catalogue, Lift, LiftName, Programme, Purpose, RepRange, Rir};
use jiff::civil::Weekday;

use super::dose::reserve_in;

/// One week of a programme.
#[derive(Clone, Debug)]
pub struct Week<'a> {
    /// What it is for.
    pub purpose: &'a Purpose,
    /// Its days, Monday first.
    pub days: Vec<WeekDay<'a>>,
}

/// One day of the week.
#[derive(Clone, Debug)]
pub struct WeekDay<'a> {
    /// The day.
    pub weekday: Weekday,
    /// The minutes that there are, if told.
    pub minutes: Option<u16>,
    /// The lifts in order.
    pub slots: Vec<Slot<'a>>,
}

impl WeekDay<'_> {
    /// The name of the day.
    #[must_use]
    pub fn name(&self) -> &'static str {
        weekday_name(self.weekday)
    }
}

/// One lift of a day.
#[derive(Clone, Copy, Debug)]
pub struct Slot<'a> {
    /// The lift.
    pub lift: &'a Lift,
    /// Its work sets in this week.
    pub sets: u8,
    /// Repetitions a set.
    pub reps: RepRange,
    /// Repetitions to keep in reserve, if asked for, or that a share of today's 1RM leaves.
    pub rir: Option<Rir>,
    /// Rest between sets in seconds, if told.
    pub rest_seconds: Option<u16>,
}

impl<'a> Week<'a> {
    /// A week of a programme, the first being 0.
    ///
    /// # Errors
    /// The lifts that the catalogue doesn't know, each once.
    pub fn of(
        programme: &'a Programme,
        catalogue: &'a Catalogue,
        week: usize,
    ) -> Result<Week<'a>, Vec<LiftName>> {
        let mut unknown: Vec<LiftName> = Vec::new();
        let mut days = Vec::new();
        for day in programme.days() {
            let mut slots = Vec::new();
            for planned in day.lifts() {
                match catalogue.find(planned.lift()) {
                    None if unknown.contains(planned.lift()) => {}
                    None => unknown.push(planned.lift().clone()),
                    Some(lift) => slots.push(Slot {
                        lift,
                        sets: planned.sets_in(week),
                        reps: planned.reps(),
                        rir: reserve_in(planned, week),
                        rest_seconds: planned.rest_seconds(),
                    }),
                }
            }
            days.push(WeekDay { weekday: day.weekday(), minutes: day.minutes(), slots });
        }
        for lift in &programme.purpose.raise {
            if catalogue.find(lift).is_none() && !unknown.contains(lift) {
                unknown.push(lift.clone());
            }
        }
        if unknown.is_empty() {
            Ok(Week { purpose: &programme.purpose, days })
        } else {
            Err(unknown)
        }
    }
}
