//! How a table is to be read: what a person said, what the table itself says, and what is left to
//! ask. Nothing is imported here.

use std::io::{self, Read};

use domain::{Catalogue, LiftName, Unit};
use serde::Serialize;

use super::columns::{ColumnChoice, Columns, ConstantValue, Field, TableKind};
use super::dates::{self, DateOrder};
use super::error::{ImportError, MissingColumn, Question};
use super::numbers;
use super::recognise::{FileKind, recognise};
use super::sniff::{self, DecimalMark, Encoding, SAMPLE_BYTES, Separator};
use super::table::Table;

/// What a person said about a table; whatever is left out is read from the table or asked for.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct ImportPlan {
    /// Columns that hold a field under another header.
    pub columns: Vec<ColumnChoice>,
    /// Values for fields that the table lacks.
    pub values: Vec<ConstantValue>,
    /// What stands between two cells.
    pub separator: Option<Separator>,
    /// What stands before decimals.
    pub decimal: Option<DecimalMark>,
    /// How characters are written.
    pub encoding: Option<Encoding>,
    /// Whether day or month comes first.
    pub date_order: Option<DateOrder>,
    /// The unit of loads (or body mass) on lines that name none.
    pub unit: Option<Unit>,
    /// Whether the proposals that [`look`] makes for unnamed columns are taken.
    pub take_proposals: bool,
    /// Whether only the columns in [`ImportPlan::columns`] are read: none under our own names unasked,
    /// and none is proposed.
    pub only_named: bool,
}

/// A column that may hold a field which nobody named.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Proposal {
    /// The field's name.
    pub field: String,
    /// The header of the column.
    pub header: String,
    /// Why, in words.
    pub reason: String,
    /// The option that says so: `--column lift="Exercise"`.
    pub option: String,
}

/// What a table looks like before it is imported.
#[derive(Clone, Debug)]
pub struct Look {
    /// What the file seems to be.
    pub kind: FileKind,
    /// How it would be read if the proposals are taken.
    pub how: HowRead,
    /// The table's headers.
    pub headers: Vec<String>,
    /// Columns proposed for fields that nobody named.
    pub proposals: Vec<Proposal>,
    /// Fields that are needed and for which nothing can be proposed.
    pub missing: Vec<MissingColumn>,
    /// What has to be asked.
    pub questions: Vec<Question>,
    /// The first lines of data, cell by cell.
    pub first_rows: Vec<Vec<String>>,
}

/// How a table was read, for the report.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct HowRead {
    /// The encoding.
    pub encoding: String,
    /// The separator.
    pub separator: String,
    /// The decimal mark.
    pub decimal: String,
    /// The date order.
    pub date_order: String,
    /// The unit of lines that name none, if that is known.
    pub unit: Option<String>,
    /// Field and header of each column that was read.
    pub columns: Vec<(String, String)>,
    /// Field and value of each value that held for all lines.
    pub values: Vec<(String, String)>,
    /// Headers of columns that were not read.
    pub ignored: Vec<String>,
}

/// Looks at the beginning of a table and says how it would be read, what is proposed and what must
/// be asked. Reads at most a mebibyte.
pub fn look(
    mut reader: impl Read,
    table: TableKind,
    plan: &ImportPlan,
    catalogue: &Catalogue,
) -> Result<Look, ImportError> {
    let (bytes, whole) = sample_of(&mut reader)?;
    let sample = Sample::new(&bytes, whole, plan)?;
    let mut columns = sample.columns(table, plan)?;
    let proposals = sample.proposals(&columns, table, plan.only_named, catalogue);
    for (field, idx, _) in &proposals {
        columns.set_place(*field, *idx);
    }
    let missing = columns.missing(table);
    let (resolved, questions) = sample.resolve(table, columns, plan);
    Ok(Look {
        kind: recognise(&bytes),
        how: resolved.how_read(),
        headers: sample.headers(),
        proposals: proposals.iter().map(|found| sample.proposal(found)).collect(),
        missing,
        questions,
        first_rows: sample
            .rows()
            .take(5)
            .map(|row| row.iter().map(|cell| cell.trim().to_owned()).collect())
            .collect(),
    })
}

