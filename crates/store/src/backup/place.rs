//! Files on their way to a place: under another name until they are whole, and gone if they never are.

use std::fs::{self, OpenOptions};
use std::io;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;

use jiff::Timestamp;

use super::{BESIDE, BackupError, sorted};
use crate::open::{beside, folder_of, settle_folder};
use crate::private;

/// What the name of an unfinished file has after its own.
const UNFINISHED: &str = ".unfinished-";
/// An unfinished file that is older was left by a program that was killed.
const STALE: Duration = Duration::from_secs(24 * 60 * 60);

/// A file that isn't whole yet. Unless it is put in place, dropping it removes it with all that SQLite put beside it.
#[derive(Debug)]
pub(super) struct Unfinished {
    path: PathBuf,
}

impl Unfinished {
    /// An empty file in the folder of `place` that only its owner can read.
    pub(super) fn begin(place: &Path) -> Result<Unfinished, BackupError> {
        static NUMBER: AtomicU64 = AtomicU64::new(0);
        let name = place.file_name().unwrap_or_default().to_string_lossy();
        let folder = folder_of(place);
        loop {
            let number = NUMBER.fetch_add(1, Ordering::Relaxed);
            let id = format!("{}-{number}-", std::process::id()); // no name begins with another's
            let path = folder.join(format!(".{name}{UNFINISHED}{id}"));
            match private::create_new(&path) {
                Ok(_) => return Ok(Unfinished { path }),
                Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {}
                Err(error) => return Err(sorted(place, error)),
            }
        }
    }

    pub(super) fn path(&self) -> &Path {
        &self.path
    }

    /// Makes what was written last through a power cut.
    pub(super) fn sync(&self, place: &Path) -> Result<(), BackupError> {
        // Some systems only sync what was opened for writing.
        let file = OpenOptions::new().write(true).open(&self.path);
        file.and_then(|file| file.sync_all()).map_err(|reason| sorted(place, reason))
    }

    /// Gives the file its name, in place of what bears it.
    pub(super) fn replace(self, place: &Path) -> Result<(), BackupError> {
        fs::rename(&self.path, place).map_err(|reason| sorted(place, reason))?;
        settle_folder(place);
        Ok(())
    }

    /// Gives the file its name if nothing else bears it.
    pub(super) fn settle(self, place: &Path) -> Result<(), BackupError> {
        let taken = || BackupError::AlreadyThere { path: place.to_owned() };
        // A link is refused where there is something, which a renaming would write over.
        match fs::hard_link(&self.path, place) {
            Ok(()) => {
                fs::remove_file(&self.path).map_err(|reason| sorted(place, reason))?;
                settle_folder(place);
                Ok(())
            }
            Err(error) if error.kind() == io::ErrorKind::AlreadyExists => Err(taken()),
            Err(_) if place.exists() => Err(taken()),
            Err(_) => self.replace(place), // a file system without links
        }
    }
}

impl Drop for Unfinished {
    fn drop(&mut self) {
        let name = self.path.file_name().unwrap_or_default().to_string_lossy();
        let Ok(entries) = fs::read_dir(folder_of(&self.path)) else { return };
        for entry in entries.flatten() {
            if entry.file_name().to_string_lossy().starts_with(&*name) {
                fs::remove_file(entry.path()).ok(); // it is cleared away as stale later
            }
        }
    }
}

/// Takes away what programs that were killed left unfinished in the folder of `place`.
pub(super) fn clear_stale(place: &Path, now: Timestamp) {
    let Ok(entries) = fs::read_dir(folder_of(place)) else { return };
    for entry in entries.flatten() {
        let name = entry.file_name().to_string_lossy().into_owned();
        if !name.starts_with('.') || !name.contains(UNFINISHED) {
            continue;
        }
        let changed = entry.metadata().and_then(|file| file.modified()).ok();
        let changed = changed.and_then(|changed| Timestamp::try_from(changed).ok());
        if changed.is_some_and(|changed| changed.checked_add(STALE).is_ok_and(|end| end < now)) {
            fs::remove_file(entry.path()).ok(); // the next time will do, too
        }
    }
}

/// Makes a folder that is missing, for its owner only.
pub(super) fn make_folder(folder: &Path) -> Result<(), BackupError> {
    private::create_folder(folder).map_err(|reason| sorted(folder, reason))
}

/// The file itself where `path` is a link to one, also if it is missing.
pub(super) fn followed(path: &Path) -> PathBuf {
    fs::canonicalize(path).unwrap_or_else(|_| match fs::read_link(path) {
        Ok(target) => folder_of(path).join(target),
        Err(_) => path.to_owned(),
    })
}

/// Whether both are one file.
pub(super) fn is_same_file(a: &Path, b: &Path) -> bool {
    let (Ok(a_found), Ok(b_found)) = (fs::metadata(a), fs::metadata(b)) else {
        return absolute(a) == absolute(b);
    };
    #[cfg(unix)]
    {
        use std::os::unix::fs::MetadataExt;
        (a_found.dev(), a_found.ino()) == (b_found.dev(), b_found.ino())
    }
    #[cfg(not(unix))]
    {
        let _ = (a_found, b_found);
        absolute(a) == absolute(b)
    }
}

/// Whether `place` is `store` or would lie where something that belongs to it lies.
pub(super) fn belongs_to(place: &Path, store: &Path) -> bool {
    let (folder, name) = (absolute(&folder_of(place)), place.file_name());
    let of_store = followed(store);
    is_same_file(place, store)
        || [store, &of_store].into_iter().any(|store| {
            absolute(&folder_of(store)) == folder
                && BESIDE.iter().any(|suffix| beside(store, suffix).file_name() == name)
        })
}

fn absolute(path: &Path) -> PathBuf {
    fs::canonicalize(path)
        .or_else(|_| std::path::absolute(path))
        .unwrap_or_else(|_| path.to_owned())
}
