//! Today's target for a lift: load, repetitions, reserve and sets, with the reason in plain words.
//!
//! A [`Rule`] says how a lift moves on; [`infer`] takes one from the log when none was written.
//! [`target`] applies it to the record, [`begin`] says where a lift starts in another range of repetitions, [`ease`] says what follows when a lift is cut back, and
//! [`Forecast`] is today's 1RM as they need it. The forecast itself is made elsewhere, and
//! whether to go on, ease or stop is decided elsewhere: a lift that hurts has no target here.

pub mod begin;
pub mod collapse;
pub mod ease;
pub mod forecast;
pub mod infer;
pub mod progression;
pub mod record;
pub mod reentry;
pub mod related;
pub mod rule;

use domain::{Lift, Limits, Load, Reps, Rir};

use crate::loading::Ladder;

pub use begin::begin;
pub use ease::{Ease, EaseChoice, EasedLead, SpeedWork, ease};
pub use forecast::Forecast;
pub use infer::infer;
pub use record::{DoneSet, Exposure, exposures, without_tests};
pub use reentry::way_back;
pub use related::{Related, from_related};
pub use rule::{DoubleProgression, LoadStep, PercentOfToday, RepGoal, Rule};

/// Why there is no target, or why a rule or forecast was refused.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum TargetError {
    /// A parameter outside its range, or not a number.
    #[error("{what} `{got}` is out of range: it must be from {min} to {max} {unit}")]
    OutOfRange {
        /// The parameter, in the reader's words.
        what: &'static str,
        /// The value as it was found.
        got: f64,
        /// The smallest value allowed.
        min: f64,
        /// The largest value allowed.
        max: f64,
        /// The unit of both bounds.
        unit: &'static str,
    },
    /// The lift was never done and nothing else says what it could be loaded with.
    #[error(
        "there is no work set of `{lift}` on record, so no load to start from: find one that \
         leaves 3 or more repetitions in reserve, and log it"
    )]
    NoRecord {
        /// The lift.
        lift: String,
    },
    /// The rule needs today's 1RM and there is none.
    #[error(
        "`{lift}` goes by a percentage of today's 1RM, which is not known: it needs a few lead sets \
         on record, and the body mass if the lift moves it"
    )]
    NoForecast {
        /// The lift.
        lift: String,
    },
}

/// What is known today.
#[derive(Clone, Copy, Debug)]
pub struct Today<'a> {
    /// The lift.
    pub lift: &'a Lift,
    /// Its loads.
    pub ladder: &'a Ladder,
    /// Today, in days since 1970-01-01 ([`domain::When::days`]).
    pub days: f64,
    /// Body mass in kilograms, for lifts that move it.
    pub body_mass_kg: Option<f64>,
    /// Today's 1RM as mass moved, if the record is long enough.
    pub forecast: Option<Forecast>,
}

impl Today<'_> {
    /// The mass in kilograms that a set with `load` moves; none if that isn't above 0, or if the
    /// lift moves body mass and that is unknown.
    #[must_use]
    pub fn moved_kg(&self, load: Load) -> Option<f64> {
        let body_mass = self.known_body_mass()?;
        Some(self.lift.moved_kg(load.kg(), body_mass)).filter(|kg| kg.is_finite() && *kg > 0.0)
    }

    /// The load in kilograms, loadable or not, that moves `moved_kg`.
    #[must_use]
    pub fn load_kg(&self, moved_kg: f64) -> Option<f64> {
        Some(self.lift.load_kg(moved_kg, self.known_body_mass()?)).filter(|kg| kg.is_finite())
    }

    /// Body mass if it matters and is known, 0 if it doesn't matter.
    fn known_body_mass(&self) -> Option<f64> {
        match self.lift.body_mass_share {
            Some(_) => self.body_mass_kg.filter(|kg| kg.is_finite() && *kg > 0.0),
            None => Some(0.0),
        }
    }
}

/// Which way a target goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Course {
    /// More load than last time.
    MoreLoad,
    /// The same load and more repetitions.
    MoreReps,
    /// The same again.
    Same,
    /// Less load, after misses.
    StepBack,
    /// The first session after one on record.
    First,
    /// The first session in another range of repetitions.
    Begin,
    /// After more than [`Limits::AWAY_DAYS`] days away.
    ReEntry,
    /// On the way back after that.
    WayBack,
    /// A percentage of today's 1RM.
    OfToday,
}

