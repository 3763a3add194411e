//! Every version of everything, for an export and for putting it back.
//!
//! An export followed by a restore into a new store gives the same record: numbers, recordings,
//! reasons and superseded versions included. How facts are written to a file is not decided here.

use domain::{CheckIn, CheckInId, Lifter, LoggedSet, SetId};
use jiff::Timestamp;
use rusqlite::{Connection, OptionalExtension, params};

use crate::checksum::Checksum;
use crate::error::Trouble;
use crate::floor::{
    FloorMessage, PhoneLink, link_at, message_at, sum_link, sum_message, write_link, write_message,
};
use crate::history::Standing;
use crate::plan_change::{self, PlanChange, plan_change_at, sum_plan_change, write_plan_change};
use crate::programme::{self, LifterProgramme, programme_at, sum_programme, write_programme};
use crate::writer::{
    Added, Entry, Head, ImportId, Kept, Ledger, RecordedAs, lift_file_id, lifter_at, sum_lifter,
    write_lift_file,
};
use crate::{Store, StoreError};

/// An import, or one act at the desk, under which facts were recorded.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Recording {
    /// Its number.
    pub id: ImportId,
    /// When, to the microsecond.
    pub at: Timestamp,
    /// From where: a log's name, or what was done.
    pub source: String,
}

/// One version of one thing.
#[derive(Clone, Debug, PartialEq)]
pub struct Fact {
    /// Its number, in the order of recording, from 1.
    pub seq: u64,
    /// The import or act that brought it.
    pub recording: Recording,
    /// The number of the version that it supersedes.
    pub supersedes: Option<u64>,
    /// Whether it says something or takes it back.
    pub standing: Standing,
    /// Why it was corrected or withdrawn; empty for a first version.
    pub reason: String,
    /// What it says.
    pub thing: Thing,
}

/// Whose record some facts change.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Touched {
    /// That of these lifters, each by [`domain::LifterName::key`].
    These(Vec<String>),
    /// Perhaps that of anybody: a lift file is among the facts, or there are too many to look at.
    Everybody,
}

/// So many new facts are looked at one by one; more are an import.
const FEW: i64 = 10_000;

/// What a fact is about. A set or check-in has the id of its first version, which a correction keeps
/// even where it changes what the id was made from.
#[derive(Clone, Debug, PartialEq)]
pub enum Thing {
    /// A lifter's settings.
    Lifter(Lifter),
    /// The text of a lift file.
    LiftFile(String),
    /// A set.
    Set(SetId, LoggedSet),
    /// A check-in.
    CheckIn(CheckInId, CheckIn),
    /// A private link of a phone.
    PhoneLink(PhoneLink),
    /// A message from a phone.
    FloorMessage(FloorMessage),
    /// A lifter's programme.
    Programme(LifterProgramme),
    /// A change of a lifter's plan for some days.
    PlanChange(PlanChange),
}

pub(crate) const FACT_COLUMNS: &str =
    "f.seq, f.id, f.entry, f.withdrawn, f.place, f.reason, f.recording, f.kind, f.supersedes";

impl Store {
    /// Hands every fact to `take`, in the order of recording, all from one state of the record.
    /// Ends with the first error of `take`, which may be any type that a [`StoreError`] becomes.
    pub fn for_each_fact<E: From<StoreError>>(
        &self,
        mut take: impl FnMut(Fact) -> Result<(), E>,
    ) -> Result<(), E> {
        let mut refused = None;
        self.reading(|connection| {
            each_fact(connection, |fact| match take(fact) {
                Ok(()) => true,
                Err(error) => {
                    refused = Some(error);
                    false
                }
            })
        })?;
        refused.map_or(Ok(()), Err)
    }

    /// The number of the newest fact, 0 if there is none. It grows with every fact, and reading it
    /// takes the same short time however long the record is.
    pub fn newest_fact(&self) -> Result<u64, StoreError> {
        self.reading(|connection| {
            let seq: Option<i64> =
                connection.query_row("SELECT max(seq) FROM fact", [], |row| row.get(0))?;
            Ok(seq.unwrap_or(0).unsigned_abs())
        })
    }

