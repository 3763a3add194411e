//! Maximum likelihood, or maximum a posteriori, over a few positive parameters.
//!
//! [`maximise`] takes any objective; priors and Jacobians are the caller's to add. The search runs on the
//! log scale inside bounds: Nelder & Mead's simplex (1965, from a library) finds the hill, a damped Newton
//! iteration on difference quotients climbs it to the top, and each parameter is tried at its bounds,
//! since a variance whose best value is 0 has no top to climb. Nothing is random.

use std::cell::Cell;

use argmin::core::{CostFunction, Executor, State as _};
use argmin::solver::neldermead::NelderMead;
use nalgebra::{DMatrix, DVector};

use super::StateSpaceError;
use super::filter::log_likelihood;
use super::likelihood::{Convention, LogLikelihood};
use super::model::{LocalLevel, LocalLinearTrend, Model, Observation, Start};

/// A positive parameter to search over.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Parameter {
    /// What it is called in the result.
    pub name: &'static str,
    /// Where the search starts.
    pub start: f64,
    /// Least value, above 0.
    pub lower: f64,
    /// Greatest value, at least 1 % above the least.
    pub upper: f64,
}

/// Limits of the search.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MaximiseOptions {
    /// Most iterations of the simplex, and most steps of the climb after it.
    pub max_iterations: usize,
    /// Greatest slope, in units of the objective per e-fold of a parameter, that counts as the top.
    pub gradient_tolerance: f64,
}

impl Default for MaximiseOptions {
    fn default() -> Self {
        Self { max_iterations: 400, gradient_tolerance: 1e-6 }
    }
}

/// Which bound a parameter lies at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// The least value allowed; for a variance this usually means "none".
    Lower,
    /// The greatest value allowed.
    Upper,
}

/// How the search ended.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Verdict {
    /// At a top: no slope, and curved downwards along every parameter not at a bound.
    Converged,
    /// No slope, but the objective hardly depends on these parameters: their values mean little.
    FlatAlong(Vec<&'static str>),
    /// There is a slope left, but no step along it is an improvement in double precision.
    Stalled,
    /// Stopped by [`MaximiseOptions::max_iterations`].
    OutOfIterations,
}

