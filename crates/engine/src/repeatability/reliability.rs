//! The six intraclass correlations and their intervals.
//!
//! Forms and names: Shrout & Fleiss 1979 (Psychol Bull 86:420). Intervals: theirs, and McGraw & Wong
//! 1996 (Psychol Methods 1:30), from F quantiles. Choice of form (Weir 2005): 2,1 keeps a shift
//! between trials in the denominator, 3,1 leaves it out. A high value says that people can be told
//! apart, not that one person's reading repeats well: for that, use the typical error.

use super::{Confidence, Interval, MeanSquares, RepeatabilityError, Trials};
use statrs::distribution::{ContinuousCDF, FisherSnedecor};

/// One form with its interval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reliability {
    /// The coefficient: at most 1; it may be negative.
    pub value: f64,
    /// Two-sided interval; `None` where the F quantiles that it needs can't be had (2,1 and 2,k with
    /// almost no degrees of freedom left, which takes a negative coefficient).
    pub interval: Option<Interval>,
}

/// All six forms for one table of n people and k trials.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct IntraclassCorrelation {
    /// ICC(1,1): one trial, each person's trials unrelated to another's.
    pub one_single: Reliability,
    /// ICC(2,1): one trial, shifts between trials count as error.
    pub two_single: Reliability,
    /// ICC(3,1): one trial, shifts between trials left out.
    pub three_single: Reliability,
    /// ICC(1,k): mean of k trials.
    pub one_average: Reliability,
    /// ICC(2,k): mean of k trials. `None` where the error is so much larger than the differences
    /// between people and between trials that its denominator isn't above 0.
    pub two_average: Option<Reliability>,
    /// ICC(3,k): mean of k trials.
    pub three_average: Reliability,
}

/// All six intraclass correlations of a table with two-sided intervals.
///
/// # Errors
/// [`RepeatabilityError::PeopleAlike`] where all people have the same mean: nobody can be told apart,
/// and the coefficient isn't defined.
pub fn intraclass_correlation(
    trials: &Trials,
    confidence: Confidence,
) -> Result<IntraclassCorrelation, RepeatabilityError> {
    let table = Table::of(trials, confidence);
    if table.squares.between_people <= 0.0 {
        let means = trials.trial_means();
        let mean = means.iter().sum::<f64>() / means.len() as f64;
        return Err(RepeatabilityError::PeopleAlike { mean });
    }
    let k = table.k;
    let (within, error) = (table.squares.within_people, table.squares.error);
    let (within_degrees, error_degrees) = (table.n * (k - 1.0), (table.n - 1.0) * (k - 1.0));
    let two_single = table.two_way_random();
    Ok(IntraclassCorrelation {
        one_single: table.one_noise(within, within_degrees, 1.0),
        two_single,
        three_single: table.one_noise(error, error_degrees, 1.0),
        one_average: table.one_noise(within, within_degrees, k),
        two_average: table.averaged(two_single),
        three_average: table.one_noise(error, error_degrees, k),
    })
}

/// What every form needs.
struct Table {
    squares: MeanSquares,
    n: f64,
    k: f64,
    upper_point: f64,
}

impl Table {
    fn of(trials: &Trials, confidence: Confidence) -> Table {
        Table {
            squares: MeanSquares::of(trials),
            n: trials.n_people() as f64,
            k: trials.n_trials() as f64,
            upper_point: confidence.upper_tail_point(),
        }
    }

    /// Forms 1 (noise WMS) and 3 (noise EMS) for a mean of m trials:
    /// (BMS − noise)/(BMS + (k/m − 1)·noise), and at either end of the interval the same with the
    /// noise scaled by an F quantile. Written in mean squares and not in their ratio, so that a noise
    /// of 0 gives 1 and not a division by 0.
    fn one_noise(&self, noise: f64, noise_degrees: f64, averaged: f64) -> Reliability {
        let between = self.squares.between_people;
        let left_in = self.k / averaged - 1.0;
        let form = |noise: f64| (between - noise) / (between + left_in * noise);
        let people_degrees = self.n - 1.0;
        let above = f_quantile(people_degrees, noise_degrees, self.upper_point);
        let below = f_quantile(noise_degrees, people_degrees, self.upper_point);
        let interval = above.zip(below).map(|(above, below)| Interval {
            lower: form(noise * above),
            upper: form(noise / below),
        });
        Reliability { value: form(noise), interval }
    }

    /// ICC(2,1). The interval's degrees of freedom v are Satterthwaite's, with the trials' and the
    /// error's parts named a and b as in McGraw & Wong 1996, here multiplied by n(1 − ρ).
    fn two_way_random(&self) -> Reliability {
        let MeanSquares { between_people: bms, between_trials: jms, error: ems, .. } = self.squares;
        let (n, k) = (self.n, self.k);
        let value = (bms - ems) / (bms + (k - 1.0) * ems + k * (jms - ems) / n);
        let a = k * value * jms;
        let b = (n * (1.0 + (k - 1.0) * value) - k * value) * ems;
        if a == 0.0 && b == 0.0 {
            // No trial effect and no error: every person repeated exactly, and value is 1.
            return Reliability { value, interval: Some(Interval { lower: value, upper: value }) };
        }
        let v = (a + b).powi(2) / (a * a / (k - 1.0) + b * b / ((n - 1.0) * (k - 1.0)));
        let rest = k * jms + (k * n - k - n) * ems;
        let lower = f_quantile(n - 1.0, v, self.upper_point)
            .map(|f| n * (bms - f * ems) / (f * rest + n * bms));
        let upper = f_quantile(v, n - 1.0, self.upper_point)
            .map(|f| n * (f * bms - ems) / (rest + n * f * bms));
        let interval = lower
            .zip(upper)
            .filter(|(lower, upper)| lower <= upper)
            .map(|(lower, upper)| Interval { lower, upper });
        Reliability { value, interval }
    }

    /// From one trial to the mean of k: kρ/(1 + (k − 1)ρ) (Spearman–Brown), which turns ICC(2,1) into
    /// ICC(2,k).
    fn averaged(&self, single: Reliability) -> Option<Reliability> {
        let step_up = |value: f64| {
            let denominator = 1.0 + (self.k - 1.0) * value;
            (denominator > 0.0).then(|| self.k * value / denominator)
        };
        let interval = single.interval.and_then(|Interval { lower, upper }| {
            Some(Interval { lower: step_up(lower)?, upper: step_up(upper)? })
        });
        step_up(single.value).map(|value| Reliability { value, interval })
    }
}

/// Fewest degrees of freedom for which a quantile is asked: below, it leaves the range of f64.
const FEWEST_DEGREES: f64 = 0.1;

/// F quantile, or `None` where it isn't a usable number.
fn f_quantile(numerator: f64, denominator: f64, probability: f64) -> Option<f64> {
    if !(numerator >= FEWEST_DEGREES && denominator >= FEWEST_DEGREES) {
        return None;
    }
    let distribution = FisherSnedecor::new(numerator, denominator).ok()?;
    let quantile = distribution.inverse_cdf(probability);
    (quantile.is_finite() && quantile > 0.0).then_some(quantile)
}
