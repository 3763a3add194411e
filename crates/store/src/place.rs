//! Where an open store's files lie, and whether they still do.
//!
//! A file that is removed while it is open goes on being written and is nowhere; one that was replaced is another
//! record. So the names are compared with what was opened before and after every commit. What was confirmed until
//! then is still in reach of the open connection, and is saved.
//!
//! Here too is which files this process has open: opening and closing such a file beside SQLite would take SQLite's
//! locks on it away (fcntl(2), "Record locking and file descriptors"; section 2.2 of SQLite's "How To Corrupt").

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

use rusqlite::Connection;

use crate::StoreError;
use crate::open::{beside, copy_to, free_name};

/// What names a file whatever its name: device and inode.
pub(crate) type FileId = (u64, u64);

/// What was noticed about a file in use.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Lost {
    /// The file is gone.
    Removed,
    /// Another file lies there.
    Replaced,
    /// What belongs beside the file is gone or another.
    LogReplaced,
}

/// An open store's files.
#[derive(Debug)]
pub(crate) struct Place {
    files: Vec<(PathBuf, FileId, Lost)>,
}

impl Place {
    /// The file, and with `log` what lies beside it while it is open for writing.
    pub(crate) fn of(path: &Path, log: bool) -> Place {
        let mut all = vec![(path.to_owned(), Lost::Removed)];
        if log {
            all.push((beside(path, "-wal"), Lost::LogReplaced));
            all.push((beside(path, "-shm"), Lost::LogReplaced));
        }
        let known = all.into_iter().filter_map(|(path, lost)| {
            let id = file_id(&path)?;
            Some((path, id, lost))
        });
        Place { files: known.collect() }
    }

    /// What has become of the files, if they don't lie there any more.
    pub(crate) fn look(&self) -> Option<Lost> {
        self.files.iter().find_map(|(path, id, lost)| match fs::metadata(path) {
            Ok(_) if file_id(path) == Some(*id) => None,
            Ok(_) if *lost == Lost::Removed => Some(Lost::Replaced),
            Err(error) if error.kind() != std::io::ErrorKind::NotFound => None, // can't be told
            Ok(_) | Err(_) => Some(*lost),
        })
    }
}

/// Saves what the connection still sees of the record to a file beside where it lay; its name if that worked.
pub(crate) fn save(path: &Path, lost: Lost, connection: &Connection) -> Option<PathBuf> {
    if lost == Lost::LogReplaced && !beside(path, "-wal").exists() {
        // Nobody else can have written meanwhile: whoever opens the file makes a log, and can't take it away while
        // it is open here.
        let folded: rusqlite::Result<i64> =
            connection.query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |row| row.get(0));
        if folded.is_ok_and(|busy| busy == 0) {
            return Some(path.to_owned());
        }
    }
    let saved = free_name(path, ".saved");
    copy_to(connection, &saved).ok()?;
    Some(saved)
}

#[cfg(unix)]
pub(crate) fn file_id(path: &Path) -> Option<FileId> {
    use std::os::unix::fs::MetadataExt;
    fs::metadata(path).ok().map(|file| (file.dev(), file.ino()))
}

#[cfg(not(unix))]
pub(crate) fn file_id(_path: &Path) -> Option<FileId> {
    None // such systems don't let an open file be removed
}

/// The files that this process has open, once for each store.
static OPEN: Mutex<Vec<FileId>> = Mutex::new(Vec::new());

/// Says that a file is open here, until it is dropped.
#[derive(Debug)]
pub(crate) struct OpenHere(Option<FileId>);

impl OpenHere {
    pub(crate) fn mark(path: &Path) -> OpenHere {
        let id = file_id(path);
        open_files().extend(id);
        OpenHere(id)
    }

    /// The same, of a file that may just have been made.
    pub(crate) fn or_mark(self, path: &Path) -> OpenHere {
        if self.0.is_some() { self } else { OpenHere::mark(path) }
    }
}

impl Drop for OpenHere {
    fn drop(&mut self) {
        let mut open = open_files();
        if let Some(idx) = self.0.and_then(|id| open.iter().position(|other| *other == id)) {
            open.swap_remove(idx);
        }
    }
}

/// Whether this process has the file open.
pub(crate) fn is_open_here(path: &Path) -> bool {
    file_id(path).is_some_and(|id| open_files().contains(&id))
}

/// Says that a file is about to be opened here, after `look`ing at its bytes, which nobody else does meanwhile. One
/// that is open here already was looked at then.
///
/// # Errors
/// Those of `look`.
pub(crate) fn claim(
    path: &Path,
    look: impl FnOnce() -> Result<(), StoreError>,
) -> Result<OpenHere, StoreError> {
    static LOOKING: Mutex<()> = Mutex::new(());
    let _one_at_a_time = LOOKING.lock().unwrap_or_else(PoisonError::into_inner);
    if !is_open_here(path) {
        look()?;
    }
    Ok(OpenHere::mark(path))
}

fn open_files() -> std::sync::MutexGuard<'static, Vec<FileId>> {
    OPEN.lock().unwrap_or_else(PoisonError::into_inner)
}
