//! The loop that both kinds of table share: next line, read it, hand it over, or refuse it.

use std::io::Read;

use super::columns::{Field, TableKind};
use super::error::ImportError;
use super::plan::{self, Resolved};
use super::rejects::Rejects;
use super::report::{ImportReport, RefusalClass};
use super::table::{Next, Record};
use super::{Import, Progress, Taken};

/// After how many lines progress is told.
const TOLD_EVERY: u64 = 8_192;

/// Why a line is refused.
#[derive(Debug)]
pub(super) struct Bad {
    pub(super) class: RefusalClass,
    pub(super) reason: String,
    /// The set number that was counted for it.
    pub(super) set_number: Option<u8>,
}

impl Bad {
    /// A refusal with its reason.
    pub(super) fn new(class: RefusalClass, reason: impl ToString) -> Bad {
        Bad { class, reason: reason.to_string(), set_number: None }
    }

    /// What turns the refusal of a value into that of a line.
    pub(super) fn of(class: RefusalClass) -> impl Fn(domain::Refused) -> Bad {
        move |refused| Bad::new(class, refused)
    }
}

/// What reads one kind of line.
pub(super) trait LineReader<'a>: Sized {
    /// What a line holds.
    type Item;
    /// The kind of table.
    const KIND: TableKind;

    /// Gets ready; refuses values for all lines that can't be used.
    fn new(with: &Import<'a>, resolved: &Resolved) -> Result<Self, ImportError>;
    /// Reads a line; `None` if an earlier line said the same.
    fn read(&mut self, record: &Record, resolved: &Resolved) -> Result<Option<Self::Item>, Bad>;
    /// The last line that was read has been taken.
    fn taken(&mut self);
    /// Adds what was counted.
    fn finish(self, report: &mut ImportReport);
}

/// Reads a whole table.
pub(super) fn run<'a, L: LineReader<'a>>(
    reader: impl Read,
    with: Import<'a>,
    take: &mut dyn FnMut(u64, L::Item) -> Result<Taken, ImportError>,
) -> Result<ImportReport, ImportError> {
    let (mut table, resolved) = plan::open(reader, L::KIND, with.plan, with.catalogue)?;
    let mut lines = L::new(&with, &resolved)?;
    let counts_sets = L::KIND == TableKind::Log && !resolved.columns.has(Field::Set);
    let headers = resolved.columns.headers.clone();
    let mut rejects = Rejects::new(with.rejects, table.separator(), headers, counts_sets);
    let mut report = ImportReport { how: resolved.how_read(), ..ImportReport::default() };
    report.warnings.clone_from(&resolved.warnings);
    loop {
        let bytes = table.bytes();
        let next = table.next().map_err(|reason| ImportError::Read { bytes, reason })?;
        let (record, outcome) = match next {
            Next::End => break,
            Next::GivenUp(record, reason) => {
                (record, Err(Bad::new(RefusalClass::Unreadable, reason)))
            }
            Next::Record(record) => (record, lines.read(record, &resolved)),
        };
        report.lines += 1;
        let refused = match outcome {
            Ok(None) => {
                report.repeated += 1;
                None
            }
            Ok(Some(item)) => count(&mut report, take(record.line, item)?),
            Err(bad) => Some(bad),
        };
        match refused {
            None => lines.taken(),
            Some(bad) => {
                report.refuse(record.line, bad.class, &bad.reason);
                rejects.put(record, &bad.reason, bad.set_number).map_err(ImportError::Rejects)?;
            }
        }
        if report.lines.is_multiple_of(TOLD_EVERY) {
            (with.progress)(Progress { bytes: table.bytes(), lines: report.lines });
        }
    }
    (with.progress)(Progress { bytes: table.bytes(), lines: report.lines });
    say_what_was_odd(&mut report, table.encoding().as_str());
    lines.finish(&mut report);
    Ok(report)
}

fn count(report: &mut ImportReport, taken: Taken) -> Option<Bad> {
    match taken {
        Taken::New => report.new += 1,
        Taken::AlreadyThere => report.already_there += 1,
        Taken::Superseded => report.superseded += 1,
        Taken::Withdrawn => {
            return Some(Bad::new(
                RefusalClass::OnRecord,
                "was on record and has been withdrawn; import with --correct to put it back",
            ));
        }
        Taken::Differs(on_record) => {
            return Some(Bad::new(
                RefusalClass::OnRecord,
                format!(
                    "differs from what is on record: {on_record}; import with --correct to \
                     supersede it"
                ),
            ));
        }
    }
    None
}

fn say_what_was_odd(report: &mut ImportReport, encoding: &str) {
    if report.lines == 0 {
        report.warnings.push("the table has a header and no lines".to_owned());
    }
    if encoding != report.how.encoding {
        report.warnings.push(format!(
            "the file began as {} and holds letters that are {encoding}: check that names and \
             notes look right",
            report.how.encoding
        ));
        encoding.clone_into(&mut report.how.encoding);
    }
}
