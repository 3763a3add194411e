//! What the recovery model takes as given: one lifter's parameters, and what is believed of them
//! before the lifter has a record.
//!
//! [`Pooled`] holds, for every parameter that is estimated, its middle and spread over lifters, and the
//! values of those that are not estimated. The shipped values are this project's choices, leaning on
//! the published figures beside them and tried on virtual lifters; a coach's own lifters replace them
//! by empirical Bayes ([`super::pool`]).

use domain::Muscle;

use super::freak::Freak;
use super::shape::Pace;
use crate::strength::LoadRepCurve;
use crate::trend::LeadSet;

/// A quantity over lifters: middle and standard deviation. For positive quantities both are those of
/// its natural logarithm, the middle given as the quantity itself.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spread {
    /// The middle.
    pub middle: f64,
    /// Standard deviation over lifters (of the logarithm, for positive quantities).
    pub sd: f64,
}

/// The items of a check-in that move what is expected, in order.
pub const CHECK_IN_ITEMS: [&str; 3] = ["sleep", "stress", "soreness"];

/// What is believed of lifters in general.
#[derive(Clone, Debug, PartialEq)]
pub struct Pooled {
    /// σ_a: sd of a muscle's state that dose doesn't explain, in ln 1RM.
    pub muscle_sd: Spread,
    /// ρ: correlation of what happens to two muscles of one [`region`] outside the log. Not estimated.
    pub together: f64,
    /// Recovery time relative to [`recovery_days`].
    pub slowness: Spread,
    /// σ_g: sd of the day's form, common to all lifts, in ln 1RM.
    pub form_sd: Spread,
    /// √q: sd of a level's drift, in ln 1RM per √day.
    pub drift: Spread,
    /// Scatter of a lifter's lifts relative to their classes.
    pub unsteadiness: Spread,
    /// Scatter of one lift relative to what class and lifter say: sd of its logarithm.
    pub lift_scatter_sd: f64,
    /// b of the load–rep curve over lifts; learnt as part of the state.
    pub curve_b: Spread,
    /// √ of the variance per day by which ln b of a lift drifts. Not estimated.
    pub curve_drift: f64,
    /// λ: share of the published error variance of a reserve that varies from set to set.
    pub reserve_share: Spread,
    /// Change of ln 1RM per hour slept above usual, per point of stress and of soreness.
    pub check_in_effects: [Spread; 3],
    /// How much slower muscles recover per point of stress above usual, relatively; an hour of sleep
    /// short counts as [`SLEEP_AS_STRESS`] points.
    pub stress_slows: Spread,
    /// κ: ln 1RM that the first hard set costs a muscle it falls on wholly; normal over lifters,
    /// learnt as part of the state.
    pub cost: Spread,
    /// Sd of what the same work costs from time to time, relatively. Not estimated.
    pub toll_sd: f64,
    /// Days in which the day's form fades to a third. Not estimated.
    pub form_days: f64,
    /// Usual values, sds within a lifter and days of fading of the check-in items. Not estimated.
    pub check_in_usual: [f64; 3],
    /// Standard deviations of the items within a lifter.
    pub check_in_sd: [f64; 3],
    /// Days in which an item's departure from usual fades to a third.
    pub check_in_days: [f64; 3],
    /// Slope of ln 1RM at the first set of a lift, per day: normal over lifts.
    pub slope: Spread,
    /// The slope that lasts, per day, and the days in which the first slope fades to it by a third.
    pub lasting_slope: f64,
    /// Days in which a first slope fades to a third.
    pub slope_days: f64,
    /// Growth of the slope's variance, per day³.
    pub slope_variance_per_day: f64,
    /// Noise of two scales, for sets of several repetitions. A single with nothing left is a test: it
    /// is prepared for and repeated if spoilt, and its noise has one scale.
    pub freak: Freak,
}

/// One lifter's parameters.
#[derive(Clone, Debug, PartialEq)]
pub struct Parameters {
    /// σ_a.
    pub muscle_sd: f64,
    /// Recovery time relative to [`recovery_days`].
    pub slowness: f64,
    /// σ_g.
    pub form_sd: f64,
    /// √q: sd of a level's drift per √day.
    pub drift: f64,
    /// λ.
    pub reserve_share: f64,
    /// Change of ln 1RM per hour slept above usual, per point of stress and of soreness.
    pub check_in_effects: [f64; 3],
    /// How much slower muscles recover per point of stress above usual, relatively.
    pub stress_slows: f64,
    /// σ of each lift: sd of ln 1RM shown, beyond capacity, counting and reserve errors.
    pub scatter: Vec<f64>,
}

