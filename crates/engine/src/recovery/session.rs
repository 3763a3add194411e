//! What a card carries: the belief about one session's lifts alone, small enough to update without a
//! connection.
//!
//! For each lift two quantities at the moment of its lead set: what it will show at its planned load,
//! and capacity less usual. A
//! lead set updates all of them by the arithmetic of `docs/card-data.md`; the dose of the sets planned
//! in between is in the numbers already. [`SessionBelief::learn`] is that arithmetic, and the test
//! vectors beside the tests come from it.

use super::belief::Belief;
use super::freak::Freak;
use super::lifter::Lifter;
use crate::trend::{AgainstUsual, Expectation};

/// The belief about a session's lifts. Quantities 2k and 2k + 1 are what lift k's lead set will show but
/// for noise, and its capacity less usual, in ln 1RM.
#[derive(Clone, Debug, PartialEq)]
pub struct SessionBelief {
    /// Means.
    pub mean: Vec<f64>,
    /// Covariance, by rows.
    pub covariance: Vec<Vec<f64>>,
    /// The lifter's lift behind each pair, as given.
    pub lifts: Vec<usize>,
    /// The two scales of noise.
    pub freak: Freak,
}

impl Lifter {
    /// The belief about a session's lifts, given in order, each with the mass of its
    /// lead set in kg and the hard sets planned. Lifts
    /// without a record are left out.
    #[must_use]
    pub fn session(&self, planned: &[(usize, f64, f64)], days: f64) -> SessionBelief {
        let known: Vec<(usize, f64, f64)> =
            planned.iter().copied().filter(|(lift, ..)| self.exposures(*lift) > 0).collect();
        let (dynamics, n) = (self.dynamics(), self.shape().n_states());
        let mut state = self.state().clone();
        state.belief = state.belief.with_more(2 * known.len());
        for (place, &(lift, moved_kg, hard_sets)) in known.iter().enumerate() {
            dynamics.enter(&mut state, days);
            dynamics.doubt_if_left_out(&mut state, lift);
            let capacity = dynamics.capacity(lift);
            let mut against = capacity.clone();
            against.push((self.shape().usual(lift), -1.0));
            let shown = dynamics.shown(&state.lifts[lift], lift, moved_kg, 0.0);
            state.belief.approach(n + 2 * place, 1.0, &shown);
            state.belief.approach(n + 2 * place + 1, 1.0, &against);
            dynamics.work(&mut state, lift, days, hard_sets);
        }
        let rows = n..n + 2 * known.len();
        SessionBelief {
            mean: rows.clone().map(|row| state.belief.mean(row)).collect(),
            covariance: rows
                .clone()
                .map(|row| rows.clone().map(|other| state.belief.covariance(row, other)).collect())
                .collect(),
            lifts: known.into_iter().map(|(lift, ..)| lift).collect(),
            freak: self.pooled().freak,
        }
    }
}

impl SessionBelief {
    /// The forecast of the lead set of pair `place`: `alone` (that lift's forecast at its load, made
    /// before the session) with what the session has shown since put in.
    #[must_use]
    pub fn expectation(&self, place: usize, alone: &Expectation) -> Expectation {
        let (capacity, against) = (2 * place, 2 * place + 1);
        let variance = self.covariance[capacity][capacity];
        Expectation {
            mean: self.mean[capacity],
            level_variance: alone.level_variance,
            acute_variance: variance - alone.level_variance,
            against_usual: AgainstUsual {
                mean: self.mean[against],
                variance: self.covariance[against][against],
                covariance: self.covariance[capacity][against],
            },
            ..*alone
        }
    }

    /// Learns from the lead set of pair `place`: what it showed, and the variance of its noise.
    pub fn learn(&mut self, place: usize, log_shown: f64, noise: f64) {
        let n = self.mean.len();
        let mut belief = Belief::new(n);
        for row in 0..n {
            belief.disturb(row, self.mean[row], self.covariance[row][row]);
            for column in 0..row {
                belief.correlate(row, column, self.covariance[row][column]);
            }
        }
        belief.observe(&[(2 * place, 1.0)], log_shown, noise, self.freak);
        self.mean = (0..n).map(|row| belief.mean(row)).collect();
        self.covariance = (0..n)
            .map(|row| (0..n).map(|column| belief.covariance(row, column)).collect())
            .collect();
    }
}
