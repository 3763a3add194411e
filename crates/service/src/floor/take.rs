//! Taking what a phone sends: each message once, all of a batch durably, then the confirmation.
//!
//! A set becomes a set of the record, undoing it a withdrawal, pain and check-in become check-ins;
//! the message itself is kept as it came beside them. What can't be understood is kept too, and the
//! phone is told why nothing came of it. What can't even be kept (too large, too much for one day, without an
//! id) stays on the phone, and nothing else waits for it.

use domain::{Catalogue, CheckIn, LiftName, LoggedSet, Note, Pain, SetId, SetNumber, When};
use jiff::Timestamp;
use jiff::civil::Time;
use jiff::tz::TimeZone;
use serde_json::value::RawValue;
use store::{FloorMessage, ImportInto, OnDifference, Outcome, PhoneLink, StoreError};

use super::allowance::Sent;
use super::bounds::{MOST_MESSAGE_BYTES, MOST_MESSAGES};
use super::line::asked;
use super::message::{Addressed, Batch, Done, Envelope, Said, said, whole};
use super::numbering::add_in_time;
use super::time::{Clocks, from_clock};
use crate::record::person::catalogue;
use crate::{Desk, ServiceError};

/// The answer to a batch. Every message of it is in one of the two lists.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize)]
pub struct Taken {
    /// Those that are on record, in their order.
    pub confirmed: Vec<Confirmed>,
    /// Those that aren't, in their order: the phone keeps them.
    pub held: Vec<Held>,
    /// The desk's clock, in milliseconds since 1970.
    pub now: i64,
}

/// A message that is on record.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize)]
pub struct Confirmed {
    /// The id that the phone gave it.
    pub id: String,
    /// Why nothing came of it; the message is kept all the same.
    pub refused: Option<String>,
    /// What the desk asks about it: `when`, if it isn't clear on which day it was.
    pub asks: Option<&'static str>,
}

/// A message that isn't on record.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize)]
pub struct Held {
    /// Its place in the batch, from 0.
    pub place: usize,
    /// Why, with the cure.
    pub reason: String,
    /// Whether it can be taken later as it is; otherwise it has to be put right.
    pub again: bool,
}

impl Desk {
    /// Takes a batch from the phone behind `link`, whose text is JSON. When this returns, what it confirms is
    /// on the disk; after an error none of it is. Each message is taken or refused alone.
    ///
    /// # Errors
    /// [`ServiceError::Floor`] if it is no batch; the store has trouble.
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
        let mut taken =
            Taken { confirmed: Vec::new(), held: Vec::new(), now: now.as_millisecond() };
        if batch.messages.is_empty() {
            return Ok(taken); // a phone that asks what others have logged
        }
        let lifts = catalogue(self.store())?;
        let mut into = self.store().begin_import("a phone on the gym floor", now)?;
        let mut today = self.allowance.of(self.store(), link, now, zone)?;
        let desk = AtDesk { link, lifts: &lifts, sent: from_clock(batch.sent), now, zone };
        for (place, body) in batch.messages.iter().enumerate() {
            match desk.take(&mut into, &mut today, body)? {
                Ok(one) => taken.confirmed.push(one),
                Err(NotTaken { reason, again }) => taken.held.push(Held { place, reason, again }),
            }
        }
        into.commit()?;
        self.allowance.note(link, today);
        Ok(taken)
    }
}

/// Why a message isn't put on record.
struct NotTaken {
    reason: String,
    again: bool,
}

