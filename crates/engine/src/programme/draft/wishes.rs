//! What a coach wants of a week: goals, days, equipment, joints, and parts that are fixed beforehand.

use std::collections::BTreeMap;

use domain::programme::weekday_name;
use domain::{Catalogue, DoseRange, LiftName, Muscle, PlannedLift, Programme, Purpose};
use jiff::civil::Weekday;

use crate::programme::ranges::{is_trained_for_itself, usual};

/// Minutes of a day for which none are told. Our choice.
pub const USUAL_MINUTES: u16 = 75;

/// What is wanted of a week.
#[derive(Clone, Debug, PartialEq)]
pub struct Wishes {
    /// Lifts to go up, equipment at hand, joints to spare, and ranges of dose.
    pub purpose: Purpose,
    /// The days, Monday first, each weekday once.
    pub days: Vec<DayWish>,
    /// How much muscles matter; the others matter as usual.
    pub priorities: BTreeMap<Muscle, Priority>,
    /// Lifts to take if they fit.
    pub prefer: Vec<LiftName>,
    /// Lifts not to take.
    pub refuse: Vec<LiftName>,
    /// The most lifts in a day.
    pub most_lifts: u8,
    /// Whether a muscle must be back before the next day that loads it.
    pub mind_hours: bool,
    /// What the lifter does now.
    pub present: Option<Programme>,
    /// How much of it to keep.
    pub keep: Keep,
}

impl Wishes {
    /// The most lifts in a day if nothing is said. Our choice.
    pub const USUAL_MOST_LIFTS: u8 = 7;

    /// Wishes for these days and nothing else.
    #[must_use]
    pub fn for_days(days: Vec<DayWish>) -> Wishes {
        Wishes {
            purpose: Purpose::default(),
            days,
            priorities: BTreeMap::new(),
            prefer: Vec::new(),
            refuse: Vec::new(),
            most_lifts: Wishes::USUAL_MOST_LIFTS,
            mind_hours: true,
            present: None,
            keep: Keep::Habits,
        }
    }

    /// The lifts named that the catalogue doesn't know, each once.
    #[must_use]
    pub fn unknown(&self, catalogue: &Catalogue) -> Vec<LiftName> {
        let pinned = self.days.iter().flat_map(|day| &day.pinned).map(PlannedLift::lift);
        let present = self.present.iter().flat_map(Programme::days).flat_map(|day| day.lifts());
        let named = self.purpose.raise.iter().chain(&self.prefer).chain(&self.refuse);
        let mut unknown: Vec<LiftName> = Vec::new();
        for name in named.chain(pinned).chain(present.map(PlannedLift::lift)) {
            if catalogue.find(name).is_none() && !unknown.contains(name) {
                unknown.push(name.clone());
            }
        }
        unknown
    }

    /// The range in force for a muscle: the coach's or the usual one.
    #[must_use]
    pub fn range(&self, muscle: Muscle) -> DoseRange {
        self.purpose.dose.get(&muscle).copied().unwrap_or_else(|| usual(muscle).range)
    }

    /// How much a muscle matters; none if nobody asked for it and other lifts train it along.
    #[must_use]
    pub fn priority(&self, muscle: Muscle) -> Option<Priority> {
        let asked = is_trained_for_itself(muscle) || self.purpose.dose.contains_key(&muscle);
        self.priorities.get(&muscle).copied().or(asked.then_some(Priority::Usual))
    }
}

/// A day that there is to train.
#[derive(Clone, Debug, PartialEq)]
pub struct DayWish {
    /// The day of the week.
    pub weekday: Weekday,
    /// The minutes that there are; [`USUAL_MINUTES`] if none are told.
    pub minutes: Option<u16>,
    /// Lifts that are fixed for this day.
    pub pinned: Vec<PlannedLift>,
}

impl DayWish {
    /// A day with nothing fixed.
    #[must_use]
    pub fn free(weekday: Weekday, minutes: Option<u16>) -> DayWish {
        DayWish { weekday, minutes, pinned: Vec::new() }
    }

    /// The name of the day.
    #[must_use]
    pub fn name(&self) -> &'static str {
        weekday_name(self.weekday)
    }

    /// The whole seconds that there are.
    #[must_use]
    pub fn seconds(&self) -> u32 {
        60 * u32::from(self.minutes.unwrap_or(USUAL_MINUTES))
    }
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

/// How much of the present week to keep.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Keep {
    /// Where little speaks against it: habits matter.
    Habits,
    /// As much as can be: this is a change of a week, not a new one.
    All,
}
