//! Pooled values as plain named numbers, to keep them or to write them down, and the way back.
//!
//! Every number has a name that stays, a sentence that says what it is, and the range in which it can be
//! right. Ranges are our choice: wide enough for any lifters, narrow enough to catch a wrong unit or a
//! slip of the decimal mark. How the numbers are kept or written is not decided here.

use super::parameters::Pooled;

/// Why numbers are no pooled values.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum PooledError {
    /// A number is missing.
    #[error("`{name}` is missing: give every number, as in the values that come with the program")]
    Missing {
        /// The number's name.
        name: &'static str,
    },
    /// There is no number with this name.
    #[error("`{name}` is no pooled value: check its spelling, or leave it out")]
    Unknown {
        /// The name that was given.
        name: String,
    },
    /// A number is given twice.
    #[error("`{name}` is given twice: leave one of the two out")]
    Twice {
        /// The number's name.
        name: &'static str,
    },
    /// A number that can't be right.
    #[error(
        "`{name}` is {found} and must lie from {low} to {high}: check the unit and the decimal mark"
    )]
    OutOfRange {
        /// The number's name.
        name: &'static str,
        /// What was given.
        found: f64,
        /// The least that can be right.
        low: f64,
        /// The most that can be right.
        high: f64,
    },
}

/// One number of [`Pooled`].
#[derive(Clone, Copy, Debug)]
pub struct PooledNumber {
    /// Its name.
    pub name: &'static str,
    /// What it is, with its unit.
    pub meaning: &'static str,
    /// The least that can be right.
    pub low: f64,
    /// The most that can be right.
    pub high: f64,
    place: fn(&mut Pooled) -> &mut f64,
}

macro_rules! numbers {
    ($($name:literal, $low:literal to $high:literal, $($field:tt).+ $([$item:literal])? $(, $part:ident)?;
       $meaning:literal;)+) => {
        &[$(PooledNumber {
            name: $name,
            meaning: $meaning,
            low: $low,
            high: $high,
            place: |pooled| &mut pooled.$($field).+ $([$item])? $(.$part)?,
        }),+]
    };
}

