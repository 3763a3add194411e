//! The covariance between persons with the least criterion: EM, then Newton steps.
//!
//! Formulas are those of the [module](super). The criterion itself is computed elsewhere. Nothing is
//! random.

use nalgebra::{DMatrix, DVector};

use super::PoolingError;
use super::criterion::{Person, Point, Problem};
use super::elsewhere::elsewhere;
use super::structure::Between;

/// How the search ended.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// At a minimum over all covariances of the structure, and none lower was found where the spread of a
    /// component, or of all, is quite another.
    Converged,
    /// At a minimum, but the data do not say how much persons differ in these components (positions,
    /// from 0), since fewer than two persons know them: their spread is where the search started and
    /// means nothing.
    FlatAlong(Vec<usize>),
    /// There is a slope left, but no step along it is an improvement in double precision.
    Stalled,
    /// Stopped by the limit on iterations.
    OutOfIterations,
}

/// How the search went.
#[derive(Clone, Debug, PartialEq)]
pub struct Search {
    /// How it ended.
    pub verdict: Verdict,
    /// Greatest slope left of −2 ln L_R, per step of one natural scale of a component.
    pub slope: f64,
    /// EM and Newton steps on the way there.
    pub iterations: usize,
    /// How often the criterion was computed.
    pub evaluations: usize,
    /// Varying components (positions, from 0) in which no spread was found: their variance is exactly 0.
    pub without_spread: Vec<usize>,
    /// Rank of Σ; less than the number of varying components on the boundary.
    pub rank: usize,
}

/// The minimum.
#[derive(Clone, Debug)]
pub(super) struct Found {
    /// Factor L of Σ = LL' (q × q).
    pub(super) factor: DMatrix<f64>,
    pub(super) point: Point,
    pub(super) search: Search,
}

/// EM steps before Newton's.
const EM_STEPS: usize = 20;
/// Most Newton steps, in each round.
const NEWTON_STEPS: usize = 60;
/// Rounds of Newton steps, each but the first from a better point; and valleys left for a lower one.
const ROUNDS: usize = 6;
/// Share of the criterion by which another valley must be lower.
const LOWER: f64 = 1e-9;
/// Slope that counts as none, in units of the criterion per natural scale.
const FLOOR: f64 = 1e-7;
/// Half-width of the difference quotients of the slope, in natural scales.
const WIDTH: f64 = 1e-5;
/// Share of the greatest curvature that counts as flat, about the rounding of a difference quotient.
const FLAT: f64 = 1e-9;
/// Farthest a Newton step goes, in natural scales.
const LONGEST_STEP: f64 = 2.0;
/// Evidence below which a spread is unknown.
const NO_EVIDENCE: f64 = 1e-6;
/// Share of a natural variance that counts as zero when directions of Σ are counted.
const NO_VARIANCE: f64 = 1e-9;

/// Minimises the criterion over the covariances of the structure.
pub(super) fn minimise(problem: &Problem) -> Result<Found, PoolingError> {
    let valley = Valley::new(problem)?;
    if problem.layout.varying.is_empty() {
        return Ok(valley.conclude(&Ending::Floor));
    }
    let (mut valley, mut end) = valley.descend();
    for _ in 0..ROUNDS {
        let Some(lower) = valley.lower_one() else { break };
        (valley, end) = lower;
    }
    Ok(valley.conclude(&end))
}

enum Ending {
    Floor,
    Stalled,
    OutOfIterations,
}

/// Where the search stands.
struct Valley<'a> {
    problem: &'a Problem,
    /// Sampling variance of each varying component, of a typical person.
    sampling: DVector<f64>,
    /// Natural scale of each varying component.
    scales: DVector<f64>,
    factor: DMatrix<f64>,
    /// Row and column of every element of the factor that may move.
    free: Vec<(usize, usize)>,
    point: Point,
    iterations: usize,
    evaluations: usize,
}

impl<'a> Valley<'a> {
    /// Starts from independent components, each as spread as a typical person is vague.
    fn new(problem: &'a Problem) -> Result<Self, PoolingError> {
        let sampling = sampling_variances(problem);
        let factor = DMatrix::from_diagonal(&sampling.map(f64::sqrt));
        Self::starting_at(problem, sampling, factor).ok_or(PoolingError::OutOfRange)
    }

