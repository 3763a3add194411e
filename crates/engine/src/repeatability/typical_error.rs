//! The size of the noise: typical error (SEM), the same in %, within-person SD, repeatability
//! coefficient, and the smallest change that matters.
//!
//! Typical error and standard error of measurement are one quantity here, the root error mean square
//! of the two-way analysis: for two trials, SD(differences)/√2. Sources: Hopkins 2000 (Sports Med
//! 30:1), Weir 2005 (J Strength Cond Res 19:231), Bland & Altman 1986 (Lancet 327:307); formulas from
//! memory. About 50 people and at least three trials make a reasonable estimate (Hopkins 2000): show
//! the interval.

use super::{Confidence, CoverageFactor, Interval, MeanSquares, RepeatabilityError, Trials};
use statrs::distribution::{ChiSquared, ContinuousCDF};

/// Typical error in the unit of the values: √EMS. A shift of all people between trials is left out.
#[must_use]
pub fn typical_error(trials: &Trials) -> f64 {
    MeanSquares::of(trials).error.sqrt()
}

/// Two-sided interval of the typical error, from the chi-square distribution of EMS with
/// (n − 1)(k − 1) degrees of freedom: errors normal and alike in all people.
#[must_use]
pub fn typical_error_interval(trials: &Trials, confidence: Confidence) -> Interval {
    let degrees = ((trials.n_people() - 1) * (trials.n_trials() - 1)) as f64;
    let error = typical_error(trials);
    let upper_point = confidence.upper_tail_point();
    // Degrees of freedom are at least 1, which is all that the constructor asks for.
    match ChiSquared::new(degrees) {
        Ok(chi_squared) => Interval {
            lower: error * (degrees / chi_squared.inverse_cdf(upper_point)).sqrt(),
            upper: error * (degrees / chi_squared.inverse_cdf(1.0 - upper_point)).sqrt(),
        },
        Err(_) => Interval { lower: 0.0, upper: f64::INFINITY },
    }
}

/// Typical error as a coefficient of variation in %: 100·(e^s − 1), s the typical error of the natural
/// logarithms (Hopkins 2000).
///
/// # Errors
/// [`RepeatabilityError::NotAboveZero`] for a value of 0 or less.
pub fn coefficient_of_variation(trials: &Trials) -> Result<f64, RepeatabilityError> {
    Ok(100.0 * typical_error(&trials.logarithms()?).exp_m1())
}

/// Within-person standard deviation √WMS, which keeps a shift between trials in. For pairs it is
/// √(Σd²/2n).
#[must_use]
pub fn within_person_sd(trials: &Trials) -> f64 {
    MeanSquares::of(trials).within_people.sqrt()
}

/// Repeatability coefficient: factor·√2·√WMS, for pairs factor·√(Σd²/n). Bland & Altman 1986 take
/// [`CoverageFactor::TWO`]. Two readings of one person should differ by less.
#[must_use]
pub fn repeatability_coefficient(trials: &Trials, factor: CoverageFactor) -> f64 {
    factor.value() * std::f64::consts::SQRT_2 * within_person_sd(trials)
}

/// Standard deviation between people of their means over all trials, n − 1 in the divisor: √(BMS/k).
#[must_use]
pub fn between_person_sd(trials: &Trials) -> f64 {
    (MeanSquares::of(trials).between_people / trials.n_trials() as f64).sqrt()
}

/// SEM from published figures: SD·√(1 − ICC) (Weir 2005), in the unit of `sd`.
///
/// # Errors
/// [`RepeatabilityError::OutOfRange`] for an SD that is negative or not finite, and for an ICC outside
/// −1 to 1.
pub fn sem_from_reliability(sd: f64, icc: f64) -> Result<f64, RepeatabilityError> {
    let sd = not_negative("standard deviation", sd)?;
    if !(-1.0..=1.0).contains(&icc) {
        let needed = "from −1 to 1";
        return Err(RepeatabilityError::OutOfRange { what: "ICC", got: icc, needed });
    }
    Ok(sd * (1.0 - icc).sqrt())
}

/// Smallest worthwhile change: 0.2 of the standard deviation between people (Hopkins, from memory).
///
/// # Errors
/// [`RepeatabilityError::OutOfRange`] for an SD that is negative or not finite.
pub fn smallest_worthwhile_change(between_person_sd: f64) -> Result<f64, RepeatabilityError> {
    Ok(0.2 * not_negative("between-person SD", between_person_sd)?)
}

/// Takes a number from 0 to [`Trials::MAX`]; refuses NaN.
pub(super) fn not_negative(what: &'static str, got: f64) -> Result<f64, RepeatabilityError> {
    if (0.0..=Trials::MAX).contains(&got) {
        Ok(got)
    } else {
        let needed = "from 0 to 1000000000";
        Err(RepeatabilityError::OutOfRange { what, got, needed })
    }
}
