//! What a file is, from its first bytes: a log, check-ins, lifts, an export, or another table.

use super::columns::{Columns, Field, TableKind};
use super::sniff;

/// What a file seems to be.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum FileKind {
    /// A log of sets in our own format.
    Log,
    /// Check-ins in our own format.
    CheckIns,
    /// A lift file (TOML with `[[lift]]`).
    LiftFile,
    /// An export of a record (JSON Lines).
    Export,
    /// A table whose columns have to be named.
    OtherTable,
    /// Nothing at all.
    Empty,
    /// No text table; what it looks like instead.
    NotATable(String),
}

/// Says what a file is from its beginning; 64 KiB are plenty.
#[must_use]
pub fn recognise(beginning: &[u8]) -> FileKind {
    if beginning.is_empty() {
        return FileKind::Empty;
    }
    let encoding = match sniff::encoding_of(beginning) {
        Ok(encoding) => encoding,
        Err(found) => return FileKind::NotATable(found),
    };
    let text = sniff::decoded(beginning, encoding);
    let Some(first) = text.lines().map(str::trim).find(|line| !line.is_empty()) else {
        return FileKind::Empty;
    };
    if first.starts_with('{') {
        return FileKind::Export;
    }
    if is_lift_file(&text) {
        return FileKind::LiftFile;
    }
    kind_of_table(&text)
}

fn is_lift_file(text: &str) -> bool {
    text.lines().map(str::trim).any(|line| {
        line.starts_with("[[") && line.trim_matches(['[', ']', ' ']).starts_with("lift")
    })
}

fn kind_of_table(text: &str) -> FileKind {
    let separator = sniff::separator_of(text);
    let Some(headers) = sniff::headers_of(text, separator) else { return FileKind::Empty };
    let has_all = |table: TableKind| {
        Columns::find(table, headers.clone(), &[], &[], true)
            .is_ok_and(|columns| columns.missing(table).is_empty() && columns.own_format)
    };
    let items = [Field::SleepH, Field::Stress, Field::Soreness, Field::BodyMass, Field::Pain];
    let has_item = Columns::find(TableKind::CheckIns, headers.clone(), &[], &[], true)
        .is_ok_and(|columns| items.iter().any(|item| columns.has(*item)));
    if has_all(TableKind::Log) {
        FileKind::Log
    } else if has_all(TableKind::CheckIns) && has_item {
        FileKind::CheckIns
    } else {
        FileKind::OtherTable
    }
}
