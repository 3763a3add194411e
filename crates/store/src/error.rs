//! What can go wrong with the record on disk, in plain words with the cure.
//!
//! Inside the crate, SQL's own errors travel as [`Trouble`]; the public functions add the file and
//! sort them into [`StoreError`].

use std::path::{Path, PathBuf};

use rusqlite::ErrorCode;

use crate::place::Lost;

/// Why the store could not do what was asked. Whatever it is, nothing that was committed is lost.
#[derive(Debug, thiserror::Error)]
pub enum StoreError {
    /// Another process, or another part of this one, is writing.
    #[error(
        "`{}` is being written to by somebody else: wait until the other import or program has \
         finished, then try again", path.display()
    )]
    Locked {
        /// The store's file.
        path: PathBuf,
    },
    /// Other parts of this program have been writing, or reading, for long.
    #[error(
        "other parts of this program have used `{}` for {} seconds: wait until an import or a \
         long look at the record has ended, then try again", path.display(), waited.as_secs()
    )]
    Queue {
        /// The store's file.
        path: PathBuf,
        /// How long was waited.
        waited: std::time::Duration,
    },
    /// The store was closed, because the program ends.
    #[error("`{}` was closed because the program ends: start it again", path.display())]
    Closed {
        /// The store's file.
        path: PathBuf,
    },
    /// The file was removed or replaced while it was open. Nothing of what was to be written was confirmed.
    #[error(
        "`{}` {} while it was in use, so nothing more is recorded: {}", path.display(),
        what_became(*lost), cure_of_lost(path, *lost, saved.as_deref())
    )]
    Replaced {
        /// The store's file.
        path: PathBuf,
        /// What was noticed.
        lost: Lost,
        /// Where all that was confirmed was saved.
        saved: Option<PathBuf>,
    },
    /// The log beside the file was written over another file.
    #[error(
        "the log beside `{}` belongs to another file that lay there before, as when a backup is \
         copied over a store whose program was killed: {}", path.display(),
        cure_of_log(path, log, aside.as_deref())
    )]
    ForeignLog {
        /// The store's file.
        path: PathBuf,
        /// The log.
        log: PathBuf,
        /// Where it was put; none if it lies there still.
        aside: Option<PathBuf>,
    },
    /// The file, the folder or the opening of it allows no writing.
    #[error(
        "`{}` can only be read: allow writing to the file and to its folder, or copy both \
         elsewhere", path.display()
    )]
    ReadOnly {
        /// The store's file.
        path: PathBuf,
    },
    /// There is no room left for what was to be written. It has been taken back as a whole.
    #[error(
        "no room is left for `{}`: free some space on that disk and do the last step again; \
         everything confirmed before is still there", path.display()
    )]
    DiskFull {
        /// The store's file.
        path: PathBuf,
    },
    /// The file is something else; it was left alone.
    #[error("`{}` is not a store but {found}: name another file", path.display())]
    NotAStore {
        /// The file.
        path: PathBuf,
        /// What it is instead.
        found: String,
    },
    /// The file is damaged.
    #[error(
        "`{}` is damaged ({found}): keep the file, write nothing to it, and go back to a backup \
         with `bellwether restore`, or to an export", path.display()
    )]
    Corrupt {
        /// The store's file.
        path: PathBuf,
        /// What was noticed.
        found: String,
    },
    /// The file was written by a newer program; it was left alone.
    #[error(
        "`{}` has version {found} and this program knows versions up to {known}: use the newer \
         program", path.display()
    )]
    NewerVersion {
        /// The store's file.
        path: PathBuf,
        /// The version of the file.
        found: i64,
        /// The newest version known here.
        known: i64,
    },
    /// The file was made by an older program and was opened for reading only.
    #[error(
        "`{}` has version {found} and version {known} is needed: open it once for writing, which \
         brings it up to date after making a backup", path.display()
    )]
    OlderVersion {
        /// The store's file.
        path: PathBuf,
        /// The version of the file.
        found: i64,
        /// The version needed here.
        known: i64,
    },
    /// There is no such file.
    #[error("there is no store at `{}`: check the path, or import a log to make one", path.display())]
    NoSuchStore {
        /// The path that was given.
        path: PathBuf,
    },
    /// The file is there and holds nothing.
    #[error(
        "`{}` is empty, so what it held is gone: put a backup in its place with `bellwether restore`, or remove \
         the file to begin anew", path.display()
    )]
    Empty {
        /// The store's file.
        path: PathBuf,
    },
    /// The file system refused.
    #[error("can't use `{}`: {reason}", path.display())]
    Io {
        /// The file or folder.
        path: PathBuf,
        /// What the system said.
        reason: std::io::Error,
    },
    /// A set or check-in of somebody who isn't in the store.
    #[error("lifter `{name}` is not in the store: add the lifter first")]
    UnknownLifter {
        /// The name that was given.
        name: String,
    },
    /// There is no set or check-in with this id.
    #[error("there is no {what} `{id}` in the store: list the lifter's record to see the ids")]
    NoSuchFact {
        /// `set` or `check-in`.
        what: &'static str,
        /// The id that was given.
        id: String,
    },
    /// A correction would make two things one.
    #[error(
        "another {what} is already recorded there (`{id}`): withdraw one of the two, or give the \
         correction another time or set number"
    )]
    PlaceTaken {
        /// `set` or `check-in`.
        what: &'static str,
        /// The id of what is there.
        id: String,
    },
    /// An import is used after an error has ended it.
    #[error(
        "this import into `{}` ended with an earlier error and nothing of it was kept: begin it \
         again", path.display()
    )]
    GivenUp {
        /// The store's file.
        path: PathBuf,
    },
    /// A fact to be restored doesn't fit what is in the store.
    #[error("fact {seq} can't be restored here: {reason}; restore into a new store")]
    CannotRestore {
        /// The fact's number.
        seq: u64,
        /// What is in the way.
        reason: String,
    },
    /// SQLite said something that isn't foreseen here.
    #[error("`{}`: {reason}: run the doctor on this store", path.display())]
    Sql {
        /// The store's file.
        path: PathBuf,
        /// What SQLite said.
        reason: rusqlite::Error,
    },
}

