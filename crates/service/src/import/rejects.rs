//! The refused lines, as a table that can be mended and imported again.
//!
//! Each line of it is the original text, verbatim, with the line number, the reason and (where sets
//! were counted here) the set number in front, under the original headers. A line that doesn't split
//! as the header does goes whole into one quoted cell, so that the table stays well formed. A cell that a
//! spreadsheet would run as a formula gets an apostrophe in front, which an import takes off again.

use std::io::{self, Write};

use super::sniff::Separator;
use super::table::Record;
use crate::import::cell_text::{guarded, would_run};

/// Writes refused lines; writes nothing at all until there is one.
pub(super) struct Rejects<'a> {
    into: &'a mut dyn Write,
    separator: u8,
    headers: Vec<String>,
    with_set_numbers: bool,
    begun: bool,
}

impl<'a> Rejects<'a> {
    /// Rejects of a table with these headers. `with_set_numbers` adds a `set` column, for tables
    /// that have none.
    pub(super) fn new(
        into: &'a mut dyn Write,
        separator: Separator,
        headers: Vec<String>,
        with_set_numbers: bool,
    ) -> Rejects<'a> {
        Rejects { into, separator: separator.byte(), headers, with_set_numbers, begun: false }
    }

    /// Writes one refused line.
    pub(super) fn put(
        &mut self,
        record: &Record,
        reason: &str,
        set_number: Option<u8>,
    ) -> io::Result<()> {
        let separator = char::from(self.separator);
        let mut line = String::new();
        if !self.begun {
            self.begun = true;
            self.push_header(&mut line);
        }
        line.push_str(&record.line.to_string());
        line.push(separator);
        self.push_text(&mut line, reason);
        if self.with_set_numbers {
            line.push(separator);
            line.push_str(&set_number.map_or_else(String::new, |number| number.to_string()));
        }
        line.push(separator);
        let n_cells = match record.len() {
            0 => 1,
            n if n > self.headers.len() => 1,
            n => n,
        };
        if n_cells != record.len() {
            self.push_text(&mut line, &record.raw);
        } else if (0..n_cells).any(|idx| would_run(record.as_written(idx))) {
            self.push_cells(&mut line, record);
        } else {
            line.push_str(&record.raw);
        }
        line.extend(std::iter::repeat_n(separator, self.headers.len() - n_cells));
        line.push('\n');
        self.into.write_all(line.as_bytes())
    }

    fn push_header(&self, line: &mut String) {
        line.push_str("line");
        let set = self.with_set_numbers.then_some("set");
        let headers = self.headers.iter().map(String::as_str);
        for header in ["reason"].into_iter().chain(set).chain(headers) {
            line.push(char::from(self.separator));
            self.push_text(line, header);
        }
        line.push('\n');
    }

    /// Writes the cells of a line of which a spreadsheet would run one.
    fn push_cells(&self, line: &mut String, record: &Record) {
        for idx in 0..record.len() {
            if idx > 0 {
                line.push(char::from(self.separator));
            }
            let cell = record.as_written(idx);
            if would_run(cell) { self.push_text(line, cell) } else { self.push_quoted(line, cell) }
        }
    }

    /// Writes text that is no number.
    fn push_text(&self, line: &mut String, text: &str) {
        self.push_quoted(line, &guarded(text));
    }

    /// Writes a cell, in quotes where it needs them (RFC 4180).
    fn push_quoted(&self, line: &mut String, cell: &str) {
        let needs = |c: char| c == char::from(self.separator) || matches!(c, '"' | '\n' | '\r');
        if !cell.contains(needs) {
            line.push_str(cell);
            return;
        }
        line.push('"');
        line.push_str(&cell.replace('"', "\"\""));
        line.push('"');
    }
}
