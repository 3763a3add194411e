//! Changes of plan for some days, on disk: the text of what changes, its first and last day, and every version.
//!
//! A lifter may have any number of them. Each has an id of its own, and taking it back supersedes it. What the
//! text says isn't looked at here.

use domain::LifterName;
use jiff::Timestamp;
use jiff::civil::Date;
use rusqlite::{Connection, OptionalExtension, params};

use crate::checksum::Checksum;
use crate::error::Trouble;
use crate::history::{Version, versions_of_lifter};
use crate::writer::{Added, Entry, Head, ImportInto, Ledger, name_of, newest_with_id};
use crate::{Store, StoreError};

/// A change of plan as it was recorded.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PlanChange {
    /// Names it; made by whoever records it.
    pub id: [u8; 16],
    /// Whose plan changes.
    pub lifter: LifterName,
    /// Its first day.
    pub from: Date,
    /// Its last day.
    pub until: Date,
    /// What changes, as text.
    pub text: String,
}

/// One version of a change of plan.
pub type PlanChangeVersion = Version<PlanChange>;

/// Its kind in the table of facts.
pub(crate) const KIND: &str = "plan-change";

impl Store {
    /// The changes of a lifter's plan, each in its newest version, in the order in which they were first
    /// recorded; one that is withdrawn was taken back.
    pub fn plan_changes_of(&self, name: &LifterName) -> Result<Vec<PlanChangeVersion>, StoreError> {
        let statement = "SELECT f.seq, f.withdrawn, f.reason, f.recording FROM plan_change p \
                 JOIN fact f ON f.seq = p.seq WHERE p.lifter = ?1 \
                 AND NOT EXISTS (SELECT 1 FROM fact n WHERE n.supersedes = f.seq) ORDER BY f.entry";
        self.reading(|connection| versions_of_lifter(connection, name, statement, plan_change_at))
    }

    /// Records a change of plan; one with the same id is superseded. Nothing is recorded if that says the same.
    ///
    /// # Errors
    /// [`StoreError::UnknownLifter`].
    pub fn put_plan_change(
        &self,
        change: &PlanChange,
        reason: &str,
        now: Timestamp,
    ) -> Result<Added<PlanChange>, StoreError> {
        let mut act = self.begin_import("change of plan", now)?;
        let added = act.put_plan_change(change, reason)?;
        act.commit()?;
        Ok(added)
    }

    /// Takes a change of plan back; whether there was one to take back. It stays in the history.
    ///
    /// # Errors
    /// [`StoreError::UnknownLifter`].
    pub fn withdraw_plan_change(
        &self,
        name: &LifterName,
        id: &[u8; 16],
        reason: &str,
        now: Timestamp,
    ) -> Result<bool, StoreError> {
        let mut act = self.begin_import("withdrawal", now)?;
        let is_there = act.writing(|ledger, at| {
            ledger.known_lifter_id(at, name)?;
            let head = newest_with_id(at, KIND, id)?.filter(|head| !head.withdrawn);
            let Some(head) = head else { return Ok(false) };
            let change = plan_change_at(at, head.seq)?;
            if change.lifter.key() != name.key() {
                return Ok(false);
            }
            supersede(ledger, at, Some(&head), &change, (true, reason))?;
            Ok(true)
        })?;
        act.commit()?;
        Ok(is_there)
    }
}

impl ImportInto<'_> {
    /// [`Store::put_plan_change`] within this transaction.
    pub fn put_plan_change(
        &mut self,
        change: &PlanChange,
        reason: &str,
    ) -> Result<Added<PlanChange>, StoreError> {
        self.writing(|ledger, at| {
            ledger.known_lifter_id(at, &change.lifter)?; // before a row is touched
            let head = newest_with_id(at, KIND, &change.id)?;
            if let Some(head) = head.as_ref().filter(|head| !head.withdrawn)
                && plan_change_at(at, head.seq)? == *change
            {
                return Ok(Added::AlreadyThere);
            }
            supersede(ledger, at, head.as_ref(), change, (false, reason))?;
            Ok(if head.is_some() { Added::Superseded } else { Added::New })
        })
    }
}

/// One version of a change of plan.
pub(crate) fn plan_change_at(connection: &Connection, seq: i64) -> Result<PlanChange, Trouble> {
    let mut statement = connection.prepare_cached(
        "SELECT f.id, p.lifter, p.from_day, p.to_day, p.text FROM plan_change p \
         JOIN fact f ON f.seq = p.seq WHERE p.seq = ?1",
    )?;
    type Row = (Vec<u8>, i64, String, String, String);
    let row: Option<Row> = statement
        .query_row([seq], |row| {
            Ok((row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?, row.get(4)?))
        })
        .optional()?;
    let bad = |reason: &str| Trouble::BadRow {
        place: format!("table `plan_change`, row {seq}"),
        reason: reason.to_owned(),
    };
    let (id, lifter, from, until, text) = row.ok_or_else(|| bad("it is missing"))?;
    let id = id.try_into().map_err(|_| bad("its id has not 16 bytes"))?;
    let day = |text: &str| text.parse().map_err(|_| bad("one of its days is no date"));
    let (from, until) = (day(&from)?, day(&until)?);
    Ok(PlanChange { id, lifter: name_of(connection, lifter)?, from, until, text })
}

/// Adds all that it says to its fact's checksum.
pub(crate) fn sum_plan_change(sum: &mut Checksum, change: &PlanChange) {
    sum.add(change.lifter.key())
        .add(change.from.to_string())
        .add(change.until.to_string())
        .add(change.text.as_str());
}

pub(crate) fn write_plan_change(
    ledger: &mut Ledger,
    at: &Connection,
    seq: i64,
    change: &PlanChange,
) -> Result<(), Trouble> {
    let lifter = ledger.known_lifter_id(at, &change.lifter)?;
    let (from, until) = (change.from.to_string(), change.until.to_string());
    at.execute(
        "INSERT INTO plan_change (seq, lifter, from_day, to_day, text) VALUES (?1, ?2, ?3, ?4, ?5)",
        params![seq, lifter, from, until, change.text],
    )?;
    Ok(())
}

fn supersede(
    ledger: &mut Ledger,
    at: &Connection,
    head: Option<&Head>,
    change: &PlanChange,
    (withdrawn, reason): (bool, &str),
) -> Result<(), Trouble> {
    let entry =
        Entry { kind: KIND, id: &change.id, place: None, supersedes: head, withdrawn, reason };
    let seq = ledger.put_entry(at, &entry, |sum| sum_plan_change(sum, change))?;
    write_plan_change(ledger, at, seq, change)
}
