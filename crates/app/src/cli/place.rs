//! Where the store lies unless a file is named, and opening it.
//!
//! Linux and other Unix systems: the XDG Base Directory Specification's data folder, relative paths
//! in the variable ignored as it asks. macOS and Windows: the systems' usual folders for a program's
//! data.

use std::env;
use std::path::{Path, PathBuf};

use service::Store;

use super::Everywhere;
use super::ending;
use super::exit::Failure;

const FILE: &str = "record.bellwether";

impl Everywhere {
    /// The store's file: as named, or in the user's data folder.
    pub(crate) fn store_path(&self) -> Result<PathBuf, Failure> {
        match &self.store {
            Some(path) if path.as_os_str().is_empty() => Err(Failure::WrongUse(
                "the store's name is empty: give `--store FILE`, or unset BELLWETHER_STORE"
                    .to_owned(),
            )),
            Some(path) => Ok(path.clone()),
            None => data_folder().map(|folder| folder.join(FILE)).ok_or_else(|| {
                Failure::WrongUse(
                    "this system names no folder for your data: say `--store FILE`".to_owned(),
                )
            }),
        }
    }

    /// A command of this program as it can be pasted: about the same store as this one.
    pub(crate) fn command(&self, words: &str) -> String {
        match &self.store {
            Some(path) => format!("bellwether --store {} {words}", pasted(path)),
            None => format!("bellwether {words}"),
        }
    }

    /// Opens the store for writing; makes it if it is missing.
    pub(crate) fn open_or_make(&self) -> Result<Store, Failure> {
        let path = self.store_path()?;
        Ok(ending::watching(|| Store::open(&path))?)
    }

    /// Opens a store that is there, for writing.
    pub(crate) fn open_to_write(&self) -> Result<Store, Failure> {
        let path = self.store_path()?;
        Ok(ending::watching(|| Store::open_existing(&path))?)
    }

    /// Opens a store that is there; for reading only where it can't be written.
    pub(crate) fn open(&self) -> Result<Store, Failure> {
        open_existing(&self.store_path()?)
    }

    /// Opens the store as [`Everywhere::open`] does; none if there is no such file.
    pub(crate) fn open_if_there(&self) -> Result<Option<Store>, Failure> {
        let path = self.store_path()?;
        if path.exists() { open_existing(&path).map(Some) } else { Ok(None) }
    }

    /// Opens the store as [`Everywhere::open`] does, or makes an empty one; says whether it was made.
    pub(crate) fn open_or_begin(&self) -> Result<(Store, bool), Failure> {
        match self.open() {
            Err(Failure::Store(service::StoreError::NoSuchStore { .. })) => {
                Ok((self.open_or_make()?, true))
            }
            opened => Ok((opened?, false)),
        }
    }
}

/// A path as a shell takes it for one word.
pub(crate) fn pasted(path: &Path) -> String {
    let text = path.display().to_string();
    let is_plain = |c: char| c.is_alphanumeric() || "/._-+=,:@%".contains(c);
    if !text.is_empty() && text.chars().all(is_plain) {
        return text;
    }
    format!("'{}'", text.replace('\'', "'\\''"))
}

fn open_existing(path: &Path) -> Result<Store, Failure> {
    use service::StoreError::{DiskFull, ReadOnly};
    match ending::watching(|| Store::open_existing(path)) {
        // A full disk can be read too.
        Err(ReadOnly { .. } | DiskFull { .. }) => {
            Ok(ending::watching(|| Store::open_read_only(path))?)
        }
        opened => Ok(opened?),
    }
}

#[cfg(target_os = "windows")]
fn data_folder() -> Option<PathBuf> {
    absolute("LOCALAPPDATA").map(|folder| folder.join("Bellwether"))
}

#[cfg(target_os = "macos")]
fn data_folder() -> Option<PathBuf> {
    absolute("HOME").map(|home| home.join("Library/Application Support/Bellwether"))
}

#[cfg(not(any(target_os = "windows", target_os = "macos")))]
fn data_folder() -> Option<PathBuf> {
    absolute("XDG_DATA_HOME")
        .or_else(|| absolute("HOME").map(|home| home.join(".local/share")))
        .map(|folder| folder.join("bellwether"))
}

/// The absolute path that a variable holds.
fn absolute(variable: &str) -> Option<PathBuf> {
    env::var_os(variable).map(PathBuf::from).filter(|path| path.is_absolute())
}
