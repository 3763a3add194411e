//! What came from the gym floor and is no set and no check-in, in words for the desk.

use domain::LifterName;
use jiff::tz::TimeZone;
use store::{MessageOnRecord, Outcome};

use super::message::{Said, said};
use super::take::local_time;
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
            let message = &record.message;
            let words = words(record)?;
            let when = local_time(message.logged, message.sent, record.recorded, zone).ok()?;
            Some(FloorRemark { when: when.to_string(), words })
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

fn words(record: &MessageOnRecord) -> Option<String> {
    let message = &record.message;
    if let Outcome::Refused(reason) = &message.outcome {
        return Some(format!(
            "A message of the kind `{}` could not be taken: {reason}.",
            message.kind
        ));
    }
    Some(match said(&message.kind, &message.body).ok()? {
        Said::Decision { lift, call, instead } => {
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
        | Said::Pain(_)
        | Said::CheckIn { .. }
        | Said::Add { .. } => return None,
    })
}
