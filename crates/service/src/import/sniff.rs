//! How a table is written, from a sample of it: encoding, separator, decimal mark.
//!
//! Whatever the sample doesn't decide is asked for. Decoding itself is `encoding_rs`, splitting is
//! `csv`; the windows-1252 rule is the WHATWG encoding standard's.

use std::borrow::Cow;

use domain::Refused;
use domain::bounds::shortened;

use super::error::Question;
use crate::import::cell_text::unguarded;

/// How much of a file is looked at before it is read.
pub(super) const SAMPLE_BYTES: usize = 1 << 20;

/// How the characters of a file are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Encoding {
    /// UTF-8, with or without a byte order mark.
    Utf8,
    /// UTF-16, low byte first.
    Utf16Le,
    /// UTF-16, high byte first.
    Utf16Be,
    /// Windows code page 1252 (Western European); ISO 8859-1 is read as this too.
    Windows1252,
}

/// What stands between two cells.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Separator {
    /// `,`
    Comma,
    /// `;`
    Semicolon,
    /// A tab.
    Tab,
    /// `|`
    Pipe,
}

/// What stands before the decimals of a number.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DecimalMark {
    /// `102.5`
    Point,
    /// `102,5`
    Comma,
}

macro_rules! words {
    ($type:ident, $what:literal, [$($variant:ident = $word:literal $(| $also:literal)*),* $(,)?]) => {
        impl $type {
            /// All of them.
            pub const ALL: &'static [$type] = &[$($type::$variant,)*];

            /// The word for it, as options and reports write it.
            #[must_use]
            pub fn as_str(self) -> &'static str {
                match self { $($type::$variant => $word,)* }
            }
        }

        impl std::str::FromStr for $type {
            type Err = Refused;

            fn from_str(text: &str) -> Result<$type, Refused> {
                let wanted = domain::bounds::folded(text);
                $(
                    if [$word, $($also),*].iter().any(|word| *word == text || (domain::bounds::folded(word) == wanted && !wanted.is_empty())) {
                        return Ok($type::$variant);
                    }
                )*
                let known: Vec<_> = $type::ALL.iter().map(|one| format!("`{}`", one.as_str())).collect();
                Err(Refused::UnknownWord { what: $what, got: shortened(text), known: known.join(", ") })
            }
        }
    };
}
pub(super) use words;

words!(
    Encoding,
    "encoding",
    [
        Utf8 = "utf-8",
        Utf16Le = "utf-16le",
        Utf16Be = "utf-16be",
        Windows1252 = "windows-1252" | "latin1" | "iso-8859-1" | "cp1252",
    ]
);
words!(
    Separator,
    "separator",
    [
        Comma = "comma" | ",",
        Semicolon = "semicolon" | ";",
        Tab = "tab" | "\t" | "\\t",
        Pipe = "pipe" | "|",
    ]
);
words!(DecimalMark, "decimal mark", [Point = "point" | ".", Comma = "comma" | ","]);

impl Separator {
    /// The character itself.
    #[must_use]
    pub fn byte(self) -> u8 {
        match self {
            Separator::Comma => b',',
            Separator::Semicolon => b';',
            Separator::Tab => b'\t',
            Separator::Pipe => b'|',
        }
    }
}

/// The encoding of a file that begins so; or what the file looks like if it is no text.
pub(super) fn encoding_of(beginning: &[u8]) -> Result<Encoding, String> {
    if let Some((encoding, _)) = encoding_rs::Encoding::for_bom(beginning) {
        return Ok(match encoding.name() {
            "UTF-16LE" => Encoding::Utf16Le,
            "UTF-16BE" => Encoding::Utf16Be,
            _ => Encoding::Utf8,
        });
    }
    if let Some(found) = known_binary(beginning) {
        return Err(found.to_owned());
    }
    if beginning.contains(&0) {
        return Err("it holds NUL bytes, as binary files do, or UTF-16 without a byte order mark \
                    (then say `--encoding utf-16le` or `utf-16be`)"
            .to_owned());
    }
    let odd =
        beginning.iter().filter(|b| b.is_ascii_control() && !b"\t\r\n\x0c".contains(b)).count();
    if odd * 100 > beginning.len() {
        return Err("it holds control characters, as binary files do".to_owned());
    }
    match std::str::from_utf8(beginning) {
        Ok(_) => return Ok(Encoding::Utf8),
        Err(error) if error.error_len().is_none() => return Ok(Encoding::Utf8), // cut by the sample
        Err(_) => {}
    }
    plausible_windows_1252(beginning)
}

/// Western text is mostly ASCII, and five bytes have no character in windows-1252.
fn plausible_windows_1252(beginning: &[u8]) -> Result<Encoding, String> {
    let high = beginning.iter().filter(|b| !b.is_ascii()).count();
    let unused = beginning.iter().filter(|b| matches!(b, 0x81 | 0x8d | 0x8f | 0x90 | 0x9d)).count();
    if unused > 0 || high * 10 > beginning.len() * 3 {
        return Err("its bytes are neither UTF-8 nor Western European text (windows-1252); if it \
                    is text in another encoding, save it as UTF-8"
            .to_owned());
    }
    Ok(Encoding::Windows1252)
}