/// The greatest value found, and how far to trust it.
#[derive(Debug, Clone, PartialEq)]
pub struct Maximum {
    /// Natural logarithms of the parameters, in the order given.
    pub log_values: Vec<f64>,
    /// The objective there.
    pub objective: f64,
    /// How the search ended.
    pub verdict: Verdict,
    /// Greatest slope per e-fold among the parameters that are not at a bound.
    pub gradient_norm: f64,
    /// Iterations of the simplex and of the climb, together.
    pub iterations: usize,
    /// How often the objective was computed.
    pub evaluations: usize,
    /// Parameters that ended at a bound.
    pub at_bound: Vec<(&'static str, Side)>,
}

/// Maximises `objective` over positive parameters; it is given their natural logarithms.
///
/// Where the objective is not finite the search turns back. The same input gives the same result.
///
/// # Errors
/// A parameter's start or bounds are out of order, or the objective is not finite at the start.
pub fn maximise(
    objective: impl Fn(&[f64]) -> f64,
    parameters: &[Parameter],
    options: &MaximiseOptions,
) -> Result<Maximum, StateSpaceError> {
    for parameter in parameters {
        check_parameter(parameter)?;
    }
    let start: Vec<f64> = parameters.iter().map(|parameter| parameter.start.ln()).collect();
    let got = objective(&start);
    if !got.is_finite() {
        return Err(StateSpaceError::BadObjective { got });
    }
    let counter = Cell::new(1);
    let hill = Hill {
        objective,
        lower: parameters.iter().map(|parameter| parameter.lower.ln()).collect(),
        upper: parameters.iter().map(|parameter| parameter.upper.ln()).collect(),
        evaluations: &counter,
    };
    let mut climb = Climb { log_values: start, objective: got, iterations: 0 };
    hill.simplex(&mut climb, options);
    let (mut end, mut top) = (Ending::OutOfIterations, Slopes::none(parameters.len()));
    for _ in 0..ROUNDS {
        hill.try_bounds(&mut climb);
        (end, top) = hill.newton(&mut climb, options);
        if !hill.try_bounds(&mut climb) {
            break;
        }
    }
    Ok(conclude(&hill, climb, end, &top, parameters))
}

/// A model fitted by maximum likelihood with a diffuse start.
#[derive(Debug, Clone, PartialEq)]
pub struct Fit<M> {
    /// The model at the estimates.
    pub model: M,
    /// Noise variance common to all observations, on top of the variance each carries of its own.
    pub noise_variance: f64,
    /// The log-likelihood at the estimates.
    pub log_likelihood: LogLikelihood,
    /// How the search went. A variance estimated as 0 is listed in [`Maximum::at_bound`].
    pub maximum: Maximum,
}

/// Fits a local level: noise variance and level variance per day, both free down to exactly 0.
///
/// The variances that observations carry are taken as known and come on top of the noise variance.
///
/// # Errors
/// Fewer than 3 values, no variation, a single time, or a bad observation.
pub fn fit_local_level(observations: &[Observation]) -> Result<Fit<LocalLevel>, StateSpaceError> {
    let spread = Spread::of(observations, 3)?;
    let parameters = [spread.parameter("noise variance", 0), spread.parameter("level variance", 1)];
    fit(observations, parameters, |variances: &[f64; 2]| LocalLevel::try_new(variances[1]))
}

/// Fits a local linear trend: noise variance, level and slope variance per day, free down to exactly 0.
///
/// The variances that observations carry are taken as known and come on top of the noise variance.
///
/// # Errors
/// Fewer than 4 values, no variation, a single time, or a bad observation.
pub fn fit_local_linear_trend(
    observations: &[Observation],
) -> Result<Fit<LocalLinearTrend>, StateSpaceError> {
    let spread = Spread::of(observations, 4)?;
    let parameters = [
        spread.parameter("noise variance", 0),
        spread.parameter("level variance", 1),
        spread.parameter("slope variance", 3),
    ];
    fit(observations, parameters, |variances: &[f64; 3]| {
        LocalLinearTrend::try_new(variances[1], variances[2])
    })
}

/// Rounds of trying bounds and climbing; each but the first starts from a strictly better point.
const ROUNDS: usize = 6;
/// Spread of the simplex's values at which it has found the hill.
const SIMPLEX_TOLERANCE: f64 = 1e-3;
/// Half-width of the difference quotients for slopes and for curvatures, in e-folds.
const SLOPE_STEP: f64 = 1e-4;
const CURVATURE_STEP: f64 = 1e-3;
/// Curvature per squared e-fold below which a direction counts as flat: a tenfold change of the
/// parameter then moves a log-likelihood by less than 0.001.
const FLAT: f64 = 3e-4;
/// Farthest a climbing step goes, in e-folds.
const LONGEST_STEP: f64 = 2.0;

/// The objective with its bounds, on the log scale.
struct Hill<'a, F> {
    objective: F,
    lower: Vec<f64>,
    upper: Vec<f64>,
    evaluations: &'a Cell<usize>,
}

/// Where the search stands.
struct Climb {
    log_values: Vec<f64>,
    objective: f64,
    iterations: usize,
}

enum Ending {
    Top,
    Stalled,
    OutOfIterations,
}

/// Slopes and negated curvatures of the parameters in `free`.
struct Slopes {
    free: Vec<usize>,
    gradient: DVector<f64>,
    curvature: DMatrix<f64>,
}

impl Slopes {
    fn none(n: usize) -> Self {
        let free = (0..n).collect();
        Self { free, gradient: DVector::zeros(n), curvature: DMatrix::zeros(n, n) }
    }
}