/// Everything that is settled before the first line is read.
pub(super) struct Resolved {
    pub(super) columns: Columns,
    pub(super) encoding: Encoding,
    pub(super) separator: Separator,
    pub(super) decimal: DecimalMark,
    pub(super) date_order: DateOrder,
    pub(super) unit: Option<Unit>,
    pub(super) warnings: Vec<String>,
}

impl Resolved {
    pub(super) fn how_read(&self) -> HowRead {
        let columns = &self.columns;
        let named = |field: &Field| {
            columns.header(*field).map(|header| (field.key().to_owned(), header.to_owned()))
        };
        let valued = |field: &Field| {
            columns.constant(*field).map(|value| (field.key().to_owned(), value.to_owned()))
        };
        HowRead {
            encoding: self.encoding.as_str().to_owned(),
            separator: self.separator.as_str().to_owned(),
            decimal: self.decimal.as_str().to_owned(),
            date_order: self.date_order.as_str().to_owned(),
            unit: self.unit.map(|unit| unit.as_str().to_owned()),
            columns: Field::ALL.iter().filter_map(named).collect(),
            values: Field::ALL.iter().filter_map(valued).collect(),
            ignored: columns.ignored(),
        }
    }
}

/// Opens a table whose reading is settled; its header has been read.
pub(super) fn open<'a>(
    mut reader: impl Read + 'a,
    kind: TableKind,
    plan: &ImportPlan,
    catalogue: &Catalogue,
) -> Result<(Table<'a>, Resolved), ImportError> {
    let (bytes, whole) = sample_of(&mut reader)?;
    let resolved = settle(&bytes, whole, kind, plan, catalogue)?;
    let reader = io::Cursor::new(bytes).chain(reader);
    let mut table = Table::new(reader, resolved.encoding, resolved.separator);
    table.next().map_err(|reason| ImportError::Read { bytes: 0, reason })?; // the header
    Ok((table, resolved))
}

fn settle(
    bytes: &[u8],
    whole: bool,
    kind: TableKind,
    plan: &ImportPlan,
    catalogue: &Catalogue,
) -> Result<Resolved, ImportError> {
    let sample = Sample::new(bytes, whole, plan)?;
    let mut columns = sample.columns(kind, plan)?;
    let proposals = sample.proposals(&columns, kind, plan.only_named, catalogue);
    let mut warnings = Vec::new();
    for found @ (field, idx, _) in &proposals {
        let Proposal { header, option, .. } = sample.proposal(found);
        if plan.take_proposals {
            columns.set_place(*field, *idx);
        } else if !kind.required().contains(field) {
            warnings.push(format!(
                "the column `{header}` is not read; if it is `{}`, say {option}",
                field.key()
            ));
        }
    }
    let mut missing = columns.missing(kind);
    for MissingColumn { field, near } in &mut missing {
        let proposed = proposals.iter().find(|(proposed, ..)| proposed == field);
        if let Some((_, idx, _)) = proposed {
            let header = columns.headers[*idx].clone();
            near.retain(|other| *other != header);
            near.insert(0, header);
        }
    }
    if !missing.is_empty() {
        return Err(ImportError::MissingColumns { missing, headers: columns.headers });
    }
    let (mut resolved, questions) = sample.resolve(kind, columns, plan);
    if !questions.is_empty() {
        return Err(ImportError::Asked(questions));
    }
    resolved.warnings.splice(0..0, warnings);
    Ok(resolved)
}