fn known_binary(beginning: &[u8]) -> Option<&'static str> {
    let kinds: [(&[u8], &str); 6] = [
        (b"PK\x03\x04", "it is a workbook or a zip archive"),
        (b"\xd0\xcf\x11\xe0", "it is an old-style workbook or document"),
        (b"SQLite format 3\0", "it is a database"),
        (b"%PDF", "it is a PDF document"),
        (b"\x1f\x8b", "it is compressed (gzip)"),
        (b"\x89PNG", "it is a picture"),
    ];
    kinds.iter().find(|(magic, _)| beginning.starts_with(magic)).map(|(_, found)| *found)
}

/// The sample as text; what can't be decoded is replaced.
pub(super) fn decoded(sample: &[u8], encoding: Encoding) -> Cow<'_, str> {
    encoding.codec().decode(sample).0
}

impl Encoding {
    pub(super) fn codec(self) -> &'static encoding_rs::Encoding {
        match self {
            Encoding::Utf8 => encoding_rs::UTF_8,
            Encoding::Utf16Le => encoding_rs::UTF_16LE,
            Encoding::Utf16Be => encoding_rs::UTF_16BE,
            Encoding::Windows1252 => encoding_rs::WINDOWS_1252,
        }
    }
}

/// The separator that splits the header, and the lines after it into as many cells.
pub(super) fn separator_of(text: &str) -> Separator {
    let judged = |separator: &Separator| {
        let records = records_of(text, *separator, 50);
        let width = records.first().map_or(0, csv::StringRecord::len);
        let alike = records.iter().filter(|record| record.len() == width).count();
        if width < 2 { (0, 0) } else { (alike * 100 / records.len(), width) }
    };
    // `max_by_key` takes the last of equals, so the usual separators come last.
    [Separator::Pipe, Separator::Tab, Separator::Semicolon, Separator::Comma]
        .into_iter()
        .max_by_key(judged)
        .unwrap_or(Separator::Comma)
}

/// The headers of a table, trimmed; `None` if there is no line.
pub(super) fn headers_of(text: &str, separator: Separator) -> Option<Vec<String>> {
    let records = records_of(text, separator, 1);
    records.first().map(|first| first.iter().map(|cell| cell.trim().to_owned()).collect())
}

/// The first records of a text.
pub(super) fn records_of(text: &str, separator: Separator, n: usize) -> Vec<csv::StringRecord> {
    csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .delimiter(separator.byte())
        .from_reader(text.as_bytes())
        .into_records()
        .map_while(Result::ok)
        .filter(|record| record.iter().any(|cell| !cell.trim().is_empty()))
        .take(n)
        .map(|record| as_said(&record))
        .collect()
}

/// What the cells of a record say, at the place where it stands.
fn as_said(record: &csv::StringRecord) -> csv::StringRecord {
    let mut said: csv::StringRecord = record.iter().map(|cell| unguarded(cell.trim())).collect();
    said.set_position(record.position().cloned());
    said
}

/// The decimal mark that a sample of numbers was written with, or what must be asked; with no
/// number that tells, the point.
pub(super) fn decimal_of<'a>(
    numbers: impl Iterator<Item = (u64, &'a str)>,
) -> Result<DecimalMark, Question> {
    let (mut point, mut comma, mut open) = (false, None, None);
    for (line, text) in numbers {
        let number = text.trim().trim_start_matches(['-', '+', '\u{2212}']);
        let number = number.trim_end_matches(|c: char| c.is_alphabetic() || c == ' ');
        let digits = |part: &str| !part.is_empty() && part.bytes().all(|b| b.is_ascii_digit());
        if let Some((whole, decimals)) = number.split_once(',') {
            if !digits(whole) || !digits(decimals) {
                continue; // both marks or several: such a line is judged when it is read
            }
            let could_be_thousands = decimals.len() == 3 && (1..=3).contains(&whole.len());
            let first = if could_be_thousands { &mut open } else { &mut comma };
            first.get_or_insert((line, number, whole, decimals));
        } else if number.split_once('.').is_some_and(|(whole, rest)| digits(whole) && digits(rest))
        {
            point = true;
        }
    }
    match (point, comma.or(open)) {
        (_, None) => Ok(DecimalMark::Point),
        (false, Some(_)) if comma.is_some() => Ok(DecimalMark::Comma),
        (_, Some((line, example, whole, decimals))) => Err(Question::Decimal {
            example: example.to_owned(),
            line,
            as_decimal: format!("{whole}.{decimals}"),
            as_thousands: format!("{whole}{decimals}"),
        }),
    }
}
