//! What may differ between persons, what is the same for all, and what is believed beforehand.

use nalgebra::{DMatrix, DVector};

use super::PoolingError;
use super::estimate::Estimate;

/// What a component is over persons.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Component {
    /// Has a mean, and persons differ about it: a fixed and a random effect.
    Varying,
    /// Has one value for everybody: a fixed effect.
    Common,
    /// Persons differ about 0: a random effect alone.
    Centred,
}

/// The form of the covariance between persons.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Between {
    /// Any covariance.
    Full,
    /// No correlation between components.
    Diagonal,
}

/// The components and the form of their covariance between persons.
#[derive(Clone, Debug, PartialEq)]
pub struct Structure {
    /// The components, in the order of every vector and matrix.
    pub components: Vec<Component>,
    /// The form of their covariance.
    pub between: Between,
}

impl Structure {
    /// `n` components that all have a mean and vary, with any covariance.
    #[must_use]
    pub fn full(n: usize) -> Self {
        Self { components: vec![Component::Varying; n], between: Between::Full }
    }

    /// `n` components that all have a mean and vary, without correlation.
    #[must_use]
    pub fn diagonal(n: usize) -> Self {
        Self { components: vec![Component::Varying; n], between: Between::Diagonal }
    }
}

/// What is believed before any person is seen; `default()` is nothing, which gives plain REML.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Priors {
    /// An estimate of μ from elsewhere.
    pub mean: Option<Estimate>,
    /// A guess at the spread between persons.
    pub spread: Option<SpreadPrior>,
}

/// A weak inverse Wishart prior on Σ: as if `persons` more had been seen, perfectly and about a known
/// mean, with standard deviations `sds` and no correlation (see the [module](super)).
#[derive(Clone, Debug, PartialEq)]
pub struct SpreadPrior {
    /// ν₀: how many persons the guess is worth, above 0; 1 to 4 is weak.
    pub persons: f64,
    /// s: guessed standard deviation of every component, above 0. Those of components that don't vary
    /// are not used.
    pub sds: DVector<f64>,
}

/// The structure as lists of positions.
#[derive(Clone, Debug)]
pub(super) struct Layout {
    /// p.
    pub(super) n_components: usize,
    /// Components with a mean to estimate.
    pub(super) with_mean: Vec<usize>,
    /// Components that vary between persons; q of them.
    pub(super) varying: Vec<usize>,
    /// The form of Σ.
    pub(super) between: Between,
}

impl Layout {
    pub(super) fn of(structure: &Structure) -> Self {
        let components = &structure.components;
        let positions = |wanted: [Component; 2]| -> Vec<usize> {
            (0..components.len()).filter(|&j| wanted.contains(&components[j])).collect()
        };
        Self {
            n_components: components.len(),
            with_mean: positions([Component::Varying, Component::Common]),
            varying: positions([Component::Varying, Component::Centred]),
            between: structure.between,
        }
    }

    pub(super) fn n_varying(&self) -> usize {
        self.varying.len()
    }

    /// Zero for the components that don't vary (q × q → p × p).
    pub(super) fn embed_varying(&self, part: &DMatrix<f64>) -> DMatrix<f64> {
        embed(part, &self.varying, self.n_components)
    }
}

/// `part` in the given rows and columns of an `n` × `n` matrix of zeros.
pub(super) fn embed(part: &DMatrix<f64>, positions: &[usize], n: usize) -> DMatrix<f64> {
    let mut whole = DMatrix::zeros(n, n);
    for (row, &to_row) in positions.iter().enumerate() {
        for (column, &to_column) in positions.iter().enumerate() {
            whole[(to_row, to_column)] = part[(row, column)];
        }
    }
    whole
}

impl SpreadPrior {
    pub(super) fn check(&self, n_components: usize) -> Result<(), PoolingError> {
        let positive = |what: &'static str, got: f64| {
            let fits = got.is_finite() && got > 0.0;
            if fits { Ok(()) } else { Err(PoolingError::BadSpreadPrior { what, got }) }
        };
        positive("persons", self.persons)?;
        if self.sds.len() != n_components {
            let got = self.sds.len();
            return Err(PoolingError::Size { what: "sds", got, need: n_components });
        }
        self.sds.iter().try_for_each(|&sd| positive("sds", sd))
    }
}
