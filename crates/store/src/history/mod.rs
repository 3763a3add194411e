//! All versions of one set or check-in, and the acts at the desk that add a version.

mod correct;

pub(crate) use correct::{correct, withdraw};

use domain::{CheckIn, CheckInId, LifterName, LoggedSet, SetId};
use rusqlite::Connection;

use crate::error::Trouble;
use crate::facts::{Recording, recording_of};
use crate::writer::{Head, Kept, lifter_id, newest_meant};
use crate::{Store, StoreError};

/// What a version says about its thing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Standing {
    /// It is so.
    Recorded,
    /// It was withdrawn; the content is what was withdrawn.
    Withdrawn,
}

/// One version of a set or check-in.
#[derive(Clone, Debug, PartialEq)]
pub struct Version<T> {
    /// What was said.
    pub content: T,
    /// Whether it was said or taken back.
    pub standing: Standing,
    /// Why; empty for the first version.
    pub reason: String,
    /// When and how it was recorded.
    pub recording: Recording,
}

/// One version of a set.
pub type SetVersion = Version<LoggedSet>;
/// One version of a check-in.
pub type CheckInVersion = Version<CheckIn>;

/// The versions that a statement finds for a lifter, as columns `seq`, `withdrawn`, `reason` and `recording` of the
/// facts; `content_at` reads one's content. Empty for an unknown lifter.
pub(crate) fn versions_of_lifter<T>(
    connection: &Connection,
    name: &LifterName,
    statement: &str,
    content_at: impl Fn(&Connection, i64) -> Result<T, Trouble>,
) -> Result<Vec<Version<T>>, Trouble> {
    let Some(lifter) = lifter_id(connection, name)? else { return Ok(Vec::new()) };
    let mut statement = connection.prepare_cached(statement)?;
    let mut rows = statement.query([lifter])?;
    let mut versions = Vec::new();
    while let Some(row) = rows.next()? {
        versions.push(Version {
            content: content_at(connection, row.get(0)?)?,
            standing: Standing::of(row.get(1)?),
            reason: row.get(2)?,
            recording: recording_of(connection, row.get(3)?)?,
        });
    }
    Ok(versions)
}

impl Store {
    /// All versions of a set, oldest first; empty if there is no such set. The id may be the set's
    /// own or the one that it got when it was first entered.
    pub fn history_of_set(&self, id: SetId) -> Result<Vec<SetVersion>, StoreError> {
        self.reading(|connection| history(connection, id.as_bytes()))
    }

    /// The lifter's sets that were ever corrected, withdrawn or put back, each with the id that it got when
    /// it was first entered and all its versions, oldest first. Empty for an unknown lifter.
    pub fn amended_sets_of(
        &self,
        name: &LifterName,
    ) -> Result<Vec<(SetId, Vec<SetVersion>)>, StoreError> {
        self.reading(|connection| {
            let Some(lifter) = lifter_id(connection, name)? else { return Ok(Vec::new()) };
            let mut statement = connection.prepare_cached(
                "SELECT DISTINCT f.id FROM fact f JOIN logged_set s ON s.seq = f.seq \
                 WHERE f.supersedes IS NOT NULL AND f.kind = 'set' AND s.lifter = ?1",
            )?;
            let ids: Vec<[u8; 16]> = statement
                .query_map([lifter], |row| row.get(0))?
                .collect::<rusqlite::Result<_>>()?;
            ids.iter().map(|id| Ok((SetId::from_bytes(*id), versions(connection, id)?))).collect()
        })
    }

    /// All versions of a check-in, oldest first; empty if there is no such check-in.
    pub fn history_of_check_in(&self, id: CheckInId) -> Result<Vec<CheckInVersion>, StoreError> {
        self.reading(|connection| history(connection, id.as_bytes()))
    }
}

fn history<T: Kept>(connection: &Connection, id: &[u8; 16]) -> Result<Vec<Version<T>>, Trouble> {
    match newest_meant(connection, T::KIND, id)? {
        Some(head) => versions(connection, &head.id),
        None => Ok(Vec::new()),
    }
}

/// All versions of the thing that was first entered under this id.
fn versions<T: Kept>(connection: &Connection, id: &[u8]) -> Result<Vec<Version<T>>, Trouble> {
    let mut statement = connection.prepare_cached(&format!(
        "SELECT {}, f.reason, f.recording FROM fact f WHERE f.id = ?1 AND f.kind = ?2 \
         ORDER BY f.seq",
        Head::COLUMNS
    ))?;
    let mut rows = statement.query((id, T::KIND))?;
    let mut versions = Vec::new();
    while let Some(row) = rows.next()? {
        let head = Head::read(row)?;
        versions.push(Version {
            content: T::load(connection, head.seq)?,
            standing: Standing::of(head.withdrawn),
            reason: row.get(5)?,
            recording: recording_of(connection, row.get(6)?)?,
        });
    }
    Ok(versions)
}

impl Standing {
    pub(crate) fn of(withdrawn: bool) -> Standing {
        if withdrawn { Standing::Withdrawn } else { Standing::Recorded }
    }
}
