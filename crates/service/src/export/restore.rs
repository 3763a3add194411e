//! Putting a record back from `record.jsonl`: all of it in one transaction, or nothing.

use std::io::{self, BufRead, Read};

use jiff::Timestamp;
use store::{Added, ImportInto, Store, StoreError};

use super::lines::{self, BadLine, Line, VERSION};

/// The longest line; a lift file is the longest thing that a line holds.
const MAX_LINE_BYTES: usize = 64 << 20;

/// Why a record was not put back. The store holds what it held before.
#[derive(Debug, thiserror::Error)]
pub enum RestoreError {
    /// A line can't be read.
    #[error(
        "line {line}: {reason}; nothing was put back: take the file from the export or a backup \
         again, or mend that line"
    )]
    Line {
        /// The line, from 1.
        line: u64,
        /// What is wrong with it.
        reason: String,
    },
    /// The file doesn't begin as an export does.
    #[error(
        "the first line doesn't say that this is an export: it must be \
         {{\"format\":\"bellwether record\",\"version\":1}}"
    )]
    NotAnExport,
    /// The file was written by a newer program.
    #[error(
        "this export has version {found} and versions up to {known} are known here: use the \
             newer program"
    )]
    NewerVersion {
        /// The version of the file.
        found: u32,
        /// The newest version known here.
        known: u32,
    },
    /// The end is missing.
    #[error(
        "the file ends after line {line} without the line that closes an export: it was cut off, so \
         nothing was put back; take it from the export or a backup again"
    )]
    CutOff {
        /// The last line there is.
        line: u64,
    },
    /// Lines are missing, or there are too many.
    #[error(
        "the last line (line {line}) says that there are {said} facts, and there are {found}: lines \
         were lost or added, so nothing was put back"
    )]
    WrongNumber {
        /// The line, from 1.
        line: u64,
        /// How many facts there should be.
        said: u64,
        /// How many there are.
        found: u64,
    },
    /// A fact doesn't fit into this store.
    #[error("line {line}: {reason}")]
    Fact {
        /// The line, from 1.
        line: u64,
        /// What the store said.
        reason: StoreError,
    },
    /// The store has trouble.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// The file could not be read to its end.
    #[error("can't read the file after line {line}: {reason}")]
    Read {
        /// The last line that was read.
        line: u64,
        /// What the system said.
        reason: io::Error,
    },
}

/// What was put back.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, serde::Serialize)]
pub struct Restored {
    /// Facts put back.
    pub new: u64,
    /// Facts that were there already.
    pub already_there: u64,
}

/// Puts the record of an export into `store`, which is empty or holds the beginning of the very same
/// record. `progress` is told how many facts have been read.
///
/// # Errors
/// See [`RestoreError`]; after any of them the store holds what it held before.
pub fn restore(
    store: &Store,
    reader: impl Read,
    now: Timestamp,
    progress: &mut dyn FnMut(u64),
) -> Result<Restored, RestoreError> {
    let mut lines = Lines { reader: io::BufReader::new(reader), text: String::new(), line: 0 };
    read_first(&mut lines)?;
    let mut import = store.begin_import("an export", now)?;
    let mut restored = Restored::default();
    loop {
        match lines.next()? {
            None => return Err(RestoreError::CutOff { line: lines.line }),
            Some(Line::First(_)) => return Err(lines.bad("a second export begins here")),
            Some(Line::Fact(fact)) => put_back(&mut import, &fact, lines.line, &mut restored)?,
            Some(Line::Last(said)) => {
                check_number(said, &restored, lines.line)?;
                break;
            }
        }
        progress(restored.new + restored.already_there);
    }
    if lines.next()?.is_some() {
        return Err(lines.bad("the export ended on an earlier line"));
    }
    import.commit()?;
    Ok(restored)
}

fn read_first(lines: &mut Lines<impl Read>) -> Result<(), RestoreError> {
    match lines.next() {
        Ok(Some(Line::First(version))) if version <= VERSION => Ok(()),
        Ok(Some(Line::First(found))) => Err(RestoreError::NewerVersion { found, known: VERSION }),
        Err(error @ RestoreError::Read { .. }) => Err(error),
        _ => Err(RestoreError::NotAnExport),
    }
}

fn put_back(
    import: &mut ImportInto<'_>,
    fact: &store::Fact,
    line: u64,
    restored: &mut Restored,
) -> Result<(), RestoreError> {
    match import.restore_fact(fact) {
        Ok(Added::AlreadyThere) => restored.already_there += 1,
        Ok(_) => restored.new += 1,
        Err(reason @ (StoreError::CannotRestore { .. } | StoreError::UnknownLifter { .. })) => {
            return Err(RestoreError::Fact { line, reason });
        }
        Err(error) => return Err(error.into()),
    }
    Ok(())
}

fn check_number(said: u64, restored: &Restored, line: u64) -> Result<(), RestoreError> {
    let found = restored.new + restored.already_there;
    if said == found { Ok(()) } else { Err(RestoreError::WrongNumber { line, said, found }) }
}

/// The lines of the file, one at a time.
struct Lines<R> {
    reader: io::BufReader<R>,
    text: String,
    line: u64,
}

impl<R: Read> Lines<R> {
    /// The next line that isn't blank.
    fn next(&mut self) -> Result<Option<Line>, RestoreError> {
        loop {
            self.text.clear();
            let mut limited = (&mut self.reader).take(MAX_LINE_BYTES as u64 + 1);
            let n = match limited.read_line(&mut self.text) {
                Ok(n) => n,
                Err(error) if error.kind() == io::ErrorKind::InvalidData => {
                    self.line += 1;
                    return Err(self.bad("it is not valid UTF-8"));
                }
                Err(reason) => return Err(RestoreError::Read { line: self.line, reason }),
            };
            if n == 0 {
                return Ok(None);
            }
            self.line += 1;
            if n > MAX_LINE_BYTES {
                return Err(self.bad("it is longer than any line of a record"));
            }
            let text = self.text.trim().trim_start_matches('\u{feff}');
            if !text.is_empty() {
                let read = lines::read_line(text);
                return read.map(Some).map_err(|BadLine(reason)| self.bad(&reason));
            }
        }
    }

    fn bad(&self, reason: &str) -> RestoreError {
        RestoreError::Line { line: self.line, reason: reason.to_owned() }
    }
}
