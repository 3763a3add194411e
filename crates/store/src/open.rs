//! Opening a store: which file is one, bringing it up to date, and its connections.
//!
//! One connection writes, behind a lock; each read takes a connection of its own, so that readers
//! neither wait nor make anybody wait. A file that isn't a store is recognised from its first bytes
//! and left alone. Migrations are numbered SQL files which are never edited; before one runs over a
//! record, the file is copied.

use std::fs::{self, File};
use std::io::Read;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError, TryLockError};
use std::time::Duration;

use rusqlite::{Connection, OpenFlags, TransactionBehavior};

use crate::StoreError;
use crate::error::Trouble;

/// Marks a SQLite file as a store ("Bewr" in ASCII).
pub(crate) const APPLICATION_ID: i32 = 0x4265_7772;

/// The numbered migrations; the n-th brings a file to version n.
pub(crate) const MIGRATIONS: &[&str] = &[
    include_str!("../migrations/0001_record.sql"),
    include_str!("../migrations/0002_fits.sql"),
    include_str!("../migrations/0003_floor.sql"),
    include_str!("../migrations/0004_programme.sql"),
    include_str!("../migrations/0005_calendar.sql"),
    include_str!("../migrations/0006_plan_change.sql"),
];

const SQLITE_HEADER: &[u8; 16] = b"SQLite format 3\0";
const LOCK_STEP: Duration = Duration::from_millis(5);

/// How a store is opened.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Settings {
    /// How long a writer waits for another writer before it gives up.
    pub busy_timeout: Duration,
    /// The most pages of 4 KiB that the file may grow to; no limit but the disk's if `None`.
    pub max_pages: Option<u32>,
}

impl Default for Settings {
    /// Waits five seconds; lets the file grow.
    fn default() -> Settings {
        Settings { busy_timeout: Duration::from_secs(5), max_pages: None }
    }
}

/// The record on disk. May be shared between threads: writers take turns, readers don't wait.
#[derive(Debug)]
pub struct Store {
    path: PathBuf,
    settings: Settings,
    access: Access,
    readers: Mutex<Vec<Connection>>,
}

/// How the file was opened.
#[derive(Debug)]
pub(crate) enum Access {
    Write(Mutex<Connection>),
    Read,
    /// Nobody can write to the file or beside it, so it can't change either.
    Frozen,
}

impl Store {
    /// Opens the store at `path`; makes its folder and the file if they are missing (an empty file
    /// becomes a new store) and brings an older file up to date after making a backup beside it.
    ///
    /// # Errors
    /// Every way in which a file can't be opened; see [`StoreError`]. A file that isn't a store is
    /// left as it is.
    pub fn open(path: &Path) -> Result<Store, StoreError> {
        Store::open_with(path, Settings::default())
    }

    /// [`Store::open`] with settings.
    pub fn open_with(path: &Path, settings: Settings) -> Result<Store, StoreError> {
        make_folder(path)?;
        Store::open_migrated(path, settings, MIGRATIONS)
    }

    /// Opens a store that must be there already; brings an older file up to date as
    /// [`Store::open`] does.
    pub fn open_existing(path: &Path) -> Result<Store, StoreError> {
        must_exist(path)?;
        Store::open_migrated(path, Settings::default(), MIGRATIONS)
    }

    /// Opens a store for reading only; nothing is written, not even a migration. Works on a disk
    /// where nothing can be written, if the store was closed properly.
    pub fn open_read_only(path: &Path) -> Result<Store, StoreError> {
        must_exist(path)?;
        refuse_other_files(path)?;
        let settings = Settings::default();
        let (connection, access) = open_for_reading(path, settings)?;
        let known = MIGRATIONS.len() as i64;
        match checked_version(&connection, path).map_err(|trouble| trouble.at(path))? {
            found if found > known => {
                return Err(StoreError::NewerVersion { path: path.to_owned(), found, known });
            }
            0 => return Err(not_a_store(path, "an empty database")),
            found if found < known => {
                return Err(StoreError::OlderVersion { path: path.to_owned(), found, known });
            }
            _ => {}
        }
        let readers = Mutex::new(vec![connection]);
        Ok(Store { path: path.to_owned(), settings, access, readers })
    }

