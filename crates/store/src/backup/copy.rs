//! Making a copy of the store while it is in use, and comparing the two.

use std::fs;
use std::path::{Path, PathBuf};
use std::time::Duration;

use jiff::Timestamp;
use rusqlite::backup::{Backup, StepResult};
use rusqlite::{Connection, ErrorCode, OpenFlags, OptionalExtension, TransactionBehavior};

use super::contents::{Count, FactRows, all_facts, n_facts};
use super::place::{Unfinished, belongs_to, clear_stale, is_same_file};
use super::{BackupError, Contents, Watch, sorted};
use crate::error::Trouble;
use crate::open::{folder_of, frozen_connection, must_exist, refuse_other_files};
use crate::verify::refuse_damage;
use crate::{Store, StoreError};

/// Pages copied between two looks at the watch.
const PAGES_AT_ONCE: i32 = 64;
/// Facts compared between two looks at the watch.
const FACTS_AT_ONCE: u64 = 1_000;
/// How often a step that finds a lock is tried again, and after what pause.
const PATIENCE: (u32, Duration) = (100, Duration::from_millis(50));

/// What to do about a file that lies in the place of the copy.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Over {
    /// Leave it and make no copy.
    Nothing,
    /// Put the copy in its place, if it is a copy of a store, too.
    ACopy,
}

/// A copy that was made and compared.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BackedUp {
    /// The file.
    pub path: PathBuf,
    /// What it holds, which is what the store held when the copy was begun.
    pub contents: Contents,
    /// Its size in bytes.
    pub bytes: u64,
    /// Whether it took the place of another file.
    pub replaced: bool,
}

/// By what copies of one record are known: its first recording.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Origin(i64, String);

impl Store {
    /// Copies the whole record to `place` from one state of it, opens the copy again, and compares it
    /// with the store fact by fact. Others may write meanwhile; what they write isn't in the copy. The copy is one file
    /// that only its owner can read, with nothing beside it. `now` tells what earlier, killed
    /// copies have left behind, which is taken away.
    ///
    /// # Errors
    /// See [`BackupError`]; after any of them `place` is as it was.
    pub fn back_up(
        &self,
        place: &Path,
        over: Over,
        now: Timestamp,
        watch: Watch<'_>,
    ) -> Result<BackedUp, BackupError> {
        let replaced = check_place(place, self.path(), over)?;
        must_exist(self.path())?;
        clear_stale(place, now);
        let unfinished = Unfinished::begin(place)?;
        let mut source = self.long_reader()?;
        let of_store = |trouble: Trouble| BackupError::Store(trouble.at(self.path()));
        let state = source
            .transaction_with_behavior(TransactionBehavior::Deferred)
            .map_err(|error| of_store(error.into()))?;
        let whole = 2 * n_facts(&state).map_err(of_store)?.max(1);
        copy_pages(&state, &unfinished, whole, watch).map_err(|end| end.of(self.path(), place))?;
        unfinished.sync(place)?;
        let contents = compare(&state, unfinished.path(), (whole / 2, watch))
            .map_err(|end| end.of(self.path(), place))?;
        drop(state);
        let bytes = fs::metadata(unfinished.path()).map_err(|reason| sorted(place, reason))?.len();
        if replaced {
            unfinished.replace(place)?
        } else {
            unfinished.settle(place)?
        }
        Ok(BackedUp { path: place.to_owned(), contents, bytes, replaced })
    }

    /// By what copies of this record are known; `None` while nothing was ever recorded.
    pub fn origin(&self) -> Result<Option<Origin>, StoreError> {
        self.reading(first_recording)
    }
}

/// By what the record in the file at `path`, of whatever version, is known.
pub fn origin_of(path: &Path) -> Result<Option<Origin>, StoreError> {
    must_exist(path)?;
    refuse_other_files(path)?;
    let found = frozen_connection(path).and_then(|connection| first_recording(&connection));
    found.map_err(|trouble| trouble.at(path))
}

fn first_recording(connection: &Connection) -> Result<Option<Origin>, Trouble> {
    let query = "SELECT at_us, source FROM recording ORDER BY id LIMIT 1";
    let found = connection.query_row(query, [], |row| Ok(Origin(row.get(0)?, row.get(1)?)));
    Ok(found.optional()?)
}

/// Refuses places where no copy can be put; whether one would be replaced.
fn check_place(place: &Path, store: &Path, over: Over) -> Result<bool, BackupError> {
    if belongs_to(place, store) {
        return Err(BackupError::TheStore { path: place.to_owned() });
    }
    if !folder_of(place).is_dir() {
        return Err(BackupError::NoFolder { path: folder_of(place) });
    }
    if fs::symlink_metadata(place).is_err() {
        return Ok(false);
    }
    if over == Over::Nothing {
        return Err(BackupError::AlreadyThere { path: place.to_owned() });
    }
    let is_copy = place.is_file() && refuse_other_files(place).is_ok();
    if !is_copy || is_same_file(place, store) {
        return Err(BackupError::AnotherFile { path: place.to_owned() });
    }
    drop(super::alone::Alone::with(place)?); // somebody's store in use stays
    Ok(true)
}

