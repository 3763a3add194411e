//! Adding facts: what is new, what is known, and what supersedes what.
//!
//! A thing (a set or a check-in) keeps the id of its first version. A correction may move it to
//! another *place* (its natural id: whose, when, which lift, which set). So an id that comes in
//! from outside means, first, whatever stands at that place now, and only then the thing that was
//! first entered there. Rows are inserted and never changed.

mod import;

use std::collections::HashMap;

use domain::{CheckIn, LiftName, Lifter, LifterName, LoggedSet};
use jiff::Timestamp;
use rusqlite::{CachedStatement, Connection, OptionalExtension, Row, params};

use crate::StoreError;
use crate::checksum::{Checksum, digest_with};
use crate::error::Trouble;
use crate::log::renew_mark;
use crate::rows::{
    CHECK_IN_COLUMNS, CheckInRow, LIFTER_COLUMNS, LifterRow, SET_COLUMNS, SetRow, day_and_time,
};
use crate::verify::{HeadOfFact, digest_on_record};

pub use import::{ImportId, ImportInto};

/// What to do when something is already recorded otherwise.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum OnDifference {
    /// Leave the record as it is, and say what it holds.
    Keep,
    /// Let the new content supersede the recorded one.
    Correct,
}

/// What became of something that was to be added.
#[derive(Clone, Debug, PartialEq)]
pub enum Added<T = LoggedSet> {
    /// It was not there and is now.
    New,
    /// The same thing with the same content was there; nothing was added.
    AlreadyThere,
    /// The same thing with other content, given here, was there; nothing was added.
    Differs(Box<T>),
    /// The same thing was there and has been withdrawn by somebody; nothing was added.
    Withdrawn,
    /// The new content has superseded what was there.
    Superseded,
}

/// Something that is recorded in versions under an id that a correction keeps.
pub(crate) trait Kept: Sized + PartialEq {
    /// Its kind in the table of facts.
    const KIND: &'static str;
    /// What a person calls it.
    const WHAT: &'static str;
    /// Its natural id, made from its content.
    fn place(&self) -> [u8; 16];
    fn lifter(&self) -> &LifterName;
    /// Whether both say the same; spelling of names aside.
    fn says_the_same(&self, other: &Self) -> bool;
    /// Adds all that it says to its fact's checksum.
    fn sum(&self, sum: &mut Checksum);
    fn write(&self, ledger: &mut Ledger, at: &Connection, seq: i64) -> Result<(), Trouble>;
    fn load(connection: &Connection, seq: i64) -> Result<Self, Trouble>;
}

/// The newest version of a thing.
pub(crate) struct Found<T> {
    pub(crate) head: Head,
    pub(crate) content: T,
}

/// What is needed of a version to supersede it.
#[derive(Clone, Debug)]
pub(crate) struct Head {
    pub(crate) seq: i64,
    pub(crate) id: Vec<u8>,
    pub(crate) entry: i64,
    pub(crate) withdrawn: bool,
    pub(crate) moved_to: Option<Vec<u8>>,
}

impl Head {
    /// Whether this current version is in force at that place.
    pub(crate) fn stands_at(&self, place: &[u8; 16]) -> bool {
        !self.withdrawn && self.moved_to.as_ref().unwrap_or(&self.id) == place
    }

    pub(crate) const COLUMNS: &str = "f.seq, f.id, f.entry, f.withdrawn, f.place";

    pub(crate) fn read(row: &Row<'_>) -> rusqlite::Result<Head> {
        Ok(Head {
            seq: row.get(0)?,
            id: row.get(1)?,
            entry: row.get(2)?,
            withdrawn: row.get(3)?,
            moved_to: row.get(4)?,
        })
    }
}

/// What a fact says besides its content.
pub(crate) struct Entry<'a> {
    pub(crate) kind: &'static str,
    pub(crate) id: &'a [u8],
    pub(crate) place: Option<&'a [u8]>,
    pub(crate) supersedes: Option<&'a Head>,
    pub(crate) withdrawn: bool,
    pub(crate) reason: &'a str,
}

/// The recording under which a fact is written.
pub(crate) struct RecordedAs<'a> {
    pub(crate) id: i64,
    pub(crate) at_us: i64,
    pub(crate) source: &'a str,
}

