//! Limits of agreement between two trials or two methods (Bland & Altman 1986, Lancet 327:307).
//!
//! Says how far two readings of one person lie apart. It assumes that differences don't grow with the
//! size measured; where they do, take logarithms first ([`Trials::logarithms`]).

use super::{Confidence, CoverageFactor, Interval, RepeatabilityError, Trials};
use statrs::distribution::{ContinuousCDF, StudentsT};

/// Agreement of two columns, all in the unit of the values; differences are first less second.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Agreement {
    /// Mean difference.
    pub bias: f64,
    /// Standard deviation of the differences.
    pub sd: f64,
    /// Bias ∓ factor·SD.
    pub limits: Interval,
    /// Standard error of the bias, SD/√n.
    pub bias_standard_error: f64,
    /// Standard error of either limit, √(3·SD²/n).
    pub limit_standard_error: f64,
    /// Interval of the bias, by Student's t with n − 1 degrees of freedom.
    pub bias_interval: Interval,
    /// Interval of the lower limit, by the same t.
    pub lower_limit_interval: Interval,
    /// Interval of the upper limit, by the same t.
    pub upper_limit_interval: Interval,
    /// Pearson's correlation, which isn't agreement; `None` where a column never varies.
    pub correlation: Option<f64>,
}

/// Compares the two trials of a table. `factor` sets the limits (2, or 1.96), `confidence` the
/// intervals.
///
/// # Errors
/// [`RepeatabilityError::NotAPair`] for a table that hasn't exactly two trials.
pub fn limits_of_agreement(
    trials: &Trials,
    factor: CoverageFactor,
    confidence: Confidence,
) -> Result<Agreement, RepeatabilityError> {
    if trials.n_trials() != 2 {
        return Err(RepeatabilityError::NotAPair { got: trials.n_trials() });
    }
    let n = trials.n_people() as f64;
    let differences: Vec<f64> = trials.rows().map(|row| row[0] - row[1]).collect();
    let bias = differences.iter().sum::<f64>() / n;
    let squares: f64 = differences.iter().map(|d| (d - bias).powi(2)).sum();
    let sd = (squares / (n - 1.0)).sqrt();
    let (bias_standard_error, limit_standard_error) = (sd / n.sqrt(), sd * (3.0 / n).sqrt());
    let t = student_t_quantile(n - 1.0, confidence);
    let around =
        |centre: f64, reach: f64| Interval { lower: centre - reach, upper: centre + reach };
    let limits = around(bias, factor.value() * sd);
    Ok(Agreement {
        bias,
        sd,
        limits,
        bias_standard_error,
        limit_standard_error,
        bias_interval: around(bias, t * bias_standard_error),
        lower_limit_interval: around(limits.lower, t * limit_standard_error),
        upper_limit_interval: around(limits.upper, t * limit_standard_error),
        correlation: correlation(trials),
    })
}

/// Two-sided quantile; `degrees` is at least 1, so the constructor takes it.
fn student_t_quantile(degrees: f64, confidence: Confidence) -> f64 {
    StudentsT::new(0.0, 1.0, degrees)
        .map_or(f64::INFINITY, |t| t.inverse_cdf(confidence.upper_tail_point()))
}

/// Pearson's r of the two columns.
fn correlation(trials: &Trials) -> Option<f64> {
    let means = trials.trial_means();
    let (mut xx, mut yy, mut xy) = (0.0, 0.0, 0.0);
    for row in trials.rows() {
        let (x, y) = (row[0] - means[0], row[1] - means[1]);
        xx += x * x;
        yy += y * y;
        xy += x * y;
    }
    let first = trials.rows().next()?;
    let varies = |trial_idx: usize| trials.rows().any(|row| row[trial_idx] != first[trial_idx]);
    (varies(0) && varies(1)).then(|| (xy / (xx.sqrt() * yy.sqrt())).clamp(-1.0, 1.0))
}