    fn starting_at(
        problem: &'a Problem,
        sampling: DVector<f64>,
        factor: DMatrix<f64>,
    ) -> Option<Self> {
        let scales = sampling.map(f64::sqrt);
        let point = problem.at(&factor)?;
        let free = (0..scales.len()).map(|row| (row, row)).collect();
        Some(Self { problem, sampling, scales, factor, free, point, iterations: 0, evaluations: 1 })
    }

    /// Goes down to a floor.
    fn descend(mut self) -> (Self, Ending) {
        self.expectation_maximisation();
        let mut end = Ending::Floor;
        for _ in 0..ROUNDS {
            end = self.newton();
            let moved = self.try_zeros();
            if !(self.escape() || moved) {
                break;
            }
        }
        (self, end)
    }

    /// A lower valley than this one, descended into, if one is found.
    fn lower_one(&mut self) -> Option<(Self, Ending)> {
        let scales = self.sampling.map(f64::sqrt);
        let level = self.point.criterion - LOWER * (1.0 + self.point.criterion.abs());
        for start in elsewhere(self.problem, &scales, &self.factor) {
            let other = Self::starting_at(self.problem, self.sampling.clone(), start)?;
            let (mut other, end) = other.descend();
            if other.point.criterion < level {
                other.evaluations += self.evaluations;
                return Some((other, end));
            }
            self.evaluations += other.evaluations;
        }
        None
    }

    /// EM steps, which never climb.
    fn expectation_maximisation(&mut self) {
        let n_persons = n_known(self.problem);
        for _ in 0..EM_STEPS {
            let spread = self.spread();
            let mut next = &spread * n_persons - &spread * &self.point.data_slope * &spread;
            let mut weight = n_persons;
            if let Some(prior) = &self.problem.spread_prior {
                let sds = prior.sds.select_rows(&self.problem.layout.varying);
                next += DMatrix::from_diagonal(&sds.map(|sd| sd * sd * prior.persons));
                weight += prior.persons;
            }
            let Some(factor) = self.in_structure(next / weight).cholesky() else { break };
            if !self.try_factor(factor.unpack(), |old, new| new <= old) {
                break;
            }
            self.iterations += 1;
        }
    }

    /// Newton steps on the factor's free elements until the slope vanishes.
    fn newton(&mut self) -> Ending {
        self.scales = (self.spread().diagonal() + &self.sampling).map(f64::sqrt);
        for _ in 0..NEWTON_STEPS {
            self.order_by_spread();
            let slope = self.free_slope(&self.factor, &self.point);
            if amax(&slope) <= self.floor() {
                return Ending::Floor;
            }
            let Some(curvature) = self.curvature() else { return Ending::Stalled };
            if !self.newton_step(&slope, curvature) {
                return Ending::Stalled;
            }
            self.iterations += 1;
        }
        Ending::OutOfIterations
    }

    /// Turns the factor so that it is triangular with the components in order of the spread that those
    /// before them leave, in natural scales. With a small one first, its correlations could turn at no
    /// cost, and the valley would be long and bent.
    fn order_by_spread(&mut self) {
        if self.problem.layout.between == Between::Diagonal {
            return;
        }
        let q = self.scales.len();
        let scaled = DMatrix::from_diagonal(&self.scales.map(f64::recip)) * &self.factor;
        let decomposed = scaled.transpose().col_piv_qr();
        let triangle = decomposed.r().transpose();
        let mut order = DMatrix::from_fn(1, q, |_, component| component);
        decomposed.p().permute_columns(&mut order);
        let mut factor = DMatrix::zeros(q, q);
        self.free.clear();
        for (position, &component) in order.iter().enumerate() {
            for column in 0..=position {
                let element = triangle[(position, column)];
                factor[(component, column)] = element * self.scales[component];
                self.free.push((component, column));
            }
        }
        self.evaluations += 1;
        if let Some(point) = self.problem.at(&factor) {
            (self.factor, self.point) = (factor, point);
        }
    }

