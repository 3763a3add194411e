//! Pooling over persons: what lifters have in common, how much they differ, and what that says of each.
//!
//! # The question
//! Of every person i there is an estimate b_i of the same p numbers θ_i (say the logarithms of recovery
//! time, scatter and so on) with its precision W_i, the inverse of its sampling covariance. A short
//! record gives a vague b_i. Persons differ, but not without limit:
//!
//! > b_i | θ_i ~ N(θ_i, W_i⁻¹),  θ_i ~ N(μ, Σ).
//!
//! [`pool()`] estimates μ and Σ and from them shrinks each person's estimate towards μ, the more the
//! vaguer it is (empirical Bayes). W_i may be singular: a component or a combination of components of
//! which a person knows nothing simply carries no weight.
//!
//! # The criterion
//! Write W_i = R_i'R_i and z_i = R_i b_i, so that z_i = R_i θ_i + ε with unit noise; K_i = I + R_i Σ R_i'.
//! Restricted maximum likelihood (Patterson & Thompson 1971) minimises, with μ at its best value,
//!
//! > −2 ln L_R = Σ_i [ln det K_i + (z_i − R_i μ)' K_i⁻¹ (z_i − R_i μ)] + ln det A + constant,
//! > A = Σ_i M_i,  M_i = R_i' K_i⁻¹ R_i,  A μ = Σ_i R_i' K_i⁻¹ z_i.
//!
//! No covariance is inverted, so Σ = 0, a singular Σ and a singular W_i are ordinary points. With
//! r_i = R_i' K_i⁻¹ (z_i − R_i μ) its derivative in Σ is one matrix,
//!
//! > G = Σ_i [M_i − M_i A⁻¹ M_i − r_i r_i'].
//!
//! # The search
//! An EM step (Laird & Ware 1982) of this model is Σ ← Σ − Σ G Σ / n for n persons; a few of them lead
//! into the valley. Newton steps on the elements of a triangular factor L, Σ = L L', its components in order
//! of the spread that those before leave, go to its floor; in L a variance of zero is a smooth, interior point, where in Σ it is a wall. At a minimum over
//! covariances G Σ = 0 and G has no negative direction among those in which Σ vanishes. The search checks
//! both and says how it ended ([`Verdict`]). The criterion can have several valleys: where some persons are known
//! well and others hardly, all may be alike but for bad luck, or apart. From the first floor the criterion is looked at
//! along the spread of each component and of all together, from none to many times the natural scale; the search
//! goes down from every dip, and the lowest floor is reported.
//!
//! # Persons
//! θ̂_i = μ + Σ r_i is the best linear unbiased prediction (Henderson; Robinson 1991), with covariance
//! Σ − Σ M_i Σ + (I − Σ M_i) A⁻¹ (I − Σ M_i)': μ's uncertainty is in it, Σ's is not, so with few persons
//! these covariances are somewhat small (Morris 1983).
//!
//! # Priors
//! With few persons REML often says that they don't differ at all. [`SpreadPrior`] is a weak inverse
//! Wishart prior, worth ν₀ persons with known standard deviations s and no correlation: it adds
//! ν₀ [ln det Σ + tr(Σ⁻¹ diag s²)] to the criterion, ν₀ [ln σ_j² + s_j²/σ_j²] for each component when Σ is
//! diagonal. Σ is then the posterior's mode (taken over ln σ_j when diagonal) and is never singular. What
//! is known of μ beforehand enters like one more estimate, of μ itself ([`Priors::mean`]).
//!
//! # Repeated measures
//! For y_i = X_i θ_i + e, e ~ N(0, σ²), the QR decomposition X_i = Q_i R_i makes z_i = Q_i'y_i and the
//! residual sum of squares sufficient, and the same criterion with σ² profiled out fits the linear mixed
//! model ([`fit_repeated`]; Bates et al. 2015). Components with the same value for all or without a mean
//! are in [`Structure`].
//!
//! Distributions other than the normal, estimates whose own precision is uncertain, and correlation
//! between persons are not handled here.