/// How copying or comparing ended, before the files are named.
enum End {
    Source(Trouble),
    Copy(Trouble),
    Differs(String),
    Ended,
}

impl End {
    fn of(self, store: &Path, place: &Path) -> BackupError {
        match self {
            End::Source(trouble) => BackupError::Store(trouble.at(store)),
            End::Differs(found) => BackupError::Differs { path: place.to_owned(), found },
            End::Ended => BackupError::Ended,
            End::Copy(trouble) => match trouble.at(place) {
                StoreError::DiskFull { path } => BackupError::DiskFull { path },
                StoreError::ReadOnly { path } => BackupError::ReadOnly { path },
                StoreError::Io { path, reason } => BackupError::Io { path, reason },
                StoreError::Corrupt { found, .. } => {
                    BackupError::Differs { path: place.to_owned(), found }
                }
                other => BackupError::Differs { path: place.to_owned(), found: other.to_string() },
            },
        }
    }
}

/// Copies every page as `state` sees it, and leaves a file that needs nothing beside it.
fn copy_pages(
    state: &Connection,
    unfinished: &Unfinished,
    whole: u64,
    watch: Watch<'_>,
) -> Result<(), End> {
    let of_copy = |error: rusqlite::Error| End::Copy(error.into());
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let mut copy = Connection::open_with_flags(unfinished.path(), flags).map_err(of_copy)?;
    // It is synced as a whole once it is written, and of no use before.
    copy.pragma_update(None, "synchronous", "OFF").map_err(of_copy)?;
    let backup = Backup::new(state, &mut copy).map_err(of_copy)?;
    let mut patience = PATIENCE.0;
    loop {
        match backup.step(PAGES_AT_ONCE).map_err(sorted_step)? {
            StepResult::Done => break,
            StepResult::More => patience = PATIENCE.0,
            _ if patience == 0 => return Err(End::Source(locked())),
            _ => {
                patience -= 1;
                std::thread::sleep(PATIENCE.1);
            }
        }
        let (left, pages) = (backup.progress().remaining, backup.progress().pagecount);
        let copied = u64::from((pages - left).unsigned_abs());
        let done = whole / 2 * copied / u64::from(pages.unsigned_abs()).max(1);
        if watch(done, whole).is_break() {
            return Err(End::Ended);
        }
    }
    drop(backup);
    copy.query_row("PRAGMA journal_mode = DELETE", [], |_| Ok(())).map_err(of_copy)?;
    copy.close().map_err(|(_, error)| of_copy(error))
}

/// A step reads the source and writes the copy: tells by the error which of the two it was.
fn sorted_step(error: rusqlite::Error) -> End {
    match error.sqlite_error_code() {
        Some(
            ErrorCode::DatabaseCorrupt
            | ErrorCode::NotADatabase
            | ErrorCode::DatabaseBusy
            | ErrorCode::DatabaseLocked,
        ) => End::Source(error.into()),
        _ => End::Copy(error.into()),
    }
}

fn locked() -> Trouble {
    let busy = rusqlite::ffi::Error::new(rusqlite::ffi::SQLITE_BUSY);
    rusqlite::Error::SqliteFailure(busy, None).into()
}

/// Opens the copy again and compares every fact; tells what both hold.
fn compare(
    state: &Connection,
    copy: &Path,
    (n_facts, watch): (u64, Watch<'_>),
) -> Result<Contents, End> {
    let copied = frozen_connection(copy).map_err(End::Copy)?;
    let mut ours = all_facts(state).map_err(End::Source)?;
    let mut theirs = all_facts(&copied).map_err(End::Copy)?;
    let mut ours = FactRows::new(state, &mut ours).map_err(End::Source)?;
    let mut theirs = FactRows::new(&copied, &mut theirs).map_err(End::Copy)?;
    let mut count = Count::default();
    loop {
        let fact = ours.next().map_err(End::Source)?;
        if fact != theirs.next().map_err(End::Copy)? {
            let seq = fact.map_or(count.facts() + 1, |fact| fact.seq);
            return Err(End::Differs(format!("fact {seq}")));
        }
        let Some(fact) = fact else { break };
        count.add(&fact);
        let done = count.facts();
        if done.is_multiple_of(FACTS_AT_ONCE) && watch(n_facts + done, 2 * n_facts).is_break() {
            return Err(End::Ended);
        }
    }
    refuse_damage(&copied).map_err(|trouble| {
        // Where both are damaged, the store is to be named.
        refuse_damage(state).map_or_else(End::Source, |()| End::Copy(trouble))
    })?;
    Ok(count.finish())
}
