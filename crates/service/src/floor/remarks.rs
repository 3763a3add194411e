//! What came from the gym floor and is no set and no check-in, in words for the desk.

use domain::LifterName;
use jiff::tz::TimeZone;
use serde::Deserialize;
use store::{FloorMessage, MessageOnRecord, Outcome};

use super::line::{asked, clocks};
use super::message::{Done, Said, said};
use crate::{Desk, ServiceError};

/// One remark from the gym floor.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize)]
pub struct FloorRemark {
    /// When, as ISO 8601 local to the desk.
    pub when: String,
    /// What, as a sentence.
    pub words: String,
}

impl Desk {
    /// The newest remarks of a lifter from the gym floor: decisions against a call, notes, swaps,
    /// lifts left out, and messages of which nothing could be made.
    ///
    /// # Errors
    /// The store has trouble.
    pub fn floor_remarks(
        &self,
        name: &LifterName,
        zone: &TimeZone,
    ) -> Result<Vec<FloorRemark>, ServiceError> {
        const LOOKED_AT: u32 = 300;
        const SHOWN: usize = 20;
        let latest = self.store().latest_floor_messages(name, LOOKED_AT)?;
        let undone: Vec<[u8; 16]> = latest.iter().filter_map(undone_by).collect();
        let stands = |record: &&MessageOnRecord| !undone.contains(&record.message.id);
        let line = |record: &MessageOnRecord| {
            let words = words(&record.message)?;
            Some(FloorRemark { when: clocks(record, zone).shown(), words })
        };
        Ok(latest.iter().filter(stands).filter_map(line).take(SHOWN).collect())
    }
}

fn undone_by(record: &MessageOnRecord) -> Option<[u8; 16]> {
    match said(&record.message.kind, &record.message.body) {
        Ok(Said::Undo { of }) => Some(of),
        _ => None,
    }
}

fn words(message: &FloorMessage) -> Option<String> {
    let said = said(&message.kind, &message.body);
    if let Outcome::Refused(reason) = &message.outcome {
        let what = said.as_ref().ok().and_then(thing).unwrap_or_else(|| {
            format!("a message of the kind `{}`", domain::bounds::shortened(&message.kind))
        });
        let now = match asked(reason) {
            Some(_) => "It waits for the answer on the phone.",
            None => "It can be put right on the phone.",
        };
        return Some(format!("Not taken: {what}; {reason}. {now}"));
    }
    let Ok(said) = said else { return Some(older_words(message)) };
    Some(match said {
        Said::Decision { lift, call, instead } => {
            let (call, instead) = (call.as_str(), instead.as_str());
            format!("{lift}: the call was {call}, and the lifter decided otherwise: {instead}.")
        }
        Said::Note { lift: Some(lift), text } => format!("Note on {lift}: {}", text.as_str()),
        Said::Note { lift: None, text } => format!("Note: {}", text.as_str()),
        Said::Swap { lift, with } => format!("{with} in the place of {lift}."),
        Said::Skip { lift } => format!("{lift} left out."),
        Said::Finish => "Session finished.".to_owned(),
        Said::Set { .. }
        | Said::Correct { .. }
        | Said::Undo { .. }
        | Said::Pain { .. }
        | Said::CheckIn { .. }
        | Said::Add { .. } => return None,
    })
}

/// What a message that wasn't taken would have put on record.
fn thing(said: &Said) -> Option<String> {
    match said {
        Said::Set { lift, done, .. } => Some(format!("{lift} {}", numbers(done))),
        Said::Correct { done, .. } => Some(format!("a correction to {}", numbers(done))),
        Said::Note { text, .. } => Some(format!("the note “{}”", text.as_str())),
        Said::CheckIn { .. } => Some("a check-in".to_owned()),
        _ => None,
    }
}

fn numbers(done: &Done) -> String {
    format!("{} × {}", done.load, done.reps.get())
}

/// A decision as older programs took it: any text.
#[derive(Deserialize)]
struct OldDecision {
    lift: String,
    call: String,
    instead: String,
}

/// A message that was taken before messages were read whole.
fn older_words(message: &FloorMessage) -> String {
    match serde_json::from_str::<OldDecision>(&message.body) {
        Ok(OldDecision { lift, call, instead }) if message.kind == "decision" => format!(
            "{}: the call was “{}”, and the lifter decided otherwise: “{}”.",
            domain::bounds::shortened(&lift),
            domain::bounds::shortened(&call),
            domain::bounds::shortened(&instead)
        ),
        _ => format!(
            "A message of the kind `{}` came from an older page, and not all of it can be read.",
            domain::bounds::shortened(&message.kind)
        ),
    }
}
