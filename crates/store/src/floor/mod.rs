//! The gym floor's facts: private links of phones, and the messages that phones have sent.
//!
//! A link is kept as the hash of its token. A message is kept as it came, with both of the phone's
//! times, and with what became of it; its id was made on the phone, so a message that is sent again
//! is recognised. What a message means isn't decided here.

mod write;

pub(crate) use write::{sum_link, sum_message, write_link, write_message};

use std::collections::BTreeMap;

use domain::{CheckInId, LifterName, SetId};
use jiff::Timestamp;
use jiff::civil::Date;
use rusqlite::{Connection, OptionalExtension, Row};

use crate::error::Trouble;
use crate::facts::recording_of;
use crate::writer::{lifter_id, name_of};
use crate::{Store, StoreError};

/// What a private link opens.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Opens {
    /// The lifter's session, on a phone.
    Session,
    /// The lifter's calendar of sessions.
    Calendar,
}

impl Opens {
    /// The word in files.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Opens::Session => "session",
            Opens::Calendar => "calendar",
        }
    }

    /// The thing with this word.
    #[must_use]
    pub fn named(word: &str) -> Option<Opens> {
        [Opens::Session, Opens::Calendar].into_iter().find(|opens| opens.as_str() == word)
    }
}

/// A private link by which a lifter's phone or calendar reaches the desk.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PhoneLink {
    /// Names the link; no secret.
    pub id: [u8; 16],
    /// Whose page it opens.
    pub lifter: LifterName,
    /// SHA-256 of the token.
    pub token_hash: [u8; 32],
    /// What it opens.
    pub opens: Opens,
}

/// A link with its standing.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LinkOnRecord {
    /// The link.
    pub link: PhoneLink,
    /// When it was made.
    pub made: Timestamp,
    /// When it was revoked; none if it opens the page.
    pub revoked: Option<Timestamp>,
}

/// A message from a phone, as it came, and what became of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FloorMessage {
    /// The id that the phone gave it.
    pub id: [u8; 16],
    /// Whose it is.
    pub lifter: LifterName,
    /// The link by which it came.
    pub link: [u8; 16],
    /// The day of the session that the phone had open.
    pub day: Date,
    /// Its kind, as the phone wrote it.
    pub kind: String,
    /// All of it, as the phone wrote it.
    pub body: String,
    /// The phone's clock when it was logged.
    pub logged: Timestamp,
    /// The phone's clock when it was sent.
    pub sent: Timestamp,
    /// What became of it.
    pub outcome: Outcome,
}

/// What became of a message.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// It stands by itself.
    Kept,
    /// A set was recorded, corrected or withdrawn.
    Set(SetId),
    /// A check-in was recorded or withdrawn.
    CheckIn(CheckInId),
    /// Nothing could come of it, and why. The message is kept all the same.
    Refused(String),
}

/// A message with the time at which it was recorded.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MessageOnRecord {
    /// The message.
    pub message: FloorMessage,
    /// The desk's clock when it was recorded.
    pub recorded: Timestamp,
}

const MESSAGE_COLUMNS: &str = "m.seq, f.id, m.lifter, \
                               (SELECT k.id FROM fact k WHERE k.seq = m.link), m.day, m.kind, \
                               m.body, m.logged_us, m.sent_us, m.outcome, m.thing, m.refused, f.recording";

impl Store {
    /// The link whose token has this hash, revoked or not.
    pub fn phone_link(&self, token_hash: &[u8; 32]) -> Result<Option<LinkOnRecord>, StoreError> {
        self.reading(|connection| {
            let mut statement = connection
                .prepare_cached("SELECT max(p.seq) FROM phone_link p WHERE p.token_hash = ?1")?;
            let newest: Option<i64> = statement.query_row([token_hash], |row| row.get(0))?;
            newest.map(|seq| link_on_record(connection, seq)).transpose()
        })
    }

    /// All links of a lifter, the newest first, revoked ones among them.
    pub fn phone_links_of(&self, name: &LifterName) -> Result<Vec<LinkOnRecord>, StoreError> {
        self.reading(|connection| {
            let Some(lifter) = lifter_id(connection, name)? else { return Ok(Vec::new()) };
            let mut statement = connection.prepare_cached(
                "SELECT max(p.seq) FROM phone_link p JOIN fact f ON f.seq = p.seq \
                 WHERE p.lifter = ?1 GROUP BY f.entry ORDER BY f.entry DESC",
            )?;
            let newest: Vec<i64> = statement
                .query_map([lifter], |row| row.get(0))?
                .collect::<rusqlite::Result<_>>()?;
            newest.into_iter().map(|seq| link_on_record(connection, seq)).collect()
        })
    }