fn what_became(lost: Lost) -> &'static str {
    match lost {
        Lost::Removed => "was removed",
        Lost::Replaced => "was replaced by another file",
        Lost::LogReplaced => "lost the log that lies beside it",
    }
}

fn cure_of_lost(path: &Path, lost: Lost, saved: Option<&Path>) -> String {
    match saved {
        Some(saved) if saved == path => {
            "all that was confirmed is in the file; end this program and start it again".to_owned()
        }
        Some(saved) => format!(
            "all that was confirmed is in `{}`; end this program, put that file where you want \
             it, and start again",
            saved.display()
        ),
        None if lost == Lost::Replaced => {
            "end this program, and start it again with the file that you mean".to_owned()
        }
        None => "end this program, put the file back or bring back a backup with `bellwether \
                 restore`, and start again"
            .to_owned(),
    }
}

fn cure_of_log(path: &Path, log: &Path, aside: Option<&Path>) -> String {
    let was_log = log.display();
    match aside {
        Some(aside) => format!(
            "nothing of it was read, and it is now `{}`; do the same again to go on with the file \
             as it is, or put the earlier file and its log back under their names",
            aside.display()
        ),
        None => format!(
            "nothing of it was read; end every program that uses `{}`, move `{was_log}` away, and \
             keep it: it holds what was recorded last in the earlier file",
            path.display()
        ),
    }
}

/// What goes wrong below the public functions, before the file's path is added.
#[derive(Debug)]
pub(crate) enum Trouble {
    Sql(rusqlite::Error),
    /// A row that says something impossible.
    BadRow {
        place: String,
        reason: String,
    },
    /// Something that was noticed before a row was touched.
    Told(StoreError),
}

impl From<rusqlite::Error> for Trouble {
    fn from(error: rusqlite::Error) -> Trouble {
        Trouble::Sql(error)
    }
}

impl From<StoreError> for Trouble {
    fn from(error: StoreError) -> Trouble {
        Trouble::Told(error)
    }
}

impl Trouble {
    /// The public error, with the file to which it happened.
    pub(crate) fn at(self, path: &Path) -> StoreError {
        let path = path.to_owned();
        match self {
            Trouble::Told(error) => error,
            Trouble::BadRow { place, reason } => {
                StoreError::Corrupt { path, found: format!("{place}: {reason}") }
            }
            Trouble::Sql(reason) => sorted(path, reason),
        }
    }

    /// Whether somebody else's lock was in the way.
    pub(crate) fn is_locked(&self) -> bool {
        matches!(self, Trouble::Sql(error) if matches!(
            error.sqlite_error_code(),
            Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked)
        ))
    }
}

/// Sorts SQLite's error by what a person can do about it.
fn sorted(path: PathBuf, reason: rusqlite::Error) -> StoreError {
    let extended = reason.sqlite_error().map_or(0, |error| error.extended_code);
    let no_room_for_index = extended == rusqlite::ffi::SQLITE_IOERR_SHMSIZE;
    match reason.sqlite_error_code() {
        Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => StoreError::Locked { path },
        Some(ErrorCode::ReadOnly) => StoreError::ReadOnly { path },
        Some(ErrorCode::DiskFull) => StoreError::DiskFull { path },
        Some(ErrorCode::SystemIoFailure) if no_room_for_index => StoreError::DiskFull { path },
        Some(ErrorCode::NotADatabase) => {
            StoreError::NotAStore { path, found: "a file of another kind".to_owned() }
        }
        Some(ErrorCode::DatabaseCorrupt) => StoreError::Corrupt { path, found: reason.to_string() },
        Some(ErrorCode::CannotOpen) => StoreError::Io {
            path,
            reason: std::io::Error::other(format!("{reason}; check the rights to file and folder")),
        },
        Some(ErrorCode::SystemIoFailure) => {
            StoreError::Io { path, reason: std::io::Error::other(reason.to_string()) }
        }
        _ => StoreError::Sql { path, reason },
    }
}
