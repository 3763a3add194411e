//! Copies of a whole store as one file each, and putting such a copy in the place of a store.
//!
//! A copy is made from one state of the record while others go on writing, is written under another name, opened
//! again and compared with the store fact by fact, and only then gets its name. A copy is put in
//! place after all of it has been read; what lay there is moved aside, and nothing is ever removed or
//! written over. When copies are made and which are kept isn't decided here.

mod alone;
mod contents;
mod copy;
mod difference;
mod place;
mod put_in_place;

pub use contents::Contents;
pub use copy::{BackedUp, Origin, Over, origin_of};
pub use difference::{Difference, LifterDifference};
pub use put_in_place::{Before, Mode, Put, PutInPlace, put_in_place};

use std::io;
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};

use crate::StoreError;

/// Is told how far the work has come, of how much, and says whether to go on.
pub type Watch<'a> = &'a mut dyn FnMut(u64, u64) -> ControlFlow<()>;

/// Why there is no copy, or why none was put in place. Nothing half-written is left, and whatever lay
/// there is as it was.
#[derive(Debug, thiserror::Error)]
pub enum BackupError {
    /// The place is the store's own, or the copy to be put in place is the store.
    #[error(
        "`{}` is the store itself or belongs to it: name another file, or a folder", path.display()
    )]
    TheStore {
        /// The file.
        path: PathBuf,
    },
    /// Something lies there already.
    #[error(
        "`{}` is there already: name another file, or replace it with `--force`", path.display()
    )]
    AlreadyThere {
        /// The file.
        path: PathBuf,
    },
    /// What lies there is no copy of a store, so that it isn't replaced.
    #[error("`{}` is no backup and no store, so it isn't replaced: name another file", path.display())]
    AnotherFile {
        /// The file.
        path: PathBuf,
    },
    /// Some program has the store open.
    #[error(
        "`{}` is in use: end `bellwether serve` and whatever else has it open, then try again; nothing \
         was changed", path.display()
    )]
    InUse {
        /// The store's file.
        path: PathBuf,
    },
    /// The copy to be put in place isn't whole.
    #[error(
        "`{}` is damaged ({found}): take another backup; nothing was changed", path.display()
    )]
    NotWhole {
        /// The copy.
        path: PathBuf,
        /// What was noticed.
        found: String,
    },
    /// The folder is missing.
    #[error("there is no folder `{}`: make it, or name another place", path.display())]
    NoFolder {
        /// The folder.
        path: PathBuf,
    },
    /// There is no room for the copy.
    #[error(
        "no room is left for `{}`: free some space on that disk, or name a folder on another one",
        path.display()
    )]
    DiskFull {
        /// The file that was being written.
        path: PathBuf,
    },
    /// Nothing can be written there.
    #[error("`{}` can't be written: allow writing there, or name another place", path.display())]
    ReadOnly {
        /// The file or folder.
        path: PathBuf,
    },
    /// The system refused for another reason.
    #[error("can't write `{}`: {reason}", path.display())]
    Io {
        /// The file or folder.
        path: PathBuf,
        /// What the system said.
        reason: io::Error,
    },
    /// The copy doesn't say what the store says.
    #[error(
        "the copy `{}` isn't the same as the store ({found}) and was taken away: try again, and on another \
         disk if that happens twice", path.display()
    )]
    Differs {
        /// The place of the copy.
        path: PathBuf,
        /// The first difference.
        found: String,
    },
    /// Whoever looked on said to end.
    #[error("the backup was ended before it was whole, and taken away")]
    Ended,
    /// The store has trouble.
    #[error(transparent)]
    Store(#[from] StoreError),
}

/// Sorts what the system said by what a person can do about it.
fn sorted(path: &Path, reason: io::Error) -> BackupError {
    let path = path.to_owned();
    match reason.kind() {
        io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded => BackupError::DiskFull { path },
        io::ErrorKind::PermissionDenied | io::ErrorKind::ReadOnlyFilesystem => {
            BackupError::ReadOnly { path }
        }
        io::ErrorKind::NotFound | io::ErrorKind::NotADirectory => {
            BackupError::NoFolder { path: crate::open::folder_of(&path) }
        }
        _ => BackupError::Io { path, reason },
    }
}

/// What lies beside a store and belongs to it.
const BESIDE: [&str; 3] = ["-wal", "-shm", "-journal"];
