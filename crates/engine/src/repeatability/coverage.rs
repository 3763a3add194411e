//! How sure to be: confidence levels, coverage factors, and the intervals that come out.
//!
//! Quantiles are statrs's; this file only keeps their arguments in range.

use super::RepeatabilityError;
use statrs::distribution::{ContinuousCDF, Normal};

/// A share of chance, 0.5 to 0.9999, that an interval or a limit is to hold.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Confidence(f64);

impl Confidence {
    /// 90 %.
    pub const NINETY: Confidence = Confidence(0.90);
    /// 95 %.
    pub const NINETY_FIVE: Confidence = Confidence(0.95);

    /// Takes a share such as 0.95.
    ///
    /// # Errors
    /// [`RepeatabilityError::OutOfRange`] outside 0.5 to 0.9999 and for NaN.
    pub fn new(share: f64) -> Result<Confidence, RepeatabilityError> {
        if (0.5..=0.9999).contains(&share) {
            Ok(Confidence(share))
        } else {
            let needed = "a share from 0.5 to 0.9999, such as 0.95";
            Err(RepeatabilityError::OutOfRange { what: "confidence", got: share, needed })
        }
    }

    /// The share.
    #[must_use]
    pub fn share(self) -> f64 {
        self.0
    }

    /// The probability below the upper end of a two-sided interval: (1 + share)/2.
    pub(super) fn upper_tail_point(self) -> f64 {
        (1.0 + self.0) / 2.0
    }

    /// The normal quantile that a one-sided limit needs.
    pub(super) fn one_sided_quantile(self) -> f64 {
        Normal::standard().inverse_cdf(self.0)
    }
}

/// How many standard deviations a limit lies from the centre.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct CoverageFactor(f64);

impl CoverageFactor {
    /// 1.96, the rounded normal quantile that published figures for 95 % use.
    pub const ROUNDED_95: CoverageFactor = CoverageFactor(1.96);
    /// 2, as in Bland & Altman 1986.
    pub const TWO: CoverageFactor = CoverageFactor(2.0);

    /// The unrounded two-sided normal quantile (1.959964 at 95 %).
    #[must_use]
    pub fn two_sided(confidence: Confidence) -> CoverageFactor {
        CoverageFactor(Normal::standard().inverse_cdf(confidence.upper_tail_point()))
    }

    /// The factor.
    #[must_use]
    pub fn value(self) -> f64 {
        self.0
    }
}

/// An interval in the unit of the quantity; `lower` is never above `upper`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Interval {
    /// The lower end.
    pub lower: f64,
    /// The upper end.
    pub upper: f64,
}
