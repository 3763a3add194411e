//! Importing a table by a form: its columns matched by hand, its problems told by line before anything is
//! written.
//!
//! A table that was sent waits in memory, never on the disk, until it is imported or others push it
//! out. Lift files and exports are the commands' business.

use std::collections::VecDeque;
use std::sync::{Arc, Mutex, PoisonError};

use domain::Unit;
use jiff::Timestamp;
use jiff::civil::Date;
use uuid::Uuid;

use crate::desk::Desk;
use crate::forms::{Fields, Problems};
use crate::import::{
    ColumnChoice, ConstantValue, DateOrder, DecimalMark, Field, FileKind, Import, ImportError,
    ImportPlan, ImportReport, IntoStore, Look, Question, TableKind, import_check_ins, import_log,
    look,
};
use crate::record::person::catalogue_or;

/// The most bytes that a table may have to wait here; larger ones are for the command.
pub const MAX_BYTES: usize = 16 * 1024 * 1024;
/// How many tables wait at most.
const WAITING: usize = 4;
/// The most refused lines that are told one by one.
const REFUSALS: usize = 200;

/// Tables that were sent and wait for their import.
#[derive(Debug, Default)]
pub struct Waiting(Mutex<VecDeque<(Uuid, Arc<SentTable>)>>);

/// A table that was sent.
#[derive(Debug)]
pub struct SentTable {
    name: String,
    bytes: Vec<u8>,
}

impl Waiting {
    /// Keeps a table and gives the name by which it is found; the same table has the same name.
    pub fn keep(&self, name: &str, bytes: Vec<u8>) -> String {
        let id = Uuid::new_v5(&Uuid::NAMESPACE_OID, &bytes);
        // A panic while it was held can't leave it half changed: tables go in whole.
        let mut waiting = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        waiting.retain(|(other, _)| *other != id);
        waiting.truncate(WAITING - 1);
        let name = domain::bounds::shortened(if name.trim().is_empty() { "a table" } else { name });
        waiting.push_front((id, Arc::new(SentTable { name, bytes })));
        id.to_string()
    }

    /// The table of that name, if it still waits.
    #[must_use]
    pub fn find(&self, id: &str) -> Option<Arc<SentTable>> {
        let id = Uuid::try_parse(id).ok()?;
        let waiting = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        waiting.iter().find(|(other, _)| *other == id).map(|(_, table)| Arc::clone(table))
    }
}

/// How a table that was sent would be read, or was.
#[derive(Clone, Debug)]
pub struct TableView {
    /// The table's name.
    pub name: String,
    /// The form: `table`, `column_0` and so on, `lifter`, `unit`, `date_order`, `decimal`, `correct`.
    pub fields: Fields,
    /// What has to be said before it can be imported, field by field.
    pub problems: Problems,
    /// What is wrong with the table as a whole.
    pub hopeless: Option<String>,
    /// The headers.
    pub headers: Vec<String>,
    /// The first lines, cell by cell.
    pub first_rows: Vec<Vec<String>>,
    /// The fields that a column can hold.
    pub known_fields: Vec<&'static str>,
    /// What an import would do, or did.
    pub report: Option<ImportReport>,
    /// Refused lines by their number, with the reason.
    pub refusals: Vec<(u64, String)>,
    /// The refused lines as a table that can be mended and sent.
    pub rejects: String,
}

impl Desk {
    /// Says how a table would be read by a form, and what an import would do. Nothing is kept of it.
    ///
    /// # Errors
    /// The store has trouble, or a lift file on record can't be read.
    pub fn look_at_table(
        &self,
        table: &SentTable,
        fields: &Fields,
        (today, now): (Date, Timestamp),
    ) -> Result<TableView, ImportError> {
        self.read_table(table, fields, (today, now), true)
    }

    /// Imports a table by a form. If something has to be said first, nothing is imported and the view has
    /// no report.
    ///
    /// # Errors
    /// As [`Desk::look_at_table`].
    pub fn import_table(
        &self,
        table: &SentTable,
        fields: &Fields,
        (today, now): (Date, Timestamp),
    ) -> Result<TableView, ImportError> {
        self.read_table(table, fields, (today, now), false)
    }

