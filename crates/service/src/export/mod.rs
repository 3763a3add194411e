//! Export of a whole record to a folder, and putting a record back from it.
//!
//! `sets.csv`, `check-ins.csv` and `lifts-1.toml`, … hold what is current, in the formats that are
//! imported: anybody's spreadsheet reads them. `record.jsonl` holds every version of everything and
//! gives the same record back. `docs/export.md` describes all of them. A folder gets the whole
//! export or none of it, and an older export in it is only replaced on request.

mod files;
mod lines;
mod restore;
mod tables;

pub use files::ExportError;
pub use restore::{RestoreError, Restored, restore};

use std::io::Write;
use std::path::{Path, PathBuf};

use store::{Store, StoreError};

use files::Folder;

/// The file with every version of everything.
pub const RECORD_FILE: &str = "record.jsonl";
/// The file with the current sets.
pub const SETS_FILE: &str = "sets.csv";
/// The file with the current check-ins.
pub const CHECK_INS_FILE: &str = "check-ins.csv";

/// How often an export is begun anew because somebody recorded something meanwhile.
const ATTEMPTS: u32 = 3;

/// What to do about an export that lies in the folder already.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Existing {
    /// Leave it and write nothing.
    Keep,
    /// Put the new one in its place.
    Replace,
}

/// What was exported.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize)]
pub struct Exported {
    /// The folder.
    pub folder: PathBuf,
    /// The files in it, by name.
    pub files: Vec<String>,
    /// Lifters on record.
    pub lifters: u64,
    /// Current sets.
    pub sets: u64,
    /// Current check-ins.
    pub check_ins: u64,
    /// Current lift files.
    pub lift_files: u64,
    /// Versions of anything, superseded and withdrawn ones included.
    pub facts: u64,
}

/// Exports the whole record to `folder`, which is made if it is missing. All files show one state of
/// the record. `progress` is told how many facts are written, of how many.
///
/// # Errors
/// See [`ExportError`]; after any of them the folder holds what it held before.
pub fn export(
    store: &Store,
    folder: &Path,
    existing: Existing,
    progress: &mut dyn FnMut(u64, u64),
) -> Result<Exported, ExportError> {
    let mut into = Folder::open(folder, existing)?;
    store.verify()?; // what is damaged isn't handed on as the record
    for _ in 0..ATTEMPTS {
        let before = store.n_facts()?;
        let exported = write_all(store, &mut into, before, progress)?;
        // Facts are only ever added: as many before as after means that nothing changed between.
        if exported.facts == before && store.n_facts()? == before {
            return into.settle().map(|files| Exported { files, ..exported });
        }
        into.clear();
    }
    Err(ExportError::Busy)
}

/// Writes all files under their unfinished names.
fn write_all(
    store: &Store,
    into: &mut Folder,
    n_facts: u64,
    progress: &mut dyn FnMut(u64, u64),
) -> Result<Exported, ExportError> {
    let mut exported = Exported {
        folder: into.path().to_owned(),
        files: Vec::new(),
        lifters: 0,
        sets: 0,
        check_ins: 0,
        lift_files: 0,
        facts: 0,
    };
    let lifters: Vec<_> = store.lifters()?.into_iter().map(|summary| summary.lifter.name).collect();
    exported.lifters = lifters.len() as u64;
    exported.sets = into.write(SETS_FILE, |out| tables::write_sets(store, &lifters, out))?;
    exported.check_ins =
        into.write(CHECK_INS_FILE, |out| tables::write_check_ins(store, &lifters, out))?;
    for text in store.lift_files()? {
        exported.lift_files += 1;
        let name = format!("lifts-{}.toml", exported.lift_files);
        into.write(&name, |out| Ok(out.write_all(text.as_bytes())?))?;
    }
    exported.facts = into.write(RECORD_FILE, |out| write_record(store, n_facts, progress, out))?;
    Ok(exported)
}

fn write_record(
    store: &Store,
    n_facts: u64,
    progress: &mut dyn FnMut(u64, u64),
    out: &mut dyn Write,
) -> Result<u64, WriteTrouble> {
    let mut written = 0;
    lines::write_first(out)?;
    store.for_each_fact(|fact| {
        lines::write_fact(&fact, out)?;
        written += 1;
        progress(written, n_facts);
        Ok::<(), WriteTrouble>(())
    })?;
    lines::write_last(written, out)?;
    Ok(written)
}

/// What goes wrong while a file is written, before its name is added.
#[derive(Debug)]
enum WriteTrouble {
    Io(std::io::Error),
    Store(StoreError),
}

impl From<std::io::Error> for WriteTrouble {
    fn from(error: std::io::Error) -> WriteTrouble {
        WriteTrouble::Io(error)
    }
}

impl From<StoreError> for WriteTrouble {
    fn from(error: StoreError) -> WriteTrouble {
        WriteTrouble::Store(error)
    }
}

impl From<csv::Error> for WriteTrouble {
    fn from(error: csv::Error) -> WriteTrouble {
        WriteTrouble::Io(error.into())
    }
}

#[cfg(test)]
mod tests;