    /// The messages of a lifter for the session of a day, in the order in which they were recorded.
    pub fn floor_messages_on(
        &self,
        name: &LifterName,
        day: Date,
    ) -> Result<Vec<MessageOnRecord>, StoreError> {
        self.reading(|connection| {
            let Some(lifter) = lifter_id(connection, name)? else { return Ok(Vec::new()) };
            let mut statement = connection.prepare_cached(&format!(
                "SELECT {MESSAGE_COLUMNS} FROM floor_message m JOIN fact f ON f.seq = m.seq \
                 WHERE m.lifter = ?1 AND m.day = ?2 ORDER BY m.seq"
            ))?;
            let rows = statement
                .query_map((lifter, day.to_string()), MessageRow::read)?
                .collect::<rusqlite::Result<Vec<_>>>()?;
            rows.into_iter().map(|row| row.into_message(connection)).collect()
        })
    }

    /// Of each lifter who has any for a session on or after a day, by [`LifterName::key`]: the session's day
    /// and the kind of the newest message.
    pub fn newest_floor_messages(
        &self,
        since: Date,
    ) -> Result<BTreeMap<String, (Date, String)>, StoreError> {
        self.reading(|connection| {
            let mut statement = connection.prepare_cached(
                "SELECT l.key, m.seq, m.day, m.kind FROM lifter l JOIN floor_message m ON m.seq = \
                 (SELECT max(n.seq) FROM floor_message n WHERE n.lifter = l.id AND n.day >= ?1)",
            )?;
            let mut rows = statement.query([since.to_string()])?;
            let mut newest = BTreeMap::new();
            while let Some(row) = rows.next()? {
                let (seq, day): (i64, String) = (row.get(1)?, row.get(2)?);
                let day = day.parse().map_err(|_| bad(seq, "its day is no date"))?;
                newest.insert(row.get(0)?, (day, row.get(3)?));
            }
            Ok(newest)
        })
    }

    /// How many messages a link has brought that were recorded at a moment or later, and how many bytes they
    /// have.
    pub fn floor_messages_since(
        &self,
        link: &PhoneLink,
        since: Timestamp,
    ) -> Result<(u64, u64), StoreError> {
        self.reading(|connection| {
            let Some(lifter) = lifter_id(connection, &link.lifter)? else { return Ok((0, 0)) };
            let mut statement = connection.prepare_cached(
                "SELECT count(*), coalesce(sum(length(CAST(m.body AS BLOB))), 0) FROM floor_message m \
                 JOIN fact f ON f.seq = m.seq JOIN recording r ON r.id = f.recording \
                 JOIN fact k ON k.seq = m.link \
                 WHERE m.lifter = ?1 AND k.id = ?2 AND r.at_us >= ?3",
            )?;
            let (messages, bytes): (i64, i64) = statement
                .query_row((lifter, link.id, since.as_microsecond()), |row| {
                    Ok((row.get(0)?, row.get(1)?))
                })?;
            Ok((messages.unsigned_abs(), bytes.unsigned_abs()))
        })
    }

    /// The newest messages of a lifter, the newest first, at most `limit`.
    pub fn latest_floor_messages(
        &self,
        name: &LifterName,
        limit: u32,
    ) -> Result<Vec<MessageOnRecord>, StoreError> {
        self.reading(|connection| {
            let Some(lifter) = lifter_id(connection, name)? else { return Ok(Vec::new()) };
            let mut statement = connection.prepare_cached(&format!(
                "SELECT {MESSAGE_COLUMNS} FROM floor_message m JOIN fact f ON f.seq = m.seq \
                 WHERE m.lifter = ?1 ORDER BY m.seq DESC LIMIT ?2"
            ))?;
            let rows = statement
                .query_map((lifter, limit), MessageRow::read)?
                .collect::<rusqlite::Result<Vec<_>>>()?;
            rows.into_iter().map(|row| row.into_message(connection)).collect()
        })
    }
}

/// A link as a version of it says.
pub(crate) fn link_at(connection: &Connection, seq: i64) -> Result<PhoneLink, Trouble> {
    let mut statement = connection.prepare_cached(
        "SELECT f.id, p.lifter, p.token_hash, p.opens FROM phone_link p JOIN fact f ON f.seq = p.seq \
         WHERE p.seq = ?1",
    )?;
    let (id, lifter, token_hash, opens): (Vec<u8>, i64, Vec<u8>, String) = statement
        .query_row([seq], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?)))?;
    Ok(PhoneLink {
        id: sized(&id, seq)?,
        lifter: name_of(connection, lifter)?,
        token_hash: sized(&token_hash, seq)?,
        opens: Opens::named(&opens).ok_or_else(|| bad(seq, "what it opens is not known"))?,
    })
}

/// A message by the number of its fact.
pub(crate) fn message_at(connection: &Connection, seq: i64) -> Result<FloorMessage, Trouble> {
    let mut statement = connection.prepare_cached(&format!(
        "SELECT {MESSAGE_COLUMNS} FROM floor_message m JOIN fact f ON f.seq = m.seq WHERE m.seq = ?1"
    ))?;
    let row = statement.query_row([seq], MessageRow::read)?;
    Ok(row.into_message(connection)?.message)
}

