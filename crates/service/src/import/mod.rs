//! Reading a coach's tables into the record: our own log format and any other table of sets.
//!
//! A table is read as a stream, in bounded memory; every line that can't be taken goes to the
//! rejects with its line number and the reason, and the rest is imported in one transaction. What
//! can be read in two ways (date order, decimal mark, unit) is asked for, never guessed. No table
//! of any particular program is known here: a foreign table is read by naming its columns.
//! `docs/log-format.md` describes the formats.

pub(crate) mod cell_text;
pub mod form;

mod checkins;
mod columns;
mod dates;
mod error;
mod into_store;
mod log;
mod near;
mod numbers;
mod plan;
mod reading;
mod recognise;
mod rejects;
mod report;
mod sniff;
mod table;
mod units;

pub use checkins::read_check_ins;
pub use columns::{ColumnChoice, ConstantValue, Field, TableKind};
pub use dates::DateOrder;
pub use error::{ImportError, MissingColumn, Question};
pub use into_store::{IntoStore, LiftFileReport, import_check_ins, import_lift_file, import_log};
pub use log::{near_lifts, read_log, read_log_whole};
pub use near::nearest;
pub use plan::{HowRead, ImportPlan, Look, Proposal, look};
pub use recognise::{FileKind, recognise};
pub use report::{ImportReport, LifterCount, Refusal, RefusalClass, UnknownLift};
pub use sniff::{DecimalMark, Encoding, Separator};

use std::io::Write;

use domain::Catalogue;
use jiff::civil::Date;

/// What reading a table needs besides the table.
pub struct Import<'a> {
    /// The lifts known.
    pub catalogue: &'a Catalogue,
    /// What was said about the table.
    pub plan: &'a ImportPlan,
    /// The day on which this is done; a date after the day that follows is refused.
    pub today: Date,
    /// Where refused lines go, as CSV; nothing is written if there are none.
    pub rejects: &'a mut dyn Write,
    /// Told now and then how far the reading has come.
    pub progress: &'a mut dyn FnMut(Progress),
}

/// How far an import has come.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Progress {
    /// Bytes of the file read so far.
    pub bytes: u64,
    /// Lines of data read so far, refused ones included.
    pub lines: u64,
}

/// What became of a set or check-in that was handed over.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Taken {
    /// It is new.
    New,
    /// The very same is on record.
    AlreadyThere,
    /// It took the place of what was on record.
    Superseded,
    /// It was on record and has been withdrawn.
    Withdrawn,
    /// It differs from what is on record, in these words.
    Differs(String),
}
