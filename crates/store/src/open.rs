//! Opening a store: which file is one, whether the log beside it is its own, and its connections' settings.
//!
//! A file that isn't a store is recognised from its first bytes and left alone. A log that belongs to another file
//! is put aside and not laid over this one. Bringing an older file up to date is `migrate`'s, and what an open store
//! does with its connections is `connections`'.

use std::fs::{self, File};
use std::io::Read;
use std::path::{Path, PathBuf};
use std::time::Duration;

use rusqlite::{Connection, OpenFlags};

use crate::connections::{Access, LOG_LIMIT};
use crate::error::Trouble;
use crate::migrate::{MIGRATIONS, migrate};
use crate::place::claim;
use crate::{Store, StoreError, checksum, log, private};

/// Marks a SQLite file as a store ("Bewr" in ASCII).
pub(crate) const APPLICATION_ID: i32 = 0x4265_7772;

pub(crate) const SQLITE_HEADER: &[u8; 16] = b"SQLite format 3\0";
const LOCK_STEP: Duration = Duration::from_millis(5);

/// How a store is opened.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Settings {
    /// How long a writer waits for another program that writes before it gives up.
    pub busy_timeout: Duration,
    /// How long a thread waits for its turn to write, or to read, behind others of this program. Far above what any
    /// load makes anybody wait: a thread that forgot that it is importing gets an error and doesn't hang.
    pub turn_timeout: Duration,
    /// The most connections that read at the same time.
    pub max_readers: usize,
    /// The most pages of 4 KiB that the file may grow to; no limit but the disk's if `None`.
    pub max_pages: Option<u32>,
}

impl Default for Settings {
    /// Waits five seconds for other programs and two minutes for threads, of which eight may read; lets the file
    /// grow.
    fn default() -> Settings {
        Settings {
            busy_timeout: Duration::from_secs(5),
            turn_timeout: Duration::from_secs(120),
            max_readers: 8,
            max_pages: None,
        }
    }
}

impl Store {
    /// Opens the store at `path`; makes its folder and the file if they are missing and brings an older file up to
    /// date after making a backup beside it.
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
        if !path.exists() && !log_is_empty(path) {
            return Err(log::refuse_foreign(path)); // of a record that has gone
        }
        if !make_file(path)? {
            refuse_empty(path)?;
        }
        Store::open_migrated(path, settings, MIGRATIONS)
    }

    /// Opens a store that must be there already; brings an older file up to date as
    /// [`Store::open`] does.
    pub fn open_existing(path: &Path) -> Result<Store, StoreError> {
        must_exist(path)?;
        refuse_empty(path)?;
        Store::open_migrated(path, Settings::default(), MIGRATIONS)
    }

    /// Opens a store for reading only; nothing is written, not even a migration. Works on a disk
    /// where nothing can be written, with a log that was left beside the file too.
    pub fn open_read_only(path: &Path) -> Result<Store, StoreError> {
        must_exist(path)?;
        let here = claim(path, || {
            refuse_other_files(path)?;
            refuse_other_log(path)
        })?;
        let settings = Settings::default();
        let opened = open_for_reading(path, settings)?;
        let known = MIGRATIONS.len() as i64;
        match checked_version(&opened.0, path).map_err(|trouble| trouble.at(path))? {
            found if found > known => {
                return Err(StoreError::NewerVersion { path: path.to_owned(), found, known });
            }
            0 => return Err(StoreError::Empty { path: path.to_owned() }),
            found if found < known => {
                return Err(StoreError::OlderVersion { path: path.to_owned(), found, known });
            }
            _ => {}
        }
        Ok(Store::for_reading(path, settings, opened, here))
    }

    /// Opens with given migrations, so that the machinery can be tried with ones that don't exist.
    pub(crate) fn open_migrated(
        path: &Path,
        settings: Settings,
        migrations: &[&str],
    ) -> Result<Store, StoreError> {
        let here = claim(path, || {
            refuse_other_files(path)?;
            if is_own_log(path)? { Ok(()) } else { Err(log::refuse_foreign(path)) }
        })?;
        let connection = open_for_writing(path, settings, migrations)
            .map_err(|t| read_only_if_so(t.at(path)))?;
        Ok(Store::for_writing(path, settings, connection, here.or_mark(path)))
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
        (0, 0 | APPLICATION_ID) if n_tables == 0 => Ok(version),
        _ => Err(not_a_store(path, "another program's database").into()),
    }
}