/// Days in which a muscle's state fades to a third (τ), for most people. Whole sessions are back in 24
/// to 48 hours without failure and in 48 to 72 with it or after many sets (Morán-Navarro 2017,
/// González-Badillo 2016, Belcher 2019, Ferreira 2017, Bartolomei 2017); which muscle takes how long
/// isn't published in usable form and is our choice: the large ones of legs and back longest.
#[must_use]
pub fn recovery_days(muscle: Muscle) -> f64 {
    days_of(pace(muscle))
}

/// [`recovery_days`] of all muscles of one pace.
pub(super) fn days_of(pace: Pace) -> f64 {
    match pace {
        Pace::SlowMuscle => 1.8,
        Pace::MiddlingMuscle => 1.5,
        _ => 1.2,
    }
}

/// How fast a muscle recovers next to others.
pub(super) fn pace(muscle: Muscle) -> Pace {
    match muscle {
        Muscle::Quadriceps | Muscle::Hamstrings | Muscle::Adductors | Muscle::SpinalErectors => {
            Pace::SlowMuscle
        }
        Muscle::Glutes | Muscle::Chest | Muscle::Lats | Muscle::UpperBack => Pace::MiddlingMuscle,
        _ => Pace::QuickMuscle,
    }
}

/// Points of stress that an hour of sleep below usual counts as in slowing recovery. Our choice;
/// Stults-Kolehmainen 2014: more stress, slower recovery of force over 96 hours.
pub const SLEEP_AS_STRESS: f64 = 0.4;

/// Muscles that ordinary strains (carrying, digging, climbing) hit together: legs and lower back, those
/// that pull, those that push; the small rest by itself. Common practice, no source; the virtual
/// lifters' strains fall on the same groups, so they can't test this choice.
#[must_use]
pub fn region(muscle: Muscle) -> Option<usize> {
    use Muscle as M;
    match muscle {
        M::Quadriceps | M::Hamstrings | M::Glutes | M::Adductors | M::SpinalErectors => Some(0),
        M::Lats | M::UpperBack | M::Biceps | M::Brachialis | M::RearDelts => Some(1),
        M::Chest | M::FrontDelts | M::Triceps | M::SideDelts => Some(2),
        _ => None,
    }
}

impl Pooled {
    /// The scales of a set's noise.
    #[must_use]
    pub fn freak_of(&self, set: &LeadSet) -> Freak {
        self.freak.of(set)
    }

    /// The curve with which every set is first read; a lift's own differs by a state.
    #[must_use]
    pub fn curve(&self) -> LoadRepCurve {
        LoadRepCurve::new(self.curve_b.middle).unwrap_or(LoadRepCurve::EPLEY)
    }

    /// The values that come with the program.
    #[must_use]
    pub fn shipped() -> Pooled {
        Pooled {
            muscle_sd: Spread { middle: 0.011, sd: 0.1 },
            together: 0.5,
            slowness: Spread { middle: 1.0, sd: 0.3 },
            form_sd: Spread { middle: 0.007, sd: 0.1 },
            drift: Spread { middle: 0.0015, sd: 0.5 },
            unsteadiness: Spread { middle: 0.6, sd: 0.25 },
            lift_scatter_sd: 0.25,
            curve_b: Spread {
                middle: LoadRepCurve::BETWEEN_LIFTS.typical_b,
                sd: LoadRepCurve::BETWEEN_LIFTS.log_sd,
            },
            curve_drift: 0.005,
            reserve_share: Spread { middle: 0.25, sd: 0.6 },
            check_in_effects: [
                Spread { middle: 0.005, sd: 0.0015 },
                Spread { middle: -0.004, sd: 0.0015 },
                Spread { middle: -0.002, sd: 0.0015 },
            ],
            stress_slows: Spread { middle: 0.8, sd: 0.4 },
            cost: Spread { middle: 0.014, sd: 0.007 },
            toll_sd: 0.5,
            form_days: 2.0,
            check_in_usual: [7.3, 3.0, 2.5],
            check_in_sd: [1.0, 1.0, 1.0],
            check_in_days: [3.0, 3.0, 1.5],
            slope: Spread { middle: 0.003 / 7.0, sd: 0.004 / 7.0 },
            lasting_slope: 0.001 / 7.0,
            slope_days: 120.0,
            slope_variance_per_day: 1e-10,
            freak: Freak { share: 0.04, widening: 3.0, of_day: 0.25 },
        }
    }
}
