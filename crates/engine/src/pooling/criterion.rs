//! The restricted likelihood of a covariance between persons, and its slope.
//!
//! Formulas and letters are those of the [module](super). Everything goes through a factor
//! of Σ and the persons' whitened observations, so that nothing is inverted that may be singular.

use nalgebra::{Cholesky, DMatrix, DVector, Dyn};

use super::PoolingError;
use super::pool::Shrunk;
use super::structure::{Layout, SpreadPrior, embed};

/// What is known of a person: `seen` (r) = `root` (r × p) · θ + standard normal noise.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Person {
    pub(super) root: DMatrix<f64>,
    pub(super) seen: DVector<f64>,
}

impl Person {
    /// ln det R R': what to take off the criterion to make it one of the estimate, not of `seen`.
    pub(super) fn log_volume(&self) -> f64 {
        if self.root.nrows() == 0 {
            return 0.0;
        }
        // Along R's row space the product of singular values is |det| of the known components.
        let singular = self.root.clone().singular_values();
        singular.iter().map(|value| 2.0 * value.ln()).sum()
    }
}

/// The noise of the persons' observations.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Noise {
    /// As stated: variance 1.
    Known,
    /// One variance for all, to be estimated, and what the observations don't hold of its evidence:
    /// squares and their number.
    Estimated { spare_squares: f64, n_spare: usize },
}

/// What is to be minimised.
#[derive(Clone, Debug)]
pub(super) struct Problem {
    pub(super) layout: Layout,
    pub(super) persons: Vec<Person>,
    /// What is known of μ itself.
    pub(super) anchor: Option<Person>,
    pub(super) noise: Noise,
    pub(super) spread_prior: Option<SpreadPrior>,
}

/// The criterion at one Σ.
#[derive(Clone, Debug)]
pub(super) struct Point {
    /// −2 ln of the restricted likelihood of the whitened observations, prior included.
    pub(super) criterion: f64,
    /// Its derivative in Σ (q × q), varying components alone.
    pub(super) slope: DMatrix<f64>,
    /// The same without the prior.
    pub(super) data_slope: DMatrix<f64>,
    /// μ (p), 0 for centred components.
    pub(super) mean: DVector<f64>,
    /// A⁻¹ (p × p), 0 for centred components; in units of the noise variance.
    pub(super) mean_covariance: DMatrix<f64>,
    /// 1, or its estimate.
    pub(super) noise_variance: f64,
    /// M_i (p × p) and r_i (p) of each person.
    pub(super) pulls: Vec<(DMatrix<f64>, DVector<f64>)>,
}

/// A person after Σ has been taken into account: K^(−1/2) R and K^(−1/2) z.
struct Standard {
    root: DMatrix<f64>,
    seen: DVector<f64>,
    log_determinant: f64,
}

/// μ, A⁻¹ and ln det A.
struct Mean {
    value: DVector<f64>,
    covariance: DMatrix<f64>,
    log_determinant: f64,
}

impl Problem {
    /// The criterion at Σ = `factor` · `factor`' (q × q). `None` where it overflows.
    pub(super) fn at(&self, factor: &DMatrix<f64>) -> Option<Point> {
        let standard: Vec<Standard> = self
            .persons
            .iter()
            .map(|person| self.standard(person, factor))
            .collect::<Option<_>>()?;
        let anchor = self.anchor.as_ref().map(|anchor| Standard {
            root: anchor.root.clone(),
            seen: anchor.seen.clone(),
            log_determinant: 0.0,
        });
        let mean = self.mean(standard.iter().chain(&anchor))?;
        let mut squares =
            anchor.map_or(0.0, |one| (one.seen - one.root * &mean.value).norm_squared());
        let mut pulls = Vec::with_capacity(standard.len());
        for person in &standard {
            let residual = &person.seen - &person.root * &mean.value;
            squares += residual.norm_squared();
            pulls.push((person.root.tr_mul(&person.root), person.root.tr_mul(&residual)));
        }
        let log_determinants: f64 = standard.iter().map(|person| person.log_determinant).sum();
        let (noise_variance, likelihood) = self.noise(squares);
        let (prior, prior_slope) = self.prior(factor)?;
        let data_slope = self.data_slope(&pulls, &mean.covariance, noise_variance);
        let criterion = log_determinants + mean.log_determinant + likelihood + prior;
        criterion.is_finite().then(|| Point {
            criterion,
            slope: &data_slope + prior_slope,
            data_slope,
            mean: mean.value,
            mean_covariance: mean.covariance,
            noise_variance,
            pulls,
        })
    }

