//! What is believed of one lifter at one moment, in the model's own quantities.
//!
//! The belief itself is kept in the coordinates of [`super::frame`]; everything that asks for a level or
//! a muscle goes through here, so nobody else has to know.

use super::account::Account;
use super::belief::{Belief, Sum};
use super::frame::Frame;
use super::gradient::Step;

/// What is believed of a lifter at one moment.
#[derive(Clone, Debug)]
pub struct State {
    /// In the coordinates of `frame`.
    pub(super) belief: Belief,
    pub(super) frame: Frame,
    pub(super) account: Account,
    /// Exposures of each muscle, and the running mean of its state there.
    pub(super) muscle_usual: Vec<(f64, f64)>,
    /// Room for a sum.
    pub(super) sum: Sum,
    pub(super) log_likelihood: f64,
    /// What was done, if slopes are wanted.
    pub(super) tape: Option<Vec<Step>>,
}

impl State {
    /// Mean and covariance of everything, in ln 1RM and per day; none of it is counted as log-likelihood.
    #[must_use]
    pub fn belief(&self) -> Belief {
        let n = self.belief.len();
        let sums: Vec<Sum> = (0..n).map(|row| self.frame.inner(&[(row, 1.0)])).collect();
        let mut belief = Belief::new(n);
        for (row, sum) in sums.iter().enumerate() {
            belief.disturb(row, self.belief.mean_of(sum), self.belief.variance_of(sum));
            for (other, with) in sums[..row].iter().enumerate() {
                belief.correlate(row, other, self.belief.covariance_of(sum, with));
            }
        }
        belief
    }

    /// Mean of one quantity.
    pub(super) fn mean(&self, row: usize) -> f64 {
        self.mean_of(&[(row, 1.0)])
    }

    /// Mean of a sum.
    pub(super) fn mean_of(&self, sum: &[(usize, f64)]) -> f64 {
        self.belief.mean_of(&self.frame.inner(sum))
    }

    /// Variance of a sum.
    pub(super) fn variance_of(&self, sum: &[(usize, f64)]) -> f64 {
        self.belief.variance_of(&self.frame.inner(sum))
    }

    /// Covariance of two sums.
    pub(super) fn covariance_of(&self, one: &[(usize, f64)], other: &[(usize, f64)]) -> f64 {
        self.belief.covariance_of(&self.frame.inner(one), &self.frame.inner(other))
    }

    /// Moves a quantity other than a slope and makes it less certain, independently of all others.
    pub(super) fn disturb(&mut self, row: usize, shift: f64, variance: f64) {
        let scale = self.frame.scale(row);
        self.belief.disturb(row, shift / scale, variance / (scale * scale));
    }

    /// Moves a quantity that never fades a part of the way towards a sum.
    pub(super) fn approach(&mut self, row: usize, part: f64, sum: &[(usize, f64)]) {
        self.belief.approach(row, part, &self.frame.inner(sum));
    }

    /// Makes room for `more` quantities that never fade, known to be 0.
    pub(super) fn widen(&mut self, more: usize) {
        self.belief = std::mem::replace(&mut self.belief, Belief::new(0)).with_more(more);
        self.frame.widen(more);
    }

    /// Folds scales that have become too small into the belief.
    pub(super) fn fold(&mut self) {
        if !self.frame.must_fold() {
            return;
        }
        for (pace, factor) in self.frame.fold() {
            for row in self.frame.rows_of(pace) {
                self.belief.stretch(row, factor);
                if let Some(tape) = &mut self.tape {
                    tape.push(Step::Folded { row, factor });
                }
            }
        }
    }
}
