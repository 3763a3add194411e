//! The working load–rep curve M = w·(1 + b·n), and how much one set says about the 1RM.
//!
//! Readings use this one curve, with b per lifter and lift; fitting b is not done here. With
//! y = ln(w·(1 + b·n)) the quantity observed is n, not y, so the density of an observation carries
//! the factor dy/dn = b/(1 + b·n): left out, a fit of b collapses towards zero.
//!
//! Letters: M 1RM, w load, n repetitions to failure (repetitions done plus reserve), y = ln M.
//! b = 1/30 is Epley's equation (1985).

use super::{MAX_LOAD, MAX_REPS, StrengthError, positive, within};

/// The longest set, in repetitions to failure, that is read. At this length the nine published
/// equations already differ with an sd of 17 %, so a longer set says next to nothing about the 1RM.
pub const MAX_REPS_TO_FAILURE_READ: f64 = 20.0;

/// Extra standard deviation, in repetitions, for a reserve that was never reported but assumed.
/// Common practice, no source: it spans a set left anywhere within about three repetitions.
pub const UNREPORTED_RESERVE_SD: f64 = 1.5;

/// Repetitions to failure beyond which the curve's own error is added.
const CURVE_HOLDS_UP_TO: f64 = 15.0;

/// Extra sd of y per repetition beyond 15. The nine equations of [`super::Equation`] have an sd of ln
/// 1RM of 0.082 at 15 repetitions and 0.167 at 20: √(0.167² − 0.082²)/5 = 0.029. A test recomputes it.
const CURVE_ERROR_PER_REP: f64 = 0.029;

/// Error of a reported reserve near failure, sd in repetitions, and its growth per repetition of
/// reserve. From mean absolute errors at a called reserve of 1 and 4: bench press 0.69 and 1.00, squat
/// 0.79 and 1.43 (thesis, Florida Atlantic University, 12 trained men), averaged over the lifts and
/// turned into an sd by √(π/2) (normal errors): 0.93 and 1.52, so 0.73 + 0.20 per repetition. Refalo
/// 2024 (J Strength Cond Res, bench press at 75 %, calls of 1 and 3) found an sd of 1.00; at a
/// reserve of 2 this gives 1.15. Hackett 2017 saw errors above 2 at reserves of 7–10.
const RESERVE_ERROR_AT_FAILURE: f64 = 0.75;
const RESERVE_ERROR_PER_REP: f64 = 0.20;

/// Repetitions to failure from which a reserve is told ever worse: Halperin 2022 (Sports Med 52:377)
/// found the error's slope on set length to rise there from 0.06 to 0.47.
const LONG_SET_FROM: f64 = 12.0;

/// Relative growth of that sd per repetition beyond 12. Zourdos 2021 (J Strength Cond Res 35:S158,
/// squat at 70 %, 16 repetitions on average): sd 1.73, 2.46, 2.92 at called reserves of 1, 3, 5; this
/// gives 1.67, 2.38, 3.08.
const LONG_SET_GROWTH: f64 = 0.19;

/// The curve M = w·(1 + b·n) with a b between [`LoadRepCurve::MIN_B`] and [`LoadRepCurve::MAX_B`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LoadRepCurve {
    b: f64,
}

/// How b varies between lifts: ln b ~ N(ln `typical_b`, `log_sd`²).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BetweenLiftSpread {
    /// The middle of the distribution (its geometric mean), per repetition.
    pub typical_b: f64,
    /// Standard deviation of ln b between lifts.
    pub log_sd: f64,
}

/// What is known of the repetitions that a lifter had left at the end of a set.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Reserve {
    /// Repetitions in reserve as the lifter gave them; 0 is a set to failure and carries no error.
    Reported(f64),
    /// Nobody said. See [`Reserve::unreported`].
    Assumed {
        /// The repetitions in reserve that the programme asked for, or that are usual.
        reps: f64,
        /// Extra sd in repetitions, on top of the error that a report of `reps` would have.
        extra_sd: f64,
    },
}

/// What one set says about ln 1RM.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SetMeasurement {
    /// y = ln(w·(1 + b·n)), with w in the unit that went in.
    pub log_one_rm: f64,
    /// n, repetitions done plus reserve.
    pub reps_to_failure: f64,
    /// dy/dn = b/(1 + b·n): what one repetition is worth on the log scale.
    pub slope: f64,
    /// ln(dy/dn), to be added to the log-likelihood of y.
    pub log_jacobian: f64,
    /// Variance of y from counting whole repetitions: (dy/dn)²/12.
    pub rounding_variance: f64,
    /// Variance of y from the reserve: (dy/dn)²·σ², 0 for a set to failure.
    pub reserve_variance: f64,
    /// Variance of y from the curve itself, 0 up to 15 repetitions to failure.
    pub curve_variance: f64,
}

