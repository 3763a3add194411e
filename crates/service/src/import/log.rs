//! From a line of a log to a [`LoggedSet`].
//!
//! Where a table has no set numbers, sets are counted in order within lifter, date and lift, lines
//! that are refused included, so that a mended file counts the same. RPE is 10 − RIR (Zourdos et al.
//! 2016, J Strength Cond Res 30:267); that scale means repetitions from RPE 5 up, so a lower RPE is
//! an unknown reserve.

use std::collections::HashMap;
use std::hash::{DefaultHasher, Hash, Hasher};
use std::io::Read;

use domain::{
    Catalogue, Lift, LiftName, LifterName, LoggedSet, Note, Reps, Rir, SetKind, SetNumber, Unit,
    When,
};
use jiff::civil::Date;

use super::columns::{Field, TableKind};
use super::error::ImportError;
use super::near::nearest;
use super::numbers;
use super::plan::Resolved;
use super::reading::{Bad, LineReader, run};
use super::report::{ImportReport, LifterCount, RefusalClass, UnknownLift};
use super::table::Record;
use super::units::UnitMix;
use super::{Import, Taken, dates};

/// Below this RPE the scale names no repetitions in reserve.
const LOWEST_RPE: f64 = 5.0;
/// How many different unknown lifts are remembered by name.
const MAX_UNKNOWN: usize = 1_000;
/// How many spellings of lifts are remembered before the memory is emptied.
const MAX_SPELLINGS: usize = 10_000;

/// Reads a log and hands each set over with the line where it stands. Sets come in the order of the
/// file; the lift's name is the catalogue's. Lines that can't be read go to the rejects.
///
/// # Errors
/// When the table as a whole can't be read, when something must be asked first, or when `take` or
/// the rejects fail.
pub fn read_log(
    reader: impl Read,
    with: Import<'_>,
    take: &mut dyn FnMut(u64, LoggedSet) -> Result<Taken, ImportError>,
) -> Result<ImportReport, ImportError> {
    run::<SetReader<'_>>(reader, with, take)
}

/// [`read_log`] into memory.
pub fn read_log_whole(
    reader: impl Read,
    with: Import<'_>,
) -> Result<(Vec<(u64, LoggedSet)>, ImportReport), ImportError> {
    let mut sets = Vec::new();
    let report = read_log(reader, with, &mut |line, set| {
        sets.push((line, set));
        Ok(Taken::New)
    })?;
    Ok((sets, report))
}

/// Reads lines of a log; remembers what it has seen.
struct SetReader<'a> {
    catalogue: &'a Catalogue,
    last_day: Date,
    lifters: Lifters,
    lifts: Lifts<'a>,
    dates: LastDate,
    counts: HashMap<(u32, usize, Date), u8>,
    seen: HashMap<(u32, usize, When, u8), (u64, u64)>,
    units: UnitMix,
    last: Option<(u32, usize, Date, domain::Load)>,
}

impl<'a> LineReader<'a> for SetReader<'a> {
    type Item = LoggedSet;
    const KIND: TableKind = TableKind::Log;

    fn new(with: &Import<'a>, resolved: &Resolved) -> Result<Self, ImportError> {
        check_constants(resolved)?;
        Ok(SetReader {
            catalogue: with.catalogue,
            last_day: with.today.tomorrow().unwrap_or(with.today),
            lifters: Lifters::default(),
            lifts: Lifts::default(),
            dates: LastDate::default(),
            counts: HashMap::new(),
            seen: HashMap::new(),
            units: UnitMix::default(),
            last: None,
        })
    }

    fn read(&mut self, record: &Record, resolved: &Resolved) -> Result<Option<LoggedSet>, Bad> {
        let cells = Cells { record, resolved };
        let lifter = self.lifters.find(cells.get(Field::Lifter))?;
        let when = self.dates.read(&cells, self.last_day)?;
        let (lift_idx, lift) =
            self.lifts.find(cells.get(Field::Lift), record.line, self.catalogue)?;
        let number = self.number(&cells, lifter, lift_idx, when)?;
        let counted = (!resolved.columns.has(Field::Set)).then(|| number.get());
        let fill = |bad: Bad| Bad { set_number: counted, ..bad };
        let set = cells.set(self.lifters.name(lifter), when, lift, number).map_err(fill)?;
        self.last = Some((lifter, lift_idx, when.date(), set.load));
        if counted.is_none() && self.is_repeated(&set, (lifter, lift_idx), record.line)? {
            self.last = None;
            return Ok(None);
        }
        Ok(Some(set))
    }

    fn taken(&mut self) {
        if let Some((lifter, lift, date, load)) = self.last.take() {
            self.lifters.add(lifter, date);
            self.units.add(lifter, lift, load);
        }
    }

    fn finish(self, report: &mut ImportReport) {
        let lifts = self.catalogue.lifts();
        report.warnings.extend(self.units.warnings(|lifter, lift| {
            (self.lifters.name(lifter).to_string(), lifts[lift].name.to_string())
        }));
        report.unknown_lifts = self.lifts.unknown();
        report.set_lifters(self.lifters.counts.into_iter());
    }
}

