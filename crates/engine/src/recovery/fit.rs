//! One lifter's parameters: maximum a posteriori, with the population as the prior.
//!
//! Every parameter is written as middle + sd·u over lifters (of the logarithm, for positive ones), so
//! that the prior of each u is standard normal. The objective is the filter's log-likelihood of the
//! repetitions, Jacobians and all, plus that prior. It is climbed by L-BFGS (from a library) on
//! exact slopes ([`super::gradient`]), each coordinate scaled by its curvature at the start. Nothing is random.

use argmin::core::{CostFunction, Error, Executor, Gradient, State as _, TerminationReason};
use argmin::solver::linesearch::MoreThuenteLineSearch;
use argmin::solver::quasinewton::LBFGS;

use nalgebra::{DMatrix, DVector};

use super::account::Prepared;
use super::filter::{Dynamics, Event};
use super::gradient;
use super::parameters::{Parameters, Pooled, Spread};
use super::shape::Shape;

/// How a lifter's parameters came about.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum RecoveryFit {
    /// Too short a record: the pooled values stand.
    PooledValues,
    /// Estimated.
    Fitted(Climb),
}

/// How the climb ended.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Climb {
    /// Log-posterior at the end, up to a constant.
    pub log_posterior: f64,
    /// Farthest that any parameter still is from the top, as the next step sees it, in posterior sds.
    pub distance: f64,
    /// Iterations.
    pub iterations: u64,
    /// Whether `distance` is small.
    pub converged: bool,
}

impl RecoveryFit {
    /// What to tell the reader, as a sentence.
    #[must_use]
    pub fn words(&self) -> String {
        match self {
            RecoveryFit::PooledValues => {
                "Too short a record to estimate anything of this lifter's own: the values of lifters \
                 in general stand."
                    .to_owned()
            }
            RecoveryFit::Fitted(climb) if climb.converged => {
                format!("The estimates converged in {} steps.", climb.iterations)
            }
            RecoveryFit::Fitted(_) => {
                "The estimates did not converge: take the calls with doubt.".to_owned()
            }
        }
    }
}

/// A climb ends when no parameter is farther from the top than this, in posterior sds.
const CLOSE_ENOUGH: f64 = 0.05;
const MOST_ITERATIONS: u64 = 25;
/// Parameters that belong to the lifter, before those of the lifts.
pub(super) const N_SHARED: usize = 10;
/// No parameter goes farther than this from its middle, in sds over lifters.
const FARTHEST: f64 = 5.0;

/// The middles for this lifter's lifts.
pub(super) fn middle(shape: &Shape, pooled: &Pooled) -> Parameters {
    unpack(shape, pooled, &vec![0.0; n_parameters(shape)])
}

pub(super) fn n_parameters(shape: &Shape) -> usize {
    N_SHARED + shape.n_lifts()
}

/// The parameters at `u`, in sds over lifters from the middles.
#[must_use]
pub(super) fn unpack(shape: &Shape, pooled: &Pooled, u: &[f64]) -> Parameters {
    let positive =
        |spread: Spread, u: f64| spread.middle * (spread.sd * u.clamp(-FARTHEST, FARTHEST)).exp();
    let unsteadiness = positive(pooled.unsteadiness, u[4]);
    let scatter = (0..shape.n_lifts())
        .map(|lift| {
            let class = Spread {
                middle: (shape.lift(lift).class_scatter_pct / 100.0).ln_1p() * unsteadiness,
                sd: pooled.lift_scatter_sd,
            };
            positive(class, u[N_SHARED + lift])
        })
        .collect();
    Parameters {
        muscle_sd: positive(pooled.muscle_sd, u[0]),
        slowness: positive(pooled.slowness, u[1]),
        form_sd: positive(pooled.form_sd, u[2]),
        drift: positive(pooled.drift, u[3]),
        reserve_share: positive(pooled.reserve_share, u[5]),
        check_in_effects: std::array::from_fn(|item| {
            let effect = pooled.check_in_effects[item];
            effect.middle + effect.sd * u[6 + item]
        }),
        stress_slows: positive(pooled.stress_slows, u[9]),
        scatter,
    }
}

