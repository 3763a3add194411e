//! Recording what phones send, and the steps of one such transaction: looking at the day's sets,
//! adding one, putting one right, taking one back.

use domain::{CheckInId, LifterName, LoggedSet, SetId};
use jiff::civil::Date;
use rusqlite::{Connection, params};

use super::{FloorMessage, Outcome, PhoneLink, link_at, message_with_id, messages_about};
use crate::StoreError;
use crate::checksum::Checksum;
use crate::error::Trouble;
use crate::history::{correct, withdraw};
use crate::rows::{SET_COLUMNS, SetRow};
use crate::writer::{Entry, Head, ImportInto, Kept, Ledger, lifter_id, name_of};

impl ImportInto<'_> {
    /// Records a link; nothing if it is there already.
    ///
    /// # Errors
    /// [`StoreError::UnknownLifter`].
    pub fn add_phone_link(&mut self, link: &PhoneLink) -> Result<(), StoreError> {
        self.writing(|ledger, at| {
            if newest_link(at, &link.id)?.is_some() {
                return Ok(());
            }
            let seq = ledger.put_entry(at, &first("phone", &link.id), |sum| sum_link(sum, link))?;
            write_link(ledger, at, seq, link)
        })
    }

    /// Takes a link back: whoever has it gets nothing any more. Nothing is recorded if that was done
    /// already.
    ///
    /// # Errors
    /// [`StoreError::NoSuchFact`].
    pub fn revoke_phone_link(&mut self, id: &[u8; 16], reason: &str) -> Result<(), StoreError> {
        self.writing(|ledger, at| {
            let head = newest_link(at, id)?.ok_or_else(|| {
                let id = uuid::Uuid::from_bytes(*id).to_string();
                Trouble::from(StoreError::NoSuchFact { what: "link", id })
            })?;
            if head.withdrawn {
                return Ok(());
            }
            let link = link_at(at, head.seq)?;
            let entry = Entry {
                supersedes: Some(&head),
                withdrawn: true,
                reason,
                ..first("phone", &link.id)
            };
            let seq = ledger.put_entry(at, &entry, |sum| sum_link(sum, &link))?;
            write_link(ledger, at, seq, &link)
        })
    }

    /// The message with this id, if it has come before, earlier in this transaction or long ago.
    pub fn floor_message(&mut self, id: &[u8; 16]) -> Result<Option<FloorMessage>, StoreError> {
        self.writing(|_, at| message_with_id(at, id))
    }

    /// All messages of a lifter that made, corrected or withdrew a set or check-in, in the order in which they
    /// were recorded.
    pub fn floor_messages_about(
        &mut self,
        name: &LifterName,
        thing: &[u8; 16],
    ) -> Result<Vec<FloorMessage>, StoreError> {
        self.writing(|_, at| messages_about(at, name, thing))
    }

    /// Records a message, whose id must be new.
    ///
    /// # Errors
    /// [`StoreError::UnknownLifter`].
    pub fn add_floor_message(&mut self, message: &FloorMessage) -> Result<(), StoreError> {
        self.writing(|ledger, at| {
            ledger.known_lifter_id(at, &message.lifter)?; // before a row is touched
            let entry = first("floor", &message.id);
            let seq = ledger.put_entry(at, &entry, |sum| sum_message(sum, message))?;
            write_message(ledger, at, seq, message)
        })
    }

    /// The lifter's current sets of a day with the ids that corrections keep, by time and then in the
    /// order in which they were first entered.
    pub fn sets_on(
        &mut self,
        name: &LifterName,
        day: Date,
    ) -> Result<Vec<(SetId, LoggedSet)>, StoreError> {
        self.writing(|_, at| sets_on(at, name, day))
    }

    /// The set that has this id, if it is current.
    pub fn set_by_id(&mut self, id: SetId) -> Result<Option<LoggedSet>, StoreError> {
        self.writing(|ledger, at| {
            let found = ledger.find::<LoggedSet>(at, id.as_bytes())?;
            Ok(found.filter(|found| !found.head.withdrawn).map(|found| found.content))
        })
    }

    /// Whether anything, withdrawn or not, was ever recorded where this set would stand.
    pub fn is_place_taken(&mut self, set: &LoggedSet) -> Result<bool, StoreError> {
        self.writing(|ledger, at| Ok(ledger.find::<LoggedSet>(at, &set.place())?.is_some()))
    }

    /// [`crate::Store::correct_set`] within this transaction.
    pub fn correct_set(
        &mut self,
        id: SetId,
        set: &LoggedSet,
        reason: &str,
    ) -> Result<(), StoreError> {
        self.writing(|ledger, at| correct(ledger, at, id.as_bytes(), set, reason))
    }

    /// [`crate::Store::withdraw_set`] within this transaction.
    pub fn withdraw_set(&mut self, id: SetId, reason: &str) -> Result<(), StoreError> {
        self.writing(|ledger, at| withdraw::<LoggedSet>(ledger, at, id.as_bytes(), reason))
    }

    /// [`crate::Store::withdraw_check_in`] within this transaction.
    pub fn withdraw_check_in(&mut self, id: CheckInId, reason: &str) -> Result<(), StoreError> {
        self.writing(|ledger, at| withdraw::<domain::CheckIn>(ledger, at, id.as_bytes(), reason))
    }
}