impl LoadRepCurve {
    /// The flattest curve taken, per repetition: a lift that allows about 50 repetitions at 80 %.
    pub const MIN_B: f64 = 0.005;
    /// The steepest curve taken, per repetition: about 2.5 repetitions at 80 %.
    pub const MAX_B: f64 = 0.1;
    /// Epley's curve, b = 1/30: where a lift starts before anything is known of it.
    pub const EPLEY: LoadRepCurve = LoadRepCurve { b: 1.0 / 30.0 };
    /// Spread of b between lifts. The sd is the root mean square of the sd of ln b over seven lifts at
    /// 60 % (0.346) and at 80 % (0.287), with b = (1/share − 1)/repetitions, from the trained men's
    /// means of Hoeger 1990 (J Appl Sport Sci Res 4:47; means from memory). Leg press is flattest
    /// (b 0.014), leg curl steepest (0.039). The middle is Epley's.
    pub const BETWEEN_LIFTS: BetweenLiftSpread =
        BetweenLiftSpread { typical_b: 1.0 / 30.0, log_sd: 0.32 };

    /// Takes b per repetition.
    ///
    /// # Errors
    /// [`StrengthError::OutOfRange`] outside [`LoadRepCurve::MIN_B`] to [`LoadRepCurve::MAX_B`] and
    /// for NaN.
    pub fn new(b: f64) -> Result<LoadRepCurve, StrengthError> {
        let b = within("curve b", b, Self::MIN_B, Self::MAX_B, " per rep")?;
        Ok(LoadRepCurve { b })
    }

    /// b, per repetition.
    #[must_use]
    pub fn b(self) -> f64 {
        self.b
    }

    /// y = ln(w·(1 + b·n)), the natural logarithm of the 1RM in the unit of `load`.
    ///
    /// # Errors
    /// [`StrengthError`] for a load that isn't above 0 and at most [`MAX_LOAD`], and for repetitions
    /// to failure outside 0 to [`MAX_REPS`]. (The 20 repetitions that limit a reading are
    /// [`LoadRepCurve::measure`]'s.)
    pub fn log_one_rm(self, load: f64, reps_to_failure: f64) -> Result<f64, StrengthError> {
        let load = positive("load", load, MAX_LOAD, "")?;
        Ok(load.ln() + (self.b * checked_reps(reps_to_failure)?).ln_1p())
    }

    /// dy/dn = b/(1 + b·n), per repetition.
    ///
    /// # Errors
    /// [`StrengthError::OutOfRange`] for repetitions outside 0 to [`MAX_REPS`].
    pub fn slope(self, reps_to_failure: f64) -> Result<f64, StrengthError> {
        Ok(self.b / (1.0 + self.b * checked_reps(reps_to_failure)?))
    }

    /// ln(b/(1 + b·n)), the log-Jacobian from repetitions to y.
    ///
    /// # Errors
    /// [`StrengthError::OutOfRange`] for repetitions outside 0 to [`MAX_REPS`].
    pub fn log_jacobian(self, reps_to_failure: f64) -> Result<f64, StrengthError> {
        self.slope(reps_to_failure).map(f64::ln)
    }

    /// Repetitions to failure, fractional, with `load` for a lifter with this 1RM (same unit):
    /// n = (M/w − 1)/b, which is 0 at the 1RM itself.
    ///
    /// # Errors
    /// [`StrengthError::LoadTooHeavy`] above the 1RM, [`StrengthError::LoadTooLight`] for a load that
    /// gives more than [`MAX_REPS`], and a range error for a load or 1RM that isn't above 0 and at
    /// most [`MAX_LOAD`].
    pub fn reps_at_load(self, one_rm: f64, load: f64) -> Result<f64, StrengthError> {
        let one_rm = positive("1RM", one_rm, MAX_LOAD, "")?;
        let load = positive("load", load, MAX_LOAD, "")?;
        let got_percent = 100.0 * load / one_rm;
        let equation = "the load–rep curve";
        if load > one_rm {
            let most_percent = 100.0;
            return Err(StrengthError::LoadTooHeavy { equation, got_percent, most_percent });
        }
        let reps = (one_rm / load - 1.0) / self.b;
        if reps > MAX_REPS {
            let above_percent = 100.0 / (1.0 + self.b * MAX_REPS);
            return Err(StrengthError::LoadTooLight { equation, got_percent, above_percent });
        }
        Ok(reps)
    }

    /// The load, in the unit of `one_rm`, for n repetitions to failure: M/(1 + b·n).
    ///
    /// # Errors
    /// [`StrengthError`] for a 1RM that isn't above 0 and at most [`MAX_LOAD`], and for repetitions
    /// outside 0 to [`MAX_REPS`].
    pub fn load_for_reps(self, one_rm: f64, reps_to_failure: f64) -> Result<f64, StrengthError> {
        let one_rm = positive("1RM", one_rm, MAX_LOAD, "")?;
        Ok(one_rm / (1.0 + self.b * checked_reps(reps_to_failure)?))
    }