/// Estimates the parameters from `events`, starting at `from` (in sds over lifters).
pub(super) fn fit(
    shape: &Shape,
    pooled: &Pooled,
    events: &[Event],
    from: &[f64],
) -> (Vec<f64>, RecoveryFit) {
    let record = Record { shape, pooled, prepared: Prepared::new(shape, pooled, events) };
    let scales = record.scales(from);
    let hill = Hill { record: &record, scales: &scales };
    let start: Vec<f64> = from.iter().zip(&scales).map(|(u, scale)| u / scale).collect();
    let stay = (from.to_vec(), RecoveryFit::PooledValues);
    let solver = LBFGS::new(MoreThuenteLineSearch::new(), 10)
        .with_tolerance_grad(CLOSE_ENOUGH)
        .and_then(|solver| solver.with_tolerance_cost(1e-4));
    let Ok(solver) = solver else { return stay };
    let run = Executor::new(hill, solver)
        .configure(|state| state.param(start).max_iters(MOST_ITERATIONS))
        .run();
    let Ok(run) = run else { return stay };
    let state = run.state();
    let Some(best) = state.get_best_param() else { return stay };
    let u: Vec<f64> = best.iter().zip(&scales).map(|(value, scale)| value * scale).collect();
    let distance = state
        .get_gradient()
        .map_or(f64::INFINITY, |slopes| slopes.iter().fold(0.0, |most: f64, s| most.max(s.abs())));
    let settled = matches!(
        state.get_termination_reason(),
        Some(TerminationReason::SolverConverged | TerminationReason::TargetCostReached)
    );
    let climb = Climb {
        log_posterior: -state.get_best_cost(),
        distance,
        iterations: state.get_iter(),
        converged: settled || distance < 2.0 * CLOSE_ENOUGH,
    };
    (u, RecoveryFit::Fitted(climb))
}

/// The lifter's own parameters at `at` as a normal posterior: mean, and precision by differences of
/// slopes, in sds over lifters from the middles. Scatters of single lifts are held where they are.
pub(super) fn posterior(
    shape: &Shape,
    pooled: &Pooled,
    events: &[Event],
    at: &[f64],
) -> (DVector<f64>, DMatrix<f64>) {
    const ASIDE: f64 = 0.02;
    let record = Record { shape, pooled, prepared: Prepared::new(shape, pooled, events) };
    let mut precision = DMatrix::zeros(N_SHARED, N_SHARED);
    let mut moved = at.to_vec();
    for column in 0..N_SHARED {
        moved[column] = at[column] + ASIDE;
        let up = record.slopes(&moved);
        moved[column] = at[column] - ASIDE;
        let down = record.slopes(&moved);
        moved[column] = at[column];
        for row in 0..N_SHARED {
            precision[(row, column)] = (up[row] - down[row]) / (2.0 * ASIDE);
        }
    }
    let precision = 0.5 * (&precision + precision.transpose());
    (DVector::from_row_slice(&at[..N_SHARED]), precision)
}

/// What is fitted.
struct Record<'a> {
    shape: &'a Shape,
    pooled: &'a Pooled,
    prepared: Prepared,
}

impl Record<'_> {
    /// Minus the log-posterior.
    fn cost(&self, u: &[f64]) -> f64 {
        let parameters = unpack(self.shape, self.pooled, u);
        let dynamics = Dynamics { shape: self.shape, pooled: self.pooled, parameters: &parameters };
        let prior: f64 = u.iter().map(|u| 0.5 * u * u).sum();
        prior - dynamics.log_likelihood(&self.prepared)
    }

    /// Slopes of minus the log-posterior.
    fn slopes(&self, u: &[f64]) -> Vec<f64> {
        let pooled = self.pooled;
        let parameters = unpack(self.shape, pooled, u);
        let dynamics = Dynamics { shape: self.shape, pooled, parameters: &parameters };
        let (_, slopes) = gradient::log_likelihood_and_slopes(&dynamics, &self.prepared);
        let scatter: f64 = slopes.scatter.iter().sum();
        let effect = |item: usize| pooled.check_in_effects[item].sd * slopes.check_in_effects[item];
        let mut along = vec![
            pooled.muscle_sd.sd * slopes.muscle_sd,
            pooled.slowness.sd * slopes.slowness,
            pooled.form_sd.sd * slopes.form_sd,
            pooled.drift.sd * slopes.drift,
            pooled.unsteadiness.sd * scatter,
            pooled.reserve_share.sd * slopes.reserve_share,
            effect(0),
            effect(1),
            effect(2),
            pooled.stress_slows.sd * slopes.stress_slows,
        ];
        along.extend(slopes.scatter.iter().map(|own| pooled.lift_scatter_sd * own));
        u.iter().zip(along).map(|(u, along)| u - along).collect()
    }

    /// 1/√curvature of each coordinate: about its posterior sd, in sds over lifters.
    fn scales(&self, at: &[f64]) -> Vec<f64> {
        const ASIDE: f64 = 0.03;
        let here = self.slopes(at);
        let mut moved = at.to_vec();
        let mut scales = vec![1.0; at.len()];
        // Shared parameters one by one; scatters together, since lifts hardly act on each other's.
        let groups = (0..N_SHARED)
            .map(|idx| vec![idx])
            .chain(std::iter::once((N_SHARED..at.len()).collect::<Vec<usize>>()));
        for group in groups {
            group.iter().for_each(|&idx| moved[idx] = at[idx] + ASIDE);
            let there = self.slopes(&moved);
            for &idx in &group {
                moved[idx] = at[idx];
                let curvature = (there[idx] - here[idx]) / ASIDE;
                scales[idx] = curvature.clamp(1.0, 1e4).sqrt().recip();
            }
        }
        scales
    }
}

