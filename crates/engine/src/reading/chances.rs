//! How often a rule is right and wrong on one very lift: false alarms and catches.
//!
//! Computed over forecasts as the lift has had them, with the lift's own scatter. An ordinary day is a
//! day on which capacity is exactly the lifter's usual; a true shortfall of D % is a day on which it is
//! D % under. What was known before the lead set (dose, other lifts, nights) differs from forecast to
//! forecast and makes such days more or less likely, so each forecast counts by how likely the day was
//! under it. Holds as far as the model holds.

use super::model::LiftModel;
use crate::recovery::freak::mixture_cdf;
use crate::trend::expectation::{Expectation, normal_cdf};

/// The true shortfalls for which the catch is given, in %.
pub const SHORTFALLS_PCT: [f64; 3] = [2.0, 3.0, 5.0];

/// One lift's false alarms and catches under both rules, as probabilities.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Chances {
    /// How often an ordinary day is called short.
    pub false_alarm: f64,
    /// How often a shortfall of 2, 3 and 5 % is caught.
    pub caught: [f64; 3],
    /// How often the plain rule cuts back on an ordinary day.
    pub plain_false_alarm: f64,
    /// How often the plain rule catches 2, 3 and 5 %.
    pub plain_caught: [f64; 3],
}

/// The chances on a lift with these `forecasts`, none without any. `shortfall` is δ as a fraction,
/// `threshold` the probability above which the lift is eased, `gap_days` the time between two exposures
/// of the lift.
#[must_use]
pub fn chances(
    record: &dyn LiftModel,
    forecasts: &[Expectation],
    shortfall: f64,
    threshold: f64,
    gap_days: f64,
) -> Option<Chances> {
    let last = forecasts.last()?;
    let limits: Vec<f64> =
        forecasts.iter().map(|one| one.innovation_at(shortfall, threshold)).collect();
    let read = |pct: f64| over_forecasts(forecasts, &limits, (1.0 - pct / 100.0).ln());
    let day_variance = forecasts
        .iter()
        .map(|one| one.against_usual.variance + one.against_usual.mean.powi(2))
        .sum::<f64>()
        / forecasts.len() as f64;
    let plain =
        |pct: f64| plain_fires(record, last, day_variance, gap_days, (1.0 - pct / 100.0).ln());
    Some(Chances {
        false_alarm: read(0.0),
        caught: SHORTFALLS_PCT.map(read),
        plain_false_alarm: plain(0.0),
        plain_caught: SHORTFALLS_PCT.map(plain),
    })
}

/// P(eased | capacity is `deviation` from usual): the mean over forecasts, each weighted by the density
/// that it gave such a day.
fn over_forecasts(forecasts: &[Expectation], limits: &[f64], deviation: f64) -> f64 {
    let log_density = |one: &Expectation| {
        let (mean, variance) = (one.against_usual.mean, one.against_usual.variance.max(1e-12));
        -0.5 * ((deviation - mean).powi(2) / variance + variance.ln())
    };
    let most = forecasts.iter().map(log_density).fold(f64::NEG_INFINITY, f64::max);
    let (mut eased, mut all) = (0.0, 0.0);
    for (one, limit) in forecasts.iter().zip(limits) {
        let weight = (log_density(one) - most).exp();
        eased += weight * p_shows_less(one, deviation, *limit);
        all += weight;
    }
    eased / all
}

/// P(shown − expected < `limit` | capacity is `deviation` from usual). With m, V, C mean, variance and
/// covariance of [`crate::trend::AgainstUsual`], what is expected to show moves by (deviation − m)·C/V,
/// and of the variance of capacity C²/V is gone: what is left is how well usual itself is known.
fn p_shows_less(next: &Expectation, deviation: f64, limit: f64) -> f64 {
    let against = next.against_usual;
    let lean = against.covariance / against.variance.max(1e-12);
    let left = (next.capacity_variance() - lean * against.covariance).max(0.0);
    let parts = next.freak.of_set().parts(left, next.noise_variance());
    mixture_cdf(&parts, limit - lean * (deviation - against.mean))
}

/// P(a set shows no more than the last one) when capacity changed by `change` on top of the trend. At
/// the same load repetitions are compared, and a tie counts as no better: half a repetition is added.
fn plain_fires(
    record: &dyn LiftModel,
    next: &Expectation,
    day_variance: f64,
    gap_days: f64,
    change: f64,
) -> f64 {
    let last = record.last().map_or(0.0, |set| set.days);
    let slope = record.today(last).map_or(0.0, |today| today.slope);
    let likely = next.reps_showing(next.mean);
    let half_rep = (next.log_shown_by(likely + 0.5) - next.mean).max(0.0);
    // Last time's set had its luck, its day and its errors; today's has its luck and its errors.
    let uncounted = next.luck_variance - next.curve_doubt + next.error_variance;
    let ahead = half_rep - change - slope * gap_days;
    let of = |last: f64, now: f64| {
        let sd = (last * uncounted + now * uncounted + day_variance).sqrt();
        normal_cdf(ahead / sd.max(1e-9))
    };
    // Each of the two sets may have been a freak.
    let (p, wide) = (next.freak.of_set().share, next.freak.widening * next.freak.widening);
    (1.0 - p) * (1.0 - p) * of(1.0, 1.0)
        + 2.0 * p * (1.0 - p) * of(1.0, wide)
        + p * p * of(wide, wide)
}