    /// The file.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Whether this store is writing at this moment.
    pub(crate) fn is_writing(&self) -> bool {
        match &self.access {
            Access::Write(connection) => {
                matches!(connection.try_lock(), Err(TryLockError::WouldBlock))
            }
            Access::Read | Access::Frozen => false,
        }
    }

    /// Opens with given migrations, so that the machinery can be tried with ones that don't exist.
    pub(crate) fn open_migrated(
        path: &Path,
        settings: Settings,
        migrations: &[&str],
    ) -> Result<Store, StoreError> {
        refuse_other_files(path)?;
        let connection = open_for_writing(path, settings, migrations)
            .map_err(|t| read_only_if_so(t.at(path)))?;
        Ok(Store {
            path: path.to_owned(),
            settings,
            access: Access::Write(Mutex::new(connection)),
            readers: Mutex::default(),
        })
    }

    /// Takes the writing connection. Waits as long as it would for another process, so that a
    /// thread which forgot that it is importing gets an error and doesn't hang.
    pub(crate) fn writer(&self) -> Result<MutexGuard<'_, Connection>, StoreError> {
        let Access::Write(connection) = &self.access else {
            return Err(StoreError::ReadOnly { path: self.path.clone() });
        };
        let mut left = self.settings.busy_timeout;
        loop {
            match connection.try_lock() {
                Ok(guard) => return Ok(guard),
                Err(TryLockError::Poisoned(poisoned)) => return Ok(poisoned.into_inner()),
                Err(TryLockError::WouldBlock) if left.is_zero() => {
                    return Err(StoreError::Locked { path: self.path.clone() });
                }
                Err(TryLockError::WouldBlock) => {
                    std::thread::sleep(LOCK_STEP.min(left));
                    left = left.saturating_sub(LOCK_STEP);
                }
            }
        }
    }

    /// Reads with a connection of its own, all from one state of the record.
    pub(crate) fn reading<T>(
        &self,
        read: impl FnOnce(&Connection) -> Result<T, Trouble>,
    ) -> Result<T, StoreError> {
        let kept = self.readers.lock().unwrap_or_else(PoisonError::into_inner).pop();
        let mut connection = match kept {
            Some(connection) => connection,
            None => self.new_reader().map_err(|trouble| trouble.at(&self.path))?,
        };
        let outcome = read_in_one_state(&mut connection, read);
        self.readers.lock().unwrap_or_else(PoisonError::into_inner).push(connection);
        outcome.map_err(|trouble| trouble.at(&self.path))
    }

    fn new_reader(&self) -> Result<Connection, Trouble> {
        match self.access {
            Access::Frozen => frozen_connection(&self.path),
            Access::Write(_) | Access::Read => read_connection(&self.path, self.settings),
        }
    }
}

/// Where a write-ahead log or a journal of `path` lies: the file's name with `suffix`.
pub(crate) fn beside(path: &Path, suffix: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(suffix);
    PathBuf::from(name)
}

/// The version of the file; 0 if it holds nothing at all.
pub(crate) fn version_of(connection: &Connection) -> Result<i64, Trouble> {
    Ok(connection.pragma_query_value(None, "user_version", |row| row.get(0))?)
}

/// The version of the file, which must carry our mark unless it is empty.
pub(crate) fn checked_version(connection: &Connection, path: &Path) -> Result<i64, Trouble> {
    // One statement and so one state of the file: another process may be making it just now.
    let (version, mark, n_tables): (i64, i32, i64) = connection.query_row(
        "SELECT user_version, application_id, (SELECT count(*) FROM sqlite_schema) \
         FROM pragma_user_version, pragma_application_id",
        [],
        |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)),
    )?;
    match (version, mark) {
        (1.., APPLICATION_ID) => Ok(version),
        (0, 0) if n_tables == 0 => Ok(version),
        _ => Err(not_a_store(path, "another program's database").into()),
    }
}

