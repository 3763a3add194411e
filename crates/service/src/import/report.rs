//! What an import did, as plain data for the command line, for JSON and for pages.

use std::collections::BTreeMap;

use jiff::civil::Date;
use serde::{Serialize, Serializer};

use super::plan::HowRead;

/// How many refused lines are named in a report; all of them are among the rejects.
pub(super) const SHOWN: usize = 20;

/// What an import did.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct ImportReport {
    /// Whether nothing was kept because nothing was to be kept.
    pub dry_run: bool,
    /// Lines of data read; a cell that runs over several lines makes one.
    pub lines: u64,
    /// Sets (or check-ins) that are new.
    pub new: u64,
    /// Those that were on record already, the very same.
    pub already_there: u64,
    /// Those that took the place of what was on record.
    pub superseded: u64,
    /// Lines that say the same as an earlier line of the file.
    pub repeated: u64,
    /// Lines that were refused.
    pub refused: u64,
    /// Refused lines by what was wrong with them.
    pub refused_by: BTreeMap<RefusalClass, u64>,
    /// The first refused lines.
    pub first_refusals: Vec<Refusal>,
    /// Lifts that the catalogue doesn't know, with the lines that they cost.
    pub unknown_lifts: Vec<UnknownLift>,
    /// What may be wrong although it was taken.
    pub warnings: Vec<String>,
    /// Sets (or check-ins) of each lifter, refused lines left out.
    pub lifters: Vec<LifterCount>,
    /// The first day, refused lines left out.
    #[serde(serialize_with = "date_as_text")]
    pub first: Option<Date>,
    /// The last day.
    #[serde(serialize_with = "date_as_text")]
    pub last: Option<Date>,
    /// How the table was read.
    pub how: HowRead,
}

/// A refused line.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Refusal {
    /// The line of the file where it starts, from 1.
    pub line: u64,
    /// What kind of thing was wrong.
    pub class: RefusalClass,
    /// What was wrong and what would do.
    pub reason: String,
}

/// What was wrong with a line.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum RefusalClass {
    /// It can't be split or decoded.
    Unreadable,
    /// The lifter's name.
    Lifter,
    /// The date or time.
    Date,
    /// A lift that the catalogue doesn't know.
    UnknownLift,
    /// The set number.
    SetNumber,
    /// The kind of set.
    Kind,
    /// The load or its unit.
    Load,
    /// The repetitions.
    Reps,
    /// Reps in reserve, or RPE.
    Rir,
    /// The note.
    Note,
    /// An item of a check-in.
    Item,
    /// An earlier line of the file says otherwise.
    EarlierLine,
    /// What is on record says otherwise.
    OnRecord,
}

impl RefusalClass {
    /// What was wrong, in a word or two.
    #[must_use]
    pub fn label(self) -> &'static str {
        match self {
            RefusalClass::Unreadable => "unreadable line",
            RefusalClass::Lifter => "lifter",
            RefusalClass::Date => "date",
            RefusalClass::UnknownLift => "unknown lift",
            RefusalClass::SetNumber => "set number",
            RefusalClass::Kind => "kind",
            RefusalClass::Load => "load",
            RefusalClass::Reps => "reps",
            RefusalClass::Rir => "reps in reserve",
            RefusalClass::Note => "note",
            RefusalClass::Item => "check-in item",
            RefusalClass::EarlierLine => "differs from an earlier line",
            RefusalClass::OnRecord => "differs from the record",
        }
    }
}

/// A lift that the catalogue doesn't know.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct UnknownLift {
    /// Its name as written.
    pub name: String,
    /// How many lines have it.
    pub lines: u64,
    /// The line of the file where it first stands.
    pub first_line: u64,
    /// Lifts of the catalogue that may be meant, likeliest first.
    pub near: Vec<String>,
}

/// What one lifter has in the file.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct LifterCount {
    /// The name.
    pub name: String,
    /// Sets (or check-ins) taken, those already on record included.
    pub count: u64,
    /// The first day.
    #[serde(serialize_with = "date_as_text")]
    pub first: Option<Date>,
    /// The last day.
    #[serde(serialize_with = "date_as_text")]
    pub last: Option<Date>,
}

impl LifterCount {
    pub(super) fn new(name: &str) -> LifterCount {
        LifterCount { name: name.to_owned(), count: 0, first: None, last: None }
    }

    pub(super) fn add(&mut self, date: Date) {
        self.count += 1;
        self.first = Some(self.first.map_or(date, |first| first.min(date)));
        self.last = Some(self.last.map_or(date, |last| last.max(date)));
    }
}

impl ImportReport {
    pub(super) fn refuse(&mut self, line: u64, class: RefusalClass, reason: &str) {
        self.refused += 1;
        *self.refused_by.entry(class).or_default() += 1;
        if self.first_refusals.len() < SHOWN {
            self.first_refusals.push(Refusal { line, class, reason: reason.to_owned() });
        }
    }

    /// Takes the lifters' counts, by name, and from them the range of days.
    pub(super) fn set_lifters(&mut self, counts: impl Iterator<Item = LifterCount>) {
        self.lifters = counts.filter(|count| count.count > 0).collect();
        self.lifters.sort_by(|a, b| a.name.cmp(&b.name));
        self.first = self.lifters.iter().filter_map(|count| count.first).min();
        self.last = self.lifters.iter().filter_map(|count| count.last).max();
    }
}

fn date_as_text<S: Serializer>(date: &Option<Date>, serializer: S) -> Result<S::Ok, S::Error> {
    match date {
        Some(date) => serializer.collect_str(date),
        None => serializer.serialize_none(),
    }
}
