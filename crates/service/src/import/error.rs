//! Why an import did not start or was given up. A single bad line is no error: it is refused and
//! the import goes on.

use domain::{CatalogueError, Refused};
use jiff::civil::Date;
use store::StoreError;

use super::columns::{Field, TableKind};

/// Why a table could not be read at all. Nothing of it has been kept.
#[derive(Debug, thiserror::Error)]
pub enum ImportError {
    /// There is nothing in the file.
    #[error("the file is empty: a log starts with a header line such as `{}`", TableKind::Log.header())]
    Empty,
    /// The file is no text, or no table.
    #[error("this doesn't look like a text table: {found}; save it as CSV and import that")]
    NotATable {
        /// What was noticed.
        found: String,
    },
    /// Columns that are needed are not named.
    #[error("{}", missing_columns(.missing, .headers))]
    MissingColumns {
        /// The fields without a column, with what may be meant.
        missing: Vec<MissingColumn>,
        /// The table's headers.
        headers: Vec<String>,
    },
    /// A column was named that the table lacks.
    #[error("there is no column `{header}` for `{}`: {}", field.key(), known_headers(.near, .headers))]
    NoSuchColumn {
        /// The field that was to be read.
        field: Field,
        /// The header that was given.
        header: String,
        /// Headers that look like it.
        near: Vec<String>,
        /// The table's headers.
        headers: Vec<String>,
    },
    /// Two columns have the header that is needed.
    #[error("the header `{header}` stands over two columns: give one of them another name")]
    SameHeaderTwice {
        /// The header.
        header: String,
    },
    /// A field was given a column and a value, or two of either.
    #[error(
        "`{}` has {first} and {second}: keep one of the two", field.key()
    )]
    TwoSources {
        /// The field.
        field: Field,
        /// The first source, in words.
        first: String,
        /// The second source, in words.
        second: String,
    },
    /// A field that this kind of table doesn't have.
    #[error("`{}` is no field of a {}: use one of {}", field.key(), table.label(), table.field_list())]
    WrongField {
        /// The field.
        field: Field,
        /// The kind of table.
        table: TableKind,
    },
    /// `--column` or `--value` was not written as `field=text`.
    #[error("`{got}` can't be read: write it as `{example}`")]
    BadChoice {
        /// What was written.
        got: String,
        /// What it should look like.
        example: &'static str,
    },
    /// A word for a separator, encoding, decimal mark, date order or field is not known.
    #[error(transparent)]
    Refused(#[from] Refused),
    /// A value given for all lines is no value of its field.
    #[error("the value `{value}` given for `{}` can't be used: {reason}", field.key())]
    BadValue {
        /// The field.
        field: Field,
        /// The value.
        value: String,
        /// Why, and what would do.
        reason: String,
    },
    /// Something can be read in two ways.
    #[error("{}", asked(.0))]
    Asked(Vec<Question>),
    /// The file could not be read to its end.
    #[error("can't read the file after {bytes} bytes: {reason}")]
    Read {
        /// How much had been read.
        bytes: u64,
        /// What the system said.
        reason: std::io::Error,
    },
    /// The rejects could not be written.
    #[error("can't write the refused lines: {0}; name another place for the rejects")]
    Rejects(std::io::Error),
    /// The store has trouble.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// A lift file was refused.
    #[error("the lift file was not taken: {0}")]
    LiftFile(#[from] CatalogueError),
}

/// A field without a column.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MissingColumn {
    /// The field.
    pub field: Field,
    /// The headers that may be meant, likeliest first.
    pub near: Vec<String>,
}

/// Something that the file leaves open and that only a person can say.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Question {
    /// Days and months can't be told apart.
    #[error(
        "the date `{example}` (line {line}) can mean {day_first} or {month_first}: say which with \
         `--date-order day-first` or `--date-order month-first`"
    )]
    DateOrder {
        /// A date of the table.
        example: String,
        /// The line where it stands.
        line: u64,
        /// What it means with the day first.
        day_first: Date,
        /// What it means with the month first.
        month_first: Date,
    },
    /// Some dates can only be read with the day first and others only with the month first.
    #[error(
        "the dates disagree: `{day_first}` (line {day_first_line}) has the day first, \
         `{month_first}` (line {month_first_line}) the month: say with `--date-order day-first` or \
         `--date-order month-first` which is right; the other lines go to the rejects"
    )]
    DatesDisagree {
        /// A date with the day first.
        day_first: String,
        /// Its line.
        day_first_line: u64,
        /// A date with the month first.
        month_first: String,
        /// Its line.
        month_first_line: u64,
    },
    /// The comma may be a decimal mark or part the thousands.
    #[error(
        "the number `{example}` (line {line}) can mean {as_decimal} or {as_thousands}: say which \
         with `--decimal comma` or `--decimal point`"
    )]
    Decimal {
        /// A number of the table.
        example: String,
        /// The line where it stands.
        line: u64,
        /// What it means with a decimal comma.
        as_decimal: String,
        /// What it means with a decimal point.
        as_thousands: String,
    },
    /// Nothing says whether loads are kilograms or pounds.
    #[error(
        "nothing says whether `{header}` is in kilograms or pounds: say so with `--unit kg` or \
         `--unit lb`, or name a unit column with `--column unit=…`"
    )]
    Unit {
        /// The header of the loads.
        header: String,
    },
}

fn asked(questions: &[Question]) -> String {
    questions.iter().map(Question::to_string).collect::<Vec<_>>().join("\n")
}

fn missing_columns(missing: &[MissingColumn], headers: &[String]) -> String {
    let mut lines = vec![format!(
        "no column is named for {}; the table has {}",
        quoted(missing.iter().map(|m| m.field.key())),
        quoted(headers.iter().map(String::as_str)),
    )];
    for MissingColumn { field, near } in missing {
        let key = field.key();
        lines.push(match near.first() {
            Some(header) => format!("for `{key}` perhaps: --column {key}=\"{header}\""),
            None => format!("for `{key}`: --column {key}=\"HEADER\" or --value {key}=\"VALUE\""),
        });
    }
    lines.join("\n")
}

fn known_headers(near: &[String], headers: &[String]) -> String {
    if near.is_empty() {
        return format!("the table has {}", quoted(headers.iter().map(String::as_str)));
    }
    format!("did you mean {}", quoted(near.iter().map(String::as_str)))
}

/// The words in backticks, joined by commas.
pub(super) fn quoted<'a>(words: impl Iterator<Item = &'a str>) -> String {
    words.map(|word| format!("`{word}`")).collect::<Vec<_>>().join(", ")
}
