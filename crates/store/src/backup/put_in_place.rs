//! Putting a copy in the place of a store, which is moved aside with all that belongs to it.

use std::fs;
use std::io::{self, Read, Seek, Write};
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};

use jiff::Timestamp;
use rusqlite::Connection;

use super::alone::Alone;
use super::contents::{Count, FactRows, all_facts, n_facts};
use super::place::{Unfinished, clear_stale, followed, is_same_file, make_folder};
use super::{BESIDE, BackupError, Contents, Difference, Watch, sorted};
use crate::error::Trouble;
use crate::log::belongs;
use crate::migrate::MIGRATIONS;
use crate::open::{
    Settings, beside, checked_version, folder_of, frozen_connection, must_exist,
    refuse_other_files, settle_folder, write_connection,
};
use crate::private;
use crate::verify::{refuse_damage, refuse_damaged_pages};
use crate::{Store, StoreError};

/// Facts read between two looks at the watch.
const FACTS_AT_ONCE: u64 = 1_000;

/// Whether a copy is put in place, or only what that would change is told.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mode {
    /// Puts it in place.
    Do,
    /// Looks at everything and changes nothing.
    OnlyLook,
}

/// How a copy is put in place.
#[derive(Clone, Copy, Debug)]
pub struct Put<'a> {
    /// What is written behind the name of the old store.
    pub mark: &'a str,
    /// Whether it is done.
    pub mode: Mode,
    /// Tells what earlier, killed tries have left behind, which is taken away.
    pub now: Timestamp,
}

/// What putting a copy in place came to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PutInPlace {
    /// The store's file.
    pub store: PathBuf,
    /// What it holds now.
    pub now: Contents,
    /// What was there before.
    pub before: Before,
    /// Where what was there lies now; its log and journal, if there were any, beside it.
    pub aside: Option<PathBuf>,
    /// The version of the copy if it was an older one and had to be brought up to date.
    pub older_version: Option<i64>,
}

/// What lay in the store's place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Before {
    /// No file.
    Nothing,
    /// A file that can't be read as a store, and why.
    NotReadable(String),
    /// A store: what it held, and what of that the copy doesn't hold.
    Store(Contents, Difference),
}

/// Puts the copy in `file` in the place of the store at `store`, which may be missing or damaged. The copy is read to its
/// last fact first, and `file` itself is left alone: what is brought up to date is a copy of it. What lay in the store's
/// place is moved aside as a whole, under its name with the mark behind it.
///
/// # Errors
/// See [`BackupError`]; after any of them the store is as it was.
pub fn put_in_place(
    file: &Path,
    store: &Path,
    put: Put<'_>,
    watch: Watch<'_>,
) -> Result<PutInPlace, BackupError> {
    let store = followed(store);
    if store.is_dir() {
        let found = "a folder".to_owned();
        return Err(StoreError::NotAStore { path: store, found }.into());
    }
    if is_same_file(file, &store) {
        return Err(BackupError::TheStore { path: file.to_owned() });
    }
    must_exist(file)?;
    refuse_other_files(file)?;
    make_folder(&folder_of(&store))?;
    clear_stale(&store, put.now);
    // A log that belongs to another file is no part of a record. Looked at first: it gives locks up.
    let (logs, old_logs) = (logs_of(file)?, logs_of(&store)?);
    // From here on nobody else can open the store, and so nobody writes what would be lost.
    let alone = Alone::with(&store)?;
    let source = Alone::to_read(file)?;
    let new =
        Whole::of((file, logs), &source, &store, watch).map_err(|error| not_whole(file, error))?;
    drop(source);
    let before = match alone.file() {
        None => Before::Nothing,
        Some(_) => look_at_old((&store, old_logs), &alone, &new)?,
    };
    let mut done = PutInPlace {
        store: store.clone(),
        now: new.contents,
        before,
        aside: None,
        older_version: new.older_version,
    };
    if put.mode == Mode::Do {
        done.aside = swap(new.unfinished, &store, put.mark)?;
    }
    drop(alone);
    Ok(done)
}

/// What beside a file belongs to its record.
fn logs_of(file: &Path) -> Result<&'static [&'static str], StoreError> {
    if !file.exists() {
        return Ok(&[]);
    }
    let own = belongs(file).map_err(|reason| StoreError::Io { path: file.to_owned(), reason })?;
    Ok(if own { &["-wal", "-journal"] } else { &["-journal"] })
}

