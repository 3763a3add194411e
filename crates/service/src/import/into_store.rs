//! An import into the store: one transaction, and all of it or nothing.
//!
//! What is on record already adds nothing; what differs from the record is refused, or supersedes it
//! when that was asked for. A dry run does the same work, reports the same, and rolls back.

use std::io::Read;

use domain::{Catalogue, CheckIn, Lifter, LifterName, LoggedSet, Unit};
use jiff::Timestamp;
use serde::Serialize;
use store::{Added, ImportInto, OnDifference, Store};

use super::checkins::read_check_ins;
use super::error::ImportError;
use super::log::read_log;
use super::report::ImportReport;
use super::{Import, Taken};

/// How an import goes into the store.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct IntoStore<'a> {
    /// What is written down as the source: a file's name, say.
    pub source: &'a str,
    /// The moment that is written down.
    pub now: Timestamp,
    /// Whether lines that differ from the record supersede it; refused otherwise.
    pub correct: bool,
    /// Whether to report only and keep nothing.
    pub dry_run: bool,
}

/// What importing a lift file did.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct LiftFileReport {
    /// Whether nothing was kept because nothing was to be kept.
    pub dry_run: bool,
    /// Whether the same text lay on top already.
    pub already_there: bool,
    /// The lifts that the file adds.
    pub added: Vec<String>,
    /// The lifts of the catalogue that the file changes.
    pub changed: Vec<String>,
}

impl IntoStore<'_> {
    fn on_difference(self) -> OnDifference {
        if self.correct { OnDifference::Correct } else { OnDifference::Keep }
    }
}

/// Imports a log. A lifter who isn't in the store is added, with the unit of the first set.
///
/// # Errors
/// Whenever this returns an error, nothing was kept.
pub fn import_log(
    store: &Store,
    reader: impl Read,
    with: Import<'_>,
    how: IntoStore<'_>,
) -> Result<ImportReport, ImportError> {
    let mut into = store.begin_import(how.source, how.now)?;
    let mut last = None;
    let report = read_log(reader, with, &mut |_, set| {
        must_have_lifter(&mut into, &mut last, &set.lifter, set.load.unit())?;
        Ok(match into.add_set(&set, how.on_difference())? {
            Added::New => Taken::New,
            Added::AlreadyThere => Taken::AlreadyThere,
            Added::Superseded => Taken::Superseded,
            Added::Withdrawn => Taken::Withdrawn,
            Added::Differs(on_record) => Taken::Differs(set_in_words(&on_record)),
        })
    })?;
    finish(into, report, how)
}

/// Imports check-ins. A lifter who isn't in the store is added.
///
/// # Errors
/// Whenever this returns an error, nothing was kept.
pub fn import_check_ins(
    store: &Store,
    reader: impl Read,
    with: Import<'_>,
    how: IntoStore<'_>,
) -> Result<ImportReport, ImportError> {
    let unit = with.plan.unit.unwrap_or_default();
    let mut into = store.begin_import(how.source, how.now)?;
    let mut last = None;
    let report = read_check_ins(reader, with, &mut |_, check_in| {
        must_have_lifter(&mut into, &mut last, &check_in.lifter, unit)?;
        Ok(match into.add_check_in(&check_in, how.on_difference())? {
            Added::New => Taken::New,
            Added::AlreadyThere => Taken::AlreadyThere,
            Added::Superseded => Taken::Superseded,
            Added::Withdrawn => Taken::Withdrawn,
            Added::Differs(on_record) => Taken::Differs(check_in_in_words(&on_record)),
        })
    })?;
    finish(into, report, how)
}

/// Imports a lift file, laid over the lifts known so far.
///
/// # Errors
/// [`ImportError::LiftFile`] names the line, the lift and the cure; nothing of the file is kept.
pub fn import_lift_file(
    store: &Store,
    text: &str,
    known: &Catalogue,
    how: IntoStore<'_>,
) -> Result<LiftFileReport, ImportError> {
    let with_file = known.clone().with_file(text)?;
    let (mut added, mut changed) = (Vec::new(), Vec::new());
    for lift in with_file.lifts() {
        match known.lifts().iter().find(|other| other.name.key() == lift.name.key()) {
            None => added.push(lift.name.to_string()),
            Some(before) if before != lift => changed.push(lift.name.to_string()),
            Some(_) => {}
        }
    }
    let mut into = store.begin_import(how.source, how.now)?;
    let already_there = matches!(into.add_lift_file(text)?, Added::AlreadyThere);
    if !how.dry_run {
        into.commit()?;
    }
    Ok(LiftFileReport { dry_run: how.dry_run, already_there, added, changed })
}

/// Adds the lifter of a line unless it is the lifter of the line before.
fn must_have_lifter(
    into: &mut ImportInto<'_>,
    last: &mut Option<LifterName>,
    name: &LifterName,
    unit: Unit,
) -> Result<(), ImportError> {
    if last.as_ref() != Some(name) {
        into.add_lifter_if_missing(&Lifter::usual(name.clone(), unit))?;
        *last = Some(name.clone());
    }
    Ok(())
}

fn finish(
    into: ImportInto<'_>,
    mut report: ImportReport,
    how: IntoStore<'_>,
) -> Result<ImportReport, ImportError> {
    report.dry_run = how.dry_run;
    if !how.dry_run {
        into.commit()?;
    }
    Ok(report)
}

/// A set as it is on record: `work, 100 kg × 5, 2 in reserve, "felt heavy"`.
fn set_in_words(set: &LoggedSet) -> String {
    let mut words = format!("{}, {} × {}", set.kind.as_str(), set.load, set.reps);
    if let Some(rir) = set.rir {
        words.push_str(&format!(", {rir} in reserve"));
    }
    if !set.note.is_empty() {
        words.push_str(&format!(", note {:?}", domain::bounds::shortened(set.note.as_str())));
    }
    words
}

fn check_in_in_words(check_in: &CheckIn) -> String {
    let mut words = Vec::new();
    words.extend(check_in.sleep_h.map(|hours| format!("sleep {hours} h")));
    words.extend(check_in.stress.map(|rating| format!("stress {rating}")));
    words.extend(check_in.soreness.map(|rating| format!("soreness {rating}")));
    words.extend(check_in.body_mass.map(|mass| format!("body mass {} kg", mass.kg())));
    words
        .extend(check_in.pain.map(|pain| format!("{} pain {}", pain.joint.label(), pain.rating())));
    if words.is_empty() { "a check-in without items".to_owned() } else { words.join(", ") }
}
