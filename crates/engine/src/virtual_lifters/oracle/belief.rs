//! A Gaussian belief about a hidden body, and its update by one set whose likelihood is not Gaussian.
//!
//! A set depends on one number alone, x = log capacity now, which is a linear function of the state
//! plus scatter and noise. Its likelihood is therefore integrated on a grid over x, and the belief
//! takes over the mean and variance of x that follow (assumed-density filtering: Opper & Winther 1998;
//! Minka 2001, from memory). Scatter with heavy tails is a mixture of normal distributions of several
//! widths; the mixture is integrated as such and its moments are kept.

use nalgebra::{DMatrix, DVector};

use crate::trend::expectation::normal_cdf;

/// A linear function of the state: constant + Σ coefficient·state.
#[derive(Clone, Debug, Default)]
pub(super) struct Linear {
    pub(super) constant: f64,
    pub(super) terms: Vec<(usize, f64)>,
}

/// One hypothesis about the hidden body.
#[derive(Clone, Debug)]
pub(super) struct Belief {
    /// How probable the hypothesis is.
    pub(super) weight: f64,
    pub(super) mean: DVector<f64>,
    pub(super) cov: DMatrix<f64>,
}

/// One width of a scatter's mixture: its probability, and its variance.
#[derive(Clone, Copy, Debug)]
pub(super) struct Width {
    pub(super) share: f64,
    pub(super) variance: f64,
}

/// What a set measures, before it is known what it showed.
pub(super) struct Measured<'a> {
    /// Log capacity in this set, without what follows.
    pub(super) capacity: &'a Linear,
    /// Variance from set to set.
    pub(super) noise: f64,
    /// The widths of scatter that is new in this set, and the state that keeps it.
    pub(super) scatter: (&'a [Width], usize),
}

/// The likelihood of one set over a grid of x.
pub(super) struct Grid {
    pub(super) first: f64,
    pub(super) step: f64,
    pub(super) likelihood: Vec<f64>,
}

/// What a shortfall is: `shortfall` > `limit`.
pub(super) struct Question<'a> {
    pub(super) shortfall: &'a Linear,
    pub(super) limit: f64,
}

/// x under one width, given the set.
struct Part {
    evidence: f64,
    /// (posterior mean − prior mean)/S, S being the prior variance of x.
    pull: f64,
    /// (1 − posterior variance/S)/S.
    gain: f64,
    variance: f64,
    p_short: f64,
}

impl Belief {
    /// Mean of a linear function.
    pub(super) fn mean_of(&self, f: &Linear) -> f64 {
        f.terms.iter().fold(f.constant, |sum, (idx, c)| sum + c * self.mean[*idx])
    }

    /// Covariance of the whole state with a linear function.
    pub(super) fn cov_with(&self, f: &Linear) -> DVector<f64> {
        let mut out = DVector::zeros(self.mean.len());
        for (idx, c) in &f.terms {
            out.axpy(*c, &self.cov.column(*idx), 1.0);
        }
        out
    }

    /// Mean and variance of a linear function.
    pub(super) fn moments_of(&self, f: &Linear) -> (f64, f64) {
        let with = self.cov_with(f);
        (self.mean_of(f), dot(f, &with).max(0.0))
    }

    /// Makes one state independent of everything, with this mean and variance.
    pub(super) fn renew(&mut self, idx: usize, mean: f64, variance: f64) {
        self.mean[idx] = mean;
        self.cov.row_mut(idx).fill(0.0);
        self.cov.column_mut(idx).fill(0.0);
        self.cov[(idx, idx)] = variance;
    }

    /// Sets one state to a linear function of the state.
    pub(super) fn assign(&mut self, idx: usize, f: &Linear) {
        let (mean, with) = (self.mean_of(f), self.cov_with(f));
        let variance = dot(f, &with);
        self.mean[idx] = mean;
        self.cov.set_column(idx, &with);
        self.cov.set_row(idx, &with.transpose());
        self.cov[(idx, idx)] = variance;
    }

    /// Every state is multiplied by its factor and gains variance of its own.
    pub(super) fn pass(&mut self, factors: &DVector<f64>, news: &DVector<f64>) {
        self.mean.component_mul_assign(factors);
        for (col, mut column) in self.cov.column_iter_mut().enumerate() {
            column.component_mul_assign(factors);
            column *= factors[col];
            column[col] += news[col];
        }
    }