/// A connection that can write, with every setting on which durability rests.
pub(crate) fn write_connection(path: &Path, settings: Settings) -> Result<Connection, Trouble> {
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE
        | OpenFlags::SQLITE_OPEN_CREATE
        | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let connection = Connection::open_with_flags(path, flags)?;
    connection.busy_timeout(settings.busy_timeout)?;
    connection.pragma_update(None, "synchronous", "FULL")?;
    connection.pragma_update(None, "foreign_keys", true)?;
    connection.pragma_update(None, "cache_size", -64 * 1024)?; // KiB
    connection.pragma_update(None, "temp_store", "MEMORY")?;
    connection.set_prepared_statement_cache_capacity(64);
    if let Some(pages) = settings.max_pages {
        connection.query_row(&format!("PRAGMA max_page_count = {pages}"), [], |_| Ok(()))?;
    }
    Ok(connection)
}

fn read_connection(path: &Path, settings: Settings) -> Result<Connection, Trouble> {
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let connection = Connection::open_with_flags(path, flags)?;
    connection.busy_timeout(settings.busy_timeout)?;
    connection.pragma_update(None, "cache_size", -16 * 1024)?; // KiB
    connection.pragma_update(None, "temp_store", "MEMORY")?;
    connection.set_prepared_statement_cache_capacity(64);
    version_of(&connection)?; // opening touches nothing yet; this does
    Ok(connection)
}

/// A connection to a file that can't change, which needs no files beside it.
fn frozen_connection(path: &Path) -> Result<Connection, Trouble> {
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY
        | OpenFlags::SQLITE_OPEN_NO_MUTEX
        | OpenFlags::SQLITE_OPEN_URI;
    let escaped: String = path
        .to_string_lossy()
        .chars()
        .map(|c| match c {
            '%' => "%25".to_owned(),
            '?' => "%3f".to_owned(),
            '#' => "%23".to_owned(),
            other => other.to_string(),
        })
        .collect();
    let connection = Connection::open_with_flags(format!("file:{escaped}?immutable=1"), flags)?;
    version_of(&connection)?;
    Ok(connection)
}

/// Opens for reading; falls back to a frozen file where SQLite can't put its lock beside the file.
pub(crate) fn open_for_reading(
    path: &Path,
    settings: Settings,
) -> Result<(Connection, Access), StoreError> {
    let trouble = match read_connection(path, settings) {
        Ok(connection) => return Ok((connection, Access::Read)),
        Err(trouble) => trouble,
    };
    let log_is_empty = fs::metadata(beside(path, "-wal")).map_or(true, |log| log.len() == 0);
    match trouble.at(path) {
        StoreError::Io { .. } | StoreError::ReadOnly { .. } if log_is_empty => {
            let connection = frozen_connection(path).map_err(|trouble| trouble.at(path))?;
            Ok((connection, Access::Frozen))
        }
        other => Err(other),
    }
}

fn read_in_one_state<T>(
    connection: &mut Connection,
    read: impl FnOnce(&Connection) -> Result<T, Trouble>,
) -> Result<T, Trouble> {
    let transaction = connection.transaction_with_behavior(TransactionBehavior::Deferred)?;
    let value = read(&transaction)?;
    transaction.finish()?;
    Ok(value)
}

fn open_for_writing(
    path: &Path,
    settings: Settings,
    migrations: &[&str],
) -> Result<Connection, Trouble> {
    let mut connection = write_connection(path, settings)?;
    if checked_version(&connection, path)? != migrations.len() as i64 {
        migrate(&mut connection, path, settings, migrations)?;
    }
    switch_to_write_ahead_log(&connection, settings)?;
    Ok(connection)
}

/// Brings the file to the newest version in one transaction, after copying it if it holds anything.
fn migrate(
    connection: &mut Connection,
    path: &Path,
    settings: Settings,
    migrations: &[&str],
) -> Result<(), Trouble> {
    let known = migrations.len() as i64;
    let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    let found = checked_version(&transaction, path)?; // again: somebody may have migrated meanwhile
    if found > known {
        return Err(StoreError::NewerVersion { path: path.to_owned(), found, known }.into());
    }
    if (1..known).contains(&found) {
        back_up(path, settings, found)?;
    }
    for (idx, migration) in migrations.iter().enumerate().skip(found.max(0) as usize) {
        transaction.execute_batch(migration)?;
        transaction.pragma_update(None, "user_version", idx as i64 + 1)?;
    }
    transaction.pragma_update(None, "application_id", APPLICATION_ID)?;
    transaction.commit()?;
    Ok(())
}

