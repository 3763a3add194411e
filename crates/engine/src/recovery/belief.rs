//! A joint normal belief about many quantities, and the few exact things that happen to it.
//!
//! Every step of the recovery model is one of these: one quantity is disturbed, one is replaced by a
//! mean, one sum of a few is observed. Each touches few rows, so a step costs n² at most, not the n³ of
//! a general matrix filter; what time does costs n (see `super::frame`). Both halves of the covariance are kept,
//! so that every row can be read as it lies, and get the same to the bit.

use aligned_vec::AVec;

use super::freak::{Freak, Learnt};
use super::lanes::{Aligned, HELD, HeldRows, LANES, aligned, gather, learn, lessen};
use super::pending::Pending;

/// The least variance of an observation: (0.001 %)². Masses are whole grams, so nothing is known
/// better, and a variance of exactly 0 would leave nothing of a covariance but rounding errors.
pub const LEAST_NOISE: f64 = 1e-10;

/// A weighted sum of a few quantities: (row, weight) pairs, each row once.
pub type Sum = Vec<(usize, f64)>;

/// Mean and covariance of `n` quantities.
#[derive(Clone, Debug)]
pub struct Belief {
    n: usize,
    mean: Aligned<f64>,
    /// By rows, each as long as `along`.
    covariance: Aligned<f64>,
    /// A multiple of [`LANES`] long. Beyond the last quantity all of a row is 0.
    along: Aligned<f64>,
    /// What the latest observations take off the covariance, as yet unsubtracted: taking off several at once spares
    /// reading and writing the covariance for each.
    held: HeldRows,
    n_held: usize,
    pending: Pending,
}

/// What an observation brought.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Surprise {
    /// Observed less expected.
    pub innovation: f64,
    /// Variance of what was to be observed, by the common scale of noise.
    pub variance: f64,
    /// Log-density of the observation.
    pub log_density: f64,
    /// Probability that the noise was of the wide scale.
    pub p_freak: f64,
}

impl Belief {
    /// `n` quantities known to be 0.
    #[must_use]
    pub fn new(n: usize) -> Belief {
        Belief::with_places(n, Pending::default())
    }

    /// The same, with the places over which noise comes.
    pub(super) fn with_places(n: usize, pending: Pending) -> Belief {
        let stride = n.next_multiple_of(LANES).max(LANES);
        Belief {
            n,
            mean: aligned(0.0, stride),
            covariance: aligned(0.0, stride * stride),
            along: aligned(0.0, stride),
            held: HeldRows::new(stride),
            n_held: 0,
            pending,
        }
    }

    /// The same with `more` further quantities that are known to be 0.
    #[must_use]
    pub fn with_more(mut self, more: usize) -> Belief {
        let mut wider = Belief::with_places(self.n + more, std::mem::take(&mut self.pending));
        wider.mean[..self.n].copy_from_slice(&self.mean[..self.n]);
        let (old, new) = (self.stride(), wider.stride());
        let rows = wider.covariance.chunks_exact_mut(new).zip(self.covariance.chunks_exact(old));
        rows.for_each(|(wide, row)| wide[..old].copy_from_slice(row));
        (wider.held, wider.n_held) = (self.held.widened(new), self.n_held);
        wider
    }

    /// How many quantities.
    #[must_use]
    pub fn len(&self) -> usize {
        self.n
    }

