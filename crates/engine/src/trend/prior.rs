//! What is believed of a lift before its record says anything.
//!
//! Every positive parameter has a log-normal prior: a middle and the standard deviation of its
//! logarithm. The middles are this project's choices; the published figures that they lean on stand
//! beside them.

use crate::strength::LoadRepCurve;

/// A log-normal prior: ln x ~ N(ln middle, log_sd²).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LogNormal {
    /// The median.
    pub middle: f64,
    /// Standard deviation of ln x.
    pub log_sd: f64,
}

impl LogNormal {
    /// The log-density of ln x, up to a constant.
    #[must_use]
    pub fn log_density(self, log_x: f64) -> f64 {
        -0.5 * ((log_x - self.middle.ln()) / self.log_sd).powi(2)
    }
}

/// What is believed of a lift before its record says anything.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Prior {
    /// σ, the scatter beyond counting and reserve errors, as the sd of ln 1RM.
    pub scatter: LogNormal,
    /// √q, drift of the level: sd of ln 1RM per √day.
    pub drift: LogNormal,
    /// b of the load–rep curve, per repetition.
    pub curve_b: LogNormal,
    /// λ, the share of the published error variance of a reserve that varies from set to set. The
    /// rest is a lifter's steady bias, which moves every set alike.
    pub reserve_share: LogNormal,
    /// Mean of the slope at the first set, per day.
    pub slope_mean: f64,
    /// Standard deviation of the slope at the first set, per day.
    pub slope_sd: f64,
    /// Growth of the slope's variance, per day³.
    pub slope_variance_per_day: f64,
    /// The share of σ² that is the lifter's capacity itself on the day; the rest is luck.
    pub acute_share: f64,
}

impl Prior {
    /// The prior of a lift whose class or file starts it at `scatter_pct`, a CV in %.
    ///
    /// * scatter: sd of its logarithm 0.4, so that two lifts in three lie within a factor of 1.5 of
    ///   their class. (Grgic 2020: CVs of 32 studies from 0.5 to 12.1 % around 4.2 %.)
    /// * drift: 0.15 % per √day, about 1 % in six weeks. Our choice.
    /// * curve: b as it varies between lifts ([`LoadRepCurve::BETWEEN_LIFTS`]).
    /// * reserve: a third of the published error variance. Our choice: the published sd mixes people
    ///   with occasions, and how much of it repeats within a person isn't printed.
    /// * day: 45 % of σ² is capacity on the day. One lift's record can't tell it from luck; our
    ///   choice, made on virtual lifters (`docs/evidence.md`): less would be better calibrated and
    ///   tell short days from sound ones less well.
    /// * slope: +0.4 % a week at first, within 2 % a week for two lifters in three. Trained lifters
    ///   gain perhaps 0.2 % a week, but nobody says which lifts are new to a lifter, and the first
    ///   weeks of a new lift gain several per cent a week: with 0.8 % in place of 2 % the forecasts
    ///   of open strength tests were a third worse (`docs/evidence.md`). Our choice.
    #[must_use]
    pub fn starting_at(scatter_pct: f64) -> Prior {
        let between = LoadRepCurve::BETWEEN_LIFTS;
        let scatter = (scatter_pct / 100.0).ln_1p();
        Prior {
            scatter: LogNormal { middle: scatter, log_sd: 0.4 },
            drift: LogNormal { middle: 0.0015, log_sd: 0.6 },
            curve_b: LogNormal { middle: between.typical_b, log_sd: between.log_sd },
            reserve_share: LogNormal { middle: 0.33, log_sd: 0.7 },
            slope_mean: 0.004 / 7.0,
            slope_sd: 0.02 / 7.0,
            slope_variance_per_day: 1e-9,
            acute_share: 0.45,
        }
    }
}