impl<F: Fn(&[f64]) -> f64> Hill<'_, F> {
    fn value(&self, log_values: &[f64]) -> f64 {
        self.evaluations.set(self.evaluations.get() + 1);
        let value = (self.objective)(log_values);
        if value.is_finite() { value } else { f64::NEG_INFINITY }
    }

    fn shifted(&self, centre: &[f64], shifts: &[(usize, f64)]) -> f64 {
        let mut log_values = centre.to_vec();
        for &(index, shift) in shifts {
            log_values[index] += shift;
        }
        self.value(&log_values)
    }

    fn clamped(&self, log_values: &[f64]) -> Vec<f64> {
        let bounds = self.lower.iter().zip(&self.upper);
        log_values.iter().zip(bounds).map(|(x, (&low, &high))| x.clamp(low, high)).collect()
    }

    fn simplex(&self, climb: &mut Climb, options: &MaximiseOptions) {
        let corner = |index: usize| {
            let mut corner = climb.log_values.clone();
            let (below, above) =
                (self.lower[index] - corner[index], self.upper[index] - corner[index]);
            corner[index] += if above >= -below { above.min(1.0) } else { below.max(-1.0) };
            corner
        };
        let mut corners = vec![climb.log_values.clone()];
        corners.extend((0..climb.log_values.len()).map(corner));
        let Ok(solver) = NelderMead::new(corners).with_sd_tolerance(SIMPLEX_TOLERANCE) else {
            return;
        };
        let limit = options.max_iterations as u64;
        let run = Executor::new(Descent(self), solver)
            .configure(|state| state.max_iters(limit))
            .timer(false)
            .run();
        // Costs never fail, so neither does the run; without one, the climb starts from the start.
        let Ok(result) = run else { return };
        climb.iterations += result.state.get_iter() as usize;
        if let Some(best) = result.state.get_best_param() {
            let best = self.clamped(best);
            self.accept_if_better(climb, best);
        }
    }

    fn accept_if_better(&self, climb: &mut Climb, candidate: Vec<f64>) -> bool {
        let objective = self.value(&candidate);
        let better = objective > climb.objective;
        if better {
            climb.log_values = candidate;
            climb.objective = objective;
        }
        better
    }

    /// Moves parameters to a bound where that is as good, and off a bound where that is better.
    fn try_bounds(&self, climb: &mut Climb) -> bool {
        let mut moved = false;
        for index in 0..climb.log_values.len() {
            let here = climb.log_values[index];
            for (bound, inwards) in [(self.lower[index], 1.0), (self.upper[index], -1.0)] {
                if here == bound {
                    moved |= self.try_inwards(climb, index, inwards);
                    continue;
                }
                let mut candidate = climb.log_values.clone();
                candidate[index] = bound;
                let objective = self.value(&candidate);
                if objective >= climb.objective - 1e-11 * (1.0 + climb.objective.abs()) {
                    *climb = Climb { log_values: candidate, objective, ..*climb };
                    moved = true;
                    break;
                }
            }
        }
        moved
    }

    fn try_inwards(&self, climb: &mut Climb, index: usize, inwards: f64) -> bool {
        let width = self.upper[index] - self.lower[index];
        [0.02, 0.1, 0.3, 0.6].iter().any(|share| {
            let mut candidate = climb.log_values.clone();
            candidate[index] += inwards * share * width;
            let objective = self.value(&candidate);
            // As much better as `try_bounds` forgives, or the two could take turns for ever.
            let better = objective > climb.objective + 1e-10 * (1.0 + climb.objective.abs());
            if better {
                climb.log_values = candidate;
                climb.objective = objective;
            }
            better
        })
    }

    /// Damped Newton steps until the slope vanishes.
    fn newton(&self, climb: &mut Climb, options: &MaximiseOptions) -> (Ending, Slopes) {
        let mut damping = 0.0;
        let mut slopes = self.slopes(climb);
        for _ in 0..options.max_iterations {
            // Rounding of a large objective limits how small a slope can be seen.
            let visible = options.gradient_tolerance.max(1e-9 * climb.objective.abs());
            if slopes.gradient.amax() <= visible {
                return (Ending::Top, slopes);
            }
            climb.iterations += 1;
            if !self.newton_step(climb, &slopes, &mut damping) {
                return (Ending::Stalled, slopes);
            }
            slopes = self.slopes(climb);
        }
        (Ending::OutOfIterations, slopes)
    }

    fn newton_step(&self, climb: &mut Climb, slopes: &Slopes, damping: &mut f64) -> bool {
        let typical = slopes.curvature.diagonal().amax().max(slopes.gradient.amax());
        for _ in 0..20 {
            let mut matrix = slopes.curvature.clone();
            for index in 0..slopes.free.len() {
                matrix[(index, index)] += *damping * typical;
            }
            if let Some(factor) = matrix.cholesky() {
                let mut step = factor.solve(&slopes.gradient);
                let longest = step.amax();
                if longest > LONGEST_STEP {
                    step *= LONGEST_STEP / longest;
                }
                let mut candidate = climb.log_values.clone();
                for (position, &index) in slopes.free.iter().enumerate() {
                    candidate[index] += step[position];
                }
                if self.accept_if_better(climb, self.clamped(&candidate)) {
                    *damping = if *damping < 1e-6 { 0.0 } else { *damping / 10.0 };
                    return true;
                }
            }
            *damping = (*damping * 10.0).max(1e-4);
        }
        false
    }

    /// Central difference quotients along the parameters that are not at a bound.
    fn slopes(&self, climb: &Climb) -> Slopes {
        let free: Vec<usize> = (0..climb.log_values.len())
            .filter(|&index| {
                let here = climb.log_values[index];
                here > self.lower[index] && here < self.upper[index]
            })
            .collect();
        // Differences are taken far enough inside for every point of theirs to keep the bounds.
        let mut centre = climb.log_values.clone();
        for &index in &free {
            let (low, high) = (self.lower[index], self.upper[index]);
            centre[index] = centre[index].clamp(low + CURVATURE_STEP, high - CURVATURE_STEP);
        }
        let gradient = DVector::from_iterator(
            free.len(),
            free.iter().map(|&index| {
                let above = self.shifted(&centre, &[(index, SLOPE_STEP)]);
                (above - self.shifted(&centre, &[(index, -SLOPE_STEP)])) / (2.0 * SLOPE_STEP)
            }),
        );
        let curvature = self.curvature(&centre, &free);
        Slopes { free, gradient, curvature }
    }

    fn curvature(&self, centre: &[f64], free: &[usize]) -> DMatrix<f64> {
        let width = CURVATURE_STEP;
        let middle = self.value(centre);
        let pairs: Vec<f64> = free
            .iter()
            .map(|&i| self.shifted(centre, &[(i, width)]) + self.shifted(centre, &[(i, -width)]))
            .collect();
        let mut curvature = DMatrix::zeros(free.len(), free.len());
        for (row, &i) in free.iter().enumerate() {
            curvature[(row, row)] = (2.0 * middle - pairs[row]) / (width * width);
            for (column, &j) in free.iter().enumerate().take(row) {
                let both = self.shifted(centre, &[(i, width), (j, width)])
                    + self.shifted(centre, &[(i, -width), (j, -width)]);
                let mixed = both - pairs[row] - pairs[column] + 2.0 * middle;
                curvature[(row, column)] = -mixed / (2.0 * width * width);
                curvature[(column, row)] = curvature[(row, column)];
            }
        }
        curvature
    }
}