    /// Reads one set. Gives P(shortfall) if it was asked, and leaves the evidence in the weight.
    pub(super) fn read(
        &mut self,
        set: &Measured,
        grid: &Grid,
        question: Option<&Question>,
    ) -> Option<f64> {
        let with = self.cov_with(set.capacity);
        let (mean, variance) = (self.mean_of(set.capacity), dot(set.capacity, &with).max(0.0));
        let asked = question.map(|q| self.asked(q, &with));
        let (widths, scatter_idx) = set.scatter;
        let parts: Vec<Part> = widths
            .iter()
            .map(|width| {
                let whole = variance + width.variance + set.noise;
                grid.part(width, mean, whole.max(1e-12), asked)
            })
            .collect();
        let evidence: f64 = parts.iter().map(|part| part.evidence).sum();
        if evidence.is_nan() || evidence < 1e-280 {
            self.weight = 0.0; // the set is impossible under this hypothesis
            return None;
        }
        self.weight *= evidence;
        self.take_over(&parts, evidence, &with, scatter_idx);
        let short = parts.iter().map(|part| part.evidence * part.p_short).sum::<f64>() / evidence;
        question.map(|_| short)
    }

    fn asked(&self, question: &Question, with_capacity: &DVector<f64>) -> Asked {
        let (mean, variance) = self.moments_of(question.shortfall);
        let shared = dot(question.shortfall, with_capacity);
        Asked { over: mean - question.limit, variance, shared }
    }

    /// Mean and covariance of the mixture of all parts. `with` is the covariance of the state with
    /// capacity; scatter of part k has covariance `variance` with x and none with the rest.
    fn take_over(&mut self, parts: &[Part], evidence: f64, with: &DVector<f64>, scatter: usize) {
        let mean_of = |f: &dyn Fn(&Part) -> f64| {
            parts.iter().map(|part| part.evidence / evidence * f(part)).sum::<f64>()
        };
        let pull = mean_of(&|p| p.pull);
        let scatter_pull = mean_of(&|p| p.variance * p.pull);
        let shrink = mean_of(&|p| p.gain - (p.pull - pull).powi(2));
        self.mean.axpy(pull, with, 1.0);
        self.cov.ger(-shrink, with, with, 1.0);
        if parts.iter().all(|part| part.variance == 0.0) {
            return;
        }
        let crossed = mean_of(&|p| {
            (p.pull - pull) * (p.variance * p.pull - scatter_pull) - p.variance * p.gain
        });
        let own = mean_of(&|p| {
            p.variance - p.variance * p.variance * p.gain
                + (p.variance * p.pull - scatter_pull).powi(2)
        });
        let column = with * crossed;
        self.mean[scatter] = scatter_pull;
        self.cov.set_column(scatter, &column);
        self.cov.set_row(scatter, &column.transpose());
        self.cov[(scatter, scatter)] = own;
    }
}

/// How a shortfall hangs together with capacity.
#[derive(Clone, Copy)]
struct Asked {
    over: f64,
    variance: f64,
    shared: f64,
}

impl Grid {
    /// The likelihood over a range that holds x under every belief and width.
    pub(super) fn over(
        beliefs: &[Belief],
        set: &Measured,
        likelihood: impl Fn(f64) -> f64,
    ) -> Grid {
        let widest = set.scatter.0.iter().map(|w| w.variance).fold(0.0, f64::max) + set.noise;
        let (mut first, mut last, mut least) = (f64::INFINITY, f64::NEG_INFINITY, f64::INFINITY);
        for belief in beliefs {
            let (mean, variance) = belief.moments_of(set.capacity);
            let sd = (variance + widest).sqrt();
            first = first.min(mean - 5.5 * sd);
            last = last.max(mean + 5.5 * sd);
            let narrowest = set.scatter.0.iter().map(|w| w.variance).fold(f64::INFINITY, f64::min);
            least = least.min((variance + narrowest + set.noise).sqrt());
        }
        let n = ((last - first) / (0.2 * least).min(0.002)).ceil().clamp(60.0, 900.0);
        let step = (last - first) / n;
        let likelihood =
            (0..=n as usize).map(|idx| likelihood(first + step * idx as f64)).collect();
        Grid { first, step, likelihood }
    }

