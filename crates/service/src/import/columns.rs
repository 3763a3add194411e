//! Which column holds which field: our own names, the names that a person gives, and proposals for
//! the rest made from general gym words. No program's set of headers is known here.

use domain::bounds::folded;
use domain::{Refused, Unit};

use super::error::{ImportError, MissingColumn, quoted};
use super::near::nearest;

macro_rules! fields {
    ($($(#[$doc:meta])* $variant:ident = $key:literal, [$($word:literal),*];)*) => {
        /// A field of a log or of a table of check-ins.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Field { $($(#[$doc])* $variant,)* }

        impl Field {
            /// All fields, in the order in which they are shown.
            pub const ALL: &'static [Field] = &[$(Field::$variant,)*];

            /// The name of its column in our own format.
            #[must_use]
            pub fn key(self) -> &'static str {
                match self { $(Field::$variant => $key,)* }
            }

            /// Words that people write over such a column, besides our own.
            fn words(self) -> &'static [&'static str] {
                match self { $(Field::$variant => &[$($word),*],)* }
            }
        }
    };
}

fields! {
    /// Who.
    Lifter = "lifter", ["athlete", "name", "client", "person", "trainee", "who"];
    /// The date, perhaps with the time of day.
    Date = "date", ["day", "when", "session date", "training date"];
    /// The time of day, where it has a column of its own.
    Time = "time", ["time of day"];
    /// Which lift.
    Lift = "lift", ["exercise", "movement", "lift name", "exercise name"];
    /// The place of a set within its lift and session.
    Set = "set", ["set number", "set no", "set nr"];
    /// What the set was for.
    Kind = "kind", ["set kind", "set type"];
    /// The load.
    Load = "load", ["weight", "kg", "kgs", "kilograms", "lb", "lbs", "pounds"];
    /// The unit of the load or of the body mass.
    Unit = "unit", ["units", "weight unit", "load unit"];
    /// Repetitions done.
    Reps = "reps", ["rep", "repetitions", "repetition"];
    /// Repetitions in reserve.
    Rir = "rir", ["reps in reserve", "repetitions in reserve"];
    /// Rating of perceived exertion, read as 10 − RIR.
    Rpe = "rpe", ["perceived exertion", "exertion"];
    /// A remark.
    Note = "note", ["notes", "comment", "comments", "remark", "remarks"];
    /// Hours slept.
    SleepH = "sleep_h", ["sleep", "hours slept", "sleep hours", "hours of sleep"];
    /// Stress, 1 to 7.
    Stress = "stress", [];
    /// Muscle soreness, 1 to 7.
    Soreness = "soreness", ["muscle soreness"];
    /// Body mass.
    BodyMass = "body_mass", ["bodyweight", "body weight"];
    /// The joint that hurts.
    PainJoint = "pain_joint", ["joint", "painful joint"];
    /// Pain in that joint, 0 to 10.
    Pain = "pain", ["pain rating"];
}

impl Field {
    /// Reads a field's name, ignoring case, spaces and hyphens.
    pub fn parse(text: &str) -> Result<Field, Refused> {
        let wanted = folded(text);
        Field::ALL.iter().copied().find(|field| folded(field.key()) == wanted).ok_or_else(|| {
            Refused::UnknownWord {
                what: "field",
                got: domain::bounds::shortened(text),
                known: quoted(Field::ALL.iter().map(|field| field.key())),
            }
        })
    }
}

/// The two kinds of table.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TableKind {
    /// A log of sets.
    Log,
    /// Check-ins.
    CheckIns,
}

impl TableKind {
    /// The fields that such a table can have.
    #[must_use]
    pub fn fields(self) -> &'static [Field] {
        use Field as F;
        match self {
            TableKind::Log => &[
                F::Lifter,
                F::Date,
                F::Time,
                F::Lift,
                F::Set,
                F::Kind,
                F::Load,
                F::Unit,
                F::Reps,
                F::Rir,
                F::Rpe,
                F::Note,
            ],
            TableKind::CheckIns => &[
                F::Lifter,
                F::Date,
                F::Time,
                F::SleepH,
                F::Stress,
                F::Soreness,
                F::BodyMass,
                F::Unit,
                F::PainJoint,
                F::Pain,
            ],
        }
    }

    /// The fields without which no line can be read.
    #[must_use]
    pub fn required(self) -> &'static [Field] {
        match self {
            TableKind::Log => &[Field::Lifter, Field::Date, Field::Lift, Field::Load, Field::Reps],
            TableKind::CheckIns => &[Field::Lifter, Field::Date],
        }
    }

    /// The header line of our own format.
    #[must_use]
    pub fn header(self) -> &'static str {
        match self {
            TableKind::Log => "lifter,date,lift,set,kind,load,unit,reps,rir,note",
            TableKind::CheckIns => "lifter,date,sleep_h,stress,soreness,body_mass,pain_joint,pain",
        }
    }

    /// What it is called in a sentence.
    #[must_use]
    pub fn label(self) -> &'static str {
        match self {
            TableKind::Log => "log",
            TableKind::CheckIns => "table of check-ins",
        }
    }

    /// Its fields, for a message.
    pub(super) fn field_list(self) -> String {
        quoted(self.fields().iter().map(|field| field.key()))
    }
}