    /// Refuses persons who, all together, leave a mean open.
    pub(super) fn check_means(&self) -> Result<(), PoolingError> {
        /// Less than this share of the information, components scaled alike, is none.
        const NONE: f64 = 1e-12;
        let n = self.layout.n_components;
        let add = |sum: DMatrix<f64>, person: &Person| sum + person.root.tr_mul(&person.root);
        let information = self.persons.iter().chain(&self.anchor).fold(DMatrix::zeros(n, n), add);
        let with_mean = &self.layout.with_mean;
        if with_mean.is_empty() {
            return Ok(());
        }
        let information = information.select_rows(with_mean).select_columns(with_mean);
        if let Some(row) = information.diagonal().iter().position(|&value| value <= 0.0) {
            return Err(PoolingError::MeanUnknown { component: with_mean[row] });
        }
        let sizes = information.diagonal().map(f64::sqrt);
        let scaled = DMatrix::from_fn(sizes.len(), sizes.len(), |row, column| {
            information[(row, column)] / (sizes[row] * sizes[column])
        });
        if scaled.iter().any(|value| !value.is_finite()) {
            return Err(PoolingError::OutOfRange);
        }
        let eigen = scaled.symmetric_eigen();
        match eigen.eigenvalues.iter().position(|&value| value < NONE) {
            Some(open) => {
                let component = with_mean[eigen.eigenvectors.column(open).icamax()];
                Err(PoolingError::MeanUnknown { component })
            }
            None => Ok(()),
        }
    }

    /// Each person's prediction at `point` with its covariance.
    pub(super) fn shrunk(&self, factor: &DMatrix<f64>, point: &Point) -> Option<Vec<Shrunk>> {
        let spread = self.layout.embed_varying(&(factor * factor.transpose()));
        let identity = DMatrix::identity(spread.nrows(), spread.nrows());
        let persons = self.persons.iter().zip(&point.pulls);
        persons
            .map(|(person, (weight, pull))| {
                let open = &identity - &spread * weight;
                let about_mean = &open * &point.mean_covariance * open.transpose();
                let own = self.layout.embed_varying(&self.own_covariance(person, factor)?);
                let covariance = (own + about_mean) * point.noise_variance;
                Some(Shrunk {
                    mean: &point.mean + &spread * pull,
                    covariance: 0.5 * (&covariance + covariance.transpose()),
                })
            })
            .collect()
    }

    /// How much the data say of each varying component's spread: about the number of persons, less one,
    /// who know it as well as the one who knows it best; 0 where the criterion doesn't depend on it.
    ///
    /// tr(P E_j P E_j) ÷ max M_jj², with P the projected inverse covariance of all observations: twice the
    /// expected information (see e.g. Searle, Casella & McCulloch 1992, section 6.6).
    pub(super) fn evidence_of_spread(&self, point: &Point) -> Vec<f64> {
        let mean_covariance = &point.mean_covariance;
        let of_component = |&j: &usize| {
            let n = self.layout.n_components;
            let (mut sum, mut between) = (0.0, DMatrix::zeros(n, n));
            let mut greatest: f64 = 0.0;
            for (weight, _) in &point.pulls {
                let (column, own) = (weight.column(j), weight[(j, j)]);
                sum += own * own - 2.0 * own * column.dot(&(mean_covariance * column));
                between += column * column.transpose();
                greatest = greatest.max(own);
            }
            let projected = mean_covariance * between;
            let sum = sum + (&projected * &projected).trace();
            if greatest > 0.0 { sum / (greatest * greatest) } else { 0.0 }
        };
        self.layout.varying.iter().map(of_component).collect()
    }

    fn standard(&self, person: &Person, factor: &DMatrix<f64>) -> Option<Standard> {
        let n_seen = person.root.nrows();
        if n_seen == 0 {
            let (root, seen) = (person.root.clone(), person.seen.clone());
            return Some(Standard { root, seen, log_determinant: 0.0 });
        }
        let spread = person.root.select_columns(&self.layout.varying) * factor;
        let covariance = DMatrix::identity(n_seen, n_seen) + &spread * spread.transpose();
        let triangle = covariance.cholesky()?.unpack();
        Some(Standard {
            root: triangle.solve_lower_triangular(&person.root)?,
            seen: triangle.solve_lower_triangular(&person.seen)?,
            log_determinant: 2.0 * triangle.diagonal().map(f64::ln).sum(),
        })
    }

