//! Computed things that are kept: fits of lifters' parameters, and values of lifters in general.
//!
//! They are no facts. Everything here can be computed from the facts again, so it may be replaced or
//! thrown away, and an export leaves it out. What the numbers mean is the engine's; whether a fit
//! still belongs to a record is for whoever reads it to check, by its ground.

use domain::LifterName;
use jiff::Timestamp;
use rusqlite::{Connection, Row, Transaction, TransactionBehavior, params};

use crate::error::Trouble;
use crate::log::renew_mark;
use crate::open::version_of;
use crate::verify::is_checked;
use crate::writer::lifter_id;
use crate::{Store, StoreError};

/// Names values of lifters in general.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct PooledId(i64);

impl PooledId {
    /// The values that come with the program.
    pub const SHIPPED: PooledId = PooledId(0);

    /// The number: 0 for those that come with the program.
    #[must_use]
    pub fn get(self) -> u64 {
        self.0.unsigned_abs()
    }
}

/// Values of lifters in general, as estimated from lifters.
#[derive(Clone, Debug, PartialEq)]
pub struct PooledValues {
    /// Their number in this store.
    pub id: PooledId,
    /// When they were estimated, to the microsecond.
    pub made: Timestamp,
    /// From how many lifters.
    pub n_lifters: u64,
    /// How the estimate ended, in words.
    pub verdict: String,
    /// The numbers by name, in the order of their names.
    pub numbers: Vec<(String, f64)>,
}

/// A lifter's fit, as kept.
#[derive(Clone, Debug, PartialEq)]
pub struct KeptFit {
    /// How many lead sets it read.
    pub n_lead_sets: u64,
    /// The version of the model that made it.
    pub model: u32,
    /// Fingerprint of all that it rests on.
    pub ground: [u8; 16],
    /// The store's newest fact when it was made.
    pub newest_fact: u64,
    /// When it was made, to the microsecond.
    pub made: Timestamp,
    /// The parameters.
    pub at: Vec<f64>,
    /// Whether the climb converged.
    pub converged: bool,
    /// Log-posterior at the end of the climb.
    pub log_posterior: f64,
    /// How far from the top it ended.
    pub distance: f64,
    /// Its iterations.
    pub iterations: u64,
    /// What the record alone says of the parameters: mean and precision, row by row.
    pub estimate: Option<(Vec<f64>, Vec<f64>)>,
}

const CONVERGED: &str = "converged";
const NOT_CONVERGED: &str = "not converged";

/// The number of the values in force.
const IN_FORCE: &str =
    "coalesce((SELECT pooled FROM pooled_in_force ORDER BY seq DESC LIMIT 1), 0)";

/// The checksum of each row, by its table. Facts carry theirs; see `verify`.
const SUMS: [(&str, &str); 4] = [
    ("pooled_number", "row_checksum(pooled, name, value)"),
    (
        "pooled",
        "row_checksum(id, made_us, n_lifters, verdict, \
         (SELECT count(*) FROM pooled_number n WHERE n.pooled = pooled.id))",
    ),
    ("pooled_in_force", "row_checksum(seq, since_us, pooled)"),
    ("fit", FIT_SUM),
];

const FIT_SUM: &str = "row_checksum((SELECT key FROM lifter l WHERE l.id = fit.lifter), pooled, \
                       n_lead_sets, model, ground, newest_fact, made_us, at, verdict, \
                       log_posterior, distance, iterations, mean, precision)";

impl Store {
    /// The lifter's fits that count: of this version of the model, and made from the pooled values in
    /// force. Those of the fewest lead sets come first; empty for an unknown lifter.
    pub fn kept_fits(&self, name: &LifterName, model: u32) -> Result<Vec<KeptFit>, StoreError> {
        self.reading(|connection| {
            let Some(lifter) = lifter_id(connection, name)? else { return Ok(Vec::new()) };
            let mut statement = connection.prepare_cached(&format!(
                "SELECT n_lead_sets, model, ground, newest_fact, made_us, at, verdict, \
                 log_posterior, distance, iterations, mean, precision FROM fit \
                 WHERE lifter = ?1 AND model = ?2 AND pooled = {IN_FORCE} AND checksum = {FIT_SUM} \
                 ORDER BY n_lead_sets"
            ))?;
            let mut rows = statement.query(params![lifter, model])?;
            let mut fits = Vec::new();
            while let Some(row) = rows.next()? {
                fits.push(read_fit(lifter, row)?);
            }
            Ok(fits)
        })
    }