    /// A step along each principal direction by slope ÷ |curvature|, so that it goes down a ridge as well
    /// as into a bowl. Where Σ is singular some turns of the factor leave it as it is: along these there
    /// is neither slope nor curvature, which must not slow down the rest.
    fn newton_step(&mut self, slope: &DVector<f64>, curvature: DMatrix<f64>) -> bool {
        if curvature.iter().any(|element| !element.is_finite()) {
            return false;
        }
        let eigen = curvature.symmetric_eigen();
        let least = FLAT * eigen.eigenvalues.amax().max(slope.amax());
        let along = eigen.eigenvectors.tr_mul(slope);
        let along = along.zip_map(&eigen.eigenvalues, |slope, bend| -slope / bend.abs().max(least));
        let mut step = eigen.eigenvectors * along;
        let longest = step.amax();
        if longest > LONGEST_STEP {
            step *= LONGEST_STEP / longest;
        }
        for _ in 0..40 {
            if self.try_step(&step, slope) {
                return true;
            }
            step *= 0.5;
        }
        false
    }

    /// Takes the step where it goes down. Near the floor rounding hides the criterion's fall, but not the
    /// slope's.
    fn try_step(&mut self, step: &DVector<f64>, slope: &DVector<f64>) -> bool {
        let factor = self.moved(step);
        self.evaluations += 1;
        let Some(next) = self.problem.at(&factor) else { return false };
        let rounding = 1e-12 * (1.0 + self.point.criterion.abs());
        let fall = self.point.criterion - next.criterion;
        let gentler = || self.free_slope(&factor, &next).norm() < slope.norm();
        let better = fall > rounding || (fall >= -rounding && gentler());
        if better {
            (self.factor, self.point) = (factor, next);
        }
        better
    }

    /// Sets a component's spread to exactly 0 where that is as good, unless the data say nothing of it:
    /// there zero would be as good as any, and claim too much.
    fn try_zeros(&mut self) -> bool {
        let mut moved = false;
        for row in 0..self.factor.nrows() {
            let already = self.factor.row(row).iter().all(|&element| element == 0.0);
            if already || self.problem.evidence_of_spread(&self.point)[row] <= NO_EVIDENCE {
                continue;
            }
            let mut factor = self.factor.clone();
            factor.row_mut(row).fill(0.0);
            moved |= self.try_factor(factor, |old, new| new <= old + 1e-11 * (1.0 + old.abs()));
        }
        moved
    }

    /// A direction in which Σ vanishes although some spread would be better, if there is one: there the
    /// slope in the factor is 0 without a minimum.
    fn saddle(&self) -> Option<DVector<f64>> {
        let directions = self.empty_directions();
        let slopes = self.in_structure(directions.tr_mul(&self.point.slope) * &directions);
        if slopes.is_empty() || slopes.iter().any(|slope| !slope.is_finite()) {
            return None;
        }
        let eigen = slopes.symmetric_eigen();
        let (steepest, slope) = eigen.eigenvalues.argmin();
        (slope < -10.0 * self.floor()).then(|| directions * eigen.eigenvectors.column(steepest))
    }

    /// Leaves a saddle by some spread along its direction.
    fn escape(&mut self) -> bool {
        let Some(direction) = self.saddle() else { return false };
        let jitter = DMatrix::from_diagonal(&self.scales.map(|scale| 1e-12 * scale * scale));
        let spread = self.spread() + jitter;
        [0.3, 0.03, 3e-3, 3e-4, 3e-5].iter().any(|&share| {
            let wider = self.in_structure(&spread + &direction * direction.transpose() * share);
            wider
                .cholesky()
                .is_some_and(|factor| self.try_factor(factor.unpack(), |old, new| new < old))
        })
    }

    /// Directions in which Σ vanishes, one natural scale long each (q × any number).
    fn empty_directions(&self) -> DMatrix<f64> {
        let scales = DMatrix::from_diagonal(&self.scales);
        let eigen = self.scaled_spread().symmetric_eigen();
        let empty: Vec<usize> =
            (0..self.scales.len()).filter(|&k| eigen.eigenvalues[k] < NO_VARIANCE).collect();
        scales * eigen.eigenvectors.select_columns(&empty)
    }

