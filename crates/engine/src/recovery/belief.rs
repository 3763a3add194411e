//! A joint normal belief about many quantities, and the few exact things that happen to it.
//!
//! Every step of the recovery model is one of these: quantities fade and wander, one is sheared onto
//! another, one is replaced by a mean, one sum of a few is observed. Each touches few rows, so a step
//! costs n² at most, not the n³ of a general matrix filter. The lower triangle of the covariance
//! is all there is, so it can't lose its symmetry.

use super::freak::Freak;

/// The least variance of an observation: (0.001 %)². Masses are whole grams, so nothing is known
/// better, and a variance of exactly 0 would leave nothing of a covariance but rounding errors.
pub const LEAST_NOISE: f64 = 1e-10;

/// A weighted sum of a few quantities: (row, weight) pairs, each row once.
pub type Sum = Vec<(usize, f64)>;

/// Mean and covariance of `n` quantities.
#[derive(Clone, Debug, PartialEq)]
pub struct Belief {
    n: usize,
    mean: Vec<f64>,
    /// n × n by rows, of which only the lower triangle is written and read.
    covariance: Vec<f64>,
    along: Vec<f64>,
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
        Belief { n, mean: vec![0.0; n], covariance: vec![0.0; n * n], along: vec![0.0; n] }
    }

    /// The same with `more` further quantities that are known to be 0.
    #[must_use]
    pub fn with_more(&self, more: usize) -> Belief {
        let mut wider = Belief::new(self.n + more);
        for row in 0..self.n {
            wider.mean[row] = self.mean[row];
            let of_row = &self.covariance[row * self.n..][..=row];
            wider.covariance[row * wider.n..][..=row].copy_from_slice(of_row);
        }
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
        self.mean[row]
    }

    /// Covariance of two quantities.
    #[must_use]
    pub fn covariance(&self, one: usize, other: usize) -> f64 {
        self.covariance[self.at(one, other)]
    }

    /// Mean of a sum.
    #[must_use]
    pub fn mean_of(&self, sum: &[(usize, f64)]) -> f64 {
        sum.iter().map(|&(row, weight)| weight * self.mean[row]).sum()
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
        self.covariance[row * self.n + row] += variance.max(0.0);
    }

    /// Adds to the covariance of two different quantities.
    pub fn correlate(&mut self, one: usize, other: usize, covariance: f64) {
        let at = self.at(one, other);
        self.covariance[at] += covariance;
    }

    /// Multiplies every quantity by its factor.
    pub fn fade(&mut self, factors: &[f64]) {
        for (row, &factor) in factors.iter().enumerate() {
            self.mean[row] *= factor;
            let of_row = &mut self.covariance[row * self.n..][..=row];
            for (value, other) in of_row.iter_mut().zip(factors) {
                *value *= factor * other;
            }
        }
    }

    /// Adds to each of some quantities its amount times one other, which is not among them:
    /// x\[onto\] += amount·x\[from\].
    pub fn shear(&mut self, from: usize, onto: &[(usize, f64)]) {
        let own = self.gather(&[(from, 1.0)]);
        let Belief { n, mean, covariance, along, .. } = self;
        let base = mean[from];
        for &(row, amount) in onto {
            mean[row] += amount * base;
            let of_row = &mut covariance[row * *n..][..=row];
            for (value, along) in of_row.iter_mut().zip(&*along) {
                *value += amount * along;
            }
        }
        // Columns gain by the rows as they have become.
        for &(row, amount) in onto {
            along[row] += amount * own;
        }
        let first = onto.iter().map(|(row, _)| *row).min().unwrap_or(*n);
        for (below, along) in along.iter().enumerate().skip(first) {
            let of_row = &mut covariance[below * *n..][..=below];
            for &(row, amount) in onto.iter().filter(|(row, _)| *row <= below) {
                of_row[row] += amount * along;
            }
            of_row[below] = of_row[below].max(0.0);
        }
    }

    /// Adds to every `step`-th quantity from `first` to the `count`-th an amount times the one that follows
    /// it: x\[row\] += amount·x\[row + 1\]. `step` is at least 2.
    pub fn glide(&mut self, first: usize, step: usize, count: usize, amount: f64) {
        let Belief { n, mean, covariance, .. } = self;
        // Columns first, as far as they are in the triangle, then rows.
        for below in first + 1..*n {
            let of_row = &mut covariance[below * *n..][first..=below];
            for pair in of_row.chunks_mut(step).take(count) {
                if let [value, next, ..] = pair {
                    *value += amount * *next;
                }
            }
        }
        for row in (first..).step_by(step).take(count) {
            mean[row] += amount * mean[row + 1];
            let (upper, next) = covariance.split_at_mut((row + 1) * *n);
            let of_row = &mut upper[row * *n..][..=row];
            let own = next[row + 1];
            for (value, next) in of_row.iter_mut().zip(&*next) {
                *value += amount * next;
            }
            // The column step has put amount·x[row + 1] into `next[row]` already; the variance takes
            // the square of it once and not twice.
            of_row[row] = (of_row[row] + amount * (next[row] - amount * own)).max(0.0);
        }
    }

    /// Moves one quantity a part of the way towards a sum:
    /// x\[row\] ← (1 − part)·x\[row\] + part·sum.
    pub fn approach(&mut self, row: usize, part: f64, sum: &[(usize, f64)]) {
        let keep = 1.0 - part;
        let target = self.mean_of(sum);
        let spread = self.gather(sum);
        let variance = keep * keep * self.covariance(row, row)
            + part * (2.0 * keep * self.along[row] + part * spread);
        for other in 0..self.n {
            let at = self.at(row, other);
            self.covariance[at] = keep * self.covariance[at] + part * self.along[other];
        }
        self.covariance[row * self.n + row] = variance.max(0.0);
        self.mean[row] = keep * self.mean[row] + part * target;
    }

    /// Sets a quantity of which nothing is known from a first observation of it plus `rest`:
    /// x\[row\] = `observed` − rest − noise. Exact for a flat prior, under which such an observation
    /// has density 1.
    pub fn found(&mut self, row: usize, rest: &[(usize, f64)], observed: f64, noise: f64) {
        self.mean[row] = observed - self.mean_of(rest);
        let spread = self.gather(rest);
        for other in 0..self.n {
            let at = self.at(row, other);
            self.covariance[at] = -self.along[other];
        }
        self.covariance[row * self.n + row] = spread + noise.max(LEAST_NOISE);
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
        let innovation = observed - self.mean_of(sum);
        let spread = self.gather(sum);
        let noise = noise.max(LEAST_NOISE);
        let learnt = freak.learn(innovation, spread, noise);
        for (mean, along) in self.mean.iter_mut().zip(&self.along) {
            *mean += along * learnt.gain;
        }
        for row in 0..self.n {
            let along = self.along[row] * learnt.shrink;
            if along != 0.0 {
                let of_row = &mut self.covariance[row * self.n..][..=row];
                for (value, other) in of_row.iter_mut().zip(&self.along) {
                    *value -= along * other;
                }
                of_row[row] = of_row[row].max(0.0);
            }
        }
        Surprise {
            innovation,
            variance: spread + noise,
            log_density: learnt.log_density,
            p_freak: learnt.p_freak,
        }
    }

    /// The covariance of every quantity with the sum last observed or founded, before that.
    pub(super) fn along(&self) -> &[f64] {
        &self.along
    }

    /// One whole row: mean, and covariances with everything.
    pub(super) fn row(&self, row: usize) -> (f64, Vec<f64>) {
        (self.mean[row], (0..self.n).map(|other| self.covariance(row, other)).collect())
    }

    /// Puts the covariance of every quantity with a sum into `along`; returns the sum's variance.
    fn gather(&mut self, sum: &[(usize, f64)]) -> f64 {
        let Belief { n, covariance, along, .. } = self;
        along.iter_mut().for_each(|value| *value = 0.0);
        for &(of, weight) in sum {
            let of_row = &covariance[of * *n..][..=of];
            for (value, other) in along.iter_mut().zip(of_row) {
                *value += weight * other;
            }
            let below = covariance[(of + 1) * *n..].chunks_exact(*n);
            for (value, row) in along[of + 1..].iter_mut().zip(below) {
                *value += weight * row[of];
            }
        }
        sum.iter().map(|&(of, weight)| weight * along[of]).sum::<f64>().max(0.0)
    }

    fn at(&self, one: usize, other: usize) -> usize {
        one.max(other) * self.n + one.min(other)
    }
}