pub mod estimate;
pub mod pool;
pub mod repeated;
pub mod structure;

mod criterion;
mod elsewhere;
mod search;

pub use estimate::{Estimate, without_prior};
pub use pool::{Pooled, Shrunk, pool};
pub use repeated::{RepeatedFit, RepeatedMeasures, fit_repeated};
pub use search::{Search, Verdict};
pub use structure::{Between, Component, Priors, SpreadPrior, Structure};

/// Why persons could not be pooled.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum PoolingError {
    /// There is nobody to pool.
    #[error("`persons` is empty, needs at least 1")]
    NoPersons,
    /// There is nothing to pool of them.
    #[error("`structure` has no components, needs at least 1")]
    NoComponents,
    /// A vector or matrix of another size than the rest.
    #[error("`{what}` has size {got}, needs {need}; give every person the same components")]
    Size {
        /// Which vector or matrix.
        what: &'static str,
        /// Its size.
        got: usize,
        /// The size that fits.
        need: usize,
    },
    /// A number that must be finite is NaN or infinite.
    #[error("`{what}` holds {got}, needs finite numbers; leave out what is not known")]
    NotFinite {
        /// Which vector or matrix.
        what: &'static str,
        /// The number found.
        got: f64,
    },
    /// A matrix that must be symmetric isn't.
    #[error(
        "`{what}` differs across the diagonal at row {row}, column {column}; make it symmetric"
    )]
    NotSymmetric {
        /// Which matrix.
        what: &'static str,
        /// Row, from 0.
        row: usize,
        /// Column, from 0.
        column: usize,
    },
    /// A covariance with a direction of no or negative variance.
    #[error(
        "`{what}` is not positive definite; give every component a variance above 0 and \
         correlations within −1 and 1"
    )]
    NotPositive {
        /// Which covariance.
        what: &'static str,
    },
    /// A precision with a direction of negative precision.
    #[error("`{what}` has a negative direction, needs precisions of at least 0; clip it first")]
    NegativePrecision {
        /// Which precision.
        what: &'static str,
    },
    /// A list of components that is out of order, repeats itself or goes too far.
    #[error("`components` holds {got} after {before} others, needs ascending numbers below {need}")]
    BadComponents {
        /// The first number that doesn't fit.
        got: usize,
        /// How many numbers come before it.
        before: usize,
        /// How many components there are.
        need: usize,
    },
    /// A prior spread that isn't positive.
    #[error("`{what}` of the spread prior is {got}, needs a finite number above 0")]
    BadSpreadPrior {
        /// Which part.
        what: &'static str,
        /// What it was.
        got: f64,
    },
    /// Nobody knows anything of a component's mean, or of a combination that it is part of.
    #[error(
        "`component {component}` (counted from 0) has a mean that nobody's estimate tells apart; \
         leave it out or give its mean a prior"
    )]
    MeanUnknown {
        /// The component, from 0.
        component: usize,
    },
    /// No more measurements than means.
    #[error("`measurements` number {got} in all, needs at least {need}; measure more")]
    TooFewMeasurements {
        /// How many there are.
        got: usize,
        /// How many are needed at least.
        need: usize,
    },
    /// Nobody was measured often enough to tell noise from differences between persons.
    #[error(
        "`measurements` number {got} for the person who has most, needs at least {need} to tell noise \
         from spread; measure somebody more often or let fewer components vary"
    )]
    MeasuredTooSeldom {
        /// How many that person has.
        got: usize,
        /// How many are needed at least.
        need: usize,
    },
    /// The persons' own lines go through all their measurements exactly.
    #[error(
        "`measurements` leave no residual, so their noise cannot be told from zero; use `pool`"
    )]
    NoResidual,
    /// Numbers too large or too small to compute with.
    #[error("`criterion` is not finite; rescale the components to be of size 1 or so")]
    OutOfRange,
}
