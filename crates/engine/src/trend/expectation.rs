//! What a lead set is expected to show, and what it has shown once it is there.
//!
//! All on the scale of ln 1RM, with the variance kept by its causes, and with what a surprise says of
//! today's capacity less the lifter's own usual ([`AgainstUsual`]): a reading is made of that. Noise
//! has one scale (one-lift model) or two (recovery model, [`Freak`]). Which model made the forecast
//! doesn't matter here.

use statrs::function::erf::{erfc, erfc_inv};

use crate::recovery::freak::{Freak, Parts, mixture_cdf};
use crate::strength::LoadRepCurve;
use crate::target::collapse::is_half_missing;

/// Standard normal deviate that bounds the middle 80 %.
pub const Z_80: f64 = 1.281_551_565_544_600_5;

/// Below this chance of so few repetitions or fewer, scatter is no likely reason: one set in forty. Our choice.
pub const FAR_BELOW: f64 = 0.025;

/// Today's capacity less the lifter's own usual of the lift, before the set is done.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AgainstUsual {
    /// Its mean, in ln 1RM: below 0 if a shortfall is expected.
    pub mean: f64,
    /// Its variance.
    pub variance: f64,
    /// Its covariance with what the set will show.
    pub covariance: f64,
}

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
    /// Today's capacity less usual.
    pub against_usual: AgainstUsual,
    /// The two scales of noise.
    pub freak: Freak,
}

impl Expectation {
    /// Variance of what the set will show, freak sets among it.
    #[must_use]
    pub fn variance(&self) -> f64 {
        self.parts().iter().map(|(share, variance)| share * variance).sum()
    }

    /// Standard deviation of what the set will show.
    #[must_use]
    pub fn sd(&self) -> f64 {
        self.variance().sqrt()
    }

    /// What is known of capacity: variance of level and day.
    #[must_use]
    pub fn capacity_variance(&self) -> f64 {
        self.level_variance + self.acute_variance
    }

    fn parts(&self) -> Parts {
        self.freak.parts(self.capacity_variance(), self.noise_variance())
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
        let half = half_width_80(&self.parts());
        (self.mean - half, self.mean + half)
    }

    /// Repetitions expected: lower bound of the 80 % interval, middle, upper bound. Not below 0.
    #[must_use]
    pub fn reps_interval(&self) -> (f64, f64, f64) {
        let (low, high) = self.interval();
        let at = |log: f64| self.reps_showing(log).max(0.0);
        (at(low), at(self.mean), at(high))
    }

    /// Whether so many repetitions are so far below the likely number that something else than ordinary scatter is
    /// to be looked for: so few or fewer have a chance under [`FAR_BELOW`], or more than half of the likely number is
    /// missing and two repetitions at least ([`is_half_missing`]).
    #[must_use]
    pub fn is_far_below(&self, reps: u16) -> bool {
        let so_few = 1.0 - self.chance_of_at_least(reps.saturating_add(1));
        so_few < FAR_BELOW || is_half_missing(reps, self.reps_interval().1)
    }

    /// The probability of at least `reps` repetitions at this load and reserve. Counting rounds to
    /// the nearest whole repetition, so half a repetition short still counts as made.
    #[must_use]
    pub fn chance_of_at_least(&self, reps: u16) -> f64 {
        let needed = self.log_shown_by(f64::from(reps) - 0.5);
        let uncounted = (self.noise_variance() - self.rounding_variance).max(1e-12);
        let parts = self.freak.parts(self.capacity_variance(), uncounted);
        mixture_cdf(&parts, self.mean - needed)
    }

    /// P(capacity is more than `shortfall` under the lifter's usual | the set showed `log_shown`).
    /// With v = shown − expected, S the variance of what is shown, m, V, C mean, variance and covariance of
    /// [`AgainstUsual`], and X what a freak of the day adds to capacity (0 in the other parts): capacity
    /// less usual is N(m + v·(C + X)/S, V + X − (C + X)²/S), each part weighted by how likely it is after v.
    #[must_use]
    pub fn p_shortfall(&self, log_shown: f64, shortfall: f64) -> f64 {
        let short = (1.0 - shortfall).ln();
        let against = self.against_usual;
        self.after(log_shown, |innovation, variance, of_day| {
            let covariance = against.covariance + of_day;
            let mean = against.mean + innovation * covariance / variance;
            let left = against.variance + of_day - covariance * covariance / variance;
            normal_cdf((short - mean) / left.max(1e-12).sqrt())
        })
    }

    /// P(capacity is more than `shortfall` under the lifter's usual) before the set is done.
    #[must_use]
    pub fn p_shortfall_before(&self, shortfall: f64) -> f64 {
        let against = self.against_usual;
        let short_of = (1.0 - shortfall).ln() - against.mean;
        let below =
            |of_day: f64| normal_cdf(short_of / (against.variance + of_day).max(1e-12).sqrt());
        let p_day = self.freak.share * self.freak.of_day;
        (1.0 - p_day) * below(0.0) + p_day * below(self.freak.day_variance(self.noise_variance()))
    }

    /// Mean of ln 1RM today, given what the set showed: expected, and the share of the surprise that
    /// is level or day and not luck or error.
    #[must_use]
    pub fn capacity_given(&self, log_shown: f64) -> f64 {
        let capacity = self.capacity_variance();
        self.after(log_shown, |innovation, variance, of_day| {
            self.mean + innovation * (capacity + of_day) / variance
        })
    }

