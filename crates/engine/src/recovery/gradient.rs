//! The log-likelihood's slope along every parameter, from one pass forwards and one back.
//!
//! Reverse accumulation by hand: the filter leaves a [`Step`] for everything that it does; walking
//! them backwards carries the slopes of the log-likelihood along the belief's mean and covariance (full
//! and symmetric, so that dℓ = Σ slope_ij·dP_ij), and along scale and dose of every muscle
//! ([`super::frame`]), to the start, and collects what falls on parameters on the way. Exact but for the bounds at which parameters are held; a test
//! holds it against difference quotients. It costs about as much as three passes forwards, whatever
//! the number of parameters.

use super::account::Prepared;
use super::filter::Dynamics;
use super::freak::Freak;
use super::lanes::multiply;
use super::parameters::recovery_days;
use super::shape::{CHECK_IN, COST, FORM, Row};
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
    Fade(Box<Faded>),
    /// A dose fell on a muscle.
    Work(Pushed),
    /// A scale was folded into the belief.
    Folded {
        /// Of which quantity.
        row: usize,
        /// What its coordinate was multiplied by.
        factor: f64,
    },
    /// A check-in item or a lead set was observed.
    Observed(Box<Observed>),
    /// The first lead set of a lift.
    Found(Box<Observed>),
}

/// What passing time did.
#[derive(Clone, Debug)]
pub(super) struct Faded {
    pub(super) gap: f64,
    /// Of each muscle: its factor, and its scale and dose afterwards.
    pub(super) muscles: Vec<[f64; 3]>,
    /// What a variance of 1 of the day's form added to the belief.
    pub(super) form: f64,
    /// Points by which recovery went slower.
    pub(super) stress: f64,
    /// Points per unit of the belief's mean of sleep and stress; 0 for one that made no difference.
    pub(super) told: [f64; 2],
}

/// What a dose did to one muscle's variance: `toll`·cost².
#[derive(Clone, Copy, Debug)]
pub(super) struct Pushed {
    pub(super) place: usize,
    pub(super) toll: f64,
    pub(super) cost: f64,
}

/// One row of the belief before an observation, and its scale.
#[derive(Clone, Debug)]
pub(super) struct RowBefore {
    pub(super) row: usize,
    pub(super) scale: f64,
    pub(super) mean: f64,
    pub(super) covariances: Vec<f64>,
}

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
    /// For a lead set: which lift, what it showed, and the rows on which that hangs by a parameter.
    pub(super) lead: Option<(usize, SetMeasurement, Vec<RowBefore>)>,
}

