//! Small files for their owner's eyes only: written whole or not at all, in folders that others can't enter.

use std::fs::{self, DirBuilder, File, OpenOptions};
use std::io::{self, Write};
use std::path::Path;

/// Writes a file that only its owner can read. After a crash or a power cut there is the old file or the
/// new one, whole; what was cut off lies under another name that ends in `.new`.
pub(super) fn write(path: &Path, text: &str) -> io::Result<()> {
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    let half = path.with_file_name(format!(".{name}.{}.new", std::process::id()));
    let written = write_new(&half, text).and_then(|()| fs::rename(&half, path));
    if written.is_err() {
        fs::remove_file(&half).ok(); // what remains is harmless
    }
    written?;
    sync_folder(path)
}

fn write_new(path: &Path, text: &str) -> io::Result<()> {
    let mut options = OpenOptions::new();
    options.write(true).create(true).truncate(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    let mut file = options.open(path)?;
    file.write_all(text.as_bytes())?;
    file.sync_all()
}

/// Makes a folder that only its owner can enter, if it isn't there.
pub(super) fn make_folder(path: &Path) -> io::Result<()> {
    let mut builder = DirBuilder::new();
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    match builder.create(path) {
        Err(error) if error.kind() == io::ErrorKind::AlreadyExists && path.is_dir() => Ok(()),
        made => made,
    }
}

/// Makes sure that a name in a folder outlasts a power cut, where the system needs to be asked.
pub(super) fn sync_folder(path: &Path) -> io::Result<()> {
    let parent = path.parent().filter(|parent| !parent.as_os_str().is_empty());
    if cfg!(unix) { File::open(parent.unwrap_or(Path::new(".")))?.sync_all() } else { Ok(()) }
}
