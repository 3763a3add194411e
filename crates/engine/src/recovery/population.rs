//! Pooling a coach's lifters: what lifters in general are like, estimated anew from records.
//!
//! Empirical Bayes in two parts. [`repool`] takes each lifter's own estimates with what their records
//! alone say of them ([`crate::pooling::without_prior`]) and estimates middle and spread over lifters by
//! restricted maximum likelihood ([`crate::pooling`]), held to an anchor as if it came from eight
//! lifters. [`regrow`] estimates what is not a lifter's own parameter but the start of a state,
//! how lifts grow, by the likelihood of all records together. Neither says anything of a single lifter.
//!
//! The anchor is the same however often values are estimated anew (the shipped ones, as a rule). Held to
//! the values so far instead, the same records would count once more with every round.

use nalgebra::{DMatrix, DVector};

use super::account::Prepared;
use super::filter::{Dynamics, Event};
use super::fit::{self, N_SHARED};
use super::parameters::{Pooled, Spread};
use super::shape::Shape;
use crate::pooling::{
    Estimate, PoolingError, Priors, SpreadPrior, Structure, Verdict as PoolingVerdict, pool,
    without_prior,
};
use crate::statespace::{MaximiseOptions, Parameter, StateSpaceError, Verdict, maximise};

/// As how many lifters the anchor counts.
const WORTH_LIFTERS: f64 = 8.0;

/// No spread over lifters gets smaller or larger than the anchor's by more than these factors.
const LEAST_SPREAD: f64 = 0.2;
const MOST_SPREAD: f64 = 5.0;

/// What pooling takes of one lifter: the lifter's own parameters as the record alone tells them, in sds
/// over lifters from the middles.
#[derive(Clone, Debug, PartialEq)]
pub struct LifterEstimate {
    estimate: Estimate,
}

impl LifterEstimate {
    /// From a posterior under the prior of all u ~ N(0, 1); none if that can't be taken out again.
    pub(super) fn of_posterior(
        mean: &DVector<f64>,
        precision: &DMatrix<f64>,
    ) -> Option<LifterEstimate> {
        let prior = (DVector::zeros(N_SHARED), DMatrix::identity(N_SHARED, N_SHARED));
        let estimate = without_prior(mean, precision, &prior.0, &prior.1).ok()?;
        Some(LifterEstimate { estimate })
    }

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

/// Whether a quantity over lifters is positive, so that its logarithm is what is normal.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Scale {
    Logarithm,
    AsItIs,
}

impl Scale {
    fn of(self, middle: f64) -> f64 {
        if self == Scale::Logarithm { middle.ln() } else { middle }
    }

    fn back(self, value: f64) -> f64 {
        if self == Scale::Logarithm { value.exp() } else { value }
    }
}

/// What a lifter's own parameters are over lifters, in their order.
fn spreads(pooled: &mut Pooled) -> [(&mut Spread, Scale); N_SHARED] {
    use Scale::{AsItIs, Logarithm};
    let [sleep, stress, soreness] = &mut pooled.check_in_effects;
    [
        (&mut pooled.muscle_sd, Logarithm),
        (&mut pooled.slowness, Logarithm),
        (&mut pooled.form_sd, Logarithm),
        (&mut pooled.drift, Logarithm),
        (&mut pooled.unsteadiness, Logarithm),
        (&mut pooled.reserve_share, Logarithm),
        (sleep, AsItIs),
        (stress, AsItIs),
        (soreness, AsItIs),
        (&mut pooled.stress_slows, Logarithm),
    ]
}

