//! The Kalman filter: what is known of the state from everything observed so far.
//!
//! Reads one observation at a time ([`Filter`]), a whole series with every step kept
//! ([`filter_series`]), or a whole series for its likelihood alone ([`log_likelihood`]). Covariances are
//! updated in Joseph's form. The diffuse start is exact: scalar updates of Durbin & Koopman (2012),
//! section 5.2 and 6.4, with the diffuse part `P_∞` kept as a factor whose rank falls by one at a time.

use std::borrow::Borrow;
use std::f64::consts::PI;

use nalgebra::{SMatrix, SVector};

use super::StateSpaceError;
use super::dense::{congruence, restore_bounds};
use super::likelihood::LogLikelihood;
use super::model::{Model, Observation, Start, State, check_finite, check_variance};

/// What an observation said that was not known before.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Innovation<const N: usize> {
    /// Nothing was observed.
    Missing,
    /// The observation pinned down a combination of states of which nothing was known.
    Diffuse {
        /// Observation less predicted mean; it measures the start's arbitrary mean, not a surprise.
        value: f64,
        /// `F_∞ = z'P_∞z`, above 0.
        diffuse_variance: f64,
        /// `K`: what the state's mean moves by per unit of the innovation.
        gain: SVector<f64, N>,
    },
    /// The ordinary case.
    Proper {
        /// Observation less its forecast.
        value: f64,
        /// `F = z'P z + σ²`, above 0.
        variance: f64,
        /// `K`: what the state's mean moves by per unit of the innovation.
        gain: SVector<f64, N>,
    },
    /// A noiseless observation of what was already certain, which it equalled.
    Certain,
}

impl<const N: usize> Innovation<N> {
    /// The innovation over its standard deviation; `None` unless it was an ordinary one.
    pub fn standardised(&self) -> Option<f64> {
        match *self {
            Innovation::Proper { value, variance, .. } => Some(value / variance.sqrt()),
            _ => None,
        }
    }

    /// Contribution to the log-likelihood, its `−½·ln 2π` included: the density of the innovation,
    /// `−½(ln 2π + ln F_∞)` for a diffuse one, and 0 where nothing was learnt.
    pub fn log_density(&self) -> f64 {
        match *self {
            Innovation::Missing | Innovation::Certain => 0.0,
            Innovation::Diffuse { diffuse_variance, .. } => {
                -0.5 * (2.0 * PI * diffuse_variance).ln()
            }
            Innovation::Proper { value, variance, .. } => {
                -0.5 * ((2.0 * PI * variance).ln() + value * value / variance)
            }
        }
    }
}

/// One observation read: the state before and after it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step<const N: usize> {
    /// When, in days.
    pub time_days: f64,
    /// The state at that time, from the observations before this one.
    pub predicted: State<N>,
    /// What the observation said.
    pub innovation: Innovation<N>,
    /// The state at that time, from this observation too.
    pub filtered: State<N>,
}

/// Distribution of an observation that has not been made yet: normal, once nothing diffuse is in it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Forecast {
    /// The observation depends on a state of which nothing is known yet.
    Unknown,
    /// Mean, and variance with the observation's own noise included.
    Known {
        /// Expected value.
        mean: f64,
        /// Variance, in squared units of the observations.
        variance: f64,
    },
}

/// A filter that stands at one time and can be moved forward, asked for a forecast, and told more.
///
/// A call that returns an error leaves the filter as it was.
#[derive(Debug, Clone, PartialEq)]
pub struct Filter<M, const N: usize> {
    model: M,
    loading: SVector<f64, N>,
    state: State<N>,
    time_days: Option<f64>,
    log_likelihood: LogLikelihood,
}

impl<M: Model<N>, const N: usize> Filter<M, N> {
    /// A filter that has read nothing.
    ///
    /// # Errors
    /// The start has a number that is not finite, or no valid covariance.
    pub fn new(model: M, start: &Start<N>) -> Result<Self, StateSpaceError> {
        let state = start.state()?;
        let loading = model.loading();
        let log_likelihood = LogLikelihood::new();
        Ok(Self { model, loading, state, time_days: start.time_days, log_likelihood })
    }