/// A connection that can write, with every setting on which durability rests.
pub(crate) fn write_connection(path: &Path, settings: Settings) -> Result<Connection, Trouble> {
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE
        | OpenFlags::SQLITE_OPEN_CREATE
        | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let connection = Connection::open_with_flags(path, flags)?;
    prepare(&connection, settings)?;
    connection.pragma_update(None, "synchronous", "FULL")?;
    connection.pragma_update(None, "foreign_keys", true)?;
    connection.pragma_update(None, "cache_size", -64 * 1024)?; // KiB
    if let Some(pages) = settings.max_pages {
        connection.query_row(&format!("PRAGMA max_page_count = {pages}"), [], |_| Ok(()))?;
    }
    Ok(connection)
}

/// What every connection is set to.
fn prepare(connection: &Connection, settings: Settings) -> Result<(), Trouble> {
    connection.busy_timeout(settings.busy_timeout)?;
    connection.pragma_update(None, "temp_store", "MEMORY")?;
    // A page that is damaged is noticed where it is read, not where it leads to.
    connection.pragma_update(None, "cell_size_check", true)?;
    connection.set_prepared_statement_cache_capacity(64);
    checksum::teach(connection)?;
    Ok(())
}

pub(crate) fn read_connection(path: &Path, settings: Settings) -> Result<Connection, Trouble> {
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let connection = Connection::open_with_flags(path, flags)?;
    prepare(&connection, settings)?;
    connection.pragma_update(None, "cache_size", -16 * 1024)?; // KiB
    version_of(&connection)?; // opening touches nothing yet; this does
    Ok(connection)
}

/// A connection to a file that can't change, which needs no files beside it: no lock is taken, and the index of a
/// log that was left beside it is made in memory.
pub(crate) fn frozen_connection(path: &Path) -> Result<Connection, Trouble> {
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY
        | OpenFlags::SQLITE_OPEN_NO_MUTEX
        | OpenFlags::SQLITE_OPEN_URI;
    let how = if log_is_empty(path) { "immutable=1" } else { "mode=ro&vfs=unix-none" };
    let connection = Connection::open_with_flags(format!("file:{}?{how}", escaped(path)), flags)?;
    // Without a lock on a file beside it only one that is alone may read a log; nobody writes here, so all may be.
    connection.pragma_update(None, "locking_mode", "EXCLUSIVE")?;
    prepare(&connection, Settings::default())?;
    version_of(&connection)?;
    Ok(connection)
}

/// A connection that sees the file alone, without the log beside it. What it sees may be in the middle of being
/// folded in.
pub(crate) fn connection_without_log(path: &Path) -> Result<Connection, Trouble> {
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY
        | OpenFlags::SQLITE_OPEN_NO_MUTEX
        | OpenFlags::SQLITE_OPEN_URI;
    Ok(Connection::open_with_flags(format!("file:{}?immutable=1", escaped(path)), flags)?)
}

/// A path as a part of a URI.
fn escaped(path: &Path) -> String {
    path.to_string_lossy()
        .chars()
        .map(|c| match c {
            '%' => "%25".to_owned(),
            '?' => "%3f".to_owned(),
            '#' => "%23".to_owned(),
            other => other.to_string(),
        })
        .collect()
}

/// Whether there is nothing in the log beside a file.
pub(crate) fn log_is_empty(path: &Path) -> bool {
    fs::metadata(beside(path, "-wal")).map_or(true, |log| log.len() == 0)
}

/// Refuses a log that belongs to another file, and leaves it where it is.
pub(crate) fn refuse_other_log(path: &Path) -> Result<(), StoreError> {
    if is_own_log(path)? {
        return Ok(());
    }
    let (path, log) = (path.to_owned(), beside(path, "-wal"));
    Err(StoreError::ForeignLog { path, log, aside: None })
}

/// Whether the log beside a file is its own.
fn is_own_log(path: &Path) -> Result<bool, StoreError> {
    log::belongs(path).map_err(|reason| StoreError::Io { path: path.to_owned(), reason })
}

/// Opens for reading; takes the file as frozen where SQLite can't put its lock beside it.
pub(crate) fn open_for_reading(
    path: &Path,
    settings: Settings,
) -> Result<(Connection, Access), StoreError> {
    let trouble = match read_connection(path, settings) {
        Ok(connection) => return Ok((connection, Access::Read)),
        Err(trouble) => trouble,
    };
    match trouble.at(path) {
        StoreError::Io { .. } | StoreError::ReadOnly { .. } | StoreError::DiskFull { .. } => {
            let connection = frozen_connection(path).map_err(|trouble| trouble.at(path))?;
            Ok((connection, Access::Frozen))
        }
        other => Err(other),
    }
}

