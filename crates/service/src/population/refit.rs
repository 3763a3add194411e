//! Refitting: making and keeping every fit that reading a store's records needs, lifter by lifter.
//!
//! Each lifter's fits are kept as soon as they are made, so a run that was broken off goes on where it
//! stopped, and a second run has nothing to do. A lifter's fits depend on nobody else's: the same whatever
//! the number of threads. What the newest fit says of the lifter by the record alone is kept with it, for
//! [`crate::population::pool`].

use domain::LifterName;
use engine::recovery::{MODEL_VERSION, RecoveryFit};
use jiff::Timestamp;
use serde::Serialize;
use store::Store;

use crate::ServiceError;
use crate::parallel::at_once;
use crate::record::inputs::{Grounds, to_keep};
use crate::record::person::Person;

/// How fits are made.
#[derive(Clone, Debug)]
pub struct Refit<'a> {
    /// The store.
    pub store: &'a Store,
    /// Whose fits; everybody's if none.
    pub lifter: Option<LifterName>,
    /// Make all fits anew, those that aren't stale as well.
    pub all: bool,
    /// How many lifters are fitted at once, at least 1; the fits don't depend on it.
    pub threads: usize,
    /// The moment to write beside the fits.
    pub now: Timestamp,
}

/// How a lifter stands after a refit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum FitVerdict {
    /// The newest fit converged.
    Converged,
    /// The newest fit did not converge.
    NotConverged,
    /// Too short a record for a fit.
    TooShort,
}

/// One lifter after a refit.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RefitLine {
    /// The lifter.
    pub name: String,
    /// How the newest fit ended.
    pub verdict: FitVerdict,
    /// How many lead sets have been read.
    pub lead_sets: u64,
    /// From how many of them the newest fit was made.
    pub fitted_from: Option<u64>,
    /// How many fits were made now; the others were kept already.
    pub made: u64,
    /// Whether anything was kept that was not there before.
    pub renewed: bool,
    /// Whether there is an estimate for pooling.
    pub can_be_pooled: bool,
}

/// Everybody after a refit.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RefitReport {
    /// Where the values of lifters in general are from that the fits were made with.
    pub general_values: String,
    /// The lifters, in the order in which they were first recorded.
    pub lifters: Vec<RefitLine>,
}

impl RefitReport {
    /// How many lifters ended so.
    #[must_use]
    pub fn count(&self, verdict: FitVerdict) -> u64 {
        self.lifters.iter().filter(|line| line.verdict == verdict).count() as u64
    }

    /// How many lifters had stale fits, or none.
    #[must_use]
    pub fn renewed(&self) -> u64 {
        self.lifters.iter().filter(|line| line.renewed).count() as u64
    }
}

impl Refit<'_> {
    /// Makes and keeps what is stale. `progress` is told how many sets belong to the lifters done, of how
    /// many, and how many lifters these are.
    ///
    /// # Errors
    /// The store has trouble, can't be written, or nobody has that name. What was kept before stays kept.
    pub fn run(
        &self,
        progress: &mut dyn FnMut(u64, u64, usize),
    ) -> Result<RefitReport, ServiceError> {
        let general_values = Grounds::in_force(self.store)?.origin_words();
        let waiting: Vec<(LifterName, u64)> = match &self.lifter {
            Some(name) => vec![(name.clone(), 1)],
            None => {
                let lifters = self.store.lifters()?.into_iter();
                lifters.map(|summary| (summary.lifter.name, summary.n_sets)).collect()
            }
        };
        let whole: u64 = waiting.iter().map(|(_, n_sets)| n_sets).sum();
        let (mut lines, mut n_done) = (Vec::new(), 0);
        progress(n_done, whole, lines.len());
        at_once(
            self.threads,
            waiting.iter().enumerate().collect(),
            |(idx, (name, n_sets))| (idx, n_sets, self.one(name)),
            |(idx, n_sets, line)| {
                lines.push((idx, line?));
                n_done += n_sets;
                progress(n_done, whole, lines.len());
                Ok::<_, ServiceError>(())
            },
        )?;
        lines.sort_by_key(|(idx, _)| *idx);
        Ok(RefitReport {
            general_values,
            lifters: lines.into_iter().map(|(_, line)| line).collect(),
        })
    }

    fn one(&self, name: &LifterName) -> Result<RefitLine, ServiceError> {
        let newest_fact = self.store.newest_fact()?; // before the record is read
        let before =
            if self.all { Vec::new() } else { self.store.kept_fits(name, MODEL_VERSION)? };
        let person = Person::load_with(self.store, name, &before, None)?;
        let (history, name) = (&person.history, &person.lifter.name);
        let used = history.used_fits();
        let mut fits = to_keep(used, &before, newest_fact, self.now);
        if let Some(last) = fits.last_mut().filter(|last| last.estimate.is_none()) {
            let estimate = history.settled_recovery().and_then(engine::recovery::Lifter::estimate);
            last.estimate = estimate.map(|estimate| estimate.to_numbers());
        }
        let renewed = self.all || fits != before;
        if renewed {
            self.store.keep_fits(name, history.grounds().pooled_id(), &fits)?;
        }
        let verdict = match used.last().map(|last| last.fit.report) {
            Some(RecoveryFit::Fitted(climb)) if climb.converged => FitVerdict::Converged,
            Some(_) => FitVerdict::NotConverged,
            None => FitVerdict::TooShort,
        };
        Ok(RefitLine {
            name: name.to_string(),
            verdict,
            lead_sets: history.settled_recovery().map_or(0, |model| model.n_lead_sets() as u64),
            fitted_from: fits.last().map(|fit| fit.n_lead_sets),
            made: used.iter().filter(|one| !one.was_kept).count() as u64,
            renewed,
            can_be_pooled: fits.last().is_some_and(|last| last.estimate.is_some()),
        })
    }
}
