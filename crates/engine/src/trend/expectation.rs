//! What a lead set is expected to show, and what it has shown once it is there.
//!
//! All on the scale of ln 1RM, normally distributed, with the variance kept by its causes: only
//! capacity on the day can be a shortfall. That the lifter's usual isn't known exactly is no sign of
//! one, and the rest is luck and error.

use statrs::function::erf::{erfc, erfc_inv};

use crate::strength::LoadRepCurve;

/// Standard normal deviate that bounds the middle 80 %.
pub const Z_80: f64 = 1.281_551_565_544_600_5;

/// The forecast of one lead set at one load.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Expectation {
    /// Expected ln 1RM, the 1RM being the mass moved in kilograms.
    pub mean: f64,
    /// Variance of the level: how well the lifter's usual is known.
    pub level_variance: f64,
    /// Variance of capacity on the day, around the level.
    pub acute_variance: f64,
    /// Variance from luck and from the load–rep curve's doubt at this many repetitions.
    pub luck_variance: f64,
    /// Variance from the reserve as told and from sets beyond 15 repetitions.
    pub error_variance: f64,
    /// Variance from counting whole repetitions.
    pub rounding_variance: f64,
    /// The lift's load–rep curve.
    pub curve: LoadRepCurve,
    /// The mass moved in kilograms.
    pub moved_kg: f64,
    /// The reserve, in repetitions, with which the set is done.
    pub reserve: f64,
    /// Whether the set is a single with nothing left.
    pub single: bool,
    /// The part of `luck_variance` that comes from a load far from those of the record.
    pub curve_doubt: f64,
}

impl Expectation {
    /// Variance of what the set will show.
    #[must_use]
    pub fn variance(&self) -> f64 {
        self.level_variance
            + self.acute_variance
            + self.luck_variance
            + self.error_variance
            + self.rounding_variance
    }

    /// Standard deviation of what the set will show.
    #[must_use]
    pub fn sd(&self) -> f64 {
        self.variance().sqrt()
    }

    /// Repetitions that show `log_one_rm` at this load and reserve: (M/w − 1)/b less the reserve.
    /// A single counts as nothing above the 1RM, so one is added for it.
    #[must_use]
    pub fn reps_showing(&self, log_one_rm: f64) -> f64 {
        let to_failure = (log_one_rm.exp() / self.moved_kg - 1.0) / self.curve.b();
        to_failure - self.reserve + if self.single { 1.0 } else { 0.0 }
    }

    /// The ln 1RM that `reps` repetitions show at this load and reserve.
    #[must_use]
    pub fn log_shown_by(&self, reps: f64) -> f64 {
        let to_failure = reps + self.reserve - if self.single { 1.0 } else { 0.0 };
        // Far below the 1RM the curve ends at w/e^∞; a floor keeps the logarithm finite.
        self.moved_kg.ln() + (1.0 + self.curve.b() * to_failure).max(1e-6).ln()
    }

    /// The 80 % interval of ln 1RM shown.
    #[must_use]
    pub fn interval(&self) -> (f64, f64) {
        (self.mean - Z_80 * self.sd(), self.mean + Z_80 * self.sd())
    }

    /// Repetitions expected: lower bound of the 80 % interval, middle, upper bound. Not below 0.
    #[must_use]
    pub fn reps_interval(&self) -> (f64, f64, f64) {
        let (low, high) = self.interval();
        let at = |log: f64| self.reps_showing(log).max(0.0);
        (at(low), at(self.mean), at(high))
    }

    /// The probability of at least `reps` repetitions at this load and reserve. Counting rounds to
    /// the nearest whole repetition, so half a repetition short still counts as made.
    #[must_use]
    pub fn chance_of_at_least(&self, reps: u16) -> f64 {
        let needed = self.log_shown_by(f64::from(reps) - 0.5);
        let sd = (self.variance() - self.rounding_variance).max(0.0).sqrt();
        normal_cdf((self.mean - needed) / sd.max(1e-9))
    }

    /// P(capacity is more than `shortfall` under the lifter's usual | the set showed `log_shown`):
    /// with D the variance of capacity on the day, S the whole, v = shown − expected, capacity less
    /// usual is N(v·D/S, D·(1 − D/S)).
    #[must_use]
    pub fn p_shortfall(&self, log_shown: f64, shortfall: f64) -> f64 {
        let short = (1.0 - shortfall).ln();
        let (share, sd) = self.posterior();
        normal_cdf((short - share * (log_shown - self.mean)) / sd)
    }

    /// Mean of ln 1RM today, given what the set showed: expected, and the share of the surprise that
    /// is level or day and not luck or error.
    #[must_use]
    pub fn capacity_given(&self, log_shown: f64) -> f64 {
        let share = 1.0 - self.noise_variance() / self.variance();
        self.mean + share * (log_shown - self.mean)
    }

    /// The innovation (shown − expected) below which P(shortfall) exceeds `threshold`.
    #[must_use]
    pub fn innovation_at(&self, shortfall: f64, threshold: f64) -> f64 {
        let short = (1.0 - shortfall).ln();
        let (share, sd) = self.posterior();
        (short - sd * normal_quantile(threshold)) / share
    }

    /// Variance of what a set shows when capacity is known: luck, error and counting.
    #[must_use]
    pub fn noise_variance(&self) -> f64 {
        self.luck_variance + self.error_variance + self.rounding_variance
    }

    /// The share of a surprise that is capacity on the day, and the sd of that once the set is seen.
    fn posterior(&self) -> (f64, f64) {
        let day = self.acute_variance.max(1e-12);
        let share = day / self.variance().max(day);
        (share, (day * (1.0 - share)).max(1e-18).sqrt())
    }
}

/// Standard normal distribution function; accurate in both tails.
#[must_use]
pub fn normal_cdf(z: f64) -> f64 {
    0.5 * erfc(-z / std::f64::consts::SQRT_2)
}

/// Standard normal quantile of a probability, clamped away from 0 and 1.
#[must_use]
pub fn normal_quantile(p: f64) -> f64 {
    -std::f64::consts::SQRT_2 * erfc_inv(2.0 * p.clamp(1e-12, 1.0 - 1e-12))
}