/// Copies the file to `<name>.version-<n>.backup` beside it, over an unfinished copy but never over
/// a finished one.
fn back_up(path: &Path, settings: Settings, version: i64) -> Result<PathBuf, Trouble> {
    let io = |path: &Path, reason| StoreError::Io { path: path.to_owned(), reason };
    let unfinished = beside(path, ".backup-unfinished");
    fs::remove_file(&unfinished)
        .or_else(|e| if e.kind() == std::io::ErrorKind::NotFound { Ok(()) } else { Err(e) })
        .map_err(|e| io(&unfinished, e))?;
    let source = read_connection(path, settings)?;
    source.backup("main", &unfinished, None)?;
    File::open(&unfinished).and_then(|file| file.sync_all()).map_err(|e| io(&unfinished, e))?;
    let mut finished = beside(path, &format!(".version-{version}.backup"));
    let mut copy = 1;
    while finished.exists() {
        copy += 1;
        finished = beside(path, &format!(".version-{version}.backup-{copy}"));
    }
    fs::rename(&unfinished, &finished).map_err(|e| io(&finished, e))?;
    settle_folder(&finished);
    Ok(finished)
}

/// Switching needs the file for itself for a moment, and SQLite doesn't wait for that by itself.
fn switch_to_write_ahead_log(connection: &Connection, settings: Settings) -> Result<(), Trouble> {
    let mut left = settings.busy_timeout;
    loop {
        let switched: Result<String, Trouble> = connection
            .pragma_update_and_check(None, "journal_mode", "WAL", |row| row.get(0))
            .map_err(Trouble::from);
        match switched {
            Err(trouble) if trouble.is_locked() && !left.is_zero() => {
                std::thread::sleep(LOCK_STEP.min(left));
                left = left.saturating_sub(LOCK_STEP);
            }
            Err(trouble) => return Err(trouble),
            Ok(_) => break,
        }
    }
    // After a large import the log goes back to this size.
    connection.query_row("PRAGMA journal_size_limit = 16777216", [], |_| Ok(()))?;
    Ok(())
}

/// Looks at the first bytes, so that nobody else's file is touched by SQLite at all.
pub(crate) fn refuse_other_files(path: &Path) -> Result<(), StoreError> {
    let metadata = match fs::metadata(path) {
        Ok(metadata) => metadata,
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(()),
        Err(reason) => return Err(StoreError::Io { path: path.to_owned(), reason }),
    };
    if metadata.is_dir() {
        return Err(not_a_store(path, "a folder"));
    }
    let unfinished = fs::metadata(beside(path, "-journal")).is_ok_and(|file| file.len() > 0);
    if metadata.len() == 0 || unfinished {
        return Ok(()); // new, or to be put right by SQLite before anything can be said of it
    }
    let mut head = Vec::with_capacity(100);
    File::open(path)
        .and_then(|file| file.take(100).read_to_end(&mut head))
        .map_err(|reason| StoreError::Io { path: path.to_owned(), reason })?;
    if !head.starts_with(SQLITE_HEADER) {
        return Err(not_a_store(path, "a file of another kind"));
    }
    let Some(mark) = head.get(68..72) else {
        let found = format!("it ends after {} bytes", head.len());
        return Err(StoreError::Corrupt { path: path.to_owned(), found });
    };
    let empty = head.get(60..64) == Some(&[0; 4]) && mark == [0; 4];
    if mark != APPLICATION_ID.to_be_bytes() && !empty {
        return Err(not_a_store(path, "another program's database"));
    }
    Ok(())
}

pub(crate) fn must_exist(path: &Path) -> Result<(), StoreError> {
    match fs::metadata(path) {
        Ok(_) => Ok(()),
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => {
            Err(StoreError::NoSuchStore { path: path.to_owned() })
        }
        Err(reason) => Err(StoreError::Io { path: path.to_owned(), reason }),
    }
}