/// A copy of a file, with its log folded in, of the newest version, and read to the last fact.
struct Whole {
    unfinished: Unfinished,
    contents: Contents,
    older_version: Option<i64>,
}

impl Whole {
    /// Copies `file` and its log and journal, to the folder of `place`.
    fn of(
        (file, logs): (&Path, &[&str]),
        source: &Alone,
        place: &Path,
        watch: Watch<'_>,
    ) -> Result<Whole, BackupError> {
        let unfinished = Unfinished::begin(place)?;
        copy_bytes((file, logs), source, &unfinished, place)?;
        let path = unfinished.path();
        let at = |trouble: Trouble| about_copy(trouble.at(path), file, place);
        let found = fold(path, file).map_err(at)?;
        let is_older = found < MIGRATIONS.len() as i64;
        if is_older {
            drop(Store::open_existing(path).map_err(|error| about_copy(error, file, place))?);
            fold(path, file).map_err(at)?;
        }
        unfinished.sync(place)?;
        let connection = frozen_connection(path).map_err(at)?;
        refuse_damage(&connection).map_err(at)?;
        let contents = read_all(&connection, watch).map_err(at)?.ok_or(BackupError::Ended)?;
        Ok(Whole { unfinished, contents, older_version: is_older.then_some(found) })
    }
}

/// Lays the log and journal beside the copy at `path` into it, so that it is one file, and looks it over; its version.
fn fold(path: &Path, file: &Path) -> Result<i64, Trouble> {
    let connection = write_connection(path, Settings::default())?;
    let (found, known) = (checked_version(&connection, file)?, MIGRATIONS.len() as i64);
    if found == 0 {
        let found = "an empty database".to_owned();
        return Err(StoreError::NotAStore { path: file.to_owned(), found }.into());
    }
    if found > known {
        return Err(StoreError::NewerVersion { path: file.to_owned(), found, known }.into());
    }
    refuse_damaged_pages(&connection, "integrity_check")?;
    connection.query_row("PRAGMA journal_mode = DELETE", [], |_| Ok(()))?;
    connection.close().map_err(|(_, error)| error)?;
    Ok(found)
}

/// Reads every fact; `None` if the watch says to end.
fn read_all(connection: &Connection, watch: Watch<'_>) -> Result<Option<Contents>, Trouble> {
    let whole = n_facts(connection)?;
    let mut statement = all_facts(connection)?;
    let mut facts = FactRows::new(connection, &mut statement)?;
    let mut count = Count::default();
    while let Some(fact) = facts.next()? {
        count.add(&fact);
        let done = count.facts();
        if done.is_multiple_of(FACTS_AT_ONCE) && watch(done, whole) == ControlFlow::Break(()) {
            return Ok(None);
        }
    }
    Ok(Some(count.finish()))
}

/// Copies the bytes, by the handle that holds the lock: closing another one would give it up.
fn copy_bytes(
    (file, logs): (&Path, &[&str]),
    source: &Alone,
    into: &Unfinished,
    place: &Path,
) -> Result<(), BackupError> {
    let cannot_read = |reason| StoreError::Io { path: file.to_owned(), reason };
    let mut main =
        source.file().ok_or_else(|| StoreError::NoSuchStore { path: file.to_owned() })?;
    main.rewind().map_err(cannot_read)?;
    copy_to(&mut main, into.path()).map_err(|reason| sorted(place, reason))?;
    for suffix in logs {
        match fs::File::open(beside(file, suffix)) {
            Ok(mut from) => copy_to(&mut from, &beside(into.path(), suffix))
                .map_err(|reason| sorted(place, reason))?,
            Err(error) if error.kind() == io::ErrorKind::NotFound => {}
            Err(error) => return Err(cannot_read(error).into()),
        }
    }
    Ok(())
}

fn copy_to(from: &mut impl Read, path: &Path) -> io::Result<()> {
    let mut into = private::create(path)?;
    io::copy(from, &mut into)?;
    into.flush()
}

/// Errors that SQLite had with the copy in the making, told of the file that was copied, or of the place.
fn about_copy(error: StoreError, file: &Path, place: &Path) -> BackupError {
    match error {
        StoreError::DiskFull { .. } => BackupError::DiskFull { path: place.to_owned() },
        StoreError::ReadOnly { .. } => BackupError::ReadOnly { path: place.to_owned() },
        StoreError::Corrupt { found, .. } => {
            StoreError::Corrupt { path: file.to_owned(), found }.into()
        }
        StoreError::NotAStore { found, .. } => {
            StoreError::NotAStore { path: file.to_owned(), found }.into()
        }
        StoreError::Sql { reason, .. } => {
            StoreError::Corrupt { path: file.to_owned(), found: reason.to_string() }.into()
        }
        other => other.into(),
    }
}