/// The hill upside down and fenced, as the library's simplex wants it.
struct Descent<'a, 'b, F>(&'a Hill<'b, F>);

impl<F: Fn(&[f64]) -> f64> CostFunction for Descent<'_, '_, F> {
    type Param = Vec<f64>;
    type Output = f64;

    fn cost(&self, log_values: &Vec<f64>) -> Result<f64, argmin::core::Error> {
        let inside = self.0.clamped(log_values);
        let outside: f64 = log_values.iter().zip(&inside).map(|(x, y)| (x - y) * (x - y)).sum();
        let value = self.0.value(&inside);
        // A finite wall, since the simplex averages its corners' costs.
        Ok(if value.is_finite() { outside - value } else { 1e100 })
    }
}

fn conclude<F: Fn(&[f64]) -> f64>(
    hill: &Hill<'_, F>,
    climb: Climb,
    end: Ending,
    top: &Slopes,
    parameters: &[Parameter],
) -> Maximum {
    let verdict = match end {
        Ending::Top => flat_names(top, parameters),
        Ending::Stalled => Verdict::Stalled,
        Ending::OutOfIterations => Verdict::OutOfIterations,
    };
    let side = |index: usize| {
        let here = climb.log_values[index];
        let lower = (here == hill.lower[index]).then_some(Side::Lower);
        lower.or((here == hill.upper[index]).then_some(Side::Upper))
    };
    let at_bound = parameters.iter().enumerate();
    let at_bound = at_bound.filter_map(|(index, one)| Some((one.name, side(index)?))).collect();
    Maximum {
        objective: climb.objective,
        verdict,
        gradient_norm: top.gradient.amax(),
        iterations: climb.iterations,
        evaluations: hill.evaluations.get(),
        at_bound,
        log_values: climb.log_values,
    }
}

fn flat_names(top: &Slopes, parameters: &[Parameter]) -> Verdict {
    if top.free.is_empty() {
        return Verdict::Converged;
    }
    let eigen = top.curvature.clone().symmetric_eigen();
    let mut flat = vec![false; parameters.len()];
    for (position, &value) in eigen.eigenvalues.iter().enumerate() {
        if value < FLAT {
            for (row, &index) in top.free.iter().enumerate() {
                flat[index] |= eigen.eigenvectors[(row, position)].abs() > 0.3;
            }
        }
    }
    if !flat.contains(&true) {
        return Verdict::Converged;
    }
    let named = parameters.iter().zip(&flat).filter(|(_, is_flat)| **is_flat);
    Verdict::FlatAlong(named.map(|(parameter, _)| parameter.name).collect())
}

fn check_parameter(parameter: &Parameter) -> Result<(), StateSpaceError> {
    let &Parameter { name, start, lower, upper } = parameter;
    let ordered = lower > 0.0 && lower <= start && start <= upper && upper >= 1.01 * lower;
    if ordered && upper.is_finite() {
        return Ok(());
    }
    Err(StateSpaceError::BadParameter { name, start, lower, upper })
}

