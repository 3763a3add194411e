//! The log-likelihood's slope along every parameter, from one pass forwards and one back.
//!
//! Reverse accumulation by hand: the filter leaves a [`Step`] for everything that it does; walking
//! them backwards carries the slopes of the log-likelihood along mean (`mean_slope`) and covariance
//! (`covariance_slope`, full and symmetric, so that dℓ = Σ slope_ij·dP_ij) to the start, and collects
//! what falls on parameters on the way. Exact but for the bounds at which parameters are held; a test
//! holds it against difference quotients. It costs about as much as three passes forwards, whatever
//! the number of parameters.

use super::belief::Belief;
use super::filter::{Dynamics, Event};
use super::freak::Freak;
use super::parameters::{SLEEP_AS_STRESS, recovery_days};
use super::shape::{CHECK_IN, COST, FORM};
use crate::strength::SetMeasurement;

/// Slopes of the log-likelihood: along the logarithms of positive parameters, along check-in effects
/// themselves.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Slopes {
    pub(super) muscle_sd: f64,
    pub(super) slowness: f64,
    pub(super) form_sd: f64,
    pub(super) drift: f64,
    pub(super) reserve_share: f64,
    pub(super) check_in_effects: [f64; 3],
    pub(super) stress_slows: f64,
    /// Scatter of each lift.
    pub(super) scatter: Vec<f64>,
}

/// One thing that the filter did.
#[derive(Clone, Debug)]
pub(super) enum Step {
    /// Time passed.
    Fade {
        gap: f64,
        factors: Vec<f64>,
        slope_days: f64,
        stress: f64,
        /// The belief once faded, before it was disturbed.
        faded: Belief,
    },
    /// A dose fell on muscles: (row, dose).
    Work { pushes: Vec<(usize, f64)>, cost: f64 },
    /// A check-in item or a lead set was observed.
    Observed(Box<Observed>),
    /// The first lead set of a lift.
    Found(Box<Observed>),
}

/// Mean and covariances of each check-in item.
pub(super) type CheckInRows = [(f64, Vec<f64>); 3];

/// An observation, with what it met.
#[derive(Clone, Debug)]
pub(super) struct Observed {
    pub(super) sum: Vec<(usize, f64)>,
    /// Covariance of everything with the sum.
    pub(super) along: Vec<f64>,
    pub(super) innovation: f64,
    pub(super) spread: f64,
    pub(super) noise: f64,
    pub(super) freak: Freak,
    /// For a lead set: which lift, what it showed, and the check-in rows.
    pub(super) lead: Option<(usize, SetMeasurement, CheckInRows)>,
}

/// Log-likelihood and slopes of a record.
pub(super) fn log_likelihood_and_slopes(
    dynamics: &Dynamics<'_>,
    events: &[Event],
) -> (f64, Slopes) {
    let mut state = dynamics.start_taped();
    for event in events {
        dynamics.take(&mut state, event);
    }
    let steps = state.tape.take().unwrap_or_default();
    let mut back = Back::new(dynamics, state.belief.len());
    for step in steps.iter().rev() {
        match step {
            Step::Fade { gap, factors, slope_days, stress, faded } => {
                back.fade(*gap, factors, *slope_days, *stress, faded);
            }
            Step::Work { pushes, cost } => back.work(pushes, *cost),
            Step::Observed(observed) => back.observed(observed),
            Step::Found(observed) => back.found(observed),
        }
    }
    back.start();
    (state.log_likelihood, back.slopes)
}

struct Back<'a> {
    dynamics: &'a Dynamics<'a>,
    n: usize,
    mean: Vec<f64>,
    covariance: Vec<f64>,
    slopes: Slopes,
    product: Vec<f64>,
}

