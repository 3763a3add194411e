//! Reading what is current: whatever no later fact supersedes and nobody has withdrawn.

use std::collections::{BTreeMap, BTreeSet};

use domain::{CheckIn, LiftName, Lifter, LifterName, LoggedSet, When};
use jiff::civil::Date;
use rusqlite::{Connection, OptionalExtension};

use crate::error::Trouble;
use crate::rows::{CHECK_IN_COLUMNS, CheckInRow, SET_COLUMNS, SetRow, bad_row};
use crate::writer::{lifter_at, lifter_id, name_of};
use crate::{Store, StoreError};

/// A lifter with how much there is of them.
#[derive(Clone, Debug, PartialEq)]
pub struct LifterSummary {
    /// The lifter, with the newest settings.
    pub lifter: Lifter,
    /// Number of sets on record.
    pub n_sets: u64,
    /// The date of the first set.
    pub first: Option<Date>,
    /// The date of the last set.
    pub last: Option<Date>,
}

/// Holds for a row of facts `f` that is current.
const IS_CURRENT: &str =
    "f.withdrawn = 0 AND NOT EXISTS (SELECT 1 FROM fact n WHERE n.supersedes = f.seq)";

impl Store {
    /// All lifters in the order in which they were first recorded.
    pub fn lifters(&self) -> Result<Vec<LifterSummary>, StoreError> {
        self.reading(|connection| {
            let numbers = counts(connection)?;
            let mut statement = connection.prepare_cached(
                "SELECT lifter, max(seq) FROM lifter_settings GROUP BY lifter ORDER BY lifter",
            )?;
            let newest: Vec<(i64, i64)> = statement
                .query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?
                .collect::<rusqlite::Result<_>>()?;
            newest
                .into_iter()
                .map(|(lifter, seq)| {
                    Ok(LifterSummary {
                        lifter: lifter_at(connection, seq)?,
                        n_sets: numbers.get(&lifter).copied().unwrap_or(0),
                        first: day_at_end(connection, lifter, "ASC")?,
                        last: day_at_end(connection, lifter, "DESC")?,
                    })
                })
                .collect()
        })
    }

    /// The names of all lifters, as [`Store::lifters`] has them, without a look at their records.
    pub fn lifter_names(&self) -> Result<Vec<LifterName>, StoreError> {
        self.reading(|connection| {
            let mut statement = connection.prepare_cached(
                "SELECT name, lifter FROM lifter_settings WHERE seq IN \
                 (SELECT max(seq) FROM lifter_settings GROUP BY lifter) ORDER BY lifter",
            )?;
            let names = statement.query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?;
            names
                .map(|named| {
                    let (name, lifter): (String, i64) = named?;
                    LifterName::new(&name).map_err(bad_row("lifter", lifter))
                })
                .collect()
        })
    }

    /// The lifter of this name, in any case of letters, with the newest settings.
    pub fn lifter(&self, name: &LifterName) -> Result<Option<Lifter>, StoreError> {
        self.reading(|connection| {
            let Some(lifter) = lifter_id(connection, name)? else { return Ok(None) };
            let mut statement = connection
                .prepare_cached("SELECT max(seq) FROM lifter_settings WHERE lifter = ?1")?;
            let seq: Option<i64> = statement.query_row([lifter], |row| row.get(0))?;
            seq.map(|seq| lifter_at(connection, seq)).transpose()
        })
    }

    /// The lifter's current sets by date, then time (those without one first), then in the order in
    /// which they were first entered; the sets of one lift within a session by their number. Empty
    /// for an unknown lifter.
    pub fn sets_of(&self, name: &LifterName) -> Result<Vec<LoggedSet>, StoreError> {
        self.reading(|connection| {
            let Some(lifter) = lifter_id(connection, name)? else { return Ok(Vec::new()) };
            let name = name_of(connection, lifter)?;
            let mut statement = connection.prepare_cached(&format!(
                "SELECT {SET_COLUMNS} FROM logged_set s JOIN fact f ON f.seq = s.seq \
                 JOIN lift_name l ON l.id = s.lift WHERE s.lifter = ?1 AND {IS_CURRENT} \
                 ORDER BY s.day, s.time, f.entry"
            ))?;
            let mut rows = statement.query([lifter])?;
            let mut sets = Vec::new();
            // Thousands of sets share a few names in memory.
            let mut lifts = BTreeSet::new();
            while let Some(row) = rows.next()? {
                let mut set = SetRow::read(row)?.into_set(&name)?;
                match lifts.get(&set.lift) {
                    Some(known) => set.lift = LiftName::clone(known),
                    None => _ = lifts.insert(set.lift.clone()),
                }
                sets.push(set);
            }
            number_within_lifts(&mut sets);
            Ok(sets)
        })
    }

