//! How often a rule is right and wrong on one very lift: false alarms and catches.
//!
//! Computed for the next lead set at its load, with the lift's own scatter. An ordinary day is a day
//! on which capacity is exactly the lifter's usual; a true shortfall of D % is a day on which it is
//! D % under. Holds as far as the model holds; the trend's own doubt is in it.

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

/// The chances on the next lead set. `shortfall` is δ as a fraction, `threshold` the probability above
/// which the lift is eased, `gap_days` the time between two exposures of the lift.
#[must_use]
pub fn chances(
    record: &dyn LiftModel,
    next: &Expectation,
    shortfall: f64,
    threshold: f64,
    gap_days: f64,
) -> Chances {
    let limit = next.innovation_at(shortfall, threshold);
    let read = |pct: f64| p_shows_less(next, (1.0 - pct / 100.0).ln(), limit);
    let plain = |pct: f64| plain_fires(record, next, gap_days, (1.0 - pct / 100.0).ln());
    Chances {
        false_alarm: read(0.0),
        caught: SHORTFALLS_PCT.map(read),
        plain_false_alarm: plain(0.0),
        plain_caught: SHORTFALLS_PCT.map(plain),
    }
}

/// P(shown − expected < `limit` | capacity is `deviation` from usual). With m, V, C mean, variance and
/// covariance of [`crate::trend::AgainstUsual`], what is expected to show moves by (deviation − m)·C/V,
/// and of the variance of capacity C²/V is gone: what is left is how well usual itself is known.
fn p_shows_less(next: &Expectation, deviation: f64, limit: f64) -> f64 {
    let against = next.against_usual;
    let lean = against.covariance / against.variance.max(1e-12);
    let left = (next.capacity_variance() - lean * against.covariance).max(0.0);
    let parts = next.freak.parts(left, next.noise_variance());
    mixture_cdf(&parts, limit - lean * (deviation - against.mean))
}

/// P(a set shows no more than the last one) when capacity changed by `change` on top of the trend. At
/// the same load repetitions are compared, and a tie counts as no better: half a repetition is added.
fn plain_fires(record: &dyn LiftModel, next: &Expectation, gap_days: f64, change: f64) -> f64 {
    let last = record.last().map_or(0.0, |set| set.days);
    let slope = record.today(last).map_or(0.0, |today| today.slope);
    let likely = next.reps_showing(next.mean);
    let half_rep = (next.log_shown_by(likely + 0.5) - next.mean).max(0.0);
    // Last time's set had its luck, its day and its errors; today's has its luck and its errors.
    let uncounted = next.luck_variance - next.curve_doubt + next.error_variance;
    let ahead = half_rep - change - slope * gap_days;
    let of = |last: f64, now: f64| {
        let sd = (last * uncounted + now * uncounted + next.against_usual.variance).sqrt();
        normal_cdf(ahead / sd.max(1e-9))
    };
    // Each of the two sets may have been a freak.
    let (p, wide) = (next.freak.share, next.freak.widening * next.freak.widening);
    (1.0 - p) * (1.0 - p) * of(1.0, 1.0)
        + 2.0 * p * (1.0 - p) * of(1.0, wide)
        + p * p * of(wide, wide)
}