    /// The state at [`Filter::time_days`], from everything read so far.
    pub fn state(&self) -> &State<N> {
        &self.state
    }

    /// Where the filter stands, in days; `None` before the first time has been given.
    pub fn time_days(&self) -> Option<f64> {
        self.time_days
    }

    /// The log-likelihood of everything read so far.
    pub fn log_likelihood(&self) -> &LogLikelihood {
        &self.log_likelihood
    }

    /// Moves forward to `time_days`.
    ///
    /// # Errors
    /// The time is before the filter's own or not finite, or the state overflows.
    pub fn predict_to(&mut self, time_days: f64) -> Result<(), StateSpaceError> {
        check_finite("time", time_days)?;
        let mut state = self.state;
        advance(&self.model, &mut state, self.time_days, time_days)?;
        self.state = state;
        self.time_days = Some(time_days);
        Ok(())
    }

    /// The next observation, made now with noise of the given variance.
    ///
    /// # Errors
    /// The variance is negative or not finite.
    pub fn forecast(&self, noise_variance: f64) -> Result<Forecast, StateSpaceError> {
        check_variance("observation variance", noise_variance)?;
        if self.state.directions.sees(&self.loading) {
            return Ok(Forecast::Unknown);
        }
        let mean = self.loading.dot(&self.state.mean);
        let spread = self.loading.dot(&(self.state.covariance * self.loading));
        Ok(Forecast::Known { mean, variance: spread + noise_variance })
    }

    /// Observations made later, each given as (time in days, noise variance), none of them read.
    /// Times must not go back.
    ///
    /// # Errors
    /// As for [`Filter::predict_to`] and [`Filter::forecast`].
    pub fn forecast_path(&self, later: &[(f64, f64)]) -> Result<Vec<Forecast>, StateSpaceError> {
        let mut ahead = self.clone();
        let mut forecasts = Vec::with_capacity(later.len());
        for &(time_days, noise_variance) in later {
            ahead.predict_to(time_days)?;
            forecasts.push(ahead.forecast(noise_variance)?);
        }
        Ok(forecasts)
    }

    /// Moves forward to the observation and reads it.
    ///
    /// # Errors
    /// The observation has a number that is not finite, a negative variance or an earlier time; it
    /// contradicts a certainty; or the state overflows.
    pub fn update(&mut self, observation: &Observation) -> Result<Step<N>, StateSpaceError> {
        observation.check()?;
        let mut state = self.state;
        advance(&self.model, &mut state, self.time_days, observation.time_days)?;
        let predicted = state;
        let innovation = absorb(&mut state, &self.loading, observation)?;
        self.log_likelihood.record(&innovation, observation.log_jacobian);
        self.state = state;
        self.time_days = Some(observation.time_days);
        Ok(Step { time_days: observation.time_days, predicted, innovation, filtered: state })
    }
}

/// A whole series read, with every step kept.
#[derive(Debug, Clone, PartialEq)]
pub struct Filtered<const N: usize> {
    /// One step per observation, missing ones included, in order.
    pub steps: Vec<Step<N>>,
    /// The log-likelihood of the series.
    pub log_likelihood: LogLikelihood,
}

/// Reads a whole series and keeps every step.
///
/// # Errors
/// The series is empty, or as for [`Filter::new`] and [`Filter::update`].
pub fn filter_series<M: Model<N>, const N: usize>(
    model: &M,
    start: &Start<N>,
    observations: &[Observation],
) -> Result<Filtered<N>, StateSpaceError> {
    if observations.is_empty() {
        return Err(StateSpaceError::EmptySeries);
    }
    let mut filter = Filter::new(model.clone(), start)?;
    let mut steps = Vec::with_capacity(observations.len());
    for observation in observations {
        steps.push(filter.update(observation)?);
    }
    Ok(Filtered { steps, log_likelihood: filter.log_likelihood })
}