struct Hill<'a> {
    record: &'a Record<'a>,
    scales: &'a [f64],
}

impl Hill<'_> {
    fn unscaled(&self, at: &[f64]) -> Vec<f64> {
        at.iter().zip(self.scales).map(|(value, scale)| value * scale).collect()
    }
}

impl CostFunction for Hill<'_> {
    type Param = Vec<f64>;
    type Output = f64;

    fn cost(&self, at: &Self::Param) -> Result<f64, Error> {
        Ok(self.record.cost(&self.unscaled(at)))
    }
}

impl Gradient for Hill<'_> {
    type Param = Vec<f64>;
    type Gradient = Vec<f64>;

    fn gradient(&self, at: &Self::Param) -> Result<Self::Gradient, Error> {
        let slopes = self.record.slopes(&self.unscaled(at));
        Ok(slopes.iter().zip(self.scales).map(|(slope, scale)| slope * scale).collect())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use domain::Catalogue;

    use crate::recovery::Lifter;
    use crate::strength::Reserve;
    use crate::trend::LeadSet;

    /// Slopes by reverse accumulation against central difference quotients of the same objective.
    /// Tolerance: the quotient's own error, h²·third derivative and rounding, is about 1e-6 of the
    /// largest slope; gaps seen were below 4e-7. Goes red if any line of the backward pass is broken.
    #[test]
    fn slopes_are_those_of_the_objective() {
        check_slopes(2.3);
    }

    /// The same where so much time passes that scales are folded into the belief (`super::super::frame`).
    #[test]
    fn slopes_hold_over_long_gaps() {
        check_slopes(30.0);
    }

    fn check_slopes(days_between: f64) {
        let catalogue = Catalogue::built_in();
        let named = |name: &str| catalogue.find(&domain::LiftName::new(name).unwrap()).unwrap();
        let lifts = [named("back squat"), named("leg press"), named("bench press")];
        let (shape, pooled) = (Shape::of(lifts), Pooled::shipped());
        let mut lifter = Lifter::new(shape.clone(), pooled.clone());
        for session in 0..24_u16 {
            let days = f64::from(session) * days_between + if session > 15 { 21.0 } else { 0.0 };
            let wobble = f64::from(session * 7 % 5) - 2.0;
            lifter.check_in(
                days,
                [Some(7.0 + 0.4 * wobble), (session % 3 > 0).then_some(3.5 + wobble), None],
            );
            for lift in [0, 1, 2].into_iter().skip(usize::from(session % 4 == 3)) {
                let reps = if session == 9 { 2 } else { 5 + (session * 5 + lift as u16) % 4 };
                let reserve = if lift == 1 {
                    Reserve::unreported(1.0)
                } else {
                    Reserve::Reported(f64::from(session % 3))
                };
                let moved_kg = [100.0, 180.0, 70.0][lift] + 2.5 * f64::from(session / 6);
                lifter.lead(lift, LeadSet { days, moved_kg, reps, reserve });
                lifter.work(lift, days, 3.0);
            }
        }
        let prepared = Prepared::new(&shape, &pooled, lifter.events());
        let record = Record { shape: &shape, pooled: &pooled, prepared };
        let at: Vec<f64> =
            (0..n_parameters(&shape)).map(|idx| 0.3 * ((idx * 5 % 7) as f64 - 3.0) / 3.0).collect();
        let slopes = record.slopes(&at);
        let most = slopes.iter().fold(0.0_f64, |most, slope| most.max(slope.abs()));
        for (idx, slope) in slopes.iter().enumerate() {
            let shifted = |by: f64| {
                let mut moved = at.clone();
                moved[idx] += by;
                record.cost(&moved)
            };
            let quotient = (shifted(1e-4) - shifted(-1e-4)) / 2e-4;
            assert!((slope - quotient).abs() < 2e-6 * most, "{idx}: {slope} against {quotient}");
        }
    }
}
