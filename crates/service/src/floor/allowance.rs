//! How much each link has sent today, so that a single one can't fill the disk.
//!
//! Counted in memory after a first look at the record, since the record of years isn't to be searched at
//! every set.

use std::collections::HashMap;
use std::sync::{Mutex, PoisonError};

use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use store::{PhoneLink, Store, StoreError};

use super::bounds::{MOST_A_DAY, MOST_BYTES_A_DAY};

/// What links have sent on the day that each sent last.
#[derive(Debug, Default)]
pub(crate) struct Allowance(Mutex<HashMap<[u8; 16], Sent>>);

/// What one link has sent on one day.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Sent {
    day: Date,
    messages: u64,
    bytes: u64,
}

impl Allowance {
    /// What the link has sent on the day of `now`.
    pub(super) fn of(
        &self,
        store: &Store,
        link: &PhoneLink,
        now: Timestamp,
        zone: &TimeZone,
    ) -> Result<Sent, StoreError> {
        let day = zone.to_datetime(now).date();
        let mut all = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(sent) = all.get(&link.id).filter(|sent| sent.day == day) {
            return Ok(*sent);
        }
        // A day before the first of all days: then everything counts, which is stricter.
        let midnight = zone.to_timestamp(day.at(0, 0, 0, 0)).unwrap_or(Timestamp::MIN);
        let (messages, bytes) = store.floor_messages_since(link, midnight)?;
        let sent = Sent { day, messages, bytes };
        all.insert(link.id, sent);
        Ok(sent)
    }

    /// Notes what has come on record since.
    pub(super) fn note(&self, link: &PhoneLink, sent: Sent) {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).insert(link.id, sent);
    }
}

impl Sent {
    /// Counts one more message, or says why it has to wait.
    pub(super) fn one_more(&mut self, bytes: usize) -> Result<(), String> {
        let bytes = self.bytes + bytes as u64;
        if self.messages >= MOST_A_DAY || bytes > MOST_BYTES_A_DAY {
            return Err(format!(
                "this link has sent {} messages today, as much as the desk takes from one link in a day; \
                 the rest goes tomorrow, or at once by another link that your coach makes",
                self.messages
            ));
        }
        (self.messages, self.bytes) = (self.messages + 1, bytes);
        Ok(())
    }
}