    fn conclude(self, end: &Ending) -> Found {
        let varying = &self.problem.layout.varying;
        let has_prior = self.problem.spread_prior.is_some();
        let evidence = self.problem.evidence_of_spread(&self.point);
        let unknown: Vec<usize> = varying
            .iter()
            .zip(evidence)
            .filter(|&(_, evidence)| !has_prior && evidence <= NO_EVIDENCE)
            .map(|(&component, _)| component)
            .collect();
        let at_saddle = !varying.is_empty() && self.saddle().is_some();
        let verdict = match end {
            Ending::Floor if at_saddle => Verdict::Stalled,
            Ending::Floor if unknown.is_empty() => Verdict::Converged,
            Ending::Floor => Verdict::FlatAlong(unknown),
            Ending::Stalled => Verdict::Stalled,
            Ending::OutOfIterations => Verdict::OutOfIterations,
        };
        let without_spread = varying
            .iter()
            .zip(self.factor.row_iter())
            .filter(|(_, row)| row.iter().all(|&element| element == 0.0))
            .map(|(&component, _)| component)
            .collect();
        // The library has no eigenvalues of an empty matrix.
        let rank = if varying.is_empty() {
            0
        } else {
            let variances = self.scaled_spread().symmetric_eigenvalues();
            variances.iter().filter(|&&variance| variance >= NO_VARIANCE).count()
        };
        let search = Search {
            verdict,
            slope: amax(&self.free_slope(&self.factor, &self.point)),
            iterations: self.iterations,
            evaluations: self.evaluations,
            without_spread,
            rank,
        };
        Found { factor: self.factor, point: self.point, search }
    }

    /// Moves to `factor` where `accept` (old criterion, new criterion) says so.
    fn try_factor(&mut self, factor: DMatrix<f64>, accept: impl Fn(f64, f64) -> bool) -> bool {
        self.evaluations += 1;
        let Some(next) = self.problem.at(&factor) else { return false };
        let accepted = accept(self.point.criterion, next.criterion);
        if accepted {
            (self.factor, self.point) = (factor, next);
        }
        accepted
    }

    fn spread(&self) -> DMatrix<f64> {
        &self.factor * self.factor.transpose()
    }

    /// Σ with each component in its natural scale.
    fn scaled_spread(&self) -> DMatrix<f64> {
        let scaled = DMatrix::from_diagonal(&self.scales.map(f64::recip)) * &self.factor;
        &scaled * scaled.transpose()
    }

    /// Symmetric to the last bit, and without correlations where there are to be none.
    fn in_structure(&self, matrix: DMatrix<f64>) -> DMatrix<f64> {
        match self.problem.layout.between {
            Between::Full => 0.5 * (&matrix + matrix.transpose()),
            Between::Diagonal => DMatrix::from_diagonal(&matrix.diagonal()),
        }
    }

    /// The factor after a step of its free elements, in natural scales.
    fn moved(&self, step: &DVector<f64>) -> DMatrix<f64> {
        let mut factor = self.factor.clone();
        for (&(row, column), change) in self.free.iter().zip(step) {
            factor[(row, column)] += self.scales[row] * change;
        }
        factor
    }

    /// Derivative of the criterion in the factor's free elements, 2 G L, in natural scales.
    fn free_slope(&self, factor: &DMatrix<f64>, point: &Point) -> DVector<f64> {
        let slope = &point.slope * factor * 2.0;
        let element = |&(row, column): &(usize, usize)| slope[(row, column)] * self.scales[row];
        DVector::from_iterator(self.free.len(), self.free.iter().map(element))
    }

    /// Second derivatives: central difference quotients of the slope.
    fn curvature(&mut self) -> Option<DMatrix<f64>> {
        let n = self.free.len();
        let mut curvature = DMatrix::zeros(n, n);
        for element in 0..n {
            let mut step = DVector::zeros(n);
            step[element] = WIDTH;
            let (above, below) = (self.moved(&step), self.moved(&-step));
            self.evaluations += 2;
            let slopes = self.free_slope(&above, &self.problem.at(&above)?)
                - self.free_slope(&below, &self.problem.at(&below)?);
            curvature.set_column(element, &(slopes / (2.0 * WIDTH)));
        }
        Some(0.5 * (&curvature + curvature.transpose()))
    }

