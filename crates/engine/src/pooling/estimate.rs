//! One person's estimate with its precision, and how to take a prior out of it again.
//!
//! Precision (inverse covariance) rather than covariance is kept, since it can say "nothing known" of a
//! component or of a combination of components. The numbers themselves are estimated elsewhere.

use nalgebra::{DMatrix, DVector};

use super::PoolingError;
use super::criterion::Person;
use super::structure::embed;

/// An estimate of a vector of components, with its precision. Components may be unknown.
#[derive(Clone, Debug, PartialEq)]
pub struct Estimate {
    mean: DVector<f64>,
    precision: DMatrix<f64>,
}

/// A direction in which the posterior is less than this much more precise than the prior, in units of
/// the prior's precision, counts as one of which the data say nothing: what is left there after taking
/// the prior out is a small difference of large numbers.
const LEAST_LEARNT: f64 = 0.01;
/// Entries across the diagonal may differ by this share of √(row's variance × column's variance).
const ASYMMETRY: f64 = 1e-8;
/// A direction with less than this share of the greatest precision, components scaled alike, is rounding.
const ROUNDING: f64 = 1e-13;
/// A precision this far below zero, on the same scale, is more than rounding.
const NEGATIVE: f64 = 1e-9;

impl Estimate {
    /// All components known: `mean` (p) with its sampling covariance (p × p, positive definite).
    ///
    /// # Errors
    /// Sizes that differ, numbers that aren't finite, or a covariance that isn't positive definite.
    pub fn from_covariance(
        mean: DVector<f64>,
        covariance: &DMatrix<f64>,
    ) -> Result<Self, PoolingError> {
        let what = "covariance";
        check("mean", mean.as_slice(), mean.len(), mean.len().max(1))?;
        let scaled = Scaled::of(what, covariance, mean.len())?;
        let factor = scaled.matrix.cholesky().ok_or(PoolingError::NotPositive { what })?;
        let inverse = factor.inverse();
        let unscaled = |row: usize, column: usize| {
            inverse[(row, column)] / (scaled.sizes[row] * scaled.sizes[column])
        };
        let precision = DMatrix::from_fn(mean.len(), mean.len(), unscaled);
        check(what, precision.as_slice(), mean.len(), mean.len())?;
        Ok(Self { mean, precision })
    }

    /// `mean` (p) with its precision (p × p, positive semidefinite). Where the precision is zero the mean
    /// means nothing, but must be a number.
    ///
    /// # Errors
    /// Sizes that differ, numbers that aren't finite, or a negative precision.
    pub fn from_precision(
        mean: DVector<f64>,
        precision: DMatrix<f64>,
    ) -> Result<Self, PoolingError> {
        let what = "precision";
        check("mean", mean.as_slice(), mean.len(), mean.len().max(1))?;
        let scaled = Scaled::of(what, &precision, mean.len())?;
        if scaled.matrix.symmetric_eigenvalues().iter().any(|&value| value < -NEGATIVE) {
            return Err(PoolingError::NegativePrecision { what });
        }
        Ok(Self { mean, precision: 0.5 * (&precision + precision.transpose()) })
    }

    /// Only some of `n` components known, those at `components` (ascending, from 0): their `mean` and
    /// sampling covariance.
    ///
    /// # Errors
    /// As [`Estimate::from_covariance`], or `components` out of order or beyond `n`.
    pub fn of_components(
        n: usize,
        components: &[usize],
        mean: &DVector<f64>,
        covariance: &DMatrix<f64>,
    ) -> Result<Self, PoolingError> {
        for (before, &got) in components.iter().enumerate() {
            if got >= n || (before > 0 && components[before - 1] >= got) {
                return Err(PoolingError::BadComponents { got, before, need: n });
            }
        }
        check("mean", mean.as_slice(), mean.len(), components.len())?;
        let known = Self::from_covariance(mean.clone(), covariance)?;
        let mut whole = DVector::zeros(n);
        for (&component, &value) in components.iter().zip(&known.mean) {
            whole[component] = value;
        }
        Ok(Self { mean: whole, precision: embed(&known.precision, components, n) })
    }

    /// A person of whom nothing is known in any of `n` components.
    #[must_use]
    pub fn nothing(n: usize) -> Self {
        Self { mean: DVector::zeros(n), precision: DMatrix::zeros(n, n) }
    }

    /// The estimate (p). Where the precision is zero it means nothing.
    #[must_use]
    pub fn mean(&self) -> &DVector<f64> {
        &self.mean
    }

    /// Inverse of the sampling covariance (p × p), zero for what isn't known.
    #[must_use]
    pub fn precision(&self) -> &DMatrix<f64> {
        &self.precision
    }

    /// How many components, p.
    #[must_use]
    pub fn n_components(&self) -> usize {
        self.mean.len()
    }

