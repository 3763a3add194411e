//! Corrections and withdrawals: a new version each, with its reason; the old ones stay.

use domain::{CheckIn, CheckInId, LoggedSet, SetId};
use jiff::Timestamp;
use rusqlite::Connection;

use crate::error::Trouble;
use crate::writer::{Found, Kept, Ledger};
use crate::{Store, StoreError};

impl Store {
    /// Lets `set` supersede the set `id`, which may thereby get another time, lift or number. A set
    /// that was withdrawn is back afterwards. Nothing is recorded if it says so already.
    ///
    /// # Errors
    /// [`StoreError::NoSuchFact`], [`StoreError::PlaceTaken`] if another set stands where the
    /// corrected one would, [`StoreError::UnknownLifter`].
    pub fn correct_set(
        &self,
        id: SetId,
        set: &LoggedSet,
        reason: &str,
        now: Timestamp,
    ) -> Result<(), StoreError> {
        self.act("correction", now, |ledger, at| correct(ledger, at, id.as_bytes(), set, reason))
    }

    /// Takes a set back. It stays in the history and is in no list any more. Nothing is recorded if
    /// it is withdrawn already.
    ///
    /// # Errors
    /// [`StoreError::NoSuchFact`].
    pub fn withdraw_set(&self, id: SetId, reason: &str, now: Timestamp) -> Result<(), StoreError> {
        self.act("withdrawal", now, |ledger, at| {
            withdraw::<LoggedSet>(ledger, at, id.as_bytes(), reason)
        })
    }

    /// Lets `check_in` supersede the check-in `id`, as [`Store::correct_set`] does for a set.
    pub fn correct_check_in(
        &self,
        id: CheckInId,
        check_in: &CheckIn,
        reason: &str,
        now: Timestamp,
    ) -> Result<(), StoreError> {
        self.act("correction", now, |ledger, at| {
            correct(ledger, at, id.as_bytes(), check_in, reason)
        })
    }

    /// Takes a check-in back, as [`Store::withdraw_set`] does a set.
    pub fn withdraw_check_in(
        &self,
        id: CheckInId,
        reason: &str,
        now: Timestamp,
    ) -> Result<(), StoreError> {
        self.act("withdrawal", now, |ledger, at| {
            withdraw::<CheckIn>(ledger, at, id.as_bytes(), reason)
        })
    }

    /// Records a lifter, or new settings of one, which supersede the old. Nothing is recorded if the
    /// newest say the same.
    pub fn put_lifter(&self, lifter: &domain::Lifter, now: Timestamp) -> Result<(), StoreError> {
        self.act("lifter's settings", now, |ledger, at| ledger.put_lifter(at, lifter).map(|_| ()))
    }

    /// One act in a transaction of its own.
    fn act(
        &self,
        source: &str,
        now: Timestamp,
        step: impl FnOnce(&mut Ledger, &Connection) -> Result<(), Trouble>,
    ) -> Result<(), StoreError> {
        let mut act = self.begin_import(source, now)?;
        act.writing(step)?;
        act.commit().map(|_| ())
    }
}

pub(crate) fn correct<T: Kept>(
    ledger: &mut Ledger,
    at: &Connection,
    id: &[u8; 16],
    thing: &T,
    reason: &str,
) -> Result<(), Trouble> {
    let Found { head, content } = must_find::<T>(ledger, at, id)?;
    if !head.withdrawn && content == *thing {
        return Ok(());
    }
    let place = thing.place();
    if let Some(there) = ledger.find::<T>(at, &place)?
        && there.head.stands_at(&place)
        && there.head.id != head.id
    {
        let id = uuid::Uuid::from_bytes(place).to_string();
        return Err(StoreError::PlaceTaken { what: T::WHAT, id }.into());
    }
    ledger.supersede(at, &head, thing, false, reason)
}

pub(crate) fn withdraw<T: Kept>(
    ledger: &mut Ledger,
    at: &Connection,
    id: &[u8; 16],
    reason: &str,
) -> Result<(), Trouble> {
    let Found { head, content } = must_find::<T>(ledger, at, id)?;
    if head.withdrawn {
        return Ok(());
    }
    ledger.supersede(at, &head, &content, true, reason)
}

fn must_find<T: Kept>(
    ledger: &Ledger,
    at: &Connection,
    id: &[u8; 16],
) -> Result<Found<T>, Trouble> {
    ledger.find::<T>(at, id)?.ok_or_else(|| {
        let id = uuid::Uuid::from_bytes(*id).to_string();
        StoreError::NoSuchFact { what: T::WHAT, id }.into()
    })
}
