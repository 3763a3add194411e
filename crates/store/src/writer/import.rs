//! An import: many facts in one transaction, all of them or none.

use domain::{CheckIn, Lifter, LoggedSet};
use jiff::Timestamp;
use rusqlite::Connection;

use super::{Added, Ledger, OnDifference};
use crate::connections::Turn;
use crate::error::Trouble;
use crate::facts::{Fact, restore};
use crate::{Store, StoreError};

/// Names one recording: an import, or one act at the desk. Counts up from 1.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct ImportId(pub(crate) i64);

impl ImportId {
    /// The number.
    #[must_use]
    pub fn get(self) -> u64 {
        self.0.unsigned_abs()
    }

    /// Takes a number back, as read from an export; `None` unless it is from 1 to 2⁶³ − 1.
    #[must_use]
    pub fn new(number: u64) -> Option<ImportId> {
        i64::try_from(number).ok().filter(|number| *number > 0).map(ImportId)
    }
}

impl std::fmt::Display for ImportId {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}", self.0)
    }
}

/// One writing transaction. Nothing of it can be seen before [`ImportInto::commit`] returns, and
/// nothing of it stays if it is dropped before.
pub struct ImportInto<'a> {
    store: &'a Store,
    connection: Turn<'a>,
    ledger: Ledger,
    given_up: bool,
}

impl Store {
    /// Begins an import from `source` (a file's name, say). Waits for its turn behind other threads, and for
    /// other programs up to the busy timeout. Until it ends, no other method of this store that writes can get
    /// through.
    ///
    /// # Errors
    /// [`StoreError::Locked`] when another program isn't done in time, [`StoreError::Queue`] when the threads
    /// before aren't, [`StoreError::Replaced`] when the file isn't there any more.
    pub fn begin_import(&self, source: &str, now: Timestamp) -> Result<ImportInto<'_>, StoreError> {
        let connection = self.writer()?;
        self.refuse_if_lost(&connection)?;
        let ledger = connection
            .execute_batch("BEGIN IMMEDIATE")
            .map_err(Trouble::from)
            .and_then(|()| {
                Ledger::begin(&connection, source, now).inspect_err(|_| undo(&connection))
            })
            .map_err(|trouble| trouble.at(self.path()))?;
        Ok(ImportInto { store: self, connection, ledger, given_up: false })
    }
}

impl ImportInto<'_> {
    /// Adds a set unless it is there already. Sets without a time keep the order in which they are
    /// added.
    ///
    /// # Errors
    /// [`StoreError::UnknownLifter`] unless its lifter was added before.
    pub fn add_set(
        &mut self,
        set: &LoggedSet,
        on_difference: OnDifference,
    ) -> Result<Added<LoggedSet>, StoreError> {
        self.writing(|ledger, at| ledger.add(at, set, on_difference))
    }

    /// Adds a check-in unless it is there already.
    ///
    /// # Errors
    /// [`StoreError::UnknownLifter`] unless its lifter was added before.
    pub fn add_check_in(
        &mut self,
        check_in: &CheckIn,
        on_difference: OnDifference,
    ) -> Result<Added<CheckIn>, StoreError> {
        self.writing(|ledger, at| ledger.add(at, check_in, on_difference))
    }

    /// Adds a lifter whose name isn't there, in any case of letters; leaves the settings of one who
    /// is.
    pub fn add_lifter_if_missing(&mut self, lifter: &Lifter) -> Result<Added<Lifter>, StoreError> {
        self.writing(|ledger, at| ledger.add_lifter_if_missing(at, lifter))
    }

    /// Adds a version of a lifter; nothing if the newest says the same.
    pub fn put_lifter(&mut self, lifter: &Lifter) -> Result<Added<Lifter>, StoreError> {
        self.writing(|ledger, at| ledger.put_lifter(at, lifter))
    }

    /// Lays a lift file's text on top of those that are there. The text that lies on top already
    /// adds nothing; one that lies further down is laid on top again.
    pub fn add_lift_file(&mut self, text: &str) -> Result<Added<String>, StoreError> {
        self.writing(|ledger, at| ledger.add_lift_file(at, text))
    }

    /// Puts a fact from [`Store::for_each_fact`] back under its own number, with its own recording.
    /// Facts come in their order; one that is there already adds nothing.
    ///
    /// # Errors
    /// [`StoreError::CannotRestore`] when the store holds something else under that number.
    pub fn restore_fact(&mut self, fact: &Fact) -> Result<Added<Fact>, StoreError> {
        self.writing(|ledger, at| restore(ledger, at, fact))
    }

    /// Makes all of it last: it is on the disk when this returns. `None` if there was nothing to
    /// record, or if facts were only restored, which keep their own recordings.
    ///
    /// # Errors
    /// On any error nothing of the import stays. [`StoreError::Replaced`] if the file was removed or replaced, even
    /// while this ran.
    pub fn commit(mut self) -> Result<Option<ImportId>, StoreError> {
        self.store.refuse_if_lost(&self.connection)?;
        self.writing(|ledger, at| {
            ledger.seal(at)?;
            Ok(at.execute_batch("COMMIT")?)
        })?;
        self.store.refuse_if_lost(&self.connection)?;
        self.store.committed(&self.connection);
        Ok(self.ledger.recording.map(ImportId))
    }

    /// Runs one step. When SQLite fails in it, the whole import is given up there and then: SQLite
    /// may have rolled back by itself, and what followed would be written outside any transaction.
    pub(crate) fn writing<T>(
        &mut self,
        step: impl FnOnce(&mut Ledger, &Connection) -> Result<T, Trouble>,
    ) -> Result<T, StoreError> {
        if self.given_up {
            return Err(StoreError::GivenUp { path: self.store.path().to_owned() });
        }
        if self.connection.is_broken_off() {
            self.given_up = true;
            undo(&self.connection);
            return Err(StoreError::Closed { path: self.store.path().to_owned() });
        }
        step(&mut self.ledger, &self.connection).map_err(|trouble| {
            if !matches!(trouble, Trouble::Told(_)) {
                self.given_up = true;
                undo(&self.connection);
            }
            trouble.at(self.store.path())
        })
    }
}

impl Drop for ImportInto<'_> {
    fn drop(&mut self) {
        undo(&self.connection);
    }
}

/// Rolls back unless SQLite has done so already, as it does when the disk is full.
fn undo(connection: &Connection) {
    if !connection.is_autocommit() {
        // If even this fails, the log holds no commit mark, which is what counts.
        connection.execute_batch("ROLLBACK").ok();
    }
}
