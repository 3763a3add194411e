//! Pooling a coach's lifters: what lifters in general are like, estimated anew from records.
//!
//! Empirical Bayes in two parts. [`repool`] takes each lifter's own estimates with what their records
//! alone say of them ([`crate::pooling::without_prior`]) and estimates middle and spread over lifters by
//! restricted maximum likelihood ([`crate::pooling`]), held to the values so far as if these came from
//! eight lifters. [`regrow`] estimates what is not a lifter's own parameter but the start of a state,
//! how lifts grow, by the likelihood of all records together. Neither says anything of a single lifter.

use nalgebra::{DMatrix, DVector};

use super::filter::{Dynamics, Event};
use super::fit::{self, N_SHARED};
use super::lifter::Lifter;
use super::parameters::{Pooled, Spread};
use super::shape::Shape;
use crate::pooling::{
    Estimate, PoolingError, Priors, SpreadPrior, Structure, Verdict as PoolingVerdict, pool,
    without_prior,
};
use crate::statespace::{MaximiseOptions, Parameter, StateSpaceError, Verdict, maximise};

/// As how many lifters the values so far count.
const WORTH_LIFTERS: f64 = 8.0;

/// What pooling takes of one lifter: the lifter's own parameters as the record alone tells them, in sds
/// over lifters from the middles.
#[derive(Clone, Debug, PartialEq)]
pub struct LifterEstimate {
    estimate: Estimate,
}

impl LifterEstimate {
    /// Mean and precision, row by row: to keep an estimate between two runs.
    #[must_use]
    pub fn to_numbers(&self) -> (Vec<f64>, Vec<f64>) {
        (
            self.estimate.mean().as_slice().to_vec(),
            self.estimate.precision().transpose().as_slice().to_vec(),
        )
    }

    /// The other way round.
    ///
    /// # Errors
    /// Sizes that don't fit this model, or numbers that are no precision.
    pub fn from_numbers(mean: &[f64], precision: &[f64]) -> Result<LifterEstimate, PoolingError> {
        let (n, got) = (N_SHARED, mean.len().max(precision.len().isqrt()));
        if mean.len() != n || precision.len() != n * n {
            return Err(PoolingError::Size { what: "estimate", got, need: n });
        }
        let precision = DMatrix::from_row_slice(n, n, precision);
        let mean = DVector::from_row_slice(mean);
        Ok(LifterEstimate { estimate: Estimate::from_precision(mean, precision)? })
    }
}

impl Lifter {
    /// What this lifter's record says of the lifter's own parameters; none before they are estimated.
    #[must_use]
    pub fn estimate(&self) -> Option<LifterEstimate> {
        if self.at().iter().all(|u| *u == 0.0) {
            return None;
        }
        let (mean, precision) =
            fit::posterior(self.shape(), self.pooled(), self.events(), self.at());
        let prior = (DVector::zeros(N_SHARED), DMatrix::identity(N_SHARED, N_SHARED));
        let estimate = without_prior(&mean, &precision, &prior.0, &prior.1).ok()?;
        Some(LifterEstimate { estimate })
    }
}

