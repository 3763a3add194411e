//! How a hidden state moves, where it starts, and what is observed of it.
//!
//! Two ready models: a drifting level, and a level with a drifting slope, both in continuous time so
//! that any gap is one step. Nothing here reads data. Continuous-time trend: integrated Wiener process,
//! Durbin & Koopman (2012), section 3.8 ("continuous time" models).

use nalgebra::{SMatrix, SVector};

use super::StateSpaceError;
use super::dense::Directions;

/// A linear Gaussian model with `N` states and scalar observations `y = z'x + ε`.
///
/// Implementors must keep `transition` invertible and `process_noise` symmetric positive semidefinite
/// for every gap of at least 0, and `transition(0)` the identity with no noise.
pub trait Model<const N: usize>: Clone {
    /// `T`: the state after `gap_days` is `T x` plus process noise.
    fn transition(&self, gap_days: f64) -> SMatrix<f64, N, N>;

    /// `Q`: covariance of the process noise gathered over `gap_days`.
    fn process_noise(&self, gap_days: f64) -> SMatrix<f64, N, N>;

    /// `z`: how much of each state an observation shows. By default the first state alone.
    fn loading(&self) -> SVector<f64, N> {
        SVector::from_fn(|row, _| if row == 0 { 1.0 } else { 0.0 })
    }
}

/// One level that wanders: `ℓ' = ℓ + η`, `η ~ N(0, q·Δ)`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LocalLevel {
    level_variance_per_day: f64,
}

impl LocalLevel {
    /// A level whose variance grows by `level_variance_per_day` each day; 0 makes it a constant.
    ///
    /// # Errors
    /// The variance is negative or not finite.
    pub fn try_new(level_variance_per_day: f64) -> Result<Self, StateSpaceError> {
        check_variance("level variance per day", level_variance_per_day)?;
        Ok(Self { level_variance_per_day })
    }

    /// Growth of the level's variance, in squared units of the observations per day.
    pub fn level_variance_per_day(&self) -> f64 {
        self.level_variance_per_day
    }
}

impl Model<1> for LocalLevel {
    fn transition(&self, _gap_days: f64) -> SMatrix<f64, 1, 1> {
        SMatrix::<f64, 1, 1>::new(1.0)
    }

    fn process_noise(&self, gap_days: f64) -> SMatrix<f64, 1, 1> {
        SMatrix::<f64, 1, 1>::new(self.level_variance_per_day * gap_days)
    }
}

/// A level with a slope, both wandering: `ℓ' = ℓ + s·Δ`, `s' = s`, plus noise with covariance
/// `[[q_ℓΔ + q_sΔ³/3, q_sΔ²/2], [q_sΔ²/2, q_sΔ]]`. States are level, then slope per day.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LocalLinearTrend {
    level_variance_per_day: f64,
    slope_variance_per_day: f64,
}

impl LocalLinearTrend {
    /// A trend with `q_ℓ` = `level_variance_per_day` and `q_s` = `slope_variance_per_day`; either may
    /// be 0, and both at 0 make a straight line.
    ///
    /// # Errors
    /// A variance is negative or not finite.
    pub fn try_new(
        level_variance_per_day: f64,
        slope_variance_per_day: f64,
    ) -> Result<Self, StateSpaceError> {
        check_variance("level variance per day", level_variance_per_day)?;
        check_variance("slope variance per day", slope_variance_per_day)?;
        Ok(Self { level_variance_per_day, slope_variance_per_day })
    }

    /// Growth of the level's own variance, in squared units of the observations per day.
    pub fn level_variance_per_day(&self) -> f64 {
        self.level_variance_per_day
    }

    /// Growth of the slope's variance, in squared units of the observations per day³.
    pub fn slope_variance_per_day(&self) -> f64 {
        self.slope_variance_per_day
    }
}

impl Model<2> for LocalLinearTrend {
    fn transition(&self, gap_days: f64) -> SMatrix<f64, 2, 2> {
        SMatrix::<f64, 2, 2>::new(1.0, gap_days, 0.0, 1.0)
    }

    fn process_noise(&self, gap_days: f64) -> SMatrix<f64, 2, 2> {
        let slope = self.slope_variance_per_day * gap_days;
        let cross = slope * gap_days / 2.0;
        let level = self.level_variance_per_day * gap_days + slope * gap_days * gap_days / 3.0;
        SMatrix::<f64, 2, 2>::new(level, cross, cross, slope)
    }
}

/// One scalar observation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Observation {
    /// When, in days from any fixed origin. Equal times are allowed, earlier ones are not.
    pub time_days: f64,
    /// What was observed, or `None` when it is missing.
    pub value: Option<f64>,
    /// Variance of this observation's own noise, at least 0.
    pub variance: f64,
    /// Added to the log-likelihood when there is a value: ln|dy/dn| where `y` is computed from the
    /// quantity `n` that was measured. 0 when `y` itself was measured.
    pub log_jacobian: f64,
}