fn make_folder(path: &Path) -> Result<(), StoreError> {
    let Some(folder) = path.parent().filter(|folder| !folder.as_os_str().is_empty()) else {
        return Ok(());
    };
    if folder.is_dir() {
        return Ok(());
    }
    fs::create_dir_all(folder).map_err(|reason| sorted_io(folder, reason))?;
    settle_folder(folder);
    Ok(())
}

/// Tells a place that can't be written from other reasons for which a file can't be opened.
fn read_only_if_so(error: StoreError) -> StoreError {
    let StoreError::Io { path, .. } = &error else { return error };
    let of_file = fs::OpenOptions::new().write(true).open(path).err();
    match of_file.map(|reason| sorted_io(path, reason)) {
        Some(read_only @ StoreError::ReadOnly { .. }) => read_only,
        _ if folder_is_writable(&folder_of(path)) == Some(false) => {
            StoreError::ReadOnly { path: path.clone() }
        }
        _ => error,
    }
}

fn sorted_io(path: &Path, reason: std::io::Error) -> StoreError {
    let path = path.to_owned();
    match reason.kind() {
        std::io::ErrorKind::ReadOnlyFilesystem | std::io::ErrorKind::PermissionDenied => {
            StoreError::ReadOnly { path }
        }
        std::io::ErrorKind::StorageFull => StoreError::DiskFull { path },
        _ => StoreError::Io { path, reason },
    }
}

/// Makes a new name in a folder last through a power cut, where the system can do that.
fn settle_folder(path: &Path) {
    if let Some(Ok(folder)) = path.parent().map(File::open) {
        folder.sync_all().ok(); // not every system can sync a folder; SQLite does without, too
    }
}

fn not_a_store(path: &Path, found: &str) -> StoreError {
    StoreError::NotAStore { path: path.to_owned(), found: found.to_owned() }
}

/// The folder in which the file lies.
pub(crate) fn folder_of(path: &Path) -> PathBuf {
    match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder.to_owned(),
        _ => PathBuf::from("."),
    }
}

/// Whether new files can be made in a folder; `None` where that can't be told.
#[cfg(unix)]
pub(crate) fn folder_is_writable(folder: &Path) -> Option<bool> {
    Some(rustix::fs::access(folder, rustix::fs::Access::WRITE_OK).is_ok())
}

#[cfg(not(unix))]
pub(crate) fn folder_is_writable(_folder: &Path) -> Option<bool> {
    None
}

#[cfg(test)]
mod tests {
    use domain::{Lifter, LifterName, Unit};
    use jiff::Timestamp;

    use super::*;

    const SECOND: &str = "ALTER TABLE lifter_settings ADD COLUMN nickname TEXT NOT NULL DEFAULT ''";

    fn anna() -> Lifter {
        Lifter::usual(LifterName::new("Anna Birk").unwrap(), Unit::Kg)
    }