    /// Keeps these fits of a lifter, made from the pooled values `pooled`, in place of all that are
    /// kept of the lifter from these values. On the disk when it returns, all of them or none.
    ///
    /// # Errors
    /// The lifter isn't in the store, or the store has trouble.
    pub fn keep_fits(
        &self,
        name: &LifterName,
        pooled: PooledId,
        fits: &[KeptFit],
    ) -> Result<(), StoreError> {
        self.keeping(|at| {
            let lifter = lifter_id(at, name)?
                .ok_or_else(|| StoreError::UnknownLifter { name: name.to_string() })?;
            at.prepare_cached("DELETE FROM fit WHERE lifter = ?1 AND pooled = ?2")?
                .execute(params![lifter, pooled.0])?;
            fits.iter().try_for_each(|fit| write_fit(at, lifter, pooled, fit))?;
            at.prepare_cached(&format!(
                "UPDATE fit SET checksum = {FIT_SUM} WHERE lifter = ?1 AND pooled = ?2"
            ))?
            .execute(params![lifter, pooled.0])?;
            Ok(())
        })
    }

    /// Keeps values of lifters in general; they come into force with [`Store::put_in_force`].
    ///
    /// # Errors
    /// The store has trouble.
    pub fn keep_pooled(
        &self,
        made: Timestamp,
        n_lifters: u64,
        verdict: &str,
        numbers: &[(&str, f64)],
    ) -> Result<PooledId, StoreError> {
        self.keeping(|at| {
            at.execute(
                "INSERT INTO pooled (made_us, n_lifters, verdict) VALUES (?1, ?2, ?3)",
                params![made.as_microsecond(), whole(n_lifters), verdict],
            )?;
            let id = at.last_insert_rowid();
            let mut statement = at.prepare_cached(
                "INSERT INTO pooled_number (pooled, name, value) VALUES (?1, ?2, ?3)",
            )?;
            for (name, value) in numbers {
                statement.execute(params![id, name, value])?;
            }
            sum_row(at, "pooled_number", "pooled", id)?;
            sum_row(at, "pooled", "id", id)?;
            Ok(PooledId(id))
        })
    }

    /// Puts values of lifters in general in force; those in force before stay in the store.
    ///
    /// # Errors
    /// The store has trouble.
    pub fn put_in_force(&self, pooled: PooledId, now: Timestamp) -> Result<(), StoreError> {
        self.keeping(|at| {
            at.execute(
                "INSERT INTO pooled_in_force (since_us, pooled) VALUES (?1, ?2)",
                params![now.as_microsecond(), pooled.0],
            )?;
            sum_row(at, "pooled_in_force", "seq", at.last_insert_rowid())
        })
    }

    /// The number of the pooled values in force. Takes the same short time however long the record is.
    pub fn pooled_id_in_force(&self) -> Result<PooledId, StoreError> {
        self.reading(|connection| {
            refuse_damaged_pooled(connection)?;
            let query = format!("SELECT {IN_FORCE}");
            Ok(PooledId(connection.prepare_cached(&query)?.query_row([], |row| row.get(0))?))
        })
    }

    /// The pooled values in force; none if they are those that come with the program.
    pub fn pooled_in_force(&self) -> Result<Option<PooledValues>, StoreError> {
        self.reading(|connection| {
            let found = all_pooled(connection, &format!("id = {IN_FORCE}"))?;
            Ok(found.into_iter().next())
        })
    }

    /// All pooled values that were ever kept, in the order in which they came.
    pub fn all_pooled(&self) -> Result<Vec<PooledValues>, StoreError> {
        self.reading(|connection| all_pooled(connection, "1"))
    }

