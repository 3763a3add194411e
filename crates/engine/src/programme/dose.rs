//! The dose: hard sets per muscle, in a session and in a week.
//!
//! A work set is hard up to 4 repetitions in reserve, or if no reserve is asked for. It counts for each
//! muscle of the lift by the catalogue's weight: 1 for a prime mover (a direct set), less for one that
//! assists. Counting direct and assisting sets so is the fractional way of Pelland et al. 2024 (preprint;
//! 2025 Sports Med, doi 10.1007/s40279-025-02344-w), which had the strongest relative evidence of three.

use domain::{Lift, Muscle, PlannedLift, Progression, Rir};

use super::week::{Slot, Week};
use crate::recovery::dose::HARD_UP_TO;
use crate::strength::LoadRepCurve;

/// Hard sets for one muscle.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Dose {
    /// Sets in which the muscle is a prime mover.
    pub direct: f64,
    /// Sets in which it assists, each counted by its weight.
    pub assisting: f64,
    /// Sets in which it assists, each counted whole.
    pub assisting_sets: f64,
}

/// How sets in which a muscle only assists are counted (Pelland et al. 2024).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Counting {
    /// As whole sets.
    Whole,
    /// By the muscle's weight: the way used everywhere here.
    Shared,
    /// Not at all.
    DirectOnly,
}

impl Dose {
    /// The dose in hard sets, direct and assisting together.
    #[must_use]
    pub fn total(self) -> f64 {
        self.counted(Counting::Shared)
    }

    /// The dose counted in one of three ways.
    #[must_use]
    pub fn counted(self, counting: Counting) -> f64 {
        match counting {
            Counting::Whole => self.direct + self.assisting_sets,
            Counting::Shared => self.direct + self.assisting,
            Counting::DirectOnly => self.direct,
        }
    }

    fn add(&mut self, sets: f64, weight: f64) {
        if weight >= 1.0 {
            self.direct += sets;
        } else {
            self.assisting += weight * sets;
            self.assisting_sets += sets;
        }
    }

    fn join(&mut self, other: Dose) {
        self.direct += other.direct;
        self.assisting += other.assisting;
        self.assisting_sets += other.assisting_sets;
    }
}

/// The dose of every muscle.
#[derive(Clone, Debug, PartialEq)]
pub struct MuscleDoses([Dose; Muscle::ALL.len()]);

impl Default for MuscleDoses {
    fn default() -> MuscleDoses {
        MuscleDoses([Dose::default(); Muscle::ALL.len()])
    }
}

impl MuscleDoses {
    /// The dose of the slots of one session.
    #[must_use]
    pub fn of_session(slots: &[Slot<'_>]) -> MuscleDoses {
        let mut doses = MuscleDoses::default();
        for slot in slots.iter().filter(|slot| is_hard(slot.rir)) {
            doses.add(slot.lift, f64::from(slot.sets));
        }
        doses
    }

    /// The dose of one muscle.
    #[must_use]
    pub fn of(&self, muscle: Muscle) -> Dose {
        self.0[muscle as usize]
    }

    /// Adds hard sets of a lift.
    pub fn add(&mut self, lift: &Lift, sets: f64) {
        for muscle in &lift.muscles {
            self.0[muscle.muscle as usize].add(sets, muscle.get());
        }
    }
}

/// The dose of a week, and of each of its sessions.
#[derive(Clone, Debug, PartialEq)]
pub struct WeekDose {
    /// Each day's, in the order of the week's days.
    pub days: Vec<MuscleDoses>,
    /// All days together.
    pub week: MuscleDoses,
}

impl WeekDose {
    /// The dose planned in a week.
    #[must_use]
    pub fn of(week: &Week<'_>) -> WeekDose {
        let days: Vec<MuscleDoses> =
            week.days.iter().map(|day| MuscleDoses::of_session(&day.slots)).collect();
        let mut whole = MuscleDoses::default();
        for day in &days {
            for (sum, part) in whole.0.iter_mut().zip(day.0) {
                sum.join(part);
            }
        }
        WeekDose { days, week: whole }
    }
}

/// The repetitions that a planned lift leaves in reserve in a week of its programme, the first being 0: those asked
/// for, or what its share of today's 1RM leaves on the usual load–rep curve if that is more. A set at half of the
/// 1RM is not hard because a file says so.
#[must_use]
pub fn reserve_in(planned: &PlannedLift, week: usize) -> Option<Rir> {
    let share = match planned.progression() {
        Progression::OfToday(share) => *share,
        Progression::Wave { weeks } => weeks[week % weeks.len()].share(),
        _ => return planned.rir(),
    };
    let to_failure = (100.0 / share.pct() - 1.0) / LoadRepCurve::EPLEY.b();
    let left = to_failure - f64::from(planned.reps_in(week).low());
    let asked = planned.rir().map_or(0.0, Rir::get);
    if left <= asked.max(HARD_UP_TO) {
        return planned.rir();
    }
    Rir::new((2.0 * left.min(10.0)).floor() / 2.0).ok().or(planned.rir())
}

/// Whether a set with this reserve asked for counts as hard; one with none asked for does.
#[must_use]
pub fn is_hard(rir: Option<Rir>) -> bool {
    rir.is_none_or(|rir| rir.get() <= HARD_UP_TO)
}