/// A column that a person named: `load=Weight (lb)`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ColumnChoice {
    /// The field to be read.
    pub field: Field,
    /// The header of the column that holds it.
    pub header: String,
}

/// A value that holds for every line: `lifter=Ada`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ConstantValue {
    /// The field that the table lacks.
    pub field: Field,
    /// Its value.
    pub value: String,
}

impl std::str::FromStr for ColumnChoice {
    type Err = ImportError;

    fn from_str(text: &str) -> Result<ColumnChoice, ImportError> {
        let (field, header) = halves(text, "load=Weight (lb)")?;
        Ok(ColumnChoice { field, header })
    }
}

impl std::str::FromStr for ConstantValue {
    type Err = ImportError;

    fn from_str(text: &str) -> Result<ConstantValue, ImportError> {
        let (field, value) = halves(text, "lifter=Ada")?;
        Ok(ConstantValue { field, value })
    }
}

fn halves(text: &str, example: &'static str) -> Result<(Field, String), ImportError> {
    let bad = || ImportError::BadChoice { got: domain::bounds::shortened(text), example };
    let (field, rest) = text.split_once('=').ok_or_else(bad)?;
    let rest = rest.trim();
    if rest.is_empty() {
        return Err(bad());
    }
    Ok((Field::parse(field)?, rest.to_owned()))
}

/// Where each field of a table comes from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Columns {
    place: [Option<usize>; Field::ALL.len()],
    constant: [Option<String>; Field::ALL.len()],
    /// The table's headers as they stand there.
    pub(super) headers: Vec<String>,
    /// Whether every column needed was found under our own name.
    pub(super) own_format: bool,
}

impl Columns {
    /// The column of a field, from 0.
    pub(super) fn place(&self, field: Field) -> Option<usize> {
        self.place[field as usize]
    }

    /// The value that holds for every line.
    pub(super) fn constant(&self, field: Field) -> Option<&str> {
        self.constant[field as usize].as_deref()
    }

    /// The header under which a field stands.
    pub(super) fn header(&self, field: Field) -> Option<&str> {
        self.place(field).map(|idx| self.headers[idx].as_str())
    }

    /// Whether a field has a column or a value.
    pub(super) fn has(&self, field: Field) -> bool {
        self.place(field).is_some() || self.constant(field).is_some()
    }

    /// The unit that a field's header names.
    pub(super) fn unit_in_header(&self, field: Field) -> Option<Unit> {
        self.header(field).and_then(|header| parted(header).1)
    }

    /// The headers that are not read.
    pub(super) fn ignored(&self) -> Vec<String> {
        let unread = |idx: &usize| !self.place.contains(&Some(*idx));
        let named = |idx: usize| self.headers[idx].clone();
        (0..self.headers.len()).filter(unread).map(named).filter(|name| !name.is_empty()).collect()
    }

    /// Finds the columns: those that were named, and those under our own names if `own_names` is set.
    pub(super) fn find(
        table: TableKind,
        headers: Vec<String>,
        choices: &[ColumnChoice],
        values: &[ConstantValue],
        own_names: bool,
    ) -> Result<Columns, ImportError> {
        let mut columns = Columns {
            place: [None; Field::ALL.len()],
            constant: [const { None }; Field::ALL.len()],
            headers,
            own_format: false,
        };
        columns.take_choices(table, choices)?;
        columns.take_values(table, values)?;
        if own_names {
            for &field in table.fields() {
                columns.take_own_name(field)?;
            }
        }
        let own =
            |field: &Field| columns.header(*field).is_none_or(|header| is_own_name(header, *field));
        columns.own_format = table.required().iter().all(own);
        Ok(columns)
    }

    fn take_choices(
        &mut self,
        table: TableKind,
        choices: &[ColumnChoice],
    ) -> Result<(), ImportError> {
        for ColumnChoice { field, header } in choices {
            must_belong(*field, table)?;
            if let Some(first) = self.header(*field) {
                return Err(two_sources(
                    *field,
                    format!("the column `{first}`"),
                    format!("the column `{header}`"),
                ));
            }
            self.place[*field as usize] = Some(self.find_header(*field, header)?);
        }
        Ok(())
    }

