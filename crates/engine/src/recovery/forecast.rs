//! From what is believed of a lift to the forecast of its lead set.
//!
//! Doesn't know whose belief it is: a lifter's whole one or the small one of a session. Equations are those
//! of `docs/model.md`, "The reading".

use super::belief::Belief;
use super::filter::Dynamics;
use super::freak::Freak;
use crate::strength::{LoadRepCurve, SetMeasurement};
use crate::trend::{AgainstUsual, Expectation, LeadSet};

/// The sums of a belief that a forecast is made of.
pub(super) struct Sums<'a> {
    /// What the set will show at its load.
    pub(super) shown: &'a [(usize, f64)],
    /// What it would show at the loads that the lift's record knows.
    pub(super) shown_as_usual: &'a [(usize, f64)],
    /// Capacity less usual.
    pub(super) against_usual: &'a [(usize, f64)],
    /// The level, if it can be told apart from the day.
    pub(super) level: &'a [(usize, f64)],
}

/// The noise of a lead set, but for its own reserve, length and counting.
#[derive(Clone, Copy)]
pub(super) struct Noise {
    /// σ², the lift's own scatter.
    pub(super) scatter_variance: f64,
    /// λ.
    pub(super) reserve_share: f64,
    /// The two scales of a set of several repetitions.
    pub(super) freak: Freak,
}

impl Noise {
    /// That of one lift with the parameters in force.
    pub(super) fn of(dynamics: &Dynamics<'_>, lift: usize) -> Noise {
        Noise {
            scatter_variance: dynamics.parameters.scatter[lift].powi(2),
            reserve_share: dynamics.parameters.reserve_share,
            freak: dynamics.pooled.freak,
        }
    }

    /// R, of a set that was done.
    pub(super) fn variance(&self, seen: &SetMeasurement) -> f64 {
        self.scatter_variance
            + seen.rounding_variance
            + self.reserve_share * seen.reserve_variance
            + seen.curve_variance
    }
}

/// The forecast of `next`, whose noise is that of the likely set at its load and reserve; none if no set
/// with that reserve can be read. What a load far from those of the record adds to the doubt counts as
/// noise and not as belief.
pub(super) fn forecast(
    belief: &Belief,
    sums: &Sums<'_>,
    noise: Noise,
    curve: LoadRepCurve,
    next: &LeadSet,
) -> Option<Expectation> {
    let variance = belief.variance_of(sums.shown);
    let curve_doubt = (variance - belief.variance_of(sums.shown_as_usual)).max(0.0);
    let level_variance = belief.variance_of(sums.level);
    let shown = Expectation {
        mean: belief.mean_of(sums.shown),
        level_variance,
        acute_variance: variance - curve_doubt - level_variance,
        luck_variance: noise.scatter_variance + curve_doubt,
        error_variance: 0.0,
        rounding_variance: 0.0,
        curve,
        moved_kg: next.moved_kg,
        reserve: next.reserve.reps(),
        single: next.is_single(),
        curve_doubt,
        against_usual: AgainstUsual {
            mean: belief.mean_of(sums.against_usual),
            variance: belief.variance_of(sums.against_usual),
            covariance: belief.covariance_of(sums.against_usual, sums.shown),
        },
        freak: noise.freak.of(next),
    };
    let likely = shown.reps_showing(shown.mean).round().clamp(1.0, 20.0);
    let reps = likely.min((20.0 - shown.reserve).max(1.0)) as u16; // 1 to 20
    let seen = LeadSet { reps, ..*next }.measure(curve).ok()?;
    Some(Expectation {
        error_variance: noise.reserve_share * seen.reserve_variance + seen.curve_variance,
        rounding_variance: seen.rounding_variance,
        ..shown
    })
}