/// Something that has to be put right on the phone before it can be taken.
fn not_so(reason: impl ToString) -> NotTaken {
    NotTaken { reason: reason.to_string(), again: false }
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
        today: &mut Sent,
        body: &RawValue,
    ) -> Result<Result<Confirmed, NotTaken>, StoreError> {
        let to = match addressed(body.get()) {
            Ok(to) => to,
            Err(not) => return Ok(Err(not)),
        };
        let id = uuid::Uuid::from_bytes(to.id).to_string();
        if let Some(known) = into.floor_message(&to.id)? {
            return Ok(self.again(id, &to, body.get(), known));
        }
        if let Err(reason) = today.one_more(body.get().len()) {
            return Ok(Err(NotTaken { reason, again: true }));
        }
        let outcome = match whole(body.get()).and_then(|_| said(&to.kind, body.get())) {
            Ok(said) => self.act_alone(into, &to, said)?,
            Err(reason) => Outcome::Refused(reason),
        };
        let confirmed = confirmed(id, &outcome);
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
        Ok(Ok(confirmed))
    }

    /// A message whose id has come before: the same answer if it says the same, and no confirmation otherwise,
    /// since nothing of it is on record.
    fn again(
        &self,
        id: String,
        to: &Addressed,
        body: &str,
        known: FloorMessage,
    ) -> Result<Confirmed, NotTaken> {
        let is_same = known.lifter.key() == self.link.lifter.key()
            && known.kind == to.kind
            && (known.body == body || says_the_same(&to.kind, body, &known.body));
        if is_same {
            return Ok(confirmed(id, &known.outcome));
        }
        Err(not_so("another message has the id of this one: log it once more"))
    }

    /// Acts, and refuses the one message for which something on record stands in the way.
    fn act_alone(
        &self,
        into: &mut ImportInto<'_>,
        to: &Addressed,
        said: Said,
    ) -> Result<Outcome, StoreError> {
        match self.act(into, to, said) {
            Err(error @ (StoreError::NoSuchFact { .. } | StoreError::PlaceTaken { .. })) => {
                Ok(Outcome::Refused(error.to_string()))
            }
            done => done,
        }
    }

    fn act(
        &self,
        into: &mut ImportInto<'_>,
        to: &Addressed,
        said: Said,
    ) -> Result<Outcome, StoreError> {
        match said {
            Said::Set { lift, done, when } => match self.when(to, when) {
                Ok(when) => self.add_set(into, lift, when, done),
                Err(reason) => Ok(Outcome::Refused(reason)),
            },
            Said::Correct { of, done } => self.correct(into, of, done),
            Said::Undo { of } => self.undo(into, of),
            Said::Pain { pain, when } => self.add_pain(into, to, pain, when),
            Said::CheckIn { sleep_h, stress, soreness, when } => match self.when(to, when) {
                Ok(when) => {
                    let nothing = CheckIn::empty(self.link.lifter.clone(), when);
                    add_check_in(into, &CheckIn { sleep_h, stress, soreness, ..nothing })
                }
                Err(reason) => Ok(Outcome::Refused(reason)),
            },
            Said::Decision { .. }
            | Said::Note { .. }
            | Said::Swap { .. }
            | Said::Skip { .. }
            | Said::Add { .. }
            | Said::Finish => Ok(Outcome::Kept),
        }
    }

    /// When something was: as the lifter said, or else by the clocks; or why that isn't clear.
    fn when(&self, to: &Addressed, stated: Option<When>) -> Result<When, String> {
        let (day, logged) = (to.day, to.logged);
        let clocks = Clocks { day, logged, sent: self.sent, received: self.now, zone: self.zone };
        stated.map_or_else(|| clocks.when(), |stated| clocks.said(stated))
    }

    /// Pain never waits for an answer. Without a clear time it is the newest of its session's day, so that no
    /// older rating speaks for the joint, and never later than it came.
    fn add_pain(
        &self,
        into: &mut ImportInto<'_>,
        to: &Addressed,
        pain: Pain,
        stated: Option<When>,
    ) -> Result<Outcome, StoreError> {
        let now = self.zone.to_datetime(self.now);
        let end_of_day = Time::constant(23, 59, 59, 0);
        let arrived = When::new(now.date(), Some(now.time()));
        let when = self.when(to, stated).or_else(|_| When::new(to.day, Some(end_of_day)));
        // What hurts hurts now: never at a time that hasn't come, when it would stop nothing.
        let when = match when.and_then(|when| Ok(when.min(arrived?))) {
            Ok(when) => when,
            Err(refused) => return Ok(Outcome::Refused(refused.to_string())),
        };
        let nothing = CheckIn::empty(self.link.lifter.clone(), when);
        add_check_in(into, &CheckIn { pain: Some(pain), ..nothing })
    }

    fn add_set(
        &self,
        into: &mut ImportInto<'_>,
        lift: LiftName,
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
            kind: done.kind.unwrap_or_default(),
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
        let after = with_numbers(before, done);
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
        match (undone.outcome, undone.kind.as_str()) {
            (Outcome::Set(id), "set") => {
                into.withdraw_set(id, REASON)?;
                Ok(Outcome::Set(id))
            }
            (Outcome::Set(id), "correct") => self.undo_correction(into, of, id),
            (Outcome::CheckIn(id), "pain" | "check-in") => {
                into.withdraw_check_in(id, REASON)?;
                Ok(Outcome::CheckIn(id))
            }
            (Outcome::Set(_) | Outcome::CheckIn(_) | Outcome::Kept | Outcome::Refused(_), _) => {
                Ok(Outcome::Kept)
            }
        }
    }

    /// Puts back the numbers that a correction has replaced; the set stays. A set that has been corrected at
    /// the desk or withdrawn since is left as it is.
    fn undo_correction(
        &self,
        into: &mut ImportInto<'_>,
        of: [u8; 16],
        id: SetId,
    ) -> Result<Outcome, StoreError> {
        let about = into.floor_messages_about(&self.link.lifter, id.as_bytes())?;
        let undone: Vec<[u8; 16]> = about
            .iter()
            .filter_map(|message| match said(&message.kind, &message.body) {
                Ok(Said::Undo { of }) => Some(of),
                _ => None,
            })
            .collect();
        let numbers: Vec<([u8; 16], Done)> = about
            .iter()
            .filter(|message| !undone.contains(&message.id))
            .filter_map(|message| match said(&message.kind, &message.body) {
                Ok(Said::Set { done, .. } | Said::Correct { done, .. }) => Some((message.id, done)),
                _ => None,
            })
            .collect();
        let Some(now) = into.set_by_id(id)? else { return Ok(Outcome::Kept) };
        let is_last = numbers
            .last()
            .is_some_and(|(last, done)| *last == of && with_numbers(now.clone(), *done) == now);
        let before = numbers.iter().rev().find(|(other, _)| *other != of);
        let Some((_, done)) = before.filter(|_| is_last) else { return Ok(Outcome::Kept) };
        into.correct_set(id, &with_numbers(now, *done), "a correction undone on the gym floor")?;
        Ok(Outcome::Set(id))
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

/// What every message needs; without it there is nothing to confirm.
fn addressed(body: &str) -> Result<Addressed, NotTaken> {
    if body.len() > MOST_MESSAGE_BYTES {
        let n = body.len();
        return Err(not_so(format!(
            "this message has {n} bytes and {MOST_MESSAGE_BYTES} are the most: make it shorter"
        )));
    }
    let envelope: Envelope = serde_json::from_str(body)
        .map_err(|error| not_so(format!("this message can't be read: {error}")))?;
    envelope.checked().map_err(not_so)
}

fn confirmed(id: String, outcome: &Outcome) -> Confirmed {
    let refused = match outcome {
        Outcome::Refused(reason) => Some(reason.clone()),
        Outcome::Kept | Outcome::Set(_) | Outcome::CheckIn(_) => None,
    };
    Confirmed { id, asks: refused.as_deref().and_then(asked), refused }
}

/// Whether two messages of a kind say the same, however they are written.
fn says_the_same(kind: &str, one: &str, other: &str) -> bool {
    match (whole(one), whole(other)) {
        (Ok(one), Ok(other)) if one == other => true,
        (Ok(_), _) => said(kind, one).is_ok_and(|one| said(kind, other) == Ok(one)),
        _ => false,
    }
}

fn add_check_in(into: &mut ImportInto<'_>, told: &CheckIn) -> Result<Outcome, StoreError> {
    into.add_check_in(told, OnDifference::Correct)?;
    Ok(Outcome::CheckIn(told.id()))
}

/// The set with other numbers; without a kind among them it keeps its own.
fn with_numbers(set: LoggedSet, done: Done) -> LoggedSet {
    let Done { kind, load, reps, rir } = done;
    LoggedSet { kind: kind.unwrap_or(set.kind), load, reps, rir, ..set }
}
