//! Log-likelihood, kept as its sums so that every convention in use can be read off it.
//!
//! Packages differ by constants: whether the points that only pin down a diffuse state carry their
//! `−½·ln 2π`, and whether a common scale is estimated inside. None is assumed here; callers name one.
//! Formulas: Durbin & Koopman (2012), sections 2.10 and 7.2.

use std::f64::consts::PI;

use super::filter::Innovation;

/// Which constants a total counts. Fits are the same under either; totals are not comparable across.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Convention {
    /// `−½·ln 2π` for every observation, those that pin down a diffuse state included. Comparable with
    /// a proper start whose variances are `κ`, once `½·d·ln κ` is added for `d` diffuse states.
    EveryObservation,
    /// `−½·ln 2π` only for observations with a finite innovation variance.
    AfterDiffuse,
}

/// The log-likelihood of one series under one model.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LogLikelihood {
    n_diffuse: usize,
    n_proper: usize,
    log_diffuse_variances: LogOfProduct,
    log_variances: LogOfProduct,
    sum_squares: f64,
    sum_log_jacobians: f64,
}

/// A log-likelihood with the common scale of all variances concentrated out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Concentrated {
    /// `−½(n−d)·ln σ̂² − ½·Σ ln F`, no constants.
    pub log_likelihood: f64,
    /// `σ̂²`: what every variance of the model is to be multiplied by.
    pub scale: f64,
}

impl LogLikelihood {
    pub(super) fn new() -> Self {
        Self {
            n_diffuse: 0,
            n_proper: 0,
            log_diffuse_variances: LogOfProduct::new(),
            log_variances: LogOfProduct::new(),
            sum_squares: 0.0,
            sum_log_jacobians: 0.0,
        }
    }

    /// Observations that pinned down a diffuse state.
    pub fn n_diffuse(&self) -> usize {
        self.n_diffuse
    }

    /// Observations with a finite innovation variance above 0.
    pub fn n_proper(&self) -> usize {
        self.n_proper
    }

    /// The total under the named convention, the observations' log-Jacobians included.
    pub fn total(&self, convention: Convention) -> f64 {
        let n_constants = match convention {
            Convention::EveryObservation => self.n_proper + self.n_diffuse,
            Convention::AfterDiffuse => self.n_proper,
        };
        self.sum_log_jacobians
            - 0.5
                * (n_constants as f64 * (2.0 * PI).ln()
                    + self.log_diffuse_variances.value()
                    + self.log_variances.value()
                    + self.sum_squares)
    }

    /// The concentrated log-likelihood, for a model whose variances are all ratios to one of them.
    ///
    /// `None` when no innovation carries information about the scale.
    pub fn concentrated(&self) -> Option<Concentrated> {
        if self.n_proper == 0 || self.sum_squares == 0.0 {
            return None;
        }
        let n_proper = self.n_proper as f64;
        let scale = self.sum_squares / n_proper;
        let log_determinant = self.log_diffuse_variances.value() + self.log_variances.value();
        let log_likelihood =
            self.sum_log_jacobians - 0.5 * (n_proper * scale.ln() + log_determinant);
        Some(Concentrated { log_likelihood, scale })
    }

    #[inline(always)]
    pub(super) fn record<const N: usize>(&mut self, innovation: &Innovation<N>, log_jacobian: f64) {
        match *innovation {
            Innovation::Missing => return,
            Innovation::Certain => {}
            Innovation::Diffuse { diffuse_variance, .. } => {
                self.n_diffuse += 1;
                self.log_diffuse_variances.multiply(diffuse_variance);
            }
            Innovation::Proper { value, variance, .. } => {
                self.n_proper += 1;
                self.log_variances.multiply(variance);
                self.sum_squares += value * value / variance;
            }
        }
        self.sum_log_jacobians += log_jacobian;
    }
}

/// `ln` of a long product, with one logarithm for many factors.
#[derive(Debug, Clone, Copy, PartialEq)]
struct LogOfProduct {
    sum: f64,
    product: f64,
}

impl LogOfProduct {
    /// Products and factors are kept within this range and its inverse, so none can overflow.
    const LARGE: f64 = 1e120;

    fn new() -> Self {
        Self { sum: 0.0, product: 1.0 }
    }

    #[inline(always)]
    fn multiply(&mut self, factor: f64) {
        if !(1.0 / Self::LARGE..Self::LARGE).contains(&factor) {
            self.sum += factor.ln();
            return;
        }
        self.product *= factor;
        if !(1.0 / Self::LARGE..Self::LARGE).contains(&self.product) {
            self.sum += self.product.ln();
            self.product = 1.0;
        }
    }

    fn value(&self) -> f64 {
        self.sum + self.product.ln()
    }
}
