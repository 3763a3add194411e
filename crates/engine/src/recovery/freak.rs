//! Noise of two scales: most sets scatter as usual, a few are freaks.
//!
//! A set cut short by a cramp, a wrong plate or a miscount must not drag a trend along. Noise is
//! N(0, R) with probability 1 − p and N(0, k²R) with probability p; after an observation the mixture
//! of two normal beliefs is replaced by the one with its mean and covariance. Both lie along the same
//! direction, so two numbers, a gain and a shrinkage, say it all.
//!
//! Some freaks are of the set and some of the lifter: a strain or an illness that nobody told of lowers this
//! lift today and no other. What is believed of everything else learns the same from both, so that the
//! difference shows in one place alone, the reading ([`crate::trend::Expectation`]).

use std::f64::consts::TAU;

use crate::trend::LeadSet;
use crate::trend::expectation::normal_cdf;

/// How often the noise of a set is wide, and how wide.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Freak {
    /// p, the probability of a freak set.
    pub share: f64,
    /// k: a freak set's noise has k times the usual standard deviation.
    pub widening: f64,
    /// a: of the freaks, the share that is capacity of this lift on this day, and not the set.
    pub of_day: f64,
}

/// What an observation does to a belief along its direction d = cov(everything, observed).
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Learnt {
    /// mean += gain·d.
    pub(super) gain: f64,
    /// covariance −= shrink·d·dᵀ.
    pub(super) shrink: f64,
    /// Log-density of the observation.
    pub(super) log_density: f64,
    /// Probability that the set was a freak.
    pub(super) p_freak: f64,
}

/// The two normal parts of what is to be observed: (probability, variance).
pub(crate) type Parts = [(f64, f64); 2];

impl Freak {
    /// All noise is of one scale.
    pub const NONE: Freak = Freak { share: 0.0, widening: 1.0, of_day: 0.0 };

    /// The scales of one set's noise: a single with nothing left is a test, prepared for and repeated if
    /// spoilt, and has one.
    #[must_use]
    pub fn of(self, set: &LeadSet) -> Freak {
        if set.is_single() { Freak::NONE } else { self }
    }

    /// What is to be observed, as two normal parts around one mean: `spread` is the variance of what
    /// is believed, `noise` that of the usual noise.
    #[must_use]
    pub(crate) fn parts(self, spread: f64, noise: f64) -> Parts {
        let wide = self.widening * self.widening * noise;
        [(1.0 - self.share, spread + noise), (self.share, spread + wide)]
    }

    /// The scales of the noise alone: what is left where capacity is given.
    #[must_use]
    pub(crate) fn of_set(self) -> Freak {
        Freak { share: self.share * (1.0 - self.of_day), of_day: 0.0, ..self }
    }

    /// The variance that a freak of the day adds to capacity: all of the widening of `noise`.
    #[must_use]
    pub(crate) fn day_variance(self, noise: f64) -> f64 {
        (self.widening * self.widening - 1.0) * noise
    }

    pub(super) fn learn(self, innovation: f64, spread: f64, noise: f64) -> Learnt {
        let [(_, usual), (_, wide)] = self.parts(spread, noise);
        if self.share <= 0.0 {
            let log_density = -0.5 * ((TAU * usual).ln() + innovation * innovation / usual);
            return Learnt {
                gain: innovation / usual,
                shrink: usual.recip(),
                log_density,
                p_freak: 0.0,
            };
        }
        let (p_freak, log_density) = self.judge(innovation, spread, noise);
        let p_usual = 1.0 - p_freak;
        let precision = p_usual / usual + p_freak / wide;
        // The spread between the two means: v²·p(1 − p)·(1/S − 1/S_wide)².
        let apart = usual.recip() - wide.recip();
        let between = innovation * innovation * p_usual * p_freak * apart * apart;
        // Far off, the doubt which of the two it was can widen the belief: shrink is then negative.
        Learnt { gain: innovation * precision, shrink: precision - between, log_density, p_freak }
    }

    /// Slopes along innovation, spread and noise of `by`·(gain, shrink, log-density).
    pub(super) fn slopes(
        self,
        (innovation, spread, noise): (f64, f64, f64),
        (gain, shrink, density): (f64, f64, f64),
    ) -> (f64, f64, f64) {
        let [(_, usual), (_, wide)] = self.parts(spread, noise);
        let v = innovation;
        let freak = if self.share > 0.0 { self.judge(v, spread, noise).0 } else { 0.0 };
        let ordinary = 1.0 - freak;
        let (a, c) = (usual.recip(), wide.recip());
        let apart = a - c;
        let both = ordinary * freak;
        // gain = v·q, shrink = q − v²·both·apart², q = ordinary·a + freak·c.
        let along_q = gain * v + shrink;
        let along_both = -shrink * v * v * apart * apart;
        let along_apart = -shrink * 2.0 * v * v * both * apart;
        let along_freak = along_q * (c - a) + along_both * (1.0 - 2.0 * freak);
        // d freak = both·d(ln wide density − ln usual density).
        let along_odds = along_freak * both;
        let odds_v = -v * c + v * a;
        let usual_density = |s: f64| -0.5 / s + 0.5 * v * v / (s * s);
        let (d_usual, d_wide) = (usual_density(usual), usual_density(wide));
        let along_v = gain * (ordinary * a + freak * c) - shrink * 2.0 * v * both * apart * apart
            + along_odds * odds_v
            + density * (-v) * (ordinary * a + freak * c);
        let along_usual = (along_q * ordinary + along_apart) * (-a * a) - along_odds * d_usual
            + density * ordinary * d_usual;
        let along_wide = (along_q * freak - along_apart) * (-c * c)
            + along_odds * d_wide
            + density * freak * d_wide;
        let widened = self.widening * self.widening;
        (along_v, along_usual + along_wide, along_usual + widened * along_wide)
    }

    /// Probability that an observation with this innovation was a freak, and its log-density.
    pub(crate) fn judge(self, innovation: f64, spread: f64, noise: f64) -> (f64, f64) {
        let logs = self.parts(spread, noise).map(|(share, variance)| {
            share.max(1e-300).ln()
                - 0.5 * ((TAU * variance).ln() + innovation * innovation / variance)
        });
        let most = logs[0].max(logs[1]);
        let [usual, wide] = logs.map(|log| (log - most).exp());
        (wide / (usual + wide), most + (usual + wide).ln())
    }
}

/// P(less than `deviation` around the mean) of two normal parts.
#[must_use]
pub(crate) fn mixture_cdf(parts: &Parts, deviation: f64) -> f64 {
    parts.iter().map(|(share, variance)| share * normal_cdf(deviation / variance.sqrt())).sum()
}
