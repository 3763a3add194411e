//! Taking what a phone sends: each message once, all of a batch durably, then the confirmation.
//!
//! A set becomes a set of the record, undoing it a withdrawal, pain and check-in become check-ins;
//! the message itself is kept as it came beside them. What can't be understood is kept too, and the
//! phone is told why nothing came of it. A phone's clock may be wrong: what counts is how long before
//! the sending something was logged, taken from the desk's clock.

use domain::{Catalogue, CheckIn, LoggedSet, Note, SetNumber, When};
use jiff::Timestamp;
use jiff::tz::TimeZone;
use serde_json::value::RawValue;
use store::{FloorMessage, ImportInto, OnDifference, Outcome, PhoneLink, StoreError};

use super::message::{Addressed, Batch, Done, Envelope, Said, said};
use super::numbering::add_in_time;
use crate::person::catalogue;
use crate::{Desk, ServiceError};

/// The most messages in one batch.
const MOST_MESSAGES: usize = 500;

/// The answer to a batch.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize)]
pub struct Taken {
    /// One for each message, in their order.
    pub confirmed: Vec<Confirmed>,
}

/// A message that is on record.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize)]
pub struct Confirmed {
    /// The id that the phone gave it.
    pub id: String,
    /// Why nothing came of it; the message is kept all the same.
    pub refused: Option<String>,
}

impl Desk {
    /// Takes a batch from the phone behind `link`, whose text is JSON. When this returns, all of it is
    /// on the disk; after an error none of it is.
    ///
    /// # Errors
    /// [`ServiceError::Floor`] if the batch can't be read; the store has trouble.
    pub fn take_from_phone(
        &self,
        link: &PhoneLink,
        batch: &str,
        now: Timestamp,
        zone: &TimeZone,
    ) -> Result<Taken, ServiceError> {
        let unreadable = |reason: String| ServiceError::Floor { reason };
        let batch: Batch = serde_json::from_str(batch)
            .map_err(|error| unreadable(format!("it is no batch of messages: {error}")))?;
        if batch.messages.len() > MOST_MESSAGES {
            let n = batch.messages.len();
            return Err(unreadable(format!(
                "it has {n} messages and {MOST_MESSAGES} are the most: send it in parts"
            )));
        }
        let sent = Timestamp::from_millisecond(batch.sent)
            .map_err(|error| unreadable(format!("`sent` is no time: {error}")))?;
        let mut addressed = Vec::new();
        for (place, body) in batch.messages.into_iter().enumerate() {
            let envelope: Envelope = serde_json::from_str(body.get())
                .map_err(|error| unreadable(format!("message {}: {error}", place + 1)))?;
            let to = envelope.checked();
            addressed
                .push((to.map_err(|e| unreadable(format!("message {}: {e}", place + 1)))?, body));
        }
        let lifts = catalogue(self.store())?;
        let mut into = self.store().begin_import("a phone on the gym floor", now)?;
        let desk = AtDesk { link, lifts: &lifts, sent, now, zone };
        let mut confirmed = Vec::new();
        for (to, body) in addressed {
            confirmed.push(desk.take(&mut into, to, &body)?);
        }
        into.commit()?;
        Ok(Taken { confirmed })
    }
}

/// What is known while a batch is taken.
struct AtDesk<'a> {
    link: &'a PhoneLink,
    lifts: &'a Catalogue,
    sent: Timestamp,
    now: Timestamp,
    zone: &'a TimeZone,
}