    fn part(&self, width: &Width, mean: f64, variance: f64, asked: Option<Asked>) -> Part {
        let scale = width.share * self.step / (std::f64::consts::TAU * variance).sqrt();
        let (mut z, mut z1, mut z2, mut short) = (0.0, 0.0, 0.0, 0.0);
        let left = asked.map(|a| (a.variance - a.shared * a.shared / variance).max(1e-12).sqrt());
        for (idx, likelihood) in self.likelihood.iter().enumerate() {
            let away = self.first + self.step * idx as f64 - mean;
            let half = 0.5 * away * away / variance;
            if *likelihood <= 0.0 || half > 40.0 {
                continue;
            }
            let mass = scale * likelihood * (-half).exp();
            z += mass;
            z1 += mass * away;
            z2 += mass * away * away;
            if let (Some(asked), Some(sd)) = (asked, left) {
                short += mass * normal_cdf((asked.over + asked.shared / variance * away) / sd);
            }
        }
        if z <= 0.0 {
            return Part {
                evidence: 0.0,
                pull: 0.0,
                gain: 0.0,
                variance: width.variance,
                p_short: 0.0,
            };
        }
        let shift = z1 / z;
        let spread = (z2 / z - shift * shift).max(0.0);
        Part {
            evidence: z,
            pull: shift / variance,
            gain: (1.0 - spread / variance) / variance,
            variance: width.variance,
            p_short: short / z,
        }
    }
}

/// One belief with the mean and covariance of the mixture of all.
pub(super) fn merged(beliefs: &[Belief]) -> Option<Belief> {
    let total: f64 = beliefs.iter().map(|belief| belief.weight).sum();
    let first = beliefs.first()?;
    if beliefs.len() == 1 || total <= 0.0 {
        return Some(Belief { weight: 1.0, ..first.clone() });
    }
    let mut mean = DVector::zeros(first.mean.len());
    let mut cov = DMatrix::zeros(first.mean.len(), first.mean.len());
    for belief in beliefs {
        mean.axpy(belief.weight / total, &belief.mean, 1.0);
    }
    for belief in beliefs.iter().filter(|belief| belief.weight > 0.0) {
        let away = &belief.mean - &mean;
        cov += &belief.cov * (belief.weight / total);
        cov.ger(belief.weight / total, &away, &away, 1.0);
    }
    Some(Belief { weight: 1.0, mean, cov })
}

/// What the mixture of all beliefs says of a linear function, without merging it into one.
pub(super) struct Spread(Vec<(f64, f64, f64)>);

impl Spread {
    /// The weights of `beliefs` must add up to 1.
    pub(super) fn of(beliefs: &[Belief], f: &Linear) -> Spread {
        let part = |belief: &Belief| {
            let (mean, variance) = belief.moments_of(f);
            (belief.weight, mean, variance.max(1e-12).sqrt())
        };
        Spread(beliefs.iter().map(part).collect())
    }

    /// Mean and standard deviation.
    pub(super) fn moments(&self) -> (f64, f64) {
        let mean: f64 = self.0.iter().map(|(weight, mean, _)| weight * mean).sum();
        let variance: f64 =
            self.0.iter().map(|(w, m, sd)| w * (sd * sd + (m - mean).powi(2))).sum();
        (mean, variance.sqrt())
    }

    /// The value below which a share `p` lies, by bisection to a billionth.
    pub(super) fn quantile(&self, p: f64) -> f64 {
        let (mean, sd) = self.moments();
        let (mut low, mut high) = (mean - 12.0 * sd, mean + 12.0 * sd);
        while high - low > 1e-9 {
            let middle = 0.5 * (low + high);
            let below: f64 =
                self.0.iter().map(|(w, m, sd)| w * normal_cdf((middle - m) / sd)).sum();
            if below < p { low = middle } else { high = middle }
        }
        0.5 * (low + high)
    }
}

