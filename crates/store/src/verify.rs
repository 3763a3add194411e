//! Whether a record is what was written: every fact against its checksum, all of them against the digest, the tables
//! against those that the migrations make. Computed things aren't looked at here: no fact hangs on them.
//!
//! A checksum covers a fact's own columns, its recording, and what it says. Names stand in it as names, so the
//! tables of names are covered too. The lists here and those of migration 7 and of the writers are the same lists.

use std::collections::BTreeSet;
use std::sync::atomic::{AtomicU32, Ordering};

use rusqlite::{Connection, OptionalExtension};

use crate::checksum::{self, Checksum, digest_with};
use crate::error::Trouble;
use crate::migrate::{CHECKED, MIGRATIONS};
use crate::open::version_of;
use crate::{Store, StoreError};

/// So many of the newest facts are looked over at the start of a long use.
const NEWEST: i64 = 20_000;
/// So many thousand steps of SQLite's engine a quick look at the pages may take: some five seconds.
const QUICK_STEPS: u32 = 400_000;

/// What a fact of one kind says, as it lies in the file.
struct Content {
    table: &'static str,
    joins: &'static str,
    columns: &'static str,
}

const LIFTER: &str = "LEFT JOIN lifter l ON l.id = t.lifter";

const CONTENTS: [Content; 8] = [
    Content {
        table: "lifter_settings",
        joins: LIFTER,
        columns: "l.key, t.name, t.unit, t.bar_g, t.collars_g, t.pain, t.shortfall_pct, \
                  t.cut_for_nothing, t.trained_through, \
                  (SELECT group_concat(p.mass_g || ':' || p.pairs, ' ' ORDER BY p.mass_g) \
                   FROM lifter_plate p WHERE p.seq = t.seq)",
    },
    Content { table: "lift_file", joins: "", columns: "t.text" },
    Content {
        table: "logged_set",
        joins: "LEFT JOIN lifter l ON l.id = t.lifter LEFT JOIN lift_name n ON n.id = t.lift",
        columns: "l.key, n.name, t.day, t.time, t.number, t.kind, t.load_g, t.unit, t.reps, \
                  t.rir_halves, t.note",
    },
    Content {
        table: "check_in",
        joins: LIFTER,
        columns: "l.key, t.day, t.time, t.sleep_h, t.stress, t.soreness, t.body_mass_g, \
                  t.pain_joint, t.pain_rating",
    },
    Content { table: "phone_link", joins: LIFTER, columns: "l.key, t.token_hash, t.opens" },
    Content {
        table: "floor_message",
        joins: "LEFT JOIN lifter l ON l.id = t.lifter LEFT JOIN fact k ON k.seq = t.link",
        columns: "l.key, k.id, t.day, t.kind, t.body, t.logged_us, t.sent_us, t.outcome, t.thing, \
                  t.refused",
    },
    Content { table: "programme", joins: LIFTER, columns: "l.key, t.begins, t.text" },
    Content { table: "plan_change", joins: LIFTER, columns: "l.key, t.from_day, t.to_day, t.text" },
];

impl Store {
    /// Looks the whole record over: every page, every index, every fact against its checksum, and all of them
    /// against the record's digest. Takes some seconds for each million sets.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`] with the first thing that isn't right.
    pub fn verify(&self) -> Result<(), StoreError> {
        self.reading(refuse_damage)
    }

    /// A quick look before a long use: the tables, the pages without their indexes for some seconds at most, and the
    /// newest facts. A record of a million sets takes about a second.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`] with the first thing that isn't right.
    pub fn verify_quickly(&self) -> Result<(), StoreError> {
        self.reading(|connection| {
            refuse_strange_tables(connection)?;
            quick_look_at_pages(connection)?;
            let newest: i64 =
                connection
                    .query_row("SELECT coalesce(max(seq), 0) FROM fact", [], |row| row.get(0))?;
            refuse_damaged_facts(connection, newest - NEWEST)
        })
    }

