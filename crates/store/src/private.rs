//! Files that nobody else on the machine reads: what holds data about somebody's health.
//!
//! New files get the rights 0600 and new folders 0700, whatever the user's mask allows. What is there already keeps
//! the rights that its owner gave it. Where a system has no such rights, what it does by itself holds.

use std::fs::{DirBuilder, File, OpenOptions};
use std::io::{self, Write};
use std::path::Path;

/// Makes a file, or empties the one that is there, for writing.
///
/// # Errors
/// The system's.
pub fn create(path: &Path) -> io::Result<File> {
    for_owner().write(true).create(true).truncate(true).open(path)
}

/// Makes a file that isn't there yet, for writing.
///
/// # Errors
/// The system's; [`io::ErrorKind::AlreadyExists`] among them.
pub fn create_new(path: &Path) -> io::Result<File> {
    for_owner().write(true).create_new(true).open(path)
}

/// Writes all of a file, as [`std::fs::write`] does.
///
/// # Errors
/// The system's.
pub fn write(path: &Path, content: impl AsRef<[u8]>) -> io::Result<()> {
    create(path)?.write_all(content.as_ref())
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