    fn floor(&self) -> f64 {
        FLOOR.max(1e-11 * self.point.criterion.abs())
    }
}

/// Sampling variance of each varying component for a person of average precision; where nobody knows
/// anything, the guessed spread or 1.
pub(super) fn sampling_variances(problem: &Problem) -> DVector<f64> {
    let layout = &problem.layout;
    let n = layout.n_components;
    let add = |sum: DMatrix<f64>, person: &Person| sum + person.root.tr_mul(&person.root);
    let average = problem.persons.iter().fold(DMatrix::zeros(n, n), add) / n_known(problem);
    let sizes = average.diagonal().map(|value: f64| if value > 0.0 { value.sqrt() } else { 1.0 });
    let inverse_sizes = DMatrix::from_diagonal(&sizes.map(f64::recip));
    let eigen = (&inverse_sizes * &average * &inverse_sizes).symmetric_eigen();
    let variance = |&component: &usize| {
        let variance: f64 = (0..n)
            .filter(|&k| eigen.eigenvalues[k] > 1e-12)
            .map(|k| eigen.eigenvectors[(component, k)].powi(2) / eigen.eigenvalues[k])
            .sum();
        if average[(component, component)] > 0.0 && variance > 0.0 {
            return variance / (sizes[component] * sizes[component]);
        }
        problem.spread_prior.as_ref().map_or(1.0, |prior| prior.sds[component].powi(2))
    };
    DVector::from_iterator(layout.n_varying(), layout.varying.iter().map(variance))
}

/// How many persons there are of whom anything is known, at least 1: the others must not move where a search begins.
fn n_known(problem: &Problem) -> f64 {
    let known = problem.persons.iter().filter(|person| person.root.nrows() > 0).count();
    known.max(1) as f64
}

/// Greatest magnitude, 0 for none.
fn amax(vector: &DVector<f64>) -> f64 {
    vector.iter().fold(0.0, |most: f64, value| most.max(value.abs()))
}

#[cfg(test)]
mod tests {
    use super::super::criterion::Noise;
    use super::super::structure::{Layout, Structure};
    use super::*;

    /// Two components known to a standard error of 1, four persons far apart along one line.
    fn apart(structure: &Structure) -> Problem {
        let person = |far: f64| Person {
            root: DMatrix::identity(2, 2),
            seen: DVector::from_vec(vec![5.0 * far, -3.0 * far]),
        };
        Problem {
            layout: Layout::of(structure),
            persons: [-2.0, -1.0, 1.0, 2.0].map(person).to_vec(),
            anchor: None,
            noise: Noise::Known,
            spread_prior: None,
        }
    }

    // At Σ = 0 the slope in the factor is exactly 0, so that Newton steps alone would stay there.
    #[test]
    fn a_saddle_is_seen_and_left() {
        for structure in [Structure::full(2), Structure::diagonal(2)] {
            let problem = apart(&structure);
            let least = minimise(&problem).unwrap();
            let mut valley = Valley::new(&problem).unwrap();
            assert!(valley.try_factor(DMatrix::zeros(2, 2), |_, _| true));
            assert!(matches!(valley.newton(), Ending::Floor), "Σ = 0 is stationary");
            assert!(valley.point.criterion > least.point.criterion + 1.0);
            assert!(valley.saddle().is_some());
            let mut rounds = 0;
            while valley.escape() && rounds < 5 {
                valley.newton();
                rounds += 1;
            }
            assert!((1..5).contains(&rounds), "left {rounds} saddles");
            let gap = valley.point.criterion - least.point.criterion;
            assert!(gap.abs() < 1e-9, "gap {gap:e}");
        }
    }

    #[test]
    fn a_search_that_ends_on_a_saddle_does_not_say_converged() {
        let problem = apart(&Structure::full(2));
        let mut valley = Valley::new(&problem).unwrap();
        assert!(valley.try_factor(DMatrix::zeros(2, 2), |_, _| true));
        let ending = valley.newton();
        assert_eq!(valley.conclude(&ending).search.verdict, Verdict::Stalled);
    }
}