    /// How many facts there are and the digest of all of them, as the last commit wrote it: two records with the
    /// same are the same. [`Store::verify`] holds it against the facts.
    pub fn digest(&self) -> Result<(u64, u64), StoreError> {
        self.reading(|connection| {
            let (n, digest) = digest_on_record(connection)?;
            Ok((n.unsigned_abs(), digest.cast_unsigned()))
        })
    }
}

/// What [`Store::verify`] looks over.
pub(crate) fn refuse_damage(connection: &Connection) -> Result<(), Trouble> {
    refuse_damaged_pages(connection, "integrity_check")?;
    refuse_strange_tables(connection)?;
    refuse_damaged_facts(connection, 0)?;
    refuse_other_digest(connection)
}

/// Says of the first thing that was noticed about pages and indexes.
pub(crate) fn refuse_damaged_pages(connection: &Connection, pragma: &str) -> Result<(), Trouble> {
    let found: String =
        connection.query_row(&format!("PRAGMA {pragma}(1)"), [], |row| row.get(0))?;
    if found == "ok" { Ok(()) } else { Err(damage("the file", found)) }
}

/// Ends the look without a finding once it takes too long.
fn quick_look_at_pages(connection: &Connection) -> Result<(), Trouble> {
    let steps = AtomicU32::new(0);
    connection.progress_handler(
        1_000,
        Some(move || steps.fetch_add(1, Ordering::Relaxed) > QUICK_STEPS),
    )?;
    let looked = refuse_damaged_pages(connection, "quick_check");
    connection.progress_handler(0, None::<fn() -> bool>)?;
    match looked {
        Err(Trouble::Sql(error))
            if error.sqlite_error_code() == Some(rusqlite::ErrorCode::OperationInterrupted) =>
        {
            Ok(())
        }
        looked => looked,
    }
}

fn refuse_strange_tables(connection: &Connection) -> Result<(), Trouble> {
    match strange_tables(connection)?.into_iter().next() {
        None => Ok(()),
        Some(name) => Err(damage("the tables", format!("`{name}` is not as it was made"))),
    }
}

fn refuse_damaged_facts(connection: &Connection, after: i64) -> Result<(), Trouble> {
    match damaged_facts(connection, after, 1)?.first() {
        None => Ok(()),
        Some(seq) => Err(damage(&format!("fact {seq}"), "it doesn't match its checksum".into())),
    }
}

fn refuse_other_digest(connection: &Connection) -> Result<(), Trouble> {
    if record_digest(connection)? == digest_on_record(connection)? {
        return Ok(());
    }
    Err(damage("the record", "its facts don't match its digest".to_owned()))
}

fn damage(place: &str, reason: String) -> Trouble {
    Trouble::BadRow { place: place.to_owned(), reason }
}

/// The facts after this one, at most `limit`, that aren't what was written, or say nothing.
pub(crate) fn damaged_facts(
    connection: &Connection,
    after: i64,
    limit: usize,
) -> Result<Vec<i64>, Trouble> {
    let mut found = BTreeSet::new();
    for Content { table, joins, columns } in &CONTENTS {
        let mut statement = connection.prepare(&format!(
            "SELECT t.seq FROM {table} t LEFT JOIN fact f ON f.seq = t.seq \
             LEFT JOIN recording r ON r.id = f.recording {joins} \
             WHERE t.seq > ?1 AND f.checksum IS NOT row_checksum(f.seq, f.kind, f.id, f.place, \
             f.entry, f.supersedes, f.withdrawn, f.reason, f.recording, r.at_us, r.source, \
             {columns}) LIMIT ?2"
        ))?;
        let seqs = statement.query_map((after, limit as i64), |row| row.get(0))?;
        for seq in seqs {
            found.insert(seq?);
        }
    }
    if found.is_empty() {
        found.extend(says_nothing(connection, after)?);
    }
    Ok(found.into_iter().take(limit).collect())
}