    /// A store of version 1 with a lifter in it.
    fn old_store() -> (tempfile::TempDir, PathBuf) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("record.db");
        let store = open_as(&path, &MIGRATIONS[..1]).unwrap();
        store.put_lifter(&anna(), Timestamp::UNIX_EPOCH).unwrap();
        (folder, path)
    }

    fn open_as(path: &Path, migrations: &[&str]) -> Result<Store, StoreError> {
        Store::open_migrated(path, Settings::default(), migrations)
    }

    fn names_in(folder: &Path) -> Vec<String> {
        let mut names: Vec<_> = fs::read_dir(folder)
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .filter(|name| !name.ends_with("-wal") && !name.ends_with("-shm"))
            .collect();
        names.sort();
        names
    }

    #[test]
    fn an_older_file_is_copied_and_then_brought_up_to_date() {
        let (folder, path) = old_store();
        let store = open_as(&path, &[MIGRATIONS[0], SECOND]).unwrap();
        assert_eq!(store.lifter(&anna().name).unwrap(), Some(anna()));
        assert_eq!(store.reading(version_of).unwrap(), 2);
        assert_eq!(names_in(folder.path()), ["record.db", "record.db.version-1.backup"]);
        drop(store);
        drop(open_as(&path, &[MIGRATIONS[0], SECOND]).unwrap());
        assert_eq!(names_in(folder.path()).len(), 2, "opening once more copies nothing");
        let backup = beside(&path, ".version-1.backup");
        let backup = open_as(&backup, &MIGRATIONS[..1]).unwrap();
        assert_eq!(backup.lifter(&anna().name).unwrap(), Some(anna()));
        assert!(matches!(
            open_as(&path, &MIGRATIONS[..1]).unwrap_err(),
            StoreError::NewerVersion { found: 2, known: 1, .. }
        ));
    }

    /// The migrations that there are, over a record of the first version.
    #[test]
    fn a_store_of_version_1_gets_every_table_and_keeps_its_record() {
        let (folder, path) = old_store();
        let newest = MIGRATIONS.len() as i64;
        assert!(matches!(
            Store::open_read_only(&path).unwrap_err(),
            StoreError::OlderVersion { found: 1, known, .. } if known == newest
        ));
        let store = Store::open(&path).unwrap();
        assert_eq!(store.reading(version_of).unwrap(), newest);
        assert_eq!(names_in(folder.path()), ["record.db", "record.db.version-1.backup"]);
        assert_eq!(store.lifter(&anna().name).unwrap(), Some(anna()));
        assert_eq!(store.n_facts().unwrap(), 1);
        assert_eq!(store.kept_fits(&anna().name, 1).unwrap(), []);
        assert_eq!(store.pooled_in_force().unwrap(), None);
        let fresh = Store::open(&folder.path().join("fresh.db")).unwrap();
        let tables = |store: &Store| -> Vec<String> {
            let query = "SELECT coalesce(sql, name) FROM sqlite_schema ORDER BY type, name";
            store
                .reading(|connection| {
                    let mut statement = connection.prepare(query)?;
                    let rows = statement.query_map([], |row| row.get(0))?;
                    Ok(rows.collect::<rusqlite::Result<_>>()?)
                })
                .unwrap()
        };
        assert_eq!(tables(&store), tables(&fresh));
    }

    #[test]
    fn a_migration_that_fails_changes_nothing() {
        let (folder, path) = old_store();
        let broken = "CREATE TABLE half (a); INSERT INTO nowhere VALUES (1)";
        open_as(&path, &[MIGRATIONS[0], SECOND, broken]).unwrap_err();
        let store = open_as(&path, &MIGRATIONS[..1]).unwrap();
        assert_eq!(store.reading(version_of).unwrap(), 1);
        assert_eq!(store.lifter(&anna().name).unwrap(), Some(anna()));
        drop(store);
        // The copy of the failed attempt isn't written over by that of the next.
        drop(open_as(&path, &[MIGRATIONS[0], SECOND]).unwrap());
        let copies = ["record.db.version-1.backup", "record.db.version-1.backup-2"];
        assert_eq!(names_in(folder.path())[1..], copies);
    }

    #[test]
    fn a_new_file_needs_no_copy() {
        let folder = tempfile::tempdir().unwrap();
        drop(open_as(&folder.path().join("record.db"), &[MIGRATIONS[0], SECOND]).unwrap());
        assert_eq!(names_in(folder.path()), ["record.db"]);
    }

    /// On what durability rests, read back from the connection that writes.
    #[test]
    fn the_writer_syncs_every_commit() {
        let (_folder, path) = old_store();
        let store = Store::open(&path).unwrap();
        let writer = store.writer().unwrap();
        let number = |pragma: &str| -> i64 {
            writer.pragma_query_value(None, pragma, |row| row.get(0)).unwrap()
        };
        assert_eq!(number("synchronous"), 2); // FULL
        assert_eq!(number("foreign_keys"), 1);
        assert_eq!(number("busy_timeout"), 5_000);
        let journal: String =
            writer.pragma_query_value(None, "journal_mode", |row| row.get(0)).unwrap();
        assert_eq!(journal, "wal");
    }
}