/// All numbers, in the order in which they are written.
pub const NUMBERS: &[PooledNumber] = numbers! {
    "muscle-sd", 0.001 to 0.1, muscle_sd.middle;
        "sd of a muscle's state that dose doesn't explain, in ln 1RM";
    "muscle-sd-spread", 0.005 to 2.0, muscle_sd.sd;
        "its spread over lifters, as sd of the logarithm";
    "together", 0.0 to 0.99, together;
        "correlation of what happens to two muscles of a region";
    "slowness", 0.2 to 5.0, slowness.middle;
        "days to recover, relative to the table of muscles";
    "slowness-spread", 0.01 to 2.0, slowness.sd;
        "its spread over lifters, as sd of the logarithm";
    "form-sd", 0.0005 to 0.1, form_sd.middle;
        "sd of the form of the day, in ln 1RM";
    "form-sd-spread", 0.005 to 2.0, form_sd.sd;
        "its spread over lifters, as sd of the logarithm";
    "drift", 0.00001 to 0.05, drift.middle;
        "drift of a lift's level, in ln 1RM per root of a day";
    "drift-spread", 0.01 to 3.0, drift.sd;
        "its spread over lifters, as sd of the logarithm";
    "unsteadiness", 0.05 to 5.0, unsteadiness.middle;
        "scatter of a lifter's lifts, relative to their classes";
    "unsteadiness-spread", 0.01 to 2.0, unsteadiness.sd;
        "its spread over lifters, as sd of the logarithm";
    "lift-scatter-spread", 0.01 to 2.0, lift_scatter_sd;
        "scatter of one lift relative to class and lifter, as sd of the logarithm";
    "curve-b", 0.01 to 0.1, curve_b.middle;
        "b of the load-rep curve, per repetition";
    "curve-b-spread", 0.01 to 1.0, curve_b.sd;
        "its spread over lifts, as sd of the logarithm";
    "curve-drift", 0.0 to 0.1, curve_drift;
        "drift of ln b of a lift, per root of a day";
    "reserve-share", 0.005 to 2.0, reserve_share.middle;
        "share of the published error variance of a reserve that varies from set to set";
    "reserve-share-spread", 0.02 to 3.0, reserve_share.sd;
        "its spread over lifters, as sd of the logarithm";
    "sleep-effect", -0.05 to 0.05, check_in_effects[0], middle;
        "change of ln 1RM per hour slept above usual";
    "sleep-effect-spread", 0.0001 to 0.05, check_in_effects[0], sd;
        "its spread over lifters";
    "stress-effect", -0.05 to 0.05, check_in_effects[1], middle;
        "change of ln 1RM per point of stress above usual";
    "stress-effect-spread", 0.0001 to 0.05, check_in_effects[1], sd;
        "its spread over lifters";
    "soreness-effect", -0.05 to 0.05, check_in_effects[2], middle;
        "change of ln 1RM per point of soreness above usual";
    "soreness-effect-spread", 0.0001 to 0.05, check_in_effects[2], sd;
        "its spread over lifters";
    "stress-slows", 0.005 to 5.0, stress_slows.middle;
        "how much slower muscles recover per point of stress above usual, relatively";
    "stress-slows-spread", 0.02 to 3.0, stress_slows.sd;
        "its spread over lifters, as sd of the logarithm";
    "cost", 0.0 to 0.2, cost.middle;
        "ln 1RM that the first hard set costs a muscle that it falls on wholly";
    "cost-spread", 0.0001 to 0.2, cost.sd;
        "its spread over lifters";
    "toll-sd", 0.0 to 3.0, toll_sd;
        "sd of what the same work costs from time to time, relatively";
    "form-days", 0.1 to 100.0, form_days;
        "days in which the day's form fades to a third";
    "sleep-usual", 3.0 to 12.0, check_in_usual[0];
        "hours that most people sleep";
    "stress-usual", 0.0 to 10.0, check_in_usual[1];
        "points of stress that most people tell";
    "soreness-usual", 0.0 to 10.0, check_in_usual[2];
        "points of soreness that most people tell";
    "sleep-sd", 0.05 to 5.0, check_in_sd[0];
        "sd of sleep within a lifter, in hours";
    "stress-sd", 0.05 to 5.0, check_in_sd[1];
        "sd of stress within a lifter, in points";
    "soreness-sd", 0.05 to 5.0, check_in_sd[2];
        "sd of soreness within a lifter, in points";
    "sleep-days", 0.1 to 100.0, check_in_days[0];
        "days in which a departure of sleep fades to a third";
    "stress-days", 0.1 to 100.0, check_in_days[1];
        "days in which a departure of stress fades to a third";
    "soreness-days", 0.1 to 100.0, check_in_days[2];
        "days in which a departure of soreness fades to a third";
    "slope", -0.01 to 0.1, slope.middle;
        "slope of a lift at its first set, in ln 1RM per day";
    "slope-spread", 0.000001 to 0.05, slope.sd;
        "its spread over lifts";
    "lasting-slope", -0.01 to 0.01, lasting_slope;
        "slope that lasts, in ln 1RM per day";
    "slope-days", 1.0 to 10000.0, slope_days;
        "days in which a first slope fades to a third";
    "slope-variance-per-day", 0.0 to 0.000001, slope_variance_per_day;
        "growth of the slope's variance, per day cubed";
    "freak-share", 0.0 to 0.5, freak.share;
        "share of sets whose noise is wider";
    "freak-widening", 1.0 to 20.0, freak.widening;
        "how many times as wide their noise is";
    "freak-of-day", 0.0 to 1.0, freak.of_day;
        "share of them that is the lift's form that day, and not the set";
};

impl Pooled {
    /// All numbers by name, in the order of [`NUMBERS`].
    #[must_use]
    pub fn to_numbers(&self) -> Vec<(&'static str, f64)> {
        let mut pooled = self.clone();
        NUMBERS.iter().map(|number| (number.name, *(number.place)(&mut pooled))).collect()
    }

    /// The other way round; the order doesn't matter.
    ///
    /// # Errors
    /// A number that is missing, unknown, there twice, or can't be right.
    pub fn from_numbers<'a>(
        named: impl IntoIterator<Item = (&'a str, f64)>,
    ) -> Result<Pooled, PooledError> {
        let mut pooled = Pooled::shipped();
        let mut given = vec![false; NUMBERS.len()];
        for (name, found) in named {
            let Some(idx) = NUMBERS.iter().position(|number| number.name == name) else {
                return Err(PooledError::Unknown { name: name.to_owned() });
            };
            let PooledNumber { name, low, high, place, .. } = NUMBERS[idx];
            if std::mem::replace(&mut given[idx], true) {
                return Err(PooledError::Twice { name });
            }
            if !(low..=high).contains(&found) {
                return Err(PooledError::OutOfRange { name, found, low, high });
            }
            *place(&mut pooled) = found;
        }
        match given.iter().position(|given| !given) {
            Some(idx) => Err(PooledError::Missing { name: NUMBERS[idx].name }),
            None => Ok(pooled),
        }
    }
}