    /// As independent observations with unit noise, as many as there are directions known: W = R'R.
    pub(super) fn whitened(&self) -> Result<Person, PoolingError> {
        let scaled = Scaled::of("precision", &self.precision, self.mean.len())?;
        let sizes = scaled.sizes;
        let eigen = scaled.matrix.symmetric_eigen();
        let greatest = eigen.eigenvalues.iter().fold(0.0, |most: f64, &value| most.max(value));
        let known: Vec<usize> =
            (0..self.mean.len()).filter(|&k| eigen.eigenvalues[k] > ROUNDING * greatest).collect();
        let root = DMatrix::from_fn(known.len(), self.mean.len(), |row, column| {
            // Rounding must not make something of a component of which nothing is known.
            if self.precision[(column, column)] <= 0.0 {
                return 0.0;
            }
            let k = known[row];
            eigen.eigenvalues[k].sqrt() * eigen.eigenvectors[(column, k)] * sizes[column]
        });
        let seen = &root * &self.mean;
        Ok(Person { root, seen })
    }
}

/// Takes the prior N(`prior_mean`, `prior_covariance`) out of a posterior mean and precision: what the
/// person's own data said.
///
/// For a normal posterior this is exact: precision H − Σ₀⁻¹, mean such that precision-weighted means add
/// up. Elsewhere H − Σ₀⁻¹ can come out negative in some direction, where the data made the posterior
/// wider than the prior or the curvature is a little off; it is clipped at 0 there, in coordinates in
/// which the prior is standard normal, so the result doesn't depend on the units. A direction that gained
/// less than a hundredth of the prior's precision is clipped too.
///
/// # Errors
/// Sizes that differ, numbers that aren't finite, or a prior covariance that isn't positive definite.
pub fn without_prior(
    posterior_mean: &DVector<f64>,
    posterior_precision: &DMatrix<f64>,
    prior_mean: &DVector<f64>,
    prior_covariance: &DMatrix<f64>,
) -> Result<Estimate, PoolingError> {
    let n = posterior_mean.len();
    let what = "prior covariance";
    check("posterior mean", posterior_mean.as_slice(), n, n.max(1))?;
    check("prior mean", prior_mean.as_slice(), prior_mean.len(), n)?;
    Scaled::of("posterior precision", posterior_precision, n)?;
    Scaled::of(what, prior_covariance, n)?;
    let factor = prior_covariance.clone().cholesky().ok_or(PoolingError::NotPositive { what })?;
    let root = factor.l();
    let inverse =
        root.solve_lower_triangular(&DMatrix::identity(n, n)).ok_or(PoolingError::OutOfRange)?;
    // In the prior's units the prior is N(0, I) and the data's precision is (eigenvalue − 1).
    let standard = root.transpose() * posterior_precision * &root;
    check("posterior precision", standard.as_slice(), n, n)?;
    let eigen = (0.5 * (&standard + standard.transpose())).symmetric_eigen();
    let offset = &inverse * (posterior_mean - prior_mean);
    let (mut mean, mut precision) = (DVector::zeros(n), DMatrix::zeros(n, n));
    for (&value, direction) in eigen.eigenvalues.iter().zip(eigen.eigenvectors.column_iter()) {
        let learnt = value - 1.0;
        if learnt > LEAST_LEARNT {
            mean += direction * (direction.dot(&offset) * value / learnt);
            precision += direction * direction.transpose() * learnt;
        }
    }
    let precision = inverse.transpose() * precision * &inverse;
    let precision = 0.5 * (&precision + precision.transpose());
    check("posterior precision", precision.as_slice(), n, n)?;
    Ok(Estimate { mean: prior_mean + root * mean, precision })
}

/// A symmetric matrix with its components scaled alike: `matrix` = entry / (size × size).
struct Scaled {
    matrix: DMatrix<f64>,
    /// Square roots of the diagonal, 1 where that is 0.
    sizes: DVector<f64>,
}

impl Scaled {
    fn of(what: &'static str, matrix: &DMatrix<f64>, n: usize) -> Result<Self, PoolingError> {
        check(what, matrix.as_slice(), matrix.nrows(), n)?;
        check(what, matrix.as_slice(), matrix.ncols(), n)?;
        let size = |diagonal: f64| if diagonal > 0.0 { diagonal.sqrt() } else { 1.0 };
        let sizes = matrix.diagonal().map(size);
        let scaled = DMatrix::from_fn(n, n, |row, column| {
            0.5 * (matrix[(row, column)] + matrix[(column, row)]) / (sizes[row] * sizes[column])
        });
        for column in 0..n {
            for row in column + 1..n {
                let gap = (matrix[(row, column)] - matrix[(column, row)]).abs();
                if gap > ASYMMETRY * sizes[row] * sizes[column] {
                    return Err(PoolingError::NotSymmetric { what, row, column });
                }
            }
        }
        Ok(Self { matrix: scaled, sizes })
    }
}

/// Size and finiteness.
pub(super) fn check(
    what: &'static str,
    numbers: &[f64],
    got: usize,
    need: usize,
) -> Result<(), PoolingError> {
    if got != need {
        return Err(PoolingError::Size { what, got, need });
    }
    match numbers.iter().find(|number| !number.is_finite()) {
        Some(&got) => Err(PoolingError::NotFinite { what, got }),
        None => Ok(()),
    }
}