/// The state of one writing transaction. Its memory grows with the number of lifters and lifts and
/// not with the number of sets.
pub(crate) struct Ledger {
    source: String,
    at_us: i64,
    pub(crate) recording: Option<i64>,
    last_seq: i64,
    /// How many facts there are with those of this transaction, and their digest.
    digest: (i64, i64),
    /// Whether anything is to be committed.
    has_written: bool,
    any_moved: bool,
    lifters: HashMap<String, i64>,
    lifts: HashMap<String, i64>,
}

impl Ledger {
    /// Looks at where the record ends. The transaction must have begun.
    pub(crate) fn begin(at: &Connection, source: &str, now: Timestamp) -> Result<Ledger, Trouble> {
        let last_seq = at.query_row("SELECT coalesce(max(seq), 0) FROM fact", [], |r| r.get(0))?;
        let moved = "SELECT EXISTS (SELECT 1 FROM fact WHERE place IS NOT NULL)";
        Ok(Ledger {
            source: source.to_owned(),
            at_us: now.as_microsecond(),
            recording: None,
            last_seq,
            digest: digest_on_record(at)?,
            has_written: false,
            any_moved: at.query_row(moved, [], |row| row.get(0))?,
            lifters: HashMap::new(),
            lifts: HashMap::new(),
        })
    }

    /// Adds a set or check-in unless it is there already.
    pub(crate) fn add<T: Kept>(
        &mut self,
        at: &Connection,
        thing: &T,
        on_difference: OnDifference,
    ) -> Result<Added<T>, Trouble> {
        let place = thing.place();
        let Some(found) = self.find::<T>(at, &place)? else {
            self.known_lifter_id(at, thing.lifter())?; // before a row is touched
            let entry = new_entry(T::KIND, &place);
            let seq = self.put_entry(at, &entry, |sum| thing.sum(sum))?;
            thing.write(self, at, seq)?;
            return Ok(Added::New);
        };
        if !found.head.withdrawn && found.content.says_the_same(thing) {
            return Ok(Added::AlreadyThere);
        }
        match on_difference {
            OnDifference::Keep if found.head.withdrawn => Ok(Added::Withdrawn),
            OnDifference::Keep => Ok(Added::Differs(Box::new(found.content))),
            OnDifference::Correct => {
                self.supersede(at, &found.head, thing, false, "read again")?;
                Ok(Added::Superseded)
            }
        }
    }

    /// Lets `thing` supersede the version `head`.
    pub(crate) fn supersede<T: Kept>(
        &mut self,
        at: &Connection,
        head: &Head,
        thing: &T,
        withdrawn: bool,
        reason: &str,
    ) -> Result<(), Trouble> {
        self.known_lifter_id(at, thing.lifter())?; // before a row is touched
        let place = thing.place();
        let moved = head.id != place;
        let entry = Entry {
            kind: T::KIND,
            id: &head.id,
            place: moved.then_some(place.as_slice()),
            supersedes: Some(head),
            withdrawn,
            reason,
        };
        let seq = self.put_entry(at, &entry, |sum| thing.sum(sum))?;
        thing.write(self, at, seq)
    }

    /// What an id from outside means: what stands at that place now, or else what was first entered
    /// there, which may have been withdrawn or moved since.
    pub(crate) fn find<T: Kept>(
        &self,
        at: &Connection,
        id: &[u8; 16],
    ) -> Result<Option<Found<T>>, Trouble> {
        let head = if self.any_moved {
            newest_meant(at, T::KIND, id)?
        } else {
            newest_with_id(at, T::KIND, id)?
        };
        head.map(|head| Ok(Found { content: T::load(at, head.seq)?, head })).transpose()
    }

    /// Adds a version of a lifter; nothing if the newest says the same.
    pub(crate) fn put_lifter(
        &mut self,
        at: &Connection,
        lifter: &Lifter,
    ) -> Result<Added<Lifter>, Trouble> {
        let key = lifter.name.key();
        let head = newest_with_id(at, "lifter", key.as_bytes())?;
        if let Some(head) = &head
            && lifter_at(at, head.seq)? == *lifter
        {
            return Ok(Added::AlreadyThere);
        }
        let mut entry = new_entry("lifter", key.as_bytes());
        entry.supersedes = head.as_ref();
        let seq = self.put_entry(at, &entry, |sum| sum_lifter(sum, lifter))?;
        self.write_lifter(at, seq, lifter)?;
        Ok(if head.is_some() { Added::Superseded } else { Added::New })
    }

