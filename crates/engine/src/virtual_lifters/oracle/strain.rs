//! Strains that nobody wrote down, as the oracle expects them: not when, but how often and how large.
//!
//! A strain is rare and large, so it is no Gaussian noise. What may have happened to a region since it
//! was last trained is kept apart (its probability, and the first two moments of what would be left of
//! it) until a session trains the region; then each possible strain becomes a hypothesis of its own.

use nalgebra::{DMatrix, DVector};

use super::belief::Belief;

/// A possible strain since its region was last trained.
#[derive(Clone, Debug)]
pub(super) struct Pending {
    /// The chance of one on a day.
    pub(super) daily_chance: f64,
    /// Mean of its size and of its square, as log strength.
    pub(super) size: (f64, f64),
    /// The states that it falls upon with the part of the size that each gets.
    pub(super) falls_on: Vec<(usize, f64)>,
    probability: f64,
    first: DVector<f64>,
    second: DMatrix<f64>,
}

impl Pending {
    /// Nothing can have happened yet.
    pub(super) fn new(daily_chance: f64, size: (f64, f64), falls_on: Vec<(usize, f64)>) -> Pending {
        let n = falls_on.len();
        let (first, second) = (DVector::zeros(n), DMatrix::zeros(n, n));
        Pending { daily_chance, size, falls_on, probability: 0.0, first, second }
    }

    /// A day passes: what may have been fades, and something new may have happened.
    pub(super) fn pass(&mut self, factors: &DVector<f64>) {
        let n = self.falls_on.len();
        let kept = DVector::from_iterator(n, self.falls_on.iter().map(|(idx, _)| factors[*idx]));
        let part = DVector::from_iterator(n, self.falls_on.iter().map(|(_, part)| *part));
        self.first.component_mul_assign(&kept);
        self.second.component_mul_assign(&(&kept * kept.transpose()));
        self.first.axpy(self.daily_chance * self.size.0, &part, 1.0);
        self.second.ger(self.daily_chance * self.size.1, &part, &part, 1.0);
        self.probability = 1.0 - (1.0 - self.probability) * (1.0 - self.daily_chance);
    }

    /// P(there was one).
    pub(super) fn probability(&self) -> f64 {
        self.probability
    }

    /// The belief if there was one.
    pub(super) fn happened(&self, belief: &Belief) -> Belief {
        let mut out = belief.clone();
        let p = self.probability.max(1e-12);
        for (row, (state, _)) in self.falls_on.iter().enumerate() {
            out.mean[*state] += self.first[row] / p;
            for (col, (other, _)) in self.falls_on.iter().enumerate() {
                out.cov[(*state, *other)] +=
                    self.second[(row, col)] / p - self.first[row] * self.first[col] / (p * p);
            }
        }
        out
    }

    /// The region was trained: whatever happened is in the belief now.
    pub(super) fn settle(&mut self) {
        self.probability = 0.0;
        self.first.fill(0.0);
        self.second.fill(0.0);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Ten quiet days, then as many with 90 % left overnight: worked out as sums by hand.
    #[test]
    fn what_may_have_happened_fades_like_fatigue() {
        let mut strain = Pending::new(0.01, (0.03, 0.001), vec![(1, 1.0), (0, 0.5)]);
        let factors = DVector::from_row_slice(&[0.8, 0.9]);
        (0..10).for_each(|_| strain.pass(&factors));
        let sum = |factor: f64| (0..10).map(|day| factor.powi(day)).sum::<f64>();
        assert!((strain.probability() - (1.0 - 0.99_f64.powi(10))).abs() < 1e-12);

        let prior = Belief { weight: 1.0, mean: DVector::zeros(2), cov: DMatrix::zeros(2, 2) };
        let after = strain.happened(&prior);
        let p = strain.probability();
        assert!((after.mean[1] - 0.0003 * sum(0.9) / p).abs() < 1e-12);
        assert!((after.mean[0] - 0.00015 * sum(0.8) / p).abs() < 1e-12);
        let square = 1e-5 * sum(0.81) / p - after.mean[1].powi(2);
        assert!((after.cov[(1, 1)] - square).abs() < 1e-12);
        let crossed = 5e-6 * sum(0.72) / p - after.mean[0] * after.mean[1];
        assert!((after.cov[(0, 1)] - crossed).abs() < 1e-12);

        strain.settle();
        assert_eq!(strain.probability(), 0.0);
    }
}
