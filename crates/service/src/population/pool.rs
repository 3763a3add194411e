//! Pooling: values of lifters in general, estimated anew from a coach's own lifters.
//!
//! [`propose`] says what would change and changes nothing; [`Proposal::adopt`] puts it in force. Values
//! once in force stay in the store, and [`back_to_shipped`] goes back to those of the program;
//! [`given`] takes values that another record was estimated to have. The
//! estimates are those that [`crate::population::refit`] keeps; all of one proposal were made with the values in
//! force. The mathematics is the engine's (`recovery::repool`, `recovery::regrow`).

use engine::pooling::{PoolingError, Verdict};
use engine::recovery::{
    Event, LifterEstimate, MODEL_VERSION, Pooled, PooledError, Shape, Spread, regrow, repool,
};
use engine::statespace::{self, StateSpaceError};
use engine::trend::expectation::Z_80;
use jiff::Timestamp;
use serde::Serialize;
use store::{PooledId, Store, StoreError};

use crate::ServiceError;
use crate::record::inputs::{Grounds, pooled_as_text};
use crate::record::person::Person;

/// Why there are no values to propose.
#[derive(Debug, thiserror::Error)]
pub enum PoolError {
    /// The record can't be read.
    #[error(transparent)]
    Service(#[from] ServiceError),
    /// Nobody has an estimate that counts.
    #[error(
        "none of {lifters} lifters has an estimate to pool: run `bellwether refit` first; a lifter needs \
         20 lead sets"
    )]
    NoEstimates {
        /// How many lifters are on record.
        lifters: usize,
    },
    /// The estimates can't be pooled.
    #[error("the estimates can't be pooled: {0}; make them anew with `bellwether refit --all`")]
    Pooling(#[from] PoolingError),
    /// How lifts grow can't be told.
    #[error("how lifts grow can't be told from these records: {0}; leave `--growth` out")]
    Growth(#[from] StateSpaceError),
    /// What was found can't be right.
    #[error("the values found can't be right: {0}; they were not kept")]
    OutOfRange(#[from] PooledError),
    /// The search for the values didn't end well.
    #[error("the values were not put in force: {verdict}")]
    NotSound {
        /// How it ended.
        verdict: String,
    },
}

impl From<StoreError> for PoolError {
    fn from(error: StoreError) -> PoolError {
        PoolError::Service(error.into())
    }
}

/// What a quantity is over lifters: the middle, and between what eight lifters in ten lie.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct OverLifters {
    /// The middle.
    pub middle: f64,
    /// The bounds; none for a quantity that is the same for all.
    pub bounds: Option<(f64, f64)>,
}

/// One quantity before and after.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PooledChange {
    /// What it is.
    pub what: &'static str,
    /// Its unit; empty for a ratio.
    pub unit: &'static str,
    /// As it is in force.
    pub before: OverLifters,
    /// As it would be.
    pub after: OverLifters,
}

/// Values that could come into force.
#[derive(Clone, Debug)]
pub struct Proposal {
    /// From how many lifters of this record; 0 if the values were given.
    pub n_lifters: usize,
    /// How many lifters have no estimate that counts.
    pub n_without: usize,
    /// Where the values in force are from, as the end of a sentence.
    pub before: String,
    /// How the estimate ended, as a sentence.
    pub verdict: String,
    /// Whether it ended so that the values may come into force.
    pub is_sound: bool,
    /// What was estimated, before and after.
    pub changes: Vec<PooledChange>,
    pooled: Pooled,
}