    /// Adds a lifter whose name isn't there.
    pub(crate) fn add_lifter_if_missing(
        &mut self,
        at: &Connection,
        lifter: &Lifter,
    ) -> Result<Added<Lifter>, Trouble> {
        match self.lifter_id(at, &lifter.name)? {
            Some(_) => Ok(Added::AlreadyThere),
            None => self.put_lifter(at, lifter),
        }
    }

    /// Adds a lift file's text. The newest text lies on top: a text that was there before is laid on
    /// top again, unless it lies there already.
    pub(crate) fn add_lift_file(
        &mut self,
        at: &Connection,
        text: &str,
    ) -> Result<Added<String>, Trouble> {
        let id = lift_file_id(text);
        let head = newest_with_id(at, "lift-file", &id)?;
        let top: i64 = at
            .prepare_cached("SELECT coalesce(max(seq), 0) FROM lift_file")?
            .query_row([], |row| row.get(0))?;
        if head.as_ref().is_some_and(|head| head.seq == top) {
            return Ok(Added::AlreadyThere);
        }
        let mut entry = new_entry("lift-file", &id);
        entry.supersedes = head.as_ref();
        let seq = self.put_entry(at, &entry, |sum| _ = sum.add(text))?;
        write_lift_file(at, seq, text)?;
        Ok(if head.is_some() { Added::Superseded } else { Added::New })
    }

    /// Adds the common part of a fact, and the recording before the first. `content` adds what the fact says to its
    /// checksum.
    pub(crate) fn put_entry(
        &mut self,
        at: &Connection,
        entry: &Entry<'_>,
        content: impl FnOnce(&mut Checksum),
    ) -> Result<i64, Trouble> {
        let id = match self.recording {
            Some(recording) => recording,
            None => {
                at.execute(
                    "INSERT INTO recording (at_us, source) VALUES (?1, ?2)",
                    params![self.at_us, self.source],
                )?;
                *self.recording.insert(at.last_insert_rowid())
            }
        };
        let source = std::mem::take(&mut self.source);
        let recorded = RecordedAs { id, at_us: self.at_us, source: &source };
        let put = self.put_entry_as(at, entry, self.last_seq + 1, &recorded, content);
        self.source = source;
        put
    }

    /// Adds the common part of a fact under a given number and recording.
    pub(crate) fn put_entry_as(
        &mut self,
        at: &Connection,
        entry: &Entry<'_>,
        seq: i64,
        recorded: &RecordedAs<'_>,
        content: impl FnOnce(&mut Checksum),
    ) -> Result<i64, Trouble> {
        let head = HeadOfFact {
            seq,
            kind: entry.kind,
            id: entry.id,
            place: entry.place,
            entry: entry.supersedes.map_or(seq, |head| head.entry),
            supersedes: entry.supersedes.map(|head| head.seq),
            withdrawn: entry.withdrawn,
            reason: entry.reason,
            recording: recorded.id,
            at_us: recorded.at_us,
            source: recorded.source,
        };
        let mut sum = head.begin_checksum();
        content(&mut sum);
        let checksum = sum.finish();
        at.prepare_cached(
            "INSERT INTO fact (seq, recording, kind, id, place, entry, supersedes, withdrawn, \
             reason, checksum) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10)",
        )?
        .execute(params![
            head.seq,
            head.recording,
            head.kind,
            head.id,
            head.place,
            head.entry,
            head.supersedes,
            head.withdrawn,
            head.reason,
            checksum,
        ])?;
        self.any_moved |= entry.place.is_some();
        self.last_seq = seq;
        self.digest = (self.digest.0 + 1, digest_with(self.digest.1, checksum));
        self.has_written = true;
        Ok(seq)
    }