    fn take_values(
        &mut self,
        table: TableKind,
        values: &[ConstantValue],
    ) -> Result<(), ImportError> {
        for ConstantValue { field, value } in values {
            must_belong(*field, table)?;
            let second = format!("the value `{value}`");
            if let Some(first) = self.constant(*field) {
                return Err(two_sources(*field, format!("the value `{first}`"), second));
            }
            if let Some(first) = self.header(*field) {
                return Err(two_sources(*field, format!("the column `{first}`"), second));
            }
            self.constant[*field as usize] = Some(value.clone());
        }
        Ok(())
    }

    fn take_own_name(&mut self, field: Field) -> Result<(), ImportError> {
        if self.place(field).is_some() {
            return Ok(());
        }
        let taken = self.place;
        let mut found = (0..self.headers.len())
            .filter(|idx| !taken.contains(&Some(*idx)) && is_own_name(&self.headers[*idx], field));
        let Some(first) = found.next() else { return Ok(()) };
        if found.next().is_some() {
            return Err(ImportError::SameHeaderTwice { header: self.headers[first].clone() });
        }
        if let Some(value) = self.constant(field) {
            let column = format!("the column `{}`", self.headers[first]);
            return Err(two_sources(field, column, format!("the value `{value}`")));
        }
        self.place[field as usize] = Some(first);
        Ok(())
    }

    /// The column whose header is `wanted` as written, or else but for case and punctuation.
    fn find_header(&self, field: Field, wanted: &str) -> Result<usize, ImportError> {
        let alike = |same: &dyn Fn(&str) -> bool| -> Vec<usize> {
            (0..self.headers.len()).filter(|idx| same(&self.headers[*idx])).collect()
        };
        let exact = alike(&|header| header == wanted);
        let found = if exact.is_empty() {
            alike(&|header| folded(header) == folded(wanted))
        } else {
            exact
        };
        match found.as_slice() {
            [one] => Ok(*one),
            [] => Err(ImportError::NoSuchColumn {
                field,
                header: wanted.to_owned(),
                near: nearest(wanted, self.headers.iter().map(String::as_str)),
                headers: self.headers.clone(),
            }),
            _ => Err(ImportError::SameHeaderTwice { header: wanted.to_owned() }),
        }
    }

    /// The fields that are needed and have neither column nor value, with what may be meant.
    pub(super) fn missing(&self, table: TableKind) -> Vec<MissingColumn> {
        let without = |field: &&Field| !self.has(**field);
        let proposed = |field: &Field| MissingColumn {
            field: *field,
            near: self
                .candidates(*field)
                .into_iter()
                .map(|idx| self.headers[idx].clone())
                .collect(),
        };
        table.required().iter().filter(without).map(proposed).collect()
    }

    /// The unread columns that may hold a field, by their headers; likeliest first.
    pub(super) fn candidates(&self, field: Field) -> Vec<usize> {
        let unread = |idx: &usize| !self.place.contains(&Some(*idx));
        let mut ranked: Vec<(usize, usize)> = (0..self.headers.len())
            .filter(unread)
            .filter_map(|idx| word_rank(&self.headers[idx], field).map(|rank| (rank, idx)))
            .collect();
        ranked.sort_unstable();
        ranked.into_iter().map(|(_, idx)| idx).collect()
    }

    /// Reads a field from a column.
    pub(super) fn set_place(&mut self, field: Field, idx: usize) {
        self.place[field as usize] = Some(idx);
    }
}

fn must_belong(field: Field, table: TableKind) -> Result<(), ImportError> {
    if table.fields().contains(&field) {
        return Ok(());
    }
    Err(ImportError::WrongField { field, table })
}

fn two_sources(field: Field, first: String, second: String) -> ImportError {
    ImportError::TwoSources { field, first, second }
}

/// Whether a header is our own name for a field, with or without a unit.
fn is_own_name(header: &str, field: Field) -> bool {
    folded(header) == folded(field.key()) || folded(&parted(header).0) == folded(field.key())
}

/// How early a header's word stands among a field's words.
fn word_rank(header: &str, field: Field) -> Option<usize> {
    let whole = folded(header);
    let name = folded(&parted(header).0);
    let words = field.words().iter().copied();
    std::iter::once(field.key()).chain(words).position(|word| {
        let word = folded(word);
        word == whole || word == name
    })
}

/// A header without the unit at its end, and that unit: `Weight (lb)` is `Weight` in pounds. A
/// header that is nothing but a unit is kept: `kg` is `kg` in kilograms.
pub(super) fn parted(header: &str) -> (String, Option<Unit>) {
    let mut words: Vec<&str> =
        header.split(|c: char| !c.is_alphanumeric()).filter(|word| !word.is_empty()).collect();
    let unit = words.last().and_then(|word| Unit::parse(word).ok());
    if unit.is_some() && words.len() > 1 {
        words.pop();
    }
    (words.join(" "), unit)
}