    fn mean<'a>(&self, persons: impl Iterator<Item = &'a Standard>) -> Option<Mean> {
        let (n, with_mean) = (self.layout.n_components, &self.layout.with_mean);
        let (mut information, mut right) = (DMatrix::zeros(n, n), DVector::zeros(n));
        for person in persons {
            information += person.root.tr_mul(&person.root);
            right += person.root.tr_mul(&person.seen);
        }
        if with_mean.is_empty() {
            let (value, covariance) = (DVector::zeros(n), DMatrix::zeros(n, n));
            return Some(Mean { value, covariance, log_determinant: 0.0 });
        }
        let information = information.select_rows(with_mean).select_columns(with_mean);
        let factor = information.cholesky()?;
        let solution = factor.solve(&right.select_rows(with_mean));
        let mut value = DVector::zeros(n);
        for (row, &component) in with_mean.iter().enumerate() {
            value[component] = solution[row];
        }
        let covariance = embed(&factor.inverse(), with_mean, n);
        Some(Mean { value, covariance, log_determinant: log_determinant(&factor) })
    }

    /// The noise variance, and what `squares` and 2π add to the criterion.
    fn noise(&self, squares: f64) -> (f64, f64) {
        let n_seen: usize = self.persons.iter().chain(&self.anchor).map(|one| one.seen.len()).sum();
        let n_means = self.layout.with_mean.len();
        let log_two_pi = std::f64::consts::TAU.ln();
        match self.noise {
            Noise::Known => (1.0, squares + (n_seen as f64 - n_means as f64) * log_two_pi),
            Noise::Estimated { spare_squares, n_spare } => {
                let n_free = (n_seen + n_spare) as f64 - n_means as f64;
                let variance = (squares + spare_squares) / n_free;
                (variance, n_free * (1.0 + log_two_pi + variance.ln()))
            }
        }
    }

    /// G without the prior, for the varying components.
    fn data_slope(
        &self,
        pulls: &[(DMatrix<f64>, DVector<f64>)],
        mean_covariance: &DMatrix<f64>,
        noise_variance: f64,
    ) -> DMatrix<f64> {
        let varying = &self.layout.varying;
        let q = varying.len();
        let mut slope = DMatrix::zeros(q, q);
        for (weight, pull) in pulls {
            let columns = weight.select_columns(varying);
            let pull = pull.select_rows(varying);
            slope += columns.select_rows(varying);
            slope -= columns.tr_mul(&(mean_covariance * &columns));
            slope -= &pull * pull.transpose() / noise_variance;
        }
        slope
    }

    /// ν₀ [ln det Σ + tr(Σ⁻¹ diag s²)] and its derivative.
    fn prior(&self, factor: &DMatrix<f64>) -> Option<(f64, DMatrix<f64>)> {
        let q = self.layout.n_varying();
        let Some(prior) = &self.spread_prior else { return Some((0.0, DMatrix::zeros(q, q))) };
        if q == 0 {
            return Some((0.0, DMatrix::zeros(0, 0)));
        }
        let sds = DMatrix::from_diagonal(&prior.sds.select_rows(&self.layout.varying));
        let decomposed = factor.clone().lu();
        let inverse = decomposed.try_inverse()?;
        let precision = inverse.tr_mul(&inverse);
        let log_determinant = 2.0 * decomposed.u().diagonal().map(|value| value.abs().ln()).sum();
        let value = log_determinant + (inverse * &sds).norm_squared();
        let scaled = &precision * sds;
        let slope = precision - &scaled * scaled.transpose();
        Some((prior.persons * value, slope * prior.persons))
    }

    /// Σ − Σ M Σ = L (I + L'R'RL)⁻¹ L' (q × q): what stays open of a person when μ is known.
    fn own_covariance(&self, person: &Person, factor: &DMatrix<f64>) -> Option<DMatrix<f64>> {
        let q = self.layout.n_varying();
        if q == 0 {
            return Some(DMatrix::zeros(0, 0));
        }
        let spread = person.root.select_columns(&self.layout.varying) * factor;
        let triangle = (DMatrix::identity(q, q) + spread.tr_mul(&spread)).cholesky()?.unpack();
        let half = triangle.solve_lower_triangular(&factor.transpose())?;
        Some(half.tr_mul(&half))
    }
}

fn log_determinant(factor: &Cholesky<f64, Dyn>) -> f64 {
    2.0 * factor.l_dirty().diagonal().map(f64::ln).sum()
}
