//! Two-way analysis of variance of people by trials, without replication.
//!
//! Names of the mean squares follow Shrout & Fleiss 1979 (Psychol Bull 86:420): BMS between people,
//! WMS within people, JMS between trials ("judges"), EMS error.

use super::Trials;

/// The four mean squares of a table, in squared units of its values.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MeanSquares {
    /// BMS, n − 1 degrees of freedom.
    pub between_people: f64,
    /// WMS, n(k − 1) degrees of freedom.
    pub within_people: f64,
    /// JMS, k − 1 degrees of freedom.
    pub between_trials: f64,
    /// EMS, (n − 1)(k − 1) degrees of freedom.
    pub error: f64,
}

impl MeanSquares {
    /// Splits a table's variation. A sum of squares too small for rounding to resolve is exactly 0,
    /// so a table without variation of some kind is seen as such.
    #[must_use]
    pub fn of(trials: &Trials) -> MeanSquares {
        let (n, k) = (trials.n_people() as f64, trials.n_trials() as f64);
        let trial_means = trials.trial_means();
        let grand_mean = trial_means.iter().sum::<f64>() / k;
        let (mut people, mut error, mut largest) = (0.0, 0.0, 0.0_f64);
        for row in trials.rows() {
            let person_effect = row.iter().sum::<f64>() / k - grand_mean;
            people += k * person_effect * person_effect;
            for (value, trial_mean) in row.iter().zip(&trial_means) {
                error += (value - trial_mean - person_effect).powi(2);
                largest = largest.max(value.abs());
            }
        }
        let between_trials: f64 =
            trial_means.iter().map(|mean| n * (mean - grand_mean).powi(2)).sum();
        let resolved = n * k * (4.0 * f64::EPSILON * largest).powi(2);
        let clean = |squares: f64| if squares > resolved { squares } else { 0.0 };
        let (people, between_trials, error) = (clean(people), clean(between_trials), clean(error));
        MeanSquares {
            between_people: people / (n - 1.0),
            within_people: (between_trials + error) / (n * (k - 1.0)),
            between_trials: between_trials / (k - 1.0),
            error: error / ((n - 1.0) * (k - 1.0)),
        }
    }
}