impl AtDesk<'_> {
    fn take(
        &self,
        into: &mut ImportInto<'_>,
        to: Addressed,
        body: &RawValue,
    ) -> Result<Confirmed, StoreError> {
        let id = uuid::Uuid::from_bytes(to.id).to_string();
        if let Some(known) = into.floor_message(&to.id)? {
            let refused = match known.outcome {
                _ if known.lifter.key() != self.link.lifter.key() => {
                    Some("another lifter's message has this id".to_owned())
                }
                Outcome::Refused(reason) => Some(reason),
                Outcome::Kept | Outcome::Set(_) | Outcome::CheckIn(_) => None,
            };
            return Ok(Confirmed { id, refused });
        }
        let outcome = match said(&to.kind, body.get()) {
            Ok(said) => self.act(into, &to, said)?,
            Err(reason) => Outcome::Refused(reason),
        };
        let refused = match &outcome {
            Outcome::Refused(reason) => Some(reason.clone()),
            Outcome::Kept | Outcome::Set(_) | Outcome::CheckIn(_) => None,
        };
        into.add_floor_message(&FloorMessage {
            id: to.id,
            lifter: self.link.lifter.clone(),
            link: self.link.id,
            day: to.day,
            kind: to.kind,
            body: body.get().to_owned(),
            logged: to.logged,
            sent: self.sent,
            outcome,
        })?;
        Ok(Confirmed { id, refused })
    }

    fn act(
        &self,
        into: &mut ImportInto<'_>,
        to: &Addressed,
        said: Said,
    ) -> Result<Outcome, StoreError> {
        let lifter = &self.link.lifter;
        let when = match self.when(to.logged) {
            Ok(when) => when,
            Err(refused) => return Ok(Outcome::Refused(refused.to_string())),
        };
        match said {
            Said::Set { lift, done } => self.add_set(into, lift, when, done),
            Said::Correct { of, done } => self.correct(into, of, done),
            Said::Undo { of } => self.undo(into, of),
            Said::Pain(pain) => {
                let told = CheckIn { pain: Some(pain), ..CheckIn::empty(lifter.clone(), when) };
                into.add_check_in(&told, OnDifference::Correct)?;
                Ok(Outcome::CheckIn(told.id()))
            }
            Said::CheckIn { sleep_h, stress, soreness } => {
                let told =
                    CheckIn { sleep_h, stress, soreness, ..CheckIn::empty(lifter.clone(), when) };
                into.add_check_in(&told, OnDifference::Correct)?;
                Ok(Outcome::CheckIn(told.id()))
            }
            Said::Decision { .. }
            | Said::Note { .. }
            | Said::Swap { .. }
            | Said::Skip { .. }
            | Said::Add { .. }
            | Said::Finish => Ok(Outcome::Kept),
        }
    }

    /// When something was logged by the desk's clock, as local time. Never later than now.
    fn when(&self, logged: Timestamp) -> Result<When, domain::Refused> {
        local_time(logged, self.sent, self.now, self.zone)
    }

    fn add_set(
        &self,
        into: &mut ImportInto<'_>,
        lift: domain::LiftName,
        when: When,
        done: Done,
    ) -> Result<Outcome, StoreError> {
        let Some(known) = self.lifts.find(&lift) else {
            return Ok(Outcome::Refused(format!("no lift is called `{lift}` at this desk")));
        };
        if let Err(refused) = known.accepts_load(done.load) {
            return Ok(Outcome::Refused(refused.to_string()));
        }
        let Ok(number) = SetNumber::new(1) else {
            return Ok(Outcome::Refused("sets can't be numbered".to_owned()));
        };
        let set = LoggedSet {
            lifter: self.link.lifter.clone(),
            when,
            lift: known.name.clone(),
            number,
            kind: done.kind,
            load: done.load,
            reps: done.reps,
            rir: done.rir,
            note: Note::default(),
        };
        Ok(match add_in_time(into, set)? {
            Some(id) => Outcome::Set(id),
            None => Outcome::Refused(format!(
                "`{lift}` has {} sets that day already, the most that can be numbered",
                SetNumber::MAX
            )),
        })
    }

    fn correct(
        &self,
        into: &mut ImportInto<'_>,
        of: [u8; 16],
        done: Done,
    ) -> Result<Outcome, StoreError> {
        let Some(FloorMessage { outcome: Outcome::Set(id), .. }) = self.own(into, of)? else {
            return Ok(Outcome::Refused("there is no such set of this lifter".to_owned()));
        };
        let Some(before) = into.set_by_id(id)? else {
            return Ok(Outcome::Refused("the set that this corrects was taken back".to_owned()));
        };
        let after = LoggedSet {
            kind: done.kind,
            load: done.load,
            reps: done.reps,
            rir: done.rir,
            ..before
        };
        if let Some(Err(refused)) = self.lifts.find(&after.lift).map(|l| l.accepts_load(done.load))
        {
            return Ok(Outcome::Refused(refused.to_string()));
        }
        into.correct_set(id, &after, "corrected on the gym floor")?;
        Ok(Outcome::Set(id))
    }

    fn undo(&self, into: &mut ImportInto<'_>, of: [u8; 16]) -> Result<Outcome, StoreError> {
        const REASON: &str = "undone on the gym floor";
        let Some(undone) = self.own(into, of)? else {
            return Ok(Outcome::Refused("what this takes back never came here".to_owned()));
        };
        match undone.outcome {
            // A correction is taken back by another; the set under it stays.
            Outcome::Set(id) if undone.kind == "set" => {
                into.withdraw_set(id, REASON)?;
                Ok(Outcome::Set(id))
            }
            Outcome::CheckIn(id) => {
                into.withdraw_check_in(id, REASON)?;
                Ok(Outcome::CheckIn(id))
            }
            Outcome::Set(_) | Outcome::Kept | Outcome::Refused(_) => Ok(Outcome::Kept),
        }
    }

    /// A message of this lifter that came before.
    fn own(
        &self,
        into: &mut ImportInto<'_>,
        id: [u8; 16],
    ) -> Result<Option<FloorMessage>, StoreError> {
        let found = into.floor_message(&id)?;
        Ok(found.filter(|message| message.lifter.key() == self.link.lifter.key()))
    }
}

/// The phone's time of logging by the desk's clock, as local time of the desk. What the phone says to
/// have logged after sending counts as now.
pub(super) fn local_time(
    logged: Timestamp,
    sent: Timestamp,
    received: Timestamp,
    zone: &TimeZone,
) -> Result<When, domain::Refused> {
    let ago = sent.duration_since(logged);
    let at = received.checked_sub(ago).unwrap_or(received).min(received);
    let local = zone.to_datetime(at);
    When::new(local.date(), Some(local.time()))
}