    fn read_table(
        &self,
        table: &SentTable,
        typed: &Fields,
        (today, now): (Date, Timestamp),
        dry_run: bool,
    ) -> Result<TableView, ImportError> {
        let mut view = TableView::of(table, typed);
        let catalogue = catalogue_or::<ImportError>(self.store())?;
        let (kind, plan) = match view.settle(table, &catalogue) {
            Ok(settled) => settled,
            Err(error) if matches!(error, ImportError::Store(_)) => return Err(error),
            Err(error) => {
                view.hopeless = Some(error.to_string());
                return Ok(view);
            }
        };
        if !view.problems.is_empty() {
            return Ok(view);
        }
        let mut rejects = Vec::new();
        let with = Import {
            catalogue: &catalogue,
            plan: &plan,
            today,
            rejects: &mut rejects,
            progress: &mut |_| {},
        };
        let correct = !view.fields.get("correct").is_empty();
        let how = IntoStore { source: &table.name, now, correct, dry_run };
        let bytes = table.bytes.as_slice();
        let report = match kind {
            TableKind::Log => import_log(self.store(), bytes, with, how),
            TableKind::CheckIns => import_check_ins(self.store(), bytes, with, how),
        };
        match report {
            Ok(report) => view.report = Some(report),
            Err(error @ ImportError::Store(_)) => return Err(error),
            Err(ImportError::Asked(questions)) => view.ask(&questions),
            Err(error) => view.hopeless = Some(error.to_string()),
        }
        view.rejects = String::from_utf8_lossy(&rejects).into_owned();
        view.refusals = refusals(&view.rejects);
        Ok(view)
    }
}

impl TableView {
    fn of(table: &SentTable, typed: &Fields) -> TableView {
        TableView {
            name: table.name.clone(),
            fields: typed.clone(),
            problems: Problems::default(),
            hopeless: None,
            headers: Vec::new(),
            first_rows: Vec::new(),
            known_fields: Vec::new(),
            report: None,
            refusals: Vec::new(),
            rejects: String::new(),
        }
    }

    /// Settles how the table is to be read: by the form, or by what the table itself says if the form is
    /// still empty. Notes what is left to say.
    fn settle(
        &mut self,
        table: &SentTable,
        catalogue: &domain::Catalogue,
    ) -> Result<(TableKind, ImportPlan), ImportError> {
        let bytes = table.bytes.as_slice();
        let is_first = !self.fields.has("table");
        let kind = self.kind(bytes)?;
        let mut plan = self.plan_but_columns();
        let open = ImportPlan { only_named: !is_first, ..plan.clone() };
        let looked = look(bytes, kind, &open, catalogue)?;
        self.headers.clone_from(&looked.headers);
        self.first_rows.clone_from(&looked.first_rows);
        self.known_fields = kind.fields().iter().map(|field| field.key()).collect();
        if is_first {
            self.fill_in(kind, &looked);
        }
        plan.columns = self.columns();
        plan.only_named = true;
        let has = |field: &Field| {
            plan.columns.iter().any(|choice| choice.field == *field)
                || plan.values.iter().any(|value| value.field == *field)
        };
        for field in kind.required().iter().filter(|field| !has(field)) {
            let place = if *field == Field::Lifter { "lifter" } else { "column_0" };
            let lifter =
                "no column holds the lifter: choose one, or write here whose lines these are";
            let other = format!("no column holds the `{}`: choose one", field.key());
            self.problems.note(place, if *field == Field::Lifter { lifter } else { &other });
        }
        if self.problems.is_empty() {
            self.ask(&look(bytes, kind, &plan, catalogue)?.questions);
        }
        Ok((kind, plan))
    }

    fn kind(&mut self, bytes: &[u8]) -> Result<TableKind, ImportError> {
        match self.fields.get("table") {
            "log" => return Ok(TableKind::Log),
            "check-ins" => return Ok(TableKind::CheckIns),
            _ => {}
        }
        let for_the_command = |found: &str| ImportError::NotATable {
            found: format!("it is {found}, which `bellwether import` takes"),
        };
        match crate::import::recognise(bytes) {
            FileKind::LiftFile => Err(for_the_command("a lift file")),
            FileKind::Export => Err(for_the_command("an export of a record")),
            FileKind::NotATable(found) => Err(ImportError::NotATable { found }),
            FileKind::Empty => Err(ImportError::Empty),
            FileKind::CheckIns => Ok(TableKind::CheckIns),
            FileKind::Log | FileKind::OtherTable => Ok(TableKind::Log),
        }
    }