    /// The last step before a commit: the record's new digest and mark, if anything was written.
    pub(crate) fn seal(&mut self, at: &Connection) -> Result<(), Trouble> {
        if std::mem::replace(&mut self.has_written, false) {
            at.prepare_cached("UPDATE record_mark SET n_facts = ?1, digest = ?2")?
                .execute(self.digest)?;
            renew_mark(at)?;
        }
        Ok(())
    }

    pub(crate) fn last_seq(&self) -> i64 {
        self.last_seq
    }

    pub(crate) fn write_lifter(
        &mut self,
        at: &Connection,
        seq: i64,
        lifter: &Lifter,
    ) -> Result<(), Trouble> {
        let id = match self.lifter_id(at, &lifter.name)? {
            Some(id) => id,
            None => {
                let key = lifter.name.key();
                at.execute("INSERT INTO lifter (key) VALUES (?1)", params![key])?;
                *self.lifters.entry(key).or_insert(at.last_insert_rowid())
            }
        };
        let limits = &lifter.limits;
        at.prepare_cached(
            "INSERT INTO lifter_settings (seq, lifter, name, unit, bar_g, collars_g, pain, \
             shortfall_pct, cut_for_nothing, trained_through) \
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10)",
        )?
        .execute(params![
            seq,
            id,
            lifter.name.as_str(),
            lifter.unit.as_str(),
            lifter.bar.mass.grams(),
            lifter.bar.collars.grams(),
            limits.pain(),
            limits.shortfall_pct(),
            limits.cut_for_nothing(),
            limits.trained_through(),
        ])?;
        let mut plate =
            at.prepare_cached("INSERT INTO lifter_plate (seq, mass_g, pairs) VALUES (?1, ?2, ?3)")?;
        for (mass, pairs) in lifter.plates.pairs() {
            plate.execute(params![seq, mass.grams(), pairs])?;
        }
        Ok(())
    }

    fn lifter_id(&mut self, at: &Connection, name: &LifterName) -> Result<Option<i64>, Trouble> {
        let key = name.key();
        if let Some(id) = self.lifters.get(&key) {
            return Ok(Some(*id));
        }
        let id = lifter_id(at, name)?;
        if let Some(id) = id {
            self.lifters.insert(key, id);
        }
        Ok(id)
    }

    /// The number of a lifter, who must be there.
    pub(crate) fn known_lifter_id(
        &mut self,
        at: &Connection,
        name: &LifterName,
    ) -> Result<i64, Trouble> {
        self.lifter_id(at, name)?
            .ok_or_else(|| StoreError::UnknownLifter { name: name.to_string() }.into())
    }

    fn lift_id(&mut self, at: &Connection, name: &LiftName) -> Result<i64, Trouble> {
        if let Some(id) = self.lifts.get(name.as_str()) {
            return Ok(*id);
        }
        let known: Option<i64> = at
            .query_row("SELECT id FROM lift_name WHERE name = ?1", [name.as_str()], |r| r.get(0))
            .optional()?;
        let id = match known {
            Some(id) => id,
            None => {
                at.execute("INSERT INTO lift_name (name) VALUES (?1)", [name.as_str()])?;
                at.last_insert_rowid()
            }
        };
        self.lifts.insert(name.as_str().to_owned(), id);
        Ok(id)
    }
}

impl Kept for LoggedSet {
    const KIND: &'static str = "set";
    const WHAT: &'static str = "set";

    fn place(&self) -> [u8; 16] {
        *self.id().as_bytes()
    }

    fn lifter(&self) -> &LifterName {
        &self.lifter
    }

    fn says_the_same(&self, other: &LoggedSet) -> bool {
        (self.when, self.number) == (other.when, other.number)
            && self.lift.key() == other.lift.key()
            && self.lifter.key() == other.lifter.key()
            && (self.kind, self.load, self.reps, self.rir)
                == (other.kind, other.load, other.reps, other.rir)
            && self.note == other.note
    }

    fn sum(&self, sum: &mut Checksum) {
        let (day, time) = day_and_time(self.when);
        sum.add(self.lifter.key())
            .add(self.lift.as_str())
            .add(day)
            .add(time)
            .add(self.number.get())
            .add(self.kind.as_str())
            .add(self.load.grams())
            .add(self.load.unit().as_str())
            .add(self.reps.get())
            .add(self.rir.map(halves))
            .add(self.note.as_str());
    }