/// The message with this id, if it has come before.
pub(crate) fn message_with_id(
    connection: &Connection,
    id: &[u8; 16],
) -> Result<Option<FloorMessage>, Trouble> {
    let mut statement = connection.prepare_cached(&format!(
        "SELECT {MESSAGE_COLUMNS} FROM fact f JOIN floor_message m ON m.seq = f.seq \
         WHERE f.id = ?1 AND f.kind = 'floor'"
    ))?;
    let row = statement.query_row([id.as_slice()], MessageRow::read).optional()?;
    row.map(|row| Ok(row.into_message(connection)?.message)).transpose()
}

/// All messages of a lifter that made, corrected or withdrew a thing, in the order in which they were
/// recorded.
pub(crate) fn messages_about(
    connection: &Connection,
    name: &LifterName,
    thing: &[u8; 16],
) -> Result<Vec<FloorMessage>, Trouble> {
    let Some(lifter) = lifter_id(connection, name)? else { return Ok(Vec::new()) };
    let mut statement = connection.prepare_cached(&format!(
        "SELECT {MESSAGE_COLUMNS} FROM floor_message m JOIN fact f ON f.seq = m.seq \
         WHERE m.lifter = ?1 AND m.thing = ?2 ORDER BY m.seq"
    ))?;
    let rows = statement
        .query_map((lifter, thing.as_slice()), MessageRow::read)?
        .collect::<rusqlite::Result<Vec<_>>>()?;
    rows.into_iter().map(|row| Ok(row.into_message(connection)?.message)).collect()
}

fn link_on_record(connection: &Connection, seq: i64) -> Result<LinkOnRecord, Trouble> {
    let mut statement = connection.prepare_cached(
        "SELECT f.withdrawn, f.recording, e.recording FROM fact f JOIN fact e ON e.seq = f.entry \
         WHERE f.seq = ?1",
    )?;
    let (withdrawn, newest, first): (bool, i64, i64) =
        statement.query_row([seq], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))?;
    let revoked = withdrawn.then(|| recording_of(connection, newest)).transpose()?;
    Ok(LinkOnRecord {
        link: link_at(connection, seq)?,
        made: recording_of(connection, first)?.at,
        revoked: revoked.map(|recording| recording.at),
    })
}

/// A message as it lies in the file.
struct MessageRow {
    seq: i64,
    id: Vec<u8>,
    lifter: i64,
    link: Vec<u8>,
    day: String,
    kind: String,
    body: String,
    logged_us: i64,
    sent_us: i64,
    outcome: String,
    thing: Option<Vec<u8>>,
    refused: Option<String>,
    recording: i64,
}

impl MessageRow {
    fn read(row: &Row<'_>) -> rusqlite::Result<MessageRow> {
        Ok(MessageRow {
            seq: row.get(0)?,
            id: row.get(1)?,
            lifter: row.get(2)?,
            link: row.get(3)?,
            day: row.get(4)?,
            kind: row.get(5)?,
            body: row.get(6)?,
            logged_us: row.get(7)?,
            sent_us: row.get(8)?,
            outcome: row.get(9)?,
            thing: row.get(10)?,
            refused: row.get(11)?,
            recording: row.get(12)?,
        })
    }

    fn into_message(self, connection: &Connection) -> Result<MessageOnRecord, Trouble> {
        let seq = self.seq;
        // What a phone's clock says may lie beyond any calendar: then it is the last moment of one, and no damage.
        let end = |us: i64| if us < 0 { Timestamp::MIN } else { Timestamp::MAX };
        let at = |us| Timestamp::from_microsecond(us).unwrap_or_else(|_| end(us));
        let thing = || sized(self.thing.as_deref().unwrap_or_default(), seq);
        let outcome = match self.outcome.as_str() {
            "kept" => Outcome::Kept,
            "set" => Outcome::Set(SetId::from_bytes(thing()?)),
            "check-in" => Outcome::CheckIn(CheckInId::from_bytes(thing()?)),
            "refused" => Outcome::Refused(self.refused.clone().unwrap_or_default()),
            other => return Err(bad(seq, &format!("its outcome `{other}` is not known"))),
        };
        let message = FloorMessage {
            id: sized(&self.id, seq)?,
            lifter: name_of(connection, self.lifter)?,
            link: sized(&self.link, seq)?,
            day: self.day.parse().map_err(|_| bad(seq, "its day is no date"))?,
            kind: self.kind,
            body: self.body,
            logged: at(self.logged_us),
            sent: at(self.sent_us),
            outcome,
        };
        let recorded = recording_of(connection, self.recording)?.at;
        Ok(MessageOnRecord { message, recorded })
    }
}

fn sized<const N: usize>(bytes: &[u8], seq: i64) -> Result<[u8; N], Trouble> {
    bytes.try_into().map_err(|_| bad(seq, &format!("{} bytes instead of {N}", bytes.len())))
}

fn bad(seq: i64, reason: &str) -> Trouble {
    Trouble::BadRow { place: format!("the gym floor's fact {seq}"), reason: reason.to_owned() }
}