impl Observation {
    /// A value seen at `time_days` with noise of the given variance.
    pub fn new(time_days: f64, value: f64, variance: f64) -> Self {
        Self { time_days, value: Some(value), variance, log_jacobian: 0.0 }
    }

    /// A time at which nothing was observed.
    pub fn missing(time_days: f64) -> Self {
        Self { time_days, value: None, variance: 0.0, log_jacobian: 0.0 }
    }

    /// The same observation, worth `log_jacobian` more in the log-likelihood.
    pub fn with_log_jacobian(self, log_jacobian: f64) -> Self {
        Self { log_jacobian, ..self }
    }

    pub(super) fn check(&self) -> Result<(), StateSpaceError> {
        check_finite("time", self.time_days)?;
        if let Some(value) = self.value {
            check_finite("observation", value)?;
            check_finite("log jacobian", self.log_jacobian)?;
        }
        check_variance("observation variance", self.variance)
    }
}

/// What is believed of the state before anything is observed.
#[derive(Debug, Clone, PartialEq)]
pub struct Start<const N: usize> {
    /// Mean of each state; what a diffuse state carries here does not matter to the result.
    pub mean: SVector<f64, N>,
    /// Covariance of the states that are not diffuse; rows and columns of diffuse ones hold 0.
    pub covariance: SMatrix<f64, N, N>,
    /// Which states nothing at all is known of.
    pub diffuse: [bool; N],
    /// When this holds, in days; `None` means at the first observation.
    pub time_days: Option<f64>,
}

impl<const N: usize> Start<N> {
    /// Nothing is known of any state.
    pub fn diffuse() -> Self {
        Self {
            mean: SVector::zeros(),
            covariance: SMatrix::zeros(),
            diffuse: [true; N],
            time_days: None,
        }
    }

    /// Every state has a mean and a covariance, holding at the first observation.
    pub fn proper(mean: SVector<f64, N>, covariance: SMatrix<f64, N, N>) -> Self {
        Self { mean, covariance, diffuse: [false; N], time_days: None }
    }

    /// The same start, holding on `time_days` instead of at the first observation.
    pub fn at(self, time_days: f64) -> Self {
        Self { time_days: Some(time_days), ..self }
    }

    pub(super) fn state(&self) -> Result<State<N>, StateSpaceError> {
        if let Some(time_days) = self.time_days {
            check_finite("start time", time_days)?;
        }
        for row in 0..N {
            check_finite("start mean", self.mean[row])?;
            check_variance("start variance", self.covariance[(row, row)])?;
            for column in 0..N {
                self.check_entry(row, column)?;
            }
        }
        let directions = Directions::from_flags(&self.diffuse);
        Ok(State { mean: self.mean, covariance: self.covariance, directions })
    }

    fn check_entry(&self, row: usize, column: usize) -> Result<(), StateSpaceError> {
        let got = self.covariance[(row, column)];
        check_finite("start covariance", got)?;
        let bad = |need| Err(StateSpaceError::BadStart { row, column, got, need });
        if (self.diffuse[row] || self.diffuse[column]) && got != 0.0 {
            return bad("0, since the state is diffuse");
        }
        if got != self.covariance[(column, row)] {
            return bad("the same as the entry across the diagonal");
        }
        // The rounding of a covariance built as L L' may leave a correlation a few ulps past 1.
        let limit = (self.covariance[(row, row)] * self.covariance[(column, column)]).sqrt();
        if got.abs() > limit * (1.0 + 1e-12) {
            return bad("at most the product of the two standard deviations");
        }
        Ok(())
    }
}

/// Mean and covariance of the states at one time, with the part that is still unknown kept exact.
///
/// The full covariance is `κ·P_∞ + covariance` with κ → ∞; [`State::diffuse_covariance`] gives `P_∞`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct State<const N: usize> {
    /// Mean of each state. Meaningless along diffuse directions.
    pub mean: SVector<f64, N>,
    /// The finite part `P_*` of the covariance, symmetric.
    pub covariance: SMatrix<f64, N, N>,
    pub(super) directions: Directions<N>,
}

impl<const N: usize> State<N> {
    /// How many independent combinations of states are still entirely unknown.
    pub fn n_diffuse(&self) -> usize {
        self.directions.count()
    }

    /// `P_∞`, symmetric positive semidefinite, all 0 once nothing is diffuse.
    pub fn diffuse_covariance(&self) -> SMatrix<f64, N, N> {
        self.directions.covariance()
    }
}

pub(super) fn check_finite(what: &'static str, got: f64) -> Result<(), StateSpaceError> {
    if got.is_finite() { Ok(()) } else { Err(StateSpaceError::NotFinite { what, got }) }
}

pub(super) fn check_variance(what: &'static str, got: f64) -> Result<(), StateSpaceError> {
    check_finite(what, got)?;
    if got < 0.0 { Err(StateSpaceError::NegativeVariance { what, got }) } else { Ok(()) }
}