impl SetReader<'_> {
    /// The set number of the line; counted where the table has none.
    fn number(
        &mut self,
        cells: &Cells<'_>,
        lifter: u32,
        lift: usize,
        when: When,
    ) -> Result<SetNumber, Bad> {
        let refuse = Bad::of(RefusalClass::SetNumber);
        if cells.resolved.columns.has(Field::Set) {
            let text = cells.get(Field::Set);
            if text.is_empty() {
                return Err(Bad::new(
                    RefusalClass::SetNumber,
                    "set is empty: number the sets of a lift within the session from 1",
                ));
            }
            return SetNumber::parse(text).map_err(refuse);
        }
        let count = self.counts.entry((lifter, lift, when.date())).or_default();
        *count = count.saturating_add(1);
        SetNumber::new(*count).map_err(refuse)
    }

    /// Whether an earlier line said the same; refused if it said something else of the same set.
    fn is_repeated(
        &mut self,
        set: &LoggedSet,
        (lifter, lift): (u32, usize),
        line: u64,
    ) -> Result<bool, Bad> {
        let content = content_hash(set);
        let key = (lifter, lift, set.when, set.number.get());
        let (earlier, earlier_line) = *self.seen.entry(key).or_insert((content, line));
        if earlier_line == line {
            return Ok(false);
        }
        if earlier == content {
            return Ok(true);
        }
        Err(Bad::new(
            RefusalClass::EarlierLine,
            format!(
                "set {} of `{}` on {} stands on line {earlier_line} with other content: number the \
                 sets of a lift within the session from 1, or take one of the two out",
                set.number.get(),
                set.lift,
                set.when
            ),
        ))
    }
}

fn content_hash(set: &LoggedSet) -> u64 {
    let mut hasher = DefaultHasher::new();
    (set.kind, set.load, set.reps, set.rir, set.note.as_str()).hash(&mut hasher);
    hasher.finish()
}

/// Refuses values for all lines that no line could use.
fn check_constants(resolved: &Resolved) -> Result<(), ImportError> {
    for field in [Field::Lifter, Field::Lift, Field::Kind, Field::Unit] {
        let Some(value) = resolved.columns.constant(field) else { continue };
        let checked = match field {
            Field::Lifter => LifterName::new(value).map(drop),
            Field::Lift => LiftName::new(value).map(drop),
            Field::Kind => SetKind::parse(value).map(drop),
            _ => Unit::parse(value).map(drop),
        };
        checked.map_err(|refused| ImportError::BadValue {
            field,
            value: value.to_owned(),
            reason: refused.to_string(),
        })?;
    }
    Ok(())
}

/// The cells of one line, by field.
pub(super) struct Cells<'t> {
    pub(super) record: &'t Record,
    pub(super) resolved: &'t Resolved,
}

