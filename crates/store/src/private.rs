//! Files that nobody else on the machine reads: what holds data about somebody's health.
//!
//! New files get the rights 0600 and new folders 0700, whatever the user's mask allows. What is there already keeps
//! the rights that its owner gave it. Where a system has no such rights, what it does by itself holds.

use std::fs::{self, DirBuilder, File, OpenOptions};
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

use crate::open::SQLITE_HEADER;
use crate::place::is_open_here;

/// Makes a file, or empties the one that is there, for writing. A database is never emptied: it may be somebody's
/// record.
///
/// # Errors
/// The system's; a database lies there.
pub fn create(path: &Path) -> io::Result<File> {
    refuse_database(path)?;
    for_owner().write(true).create(true).truncate(true).open(path)
}

/// Makes a file that isn't there yet, for writing.
///
/// # Errors
/// The system's; [`io::ErrorKind::AlreadyExists`] among them.
pub fn create_new(path: &Path) -> io::Result<File> {
    for_owner().write(true).create_new(true).open(path)
}

/// Writes all of a file or none of it: what lay there stays until the new content is on the disk. A database is never
/// written over: it may be somebody's record.
///
/// # Errors
/// The system's; a database lies there.
pub fn write(path: &Path, content: impl AsRef<[u8]>) -> io::Result<()> {
    refuse_database(path)?;
    let there = fs::metadata(path).ok();
    if there.as_ref().is_some_and(|there| !there.is_file()) || path.is_symlink() {
        return create(path)?.write_all(content.as_ref()); // a pipe, say, or a name for another place
    }
    let unfinished = unfinished(path);
    let written = (|| {
        let mut file = for_owner().write(true).create(true).truncate(true).open(&unfinished)?;
        if let Some(there) = &there {
            file.set_permissions(there.permissions())?;
        }
        file.write_all(content.as_ref())?;
        file.sync_all()?;
        fs::rename(&unfinished, path)
    })();
    written.inspect_err(|_| {
        fs::remove_file(&unfinished).ok(); // of no use to anybody
    })
}

/// The name under which a file is written until it is whole.
fn unfinished(path: &Path) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(format!(".unfinished-{}", std::process::id()));
    PathBuf::from(name)
}

/// Refuses to write over any SQLite database.
///
/// # Errors
/// A database lies there.
pub fn refuse_database(path: &Path) -> io::Result<()> {
    let mut head = [0; SQLITE_HEADER.len()];
    // What this process has open as a database isn't opened here: closing it would take its locks away.
    let is_database = is_open_here(path)
        || (path.is_file()
            && File::open(path).and_then(|mut file| file.read_exact(&mut head)).is_ok()
            && head == *SQLITE_HEADER);
    if is_database {
        return Err(io::Error::other(
            "a database lies there, a record perhaps, which isn't written over; name another file",
        ));
    }
    Ok(())
}

/// Makes a folder and those above it that are missing.
///
/// # Errors
/// The system's.
pub fn create_folder(path: &Path) -> io::Result<()> {
    let mut builder = DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder.create(path)
}

/// Whether other users of this machine may read a file; none where that can't be told.
#[must_use]
pub fn is_open_to_others(path: &Path) -> Option<bool> {
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        let rights = std::fs::metadata(path).ok()?.permissions().mode();
        Some(rights & 0o077 != 0)
    }
    #[cfg(not(unix))]
    {
        let _ = path;
        None
    }
}

fn for_owner() -> OpenOptions {
    let mut options = OpenOptions::new();
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    options
}

#[cfg(all(test, unix))]
mod tests {
    use std::fs;
    use std::os::unix::fs::PermissionsExt;

    use super::*;

    #[test]
    fn new_files_and_folders_are_their_owners_and_others_keep_their_rights() {
        let outer = tempfile::tempdir().unwrap();
        let rights = |path: &Path| fs::metadata(path).unwrap().permissions().mode() & 0o777;
        let folder = outer.path().join("a/b");
        create_folder(&folder).unwrap();
        assert_eq!((rights(&folder), rights(&outer.path().join("a"))), (0o700, 0o700));
        let file = folder.join("card.html");
        write(&file, "a card").unwrap();
        assert_eq!((rights(&file), is_open_to_others(&file)), (0o600, Some(false)));
        assert!(create_new(&file).is_err());
        fs::set_permissions(&file, fs::Permissions::from_mode(0o644)).unwrap();
        write(&file, "another").unwrap();
        assert_eq!((rights(&file), is_open_to_others(&file)), (0o644, Some(true)));
        assert_eq!(fs::read_to_string(&file).unwrap(), "another");
    }
}
