//! The linear mixed model for persons measured repeatedly, on the pooling of [`super::pool()`].
//!
//! y_i = X_i θ_i + e_i, where the components of θ_i vary between persons, are common, or are centred
//! (see [`Component`](super::Component)); noise of one variance for all. A design with fixed effects X
//! and random effects Z has the columns of both, each once. Formulas: Lindstrom & Bates 1988, Bates et
//! al. 2015, J Stat Softw 67(1), section 3.4. Correlated noise is not handled.

use nalgebra::{DMatrix, DVector};

use super::PoolingError;
use super::criterion::{Noise, Person, Problem};
use super::estimate::check;
use super::pool::Shrunk;
use super::search::{Search, minimise, sampling_variances};
use super::structure::{Layout, Structure};

/// One person's measurements, reduced to what the model needs of them.
#[derive(Clone, Debug, PartialEq)]
pub struct RepeatedMeasures {
    person: Person,
    residual_squares: f64,
    n: usize,
}

/// A fitted linear mixed model.
#[derive(Clone, Debug, PartialEq)]
pub struct RepeatedFit {
    /// Fixed effects (p); 0 for centred components.
    pub mean: DVector<f64>,
    /// Their covariance as estimates (p × p), given the variances.
    pub mean_covariance: DMatrix<f64>,
    /// Covariance between persons (p × p); 0 for common components.
    pub spread: DMatrix<f64>,
    /// Variance of the noise.
    pub noise_variance: f64,
    /// −2 ln of the restricted likelihood of the measurements.
    pub criterion: f64,
    /// How the search for the spread went.
    pub search: Search,
    /// Every person's own components, in the order given; less `mean`, their random effects.
    pub persons: Vec<Shrunk>,
}

impl RepeatedMeasures {
    /// Reduces a person's `response` (n) under `design` (n × p).
    ///
    /// # Errors
    /// Sizes that differ, or numbers that aren't finite.
    pub fn new(design: &DMatrix<f64>, response: &DVector<f64>) -> Result<Self, PoolingError> {
        let n = response.len();
        check("response", response.as_slice(), n, n)?;
        check("design", design.as_slice(), design.nrows(), n)?;
        if n == 0 {
            let person = Person { root: design.clone(), seen: response.clone() };
            return Ok(Self { person, residual_squares: 0.0, n });
        }
        let decomposed = design.clone().qr();
        let basis = decomposed.q();
        let seen = basis.tr_mul(response);
        // Measurements less their projection: the sum of squares would cancel if taken as a difference.
        let residual_squares = (response - basis * &seen).norm_squared();
        Ok(Self { person: Person { root: decomposed.r(), seen }, residual_squares, n })
    }

    /// The person's own least-squares estimate (p), of least norm where the design leaves it open.
    #[must_use]
    pub fn least_squares(&self) -> DVector<f64> {
        let p = self.person.root.ncols();
        if self.n == 0 {
            return DVector::zeros(p);
        }
        let decomposed = self.person.root.clone().svd(true, true);
        let tolerance = 1e-12 * decomposed.singular_values.amax();
        decomposed.solve(&self.person.seen, tolerance).unwrap_or_else(|_| DVector::zeros(p))
    }

    /// X'X (p × p).
    #[must_use]
    pub fn information(&self) -> DMatrix<f64> {
        self.person.root.tr_mul(&self.person.root)
    }

    /// Sum of squares about [`RepeatedMeasures::least_squares`].
    #[must_use]
    pub fn residual_squares(&self) -> f64 {
        self.residual_squares
    }
}

/// Fits the model by restricted maximum likelihood, the noise variance profiled out.
///
/// # Errors
/// Nobody, sizes that differ, a mean that the measurements don't tell, too few measurements to tell noise
/// from spread, or measurements without noise.
pub fn fit_repeated(
    people: &[RepeatedMeasures],
    structure: &Structure,
) -> Result<RepeatedFit, PoolingError> {
    let layout = Layout::of(structure);
    check_sizes(people, &layout)?;
    let n_seen: usize = people.iter().map(|one| one.person.seen.len()).sum();
    let n_all: usize = people.iter().map(|one| one.n).sum();
    let spare_squares = people.iter().map(|one| one.residual_squares).sum();
    let problem = Problem {
        layout,
        persons: people.iter().map(|one| one.person.clone()).collect(),
        anchor: None,
        noise: Noise::Estimated { spare_squares, n_spare: n_all - n_seen },
        spread_prior: None,
    };
    problem.check_means()?;
    check_noise(&problem, people)?;
    let found = minimise(&problem)?;
    let (factor, point) = (found.factor, found.point);
    let persons = problem.shrunk(&factor, &point).ok_or(PoolingError::OutOfRange)?;
    let spread = problem.layout.embed_varying(&(&factor * factor.transpose()));
    Ok(RepeatedFit {
        mean: point.mean,
        mean_covariance: point.mean_covariance * point.noise_variance,
        spread: spread * point.noise_variance,
        noise_variance: point.noise_variance,
        criterion: point.criterion,
        search: found.search,
        persons,
    })
}

/// Somebody must be measured more often than components vary, and all together than there are means.
fn check_sizes(people: &[RepeatedMeasures], layout: &Layout) -> Result<(), PoolingError> {
    let n_components = layout.n_components;
    if people.is_empty() {
        return Err(PoolingError::NoPersons);
    }
    if n_components == 0 {
        return Err(PoolingError::NoComponents);
    }
    for one in people {
        let got = one.person.root.ncols();
        if got != n_components {
            return Err(PoolingError::Size { what: "design", got, need: n_components });
        }
    }
    let n_varying = layout.n_varying();
    let got: usize = people.iter().map(|one| one.n).sum();
    let most = people.iter().map(|one| one.n).max().unwrap_or(0);
    let need = layout.with_mean.len() + 1;
    if got < need {
        return Err(PoolingError::TooFewMeasurements { got, need });
    }
    if most <= n_varying {
        return Err(PoolingError::MeasuredTooSeldom { got: most, need: n_varying + 1 });
    }
    Ok(())
}

/// Refuses measurements that persons' own components and the common ones explain without rest: the
/// likelihood then grows without end as the noise shrinks. The rest is what is left at a very wide spread.
fn check_noise(problem: &Problem, people: &[RepeatedMeasures]) -> Result<(), PoolingError> {
    /// Standard deviation between persons, in units of a typical person's standard error.
    const VERY_WIDE: f64 = 1e7;
    /// Share of the variance about the common components that is rounding.
    const ROUNDING: f64 = 1e-12;
    let q = problem.layout.n_varying();
    let wide = DMatrix::from_diagonal(&sampling_variances(problem).map(f64::sqrt)) * VERY_WIDE;
    let noise =
        |factor: &DMatrix<f64>| problem.at(factor).map_or(0.0, |point| point.noise_variance);
    let (alone, apart) = (noise(&DMatrix::zeros(q, q)), noise(&wide));
    let squares = |one: &RepeatedMeasures| one.person.seen.norm_squared() + one.residual_squares;
    let n: usize = people.iter().map(|one| one.n).sum();
    let all = people.iter().map(squares).sum::<f64>() / n as f64;
    if apart > ROUNDING * alone && alone > ROUNDING * ROUNDING * all {
        return Ok(());
    }
    Err(PoolingError::NoResidual)
}