/// Takes away what reading has left beside a file, if nobody else has it open and nothing is in the log.
pub(crate) fn tidy(path: &Path) {
    let is_there = |suffix| beside(path, suffix).exists();
    if !log_is_empty(path) || !(is_there("-wal") || is_there("-shm")) {
        return;
    }
    let settings = Settings { busy_timeout: Duration::ZERO, ..Settings::default() };
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let last = Connection::open_with_flags(path, flags).map_err(Trouble::from);
    // A connection that can write takes both files away when it is the last; what it can't do another will.
    last.and_then(|last| prepare(&last, settings).and_then(|()| version_of(&last))).ok();
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
    connection.query_row(&format!("PRAGMA journal_size_limit = {LOG_LIMIT}"), [], |_| Ok(()))?;
    Ok(())
}

/// Looks at the first bytes, so that nobody else's file is touched by SQLite at all. Within [`claim`].
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
    // The formats for writing and reading (SQLite's "Database File Format", 1.3.3); with others SQLite only reads.
    if head.get(18..20).is_none_or(|formats| formats.iter().any(|format| !(1..=2).contains(format)))
    {
        let found = "its head names a format that doesn't exist".to_owned();
        return Err(StoreError::Corrupt { path: path.to_owned(), found });
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
    private::create_folder(folder).map_err(|reason| sorted_io(folder, reason))?;
    settle_folder(folder);
    Ok(())
}

/// Makes the file, which only its owner can read, so that SQLite doesn't make one for everybody; what SQLite puts
/// beside it gets the same rights. It gets its name with its first page, so that however the program ends no file
/// without content is left. False if a file was there.
fn make_file(path: &Path) -> Result<bool, StoreError> {
    if path.exists() {
        return Ok(false);
    }
    let begun =
        beside(path, &format!(".begun-{}-{:?}", std::process::id(), std::thread::current().id()));
    let made = begin(&begun, path);
    fs::remove_file(&begun).ok(); // its other name stays
    made
}

fn begin(begun: &Path, path: &Path) -> Result<bool, StoreError> {
    let sorted = |reason| sorted_io(path, reason);
    drop(private::create(begun).map_err(sorted)?);
    let written = Connection::open(begun).map_err(Trouble::from).and_then(|connection| {
        connection.pragma_update(None, "journal_mode", "MEMORY")?;
        connection.pragma_update(None, "application_id", APPLICATION_ID)?;
        Ok(())
    });
    written.map_err(|trouble| trouble.at(path))?;
    File::options().write(true).open(begun).and_then(|file| file.sync_all()).map_err(sorted)?;
    match fs::hard_link(begun, path) {
        Ok(()) => {}
        Err(error) if error.kind() == std::io::ErrorKind::AlreadyExists => return Ok(false),
        // A file system without second names.
        Err(_) => fs::rename(begun, path).map_err(sorted)?,
    }
    settle_folder(path);
    Ok(true)
}

/// Refuses a file without any content: something has emptied it, since a record has its first page with its name.
fn refuse_empty(path: &Path) -> Result<(), StoreError> {
    let is_empty = fs::metadata(path).is_ok_and(|file| file.is_file() && file.len() == 0);
    if is_empty && !beside(path, "-journal").exists() {
        return Err(StoreError::Empty { path: path.to_owned() });
    }
    Ok(())
}

/// Tells a place that can't be written from other reasons for which a file can't be opened.
fn read_only_if_so(error: StoreError) -> StoreError {
    let StoreError::Io { path, .. } = &error else { return error };
    let cannot = |path: &Path| is_writable(path) == Some(false);
    if cannot(path) || cannot(&folder_of(path)) {
        return StoreError::ReadOnly { path: path.clone() };
    }
    error
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
pub(crate) fn settle_folder(path: &Path) {
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

/// A name beside the file that isn't taken: its own with `suffix`, and a number if need be.
pub(crate) fn free_name(path: &Path, suffix: &str) -> PathBuf {
    let mut name = beside(path, suffix);
    let mut number = 1;
    while name.exists() {
        number += 1;
        name = beside(path, &format!("{suffix}-{number}"));
    }
    name
}

/// Copies what a connection sees to a file that isn't there yet, and makes it last.
pub(crate) fn copy_to(source: &Connection, copy: &Path) -> Result<(), Trouble> {
    let io = |reason| StoreError::Io { path: copy.to_owned(), reason };
    drop(private::create_new(copy).map_err(io)?);
    source.backup("main", copy, None)?;
    File::open(copy).and_then(|file| file.sync_all()).map_err(io)?;
    settle_folder(copy);
    Ok(())
}

/// Whether a file can be written, or new files be made in a folder; `None` where that can't be told. The file isn't
/// opened for it: closing it would take SQLite's locks away.
#[cfg(unix)]
pub(crate) fn is_writable(path: &Path) -> Option<bool> {
    Some(rustix::fs::access(path, rustix::fs::Access::WRITE_OK).is_ok())
}

#[cfg(not(unix))]
pub(crate) fn is_writable(_path: &Path) -> Option<bool> {
    None
}
