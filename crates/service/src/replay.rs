//! Replay: a whole log read as it would have been read at the time, one row per lead set.
//!
//! Needs no store. Other programs read the table, so its columns stay as they are;
//! `docs/replay.md` says what each means.

use std::collections::{BTreeMap, HashMap};
use std::io::Write;

use domain::{Catalogue, CheckIn, Limits, LoggedSet, SetId};

use crate::history::{History, Point};

/// The columns of the table, in order.
pub const COLUMNS: [&str; 20] = [
    "lifter",
    "date",
    "lift",
    "load_kg",
    "reps",
    "rir",
    "forecast_reps",
    "forecast_low",
    "forecast_high",
    "log_1rm_seen",
    "log_1rm_forecast",
    "log_1rm_forecast_sd",
    "one_rm_kg",
    "trend_pct_per_week",
    "scatter_pct",
    "gauge",
    "p_shortfall",
    "plain_rule",
    "call",
    "reason",
];

/// Replays sets of any number of lifters, given in the log's order; the rows come in that order.
/// `progress` is told how many lifters are done, of how many.
#[must_use]
pub fn replay(
    catalogue: &Catalogue,
    limits: &Limits,
    sets: Vec<LoggedSet>,
    check_ins: Vec<CheckIn>,
    progress: &mut dyn FnMut(usize, usize),
) -> Vec<Point> {
    let order: HashMap<SetId, usize> =
        sets.iter().enumerate().map(|(idx, set)| (set.id(), idx)).collect();
    let mut lifters: BTreeMap<String, (Vec<LoggedSet>, Vec<CheckIn>)> = BTreeMap::new();
    for set in sets {
        lifters.entry(set.lifter.key()).or_default().0.push(set);
    }
    for check_in in check_ins {
        lifters.entry(check_in.lifter.key()).or_default().1.push(check_in);
    }
    let whole = lifters.len();
    let mut rows = Vec::new();
    for (idx, (sets, check_ins)) in lifters.into_values().enumerate() {
        let history = History::read(catalogue, limits, sets, check_ins);
        rows.extend(history.lifts.into_iter().flat_map(|lift| lift.points));
        progress(idx + 1, whole);
    }
    rows.sort_by_cached_key(|point| order.get(&point.set.id()).copied().unwrap_or(usize::MAX));
    rows
}

/// Writes the table as CSV.
///
/// # Errors
/// Whatever writing to `out` meets.
pub fn write_rows(rows: &[Point], out: &mut dyn Write) -> Result<(), csv::Error> {
    let mut table = csv::Writer::from_writer(out);
    table.write_record(COLUMNS)?;
    for point in rows {
        table.write_record(row(point))?;
    }
    table.flush()?;
    Ok(())
}

/// One row as text: numbers with `.`, empty where there is nothing to say.
#[must_use]
pub fn row(point: &Point) -> [String; 20] {
    let expected = point.reading.map(|reading| reading.expected);
    let reps = expected.map(|expected| expected.reps_interval());
    let number = |value: Option<f64>, decimals: usize| {
        value.map_or_else(String::new, |value| format!("{value:.decimals$}"))
    };
    [
        point.set.lifter.to_string(),
        point.set.when.to_string(),
        point.set.lift.to_string(),
        number(Some(point.set.load.kg()), 3),
        point.set.reps.to_string(),
        point.set.rir.map_or_else(String::new, |rir| rir.to_string()),
        number(reps.map(|(_, likely, _)| likely), 2),
        number(reps.map(|(low, _, _)| low), 2),
        number(reps.map(|(_, _, high)| high), 2),
        number(point.log_shown, 6),
        number(expected.map(|expected| expected.mean), 6),
        number(expected.map(|expected| expected.sd()), 6),
        number(point.today.map(|today| today.log_one_rm.exp()), 2),
        number(point.today.map(|today| 700.0 * today.slope), 3),
        number(Some(point.scatter.pct), 2),
        point.gauge.is_gauge.to_string(),
        number(point.reading.map(|reading| reading.p_shortfall), 4),
        point.plain_rule.unwrap_or(false).to_string(),
        point.ruling.call.as_str().to_owned(),
        point.ruling.reason.clone(),
    ]
}