fn not_whole(file: &Path, error: BackupError) -> BackupError {
    match error {
        BackupError::Store(StoreError::Corrupt { found, .. }) => {
            BackupError::NotWhole { path: file.to_owned(), found }
        }
        other => other,
    }
}

/// What the old store holds and the new one doesn't, found on a copy: whatever is wrong with it, it isn't touched.
fn look_at_old(
    (store, logs): (&Path, &[&str]),
    alone: &Alone,
    new: &Whole,
) -> Result<Before, BackupError> {
    let old = Whole::of((store, logs), alone, store, &mut |_, _| ControlFlow::Continue(()));
    let compared = old.and_then(|old| {
        let at = |trouble: Trouble| BackupError::Store(trouble.at(store));
        let old_facts = frozen_connection(old.unfinished.path()).map_err(at)?;
        let new_facts = frozen_connection(new.unfinished.path()).map_err(at)?;
        let difference = Difference::between(&old_facts, &new_facts).map_err(at)?;
        Ok(Before::Store(old.contents, difference))
    });
    match compared {
        Err(BackupError::Store(StoreError::Corrupt { found, .. })) => {
            Ok(Before::NotReadable(format!("it is damaged: {found}")))
        }
        Err(BackupError::Store(StoreError::NotAStore { found, .. })) => {
            Ok(Before::NotReadable(format!("it is {found}")))
        }
        Err(BackupError::Store(error)) => Ok(Before::NotReadable(error.to_string())),
        other => other,
    }
}

/// Moves what lies in the store's place aside and puts the new file there. At every moment there is a file under the
/// store's name, where the file system knows links.
fn swap(new: Unfinished, store: &Path, mark: &str) -> Result<Option<PathBuf>, BackupError> {
    let mut moved = Moved { aside: free_name(store, mark), store, suffixes: Vec::new() };
    let outcome = moved.all().and_then(|()| new.replace(store));
    if let Err(error) = outcome {
        moved.back();
        return Err(error);
    }
    let is_any = !moved.suffixes.is_empty();
    Ok(is_any.then_some(moved.aside))
}

/// What has been moved aside so far.
struct Moved<'a> {
    store: &'a Path,
    aside: PathBuf,
    suffixes: Vec<&'static str>,
}

impl Moved<'_> {
    /// Log and journal first: beside another file they would be taken for its own.
    fn all(&mut self) -> Result<(), BackupError> {
        for suffix in BESIDE {
            self.one(suffix, |from, to| fs::rename(from, to))?;
        }
        self.one("", |from, to| fs::hard_link(from, to).or_else(|_| fs::rename(from, to)))?;
        settle_folder(self.store);
        Ok(())
    }

    fn one(
        &mut self,
        suffix: &'static str,
        by: impl Fn(&Path, &Path) -> io::Result<()>,
    ) -> Result<(), BackupError> {
        let from = beside(self.store, suffix);
        match by(&from, &beside(&self.aside, suffix)) {
            Ok(()) => self.suffixes.push(suffix),
            Err(error) if error.kind() == io::ErrorKind::NotFound => {}
            Err(error) => return Err(sorted(&from, error)),
        }
        Ok(())
    }

    /// Puts everything back, as far as the system lets it; where it doesn't, it lies aside.
    fn back(&self) {
        for suffix in &self.suffixes {
            let (from, to) = (beside(&self.aside, suffix), beside(self.store, suffix));
            // Renaming one of two names of a file to the other does nothing.
            let done = if is_same_file(&from, &to) {
                fs::remove_file(&from)
            } else {
                fs::rename(&from, &to)
            };
            done.ok();
        }
    }
}

/// The store's name with the mark behind it, and a number if that is taken.
fn free_name(store: &Path, mark: &str) -> PathBuf {
    let is_free = |name: &PathBuf| {
        let all = BESIDE.into_iter().chain([""]);
        all.into_iter().all(|suffix| fs::symlink_metadata(beside(name, suffix)).is_err())
    };
    let names = (1..).map(|n: u32| match n {
        1 => beside(store, &format!(".{mark}")),
        n => beside(store, &format!(".{mark}-{n}")),
    });
    names.into_iter().find(is_free).unwrap_or_else(|| beside(store, mark))
}
