//! Having a store's file for oneself, whatever state it is in.
//!
//! A program that has a store open holds a lock of SQLite's on the file or on its index `-shm`, also
//! while it only waits. Those are locks of `fcntl` on some bytes (SQLite, "File Locking And Concurrency In
//! SQLite Version 3", from memory), so a lock on all bytes is refused as long as there is one. That asks the
//! system and not SQLite, and so works on a damaged file, too. The locks of this very process are
//! not seen, and closing any other handle on the file gives these locks up: nothing else may open it here.

use std::fs::{File, OpenOptions};
use std::io;
use std::path::Path;

use super::{BackupError, sorted};
use crate::open::beside;

/// A store's file that nobody else has open. Others are locked out until it is dropped.
#[derive(Debug)]
pub(super) struct Alone {
    file: Option<File>,
    _index: Option<File>,
}

impl Alone {
    /// Locks everybody out of the store at `path`, which may be missing.
    ///
    /// # Errors
    /// Somebody has it open, or it can't be opened for writing.
    pub(super) fn with(path: &Path) -> Result<Alone, BackupError> {
        let file = locked(path, path)?;
        Ok(Alone { file, _index: locked(&beside(path, "-shm"), path)? })
    }

    /// As [`Alone::with`] for a file that is only read: one that nobody can write is taken as it is.
    pub(super) fn to_read(path: &Path) -> Result<Alone, BackupError> {
        match Alone::with(path) {
            Err(BackupError::ReadOnly { .. }) => {
                let file = File::open(path).map_err(|reason| sorted(path, reason))?;
                Ok(Alone { file: Some(file), _index: None })
            }
            other => other,
        }
    }

    /// The file, if there is one.
    pub(super) fn file(&self) -> Option<&File> {
        self.file.as_ref()
    }
}

fn locked(path: &Path, store: &Path) -> Result<Option<File>, BackupError> {
    let file = match OpenOptions::new().read(true).write(true).open(path) {
        Ok(file) => file,
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(None),
        Err(error) => return Err(sorted(path, error)),
    };
    match lock(&file) {
        Ok(true) => Ok(Some(file)),
        Ok(false) => Err(BackupError::InUse { path: store.to_owned() }),
        Err(reason) => Err(BackupError::Io { path: path.to_owned(), reason }),
    }
}

/// Whether nobody else has a lock on the file; if so, it is locked.
#[cfg(unix)]
fn lock(file: &File) -> io::Result<bool> {
    use rustix::fs::{FlockOperation, fcntl_lock};
    use rustix::io::Errno;
    match fcntl_lock(file, FlockOperation::NonBlockingLockExclusive) {
        Ok(()) => Ok(true),
        Err(Errno::AGAIN | Errno::ACCESS) => Ok(false),
        Err(error) => Err(error.into()),
    }
}

#[cfg(not(unix))]
fn lock(file: &File) -> io::Result<bool> {
    match file.try_lock() {
        Ok(()) => Ok(true),
        Err(std::fs::TryLockError::WouldBlock) => Ok(false),
        Err(std::fs::TryLockError::Error(error)) => Err(error),
    }
}