    /// Whose settings, sets, check-ins, programme or plan have changed by facts after the one with this number.
    pub fn touched_since(&self, seq: u64) -> Result<Touched, StoreError> {
        self.reading(|connection| {
            let mut others = connection.prepare_cached(
                "SELECT count(*), count(*) FILTER (WHERE kind NOT IN \
                 ('lifter', 'set', 'check-in', 'programme', 'plan-change', 'phone', 'floor')) \
                 FROM fact WHERE seq > ?1",
            )?;
            let after = i64::try_from(seq).unwrap_or(i64::MAX);
            let (n, n_others): (i64, i64) =
                others.query_row([after], |row| Ok((row.get(0)?, row.get(1)?)))?;
            if n > FEW || n_others > 0 {
                return Ok(Touched::Everybody);
            }
            // A withdrawal may say nothing but which thing it takes back.
            let mut whose = connection.prepare_cached(
                "WITH new (seq) AS (SELECT seq FROM fact WHERE seq > ?1 \
                   UNION SELECT entry FROM fact WHERE seq > ?1) \
                 SELECT key FROM lifter WHERE id IN ( \
                   SELECT lifter FROM logged_set WHERE seq IN (SELECT seq FROM new) \
                   UNION SELECT lifter FROM check_in WHERE seq IN (SELECT seq FROM new) \
                   UNION SELECT lifter FROM lifter_settings WHERE seq IN (SELECT seq FROM new) \
                   UNION SELECT lifter FROM programme WHERE seq IN (SELECT seq FROM new) \
                   UNION SELECT lifter FROM plan_change WHERE seq IN (SELECT seq FROM new))",
            )?;
            let keys = whose.query_map([after], |row| row.get(0))?;
            Ok(Touched::These(keys.collect::<rusqlite::Result<_>>()?))
        })
    }

    /// How many facts there are.
    pub fn n_facts(&self) -> Result<u64, StoreError> {
        self.reading(|connection| {
            let n: i64 = connection.query_row("SELECT count(*) FROM fact", [], |row| row.get(0))?;
            Ok(n.unsigned_abs())
        })
    }
}

/// Hands every fact to `take`, in the order of recording, until it answers no.
pub(crate) fn each_fact(
    connection: &Connection,
    mut take: impl FnMut(Fact) -> bool,
) -> Result<(), Trouble> {
    let mut statement =
        connection.prepare(&format!("SELECT {FACT_COLUMNS} FROM fact f ORDER BY f.seq"))?;
    let mut rows = statement.query([])?;
    let mut recording = None;
    while let Some(row) = rows.next()? {
        if !take(read_fact(connection, row, &mut recording)?) {
            break;
        }
    }
    Ok(())
}

/// Puts one fact back; see [`crate::ImportInto::restore_fact`].
pub(crate) fn restore(
    ledger: &mut Ledger,
    at: &Connection,
    fact: &Fact,
) -> Result<Added<Fact>, Trouble> {
    let seq = i64::try_from(fact.seq).map_err(|_| cannot(fact, "its number is out of range"))?;
    if let Some(there) = fact_at(at, seq)? {
        return if there == *fact {
            Ok(Added::AlreadyThere)
        } else {
            Err(cannot(fact, "another fact has this number"))
        };
    }
    if seq <= ledger.last_seq() {
        return Err(cannot(fact, "later facts are there already"));
    }
    let superseded = superseded_by(at, fact)?;
    let (kind, id, place) = named(fact, superseded.as_ref())?;
    refuse_unknown_lifter(ledger, at, fact)?;
    restore_recording(at, fact)?;
    let entry = Entry {
        kind,
        place: place.as_ref().map(<[u8; 16]>::as_slice),
        id: &id,
        supersedes: superseded.as_ref(),
        withdrawn: fact.standing == Standing::Withdrawn,
        reason: &fact.reason,
    };
    let recorded = RecordedAs {
        id: fact.recording.id.0,
        at_us: fact.recording.at.as_microsecond(),
        source: &fact.recording.source,
    };
    ledger.put_entry_as(at, &entry, seq, &recorded, |sum| sum_thing(sum, &fact.thing))?;
    match &fact.thing {
        Thing::Lifter(lifter) => ledger.write_lifter(at, seq, lifter)?,
        Thing::LiftFile(text) => write_lift_file(at, seq, text)?,
        Thing::Set(_, set) => set.write(ledger, at, seq)?,
        Thing::CheckIn(_, check_in) => check_in.write(ledger, at, seq)?,
        Thing::PhoneLink(link) => write_link(ledger, at, seq, link)?,
        Thing::FloorMessage(message) => write_message(ledger, at, seq, message)?,
        Thing::Programme(programme) => write_programme(ledger, at, seq, programme)?,
        Thing::PlanChange(change) => write_plan_change(ledger, at, seq, change)?,
    }
    Ok(Added::New)
}