/// Middles and spreads over lifters from lifters' estimates, all made with `pooled`, held to `anchor`.
///
/// # Errors
/// Nobody, or numbers too large to compute with.
pub fn repool(
    pooled: &Pooled,
    anchor: &Pooled,
    lifters: &[LifterEstimate],
) -> Result<(Pooled, PoolingVerdict), PoolingError> {
    let persons: Vec<Estimate> = lifters.iter().map(|one| one.estimate.clone()).collect();
    let (mut next, mut anchor) = (pooled.clone(), anchor.clone());
    let anchors = spreads(&mut anchor).map(|(spread, _)| *spread);
    // The anchor on the scale of the estimates: sds of `pooled` from its middles.
    let (mut middles, mut sds) = (DVector::zeros(N_SHARED), DVector::zeros(N_SHARED));
    for (idx, (now, scale)) in spreads(&mut next).into_iter().enumerate() {
        middles[idx] = (scale.of(anchors[idx].middle) - scale.of(now.middle)) / now.sd;
        sds[idx] = anchors[idx].sd / now.sd;
    }
    let precision = DMatrix::from_diagonal(&sds.map(|sd: f64| WORTH_LIFTERS / (sd * sd)));
    let priors = Priors {
        mean: Some(Estimate::from_precision(middles, precision)?),
        spread: Some(SpreadPrior { persons: WORTH_LIFTERS, sds }),
    };
    let found = pool(&persons, &Structure::diagonal(N_SHARED), &priors)?;
    for (idx, (now, scale)) in spreads(&mut next).into_iter().enumerate() {
        let sd = found.spread[(idx, idx)].max(0.0).sqrt() * now.sd;
        let held = anchors[idx].sd;
        *now = Spread {
            middle: scale.back(scale.of(now.middle) + now.sd * found.mean[idx]),
            sd: sd.clamp(LEAST_SPREAD * held, MOST_SPREAD * held),
        };
    }
    Ok((next, found.search.verdict))
}

/// How lifts grow: first slope (middle and spread), how long it lasts, the lasting slope; and with them
/// the drift, the unsteadiness and the day's form without which growth can't be told. By the likelihood of all records
/// together, at the middles of everything else in `pooled`, weakly held to `anchor`.
///
/// # Errors
/// Records that no parameters explain.
pub fn regrow(
    pooled: &Pooled,
    anchor: &Pooled,
    records: &[(Shape, Vec<Event>)],
) -> Result<(Pooled, Verdict), StateSpaceError> {
    let records: Vec<(&Shape, Prepared)> = records
        .iter()
        .map(|(shape, events)| (shape, Prepared::new(shape, pooled, events)))
        .collect();
    let objective = |logs: &[f64]| {
        let candidate = with_growth(pooled, logs);
        let likelihood: f64 = records
            .iter()
            .map(|(shape, record)| {
                let parameters = fit::middle(shape, &candidate);
                let dynamics = Dynamics { shape, pooled: &candidate, parameters: &parameters };
                dynamics.log_likelihood(record)
            })
            .sum();
        // Ten times up or down is one sd: weak, but keeps what the records don't tell where it was.
        let apart: f64 = logs
            .iter()
            .zip(growth_of(anchor))
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

fn growth_of(pooled: &Pooled) -> [Parameter; 7] {
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
        around("the day's form", pooled.form_sd.middle, 0.001, 0.1),
    ]
}

fn with_growth(pooled: &Pooled, logs: &[f64]) -> Pooled {
    // Rounding must not take a value out of its bounds, within which alone numbers are read again.
    let mut found = growth_of(pooled);
    for (parameter, log) in found.iter_mut().zip(logs) {
        parameter.start = log.exp().clamp(parameter.lower, parameter.upper);
    }
    let [slope, spread, days, lasting, drift, unsteadiness, form] = found.map(|one| one.start);
    let mut next = pooled.clone();
    next.slope = Spread { middle: slope - SLOPE_SHIFT, sd: spread };
    next.slope_days = days;
    next.lasting_slope = lasting - SLOPE_SHIFT;
    next.drift.middle = drift;
    next.unsteadiness.middle = unsteadiness;
    next.form_sd.middle = form;
    next
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The bounds within which growth is looked for lie within those in which numbers are taken.
    #[test]
    fn whatever_growth_is_found_can_be_written_and_read_again() {
        let shipped = Pooled::shipped();
        for bound in [|one: &Parameter| one.lower, |one: &Parameter| one.upper] {
            for (idx, parameter) in growth_of(&shipped).iter().enumerate() {
                let mut logs = growth_of(&shipped).map(|one| one.start.ln());
                logs[idx] = bound(parameter).ln();
                let found = with_growth(&shipped, &logs);
                let read = Pooled::from_numbers(found.to_numbers());
                assert_eq!(read.as_ref(), Ok(&found), "{}", parameter.name);
            }
        }
    }
}