    fn write(&self, ledger: &mut Ledger, at: &Connection, seq: i64) -> Result<(), Trouble> {
        let lifter = ledger.known_lifter_id(at, &self.lifter)?;
        let lift = ledger.lift_id(at, &self.lift)?;
        let (day, time) = day_and_time(self.when);
        at.prepare_cached(
            "INSERT INTO logged_set (seq, lifter, lift, day, time, number, kind, load_g, unit, \
             reps, rir_halves, note) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12)",
        )?
        .execute(params![
            seq,
            lifter,
            lift,
            day,
            time,
            self.number.get(),
            self.kind.as_str(),
            self.load.grams(),
            self.load.unit().as_str(),
            self.reps.get(),
            self.rir.map(halves),
            self.note.as_str(),
        ])?;
        Ok(())
    }

    fn load(connection: &Connection, seq: i64) -> Result<LoggedSet, Trouble> {
        let mut statement = connection.prepare_cached(&format!(
            "SELECT {SET_COLUMNS}, s.lifter FROM logged_set s JOIN lift_name l ON l.id = s.lift \
             WHERE s.seq = ?1"
        ))?;
        let (row, lifter) =
            statement.query_row([seq], |row| Ok((SetRow::read(row)?, row.get(11)?)))?;
        row.into_set(&name_of(connection, lifter)?)
    }
}

impl Kept for CheckIn {
    const KIND: &'static str = "check-in";
    const WHAT: &'static str = "check-in";

    fn place(&self) -> [u8; 16] {
        *self.id().as_bytes()
    }

    fn lifter(&self) -> &LifterName {
        &self.lifter
    }

    fn says_the_same(&self, other: &CheckIn) -> bool {
        self.when == other.when
            && self.lifter.key() == other.lifter.key()
            && (self.sleep_h, self.stress, self.soreness)
                == (other.sleep_h, other.stress, other.soreness)
            && (self.body_mass, self.pain) == (other.body_mass, other.pain)
    }

    fn sum(&self, sum: &mut Checksum) {
        let (day, time) = day_and_time(self.when);
        sum.add(self.lifter.key())
            .add(day)
            .add(time)
            .add(self.sleep_h)
            .add(self.stress)
            .add(self.soreness)
            .add(self.body_mass.map(|mass| mass.grams()))
            .add(self.pain.map(|pain| pain.joint.key()))
            .add(self.pain.map(|pain| pain.rating()));
    }

    fn write(&self, ledger: &mut Ledger, at: &Connection, seq: i64) -> Result<(), Trouble> {
        let lifter = ledger.known_lifter_id(at, &self.lifter)?;
        let (day, time) = day_and_time(self.when);
        at.prepare_cached(
            "INSERT INTO check_in (seq, lifter, day, time, sleep_h, stress, soreness, \
             body_mass_g, pain_joint, pain_rating) \
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10)",
        )?
        .execute(params![
            seq,
            lifter,
            day,
            time,
            self.sleep_h,
            self.stress,
            self.soreness,
            self.body_mass.map(|mass| mass.grams()),
            self.pain.map(|pain| pain.joint.key()),
            self.pain.map(|pain| pain.rating()),
        ])?;
        Ok(())
    }

    fn load(connection: &Connection, seq: i64) -> Result<CheckIn, Trouble> {
        let mut statement = connection.prepare_cached(&format!(
            "SELECT {CHECK_IN_COLUMNS}, c.lifter FROM check_in c WHERE c.seq = ?1"
        ))?;
        let (row, lifter) =
            statement.query_row([seq], |row| Ok((CheckInRow::read(row)?, row.get(9)?)))?;
        row.into_check_in(&name_of(connection, lifter)?)
    }
}

/// Half repetitions in reserve: 0 to 20, whole.
fn halves(rir: domain::Rir) -> u8 {
    (rir.get() * 2.0) as u8
}

