//! From a typical error to thresholds: how large a change must be before it is more than noise.
//!
//! Errors are taken to be normal, independent and of known size. First work sets weeks apart under
//! training aren't quite that: a lifter's own scatter is learnt elsewhere, and this is the plain rule's
//! chance of being right. Minimal detectable change: Weir 2005 (J Strength Cond Res 19:231), from
//! memory; the rest is the variance of a difference between one reading and a mean of k.

use super::typical_error::not_negative;
use super::{Confidence, CoverageFactor, RepeatabilityError};
use statrs::distribution::{ContinuousCDF, Normal};

/// How many earlier readings a new one is held against: 1 to [`EarlierReadings::MAX`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct EarlierReadings(u32);

impl EarlierReadings {
    /// The most earlier readings.
    pub const MAX: u32 = 10_000;

    /// Takes a count.
    ///
    /// # Errors
    /// [`RepeatabilityError::OutOfRange`] for 0 and above the maximum.
    pub fn new(count: u32) -> Result<EarlierReadings, RepeatabilityError> {
        if (1..=Self::MAX).contains(&count) {
            Ok(EarlierReadings(count))
        } else {
            Err(RepeatabilityError::OutOfRange {
                what: "number of earlier readings",
                got: f64::from(count),
                needed: "from 1 to 10000",
            })
        }
    }

    /// The count.
    #[must_use]
    pub fn get(self) -> u32 {
        self.0
    }
}

/// Minimal detectable change between two readings: factor·√2·SEM, in the unit of `typical_error`
/// (raw units or %).
///
/// # Errors
/// [`RepeatabilityError::OutOfRange`] for a typical error that is negative or not finite.
pub fn minimal_detectable_change(
    typical_error: f64,
    factor: CoverageFactor,
) -> Result<f64, RepeatabilityError> {
    let error = not_negative("typical error", typical_error)?;
    Ok(factor.value() * std::f64::consts::SQRT_2 * error)
}

/// √(1 + 1/k): SD of one new reading less the mean of k earlier ones, in typical errors.
#[must_use]
pub fn new_reading_factor(earlier: EarlierReadings) -> f64 {
    (1.0 + 1.0 / f64::from(earlier.0)).sqrt()
}

/// The drop below the mean of the earlier readings that noise alone passes with probability
/// 1 − `confidence` (one-sided), as a positive number in the unit of `typical_error`.
///
/// # Errors
/// [`RepeatabilityError::OutOfRange`] for a typical error that is negative or not finite.
pub fn drop_limit(
    typical_error: f64,
    earlier: EarlierReadings,
    confidence: Confidence,
) -> Result<f64, RepeatabilityError> {
    let error = not_negative("typical error", typical_error)?;
    Ok(confidence.one_sided_quantile() * error * new_reading_factor(earlier))
}

/// The chance, 0 to 1, that the true drop is more than `beyond`, after a drop of `observed_drop` below
/// the mean of the earlier readings; all three sizes in one unit, drops positive. The prior is flat:
/// nothing but the readings is taken into account.
///
/// # Errors
/// [`RepeatabilityError::OutOfRange`] for a typical error that isn't above 0, and for drops that are
/// not finite.
pub fn chance_of_true_drop(
    typical_error: f64,
    earlier: EarlierReadings,
    observed_drop: f64,
    beyond: f64,
) -> Result<f64, RepeatabilityError> {
    let error = not_negative("typical error", typical_error)?;
    if error == 0.0 {
        let (what, needed) = ("typical error", "above 0");
        return Err(RepeatabilityError::OutOfRange { what, got: error, needed });
    }
    for (what, got) in [("observed drop", observed_drop), ("true drop", beyond)] {
        if !got.is_finite() {
            return Err(RepeatabilityError::OutOfRange { what, got, needed: "a finite number" });
        }
    }
    let spread = error * new_reading_factor(earlier);
    Ok(Normal::standard().cdf((observed_drop - beyond) / spread))
}