    /// Writes computed things in one transaction.
    fn keeping<T>(
        &self,
        write: impl FnOnce(&Transaction<'_>) -> Result<T, Trouble>,
    ) -> Result<T, StoreError> {
        let mut turn = self.writer()?;
        self.refuse_if_lost(&turn)?;
        let written = in_one_transaction(turn.connection_mut(), write);
        let value = written.map_err(|trouble| trouble.at(self.path()))?;
        self.refuse_if_lost(&turn)?;
        self.committed(&turn);
        Ok(value)
    }
}

/// Gives the rows of a table in which `column` is `value` their checksums.
fn sum_row(at: &Connection, table: &str, column: &str, value: i64) -> Result<(), Trouble> {
    for (_, sum) in SUMS.iter().filter(|(summed, _)| *summed == table) {
        let update = format!("UPDATE {table} SET checksum = {sum} WHERE {column} = ?1");
        at.prepare_cached(&update)?.execute([value])?;
    }
    Ok(())
}

/// How many rows of computed things aren't what was written.
fn n_damaged(connection: &Connection) -> Result<i64, Trouble> {
    SUMS.iter().map(|(table, _)| n_damaged_in(connection, table)).sum()
}

fn n_damaged_in(connection: &Connection, table: &str) -> Result<i64, Trouble> {
    let Some((_, sum)) = SUMS.iter().find(|(summed, _)| *summed == table) else { return Ok(0) };
    let query = format!("SELECT count(*) FROM {table} WHERE checksum IS NOT {sum}");
    Ok(connection.prepare_cached(&query)?.query_row([], |row| row.get(0))?)
}

/// Other values would change every reading without a word.
fn refuse_damaged_pooled(connection: &Connection) -> Result<(), Trouble> {
    for (table, _) in SUMS.iter().filter(|(table, _)| *table != "fit") {
        if n_damaged_in(connection, table)? > 0 {
            let place = format!("table `{table}`");
            let reason = "a row of it doesn't match its checksum".to_owned();
            return Err(Trouble::BadRow { place, reason });
        }
    }
    Ok(())
}

fn in_one_transaction<T>(
    connection: &mut Connection,
    write: impl FnOnce(&Transaction<'_>) -> Result<T, Trouble>,
) -> Result<T, Trouble> {
    let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    let value = write(&transaction)?;
    renew_mark(&transaction)?;
    transaction.commit()?;
    Ok(value)
}

/// What the doctor says of the computed things: words, and whether all is well with them.
pub(crate) fn state_of_fits(connection: &Connection) -> Result<(String, bool), Trouble> {
    let n_wrong = if is_checked(version_of(connection)?) { n_damaged(connection)? } else { 0 };
    let query = format!(
        "SELECT (SELECT count(*) FROM fit), (SELECT count(DISTINCT lifter) FROM fit), \
         (SELECT count(*) FROM pooled WHERE id > 0), {IN_FORCE}, \
         (SELECT count(*) FROM fit WHERE length(at) % 8 <> 0 OR length(ground) <> 16 \
          OR newest_fact > (SELECT coalesce(max(seq), 0) FROM fact)), \
         (SELECT count(*) FROM pooled p WHERE p.id > 0 AND NOT EXISTS \
          (SELECT 1 FROM pooled_number n WHERE n.pooled = p.id))"
    );
    connection
        .query_row(&query, [], |row| {
            let count = |idx: usize| row.get::<_, i64>(idx);
            let values = match count(3)? {
                0 => "the pooled values that come with the program are in force".to_owned(),
                id => format!("the pooled values {id} are in force"),
            };
            let damaged = count(4)? + count(5)? + n_wrong;
            let words = match damaged {
                0 => format!(
                    "{} fits of {} lifters are kept; of {} pooled values made here, {values}",
                    count(0)?,
                    count(1)?,
                    count(2)?
                ),
                n => format!("{n} rows of kept fits or pooled values can't be right"),
            };
            Ok((words, damaged == 0))
        })
        .map_err(Into::into)
}

fn all_pooled(connection: &Connection, wanted: &str) -> Result<Vec<PooledValues>, Trouble> {
    refuse_damaged_pooled(connection)?;
    let mut statement = connection.prepare_cached(&format!(
        "SELECT id, made_us, n_lifters, verdict FROM pooled WHERE id > 0 AND {wanted} ORDER BY id"
    ))?;
    let mut rows = statement.query([])?;
    let mut found = Vec::new();
    while let Some(row) = rows.next()? {
        let id: i64 = row.get(0)?;
        let numbers = connection
            .prepare_cached(
                "SELECT name, value FROM pooled_number WHERE pooled = ?1 ORDER BY name",
            )?
            .query_map([id], |row| Ok((row.get(0)?, row.get(1)?)))?
            .collect::<rusqlite::Result<_>>()?;
        found.push(PooledValues {
            id: PooledId(id),
            made: moment("pooled", id, row.get(1)?)?,
            n_lifters: row.get::<_, i64>(2)?.unsigned_abs(),
            verdict: row.get(3)?,
            numbers,
        });
    }
    Ok(found)
}

fn read_fit(lifter: i64, row: &Row<'_>) -> Result<KeptFit, Trouble> {
    let ground: Vec<u8> = row.get(2)?;
    let verdict: String = row.get(6)?;
    let mean: Option<Vec<u8>> = row.get(10)?;
    let precision: Option<Vec<u8>> = row.get(11)?;
    let numbers = |bytes: &[u8]| floats(bytes).ok_or_else(|| bad(lifter, "a number was cut off"));
    let estimate = match (mean, precision) {
        (Some(mean), Some(precision)) => Some((numbers(&mean)?, numbers(&precision)?)),
        _ => None,
    };
    Ok(KeptFit {
        n_lead_sets: row.get::<_, i64>(0)?.unsigned_abs(),
        model: row.get(1)?,
        ground: ground.try_into().map_err(|_| bad(lifter, "its ground isn't 16 bytes long"))?,
        newest_fact: row.get::<_, i64>(3)?.unsigned_abs(),
        made: moment("fit", lifter, row.get(4)?)?,
        at: numbers(&row.get::<_, Vec<u8>>(5)?)?,
        converged: match verdict.as_str() {
            CONVERGED => true,
            NOT_CONVERGED => false,
            other => return Err(bad(lifter, &format!("`{other}` is no verdict"))),
        },
        log_posterior: row.get(7)?,
        distance: row.get(8)?,
        iterations: row.get::<_, i64>(9)?.unsigned_abs(),
        estimate,
    })
}

fn write_fit(at: &Connection, lifter: i64, pooled: PooledId, fit: &KeptFit) -> Result<(), Trouble> {
    at.prepare_cached(
        "INSERT INTO fit (lifter, pooled, n_lead_sets, model, ground, newest_fact, made_us, at, \
         verdict, log_posterior, distance, iterations, mean, precision) \
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14)",
    )?
    .execute(params![
        lifter,
        pooled.0,
        whole(fit.n_lead_sets),
        fit.model,
        fit.ground,
        whole(fit.newest_fact),
        fit.made.as_microsecond(),
        bytes(&fit.at),
        if fit.converged { CONVERGED } else { NOT_CONVERGED },
        fit.log_posterior,
        fit.distance,
        whole(fit.iterations),
        fit.estimate.as_ref().map(|(mean, _)| bytes(mean)),
        fit.estimate.as_ref().map(|(_, precision)| bytes(precision)),
    ])?;
    Ok(())
}

/// A count as SQLite holds it.
fn whole(number: u64) -> i64 {
    i64::try_from(number).unwrap_or(i64::MAX)
}

fn bytes(numbers: &[f64]) -> Vec<u8> {
    numbers.iter().flat_map(|number| number.to_le_bytes()).collect()
}

/// The numbers that lie in `bytes`; none if the last was cut off.
fn floats(bytes: &[u8]) -> Option<Vec<f64>> {
    let (numbers, rest) = bytes.as_chunks::<8>();
    rest.is_empty().then(|| numbers.iter().map(|number| f64::from_le_bytes(*number)).collect())
}

fn moment(table: &str, row: i64, us: i64) -> Result<Timestamp, Trouble> {
    Timestamp::from_microsecond(us).map_err(|error| Trouble::BadRow {
        place: format!("table `{table}`, row {row}"),
        reason: error.to_string(),
    })
}

fn bad(lifter: i64, reason: &str) -> Trouble {
    Trouble::BadRow { place: format!("table `fit`, lifter {lifter}"), reason: reason.to_owned() }
}