/// Adds all that a link says to its fact's checksum.
pub(crate) fn sum_link(sum: &mut Checksum, link: &PhoneLink) {
    sum.add(link.lifter.key()).add(link.token_hash.as_slice()).add(link.opens.as_str());
}

/// Adds all that a message says to its fact's checksum.
pub(crate) fn sum_message(sum: &mut Checksum, message: &FloorMessage) {
    let (outcome, thing, refused) = outcome_of(message);
    sum.add(message.lifter.key())
        .add(message.link.as_slice())
        .add(message.day.to_string())
        .add(message.kind.as_str())
        .add(message.body.as_str())
        .add(message.logged.as_microsecond())
        .add(message.sent.as_microsecond())
        .add(outcome)
        .add(thing)
        .add(refused);
}

pub(crate) fn write_link(
    ledger: &mut Ledger,
    at: &Connection,
    seq: i64,
    link: &PhoneLink,
) -> Result<(), Trouble> {
    let lifter = ledger.known_lifter_id(at, &link.lifter)?;
    at.execute(
        "INSERT INTO phone_link (seq, lifter, token_hash, opens) VALUES (?1, ?2, ?3, ?4)",
        params![seq, lifter, link.token_hash, link.opens.as_str()],
    )?;
    Ok(())
}

pub(crate) fn write_message(
    ledger: &mut Ledger,
    at: &Connection,
    seq: i64,
    message: &FloorMessage,
) -> Result<(), Trouble> {
    let lifter = ledger.known_lifter_id(at, &message.lifter)?;
    let (outcome, thing, refused) = outcome_of(message);
    let link = newest_link(at, &message.link)?.ok_or_else(|| {
        let id = uuid::Uuid::from_bytes(message.link).to_string();
        Trouble::from(StoreError::NoSuchFact { what: "link", id })
    })?;
    at.prepare_cached(
        "INSERT INTO floor_message (seq, lifter, link, day, kind, body, logged_us, sent_us, \
         outcome, thing, refused) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11)",
    )?
    .execute(params![
        seq,
        lifter,
        link.entry,
        message.day.to_string(),
        message.kind,
        message.body,
        message.logged.as_microsecond(),
        message.sent.as_microsecond(),
        outcome,
        thing,
        refused,
    ])?;
    Ok(())
}

/// What became of a message as it lies in the file: the word, the thing, the reason.
fn outcome_of(message: &FloorMessage) -> (&'static str, Option<&[u8]>, Option<&str>) {
    match &message.outcome {
        Outcome::Kept => ("kept", None, None),
        Outcome::Set(id) => ("set", Some(id.as_bytes().as_slice()), None),
        Outcome::CheckIn(id) => ("check-in", Some(id.as_bytes().as_slice()), None),
        Outcome::Refused(reason) => ("refused", None, Some(reason.as_str())),
    }
}

fn sets_on(
    at: &Connection,
    name: &LifterName,
    day: Date,
) -> Result<Vec<(SetId, LoggedSet)>, Trouble> {
    let Some(lifter) = lifter_id(at, name)? else { return Ok(Vec::new()) };
    let name = name_of(at, lifter)?;
    let mut statement = at.prepare_cached(&format!(
        "SELECT {SET_COLUMNS}, f.id FROM logged_set s JOIN fact f ON f.seq = s.seq \
         JOIN lift_name l ON l.id = s.lift WHERE s.lifter = ?1 AND s.day = ?2 \
         AND f.withdrawn = 0 AND NOT EXISTS (SELECT 1 FROM fact n WHERE n.supersedes = f.seq) \
         ORDER BY s.time, f.entry"
    ))?;
    let mut rows = statement.query((lifter, day.to_string()))?;
    let mut sets = Vec::new();
    while let Some(row) = rows.next()? {
        let id: [u8; 16] = row.get(11)?;
        sets.push((SetId::from_bytes(id), SetRow::read(row)?.into_set(&name)?));
    }
    Ok(sets)
}

fn newest_link(at: &Connection, id: &[u8; 16]) -> Result<Option<Head>, Trouble> {
    crate::writer::newest_with_id(at, "phone", id)
}

/// The first version of something that has no place of its own.
fn first<'a>(kind: &'static str, id: &'a [u8]) -> Entry<'a> {
    Entry { kind, id, place: None, supersedes: None, withdrawn: false, reason: "" }
}
