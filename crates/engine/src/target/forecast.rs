//! Today's 1RM as a distribution, and the chance that it gives to a number of repetitions.
//!
//! Doesn't make the forecast: mean and spread come from the trend, and the spread must already hold
//! the lift's scatter if the chance is to be that of a set really done.

use domain::{Reps, Rir};
use statrs::function::erf::erfc;

use super::{TargetError, within};
use crate::strength::LoadRepCurve;

/// ln of today's 1RM, as mass moved in kilograms, normally distributed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Forecast {
    mean_ln_kg: f64,
    sd: f64,
    curve: LoadRepCurve,
}

impl Forecast {
    /// Takes the mean and standard deviation of ln 1RM, the 1RM being the mass moved in kilograms
    /// (with the share of body mass), and the lifter's curve.
    ///
    /// # Errors
    /// [`TargetError::OutOfRange`] for a mean outside ln 0.1 kg to ln 5 t, a standard deviation
    /// outside 0 to 2, and NaN.
    pub fn new(mean_ln_kg: f64, sd: f64, curve: LoadRepCurve) -> Result<Forecast, TargetError> {
        let mean_ln_kg =
            within("mean of ln 1RM", mean_ln_kg, 0.1_f64.ln(), 5000_f64.ln(), "(ln kg)")?;
        let sd = within("standard deviation of ln 1RM", sd, 0.0, 2.0, "(ln kg)")?;
        Ok(Forecast { mean_ln_kg, sd, curve })
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

    /// The probability of at least `reps` repetitions with at least `rir` left when moving
    /// `moved_kg`: P(ln M ≥ ln(w·(1 + b·(reps + rir)))). An unknown reserve counts as none, so this
    /// is then the chance of the repetitions alone. None for a
    /// mass that isn't above 0 and finite.
    #[must_use]
    pub fn chance_of(&self, moved_kg: f64, reps: Reps, rir: Option<Rir>) -> Option<f64> {
        if !(moved_kg.is_finite() && moved_kg > 0.0) {
            return None;
        }
        let left = rir.map_or(0.0, Rir::get);
        let to_failure = f64::from(reps.get()) + left;
        let needed = moved_kg.ln() + (self.curve.b() * to_failure).ln_1p();
        if self.sd == 0.0 {
            return Some(if self.mean_ln_kg >= needed { 1.0 } else { 0.0 });
        }
        let z = (needed - self.mean_ln_kg) / self.sd;
        Some(0.5 * erfc(z / std::f64::consts::SQRT_2))
    }
}