/// Estimates the values anew from the kept estimates, and with `growth` also how lifts grow, from the
/// records themselves, which takes long. `progress` is told how many records have been read for that, of
/// how many.
///
/// # Errors
/// See [`PoolError`].
pub fn propose(
    store: &Store,
    growth: bool,
    progress: &mut dyn FnMut(usize, usize),
) -> Result<Proposal, PoolError> {
    let grounds = Grounds::in_force(store)?;
    let lifters = store.lifters()?;
    let mut estimates = Vec::new();
    for summary in &lifters {
        let newest = store.kept_fits(&summary.lifter.name, MODEL_VERSION)?.pop();
        if let Some((mean, precision)) = newest.and_then(|fit| fit.estimate) {
            estimates.push(LifterEstimate::from_numbers(&mean, &precision)?);
        }
    }
    if estimates.is_empty() {
        return Err(PoolError::NoEstimates { lifters: lifters.len() });
    }
    let (shipped, now) = (Pooled::shipped(), grounds.pooled());
    let (mut pooled, verdict) = repool(now, &shipped, &estimates)?;
    let (mut verdict, mut is_sound) = in_words(&verdict);
    if growth {
        let records = records(store, progress)?;
        let (grown, ended) = regrow(&pooled, &shipped, &records)?;
        pooled = grown;
        let (words, sound) = growth_in_words(&ended);
        verdict = format!("{verdict} {words}");
        is_sound &= sound;
    }
    // What can't be written down and read again can't come into force.
    let pooled = Pooled::from_numbers(pooled.to_numbers())?;
    Ok(Proposal {
        n_lifters: estimates.len(),
        n_without: lifters.len() - estimates.len(),
        before: grounds.origin_words(),
        verdict,
        is_sound,
        changes: changes(now, &pooled, growth),
        pooled,
    })
}

/// Values that [`Proposal::as_text`] wrote, perhaps of another record, against those in force.
///
/// # Errors
/// The store has trouble.
pub fn given(store: &Store, values: &Grounds) -> Result<Proposal, ServiceError> {
    let grounds = Grounds::in_force(store)?;
    Ok(Proposal {
        n_lifters: 0,
        n_without: 0,
        before: grounds.origin_words(),
        verdict: "They were given in a file.".to_owned(),
        is_sound: true,
        changes: changes(grounds.pooled(), values.pooled(), true),
        pooled: values.pooled().clone(),
    })
}

impl Proposal {
    /// Keeps the values and puts them in force.
    ///
    /// # Errors
    /// The estimate didn't end well, or the store has trouble.
    pub fn adopt(&self, store: &Store, now: Timestamp) -> Result<(), PoolError> {
        if !self.is_sound {
            return Err(PoolError::NotSound { verdict: self.verdict.clone() });
        }
        let (n, numbers) = (self.n_lifters as u64, self.pooled.to_numbers());
        let id = store.keep_pooled(now, n, &self.verdict, &numbers)?;
        Ok(store.put_in_force(id, now)?)
    }

    /// The values as text, for a file.
    #[must_use]
    pub fn as_text(&self) -> String {
        let lifters = if self.n_lifters == 1 { "lifter" } else { "lifters" };
        let heading = format!(
            "Values of lifters in general, estimated from {} {lifters}.\n{}",
            self.n_lifters, self.verdict
        );
        pooled_as_text(&self.pooled, &heading)
    }
}

/// Puts the values that come with the program back in force; what changes.
///
/// # Errors
/// The store has trouble.
pub fn back_to_shipped(store: &Store, now: Timestamp) -> Result<Vec<PooledChange>, ServiceError> {
    // Values that can't be used any more are no reason not to go back.
    let before = Grounds::in_force(store).unwrap_or_default();
    if store.pooled_id_in_force()? != PooledId::SHIPPED {
        store.put_in_force(PooledId::SHIPPED, now)?;
    }
    Ok(changes(before.pooled(), &Pooled::shipped(), true))
}

/// Shapes and events of everybody's records.
fn records(
    store: &Store,
    progress: &mut dyn FnMut(usize, usize),
) -> Result<Vec<(Shape, Vec<Event>)>, ServiceError> {
    let lifters = store.lifters()?;
    let mut records = Vec::new();
    for (idx, summary) in lifters.iter().enumerate() {
        progress(idx, lifters.len());
        let person = Person::load(store, &summary.lifter.name)?;
        let model = person.history.settled_recovery();
        records.extend(model.map(|model| (model.shape().clone(), model.events().to_vec())));
    }
    Ok(records)
}