    /// The lifter's current check-ins by date, time and order of first entry. Empty for an unknown
    /// lifter.
    pub fn check_ins_of(&self, name: &LifterName) -> Result<Vec<CheckIn>, StoreError> {
        self.reading(|connection| {
            let Some(lifter) = lifter_id(connection, name)? else { return Ok(Vec::new()) };
            let name = name_of(connection, lifter)?;
            let mut statement = connection.prepare_cached(&format!(
                "SELECT {CHECK_IN_COLUMNS} FROM check_in c JOIN fact f ON f.seq = c.seq \
                 WHERE c.lifter = ?1 AND {IS_CURRENT} ORDER BY c.day, c.time, f.entry"
            ))?;
            let mut rows = statement.query([lifter])?;
            let mut check_ins = Vec::new();
            while let Some(row) = rows.next()? {
                check_ins.push(CheckInRow::read(row)?.into_check_in(&name)?);
            }
            Ok(check_ins)
        })
    }

    /// The texts of the coach's lift files, the one that lies on top last.
    pub fn lift_files(&self) -> Result<Vec<String>, StoreError> {
        self.reading(|connection| {
            let mut statement = connection.prepare_cached(&format!(
                "SELECT t.text FROM lift_file t JOIN fact f ON f.seq = t.seq \
                 WHERE {IS_CURRENT} ORDER BY t.seq"
            ))?;
            let texts = statement.query_map([], |row| row.get(0))?;
            Ok(texts.collect::<rusqlite::Result<_>>()?)
        })
    }
}

/// Current sets of each lifter: all rows, counted in the index, less the few that aren't current.
fn counts(connection: &Connection) -> Result<BTreeMap<i64, u64>, Trouble> {
    let mut statement = connection.prepare_cached(
        "SELECT a.lifter, a.n - coalesce(g.n, 0) FROM \
         (SELECT lifter, count(*) AS n FROM logged_set GROUP BY lifter) a LEFT JOIN \
         (SELECT s.lifter, count(*) AS n FROM logged_set s WHERE s.seq IN \
           (SELECT supersedes FROM fact WHERE supersedes IS NOT NULL \
            UNION SELECT seq FROM fact WHERE withdrawn = 1) GROUP BY s.lifter) g \
         ON g.lifter = a.lifter",
    )?;
    let counts = statement.query_map([], |row| Ok((row.get(0)?, row.get::<_, i64>(1)?)))?;
    counts
        .map(|row| row.map(|(lifter, n)| (lifter, n.unsigned_abs())).map_err(Into::into))
        .collect()
}

/// The first or last day with a current set.
fn day_at_end(
    connection: &Connection,
    lifter: i64,
    direction: &str,
) -> Result<Option<Date>, Trouble> {
    let mut statement = connection.prepare_cached(&format!(
        "SELECT s.day, s.seq FROM logged_set s JOIN fact f ON f.seq = s.seq \
         WHERE s.lifter = ?1 AND {IS_CURRENT} ORDER BY s.day {direction} LIMIT 1"
    ))?;
    let found: Option<(String, i64)> =
        statement.query_row([lifter], |row| Ok((row.get(0)?, row.get(1)?))).optional()?;
    found
        .map(|(day, seq)| {
            When::parse(&day).map(When::date).map_err(crate::rows::bad_row("logged_set", seq))
        })
        .transpose()
}

/// Puts the sets of one lift within one session into the order of their numbers, in the places that
/// they hold between them; lifts that take turns go on taking turns.
fn number_within_lifts(sets: &mut [LoggedSet]) {
    for session in sets.chunk_by_mut(|a, b| a.when == b.when) {
        let mut places: BTreeMap<String, Vec<usize>> = BTreeMap::new();
        for (idx, set) in session.iter().enumerate() {
            places.entry(set.lift.key()).or_default().push(idx);
        }
        for idxs in places.into_values() {
            if idxs.is_sorted_by_key(|idx| session[*idx].number) {
                continue;
            }
            let mut in_order: Vec<LoggedSet> =
                idxs.iter().map(|idx| session[*idx].clone()).collect();
            in_order.sort_by_key(|set| set.number);
            for (idx, set) in idxs.into_iter().zip(in_order) {
                session[idx] = set;
            }
        }
    }
}