/// Today's target for the lead set, and how many work sets there are.
#[derive(Clone, Debug, PartialEq)]
pub struct Target {
    /// The load, which can be loaded.
    pub load: Load,
    /// Repetitions for the lead set.
    pub reps: Reps,
    /// The range that the rule moves in, lowest and highest, both included; the lead set may start
    /// outside it if that is where the lifter is.
    pub range: (Reps, Reps),
    /// Repetitions to keep in reserve, if the rule or the log says.
    pub rir: Option<Rir>,
    /// Work sets in all, the lead set among them; at least 1.
    pub sets: u8,
    /// Which way it goes.
    pub course: Course,
    /// Why, in plain words.
    pub why: String,
}

/// Today's target by `rule`, from a record in order of time.
///
/// After more than [`Limits::AWAY_DAYS`] days away it is a re-entry target, then one on the [`way_back`], after
/// one exposure the same again, otherwise what the rule says. A day of tests alone counts as training and is no base to
/// go on from.
///
/// # Errors
/// [`TargetError::NoRecord`] for a lift with no work set on record and a rule that starts from the
/// last one, [`TargetError::NoForecast`] for a percentage of an unknown 1RM.
pub fn target(rule: &Rule, record: &[Exposure], today: &Today<'_>) -> Result<Target, TargetError> {
    let away = record.last().map_or(0.0, |exposure| today.days - exposure.days());
    let all = record;
    let record = &*without_tests(record);
    if away <= Limits::AWAY_DAYS
        && let Some(target) = way_back(rule, record, all, today)
    {
        return Ok(target);
    }
    match (rule, record.last()) {
        (Rule::PercentOfToday(rule), None) => progression::percent_of_today(rule, today),
        (_, None) => Err(TargetError::NoRecord { lift: today.lift.name.as_str().to_owned() }),
        (rule, Some(last)) if away > Limits::AWAY_DAYS => {
            Ok(reentry::re_entry(rule, last, away, today))
        }
        (Rule::PercentOfToday(rule), _) => progression::percent_of_today(rule, today),
        (rule, Some(last)) if record.len() == 1 => Ok(progression::first(rule, last, today)),
        _ => go_on(rule, record, today),
    }
}

/// What `rule` says after the last exposure of a record, whatever came between and however short it is: for
/// exposures picked from a longer record.
///
/// # Errors
/// As [`target`].
pub fn go_on(rule: &Rule, record: &[Exposure], today: &Today<'_>) -> Result<Target, TargetError> {
    match rule {
        Rule::PercentOfToday(rule) => progression::percent_of_today(rule, today),
        _ if record.is_empty() => {
            Err(TargetError::NoRecord { lift: today.lift.name.as_str().to_owned() })
        }
        Rule::DoubleProgression(rule) => Ok(progression::double_progression(rule, record, today)),
        Rule::LoadStep(rule) => Ok(progression::load_step(rule, record, today)),
        Rule::RepGoal(rule) => Ok(progression::rep_goal(rule, record, today)),
    }
}

/// Takes a number from `min` to `max`, both included; refuses NaN.
fn within(
    what: &'static str,
    got: f64,
    min: f64,
    max: f64,
    unit: &'static str,
) -> Result<f64, TargetError> {
    if (min..=max).contains(&got) {
        Ok(got)
    } else {
        Err(TargetError::OutOfRange { what, got, min, max, unit })
    }
}

/// Whole repetitions, held within what a set can have.
fn reps_of(count: f64) -> Reps {
    let held = count.clamp(1.0, f64::from(Reps::MAX)); // NaN stays NaN and becomes 0 below
    Reps::new((held as u16).max(1)).unwrap_or_else(|_| unreachable!("held within range"))
}

/// A reserve rounded to a half and held within its scale.
fn rir_of(reserve: f64) -> Rir {
    Rir::new((reserve.clamp(0.0, 10.0) * 2.0).round() / 2.0).unwrap_or(Rir::ZERO)
}

#[cfg(test)]
mod tests;
