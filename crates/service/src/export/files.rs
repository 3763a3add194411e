//! A folder that gets all files of an export or none: each is written under an unfinished name and
//! made to last; only when all are whole do they get their names.

use std::fs::{self, File};
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

use store::{StoreError, private};

use super::{CHECK_INS_FILE, Existing, RECORD_FILE, SETS_FILE, WriteTrouble};

/// Why there is no export. The folder holds what it held before.
#[derive(Debug, thiserror::Error)]
pub enum ExportError {
    /// There is an export already.
    #[error(
        "`{}` holds an export already (`{file}`): name another folder, or replace it with \
         `--force`", folder.display()
    )]
    AlreadyThere {
        /// The folder.
        folder: PathBuf,
        /// A file of the export.
        file: String,
    },
    /// The folder's name is a file's.
    #[error("`{}` is a file: name a folder", path.display())]
    NotAFolder {
        /// What was named.
        path: PathBuf,
    },
    /// The disk is full.
    #[error(
        "no room is left for `{}`: free some space on that disk, or name a folder on another one",
        path.display()
    )]
    DiskFull {
        /// The file that was being written.
        path: PathBuf,
    },
    /// Nothing can be written there.
    #[error("`{}` can't be written: allow writing there, or name another folder", path.display())]
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
    /// Somebody kept recording.
    #[error("the record kept changing while it was exported: wait until the import has finished")]
    Busy,
    /// The store has trouble.
    #[error(transparent)]
    Store(#[from] StoreError),
}

/// A folder on its way to hold an export.
pub(super) struct Folder {
    path: PathBuf,
    existing: Existing,
    names: Vec<String>,
}

impl Folder {
    /// Makes the folder if it is missing; refuses one that holds an export, unless that is to be
    /// replaced.
    pub(super) fn open(path: &Path, existing: Existing) -> Result<Folder, ExportError> {
        if path.is_file() {
            return Err(ExportError::NotAFolder { path: path.to_owned() });
        }
        private::create_folder(path).map_err(|reason| sorted(path, reason))?;
        let folder = Folder { path: path.to_owned(), existing, names: Vec::new() };
        match folder.export_files()?.into_iter().next() {
            Some(file) if existing == Existing::Keep => {
                Err(ExportError::AlreadyThere { folder: path.to_owned(), file })
            }
            _ => Ok(folder),
        }
    }

    pub(super) fn path(&self) -> &Path {
        &self.path
    }

    /// Writes one file under its unfinished name and makes it last.
    pub(super) fn write<T>(
        &mut self,
        name: &str,
        content: impl FnOnce(&mut dyn Write) -> Result<T, WriteTrouble>,
    ) -> Result<T, ExportError> {
        let path = self.unfinished(name);
        let write = || {
            self.names.push(name.to_owned());
            let mut out = BufWriter::new(private::create(&path)?);
            let told = content(&mut out)?;
            out.flush()?;
            out.get_ref().sync_all()?;
            Ok(told)
        };
        write().map_err(|trouble| match trouble {
            WriteTrouble::Io(reason) => sorted(&self.path.join(name), reason),
            WriteTrouble::Store(error) => error.into(),
        })
    }

    /// Gives all files their names, and takes away what an older export has more.
    pub(super) fn settle(mut self) -> Result<Vec<String>, ExportError> {
        if self.existing == Existing::Keep
            && let Some(file) = self.export_files()?.into_iter().next()
        {
            return Err(ExportError::AlreadyThere { folder: self.path.clone(), file });
        }
        let older = self.export_files()?;
        let names = std::mem::take(&mut self.names);
        for name in &names {
            let to = self.path.join(name);
            fs::rename(self.unfinished(name), &to).map_err(|reason| sorted(&to, reason))?;
        }
        for name in older.iter().filter(|name| !names.contains(name)) {
            let path = self.path.join(name);
            fs::remove_file(&path).map_err(|reason| sorted(&path, reason))?;
        }
        // Not every system can sync a folder.
        File::open(&self.path).and_then(|folder| folder.sync_all()).ok();
        Ok(names)
    }

    /// Takes away what is unfinished.
    pub(super) fn clear(&mut self) {
        for name in std::mem::take(&mut self.names) {
            fs::remove_file(self.unfinished(&name)).ok(); // it may not have been made yet
        }
    }

    fn unfinished(&self, name: &str) -> PathBuf {
        self.path.join(format!(".{name}.unfinished"))
    }

    /// The files of an export that lie in the folder, sorted.
    fn export_files(&self) -> Result<Vec<String>, ExportError> {
        let entries = fs::read_dir(&self.path).map_err(|reason| sorted(&self.path, reason))?;
        let mut names: Vec<String> = entries
            .filter_map(|entry| entry.ok()?.file_name().into_string().ok())
            .filter(|name| is_export_file(name))
            .collect();
        names.sort();
        Ok(names)
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        self.clear();
    }
}

fn is_export_file(name: &str) -> bool {
    let number = name.strip_prefix("lifts-").and_then(|rest| rest.strip_suffix(".toml"));
    [RECORD_FILE, SETS_FILE, CHECK_INS_FILE].contains(&name)
        || number.is_some_and(|n| !n.is_empty() && n.bytes().all(|b| b.is_ascii_digit()))
}

fn sorted(path: &Path, reason: io::Error) -> ExportError {
    let path = path.to_owned();
    match reason.kind() {
        io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded => ExportError::DiskFull { path },
        io::ErrorKind::PermissionDenied | io::ErrorKind::ReadOnlyFilesystem => {
            ExportError::ReadOnly { path }
        }
        io::ErrorKind::NotADirectory => ExportError::NotAFolder { path },
        _ => ExportError::Io { path, reason },
    }
}
