//! Linear Gaussian state-space models for one series read at irregular times.
//!
//! Reading order: [`model`] says how a state moves and where it starts, [`filter`] reads observations
//! one at a time or as a whole series, [`likelihood`] adds up what they were worth, [`smoother`] looks
//! back over all of them, [`estimate`] finds the variances. Observations are scalars, each with its own
//! noise variance; series of several lifts at once are not handled here. Times are days.
//!
//! The diffuse start, the recursions and the letters in formulas follow Durbin & Koopman, *Time Series
//! Analysis by State Space Methods*, 2nd edition (2012), chapters 2, 4, 5 and 7.

pub mod estimate;
pub mod filter;
pub mod likelihood;
pub mod model;
pub mod smoother;

mod dense;

pub use estimate::{
    Fit, MaximiseOptions, Maximum, Parameter, Side, Verdict, fit_local_level,
    fit_local_linear_trend, maximise,
};
pub use filter::{Filter, Filtered, Forecast, Innovation, Step, filter_series, log_likelihood};
pub use likelihood::{Concentrated, Convention, LogLikelihood};
pub use model::{LocalLevel, LocalLinearTrend, Model, Observation, Start, State};
pub use smoother::{Smoothed, smooth};

/// Why a series could not be filtered, smoothed or fitted.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum StateSpaceError {
    /// There is nothing to read.
    #[error("`observations` is empty, needs at least 1")]
    EmptySeries,
    /// A number that must be finite is NaN or infinite.
    #[error("`{what}` is {got}, needs a finite number; leave the observation out if it is unknown")]
    NotFinite {
        /// Which number.
        what: &'static str,
        /// What it was.
        got: f64,
    },
    /// A variance below zero.
    #[error("`{what}` is {got}, needs a variance of at least 0")]
    NegativeVariance {
        /// Which variance.
        what: &'static str,
        /// What it was.
        got: f64,
    },
    /// An observation earlier than the one before it.
    #[error("`time` goes back from day {from} to day {to}; sort the observations by time")]
    TimeBackwards {
        /// The later time, read first, in days.
        from: f64,
        /// The earlier time, read second, in days.
        to: f64,
    },
    /// The start's covariance is not symmetric, or a diffuse state has a finite covariance too.
    #[error("`start covariance` at row {row}, column {column} is {got}, needs {need}")]
    BadStart {
        /// Row, from 0.
        row: usize,
        /// Column, from 0.
        column: usize,
        /// What it was.
        got: f64,
        /// What would do.
        need: &'static str,
    },
    /// A noiseless observation differs from a value the model is certain of.
    #[error(
        "`observation` on day {time_days} is {got}, but the model is certain of {expected}; \
         give it a noise variance above 0"
    )]
    Contradiction {
        /// When, in days.
        time_days: f64,
        /// The value observed.
        got: f64,
        /// The only value the model allows.
        expected: f64,
    },
    /// The numbers grew past what a double can hold.
    #[error("`state` overflows on day {time_days}; rescale the series or shorten the gap")]
    Overflow {
        /// When, in days.
        time_days: f64,
    },
    /// Too few observations for the number of variances.
    #[error("`observations` holds {got} values, needs at least {need} to fit the variances")]
    TooShort {
        /// How many values there are.
        got: usize,
        /// How many are needed.
        need: usize,
    },
    /// The values never differ, so no variance can be told from zero.
    #[error("`observations` never varies, so its noise cannot be told from its trend")]
    Constant,
    /// All values share one time.
    #[error("`observations` all fall on day {time_days}, needs at least 2 different times")]
    OneTime {
        /// The shared time, in days.
        time_days: f64,
    },
    /// A parameter's start and bounds are not positive, finite and in order.
    #[error(
        "`{name}` starts at {start} between {lower} and {upper}, needs finite positive bounds with \
         the start between them"
    )]
    BadParameter {
        /// The parameter.
        name: &'static str,
        /// Its start.
        start: f64,
        /// Its lower bound.
        lower: f64,
        /// Its upper bound.
        upper: f64,
    },
    /// The objective has no finite value where the search starts.
    #[error("`objective` is {got} at the start, needs a finite number; start somewhere else")]
    BadObjective {
        /// What it was.
        got: f64,
    },
}