    /// Reads one set: y, what a repetition is worth, and the variance of y by its causes.
    ///
    /// Errors of the reserve are centred on zero here. Pooled over studies people stop about one
    /// repetition short of what they say (Halperin 2022), trained lifters hardly (Refalo 2024): a
    /// steady bias moves every y of a lift alike and ends up in its level.
    ///
    /// # Errors
    /// [`StrengthError::SetTooLong`] beyond [`MAX_REPS_TO_FAILURE_READ`]; otherwise as
    /// [`LoadRepCurve::log_one_rm`], for repetitions done below 1 and for a reserve or its sd that is
    /// negative or not finite.
    pub fn measure(
        self,
        load: f64,
        reps_done: f64,
        reserve: Reserve,
    ) -> Result<SetMeasurement, StrengthError> {
        let reps_done = within("reps done", reps_done, 1.0, MAX_REPS, " reps")?;
        let left = within("reps in reserve", reserve.reps(), 0.0, MAX_REPS, " reps")?;
        let reps_to_failure = reps_done + left;
        let curve_error = curve_error_sd(reps_to_failure)?; // refuses a set that is too long
        let slope = self.slope(reps_to_failure)?;
        Ok(SetMeasurement {
            log_one_rm: self.log_one_rm(load, reps_to_failure)?,
            reps_to_failure,
            slope,
            log_jacobian: slope.ln(),
            rounding_variance: slope * slope / 12.0,
            reserve_variance: slope * slope * reserve.variance(reps_to_failure)?,
            curve_variance: curve_error * curve_error,
        })
    }
}

impl Reserve {
    /// A reserve that nobody reported: the caller's assumption, such as the reserve that the
    /// programme asked for, with [`UNREPORTED_RESERVE_SD`] of doubt beside the error that a report
    /// would have. An assumed 0 keeps that doubt: a set isn't known to have reached failure.
    #[must_use]
    pub fn unreported(assumed_reps: f64) -> Reserve {
        Reserve::Assumed { reps: assumed_reps, extra_sd: UNREPORTED_RESERVE_SD }
    }

    /// The repetitions in reserve, reported or assumed.
    #[must_use]
    pub fn reps(self) -> f64 {
        match self {
            Reserve::Reported(reps) | Reserve::Assumed { reps, .. } => reps,
        }
    }

    /// σ² in repetitions².
    fn variance(self, reps_to_failure: f64) -> Result<f64, StrengthError> {
        match self {
            Reserve::Reported(0.0) => Ok(0.0),
            Reserve::Reported(reps) => Ok(reserve_error_sd(reps, reps_to_failure)?.powi(2)),
            Reserve::Assumed { reps, extra_sd } => {
                let extra_sd = within("extra sd of the reserve", extra_sd, 0.0, MAX_REPS, " reps")?;
                Ok(reserve_error_sd(reps, reps_to_failure)?.powi(2) + extra_sd * extra_sd)
            }
        }
    }
}

impl SetMeasurement {
    /// The whole variance of y: counting, reserve and curve.
    #[must_use]
    pub fn variance(&self) -> f64 {
        self.rounding_variance + self.reserve_variance + self.curve_variance
    }
}

/// Standard deviation, in repetitions, of a called reserve: 0.75 + 0.20 per repetition of reserve,
/// times 1 + 0.19 per repetition to failure beyond 12. Sources stand beside the constants.
///
/// # Errors
/// [`StrengthError::OutOfRange`] for either number outside 0 to [`MAX_REPS`].
pub fn reserve_error_sd(reps_in_reserve: f64, reps_to_failure: f64) -> Result<f64, StrengthError> {
    let left = within("reps in reserve", reps_in_reserve, 0.0, MAX_REPS, " reps")?;
    let beyond = (checked_reps(reps_to_failure)? - LONG_SET_FROM).max(0.0);
    let short_set = RESERVE_ERROR_AT_FAILURE + RESERVE_ERROR_PER_REP * left;
    Ok(short_set * (1.0 + LONG_SET_GROWTH * beyond))
}

/// Standard deviation of y from the curve itself: 0 up to 15 repetitions to failure, then 0.029 per
/// repetition.
///
/// # Errors
/// [`StrengthError::SetTooLong`] beyond [`MAX_REPS_TO_FAILURE_READ`], and a range error below 0 and
/// for NaN.
pub fn curve_error_sd(reps_to_failure: f64) -> Result<f64, StrengthError> {
    let n = checked_reps(reps_to_failure)?;
    if n > MAX_REPS_TO_FAILURE_READ {
        return Err(StrengthError::SetTooLong { got: n, max: MAX_REPS_TO_FAILURE_READ });
    }
    Ok(CURVE_ERROR_PER_REP * (n - CURVE_HOLDS_UP_TO).max(0.0))
}

fn checked_reps(reps_to_failure: f64) -> Result<f64, StrengthError> {
    within("reps to failure", reps_to_failure, 0.0, MAX_REPS, " reps")
}