/// Adds all that a lifter's settings say to their fact's checksum.
pub(crate) fn sum_lifter(sum: &mut Checksum, lifter: &Lifter) {
    let limits = &lifter.limits;
    let mut pairs = lifter.plates.pairs().to_vec();
    pairs.sort_unstable_by_key(|(mass, _)| *mass);
    let plates: Vec<String> =
        pairs.iter().map(|(mass, pairs)| format!("{}:{pairs}", mass.grams())).collect();
    sum.add(lifter.name.key())
        .add(lifter.name.as_str())
        .add(lifter.unit.as_str())
        .add(lifter.bar.mass.grams())
        .add(lifter.bar.collars.grams())
        .add(limits.pain())
        .add(limits.shortfall_pct())
        .add(limits.cut_for_nothing())
        .add(limits.trained_through())
        .add((!plates.is_empty()).then(|| plates.join(" ")));
}

/// The number of a lifter in this file.
pub(crate) fn lifter_id(at: &Connection, name: &LifterName) -> Result<Option<i64>, Trouble> {
    let mut statement = at.prepare_cached("SELECT id FROM lifter WHERE key = ?1")?;
    Ok(statement.query_row([name.key()], |row| row.get(0)).optional()?)
}

/// The lifter's name as it was written last.
pub(crate) fn name_of(connection: &Connection, lifter: i64) -> Result<LifterName, Trouble> {
    let mut statement = connection.prepare_cached(
        "SELECT name FROM lifter_settings WHERE lifter = ?1 ORDER BY seq DESC LIMIT 1",
    )?;
    let name: String = statement.query_row([lifter], |row| row.get(0))?;
    LifterName::new(&name).map_err(crate::rows::bad_row("lifter", lifter))
}

/// One version of a lifter.
pub(crate) fn lifter_at(connection: &Connection, seq: i64) -> Result<Lifter, Trouble> {
    let mut statement = connection.prepare_cached(&format!(
        "SELECT {LIFTER_COLUMNS} FROM lifter_settings p WHERE seq = ?1"
    ))?;
    statement.query_row([seq], LifterRow::read)?.into_lifter(connection)
}

/// The id of a lift file: made from its text.
pub(crate) fn lift_file_id(text: &str) -> [u8; 16] {
    *uuid::Uuid::new_v5(&uuid::Uuid::NAMESPACE_OID, text.as_bytes()).as_bytes()
}

pub(crate) fn write_lift_file(at: &Connection, seq: i64, text: &str) -> Result<(), Trouble> {
    at.execute("INSERT INTO lift_file (seq, text) VALUES (?1, ?2)", params![seq, text])?;
    Ok(())
}

/// The first version of something that stands where its id says.
fn new_entry<'a>(kind: &'static str, id: &'a [u8]) -> Entry<'a> {
    Entry { kind, id, place: None, supersedes: None, withdrawn: false, reason: "" }
}

/// The newest version of what an id from outside means: see [`Ledger::find`].
pub(crate) fn newest_meant(
    at: &Connection,
    kind: &str,
    id: &[u8; 16],
) -> Result<Option<Head>, Trouble> {
    let by_id = newest_with_id(at, kind, id)?;
    if by_id.as_ref().is_some_and(|head| head.stands_at(id)) {
        return Ok(by_id);
    }
    Ok(moved_to(at, kind, id)?.or(by_id))
}

pub(crate) fn newest_with_id(
    at: &Connection,
    kind: &str,
    id: &[u8],
) -> Result<Option<Head>, Trouble> {
    let mut statement: CachedStatement<'_> = at.prepare_cached(
        "SELECT f.seq, f.id, f.entry, f.withdrawn, f.place FROM fact f \
         WHERE f.id = ?1 AND f.kind = ?2 ORDER BY f.seq DESC LIMIT 1",
    )?;
    Ok(statement.query_row(params![id, kind], Head::read).optional()?)
}

/// The current version that a correction has moved to this place.
fn moved_to(at: &Connection, kind: &str, place: &[u8]) -> Result<Option<Head>, Trouble> {
    let mut statement = at.prepare_cached(
        "SELECT f.seq, f.id, f.entry, f.withdrawn, f.place FROM fact f \
         WHERE f.place = ?1 AND f.kind = ?2 AND f.withdrawn = 0 \
         AND NOT EXISTS (SELECT 1 FROM fact n WHERE n.supersedes = f.seq)",
    )?;
    Ok(statement.query_row(params![place, kind], Head::read).optional()?)
}
