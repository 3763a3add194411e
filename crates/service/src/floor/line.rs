//! Messages on record as phones get them back.
//!
//! Every one comes, whatever is in it: an older program kept messages without reading all of them, and one
//! that can't be written again is written anew from what can be read of it.

use domain::{LifterName, SetKind};
use jiff::civil::Date;
use jiff::tz::TimeZone;
use serde::Serialize;
use serde_json::{Map, Value, json};
use store::{FloorMessage, MessageOnRecord, Outcome};

use super::message::{Done, Said, said, whole};
use super::time::{Clocks, asks_when};
use crate::{Desk, ServiceError};

/// One message that is on record.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FloorLine {
    /// When it was logged by the desk's clock, local, as ISO 8601; where that isn't clear, when it was received.
    pub at: String,
    /// Why nothing came of it.
    pub refused: Option<String>,
    /// What the desk asks about it: `when`, if it isn't clear on which day it was.
    pub asks: Option<&'static str>,
    /// The message as the phone wrote it, or as much of it as can be read.
    pub body: Value,
}

impl Desk {
    /// What phones have logged for a session so far, in the order in which it reached the desk.
    ///
    /// # Errors
    /// The store has trouble.
    pub fn floor_lines(
        &self,
        name: &LifterName,
        date: Date,
        zone: &TimeZone,
    ) -> Result<Vec<FloorLine>, ServiceError> {
        let records = self.store().floor_messages_on(name, date)?;
        Ok(records.into_iter().map(|record| floor_line(record, zone)).collect())
    }
}

/// What the desk asks about a message that it refused for this reason.
pub(super) fn asked(reason: &str) -> Option<&'static str> {
    asks_when(reason).then_some("when")
}

/// The clocks of a message on record.
pub(super) fn clocks<'a>(record: &MessageOnRecord, zone: &'a TimeZone) -> Clocks<'a> {
    let FloorMessage { day, logged, sent, .. } = record.message;
    Clocks { day, logged, sent, received: record.recorded, zone }
}

fn floor_line(record: MessageOnRecord, zone: &TimeZone) -> FloorLine {
    let at = clocks(&record, zone).shown();
    let body = body_of(&record.message);
    let refused = match record.message.outcome {
        Outcome::Refused(reason) => Some(reason),
        Outcome::Kept | Outcome::Set(_) | Outcome::CheckIn(_) => None,
    };
    FloorLine { at, asks: refused.as_deref().and_then(asked), refused, body }
}

fn body_of(message: &FloorMessage) -> Value {
    let mut body = match whole(&message.body) {
        Ok(Value::Object(body)) => body,
        _ => said(&message.kind, &message.body).map_or_else(|_| Map::new(), written),
    };
    // The page finds messages by these.
    body.insert("id".to_owned(), json!(uuid::Uuid::from_bytes(message.id).to_string()));
    body.insert("kind".to_owned(), json!(message.kind));
    body.insert("day".to_owned(), json!(message.day.to_string()));
    body.insert("logged".to_owned(), json!(message.logged.as_millisecond()));
    Value::Object(body)
}

/// What was said as a phone would have written it.
fn written(said: Said) -> Map<String, Value> {
    let body = match said {
        Said::Set { lift, done, .. } => with_numbers(json!({ "lift": lift.as_str() }), done),
        Said::Correct { of, done } => with_numbers(json!({ "of": id(of) }), done),
        Said::Undo { of } => json!({ "of": id(of) }),
        Said::Pain { pain, .. } => json!({ "joint": pain.joint.key(), "rating": pain.rating() }),
        Said::CheckIn { sleep_h, stress, soreness, .. } => {
            json!({ "sleep_h": sleep_h, "stress": stress, "soreness": soreness })
        }
        Said::Decision { lift, call, instead } => {
            json!({ "lift": lift.as_str(), "call": call.as_str(), "instead": instead.as_str() })
        }
        Said::Note { lift, text } => {
            json!({ "lift": lift.as_ref().map(|lift| lift.as_str()), "text": text.as_str() })
        }
        Said::Swap { lift, with } => json!({ "lift": lift.as_str(), "with": with.as_str() }),
        Said::Skip { lift } | Said::Add { lift } => json!({ "lift": lift.as_str() }),
        Said::Finish => json!({}),
    };
    match body {
        Value::Object(body) => body,
        _ => Map::new(),
    }
}

fn with_numbers(mut body: Value, done: Done) -> Value {
    let Done { kind, load, reps, rir } = done;
    body["set_kind"] = json!(kind.map(SetKind::as_str));
    body["load"] = json!(load.value());
    body["unit"] = json!(load.unit().as_str());
    body["reps"] = json!(reps.get());
    body["rir"] = json!(rir.map(domain::Rir::get));
    body
}

fn id(bytes: [u8; 16]) -> String {
    uuid::Uuid::from_bytes(bytes).to_string()
}
