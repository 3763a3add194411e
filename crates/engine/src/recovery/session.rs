//! What a card carries: the belief about one session's lifts alone, small enough to update without a
//! connection.
//!
//! For each lift three quantities at the moment of its lead set: capacity, capacity less usual, and how
//! far its load–rep curve is from the common one. A lead set updates all of them by the arithmetic of
//! `docs/card-data.md`; the dose of the sets planned in between is in the numbers already.
//! [`SessionBelief::expectation`] and [`SessionBelief::learn`] are that arithmetic, and the test vectors
//! beside the service's tests come from it.

use super::account::lean_at;
use super::belief::{Belief, Sum, Surprise};
use super::forecast::{Noise, Sums, forecast};
use super::freak::Freak;
use super::lifter::Lifter;
use crate::strength::LoadRepCurve;
use crate::trend::{Expectation, LeadSet};

/// Quantities for each lift.
const EACH: usize = 3;

/// The belief about a session's lifts. Quantities 3k, 3k + 1 and 3k + 2 are lift k's capacity, its
/// capacity less usual (both in ln 1RM) and its ln b less that of the common curve.
#[derive(Clone, Debug, PartialEq)]
pub struct SessionBelief {
    /// Means.
    pub mean: Vec<f64>,
    /// Covariance, by rows.
    pub covariance: Vec<Vec<f64>>,
    /// What else is needed of each lift, in order.
    pub lifts: Vec<SessionLift>,
    /// The common load–rep curve, on which every set is read.
    pub curve: LoadRepCurve,
    /// λ: the share of the published error variance of a reserve that varies from set to set.
    pub reserve_share: f64,
    /// The two scales of noise of a set of several repetitions.
    pub freak: Freak,
}

/// What a session holds of one lift beside the belief.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SessionLift {
    /// The lifter's lift, as it was given.
    pub lift: usize,
    /// σ²: the variance of what its lead sets show beyond capacity, counting and reserve.
    pub scatter_variance: f64,
    /// ȳ: running mean of the ln 1RM that its sets showed on the common curve.
    pub usual_shown: f64,
    /// Running mean of b·ñ/(1 + b·ñ), ñ the repetitions to failure that were to be expected.
    pub usual_lean: f64,
}

impl Lifter {
    /// The belief about a session's lifts, given in order, each with the hard sets planned. Lifts without a
    /// record are left out. A lift may stand on several places.
    #[must_use]
    pub fn session(&self, planned: &[(usize, f64)], days: f64) -> SessionBelief {
        let known: Vec<(usize, f64)> =
            planned.iter().copied().filter(|(lift, _)| self.exposures(*lift) > 0).collect();
        let (dynamics, n) = (self.dynamics(), self.shape().n_states());
        let mut state = self.state().clone();
        state.widen(EACH * known.len());
        for (place, &(lift, hard_sets)) in known.iter().enumerate() {
            dynamics.enter(&mut state, days);
            if known[..place].iter().all(|(before, _)| *before != lift) {
                dynamics.doubt_if_left_out(&mut state, lift);
            }
            let capacity = dynamics.capacity(lift);
            let mut against = capacity.clone();
            against.push((self.shape().usual(lift), -1.0));
            let bend = vec![(self.shape().bend(lift), 1.0)];
            for (quantity, sum) in [capacity, against, bend].iter().enumerate() {
                state.approach(n + EACH * place + quantity, 1.0, sum);
            }
            dynamics.work(&mut state, lift, days, hard_sets);
        }
        let rows = n..n + EACH * known.len();
        let lifts = known.iter().map(|&(lift, _)| SessionLift {
            lift,
            scatter_variance: self.parameters().scatter[lift].powi(2),
            usual_shown: state.account.lift(lift).shown,
            usual_lean: state.account.lift(lift).lean,
        });
        SessionBelief {
            mean: rows.clone().map(|row| state.belief.mean(row)).collect(),
            covariance: rows
                .clone()
                .map(|row| rows.clone().map(|other| state.belief.covariance(row, other)).collect())
                .collect(),
            lifts: lifts.collect(),
            curve: self.pooled().curve(),
            reserve_share: self.parameters().reserve_share,
            freak: self.pooled().freak,
        }
    }
}

impl SessionBelief {
    /// The forecast of the lead set of the lift on `place`, in the light of what the session has shown so
    /// far; none if no set with that reserve can be read. Level and day aren't told apart: all that is
    /// known of capacity stands under the day.
    #[must_use]
    pub fn expectation(&self, place: usize, next: &LeadSet) -> Option<Expectation> {
        let sums = Sums {
            shown: &self.shown(place, next),
            shown_as_usual: &leaning(place, self.lifts[place].usual_lean),
            against_usual: &[(EACH * place + 1, 1.0)],
            level: &[],
        };
        forecast(&self.belief(), &sums, self.noise(place), self.curve, next)
    }

    /// Learns from the lead set of the lift on `place`; none, and nothing is learnt, if it is too long to
    /// be read.
    pub fn learn(&mut self, place: usize, set: &LeadSet) -> Option<Surprise> {
        let seen = set.measure(self.curve).ok()?;
        let (sum, noise) = (self.shown(place, set), self.noise(place));
        let mut belief = self.belief();
        let surprise =
            belief.observe(&sum, seen.log_one_rm, noise.variance(&seen), noise.freak.of(set));
        let n = self.mean.len();
        self.mean = (0..n).map(|row| belief.mean(row)).collect();
        self.covariance = (0..n)
            .map(|row| (0..n).map(|column| belief.covariance(row, column)).collect())
            .collect();
        Some(surprise)
    }

    /// What a set shows on the common curve at its load.
    fn shown(&self, place: usize, set: &LeadSet) -> Sum {
        leaning(place, lean_at(self.curve.b(), self.lifts[place].usual_shown, set.moved_kg))
    }

    fn noise(&self, place: usize) -> Noise {
        Noise {
            scatter_variance: self.lifts[place].scatter_variance,
            reserve_share: self.reserve_share,
            freak: self.freak,
        }
    }

    fn belief(&self) -> Belief {
        let n = self.mean.len();
        let mut belief = Belief::new(n);
        for row in 0..n {
            belief.disturb(row, self.mean[row], self.covariance[row][row]);
            for column in 0..row {
                belief.correlate(row, column, self.covariance[row][column]);
            }
        }
        belief
    }
}

/// What the lift on `place` shows where the common curve leans so much.
fn leaning(place: usize, lean: f64) -> Sum {
    vec![(EACH * place, 1.0), (EACH * place + 2, -lean)]
}