    /// What the form says besides columns.
    fn plan_but_columns(&mut self) -> ImportPlan {
        let mut plan = ImportPlan::default();
        if !self.fields.get("lifter").is_empty() {
            let value = self.fields.get("lifter").to_owned();
            plan.values.push(ConstantValue { field: Field::Lifter, value });
        }
        let problems = &mut self.problems;
        if !self.fields.get("unit").is_empty() {
            plan.unit = problems.take("unit", Unit::parse(self.fields.get("unit")));
        }
        if !self.fields.get("date_order").is_empty() {
            let order = self.fields.get("date_order").parse::<DateOrder>();
            plan.date_order = problems.take("date_order", order);
        }
        if !self.fields.get("decimal").is_empty() {
            let mark = self.fields.get("decimal").parse::<DecimalMark>();
            plan.decimal = problems.take("decimal", mark);
        }
        plan
    }

    /// Fills the form in with what the table says of itself.
    fn fill_in(&mut self, kind: TableKind, looked: &Look) {
        let word = match kind {
            TableKind::Log => "log",
            TableKind::CheckIns => "check-ins",
        };
        let mut fields = std::mem::take(&mut self.fields).with("table", word);
        for (idx, header) in self.headers.iter().enumerate() {
            let field = looked.how.columns.iter().find(|(_, read)| read == header);
            fields = fields.with(&format!("column_{idx}"), field.map_or("", |(field, _)| field));
        }
        self.fields = fields;
    }

    /// The columns that the form names; a field named twice is a problem of the second.
    fn columns(&mut self) -> Vec<ColumnChoice> {
        let mut chosen: Vec<ColumnChoice> = Vec::new();
        if !self.fields.get("lifter").is_empty()
            && let Some(idx) = self.place_of(Field::Lifter)
        {
            let header = &self.headers[idx];
            let both = format!("the column `{header}` holds the lifter already: leave this empty");
            self.problems.note("lifter", both);
        }
        for (idx, header) in self.headers.iter().enumerate() {
            let place = format!("column_{idx}");
            if self.fields.get(&place).is_empty() {
                continue;
            }
            let read = Field::parse(self.fields.get(&place));
            let Some(field) = self.problems.take(&place, read) else { continue };
            match chosen.iter().find(|choice| choice.field == field) {
                Some(first) => {
                    let twice = format!(
                        "`{}` is named for `{}` already: keep one of the two",
                        field.key(),
                        first.header
                    );
                    self.problems.note(&place, twice);
                }
                None => chosen.push(ColumnChoice { field, header: header.clone() }),
            }
        }
        chosen
    }

    fn place_of(&self, field: Field) -> Option<usize> {
        (0..self.headers.len()).find(|idx| self.fields.get(&format!("column_{idx}")) == field.key())
    }

    /// Notes what only a person can say, beside the field that says it.
    fn ask(&mut self, questions: &[Question]) {
        for question in questions {
            let (field, words) = match question {
                Question::DateOrder { example, line, day_first, month_first } => (
                    "date_order",
                    format!(
                        "the date `{example}` (line {line}) can mean {day_first} or {month_first}: \
                         choose which comes first"
                    ),
                ),
                Question::DatesDisagree {
                    day_first,
                    day_first_line,
                    month_first,
                    month_first_line,
                } => (
                    "date_order",
                    format!(
                        "the dates disagree: `{day_first}` (line {day_first_line}) has the day \
                         first, `{month_first}` (line {month_first_line}) the month: choose which is \
                         right; the other lines are refused"
                    ),
                ),
                Question::Decimal { example, line, as_decimal, as_thousands } => (
                    "decimal",
                    format!(
                        "the number `{example}` (line {line}) can mean {as_decimal} or \
                         {as_thousands}: choose the decimal mark"
                    ),
                ),
                Question::Unit { header } => (
                    "unit",
                    format!(
                        "nothing says whether `{header}` is in kilograms or pounds: choose one"
                    ),
                ),
            };
            self.problems.note(field, words);
        }
    }
}

/// The refused lines as the rejects tell them: number and reason stand in front.
fn refusals(rejects: &str) -> Vec<(u64, String)> {
    let separator = match rejects.lines().next() {
        Some(first) => first.chars().find(|c| !c.is_alphanumeric()).unwrap_or(','),
        None => return Vec::new(),
    };
    csv::ReaderBuilder::new()
        .delimiter(u8::try_from(separator).unwrap_or(b','))
        .flexible(true)
        .from_reader(rejects.as_bytes())
        .records()
        .filter_map(Result::ok)
        .filter_map(|row| Some((row.get(0)?.parse().ok()?, row.get(1)?.to_owned())))
        .take(REFUSALS)
        .collect()
}
