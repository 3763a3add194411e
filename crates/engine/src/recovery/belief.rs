//! A joint normal belief about many quantities, and the few exact things that happen to it.
//!
//! Every step of the recovery model is one of these: one quantity is disturbed, one is replaced by a
//! mean, one sum of a few is observed. Each touches few rows, so a step costs n² at most, not the n³ of
//! a general matrix filter; what time does costs n (see `super::frame`). The upper triangle
//! of the covariance is all there is, so it can't lose its symmetry.

use super::freak::Freak;
use super::lanes::{HELD, LANES, gather, lessen, lessen_product};

/// The least variance of an observation: (0.001 %)². Masses are whole grams, so nothing is known
/// better, and a variance of exactly 0 would leave nothing of a covariance but rounding errors.
pub const LEAST_NOISE: f64 = 1e-10;

/// A weighted sum of a few quantities: (row, weight) pairs, each row once.
pub type Sum = Vec<(usize, f64)>;

/// Mean and covariance of `n` quantities.
#[derive(Clone, Debug)]
pub struct Belief {
    n: usize,
    mean: Vec<f64>,
    /// By rows, each a multiple of [`LANES`] long, of which only the upper triangle is read. What lies
    /// before the diagonal is written over where that spares a test, and means nothing.
    covariance: Vec<f64>,
    /// As long as a row. Beyond the last quantity all of a row is 0.
    along: Vec<f64>,
    held: Held,
}