    /// Whether there are none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.n == 0
    }

    /// Mean of one quantity.
    #[must_use]
    pub fn mean(&self, row: usize) -> f64 {
        self.mean[row] + self.pending.shift(row)
    }

    /// Covariance of two quantities.
    #[must_use]
    pub fn covariance(&self, one: usize, other: usize) -> f64 {
        let held = self.held.between(self.n_held, one, other);
        self.covariance[self.at(one, other)] - held + self.pending.between(one, other)
    }

    /// Mean of a sum.
    #[must_use]
    pub fn mean_of(&self, sum: &[(usize, f64)]) -> f64 {
        sum.iter().map(|&(row, weight)| weight * self.mean(row)).sum()
    }

    /// Covariance of two sums.
    #[must_use]
    pub fn covariance_of(&self, one: &[(usize, f64)], other: &[(usize, f64)]) -> f64 {
        let with = |row: usize| -> f64 {
            other.iter().map(|&(column, weight)| weight * self.covariance(row, column)).sum()
        };
        one.iter().map(|&(row, weight)| weight * with(row)).sum()
    }

    /// Variance of a sum, never below 0.
    #[must_use]
    pub fn variance_of(&self, sum: &[(usize, f64)]) -> f64 {
        self.covariance_of(sum, sum).max(0.0)
    }

    /// Moves one quantity and makes it less certain: mean += `shift`, variance += `variance`.
    pub fn disturb(&mut self, row: usize, shift: f64, variance: f64) {
        self.mean[row] += shift;
        let at = self.at(row, row);
        self.covariance[at] += variance.max(0.0);
    }

    /// Adds to the covariance of two different quantities.
    pub fn correlate(&mut self, one: usize, other: usize, covariance: f64) {
        for at in [self.at(one, other), self.at(other, one)] {
            self.covariance[at] += covariance;
        }
    }

    /// What comes over muscles and lifts, to be added to.
    pub(super) fn pending(&mut self) -> &mut Pending {
        &mut self.pending
    }

    /// Multiplies one quantity.
    pub fn stretch(&mut self, row: usize, factor: f64) {
        self.replace(row, factor, &[], 0.0);
        self.mean[row] *= factor;
    }

    /// Moves one quantity a part of the way towards a sum:
    /// x\[row\] ← (1 − part)·x\[row\] + part·sum.
    pub fn approach(&mut self, row: usize, part: f64, sum: &[(usize, f64)]) {
        let (keep, target) = (1.0 - part, self.mean_of(sum));
        self.replace(row, keep, sum, part);
        self.mean[row] = keep * self.mean[row] + part * target;
    }

    /// Sets a quantity of which nothing is known from a first observation of it plus `rest`:
    /// x\[row\] = `observed` − rest − noise. Exact for a flat prior, under which such an observation
    /// has density 1.
    pub fn found(&mut self, row: usize, rest: &[(usize, f64)], observed: f64, noise: f64) {
        let expected = self.mean_of(rest);
        self.gather(rest);
        self.replace(row, 0.0, rest, -1.0);
        self.mean[row] = observed - expected;
        self.disturb(row, 0.0, noise.max(LEAST_NOISE));
    }

    /// Puts keep·x\[row\] + part·sum in the place of one quantity, mean apart. What is held goes the same way as
    /// what it is to be taken off, so it needn't be taken off first.
    fn replace(&mut self, row: usize, keep: f64, sum: &[(usize, f64)], part: f64) {
        let (n, stride) = (self.n, self.stride());
        self.pending.put_into(&mut self.mean, &mut self.covariance);
        let mut fresh = vec![0.0; stride];
        gather(&self.covariance, &self.held, 0, sum, &mut fresh);
        let spread: f64 = sum.iter().map(|&(of, weight)| weight * fresh[of]).sum();
        let own = keep * keep * self.covariance[self.at(row, row)]
            + part * (2.0 * keep * fresh[row] + part * spread);
        for (other, fresh) in fresh.iter().enumerate().take(n) {
            let (at, mirrored) = (self.at(row, other), self.at(other, row));
            self.covariance[at] = keep * self.covariance[at] + part * fresh;
            self.covariance[mirrored] = self.covariance[at];
        }
        let at = self.at(row, row);
        self.covariance[at] = own.max(0.0);
        self.held.replace(row, keep, sum, part);
    }

    /// Learns from an observation of a sum with normal noise of two scales: the belief afterwards is
    /// the mixture's mean and covariance (exact when `freak` says that there are no freak sets).
    pub fn observe(
        &mut self,
        sum: &[(usize, f64)],
        observed: f64,
        noise: f64,
        freak: Freak,
    ) -> Surprise {
        let (expected, spread) = self.gather(sum);
        let innovation = observed - expected;
        let noise = noise.max(LEAST_NOISE);
        let learnt = freak.learn(innovation, spread, noise);
        self.learn(learnt);
        Surprise {
            innovation,
            variance: spread + noise,
            log_density: learnt.log_density,
            p_freak: learnt.p_freak,
        }
    }

    /// The covariance of every quantity with the sum last observed or founded, before that.
    pub(super) fn along(&self) -> &[f64] {
        &self.along[..self.n]
    }

    /// One whole row: mean, and covariances with everything.
    pub(super) fn row(&self, row: usize) -> (f64, Vec<f64>) {
        let mut covariances = vec![0.0; self.stride()];
        self.product(&[(row, 1.0)], &mut covariances);
        covariances.truncate(self.n);
        (self.mean(row), covariances)
    }

    /// Puts the covariance of every quantity with a sum into `along`; returns the sum's mean and variance.
    fn gather(&mut self, sum: &[(usize, f64)]) -> (f64, f64) {
        let mut along = std::mem::replace(&mut self.along, AVec::new(64));
        let moved = self.product(sum, &mut along);
        let (mut mean, mut variance) = (moved, 0.0);
        for &(of, weight) in sum {
            mean += weight * self.mean[of];
            variance += weight * along[of];
        }
        self.along = along;
        (mean, f64::max(variance, 0.0))
    }

    /// The same into a row; returns how far the noise has moved the sum.
    fn product(&self, sum: &[(usize, f64)], along: &mut [f64]) -> f64 {
        gather(&self.covariance, &self.held, self.n_held, sum, along);
        self.pending.add_to(along, sum)
    }

    /// Moves the mean by gain·along, and keeps shrink·along·along' to be taken off the covariance.
    fn learn(&mut self, Learnt { gain, shrink, .. }: Learnt) {
        let Belief { mean, covariance, along, held, pending, .. } = self;
        let root = shrink.abs().sqrt();
        learn(mean, (held, self.n_held), along, (gain, root));
        if shrink < 0.0 {
            // A doubt that has grown is rare, and put in at once.
            let grown: Vec<f64> = along.iter().map(|along| root * along).collect();
            for (row, one) in covariance.chunks_exact_mut(along.len()).zip(&grown) {
                row.iter_mut()
                    .zip(&grown)
                    .for_each(|(covariance, other)| *covariance += one * other);
            }
            return;
        }
        self.n_held += 1;
        if self.n_held == HELD {
            pending.put_into(mean, covariance);
            lessen(covariance, held);
            self.n_held = 0;
        }
    }

    fn stride(&self) -> usize {
        self.along.len()
    }

    fn at(&self, one: usize, other: usize) -> usize {
        one * self.stride() + other
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// An observation so far off that it may or may not be a freak leaves more doubt than there was.
    #[test]
    fn a_doubt_can_grow() {
        let freak = Freak { share: 0.05, widening: 5.0, of_day: 0.0 };
        let sum = [(0, 1.0), (2, -0.5)];
        let mut belief = Belief::new(3);
        for (row, variance) in [4e-4, 9e-4, 1e-4].into_iter().enumerate() {
            belief.disturb(row, 0.1, variance);
        }
        belief.correlate(0, 1, 3e-4);
        // Something else is learnt first, and held.
        belief.observe(&[(1, 1.0)], 0.12, 1e-4, Freak::NONE);
        let before = belief.clone();
        let with = |row: usize| before.covariance_of(&[(row, 1.0)], &sum);
        let (spread, off) = (before.variance_of(&sum), 0.08);
        belief.observe(&sum, before.mean_of(&sum) + off, 1e-4, freak);
        let learnt = freak.learn(off, spread, 1e-4);
        assert!(learnt.shrink < 0.0, "{}", learnt.shrink);
        for row in 0..3 {
            let mean = before.mean(row) + learnt.gain * with(row);
            assert!((belief.mean(row) - mean).abs() < 1e-15);
            for other in 0..3 {
                let left = before.covariance(row, other) - learnt.shrink * with(row) * with(other);
                assert!((belief.covariance(row, other) - left).abs() < 1e-18, "{row}, {other}");
            }
        }
        assert!(belief.variance_of(&sum) > spread);
    }
}