impl<'t> Cells<'t> {
    /// A field's text, trimmed; empty if there is none.
    pub(super) fn get(&self, field: Field) -> &'t str {
        match self.resolved.columns.place(field) {
            Some(idx) => self.record.cell(idx),
            None => self.resolved.columns.constant(field).unwrap_or(""),
        }
    }

    /// The unit that the line names.
    pub(super) fn unit(&self) -> Result<Option<Unit>, Bad> {
        match self.get(Field::Unit) {
            "" => Ok(None),
            text => Unit::parse(text).map(Some).map_err(Bad::of(RefusalClass::Load)),
        }
    }

    fn set(
        &self,
        lifter: &LifterName,
        when: When,
        lift: &Lift,
        number: SetNumber,
    ) -> Result<LoggedSet, Bad> {
        let kind = SetKind::parse(self.get(Field::Kind)).map_err(Bad::of(RefusalClass::Kind))?;
        let mark = self.resolved.decimal;
        let load = numbers::load(self.get(Field::Load), (self.unit()?, self.resolved.unit), mark)
            .and_then(|load| lift.accepts_load(load).map(|()| load))
            .map_err(Bad::of(RefusalClass::Load))?;
        let reps = numbers::with_point("reps", self.get(Field::Reps), mark)
            .and_then(|text| Reps::parse(&text))
            .map_err(Bad::of(RefusalClass::Reps))?;
        Ok(LoggedSet {
            lifter: lifter.clone(),
            when,
            lift: lift.name.clone(),
            number,
            kind,
            load,
            reps,
            rir: self.rir()?,
            note: Note::new(self.get(Field::Note)).map_err(Bad::of(RefusalClass::Note))?,
        })
    }

    /// Reps in reserve as written, else from RPE.
    fn rir(&self) -> Result<Option<Rir>, Bad> {
        let refuse = Bad::of(RefusalClass::Rir);
        let mark = self.resolved.decimal;
        let text = numbers::with_point("rir", self.get(Field::Rir), mark).map_err(&refuse)?;
        if !text.is_empty() {
            return Rir::parse(&text).map_err(refuse);
        }
        let text = numbers::with_point("rpe", self.get(Field::Rpe), mark).map_err(&refuse)?;
        if text.is_empty() {
            return Ok(None);
        }
        let rpe = domain::bounds::number("rpe", &text).map_err(&refuse)?;
        if !(0.0..=10.0).contains(&rpe) {
            return Err(Bad::new(
                RefusalClass::Rir,
                format!("rpe `{text}` is out of range: it must be from 0 to 10"),
            ));
        }
        if rpe < LOWEST_RPE {
            return Ok(None);
        }
        Rir::new(10.0 - rpe).map(Some).map_err(|_| {
            Bad::new(
                RefusalClass::Rir,
                format!("rpe `{text}` is between two steps: use whole or half points"),
            )
        })
    }
}

/// The last date that was read: lines of one session follow each other.
#[derive(Default)]
pub(super) struct LastDate {
    text: String,
    time: String,
    when: Option<When>,
}

impl LastDate {
    /// Reads a line's date; refuses one after `last_day`.
    pub(super) fn read(&mut self, cells: &Cells<'_>, last_day: Date) -> Result<When, Bad> {
        let (text, time) = (cells.get(Field::Date), cells.get(Field::Time));
        if let Some(when) = self.when
            && self.text == text
            && self.time == time
        {
            return Ok(when);
        }
        let when = dates::parse(text, time, cells.resolved.date_order)
            .map_err(Bad::of(RefusalClass::Date))?;
        if when.date() > last_day {
            return Err(Bad::new(
                RefusalClass::Date,
                format!("date `{when}` lies in the future: check day, month and year"),
            ));
        }
        text.clone_into(&mut self.text);
        time.clone_into(&mut self.time);
        self.when = Some(when);
        Ok(when)
    }
}

/// Every lifter of a table, by number.
#[derive(Default)]
pub(super) struct Lifters {
    names: Vec<LifterName>,
    by_key: HashMap<String, u32>,
    last: Option<(String, u32)>,
    /// What each has in the table.
    pub(super) counts: Vec<LifterCount>,
}

impl Lifters {
    /// The number of a lifter.
    pub(super) fn find(&mut self, text: &str) -> Result<u32, Bad> {
        if let Some((last, number)) = &self.last
            && last == text
        {
            return Ok(*number);
        }
        let name = LifterName::new(text).map_err(Bad::of(RefusalClass::Lifter))?;
        let next = self.names.len() as u32; // more would not fit into memory
        let number = *self.by_key.entry(name.key()).or_insert(next);
        if number == next {
            self.counts.push(LifterCount::new(name.as_str()));
            self.names.push(name);
        }
        self.last = Some((text.to_owned(), number));
        Ok(number)
    }

