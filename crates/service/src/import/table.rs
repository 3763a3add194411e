//! Records of a table from bytes, in bounded memory, with the line of the file where each starts.
//!
//! Splitting is `csv-core`'s (RFC 4180 with any separator). Around it: a record is at most
//! [`MAX_RECORD_BYTES`] long and spans at most [`MAX_RECORD_LINES`] lines, so that a quote which is
//! never closed costs one line and not the rest of the file: that line is given up and reading
//! starts again on the next.

use std::cell::Cell;
use std::io::{self, Read};
use std::rc::Rc;

use csv_core::ReadRecordResult;
use encoding_rs_io::DecodeReaderBytesBuilder;

use super::sniff::{Encoding, Separator};
use crate::import::cell_text::unguarded;

/// The longest record, in bytes.
pub(super) const MAX_RECORD_BYTES: usize = 1 << 20;
/// The most lines over which a quoted cell may run.
pub(super) const MAX_RECORD_LINES: u64 = 100;
/// How much is read at once.
const CHUNK: usize = 1 << 16;
/// How much room for cells there is at least, in bytes and in cells.
const CELL_SPACE: usize = 64;
/// How much of a line that was given up is kept to show it.
const KEPT: usize = 1_000;

/// A table that is read record by record.
pub(super) struct Table<'a> {
    reader: Box<dyn Read + 'a>,
    bytes: Rc<Cell<u64>>,
    encoding: Encoding,
    splitter: csv_core::Reader,
    separator: Separator,
    buffer: Vec<u8>,
    start: usize,
    end: usize,
    at_end: bool,
    line: u64,
    line_break: Option<u8>,
    seen_non_ascii: bool,
    record: Record,
}

/// One record: its cells, and its text as it stands in the file.
#[derive(Debug, Default)]
pub(super) struct Record {
    /// The line of the file where it starts, from 1.
    pub(super) line: u64,
    /// Its text without the line break at its end.
    pub(super) raw: String,
    cells: String,
    n_cells: usize,
    n_bytes: usize,
    // The cells before decoding, and where each ends; longer than what is in use.
    cell_bytes: Vec<u8>,
    ends: Vec<usize>,
}

/// What comes next in a table.
pub(super) enum Next<'t> {
    /// A record.
    Record(&'t Record),
    /// A line that is no record, and why; its text, perhaps shortened, is in the record.
    GivenUp(&'t Record, String),
    /// The end.
    End,
}

impl Record {
    /// What a cell says, trimmed and without the apostrophe that keeps spreadsheets from running it;
    /// empty if the record is shorter.
    pub(super) fn cell(&self, idx: usize) -> &str {
        unguarded(self.as_written(idx).trim()).trim()
    }

    /// A cell as it was written, between its quotes if it had any.
    pub(super) fn as_written(&self, idx: usize) -> &str {
        let Some(&end) = self.ends[..self.n_cells].get(idx) else { return "" };
        let start = idx.checked_sub(1).map_or(0, |before| self.ends[before]);
        self.cells.get(start..end).unwrap_or("")
    }

    /// How many cells there are.
    pub(super) fn len(&self) -> usize {
        self.n_cells
    }

    /// Whether no cell holds anything.
    pub(super) fn is_blank(&self) -> bool {
        self.cells.chars().all(char::is_whitespace)
    }
}

/// Counts what passes.
struct Counted<R> {
    inner: R,
    bytes: Rc<Cell<u64>>,
}

impl<R: Read> Read for Counted<R> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let n = self.inner.read(into)?;
        self.bytes.set(self.bytes.get() + n as u64);
        Ok(n)
    }
}