/// How much a series varies and how densely it is observed: the scale for bounds and starts.
struct Spread {
    variance: f64,
    gap_days: f64,
}

impl Spread {
    fn of(observations: &[Observation], need: usize) -> Result<Self, StateSpaceError> {
        if observations.is_empty() {
            return Err(StateSpaceError::EmptySeries);
        }
        for observation in observations {
            observation.check()?;
        }
        let seen = || observations.iter().filter_map(|one| Some((one.time_days, one.value?)));
        let got = seen().count();
        let (Some((first, _)), Some((last, _)), true) =
            (seen().next(), seen().next_back(), got >= need)
        else {
            return Err(StateSpaceError::TooShort { got, need });
        };
        if last < first {
            return Err(StateSpaceError::TimeBackwards { from: first, to: last });
        }
        if last == first {
            return Err(StateSpaceError::OneTime { time_days: first });
        }
        let mean = seen().map(|(_, value)| value).sum::<f64>() / got as f64;
        let variance = seen().map(|(_, value)| (value - mean).powi(2)).sum::<f64>() / got as f64;
        if !variance.is_finite() {
            return Err(StateSpaceError::Overflow { time_days: first });
        }
        // Values that differ by rounding alone do not vary.
        if variance.sqrt() <= 1e-13 * mean.abs() || variance < f64::MIN_POSITIVE {
            return Err(StateSpaceError::Constant);
        }
        Ok(Self { variance, gap_days: (last - first) / (got - 1) as f64 })
    }

    /// A variance in units of the observations squared, per day to the power `per_days`. Its lower
    /// bound stands for 0.
    fn parameter(&self, name: &'static str, per_days: i32) -> Parameter {
        let unit = self.variance / self.gap_days.powi(per_days);
        let lower = if per_days > 1 { 1e-15 } else { 1e-10 };
        Parameter { name, start: unit, lower: lower * unit, upper: 1e2 * unit }
    }
}

fn fit<M: Model<D>, const D: usize, const P: usize>(
    observations: &[Observation],
    mut parameters: [Parameter; P],
    build: impl Fn(&[f64; P]) -> Result<M, StateSpaceError>,
) -> Result<Fit<M>, StateSpaceError> {
    let start = Start::<D>::diffuse();
    let lowest = parameters.map(|parameter| parameter.lower.ln());
    let variances = |log_values: &[f64]| {
        let mut variances = [0.0; P];
        for index in 0..P {
            // Exactly 0 at the bound, so that "no slope variance" is tried for what it is.
            let at_bound = log_values[index] <= lowest[index];
            variances[index] = if at_bound { 0.0 } else { log_values[index].exp() };
        }
        variances
    };
    let likelihood = |variances: &[f64; P]| {
        let noisy = observations
            .iter()
            .map(|known| Observation { variance: known.variance + variances[0], ..*known });
        log_likelihood(&build(variances)?, &start, noisy)
    };
    let objective = |log_values: &[f64]| {
        likelihood(&variances(log_values))
            .map_or(f64::NEG_INFINITY, |one| one.total(Convention::EveryObservation))
    };
    let units = parameters.map(|parameter| parameter.start);
    let best = best_start(&units, &objective);
    for (parameter, share) in parameters.iter_mut().zip(best) {
        parameter.start *= share;
    }
    // An error that every start meets is the data's, and is reported as such.
    likelihood(&parameters.map(|parameter| parameter.start))?;
    let maximum = maximise(objective, &parameters, &MaximiseOptions::default())?;
    let estimates = variances(&maximum.log_values);
    let log_likelihood = likelihood(&estimates)?;
    Ok(Fit { model: build(&estimates)?, noise_variance: estimates[0], log_likelihood, maximum })
}

/// The best of a small grid of shares of the spread: much or little noise, fast or slow drift.
fn best_start<const P: usize>(units: &[f64; P], objective: &impl Fn(&[f64]) -> f64) -> [f64; P] {
    const SHARES: [[f64; 2]; 3] = [[0.8, 0.1], [0.3, 0.01], [1e-3, 1e-7]];
    let mut best = ([1.0; P], f64::NEG_INFINITY);
    for choice in 0..1_usize << P {
        let shares: [f64; P] =
            std::array::from_fn(|index| SHARES[index.min(2)][(choice >> index) & 1]);
        let log_values: [f64; P] = std::array::from_fn(|index| (units[index] * shares[index]).ln());
        let value = objective(&log_values);
        if value > best.1 {
            best = (shares, value);
        }
    }
    best.0
}