/// Log-likelihood and slopes of a record.
pub(super) fn log_likelihood_and_slopes(
    dynamics: &Dynamics<'_>,
    record: &Prepared,
) -> (f64, Slopes) {
    let mut state = dynamics.start_taped();
    for told in record.told() {
        dynamics.learn(&mut state, told);
    }
    let steps = state.tape.take().unwrap_or_default();
    let mut back = Back::new(dynamics, state.belief.len());
    for step in steps.iter().rev() {
        match step {
            Step::Fade(faded) => back.fade(faded),
            Step::Work(pushed) => back.work(*pushed),
            Step::Folded { row, factor } => back.folded(*row, *factor),
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
    /// Along the logarithm of each muscle's scale, and along its dose.
    scale: Vec<f64>,
    dose: Vec<f64>,
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
            scale: vec![0.0; dynamics.shape.muscles().len()],
            dose: vec![0.0; dynamics.shape.muscles().len()],
            slopes,
            product: vec![0.0; n],
        }
    }

    fn variance_slope(&self, row: usize) -> f64 {
        self.covariance[row * self.n + row]
    }

    fn fade(&mut self, faded: &Faded) {
        let Faded { gap, muscles, form, stress, told } = faded;
        let (shape, parameters) = (self.dynamics.shape, self.dynamics.parameters);
        self.slopes.form_sd += self.variance_slope(FORM) * 2.0 * parameters.form_sd.powi(2) * form;
        let variance = parameters.muscle_sd.powi(2);
        let slower = parameters.slowness * (1.0 + parameters.stress_slows * stress);
        // Along ln factor of each muscle, through the noise that muscles have in common.
        let mut along_factor = vec![0.0; muscles.len()];
        let fresh = |[factor, scale, _]: [f64; 3]| (1.0 - factor * factor).max(0.0).sqrt() / scale;
        for &(one, other) in shape.pairs() {
            let covariance = self.dynamics.pooled.together
                * variance
                * fresh(muscles[one])
                * fresh(muscles[other]);
            let (row, column) = (shape.muscle_row(one), shape.muscle_row(other));
            let slope = 2.0 * self.covariance[row * self.n + column] * covariance;
            self.slopes.muscle_sd += 2.0 * slope;
            for place in [one, other] {
                let kept = muscles[place][0].powi(2);
                along_factor[place] -= slope * kept / (1.0 - kept).max(1e-12);
                self.scale[place] -= slope;
            }
        }
        let mut along_slower = 0.0;
        for (place, (muscle, &[factor, scale, dose])) in
            shape.muscles().iter().zip(muscles).enumerate()
        {
            let along =
                self.variance_slope(shape.muscle_row(place)) * 2.0 * variance / (scale * scale);
            let kept = factor * factor;
            self.slopes.muscle_sd += along * (1.0 - kept);
            self.scale[place] -= along * (1.0 - kept);
            let along_log_factor =
                along_factor[place] - along * kept + self.scale[place] + self.dose[place] * dose;
            self.dose[place] *= factor;
            // ln factor = −gap/(τ·slower).
            along_slower += along_log_factor * gap / (recovery_days(*muscle) * slower);
        }
        for lift in 0..shape.n_lifts() {
            self.slopes.drift +=
                self.variance_slope(shape.level(lift)) * 2.0 * parameters.drift.powi(2) * gap;
        }
        self.slopes.slowness += along_slower;
        let part = parameters.stress_slows / (1.0 + parameters.stress_slows * stress);
        self.slopes.stress_slows += along_slower * part * stress;
        for (item, by_mean) in told.iter().enumerate() {
            self.mean[CHECK_IN + item] += along_slower * part * by_mean;
        }
    }

    fn work(&mut self, pushed: Pushed) {
        let Pushed { place, toll, cost } = pushed;
        let along = self.variance_slope(self.dynamics.shape.muscle_row(place)) * toll;
        self.mean[COST] += along * 2.0 * cost;
        self.scale[place] -= along * 2.0 * cost * cost;
    }

    fn folded(&mut self, row: usize, factor: f64) {
        let n = self.n;
        self.mean[row] *= factor;
        for column in 0..n {
            self.covariance[row * n + column] *= factor;
            self.covariance[column * n + row] *= factor;
        }
    }

    fn observed(&mut self, met: &Observed) {
        let n = self.n;
        let learnt = met.freak.learn(met.innovation, met.spread, met.noise);
        // Slopes along gain and shrinkage.
        let gain: f64 = self.mean.iter().zip(&met.along).map(|(slope, along)| slope * along).sum();
        multiply(&self.covariance, &met.along, &mut self.product);
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
            for before in rows {
                let through = product(&before.covariances, &along);
                let slope = through + spread * met.along[before.row] - innovation * before.mean;
                self.falls_on_weight(*lift, before, slope);
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
        for before in rows {
            let through = product(&before.covariances, &across);
            let slope = 2.0 * (own * met.along[before.row] - through) - mean * before.mean;
            self.falls_on_weight(*lift, before, slope);
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

    /// What the slope along the weight of one of the belief's quantities in what a lift shows means for
    /// scale, dose and check-in effects.
    fn falls_on_weight(&mut self, lift: usize, before: &RowBefore, slope: f64) {
        let shape = self.dynamics.shape;
        match shape.row(before.row).0 {
            Row::Muscle(muscle) => {
                let share = shape.lift(lift).shares().find(|(place, _)| *place == muscle);
                self.scale[muscle] += slope * before.scale * share.map_or(0.0, |(_, share)| share);
            }
            Row::Cost => {
                for (place, share) in shape.lift(lift).shares() {
                    self.dose[place] -= share * slope;
                }
            }
            Row::Level | Row::Slope | Row::Other => {
                if let Some(item) = before.row.checked_sub(CHECK_IN).filter(|item| *item < 3) {
                    self.slopes.check_in_effects[item] += slope * before.scale;
                }
            }
        }
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

fn product(one: &[f64], other: &[f64]) -> f64 {
    one.iter().zip(other).map(|(one, other)| one * other).sum()
}