fn sum_thing(sum: &mut Checksum, thing: &Thing) {
    match thing {
        Thing::Lifter(lifter) => sum_lifter(sum, lifter),
        Thing::LiftFile(text) => _ = sum.add(text.as_str()),
        Thing::Set(_, set) => set.sum(sum),
        Thing::CheckIn(_, check_in) => check_in.sum(sum),
        Thing::PhoneLink(link) => sum_link(sum, link),
        Thing::FloorMessage(message) => sum_message(sum, message),
        Thing::Programme(programme) => sum_programme(sum, programme),
        Thing::PlanChange(change) => sum_plan_change(sum, change),
    }
}

/// One recording.
pub(crate) fn recording_of(connection: &Connection, id: i64) -> Result<Recording, Trouble> {
    recording_if_any(connection, id)?.ok_or_else(|| Trouble::BadRow {
        place: format!("table `recording`, row {id}"),
        reason: "it is missing".to_owned(),
    })
}

fn recording_if_any(connection: &Connection, id: i64) -> Result<Option<Recording>, Trouble> {
    let mut statement =
        connection.prepare_cached("SELECT at_us, source FROM recording WHERE id = ?1")?;
    let row: Option<(i64, String)> =
        statement.query_row([id], |row| Ok((row.get(0)?, row.get(1)?))).optional()?;
    row.map(|(at_us, source)| {
        let at = Timestamp::from_microsecond(at_us).map_err(|error| Trouble::BadRow {
            place: format!("table `recording`, row {id}"),
            reason: error.to_string(),
        })?;
        Ok(Recording { id: ImportId(id), at, source })
    })
    .transpose()
}

fn fact_at(connection: &Connection, seq: i64) -> Result<Option<Fact>, Trouble> {
    let mut statement = connection
        .prepare_cached(&format!("SELECT {FACT_COLUMNS} FROM fact f WHERE f.seq = ?1"))?;
    let mut rows = statement.query([seq])?;
    rows.next()?.map(|row| read_fact(connection, row, &mut None)).transpose()
}

/// One fact from a row of [`FACT_COLUMNS`]; `recording` is that of the row before.
pub(crate) fn read_fact(
    connection: &Connection,
    row: &rusqlite::Row<'_>,
    recording: &mut Option<Recording>,
) -> Result<Fact, Trouble> {
    let head = Head::read(row)?;
    let recording_id: i64 = row.get(6)?;
    let recording = match recording {
        Some(known) if known.id.0 == recording_id => known.clone(),
        other => other.insert(recording_of(connection, recording_id)?).clone(),
    };
    let kind: String = row.get(7)?;
    let supersedes: Option<i64> = row.get(8)?;
    Ok(Fact {
        seq: head.seq.unsigned_abs(),
        recording,
        supersedes: supersedes.map(i64::unsigned_abs),
        standing: Standing::of(head.withdrawn),
        reason: row.get(5)?,
        thing: read_thing(connection, &kind, &head)?,
    })
}

fn read_thing(connection: &Connection, kind: &str, head: &Head) -> Result<Thing, Trouble> {
    let id = || {
        <[u8; 16]>::try_from(head.id.as_slice()).map_err(|_| Trouble::BadRow {
            place: format!("table `fact`, row {}", head.seq),
            reason: format!("its id has {} bytes instead of 16", head.id.len()),
        })
    };
    match kind {
        "set" => Ok(Thing::Set(SetId::from_bytes(id()?), LoggedSet::load(connection, head.seq)?)),
        "check-in" => {
            Ok(Thing::CheckIn(CheckInId::from_bytes(id()?), CheckIn::load(connection, head.seq)?))
        }
        "phone" => Ok(Thing::PhoneLink(link_at(connection, head.seq)?)),
        "floor" => Ok(Thing::FloorMessage(message_at(connection, head.seq)?)),
        programme::KIND => Ok(Thing::Programme(programme_at(connection, head.seq)?)),
        plan_change::KIND => Ok(Thing::PlanChange(plan_change_at(connection, head.seq)?)),
        "lifter" => Ok(Thing::Lifter(lifter_at(connection, head.seq)?)),
        "lift-file" => {
            let mut statement =
                connection.prepare_cached("SELECT text FROM lift_file WHERE seq = ?1")?;
            Ok(Thing::LiftFile(statement.query_row([head.seq], |row| row.get(0))?))
        }
        other => Err(Trouble::BadRow {
            place: format!("table `fact`, row {}", head.seq),
            reason: format!("its kind `{other}` is not known"),
        }),
    }
}