    /// [`Expectation::p_shortfall`] kept in step with what was shown: never less for a set that showed
    /// less. Where a set far off is taken for a slip, which says nothing of capacity, three repetitions could
    /// by themselves be milder than four; nobody on a gym floor would go on for having done fewer. So below
    /// 0 it is the largest over all innovations from there to 0, above 0 the smallest.
    #[must_use]
    pub fn p_shortfall_in_step(&self, log_shown: f64, shortfall: f64) -> f64 {
        let innovation = log_shown - self.mean;
        self.in_step(innovation, shortfall, &self.turns(shortfall, innovation.signum()))
    }

    /// P(shortfall) after an innovation, given where it turns back on that side.
    fn in_step(&self, innovation: f64, shortfall: f64, turns: &[(f64, f64)]) -> f64 {
        let passed =
            turns.iter().filter(|(turn, _)| turn.abs() < innovation.abs()).map(|(_, p)| *p);
        let p = self.p_shortfall(self.mean + innovation, shortfall);
        if innovation < 0.0 { passed.fold(p, f64::max) } else { passed.fold(p, f64::min) }
    }

    /// Going from 0 to the given side as far as is thinkable: where P(shortfall) turns back, and what it is
    /// there. Nowhere with noise of one scale.
    fn turns(&self, shortfall: f64, side: f64) -> Vec<(f64, f64)> {
        const STEPS: u32 = 48;
        if self.freak.share <= 0.0 {
            return Vec::new();
        }
        let step = side * self.reach() / f64::from(STEPS);
        let p = |innovation: f64| self.p_shortfall(self.mean + innovation, shortfall);
        let ps: Vec<f64> = (0..=STEPS).map(|at| p(f64::from(at) * step)).collect();
        // Below 0 the probability rises until it turns, above 0 it falls.
        let is_farther = |there: f64, here: f64| side * (there - here) <= 0.0;
        let turns_at = |at: &u32| {
            let here = *at as usize;
            !is_farther(ps[here + 1], ps[here]) && (here == 0 || is_farther(ps[here], ps[here - 1]))
        };
        let refined = |at: u32| {
            let (mut near, mut far) =
                (f64::from(at.saturating_sub(1)) * step, f64::from(at + 1) * step);
            for _ in 0..40 {
                let (one, other) = (near + (far - near) / 3.0, far - (far - near) / 3.0);
                if is_farther(p(other), p(one)) { near = one } else { far = other }
            }
            let turn = 0.5 * (near + far);
            (turn, p(turn))
        };
        let last = f64::from(STEPS) * step;
        let end = (last, ps[STEPS as usize]);
        (0..STEPS).filter(turns_at).map(refined).chain([end]).collect()
    }

    /// How far from the middle a set is still thinkable.
    fn reach(&self) -> f64 {
        6.0 * self.sd().max(1e-6)
    }

    /// The innovation (shown − expected) below which P(shortfall), kept in step, exceeds `threshold`;
    /// minus infinity if no set that is thinkable would do, plus infinity if any would.
    #[must_use]
    pub fn innovation_at(&self, shortfall: f64, threshold: f64) -> f64 {
        let reach = self.reach();
        let turns = [-1.0, 1.0].map(|side| self.turns(shortfall, side));
        let exceeds = |innovation: f64| {
            let turns = &turns[usize::from(innovation > 0.0)];
            self.in_step(innovation, shortfall, turns) > threshold
        };
        if !exceeds(-reach) {
            return f64::NEG_INFINITY;
        }
        if exceeds(reach) {
            return f64::INFINITY;
        }
        let (mut below, mut above) = (-reach, reach);
        for _ in 0..60 {
            let middle = 0.5 * (below + above);
            if exceeds(middle) { below = middle } else { above = middle }
        }
        0.5 * (below + above)
    }

    /// Variance of what a set shows when capacity is known: luck, error and counting.
    #[must_use]
    pub fn noise_variance(&self) -> f64 {
        self.luck_variance + self.error_variance + self.rounding_variance
    }

    /// The mean of something over the parts of the mixture, given what was shown. Told are innovation, variance
    /// of what is shown, and what of it a freak of the day adds to capacity.
    fn after(&self, log_shown: f64, of: impl Fn(f64, f64, f64) -> f64) -> f64 {
        let innovation = log_shown - self.mean;
        let (spread, noise) = (self.capacity_variance(), self.noise_variance());
        let [(_, usual), (share, wide)] = self.freak.parts(spread, noise);
        if share <= 0.0 {
            return of(innovation, usual.max(1e-12), 0.0);
        }
        let (p_freak, _) = self.freak.judge(innovation, spread, noise);
        let of_day = self.freak.of_day;
        (1.0 - p_freak) * of(innovation, usual, 0.0)
            + p_freak * (1.0 - of_day) * of(innovation, wide, 0.0)
            + p_freak * of_day * of(innovation, wide, self.freak.day_variance(noise))
    }
}

/// Half the width of the middle 80 % of two normal parts around one mean.
fn half_width_80(parts: &Parts) -> f64 {
    let (narrow, wide) = (Z_80 * parts[0].1.sqrt(), Z_80 * parts[1].1.sqrt());
    if parts[1].0 <= 0.0 {
        return narrow;
    }
    let (mut below, mut above) = (narrow, wide.max(narrow));
    for _ in 0..50 {
        let middle = 0.5 * (below + above);
        if mixture_cdf(parts, middle) < 0.9 { below = middle } else { above = middle }
    }
    0.5 * (below + above)
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