    /// A lifter's name, as it was first written.
    pub(super) fn name(&self, number: u32) -> &LifterName {
        &self.names[number as usize]
    }

    /// Counts something of a lifter.
    pub(super) fn add(&mut self, number: u32, date: Date) {
        self.counts[number as usize].add(date);
    }
}

/// Lifts by the spellings that the table has.
#[derive(Default)]
struct Lifts<'a> {
    by_spelling: HashMap<String, (usize, &'a Lift)>,
    last: Option<(String, usize, &'a Lift)>,
    unknown: HashMap<String, UnknownLift>,
}

impl<'a> Lifts<'a> {
    /// A lift and its place in the catalogue.
    fn find(
        &mut self,
        text: &str,
        line: u64,
        catalogue: &'a Catalogue,
    ) -> Result<(usize, &'a Lift), Bad> {
        if let Some((last, idx, lift)) = &self.last
            && last == text
        {
            return Ok((*idx, lift));
        }
        let found = match self.by_spelling.get(text) {
            Some(found) => *found,
            None => self.look_up(text, line, catalogue)?,
        };
        self.last = Some((text.to_owned(), found.0, found.1));
        Ok(found)
    }

    fn look_up(
        &mut self,
        text: &str,
        line: u64,
        catalogue: &'a Catalogue,
    ) -> Result<(usize, &'a Lift), Bad> {
        let name = LiftName::new(text).map_err(Bad::of(RefusalClass::UnknownLift))?;
        let found = catalogue.find(&name).and_then(|lift| {
            catalogue.lifts().iter().position(|other| std::ptr::eq(other, lift)).map(|i| (i, lift))
        });
        let Some(found) = found else { return Err(self.refuse(&name, line, catalogue)) };
        if self.by_spelling.len() >= MAX_SPELLINGS {
            self.by_spelling.clear();
        }
        self.by_spelling.insert(text.to_owned(), found);
        Ok(found)
    }

    fn refuse(&mut self, name: &LiftName, line: u64, catalogue: &Catalogue) -> Bad {
        let key = name.key();
        if !self.unknown.contains_key(&key) && self.unknown.len() >= MAX_UNKNOWN {
            return unknown_lift(name, &[]);
        }
        let entry = self.unknown.entry(key).or_insert_with(|| UnknownLift {
            name: name.to_string(),
            lines: 0,
            first_line: line,
            near: near_lifts(name.as_str(), catalogue),
        });
        entry.lines += 1;
        unknown_lift(name, &entry.near)
    }

    /// The unknown lifts, most lines first.
    fn unknown(self) -> Vec<UnknownLift> {
        let mut unknown: Vec<_> = self.unknown.into_values().collect();
        unknown.sort_by(|a, b| b.lines.cmp(&a.lines).then_with(|| a.name.cmp(&b.name)));
        unknown
    }
}

/// Lifts of the catalogue that may be meant by `name`: found by any spelling, given by their name.
pub fn near_lifts(name: &str, catalogue: &Catalogue) -> Vec<String> {
    let spellings = catalogue
        .lifts()
        .iter()
        .flat_map(|lift| std::iter::once(&lift.name).chain(&lift.also).map(LiftName::as_str));
    let mut near = Vec::new();
    for spelling in nearest(name, spellings) {
        let lift = LiftName::new(&spelling).ok().and_then(|name| catalogue.find(&name));
        let shown = lift.map_or(spelling, |lift| lift.name.to_string());
        if !near.contains(&shown) {
            near.push(shown);
        }
    }
    near
}

fn unknown_lift(name: &LiftName, near: &[String]) -> Bad {
    let cure = match near {
        [] => "give it a `[[lift]]` in a lift file".to_owned(),
        near => {
            let near: Vec<_> = near.iter().map(|name| format!("`{name}`")).collect();
            format!("did you mean {}; else give it a `[[lift]]` in a lift file", near.join(", "))
        }
    };
    Bad::new(RefusalClass::UnknownLift, format!("lift `{name}` is not known: {cure}"))
}