/// A fact after this one that stands in no table of contents.
fn says_nothing(connection: &Connection, after: i64) -> Result<Option<i64>, Trouble> {
    let count = |table: &str| -> Result<i64, Trouble> {
        let query = format!("SELECT count(*) FROM {table} WHERE seq > ?1");
        Ok(connection.query_row(&query, [after], |row| row.get(0))?)
    };
    let mut n_contents = 0;
    for content in &CONTENTS {
        n_contents += count(content.table)?;
    }
    if count("fact")? == n_contents {
        return Ok(None);
    }
    let nowhere: Vec<String> = CONTENTS
        .iter()
        .map(|content| format!("seq NOT IN (SELECT seq FROM {})", content.table))
        .collect();
    let query =
        format!("SELECT seq FROM fact WHERE seq > ?1 AND {} LIMIT 1", nowhere.join(" AND "));
    Ok(connection.query_row(&query, [after], |row| row.get(0)).optional()?)
}

/// How many facts there are, and the digest of all of them, counted anew.
pub(crate) fn record_digest(connection: &Connection) -> Result<(i64, i64), Trouble> {
    let mut statement = connection.prepare("SELECT checksum FROM fact ORDER BY seq")?;
    let mut rows = statement.query([])?;
    let (mut n, mut digest) = (0, 0);
    while let Some(row) = rows.next()? {
        n += 1;
        digest = digest_with(digest, row.get(0)?);
    }
    Ok((n, digest))
}

/// How many facts there are, and the digest of all of them, as the last commit wrote it.
pub(crate) fn digest_on_record(connection: &Connection) -> Result<(i64, i64), Trouble> {
    let mut statement =
        connection.prepare_cached("SELECT n_facts, digest FROM record_mark WHERE id = 1")?;
    Ok(statement.query_row([], |row| Ok((row.get(0)?, row.get(1)?)))?)
}

/// Tables, indexes and triggers that aren't as the migrations make them, or are missing.
pub(crate) fn strange_tables(connection: &Connection) -> Result<Vec<String>, Trouble> {
    let made = Connection::open_in_memory()?;
    checksum::teach(&made)?;
    made.pragma_update(None, "foreign_keys", false)?;
    let version = version_of(connection)?;
    for migration in MIGRATIONS.iter().take(usize::try_from(version).unwrap_or(0)) {
        made.execute_batch(migration)?;
    }
    let (found, expected) = (tables(connection)?, tables(&made)?);
    let differing = found.symmetric_difference(&expected).map(|(name, _)| name.clone());
    Ok(differing.collect::<BTreeSet<_>>().into_iter().collect())
}

/// Name and text of each entry of the schema.
fn tables(connection: &Connection) -> Result<BTreeSet<(String, String)>, Trouble> {
    let mut statement = connection.prepare(
        "SELECT name, type || ' on ' || tbl_name || ': ' || coalesce(sql, '') FROM sqlite_schema",
    )?;
    let rows = statement.query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?;
    Ok(rows.collect::<rusqlite::Result<_>>()?)
}

/// Whether the file is of a version whose facts carry checksums.
pub(crate) fn is_checked(version: i64) -> bool {
    version >= CHECKED
}

/// What a fact says besides its content, on the way to its checksum.
pub(crate) struct HeadOfFact<'a> {
    pub(crate) seq: i64,
    pub(crate) kind: &'a str,
    pub(crate) id: &'a [u8],
    pub(crate) place: Option<&'a [u8]>,
    pub(crate) entry: i64,
    pub(crate) supersedes: Option<i64>,
    pub(crate) withdrawn: bool,
    pub(crate) reason: &'a str,
    pub(crate) recording: i64,
    pub(crate) at_us: i64,
    pub(crate) source: &'a str,
}

impl HeadOfFact<'_> {
    /// A checksum that has all of it, to which the content comes.
    pub(crate) fn begin_checksum(&self) -> Checksum {
        let mut sum = Checksum::new();
        sum.add(self.seq)
            .add(self.kind)
            .add(self.id)
            .add(self.place)
            .add(self.entry)
            .add(self.supersedes)
            .add(self.withdrawn)
            .add(self.reason)
            .add(self.recording)
            .add(self.at_us)
            .add(self.source);
        sum
    }
}
