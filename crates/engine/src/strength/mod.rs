//! Load, repetitions, bar speed and what a week of sessions weighs.
//!
//! Closed formulas only: nothing here is fitted to a lifter, remembers a session or decides a call.
//! Loads may be in any unit as long as one computation sticks to one; an estimate comes back in the
//! unit that went in. Each file names the sources of its formulas.

mod curve;
mod one_rm;
mod session_load;
mod velocity;

pub use curve::{
    BetweenLiftSpread, LoadRepCurve, MAX_REPS_TO_FAILURE_READ, Reserve, SetMeasurement,
    UNREPORTED_RESERVE_SD, curve_error_sd, reserve_error_sd,
};
pub use one_rm::{Equation, FAMILIAR_REPS, RepDomain};
pub use session_load::{ImpulseResponse, StandardDeviation, WeekLoad, session_load};
pub use velocity::{SpeedMeasure, VelocityLift, VelocityRange};

/// The largest load or 1RM taken, in whichever unit the caller uses.
pub const MAX_LOAD: f64 = 10_000.0;

/// The most repetitions to failure (repetitions done plus reserve) that any formula takes.
pub const MAX_REPS: f64 = 210.0;

/// Why an estimate of strength or of session load was refused.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum StrengthError {
    /// A number that is not finite or lies outside its range.
    #[error("{what} `{got}` is out of range: it must be from {min} to {max}{unit}")]
    OutOfRange {
        /// The quantity, in the reader's words.
        what: &'static str,
        /// The number found.
        got: f64,
        /// The smallest number taken.
        min: f64,
        /// The largest number taken.
        max: f64,
        /// The unit of both bounds with a space before it, or nothing.
        unit: &'static str,
    },
    /// A number that is not finite, not above zero, or too large.
    #[error("{what} `{got}` is out of range: it must be above 0 and at most {max}{unit}")]
    NotPositive {
        /// The quantity, in the reader's words.
        what: &'static str,
        /// The number found.
        got: f64,
        /// The largest number taken.
        max: f64,
        /// The unit of the bound with a space before it, or nothing.
        unit: &'static str,
    },
    /// More repetitions than an equation has a 1RM for.
    #[error(
        "{equation} gives no 1RM at `{got}` reps: it needs fewer than {below:.2}, so use a heavier set or another equation"
    )]
    TooManyReps {
        /// The equation's name.
        equation: &'static str,
        /// The repetitions found.
        got: f64,
        /// The equation's singular point, which the repetitions must stay under.
        below: f64,
    },
    /// A load so light that an equation gives no number of repetitions.
    #[error(
        "{equation} gives no number of reps at `{got_percent:.1}` % of 1RM: it needs a load above {above_percent:.1} %, so use a heavier load or another equation"
    )]
    LoadTooLight {
        /// The equation's name.
        equation: &'static str,
        /// The load found, in % of 1RM.
        got_percent: f64,
        /// The load that must be passed, in % of 1RM.
        above_percent: f64,
    },
    /// A load so heavy that an equation puts it below one repetition.
    #[error(
        "{equation} gives less than one rep at `{got_percent:.1}` % of 1RM: it needs a load of at most {most_percent:.1} %"
    )]
    LoadTooHeavy {
        /// The equation's name.
        equation: &'static str,
        /// The load found, in % of 1RM.
        got_percent: f64,
        /// The heaviest load that leaves one repetition, in % of 1RM.
        most_percent: f64,
    },
    /// A set too long to say anything about the 1RM.
    #[error(
        "a set of `{got}` reps to failure is not read: it must be at most {max}, so use a heavier set"
    )]
    SetTooLong {
        /// Repetitions done plus reserve.
        got: f64,
        /// The longest set that is read.
        max: f64,
    },
    /// A week in which every day carried the same load.
    #[error(
        "monotony is not defined for a week with a load of `{daily}` on every day: at least one day must differ, for example a rest day"
    )]
    EqualWeek {
        /// The load of each day.
        daily: f64,
    },
    /// Constants of the impulse–response model in the wrong order.
    #[error("{larger} must be above {smaller}: found `{larger_got}` against `{smaller_got}`")]
    WrongOrder {
        /// The constant that must be the larger one.
        larger: &'static str,
        /// The constant that must be the smaller one.
        smaller: &'static str,
        /// What was found for the larger one.
        larger_got: f64,
        /// What was found for the smaller one.
        smaller_got: f64,
    },
}

/// Takes a number from `min` to `max`, both included; refuses NaN.
fn within(
    what: &'static str,
    got: f64,
    min: f64,
    max: f64,
    unit: &'static str,
) -> Result<f64, StrengthError> {
    if (min..=max).contains(&got) {
        Ok(got)
    } else {
        Err(StrengthError::OutOfRange { what, got, min, max, unit })
    }
}

/// Takes a number above zero and at most `max`; refuses NaN.
fn positive(
    what: &'static str,
    got: f64,
    max: f64,
    unit: &'static str,
) -> Result<f64, StrengthError> {
    if got > 0.0 && got <= max {
        Ok(got)
    } else {
        Err(StrengthError::NotPositive { what, got, max, unit })
    }
}