impl<'a> Back<'a> {
    fn new(dynamics: &'a Dynamics<'a>, n: usize) -> Back<'a> {
        let slopes = Slopes {
            muscle_sd: 0.0,
            slowness: 0.0,
            form_sd: 0.0,
            drift: 0.0,
            reserve_share: 0.0,
            check_in_effects: [0.0; 3],
            stress_slows: 0.0,
            scatter: vec![0.0; dynamics.shape.n_lifts()],
        };
        Back {
            dynamics,
            n,
            mean: vec![0.0; n],
            covariance: vec![0.0; n * n],
            slopes,
            product: vec![0.0; n],
        }
    }

    fn variance_slope(&self, row: usize) -> f64 {
        self.covariance[row * self.n + row]
    }

    /// x\[onto\] += amount·x\[from\], backwards: the slope of `from` gains amount times that of `onto`.
    fn unshear(&mut self, from: usize, onto: usize, amount: f64) {
        let n = self.n;
        self.mean[from] += amount * self.mean[onto];
        for column in 0..n {
            self.covariance[from * n + column] += amount * self.covariance[onto * n + column];
        }
        for row in 0..n {
            self.covariance[row * n + from] += amount * self.covariance[row * n + onto];
        }
    }

    fn fade(&mut self, gap: f64, factors: &[f64], slope_days: f64, stress: f64, faded: &Belief) {
        let (shape, parameters) = (self.dynamics.shape, self.dynamics.parameters);
        let wander = |factor: f64, sd: f64| 2.0 * sd * sd * (1.0 - factor * factor);
        self.slopes.form_sd +=
            self.variance_slope(FORM) * wander(factors[FORM], parameters.form_sd);
        let slower = parameters.slowness * (1.0 + parameters.stress_slows * stress);
        let mut along_slower = 0.0;
        // Along ln factor of each row, through the noise that muscles have in common.
        let mut through_common = vec![0.0; self.n];
        for (one, other, covariance) in self.dynamics.in_common(factors) {
            let slope = 2.0 * self.covariance[one * self.n + other] * covariance;
            self.slopes.muscle_sd += 2.0 * slope;
            for row in [one, other] {
                let kept = factors[row] * factors[row];
                through_common[row] -= slope * kept / (1.0 - kept).max(1e-12);
            }
        }
        for (place, muscle) in shape.muscles().iter().enumerate() {
            let row = shape.muscle_row(place);
            let (factor, sd) = (factors[row], parameters.muscle_sd);
            self.slopes.muscle_sd += self.variance_slope(row) * wander(factor, sd);
            let by_noise = -2.0 * sd * sd * factor * factor * self.variance_slope(row);
            let across: f64 = (0..self.n)
                .map(|other| self.covariance[row * self.n + other] * faded.covariance(row, other))
                .sum();
            let along_log_factor =
                by_noise + through_common[row] + 2.0 * across + self.mean[row] * faded.mean(row);
            // ln factor = −gap/(τ·slower).
            along_slower += along_log_factor * gap / (recovery_days(*muscle) * slower);
        }
        let drift = 2.0 * parameters.drift.powi(2) * gap;
        for lift in 0..shape.n_lifts() {
            self.slopes.drift += self.variance_slope(shape.level(lift)) * drift;
        }
        for row in 0..self.n {
            self.mean[row] *= factors[row];
            for column in 0..self.n {
                self.covariance[row * self.n + column] *= factors[row] * factors[column];
            }
        }
        self.slopes.slowness += along_slower;
        let part = parameters.stress_slows / (1.0 + parameters.stress_slows * stress);
        self.slopes.stress_slows += along_slower * part * stress;
        if faded.mean(CHECK_IN + 1) > 0.0 {
            self.mean[CHECK_IN + 1] += along_slower * part;
        }
        if faded.mean(CHECK_IN) < 0.0 {
            self.mean[CHECK_IN] -= along_slower * part * SLEEP_AS_STRESS;
        }
        for lift in 0..shape.n_lifts() {
            self.unshear(shape.slope(lift), shape.level(lift), slope_days);
        }
    }

    fn work(&mut self, pushes: &[(usize, f64)], cost: f64) {
        let toll = self.dynamics.pooled.toll_sd.powi(2);
        for &(row, dose) in pushes.iter().rev() {
            let along_cost = self.variance_slope(row) * toll * dose * dose * 2.0 * cost;
            self.unshear(COST, row, -dose);
            self.mean[COST] += along_cost;
        }
    }

    fn observed(&mut self, met: &Observed) {
        let n = self.n;
        let learnt = met.freak.learn(met.innovation, met.spread, met.noise);
        // Slopes along gain and shrinkage.
        let gain: f64 = self.mean.iter().zip(&met.along).map(|(slope, along)| slope * along).sum();
        for row in 0..n {
            let of_row = &self.covariance[row * n..][..n];
            self.product[row] = of_row.iter().zip(&met.along).map(|(c, along)| c * along).sum();
        }
        let shrink: f64 = -self
            .product
            .iter()
            .zip(&met.along)
            .map(|(product, along)| product * along)
            .sum::<f64>();
        let counts = if met.lead.is_some() { 1.0 } else { 0.0 };
        let (innovation, spread, noise) =
            met.freak.slopes((met.innovation, met.spread, met.noise), (gain, shrink, counts));
        let mut along: Vec<f64> = self
            .mean
            .iter()
            .zip(&self.product)
            .map(|(slope, product)| learnt.gain * slope - 2.0 * learnt.shrink * product)
            .collect();
        for &(row, weight) in &met.sum {
            along[row] += weight * spread;
        }
        if let Some((lift, seen, rows)) = &met.lead {
            self.falls_on_set(*lift, seen, noise);
            for (item, (mean, covariances)) in rows.iter().enumerate() {
                let through: f64 = covariances.iter().zip(&along).map(|(c, a)| c * a).sum();
                let row = CHECK_IN + item;
                self.slopes.check_in_effects[item] +=
                    through + spread * met.along[row] - innovation * mean;
            }
        }
        for &(row, weight) in &met.sum {
            self.mean[row] -= weight * innovation;
            for (column, along) in along.iter().enumerate() {
                let half = 0.5 * weight * along;
                self.covariance[row * n + column] += half;
                self.covariance[column * n + row] += half;
            }
        }
    }

    fn found(&mut self, met: &Observed) {
        let Some((lift, seen, rows)) = &met.lead else { return };
        let (n, level) = (self.n, self.dynamics.shape.level(*lift));
        let own = self.variance_slope(level);
        let mean = self.mean[level];
        self.falls_on_set(*lift, seen, own);
        let across: Vec<f64> = (0..n)
            .map(|other| if other == level { 0.0 } else { self.covariance[level * n + other] })
            .collect();
        for (item, (mean_of_item, covariances)) in rows.iter().enumerate() {
            let through: f64 = covariances.iter().zip(&across).map(|(c, a)| c * a).sum();
            self.slopes.check_in_effects[item] +=
                2.0 * (own * met.along[CHECK_IN + item] - through) - mean * mean_of_item;
        }
        for other in 0..n {
            self.covariance[level * n + other] = 0.0;
            self.covariance[other * n + level] = 0.0;
        }
        self.mean[level] = 0.0;
        for &(row, weight) in &met.sum {
            self.mean[row] -= weight * mean;
            for (column, slope) in across.iter().enumerate() {
                self.covariance[row * n + column] -= weight * slope;
                self.covariance[column * n + row] -= weight * slope;
            }
            for &(column, other) in &met.sum {
                self.covariance[row * n + column] += own * weight * other;
            }
        }
    }

    /// What the slope along a set's noise means for scatter and reserve.
    fn falls_on_set(&mut self, lift: usize, seen: &SetMeasurement, noise: f64) {
        let parameters = self.dynamics.parameters;
        self.slopes.scatter[lift] += noise * 2.0 * parameters.scatter[lift].powi(2);
        self.slopes.reserve_share += noise * parameters.reserve_share * seen.reserve_variance;
    }

    fn start(&mut self) {
        let (shape, parameters) = (self.dynamics.shape, self.dynamics.parameters);
        self.slopes.form_sd += self.variance_slope(FORM) * 2.0 * parameters.form_sd.powi(2);
        for place in 0..shape.muscles().len() {
            self.slopes.muscle_sd +=
                self.variance_slope(shape.muscle_row(place)) * 2.0 * parameters.muscle_sd.powi(2);
        }
    }
}