/// Middles and spreads over lifters from lifters' estimates, all made with `pooled`.
///
/// # Errors
/// Nobody, or numbers too large to compute with.
pub fn repool(
    pooled: &Pooled,
    lifters: &[LifterEstimate],
) -> Result<(Pooled, PoolingVerdict), PoolingError> {
    let persons: Vec<Estimate> = lifters.iter().map(|one| one.estimate.clone()).collect();
    let n = N_SHARED;
    let priors = Priors {
        mean: Some(Estimate::from_precision(
            DVector::zeros(n),
            DMatrix::identity(n, n) * WORTH_LIFTERS,
        )?),
        spread: Some(SpreadPrior { persons: WORTH_LIFTERS, sds: DVector::from_element(n, 1.0) }),
    };
    let found = pool(&persons, &Structure::diagonal(n), &priors)?;
    let sd = |idx: usize| found.spread[(idx, idx)].max(0.0).sqrt().clamp(0.2, 5.0);
    let mut next = pooled.clone();
    let positive = |spread: Spread, idx: usize| Spread {
        middle: spread.middle * (spread.sd * found.mean[idx]).exp(),
        sd: spread.sd * sd(idx),
    };
    next.muscle_sd = positive(pooled.muscle_sd, 0);
    next.slowness = positive(pooled.slowness, 1);
    next.form_sd = positive(pooled.form_sd, 2);
    next.drift = positive(pooled.drift, 3);
    next.unsteadiness = positive(pooled.unsteadiness, 4);
    next.reserve_share = positive(pooled.reserve_share, 5);
    for (item, effect) in next.check_in_effects.iter_mut().enumerate() {
        effect.middle += effect.sd * found.mean[6 + item];
        effect.sd *= sd(6 + item);
    }
    next.stress_slows = positive(pooled.stress_slows, 9);
    Ok((next, found.search.verdict))
}

/// How lifts grow: first slope (middle and spread), how long it lasts, the lasting slope; and with them
/// the drift and the unsteadiness without which growth can't be told. By the likelihood of all records
/// together, at the middles of everything else.
///
/// # Errors
/// Records that no parameters explain.
pub fn regrow(
    pooled: &Pooled,
    records: &[(Shape, Vec<Event>)],
) -> Result<(Pooled, Verdict), StateSpaceError> {
    let objective = |logs: &[f64]| {
        let candidate = with_growth(pooled, logs);
        let likelihood: f64 = records
            .iter()
            .map(|(shape, events)| {
                let parameters = fit::middle(shape, &candidate);
                let dynamics = Dynamics { shape, pooled: &candidate, parameters: &parameters };
                dynamics.log_likelihood(events)
            })
            .sum();
        // Ten times up or down is one sd: weak, but keeps what the records don't tell where it was.
        let apart: f64 = logs
            .iter()
            .zip(growth_of(pooled))
            .map(|(log, start)| ((log - start.start.ln()) / 2.3).powi(2))
            .sum();
        likelihood - 0.5 * apart
    };
    let options = MaximiseOptions { max_iterations: 200, gradient_tolerance: 1e-3 };
    let found = maximise(objective, &growth_of(pooled), &options)?;
    Ok((with_growth(pooled, &found.log_values), found.verdict))
}

/// What is added to slopes so that they are positive, per day.
const SLOPE_SHIFT: f64 = 0.05 / 7.0;

fn growth_of(pooled: &Pooled) -> [Parameter; 6] {
    let around = |name, start: f64, lower: f64, upper: f64| Parameter {
        name,
        start: start.clamp(lower, upper),
        lower,
        upper,
    };
    [
        around(
            "first slope",
            pooled.slope.middle + SLOPE_SHIFT,
            0.2 * SLOPE_SHIFT,
            10.0 * SLOPE_SHIFT,
        ),
        around("spread of first slopes", pooled.slope.sd, 1e-5, 0.02),
        around("days of the first slope", pooled.slope_days, 5.0, 1_000.0),
        around(
            "lasting slope",
            pooled.lasting_slope + SLOPE_SHIFT,
            0.8 * SLOPE_SHIFT,
            1.4 * SLOPE_SHIFT,
        ),
        around("drift", pooled.drift.middle, 1e-5, 0.05),
        around("unsteadiness", pooled.unsteadiness.middle, 0.05, 5.0),
    ]
}

fn with_growth(pooled: &Pooled, logs: &[f64]) -> Pooled {
    let mut next = pooled.clone();
    next.slope = Spread { middle: logs[0].exp() - SLOPE_SHIFT, sd: logs[1].exp() };
    next.slope_days = logs[2].exp();
    next.lasting_slope = logs[3].exp() - SLOPE_SHIFT;
    next.drift.middle = logs[4].exp();
    next.unsteadiness.middle = logs[5].exp();
    next
}