/// What the latest observations take off the covariance, as yet unsubtracted: shrink·along·along' for each.
/// Taking off several at once spares reading and writing the covariance for each.
#[derive(Clone, Debug)]
struct Held {
    n: usize,
    shrink: [f64; HELD],
    /// Rows of `along`, those of no observation all 0.
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
        let stride = n.next_multiple_of(LANES);
        Belief {
            n,
            mean: vec![0.0; n],
            covariance: vec![0.0; n * stride],
            along: vec![0.0; stride],
            held: Held { n: 0, shrink: [0.0; HELD], along: vec![0.0; HELD * stride] },
        }
    }

    /// The same with `more` further quantities that are known to be 0.
    #[must_use]
    pub fn with_more(mut self, more: usize) -> Belief {
        self.take_off();
        let mut wider = Belief::new(self.n + more);
        for row in 0..self.n {
            wider.mean[row] = self.mean[row];
            let of_row = &self.covariance[row * self.stride()..][row..self.n];
            let at = row * wider.stride();
            wider.covariance[at..][row..self.n].copy_from_slice(of_row);
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
        let held: f64 = (0..self.held.n)
            .map(|idx| {
                let along = &self.held.along[idx * self.stride()..];
                self.held.shrink[idx] * along[one] * along[other]
            })
            .sum();
        self.covariance[self.at(one, other)] - held
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
        let at = self.at(row, row);
        self.covariance[at] += variance.max(0.0);
    }

    /// Adds to the covariance of two different quantities.
    pub fn correlate(&mut self, one: usize, other: usize, covariance: f64) {
        let at = self.at(one, other);
        self.covariance[at] += covariance;
    }

    /// Disturbs quantities that lie one after the other from `first`, each by `variance`·sd² with its sd in
    /// `sds`, and pairs of them, the later first, by `covariance`·sd·sd.
    pub(super) fn disturb_together(
        &mut self,
        first: usize,
        sds: &[f64],
        variance: f64,
        pairs: &[(usize, usize)],
        covariance: f64,
    ) {
        let stride = self.stride();
        let block = &mut self.covariance[first * (stride + 1)..];
        for (place, sd) in sds.iter().enumerate() {
            block[place * (stride + 1)] += variance * sd * sd;
        }
        for &(late, early) in pairs {
            block[early * stride + late] += covariance * sds[late] * sds[early];
        }
    }

    /// Disturbs `count` triples of quantities that lie one after the other from `first`: the first two of
    /// each by `shifts` and by the variance of the one, the covariance and the variance of the other; the
    /// third by a variance.
    pub(super) fn disturb_triples(
        &mut self,
        first: usize,
        count: usize,
        shifts: [f64; 2],
        [one, both, other]: [f64; 3],
        third: f64,
    ) {
        let stride = self.stride();
        for triple in self.mean[first..][..3 * count].chunks_exact_mut(3) {
            triple[0] += shifts[0];
            triple[1] += shifts[1];
        }
        let mut rows =
            self.covariance[first * stride..][..3 * count * stride].chunks_exact_mut(stride);
        let mut at = first;
        while let (Some(level), Some(slope), Some(last)) = (rows.next(), rows.next(), rows.next()) {
            level[at] += one;
            level[at + 1] += both;
            slope[at + 1] += other;
            last[at + 2] += third;
            at += 3;
        }
    }

    /// Multiplies one quantity.
    pub fn stretch(&mut self, row: usize, factor: f64) {
        self.take_off();
        self.mean[row] *= factor;
        for other in 0..self.n {
            let at = self.at(row, other);
            self.covariance[at] *= factor;
        }
        let at = self.at(row, row);
        self.covariance[at] *= factor;
    }

    /// Moves one quantity a part of the way towards a sum:
    /// x\[row\] ← (1 − part)·x\[row\] + part·sum.
    pub fn approach(&mut self, row: usize, part: f64, sum: &[(usize, f64)]) {
        self.take_off();
        let keep = 1.0 - part;
        let target = self.mean_of(sum);
        let spread = self.gather(sum);
        let variance = keep * keep * self.covariance(row, row)
            + part * (2.0 * keep * self.along[row] + part * spread);
        for other in 0..self.n {
            let at = self.at(row, other);
            self.covariance[at] = keep * self.covariance[at] + part * self.along[other];
        }
        let own = self.at(row, row);
        self.covariance[own] = variance.max(0.0);
        self.mean[row] = keep * self.mean[row] + part * target;
    }

    /// Sets a quantity of which nothing is known from a first observation of it plus `rest`:
    /// x\[row\] = `observed` − rest − noise. Exact for a flat prior, under which such an observation
    /// has density 1.
    pub fn found(&mut self, row: usize, rest: &[(usize, f64)], observed: f64, noise: f64) {
        self.take_off();
        self.mean[row] = observed - self.mean_of(rest);
        let spread = self.gather(rest);
        for other in 0..self.n {
            let at = self.at(row, other);
            self.covariance[at] = -self.along[other];
        }
        let own = self.at(row, row);
        self.covariance[own] = spread + noise.max(LEAST_NOISE);
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
        self.hold(learnt.shrink);
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
        (self.mean[row], covariances)
    }

    /// Puts the covariance of every quantity with a sum into `along`; returns the sum's variance.
    fn gather(&mut self, sum: &[(usize, f64)]) -> f64 {
        let mut along = std::mem::take(&mut self.along);
        self.product(sum, &mut along);
        self.along = along;
        sum.iter().map(|&(of, weight)| weight * self.along[of]).sum::<f64>().max(0.0)
    }

    fn product(&self, sum: &[(usize, f64)], along: &mut [f64]) {
        let Held { n, shrink, along: held } = &self.held;
        gather(&self.covariance, sum, along);
        for (shrink, held) in shrink.iter().zip(held.chunks_exact(along.len())).take(*n) {
            let of_sum: f64 = sum.iter().map(|&(of, weight)| weight * held[of]).sum();
            lessen_product(along, held, shrink * of_sum);
        }
    }

    /// Keeps shrink·along·along' to be taken off the covariance.
    fn hold(&mut self, shrink: f64) {
        let (n, stride) = (self.held.n, self.stride());
        self.held.along[n * stride..][..stride].copy_from_slice(&self.along);
        self.held.shrink[n] = shrink;
        self.held.n += 1;
        if self.held.n == HELD {
            self.take_off();
        }
    }

    fn take_off(&mut self) {
        let Belief { covariance, held, .. } = self;
        if held.n > 0 {
            lessen(covariance, &held.along, held.shrink);
            held.n = 0;
            held.shrink = [0.0; HELD];
        }
    }

    fn stride(&self) -> usize {
        self.along.len()
    }

    fn at(&self, one: usize, other: usize) -> usize {
        one.min(other) * self.stride() + one.max(other)
    }
}
