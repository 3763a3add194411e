//! A lead set as the trend reads it: mass moved, repetitions, reserve.
//!
//! Doesn't decide which set of a session leads; that is the caller's.

use crate::strength::{LoadRepCurve, Reserve, SetMeasurement, StrengthError};

/// The first work set, or test, of a lift in a session.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LeadSet {
    /// When, in days from any fixed origin; later sets have later or equal days.
    pub days: f64,
    /// The mass moved in kilograms: the load, and the share of body mass if the lift moves any.
    pub moved_kg: f64,
    /// Repetitions done, at least 1.
    pub reps: u16,
    /// What was left.
    pub reserve: Reserve,
}

impl LeadSet {
    /// Repetitions to failure, n: done plus left. A single with nothing left is the 1RM itself, so
    /// its n is 0 (of the nine published equations few return the load for a true single).
    #[must_use]
    pub fn reps_to_failure(&self) -> f64 {
        let n = f64::from(self.reps) + self.reserve.reps();
        if self.is_single() { 0.0 } else { n }
    }

    /// Whether the set is a single with nothing left.
    #[must_use]
    pub fn is_single(&self) -> bool {
        self.reps == 1 && self.reserve.reps() == 0.0
    }

    /// What the set says about ln 1RM with the given curve.
    ///
    /// # Errors
    /// A set of more than 20 repetitions to failure, and a mass that isn't above 0.
    pub fn measure(&self, curve: LoadRepCurve) -> Result<SetMeasurement, StrengthError> {
        let measured = curve.measure(self.moved_kg, f64::from(self.reps), self.reserve)?;
        if !self.is_single() {
            return Ok(measured);
        }
        // Successful or not is all that a single tells, so it is read with the error of one rep.
        let slope = curve.slope(0.0)?;
        Ok(SetMeasurement {
            log_one_rm: curve.log_one_rm(self.moved_kg, 0.0)?,
            reps_to_failure: 0.0,
            slope,
            log_jacobian: slope.ln(),
            rounding_variance: slope * slope / 12.0,
            ..measured
        })
    }
}