/// Reads the beginning of a file; says whether that is all of it.
fn sample_of(reader: &mut impl Read) -> Result<(Vec<u8>, bool), ImportError> {
    let mut bytes = Vec::new();
    let limit = SAMPLE_BYTES as u64;
    reader
        .take(limit)
        .read_to_end(&mut bytes)
        .map_err(|reason| ImportError::Read { bytes: bytes.len() as u64, reason })?;
    let whole = bytes.len() < SAMPLE_BYTES;
    Ok((bytes, whole))
}

/// The beginning of a table, split into cells.
struct Sample {
    encoding: Encoding,
    separator: Separator,
    records: Vec<csv::StringRecord>,
}

/// A field, the column that may hold it, and why.
type Found = (Field, usize, &'static str);

impl Sample {
    fn new(bytes: &[u8], whole: bool, plan: &ImportPlan) -> Result<Sample, ImportError> {
        if bytes.is_empty() {
            return Err(ImportError::Empty);
        }
        let encoding = match plan.encoding {
            Some(encoding) => encoding,
            None => sniff::encoding_of(bytes).map_err(|found| ImportError::NotATable { found })?,
        };
        let text = sniff::decoded(bytes, encoding);
        let mut text = text.as_ref();
        if !whole {
            text = &text[..text.rfind(['\n', '\r']).unwrap_or(text.len())];
        }
        let separator = plan.separator.unwrap_or_else(|| sniff::separator_of(text));
        let records = sniff::records_of(text, separator, usize::MAX);
        if records.is_empty() {
            return Err(ImportError::Empty);
        }
        if records[0].as_slice().len() > super::table::MAX_RECORD_BYTES / 2 {
            return Err(ImportError::NotATable {
                found: "its first line is more than half a mebibyte long".to_owned(),
            });
        }
        Ok(Sample { encoding, separator, records })
    }

    fn headers(&self) -> Vec<String> {
        self.records[0].iter().map(|cell| cell.trim().to_owned()).collect()
    }

    fn rows(&self) -> impl Iterator<Item = &csv::StringRecord> {
        self.records.iter().skip(1)
    }

    /// The cells of a field that aren't empty, with their lines.
    fn cells<'s>(
        &'s self,
        columns: &Columns,
        field: Field,
    ) -> impl Iterator<Item = (u64, &'s str)> + use<'s> {
        let place = columns.place(field);
        self.rows().filter_map(move |row| {
            let cell = row.get(place?)?.trim();
            (!cell.is_empty()).then(|| (row.position().map_or(0, csv::Position::line), cell))
        })
    }

    fn columns(&self, table: TableKind, plan: &ImportPlan) -> Result<Columns, ImportError> {
        let own_names = !plan.only_named;
        Columns::find(table, self.headers(), &plan.columns, &plan.values, own_names)
    }

    /// Columns for fields that have none: by their headers, else by what stands in them. RPE isn't
    /// proposed where reps in reserve are known.
    fn proposals(
        &self,
        columns: &Columns,
        table: TableKind,
        only_named: bool,
        catalogue: &Catalogue,
    ) -> Vec<Found> {
        let mut columns = columns.clone();
        let mut found = Vec::new();
        if only_named {
            return found;
        }
        for &field in table.fields() {
            let by_header = columns.candidates(field).first().map(|idx| (*idx, "its header"));
            let known = columns.has(field) || (field == Field::Rpe && columns.has(Field::Rir));
            if let (false, Some((idx, reason))) = (known, by_header) {
                columns.set_place(field, idx);
                found.push((field, idx, reason));
            }
        }
        for &field in table.required() {
            if let (false, Some(idx)) =
                (columns.has(field), self.column_full_of(field, &columns, catalogue))
            {
                columns.set_place(field, idx);
                found.push((field, idx, "what stands in it"));
            }
        }
        found
    }

    /// The first unread column most of whose cells are dates, or lifts of the catalogue.
    fn column_full_of(
        &self,
        field: Field,
        columns: &Columns,
        catalogue: &Catalogue,
    ) -> Option<usize> {
        let fits = |cell: &str| match field {
            Field::Date => dates::looks_like_a_date(cell),
            Field::Lift => LiftName::new(cell).is_ok_and(|name| catalogue.find(&name).is_some()),
            _ => false,
        };
        let unread = |idx: &usize| Field::ALL.iter().all(|f| columns.place(*f) != Some(*idx));
        (0..columns.headers.len()).filter(unread).find(|idx| {
            let cells = self.rows().take(200).filter_map(|row| row.get(*idx));
            let (n, n_fit) =
                cells.fold((0, 0), |(n, n_fit), cell| (n + 1, n_fit + usize::from(fits(cell))));
            n_fit * 2 > n
        })
    }

    fn proposal(&self, (field, idx, reason): &Found) -> Proposal {
        let header = self.records[0].get(*idx).unwrap_or_default().trim().to_owned();
        Proposal {
            field: field.key().to_owned(),
            option: format!("--column {}=\"{header}\"", field.key()),
            header,
            reason: (*reason).to_owned(),
        }
    }

    /// Settles what the columns' cells can settle; the rest are questions.
    fn resolve(
        &self,
        table: TableKind,
        columns: Columns,
        plan: &ImportPlan,
    ) -> (Resolved, Vec<Question>) {
        let mut questions = Vec::new();
        let numeric = [
            Field::Load,
            Field::Rir,
            Field::Rpe,
            Field::SleepH,
            Field::Stress,
            Field::Soreness,
            Field::BodyMass,
        ];
        let numbers = numeric.iter().flat_map(|field| self.cells(&columns, *field));
        let decimal = plan.decimal.map_or_else(|| sniff::decimal_of(numbers), Ok);
        let decimal = decimal.unwrap_or_else(|question| {
            questions.push(question);
            DecimalMark::Point
        });
        let dates = self.cells(&columns, Field::Date);
        let date_order = plan.date_order.map_or_else(|| dates::order_of(dates), Ok);
        let date_order = date_order.unwrap_or_else(|question| {
            questions.push(question);
            DateOrder::YearFirst
        });
        let (unit, warning, question) = self.unit(table, &columns, plan);
        questions.extend(question);
        let resolved = Resolved {
            columns,
            encoding: self.encoding,
            separator: self.separator,
            decimal,
            date_order,
            unit,
            warnings: warning.into_iter().collect(),
        };
        (resolved, questions)
    }

    /// The unit of lines that name none: as said, else as the header says, else kilograms if the
    /// table is in our own format, where that is the rule.
    fn unit(
        &self,
        table: TableKind,
        columns: &Columns,
        plan: &ImportPlan,
    ) -> (Option<Unit>, Option<String>, Option<Question>) {
        let field = match table {
            TableKind::Log => Field::Load,
            TableKind::CheckIns => Field::BodyMass,
        };
        let header = columns.header(field).unwrap_or(field.key());
        let in_header = columns.unit_in_header(field);
        if let (Some(said), Some(found)) = (plan.unit, in_header)
            && said != found
        {
            let warning = format!(
                "the header `{header}` names {} and was read as {}, as you said",
                found.as_str(),
                said.as_str()
            );
            return (Some(said), Some(warning), None);
        }
        let own = (columns.own_format && is_own(columns, field)).then_some(Unit::Kg);
        let unit = plan.unit.or(in_header).or(own);
        let each_says = columns.has(Field::Unit)
            || !columns.has(field)
            || self.cells(columns, field).all(|(_, cell)| numbers::names_its_unit(cell));
        let ask = unit.is_none() && !each_says;
        (unit, None, ask.then(|| Question::Unit { header: header.to_owned() }))
    }
}

fn is_own(columns: &Columns, field: Field) -> bool {
    columns
        .header(field)
        .is_none_or(|header| domain::bounds::folded(header) == domain::bounds::folded(field.key()))
}
