//! Today's 1RM as targets need it: its middle, and the lifter's curve.
//!
//! Doesn't make the forecast, which comes from the trend, and gives no chances: those are
//! [`crate::trend::Expectation`]'s.

use super::{TargetError, within};
use crate::strength::LoadRepCurve;

/// The middle of ln of today's 1RM, as mass moved in kilograms.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Forecast {
    mean_ln_kg: f64,
    curve: LoadRepCurve,
}

impl Forecast {
    /// Takes the mean of ln 1RM, the 1RM being the mass moved in kilograms (with the share of body
    /// mass), and the lifter's curve.
    ///
    /// # Errors
    /// [`TargetError::OutOfRange`] for a mean outside ln 0.1 kg to ln 5 t and for NaN.
    pub fn new(mean_ln_kg: f64, curve: LoadRepCurve) -> Result<Forecast, TargetError> {
        let mean_ln_kg =
            within("mean of ln 1RM", mean_ln_kg, 0.1_f64.ln(), 5000_f64.ln(), "(ln kg)")?;
        Ok(Forecast { mean_ln_kg, curve })
    }

    /// The middle of today's 1RM: the mass moved, in kilograms.
    #[must_use]
    pub fn one_rm_kg(&self) -> f64 {
        self.mean_ln_kg.exp()
    }

    /// The lifter's load–rep curve.
    #[must_use]
    pub fn curve(&self) -> LoadRepCurve {
        self.curve
    }

    /// The mass in kilograms that goes for `reps_to_failure` repetitions (reserve counted) on a
    /// middling day: M/(1 + b·n).
    #[must_use]
    pub fn moved_kg_for(&self, reps_to_failure: f64) -> f64 {
        self.one_rm_kg() / (1.0 + self.curve.b() * reps_to_failure.max(0.0))
    }

    /// Repetitions to failure with `moved_kg` on a middling day: (M/w − 1)/b; 0 above the 1RM.
    #[must_use]
    pub fn reps_to_failure_at(&self, moved_kg: f64) -> f64 {
        ((self.one_rm_kg() / moved_kg - 1.0) / self.curve.b()).max(0.0)
    }
}
