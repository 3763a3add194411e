//! Repetitions, reserve, rest and progression of a lift that a draft puts on a day.
//!
//! What the lifter does now stays; the rest starts from values that are common practice, no source.

use domain::{Lift, PlannedLift, Programme, Progression, RepRange, Rir};
use jiff::civil::Weekday;

use crate::programme::check::order::is_heavy_on_back;
use crate::programme::minutes::Part;
use crate::programme::week::Slot;

/// How a lift is done on a day, whatever its sets.
#[derive(Clone, Debug)]
pub(super) struct Manner {
    /// The same lift on the same day of the present week.
    pub(super) present: Option<PlannedLift>,
    reps: RepRange,
    rir: Option<Rir>,
    rest_seconds: Option<u16>,
    progression: Progression,
}

impl Manner {
    /// As the present week does it, on this weekday if it can be, or else as a lift begins.
    pub(super) fn of(
        lift: &Lift,
        raised: bool,
        weekday: Weekday,
        present: Option<&Programme>,
    ) -> Manner {
        let keys: Vec<String> =
            lift.also.iter().chain([&lift.name]).map(domain::LiftName::key).collect();
        let same = |planned: &&PlannedLift| keys.contains(&planned.lift().key());
        let days = || present.into_iter().flat_map(Programme::days);
        let that_day =
            days().filter(|day| day.weekday() == weekday).flat_map(|day| day.lifts()).find(same);
        let any = that_day.or_else(|| days().flat_map(|day| day.lifts()).find(same));
        match any {
            Some(planned) => Manner {
                present: that_day.cloned(),
                reps: planned.reps(),
                rir: planned.rir(),
                rest_seconds: planned.rest_seconds(),
                progression: any_sets(planned.progression()),
            },
            None => begins(lift, raised),
        }
    }

    /// The lift as planned with so many sets.
    pub(super) fn planned(&self, lift: &Lift, sets: u8) -> PlannedLift {
        if let Some(present) = self.present.as_ref().filter(|present| present.sets() == sets) {
            return present.clone();
        }
        let plan = |progression: Progression| {
            let name = lift.name.clone();
            PlannedLift::new(name, sets, self.reps, self.rir, self.rest_seconds, progression)
        };
        let double = || plan(Progression::Double { step: None });
        #[expect(clippy::expect_used, reason = "any range of repetitions goes with it")]
        plan(self.progression.clone()).or_else(|_| double()).expect("double progression fits")
    }

    /// The lift with so many sets, as the check looks at it.
    pub(super) fn slot<'a>(&self, lift: &'a Lift, sets: u8) -> Slot<'a> {
        let (reps, rir, rest_seconds) = (self.reps, self.rir, self.rest_seconds);
        Slot { lift, sets, reps, rir, rest_seconds }
    }
}

/// A planned lift as a slot, with the sets of its fullest week.
pub(super) fn slot_of<'a>(lift: &'a Lift, planned: &PlannedLift) -> Slot<'a> {
    Slot {
        lift,
        sets: planned.sets(),
        reps: planned.reps(),
        rir: planned.rir(),
        rest_seconds: planned.rest_seconds(),
    }
}

/// A progression that goes with any number of sets.
fn any_sets(progression: &Progression) -> Progression {
    match progression {
        Progression::RepGoal { step, .. } => Progression::Double { step: *step },
        Progression::Wave { .. } => Progression::Double { step: None },
        other => other.clone(),
    }
}

/// Whether a lift is a large one: three muscles or more, and not for the trunk.
pub(in crate::programme) fn is_big(lift: &Lift) -> bool {
    lift.muscles.len() >= 3 && Part::of(lift) != Part::Trunk
}

/// A lift that the lifter doesn't do yet, as it begins, with so many sets.
pub(in crate::programme) fn begins_with(lift: &Lift, raised: bool, sets: u8) -> PlannedLift {
    begins(lift, raised).planned(lift, sets)
}

fn begins(lift: &Lift, raised: bool) -> Manner {
    let (low, high, reserve) = match (lift.explosive, raised, is_big(lift)) {
        (true, _, _) => (2, 3, 3.0),
        (false, true, _) => (4, 6, 2.0),
        (false, false, true) if is_heavy_on_back(lift) => (5, 8, 2.0),
        (false, false, true) => (6, 10, 2.0),
        (false, false, false) => (10, 15, 1.0),
    };
    Manner {
        present: None,
        reps: reps(low, high),
        rir: Rir::new(reserve).ok(),
        rest_seconds: None,
        progression: Progression::Double { step: None },
    }
}

#[expect(clippy::expect_used, reason = "all callers name constants in order")]
fn reps(low: u16, high: u16) -> RepRange {
    RepRange::new(low, high).expect("constants in range")
}
