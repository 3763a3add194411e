//! A lifter's programme on disk: the text of its file, the day from which its weeks are counted, and every
//! version of both.
//!
//! A lifter has one programme at most. Another one supersedes it, and so does taking it away. What the text
//! says isn't looked at here.

use domain::LifterName;
use jiff::Timestamp;
use jiff::civil::Date;
use rusqlite::{Connection, OptionalExtension, params};

use crate::checksum::Checksum;
use crate::error::Trouble;
use crate::history::{Version, versions_of_lifter};
use crate::writer::{Added, Entry, Head, ImportInto, Ledger, name_of, newest_with_id};
use crate::{Store, StoreError};

/// A lifter's programme as it was recorded.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LifterProgramme {
    /// Whose it is.
    pub lifter: LifterName,
    /// The day from which it is followed.
    pub begins: Date,
    /// The text of its file, as it was written.
    pub text: String,
}

/// One version of a lifter's programme.
pub type ProgrammeVersion = Version<LifterProgramme>;

/// Its kind in the table of facts.
pub(crate) const KIND: &str = "programme";

impl Store {
    /// The lifter's programme; none for an unknown lifter, or if there is none or it was taken away.
    pub fn programme_of(&self, name: &LifterName) -> Result<Option<LifterProgramme>, StoreError> {
        self.reading(|connection| {
            let head = newest_with_id(connection, KIND, name.key().as_bytes())?;
            let current = head.filter(|head| !head.withdrawn);
            current.map(|head| programme_at(connection, head.seq)).transpose()
        })
    }

    /// Every programme that the lifter has had, oldest first, with each version of it; one that is
    /// withdrawn was taken away.
    pub fn programmes_of(&self, name: &LifterName) -> Result<Vec<ProgrammeVersion>, StoreError> {
        let statement = "SELECT f.seq, f.withdrawn, f.reason, f.recording FROM programme p \
                 JOIN fact f ON f.seq = p.seq WHERE p.lifter = ?1 ORDER BY f.seq";
        self.reading(|connection| versions_of_lifter(connection, name, statement, programme_at))
    }

    /// Records a lifter's programme, which supersedes the one that there is. Nothing is recorded if that
    /// says the same.
    ///
    /// # Errors
    /// [`StoreError::UnknownLifter`].
    pub fn put_programme(
        &self,
        programme: &LifterProgramme,
        reason: &str,
        now: Timestamp,
    ) -> Result<Added<LifterProgramme>, StoreError> {
        let mut act = self.begin_import("programme", now)?;
        let added = act.put_programme(programme, reason)?;
        act.commit()?;
        Ok(added)
    }

    /// Takes a lifter's programme away. It stays in the history. Nothing is recorded if there is none.
    ///
    /// # Errors
    /// [`StoreError::UnknownLifter`].
    pub fn withdraw_programme(
        &self,
        name: &LifterName,
        reason: &str,
        now: Timestamp,
    ) -> Result<(), StoreError> {
        let mut act = self.begin_import("withdrawal", now)?;
        act.writing(|ledger, at| {
            ledger.known_lifter_id(at, name)?;
            let head = newest_with_id(at, KIND, name.key().as_bytes())?;
            let Some(head) = head.filter(|head| !head.withdrawn) else { return Ok(()) };
            let taken_away = programme_at(at, head.seq)?;
            supersede(ledger, at, Some(&head), &taken_away, (true, reason))
        })?;
        act.commit().map(|_| ())
    }
}

impl ImportInto<'_> {
    /// [`Store::put_programme`] within this transaction.
    pub fn put_programme(
        &mut self,
        programme: &LifterProgramme,
        reason: &str,
    ) -> Result<Added<LifterProgramme>, StoreError> {
        self.writing(|ledger, at| {
            ledger.known_lifter_id(at, &programme.lifter)?; // before a row is touched
            let head = newest_with_id(at, KIND, programme.lifter.key().as_bytes())?;
            if let Some(head) = head.as_ref().filter(|head| !head.withdrawn) {
                let there = programme_at(at, head.seq)?;
                if (there.begins, &there.text) == (programme.begins, &programme.text) {
                    return Ok(Added::AlreadyThere);
                }
            }
            supersede(ledger, at, head.as_ref(), programme, (false, reason))?;
            Ok(if head.is_some() { Added::Superseded } else { Added::New })
        })
    }
}

/// One version of a lifter's programme.
pub(crate) fn programme_at(connection: &Connection, seq: i64) -> Result<LifterProgramme, Trouble> {
    let mut statement =
        connection.prepare_cached("SELECT lifter, begins, text FROM programme WHERE seq = ?1")?;
    let row: Option<(i64, String, String)> =
        statement.query_row([seq], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?))).optional()?;
    let bad = |reason: &str| Trouble::BadRow {
        place: format!("table `programme`, row {seq}"),
        reason: reason.to_owned(),
    };
    let (lifter, begins, text) = row.ok_or_else(|| bad("it is missing"))?;
    let begins = begins.parse().map_err(|_| bad("the day on which it begins is no date"))?;
    Ok(LifterProgramme { lifter: name_of(connection, lifter)?, begins, text })
}

/// Adds all that it says to its fact's checksum.
pub(crate) fn sum_programme(sum: &mut Checksum, programme: &LifterProgramme) {
    sum.add(programme.lifter.key()).add(programme.begins.to_string()).add(programme.text.as_str());
}

pub(crate) fn write_programme(
    ledger: &mut Ledger,
    at: &Connection,
    seq: i64,
    programme: &LifterProgramme,
) -> Result<(), Trouble> {
    let lifter = ledger.known_lifter_id(at, &programme.lifter)?;
    at.execute(
        "INSERT INTO programme (seq, lifter, begins, text) VALUES (?1, ?2, ?3, ?4)",
        params![seq, lifter, programme.begins.to_string(), programme.text],
    )?;
    Ok(())
}

fn supersede(
    ledger: &mut Ledger,
    at: &Connection,
    head: Option<&Head>,
    programme: &LifterProgramme,
    (withdrawn, reason): (bool, &str),
) -> Result<(), Trouble> {
    let id = programme.lifter.key();
    let entry =
        Entry { kind: KIND, id: id.as_bytes(), place: None, supersedes: head, withdrawn, reason };
    let seq = ledger.put_entry(at, &entry, |sum| sum_programme(sum, programme))?;
    write_programme(ledger, at, seq, programme)
}
