//! What a coach wants of a week: goals, days, equipment, joints, and parts that are fixed beforehand.

use domain::programme::weekday_name;
use domain::{
    Catalogue, DoseRange, LiftName, Muscle, PlannedLift, Priority, Programme, ProgrammeDay, Purpose,
};
use jiff::civil::Weekday;

use crate::programme::ranges::{is_trained_for_itself, usual};

/// Minutes of a day for which none are told. Our choice.
pub const USUAL_MINUTES: u16 = 75;

/// What is wanted of a week.
#[derive(Clone, Debug, PartialEq)]
pub struct Wishes {
    /// Lifts to go up and lifts refused, equipment at hand, joints to spare, ranges of dose, and what else is wanted
    /// of drafts.
    pub purpose: Purpose,
    /// The days, Monday first, each weekday once.
    pub days: Vec<DayWish>,
    /// Lifts to take if they fit.
    pub prefer: Vec<LiftName>,
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
            prefer: Vec::new(),
            present: None,
            keep: Keep::Habits,
        }
    }

    /// The most lifts in a day.
    #[must_use]
    pub fn most_lifts(&self) -> u8 {
        self.purpose.drafting.most_lifts.unwrap_or(Wishes::USUAL_MOST_LIFTS)
    }

    /// Whether a muscle must be back before the next day that loads it.
    #[must_use]
    pub fn mind_hours(&self) -> bool {
        !self.purpose.drafting.ignore_hours
    }

    /// What the lifter does now, to be kept. A day of it for which there is no time any more stands on the nearest
    /// wished day that it has nothing on, if there is one: that session was moved, and isn't new.
    #[must_use]
    pub fn keeping(mut self, present: Option<Programme>) -> Wishes {
        let offset = |weekday: Weekday| i32::from(weekday.to_monday_zero_offset());
        let is_now = |weekday: Weekday, now: &Programme| {
            now.days().iter().any(|day| day.weekday() == weekday)
        };
        self.present = present.map(|now| {
            let mut free: Vec<Weekday> = self.days.iter().map(|day| day.weekday).collect();
            free.retain(|weekday| !is_now(*weekday, &now));
            let is_wished =
                |day: &ProgrammeDay| self.days.iter().any(|wish| wish.weekday == day.weekday());
            let moved = now.days().iter().map(|day| {
                let far = |to: &usize| (offset(free[*to]) - offset(day.weekday())).abs();
                match (0..free.len()).min_by_key(far).filter(|_| !is_wished(day)) {
                    None => Ok(day.clone()),
                    Some(to) => {
                        ProgrammeDay::new(free.remove(to), day.minutes(), day.lifts().to_vec())
                    }
                }
            });
            let days = moved.collect::<Result<Vec<_>, _>>();
            let moved = days.and_then(|days| {
                Programme::new(now.name.clone(), now.note.clone(), now.purpose.clone(), days)
            });
            moved.unwrap_or(now)
        });
        self
    }

    /// The lifts named that the catalogue doesn't know, each once.
    #[must_use]
    pub fn unknown(&self, catalogue: &Catalogue) -> Vec<LiftName> {
        let pinned = self.days.iter().flat_map(|day| &day.pinned).map(PlannedLift::lift);
        let present = self.present.iter().flat_map(Programme::days).flat_map(|day| day.lifts());
        let named = self.purpose.raise.iter().chain(&self.prefer).chain(&self.purpose.refuse);
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
        self.purpose.drafting.priorities.get(&muscle).copied().or(asked.then_some(Priority::Usual))
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

/// How much of the present week to keep.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Keep {
    /// Where little speaks against it: habits matter.
    Habits,
    /// As much as can be: this is a change of a week, not a new one.
    All,
}

#[cfg(test)]
mod tests {
    use domain::programme::Progression;
    use domain::{Note, ProgrammeName, RepRange};
    use jiff::civil::Weekday::{Friday, Monday, Saturday, Thursday, Tuesday};

    use super::*;

    fn week(days: &[(Weekday, &str)]) -> Programme {
        let day = |(weekday, lift): &(Weekday, &str)| {
            let (reps, double) = (RepRange::new(8, 8).unwrap(), Progression::Double { step: None });
            let name = LiftName::new(lift).unwrap();
            let planned = PlannedLift::new(name, 3, reps, None, None, double).unwrap();
            ProgrammeDay::new(*weekday, None, vec![planned]).unwrap()
        };
        let days = days.iter().map(day).collect();
        let name = ProgrammeName::new("invented").unwrap();
        Programme::new(name, Note::default(), Purpose::default(), days).unwrap()
    }

    #[test]
    fn a_day_that_moves_takes_its_lifts_along() {
        let now = [(Monday, "back squat"), (Thursday, "deadlift")];
        let wished = |days: &[Weekday]| {
            let days = days.iter().map(|day| DayWish::free(*day, None)).collect();
            Wishes::for_days(days).keeping(Some(week(&now))).present.unwrap()
        };
        assert_eq!(wished(&[Monday, Thursday, Saturday]), week(&now), "nothing moves");
        assert_eq!(
            wished(&[Monday, Friday]),
            week(&[(Monday, "back squat"), (Friday, "deadlift")])
        );
        let both = wished(&[Tuesday, Saturday]);
        assert_eq!(both, week(&[(Tuesday, "back squat"), (Saturday, "deadlift")]));
        // A day fewer: what has no day left stays where it was, and is lost in the draft.
        assert_eq!(wished(&[Monday]), week(&now));
    }
}