/// The log-likelihood of a whole series; allocates nothing.
///
/// Takes any run of observations, so a fit can add a trial noise variance to each on the way:
/// `series.iter().map(|known| Observation { variance: known.variance + trial, ..*known })`.
///
/// # Errors
/// As for [`filter_series`].
pub fn log_likelihood<M: Model<N>, const N: usize>(
    model: &M,
    start: &Start<N>,
    observations: impl IntoIterator<Item: Borrow<Observation>>,
) -> Result<LogLikelihood, StateSpaceError> {
    let mut empty = true;
    let mut state = start.state()?;
    let loading = model.loading();
    let mut total = LogLikelihood::new();
    let mut time_days = start.time_days;
    for observation in observations {
        let observation = observation.borrow();
        empty = false;
        observation.check()?;
        advance(model, &mut state, time_days, observation.time_days)?;
        let innovation = absorb(&mut state, &loading, observation)?;
        total.record(&innovation, observation.log_jacobian);
        time_days = Some(observation.time_days);
    }
    if empty { Err(StateSpaceError::EmptySeries) } else { Ok(total) }
}

/// `a ← T a`, `P ← T P T' + Q`, `A ← T A`.
#[inline(always)]
fn advance<M: Model<N>, const N: usize>(
    model: &M,
    state: &mut State<N>,
    from: Option<f64>,
    to: f64,
) -> Result<(), StateSpaceError> {
    let from = from.unwrap_or(to);
    if to == from {
        return Ok(());
    }
    if to < from {
        return Err(StateSpaceError::TimeBackwards { from, to });
    }
    let gap_days = to - from;
    let transition = model.transition(gap_days);
    state.mean = transition * state.mean;
    let noise = model.process_noise(gap_days);
    state.covariance = congruence(&transition, &state.covariance, &noise);
    restore_bounds(&mut state.covariance);
    if state.directions.count() > 0 {
        state.directions = state.directions.transform(&transition);
    }
    // A sum is finite only if its terms are, and an overflow cannot be undone by another.
    let all = state.mean.sum() + state.covariance.sum() + state.directions.columns().sum();
    if all.is_finite() { Ok(()) } else { Err(StateSpaceError::Overflow { time_days: to }) }
}

/// Takes one observation into the state.
#[inline(always)]
fn absorb<const N: usize>(
    state: &mut State<N>,
    loading: &SVector<f64, N>,
    observation: &Observation,
) -> Result<Innovation<N>, StateSpaceError> {
    let Some(observed) = observation.value else { return Ok(Innovation::Missing) };
    let time_days = observation.time_days;
    let expected = loading.dot(&state.mean);
    let value = observed - expected;
    if let Some(direction) = state.directions.take_seen(loading) {
        let along = direction.dot(loading);
        let gain = direction / along;
        correct(state, loading, &gain, value, observation.variance);
        return Ok(Innovation::Diffuse { value, diffuse_variance: along * along, gain });
    }
    let shown = state.covariance * loading;
    let variance = loading.dot(&shown) + observation.variance;
    if !(variance.is_finite() && (value * value).is_finite()) {
        return Err(StateSpaceError::Overflow { time_days });
    }
    if variance < f64::MIN_POSITIVE {
        // Certain to the last bit, give or take the rounding of the mean.
        let slack = 1e-12 * observed.abs().max(expected.abs());
        let got = observed;
        return if value.abs() <= slack {
            Ok(Innovation::Certain)
        } else {
            Err(StateSpaceError::Contradiction { time_days, got, expected })
        };
    }
    let gain = shown / variance;
    correct(state, loading, &gain, value, observation.variance);
    Ok(Innovation::Proper { value, variance, gain })
}

/// `a ← a + K v`, `P ← (I − K z') P (I − K z')' + σ² K K'` (Joseph's form, right for any gain).
#[inline(always)]
fn correct<const N: usize>(
    state: &mut State<N>,
    loading: &SVector<f64, N>,
    gain: &SVector<f64, N>,
    value: f64,
    noise_variance: f64,
) {
    state.mean += gain * value;
    let kept = SMatrix::<f64, N, N>::identity() - gain * loading.transpose();
    let noise = gain * gain.transpose() * noise_variance;
    state.covariance = congruence(&kept, &state.covariance, &noise);
    restore_bounds(&mut state.covariance);
}