impl<'a> Table<'a> {
    /// A table of this encoding and separator; a byte order mark is skipped.
    pub(super) fn new(
        reader: impl Read + 'a,
        encoding: Encoding,
        separator: Separator,
    ) -> Table<'a> {
        let bytes = Rc::new(Cell::new(0));
        let counted = Counted { inner: reader, bytes: Rc::clone(&bytes) };
        let reader: Box<dyn Read + 'a> = match encoding {
            // These two are split as they are and decoded record by record.
            Encoding::Utf8 | Encoding::Windows1252 => Box::new(counted),
            Encoding::Utf16Le | Encoding::Utf16Be => Box::new(
                DecodeReaderBytesBuilder::new().encoding(Some(encoding.codec())).build(counted),
            ),
        };
        Table {
            reader,
            bytes,
            encoding,
            splitter: csv_core::ReaderBuilder::new().delimiter(separator.byte()).build(),
            separator,
            buffer: Vec::new(),
            start: 0,
            end: 0,
            at_end: false,
            line: 1,
            line_break: None,
            seen_non_ascii: false,
            record: Record::default(),
        }
    }

    /// Bytes of the file read so far.
    pub(super) fn bytes(&self) -> u64 {
        self.bytes.get()
    }

    /// The encoding; UTF-8 turns into windows-1252 at the first byte that can only be that.
    pub(super) fn encoding(&self) -> Encoding {
        self.encoding
    }

    /// The next record that isn't blank, or the next line that had to be given up.
    pub(super) fn next(&mut self) -> io::Result<Next<'_>> {
        loop {
            if !self.skip_line_breaks()? {
                return Ok(Next::End);
            }
            self.record.line = self.line;
            let given_up = match self.split()? {
                Split::Record(n) => self.finish(n),
                Split::TooLong => Some(self.give_up()?),
            };
            if let Some(reason) = given_up {
                return Ok(Next::GivenUp(&self.record, reason));
            }
            if !self.record.is_blank() {
                return Ok(Next::Record(&self.record));
            }
        }
    }

    /// Moves to the next byte that isn't a line break; `false` at the end.
    fn skip_line_breaks(&mut self) -> io::Result<bool> {
        loop {
            while self.start < self.end {
                let byte = self.buffer[self.start];
                if !matches!(byte, b'\r' | b'\n') {
                    return Ok(true);
                }
                self.line += u64::from(Some(byte) == self.line_break);
                self.start += 1;
            }
            if self.at_end || !self.fill()? {
                return Ok(false);
            }
        }
    }

    /// Splits the record at the start of the buffer; reads on as far as it goes.
    fn split(&mut self) -> io::Result<Split> {
        let (mut at, mut written, mut n_ends) = (0, 0, 0);
        self.splitter.reset();
        loop {
            let record = &mut self.record;
            let input = &self.buffer[self.start + at..self.end];
            record.cell_bytes.resize(record.cell_bytes.len().max(written + CELL_SPACE), 0);
            record.ends.resize(record.ends.len().max(n_ends + CELL_SPACE), 0);
            let (result, n_in, n_out, n_end) = self.splitter.read_record(
                input,
                &mut record.cell_bytes[written..],
                &mut record.ends[n_ends..],
            );
            at += n_in;
            written += n_out;
            n_ends += n_end;
            match result {
                ReadRecordResult::OutputFull | ReadRecordResult::OutputEndsFull => {}
                ReadRecordResult::End => return Ok(Split::TooLong),
                ReadRecordResult::Record | ReadRecordResult::InputEmpty if self.is_too_long(at) => {
                    return Ok(Split::TooLong);
                }
                ReadRecordResult::Record => {
                    self.record.keep(written, n_ends);
                    return Ok(Split::Record(at));
                }
                ReadRecordResult::InputEmpty if self.fill()? => {}
                ReadRecordResult::InputEmpty => return Ok(self.close(at, written, n_ends)),
            }
        }
    }

    /// Whether `n` bytes from the start of the buffer are more than a record can be.
    fn is_too_long(&self, n: usize) -> bool {
        n > MAX_RECORD_BYTES || self.lines_in(n) > MAX_RECORD_LINES
    }

    /// Ends the last record of a file that doesn't end with a line break. A line break inside an
    /// open quote doesn't end a record: that tells one.
    fn close(&mut self, at: usize, mut written: usize, mut n_ends: usize) -> Split {
        let record = &mut self.record;
        loop {
            record.cell_bytes.resize(written + CELL_SPACE, 0);
            record.ends.resize(n_ends + CELL_SPACE, 0);
            let (result, _, n_out, n_end) = self.splitter.read_record(
                b"\n",
                &mut record.cell_bytes[written..],
                &mut record.ends[n_ends..],
            );
            written += n_out;
            n_ends += n_end;
            match result {
                ReadRecordResult::Record => break,
                ReadRecordResult::InputEmpty | ReadRecordResult::End => return Split::TooLong,
                ReadRecordResult::OutputFull | ReadRecordResult::OutputEndsFull => {}
            }
        }
        record.keep(written, n_ends);
        Split::Record(at)
    }

    /// How many lines end within the next `n` bytes.
    fn lines_in(&self, n: usize) -> u64 {
        let line_break = self.line_break.unwrap_or(b'\n');
        let bytes = &self.buffer[self.start..self.start + n];
        memchr::memchr_iter(line_break, bytes).count() as u64
    }

    /// Decodes the record of the next `n` bytes and moves behind it; or says why it can't.
    fn finish(&mut self, n: usize) -> Option<String> {
        let lines = self.lines_in(n);
        let bytes = &self.buffer[self.start..self.start + n];
        let raw = without_line_break(bytes);
        let mut refused = None;
        if self.encoding != Encoding::Windows1252 && std::str::from_utf8(raw).is_err() {
            if self.seen_non_ascii {
                refused = Some(
                    "this line is not valid UTF-8, as the lines before it are: save the file in \
                     one encoding"
                        .to_owned(),
                );
            } else {
                self.encoding = Encoding::Windows1252;
            }
        }
        self.seen_non_ascii |= !raw.is_ascii();
        self.record.take(raw, self.encoding);
        self.start += n;
        self.line += lines;
        refused
    }

    /// Gives up the line at the start of the buffer and moves to the next line; says why.
    fn give_up(&mut self) -> io::Result<String> {
        let held = &self.buffer[self.start..self.end];
        let within = memchr::memchr2(b'\n', b'\r', held);
        let shown = &held[..within.unwrap_or(held.len()).min(KEPT)];
        let mut text = self.encoding.codec().decode_without_bom_handling(shown).0.into_owned();
        let reason = match within {
            Some(at) if at <= MAX_RECORD_BYTES => format!(
                "a quote `\"` opened on this line is not closed within {MAX_RECORD_LINES} lines: \
                 close it, or double it if it belongs to the text"
            ),
            _ => format!(
                "the line is longer than {} MiB, which is no set; its beginning is kept here",
                MAX_RECORD_BYTES >> 20
            ),
        };
        if within.is_none_or(|at| at > KEPT) {
            text.push('…');
        }
        self.record.show(text);
        match within {
            Some(at) => self.start += at,
            None => self.skip_to_line_break()?,
        }
        Ok(reason)
    }

    /// Drops bytes up to the next line break without keeping them.
    fn skip_to_line_break(&mut self) -> io::Result<()> {
        loop {
            self.start = self.end;
            if !self.fill()? {
                return Ok(());
            }
            if let Some(at) = memchr::memchr2(b'\n', b'\r', &self.buffer[self.start..self.end]) {
                self.start += at;
                return Ok(());
            }
        }
    }

    /// Reads on; `false` at the end of the file.
    fn fill(&mut self) -> io::Result<bool> {
        if self.at_end {
            return Ok(false);
        }
        self.buffer.copy_within(self.start..self.end, 0);
        self.end -= self.start;
        self.start = 0;
        if self.buffer.len() < self.end + CHUNK {
            self.buffer.resize(self.end + CHUNK, 0);
        }
        let first = self.line_break.is_none();
        loop {
            match self.reader.read(&mut self.buffer[self.end..]) {
                Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
                Err(error) => return Err(error),
                Ok(0) => {
                    self.at_end = true;
                    return Ok(false);
                }
                Ok(n) => {
                    self.end += n;
                    break;
                }
            }
        }
        if first {
            self.begin();
        }
        Ok(true)
    }

    /// Looks at the first bytes: skips a byte order mark, and sees how lines end.
    fn begin(&mut self) {
        let held = &self.buffer[..self.end];
        if held.starts_with(b"\xef\xbb\xbf") {
            self.start = 3;
        }
        let ends = |byte: u8| memchr::memchr(byte, held).is_some();
        self.line_break = Some(if ends(b'\r') && !ends(b'\n') { b'\r' } else { b'\n' });
    }

    /// The separator.
    pub(super) fn separator(&self) -> Separator {
        self.separator
    }
}