pub(super) fn dot(f: &Linear, with: &DVector<f64>) -> f64 {
    f.terms.iter().map(|(idx, c)| c * with[*idx]).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn belief() -> Belief {
        let cov = DMatrix::from_row_slice(3, 3, &[4e-4, 1e-4, 0.0, 1e-4, 2e-4, 0.0, 0.0, 0.0, 0.0]);
        Belief { weight: 1.0, mean: DVector::from_row_slice(&[0.01, -0.02, 0.0]), cov }
    }

    fn capacity() -> Linear {
        Linear { constant: 4.0, terms: vec![(0, 1.0), (1, -0.5)] }
    }

    fn close(got: f64, want: f64, tolerance: f64) {
        assert!((got - want).abs() <= tolerance * want.abs(), "{got} against {want}");
    }

    fn normal(away: f64, variance: f64) -> f64 {
        (-0.5 * away * away / variance).exp() / (std::f64::consts::TAU * variance).sqrt()
    }

    /// With a normal likelihood the update is Kalman's, which is closed.
    #[test]
    fn a_normal_likelihood_gives_the_kalman_update() {
        let (capacity, mut read) = (capacity(), belief());
        let widths = [Width { share: 1.0, variance: 3e-4 }];
        let set = Measured { capacity: &capacity, noise: 5e-5, scatter: (&widths, 2) };
        let grid = Grid::over(&[belief()], &set, |x| normal(x - 4.05, 1e-4));
        let shortfall = Linear { constant: 0.0, terms: vec![(1, 1.0)] };
        let question = Question { shortfall: &shortfall, limit: -0.01 };
        let p = read.read(&set, &grid, Some(&question)).unwrap();

        let with = DVector::from_row_slice(&[3.5e-4, 0.0, 3e-4]); // cov with x, scatter and all
        let prior = 3.5e-4 + 3e-4 + 5e-5;
        let whole = prior + 1e-4;
        let innovation = 4.05 - 4.02;
        let mut cov = belief().cov;
        cov[(2, 2)] = 3e-4;
        cov -= &with * with.transpose() / whole;
        for idx in 0..3 {
            let want = belief().mean[idx] + with[idx] / whole * innovation;
            assert!((read.mean[idx] - want).abs() < 1e-7, "{idx}: {}", read.mean[idx]);
            for other in 0..3 {
                assert!((read.cov[(idx, other)] - cov[(idx, other)]).abs() < 1e-9);
            }
        }
        close(read.weight, normal(innovation, whole), 1e-5);
        close(p, normal_cdf((read.mean[1] + 0.01) / cov[(1, 1)].sqrt()), 1e-5);
    }

    /// Two widths of scatter against sums over a plane of capacity and scatter.
    #[test]
    fn two_widths_keep_the_moments_of_the_mixture() {
        let (capacity, mut read) = (capacity(), belief());
        let widths = [Width { share: 0.8, variance: 1e-4 }, Width { share: 0.2, variance: 2.5e-3 }];
        let set = Measured { capacity: &capacity, noise: 1e-5, scatter: (&widths, 2) };
        let shown = |x: f64| normal_cdf((3.96 - x) / 0.004);
        read.read(&set, &Grid::over(&[belief()], &set, shown), None);

        let mut sums = [0.0; 6];
        for row in -400..=400 {
            let away = f64::from(row) * 3e-4;
            for col in -1000..=1000 {
                let scatter = f64::from(col) * 3e-4;
                let density: f64 =
                    widths.iter().map(|w| w.share * normal(scatter, w.variance)).sum();
                let seen = normal_cdf((3.96 - 4.02 - away - scatter) / 2.6e-5_f64.sqrt());
                let mass = density * normal(away, 3.5e-4) * seen * 9e-8;
                let of = [1.0, away, scatter, away * away, scatter * scatter, away * scatter];
                sums.iter_mut().zip(of).for_each(|(sum, value)| *sum += mass * value);
            }
        }
        close(read.weight, sums[0], 1e-4);
        let moment = |idx: usize| sums[idx] / sums[0];
        let (mean, variance) = read.moments_of(&capacity);
        close(mean - 4.02, moment(1), 1e-4);
        close(variance, moment(3) - moment(1) * moment(1), 1e-4);
        close(read.mean[2], moment(2), 1e-4);
        close(read.cov[(2, 2)], moment(4) - moment(2) * moment(2), 1e-4);
        let crossed = dot(&capacity, &read.cov.column(2).into_owned());
        close(crossed, moment(5) - moment(1) * moment(2), 1e-4);
    }

    #[test]
    fn a_mixture_has_its_own_quantiles() {
        let mut rare = belief();
        rare.weight = 0.02;
        rare.mean[0] -= 0.2;
        let usual = Belief { weight: 0.98, ..belief() };
        let spread = Spread::of(&[usual, rare], &capacity());
        let (mean, sd) = spread.moments();
        let (low, high) = (spread.quantile(0.1), spread.quantile(0.9));
        assert!(low > mean - 1.2 * sd && high < mean + 1.2 * sd, "{low} {high} {mean} {sd}");
        close(spread.quantile(0.5), 4.02 - 3.5e-4_f64.sqrt() * 0.0256, 1e-5);
    }
}