/// The version that a fact supersedes, which must be the newest of its thing.
fn superseded_by(at: &Connection, fact: &Fact) -> Result<Option<Head>, Trouble> {
    let Some(superseded) = fact.supersedes else { return Ok(None) };
    let seq = superseded.cast_signed();
    let mut statement = at.prepare_cached(&format!(
        "SELECT {} FROM fact f WHERE f.seq = ?1 \
         AND NOT EXISTS (SELECT 1 FROM fact n WHERE n.supersedes = f.seq)",
        Head::COLUMNS
    ))?;
    let head = statement.query_row([seq], Head::read).optional()?;
    let missing = || cannot(fact, "the version that it supersedes is missing or superseded");
    head.map(Some).ok_or_else(missing)
}

/// The kind and id under which a fact is kept, and its place if that is another.
type Named = (&'static str, Vec<u8>, Option<[u8; 16]>);

fn named(fact: &Fact, superseded: Option<&Head>) -> Result<Named, Trouble> {
    let moved = |id: &[u8; 16], place: [u8; 16]| (*id != place).then_some(place);
    let named = match &fact.thing {
        Thing::Lifter(lifter) => ("lifter", lifter.name.key().into_bytes(), None),
        Thing::LiftFile(text) => ("lift-file", lift_file_id(text).to_vec(), None),
        Thing::Set(id, set) => ("set", id.as_bytes().to_vec(), moved(id.as_bytes(), set.place())),
        Thing::CheckIn(id, check_in) => {
            ("check-in", id.as_bytes().to_vec(), moved(id.as_bytes(), check_in.place()))
        }
        Thing::PhoneLink(link) => ("phone", link.id.to_vec(), None),
        Thing::FloorMessage(message) => ("floor", message.id.to_vec(), None),
        Thing::Programme(programme) => (programme::KIND, programme.lifter.key().into_bytes(), None),
        Thing::PlanChange(change) => (plan_change::KIND, change.id.to_vec(), None),
    };
    match superseded {
        Some(head) if head.id != named.1 => {
            Err(cannot(fact, "it supersedes a version of something else"))
        }
        None if named.2.is_some() => Err(cannot(fact, "its id doesn't belong to its content")),
        _ => Ok(named),
    }
}

fn refuse_unknown_lifter(ledger: &mut Ledger, at: &Connection, fact: &Fact) -> Result<(), Trouble> {
    match &fact.thing {
        Thing::PhoneLink(link) => ledger.known_lifter_id(at, &link.lifter).map(|_| ()),
        Thing::FloorMessage(message) => ledger.known_lifter_id(at, &message.lifter).map(|_| ()),
        Thing::Set(_, set) => ledger.known_lifter_id(at, &set.lifter).map(|_| ()),
        Thing::CheckIn(_, check_in) => ledger.known_lifter_id(at, &check_in.lifter).map(|_| ()),
        Thing::Programme(programme) => ledger.known_lifter_id(at, &programme.lifter).map(|_| ()),
        Thing::PlanChange(change) => ledger.known_lifter_id(at, &change.lifter).map(|_| ()),
        Thing::Lifter(_) | Thing::LiftFile(_) => Ok(()),
    }
}

fn restore_recording(at: &Connection, fact: &Fact) -> Result<(), Trouble> {
    let recording = &fact.recording;
    match recording_if_any(at, recording.id.0)? {
        Some(there) if there == *recording => Ok(()),
        Some(_) => Err(cannot(fact, "another recording has its recording's number")),
        None => {
            at.execute(
                "INSERT INTO recording (id, at_us, source) VALUES (?1, ?2, ?3)",
                params![recording.id.0, recording.at.as_microsecond(), recording.source],
            )?;
            Ok(())
        }
    }
}

fn cannot(fact: &Fact, reason: &str) -> Trouble {
    StoreError::CannotRestore { seq: fact.seq, reason: reason.to_owned() }.into()
}