fn in_words(verdict: &Verdict) -> (String, bool) {
    match verdict {
        Verdict::Converged => ("The estimate converged.".to_owned(), true),
        Verdict::FlatAlong(components) => (
            format!(
                "The estimate converged; of {} values too few lifters say how much lifters differ, so \
                 that stays with what comes with the program.",
                components.len()
            ),
            true,
        ),
        Verdict::Stalled | Verdict::OutOfIterations => (
            "The estimate did not converge: leave the values in force as they are.".to_owned(),
            false,
        ),
    }
}

fn growth_in_words(verdict: &statespace::Verdict) -> (&'static str, bool) {
    match verdict {
        statespace::Verdict::Converged => ("How lifts grow converged.", true),
        statespace::Verdict::FlatAlong(_) => {
            ("How lifts grow converged; the records say little of part of it.", true)
        }
        statespace::Verdict::Stalled => {
            ("How lifts grow was searched for as far as numbers go.", true)
        }
        statespace::Verdict::OutOfIterations => {
            ("How lifts grow did not converge: leave `--growth` out.", false)
        }
    }
}

/// How a quantity is told to a person: its name and unit, and the factor to that unit.
struct Told {
    what: &'static str,
    unit: &'static str,
    factor: f64,
}

fn changes(before: &Pooled, after: &Pooled, growth: bool) -> Vec<PooledChange> {
    let positive = |told: Told, of: fn(&Pooled) -> Spread| {
        change(told, |pooled| {
            let Spread { middle, sd } = of(pooled);
            let times = (Z_80 * sd).exp();
            (middle, Some((middle / times, middle * times)))
        })(before, after)
    };
    let plain = |told: Told, of: fn(&Pooled) -> Spread| {
        change(told, |pooled| {
            let Spread { middle, sd } = of(pooled);
            (middle, Some((middle - Z_80 * sd, middle + Z_80 * sd)))
        })(before, after)
    };
    let alike = |told: Told, of: fn(&Pooled) -> f64| {
        change(told, |pooled| (of(pooled), None))(before, after)
    };
    let told = |what, unit, factor| Told { what, unit, factor };
    let six_weeks = 42.0_f64.sqrt();
    let mut all = vec![
        positive(told("what a muscle is off by for no known reason", "%", 100.0), |p| p.muscle_sd),
        positive(told("days to recover, against most people's", "times", 1.0), |p| p.slowness),
        positive(told("form of the day", "%", 100.0), |p| p.form_sd),
        positive(told("drift of a lift in six weeks", "%", 100.0 * six_weeks), |p| p.drift),
        positive(told("scatter of lifts, against their classes", "times", 1.0), |p| p.unsteadiness),
        positive(told("part of the reserve's error that varies", "%", 100.0), |p| p.reserve_share),
        plain(told("an hour of sleep above usual", "%", 100.0), |p| p.check_in_effects[0]),
        plain(told("a point of stress above usual", "%", 100.0), |p| p.check_in_effects[1]),
        plain(told("a point of soreness above usual", "%", 100.0), |p| p.check_in_effects[2]),
        positive(told("slower recovery for a point of stress", "%", 100.0), |p| p.stress_slows),
    ];
    if growth {
        all.extend([
            plain(told("gain of a lift at its first sets", "% a week", 700.0), |p| p.slope),
            alike(told("gain that lasts", "% a week", 700.0), |p| p.lasting_slope),
            alike(told("until the first gain has faded to a third", "days", 1.0), |p| p.slope_days),
        ]);
    }
    all
}

/// What tells a quantity of two sets of values.
fn change(
    told: Told,
    of: impl Fn(&Pooled) -> (f64, Option<(f64, f64)>),
) -> impl FnOnce(&Pooled, &Pooled) -> PooledChange {
    move |before, after| {
        let shown = |pooled: &Pooled| {
            let (middle, bounds) = of(pooled);
            let by = told.factor;
            let bounds = bounds.map(|(low, high)| (by * low, by * high));
            OverLifters { middle: by * middle, bounds }
        };
        let (before, after) = (shown(before), shown(after));
        PooledChange { what: told.what, unit: told.unit, before, after }
    }
}