/// What splitting came to.
enum Split {
    /// A record of that many bytes.
    Record(usize),
    /// No record within the limits.
    TooLong,
}

impl Record {
    /// Keeps the first bytes and ends that splitting wrote.
    fn keep(&mut self, n_bytes: usize, n_cells: usize) {
        self.n_bytes = n_bytes;
        self.n_cells = n_cells;
    }

    /// Takes the record's text and decodes its cells.
    fn take(&mut self, raw: &[u8], encoding: Encoding) {
        self.raw.clear();
        self.cells.clear();
        let as_it_is = encoding != Encoding::Windows1252 || raw.is_ascii();
        match (std::str::from_utf8(raw), std::str::from_utf8(&self.cell_bytes[..self.n_bytes])) {
            (Ok(text), Ok(cells)) if as_it_is => {
                self.raw.push_str(text);
                self.cells.push_str(cells);
            }
            _ => self.decode(raw, encoding),
        }
    }

    fn decode(&mut self, raw: &[u8], encoding: Encoding) {
        let codec = encoding.codec();
        self.raw.push_str(&codec.decode_without_bom_handling(raw).0);
        let mut start = 0;
        for end in &mut self.ends[..self.n_cells] {
            let cell = &self.cell_bytes[start..*end];
            start = *end;
            self.cells.push_str(&codec.decode_without_bom_handling(cell).0);
            *end = self.cells.len();
        }
    }

    /// Holds a text without cells.
    fn show(&mut self, text: String) {
        self.raw = text;
        self.cells.clear();
        self.keep(0, 0);
    }
}

/// The bytes without line breaks at their end.
fn without_line_break(bytes: &[u8]) -> &[u8] {
    let n = bytes.iter().rev().take_while(|byte| matches!(byte, b'\r' | b'\n')).count();
    &bytes[..bytes.len() - n]
}
