//! Options that say how a table is to be read, and the files that go with a table.

use std::fs::File;
use std::io::{self, BufWriter, Read, Write};
use std::path::{Path, PathBuf};

use clap::Args;
use domain::Unit;
use service::import::{
    ColumnChoice, ConstantValue, DateOrder, DecimalMark, Encoding, ImportPlan, ImportReport,
    Separator,
};
use service::private;

use super::estimate::unit;
use super::exit::Failure;
use super::paper::{Column, Paper};
use crate::wording::{count, date};

/// How a table is to be read. What is left out is found in the table or asked for.
#[derive(Args, Debug)]
pub(crate) struct TableArgs {
    /// The column that holds a field: load="Weight (lb)" (again for each field)
    #[arg(long = "column", value_name = "FIELD=HEADER")]
    columns: Vec<ColumnChoice>,
    /// A value for a field that the table lacks: lifter="Ada" (again for each field)
    #[arg(long = "value", value_name = "FIELD=TEXT")]
    values: Vec<ConstantValue>,
    /// Take the columns that are proposed for fields without one
    #[arg(long)]
    take_proposals: bool,
    /// The unit of loads on lines that name none: kg or lb
    #[arg(long, value_parser = unit)]
    unit: Option<Unit>,
    /// The order of dates: year-first, day-first or month-first
    #[arg(long, value_name = "ORDER")]
    date_order: Option<DateOrder>,
    /// The decimal mark: point or comma
    #[arg(long, value_name = "MARK")]
    decimal: Option<DecimalMark>,
    /// What parts the cells: comma, semicolon, tab or pipe
    #[arg(long)]
    separator: Option<Separator>,
    /// How characters are written: utf-8, utf-16le, utf-16be or windows-1252
    #[arg(long)]
    encoding: Option<Encoding>,
}

impl TableArgs {
    /// What was said about the table.
    pub(crate) fn plan(&self) -> ImportPlan {
        ImportPlan {
            columns: self.columns.clone(),
            values: self.values.clone(),
            separator: self.separator,
            decimal: self.decimal,
            encoding: self.encoding,
            date_order: self.date_order,
            unit: self.unit,
            take_proposals: self.take_proposals,
            only_named: false,
        }
    }
}

/// A file that is made with the first byte written to it.
pub(crate) struct MadeWhenNeeded {
    path: PathBuf,
    file: Option<BufWriter<File>>,
}

impl MadeWhenNeeded {
    pub(crate) fn new(path: PathBuf) -> MadeWhenNeeded {
        MadeWhenNeeded { path, file: None }
    }

    /// Writes what is left; the path if there is a file.
    pub(crate) fn finish(mut self) -> Result<Option<PathBuf>, Failure> {
        let Some(file) = &mut self.file else { return Ok(None) };
        file.flush().map_err(|error| Failure::cannot_write(&self.path, &error))?;
        Ok(Some(self.path))
    }
}

impl Write for MadeWhenNeeded {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let file = match &mut self.file {
            Some(file) => file,
            None => self.file.insert(BufWriter::new(private::create(&self.path)?)),
        };
        file.write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.file.as_mut().map_or(Ok(()), Write::flush)
    }
}

/// Whether two paths lead to one file.
pub(crate) fn is_same_file(one: &Path, other: &Path) -> bool {
    matches!((one.canonicalize(), other.canonicalize()), (Ok(one), Ok(other)) if one == other)
}

/// A file's size and beginning.
pub(crate) struct Beginning {
    pub(crate) size: u64,
    pub(crate) bytes: Vec<u8>,
}

impl Beginning {
    pub(crate) fn of(path: &Path) -> Result<Beginning, Failure> {
        let read = || -> io::Result<Beginning> {
            let file = File::open(path)?;
            let metadata = file.metadata()?;
            if metadata.is_dir() {
                return Err(io::ErrorKind::IsADirectory.into());
            }
            let mut bytes = Vec::new();
            file.take(1 << 16).read_to_end(&mut bytes)?;
            Ok(Beginning { size: metadata.len(), bytes })
        };
        read().map_err(|error| Failure::cannot_read(path, &error))
    }
}

/// Opens a file to read it.
pub(crate) fn open(path: &Path) -> Result<File, Failure> {
    File::open(path).map_err(|error| Failure::cannot_read(path, &error))
}

/// What reading a table came to, for a coach: who and when, how it was read, what was refused.
pub(crate) fn report_words(paper: &mut Paper, report: &ImportReport, noun: (&str, &str)) {
    let rows: Vec<Vec<String>> = report
        .lifters
        .iter()
        .map(|lifter| {
            let days = match (lifter.first, lifter.last) {
                (Some(first), Some(last)) if first != last => {
                    format!("{} to {}", date(first), date(last))
                }
                (Some(only), _) => date(only),
                (None, _) => String::new(),
            };
            vec![lifter.name.clone(), count(lifter.count, noun.0, noun.1), days]
        })
        .collect();
    paper.table(2, &[Column::Left, Column::Right, Column::Left], &rows);
    how_words(paper, report);
    for warning in &report.warnings {
        paper.item("  worth a look: ", warning);
    }
    unknown_lift_words(paper, report, "give the lift in a lift file and import that first");
    refusal_words(paper, report);
}

fn how_words(paper: &mut Paper, report: &ImportReport) {
    let how = &report.how;
    let unit =
        how.unit.as_ref().map_or(String::new(), |unit| format!(", {unit} where no unit is given"));
    paper.item(
        "  read as: ",
        &format!(
            "{}, cells parted by {}, decimal {}, dates {}{unit}",
            how.encoding, how.separator, how.decimal, how.date_order
        ),
    );
    let renamed: Vec<String> = how
        .columns
        .iter()
        .filter(|(field, header)| field != header)
        .map(|(field, header)| format!("{field} from `{header}`"))
        .chain(
            how.values.iter().map(|(field, value)| format!("{field} is `{value}` on every line")),
        )
        .collect();
    if !renamed.is_empty() {
        paper.item("  columns: ", &renamed.join(", "));
    }
    if !how.ignored.is_empty() {
        paper.item("  not read: ", &how.ignored.join(", "));
    }
}

/// The lifts that the catalogue doesn't know, each with what may be meant.
pub(crate) fn unknown_lift_words(paper: &mut Paper, report: &ImportReport, cure: &str) {
    if report.unknown_lifts.is_empty() {
        return;
    }
    paper.line("  unknown lifts:");
    for lift in &report.unknown_lifts {
        let near = match lift.near.as_slice() {
            [] => "nothing known is like it".to_owned(),
            near => format!("did you mean {}?", near.join(", or ")),
        };
        paper.item(
            "    ",
            &format!(
                "`{}` ({}, first on line {}): {near}",
                lift.name,
                count(lift.lines, "line", "lines"),
                lift.first_line
            ),
        );
    }
    paper.item("    ", &format!("Correct the name, or {cure} (docs/catalogue.md)."));
}

fn refusal_words(paper: &mut Paper, report: &ImportReport) {
    if report.refused == 0 {
        return;
    }
    let by: Vec<_> =
        report.refused_by.iter().map(|(class, n)| format!("{} {n}", class.label())).collect();
    let refused = count(report.refused, "line", "lines");
    paper.item("  ", &format!("{refused} refused ({}):", by.join(", ")));
    for refusal in &report.first_refusals {
        paper.item("    ", &format!("line {}: {}", refusal.line, refusal.reason));
    }
    let shown = report.first_refusals.len() as u64;
    if report.refused > shown {
        paper.line(&format!("    … and {}", count(report.refused - shown, "more", "more")));
    }
}
