//! What a store holds, found by decoding every fact.

use std::collections::BTreeSet;

use jiff::Timestamp;
use jiff::civil::Date;
use rusqlite::{Connection, Rows, Statement};

use crate::error::Trouble;
use crate::facts::{FACT_COLUMNS, read_fact};
use crate::{Fact, Recording, Standing, Thing};

/// What a store or a copy of one holds.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Contents {
    /// Facts, superseded and withdrawn ones included.
    pub facts: u64,
    /// Lifters.
    pub lifters: u64,
    /// The newest day with a set or a check-in.
    pub newest_day: Option<Date>,
    /// When the newest fact was recorded.
    pub last_recorded: Option<Timestamp>,
}

/// Contents in the counting.
#[derive(Debug, Default)]
pub(super) struct Count {
    contents: Contents,
    lifters: BTreeSet<String>,
}

impl Count {
    pub(super) fn add(&mut self, fact: &Fact) {
        self.contents.facts += 1;
        self.contents.last_recorded = self.contents.last_recorded.max(Some(fact.recording.at));
        let day = match &fact.thing {
            Thing::Lifter(lifter) => {
                self.lifters.insert(lifter.name.key());
                None
            }
            Thing::Set(_, set) => Some(set.when.date()),
            Thing::CheckIn(_, check_in) => Some(check_in.when.date()),
            _ => None,
        };
        if fact.standing == Standing::Recorded {
            self.contents.newest_day = self.contents.newest_day.max(day);
        }
    }

    pub(super) fn facts(&self) -> u64 {
        self.contents.facts
    }

    pub(super) fn finish(self) -> Contents {
        Contents { lifters: self.lifters.len() as u64, ..self.contents }
    }
}

/// A statement that gives every fact in the order of recording.
pub(super) fn all_facts(connection: &Connection) -> Result<Statement<'_>, Trouble> {
    Ok(connection.prepare(&format!("SELECT {FACT_COLUMNS} FROM fact f ORDER BY f.seq"))?)
}

/// Facts one by one, so that two stores can be gone through side by side.
pub(super) struct FactRows<'s> {
    connection: &'s Connection,
    rows: Rows<'s>,
    recording: Option<Recording>,
}

impl<'s> FactRows<'s> {
    /// The facts that `statement`, made by [`all_facts`], gives.
    pub(super) fn new(
        connection: &'s Connection,
        statement: &'s mut Statement<'_>,
    ) -> Result<FactRows<'s>, Trouble> {
        Ok(FactRows { connection, rows: statement.query([])?, recording: None })
    }

    pub(super) fn next(&mut self) -> Result<Option<Fact>, Trouble> {
        let Some(row) = self.rows.next()? else { return Ok(None) };
        read_fact(self.connection, row, &mut self.recording).map(Some)
    }
}

/// How many facts there are.
pub(super) fn n_facts(connection: &Connection) -> Result<u64, Trouble> {
    let n: i64 = connection.query_row("SELECT count(*) FROM fact", [], |row| row.get(0))?;
    Ok(n.unsigned_abs())
}
