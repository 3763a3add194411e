//! Where each hidden quantity stands in the oracle's state, and the linear functions read from it.

use domain::{Lift, Muscle};

use super::super::body::N_MUSCLES;
use super::super::{Hidden, USUAL_EXPOSURES};
use super::belief::Linear;

/// The state: fatigue that fades quickly and slowly, and today's toll, of every muscle that the record
/// trains; the day's form; the wandering of every lift in the record, and how far its level is from what the
/// oracle takes it for; today's scatter; and the last capacities of every such lift.
#[derive(Clone, Debug)]
pub(super) struct Layout {
    muscle_places: [Option<usize>; N_MUSCLES],
    lift_places: Vec<Option<usize>>,
    n_muscles: usize,
    n_lifts: usize,
    two_speeds: bool,
}

impl Layout {
    pub(super) fn of(hidden: &Hidden) -> Layout {
        let mut layout = Layout {
            muscle_places: [None; N_MUSCLES],
            lift_places: vec![None; hidden.lifts.len()],
            n_muscles: 0,
            n_lifts: 0,
            two_speeds: hidden.world.slow_part.share > 0.0,
        };
        for exercise in hidden.days.iter().flat_map(|day| &day.exercises) {
            if layout.lift_places[exercise.lift_idx].is_some() {
                continue;
            }
            layout.lift_places[exercise.lift_idx] = Some(layout.n_lifts);
            layout.n_lifts += 1;
            for share in &hidden.lifts[exercise.lift_idx].lift.muscles {
                let place = &mut layout.muscle_places[share.muscle as usize];
                if place.is_none() {
                    *place = Some(layout.n_muscles);
                    layout.n_muscles += 1;
                }
            }
        }
        layout
    }

    pub(super) fn len(&self) -> usize {
        self.ring(self.n_lifts, 0)
    }

    /// The muscles of the state.
    pub(super) fn muscles(&self) -> impl Iterator<Item = Muscle> + '_ {
        Muscle::ALL.iter().copied().filter(|m| self.muscle_places[*m as usize].is_some())
    }

    /// The lifts of the state, by their number in the record.
    pub(super) fn lifts(&self) -> impl Iterator<Item = usize> + '_ {
        (0..self.lift_places.len()).filter(|lift| self.lift_places[*lift].is_some())
    }

    pub(super) fn quick(&self, muscle: Muscle) -> Option<usize> {
        self.muscle_places[muscle as usize]
    }

    pub(super) fn toll(&self, muscle: Muscle) -> Option<usize> {
        self.muscle_places[muscle as usize].map(|place| self.n_muscles + place)
    }

    /// None in a world with one speed of recovery.
    pub(super) fn slow(&self, muscle: Muscle) -> Option<usize> {
        self.muscle_places[muscle as usize]
            .filter(|_| self.two_speeds)
            .map(|place| 2 * self.n_muscles + place)
    }

    pub(super) fn form(&self) -> usize {
        if self.two_speeds { 3 * self.n_muscles } else { 2 * self.n_muscles }
    }

    pub(super) fn scatter(&self) -> usize {
        self.form() + 1
    }

    /// The wandering of a lift of the record.
    pub(super) fn wander(&self, lift_idx: usize) -> usize {
        self.form() + 2 + self.lift_places[lift_idx].unwrap_or(0)
    }

    /// How far the level of a lift of the record is from what it is taken for.
    pub(super) fn stray(&self, lift_idx: usize) -> usize {
        self.form() + 2 + self.n_lifts + self.lift_places[lift_idx].unwrap_or(0)
    }

    /// Capacity at one of the last exposures of a lift of the record.
    pub(super) fn past(&self, lift_idx: usize, exposure: usize) -> usize {
        self.ring(self.lift_places[lift_idx].unwrap_or(0), exposure % USUAL_EXPOSURES)
    }

    /// Log capacity of a lift without scatter; `constant` is what isn't in the state.
    pub(super) fn capacity(&self, lift_idx: usize, lift: &Lift, constant: f64) -> Linear {
        let total: f64 = lift.muscles.iter().map(|m| m.get()).sum();
        let mut terms =
            vec![(self.wander(lift_idx), 1.0), (self.stray(lift_idx), 1.0), (self.form(), -1.0)];
        for share in &lift.muscles {
            let part = -share.get() / total;
            terms.extend(self.quick(share.muscle).map(|idx| (idx, part)));
            terms.extend(self.slow(share.muscle).map(|idx| (idx, part)));
        }
        Linear { constant, terms }
    }

    /// Usual less today's capacity: the mean of up to eight of the `before` exposures that there were.
    pub(super) fn shortfall(&self, lift_idx: usize, capacity: &Linear, before: usize) -> Linear {
        let n = before.min(USUAL_EXPOSURES);
        let mut terms: Vec<(usize, f64)> = capacity.terms.iter().map(|(i, c)| (*i, -c)).collect();
        let part = 1.0 / n.max(1) as f64;
        terms.extend((before - n..before).map(|exposure| (self.past(lift_idx, exposure), part)));
        Linear { constant: -capacity.constant, terms }
    }

    fn ring(&self, lift_place: usize, place: usize) -> usize {
        self.form() + 2 + 2 * self.n_lifts + lift_place * USUAL_EXPOSURES + place
    }
}
