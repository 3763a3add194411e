//! Replay: a whole log read as it would have been read at the time, one row per lead set.
//!
//! Needs no store. Other programs read the table, so its columns stay as they are;
//! `docs/replay.md` says what each means.

pub mod forecasts;

use std::collections::{BTreeMap, HashMap};
use std::convert::Infallible;
use std::io::Write;

use domain::{Catalogue, CheckIn, Limits, LoggedSet, SetId};

use crate::import::cell_text::guarded;
use crate::parallel::at_once;
use crate::record::history::{History, Model, Point};
use crate::record::inputs::Grounds;

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

/// How a log is replayed.
#[derive(Clone, Copy, Debug)]
pub struct Replay<'a> {
    /// The lifts known.
    pub catalogue: &'a Catalogue,
    /// The limits of every lifter.
    pub limits: &'a Limits,
    /// Where readings come from.
    pub model: Model,
    /// Pooled values, for the recovery model.
    pub grounds: &'a Grounds,
    /// How many lifters are read at once, at least 1; the rows don't depend on it.
    pub threads: usize,
}

/// One lifter's part of a log.
type Part = (Vec<LoggedSet>, Vec<CheckIn>);

impl Replay<'_> {
    /// Replays sets of any number of lifters, given in the log's order; the rows come in that order.
    /// `progress` is told how many lifters are done, of how many.
    #[must_use]
    pub fn rows(
        &self,
        sets: Vec<LoggedSet>,
        check_ins: Vec<CheckIn>,
        progress: &mut dyn FnMut(usize, usize),
    ) -> Vec<Point> {
        let order: HashMap<SetId, usize> =
            sets.iter().enumerate().map(|(idx, set)| (set.id(), idx)).collect();
        let mut lifters: BTreeMap<String, Part> = BTreeMap::new();
        for set in sets {
            lifters.entry(set.lifter.key()).or_default().0.push(set);
        }
        for check_in in check_ins {
            lifters.entry(check_in.lifter.key()).or_default().1.push(check_in);
        }
        let mut rows = self.read_all(lifters.into_values().collect(), progress);
        rows.sort_by_cached_key(|point| order.get(&point.set.id()).copied().unwrap_or(usize::MAX));
        rows
    }

    /// Reads all lifters, several at once, and tells of progress here.
    fn read_all(&self, parts: Vec<Part>, progress: &mut dyn FnMut(usize, usize)) -> Vec<Point> {
        let whole = parts.len();
        let (mut rows, mut n_read) = (Vec::new(), 0);
        let Ok(()) = at_once(
            self.threads,
            parts,
            |part| self.read_one(part),
            |of_lifter| {
                rows.extend(of_lifter);
                n_read += 1;
                progress(n_read, whole);
                Ok::<_, Infallible>(())
            },
        );
        rows
    }

    fn read_one(&self, (sets, check_ins): Part) -> Vec<Point> {
        let grounds = self.grounds.clone();
        let (catalogue, limits) = (self.catalogue, self.limits);
        let history = History::read_on(grounds, catalogue, limits, self.model, sets, check_ins);
        history.lifts.into_iter().flat_map(|lift| lift.points).collect()
    }
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

/// One row as text: numbers with `.`, empty where there is nothing to say; names and reasons so that no
/// spreadsheet takes them for formulas.
#[must_use]
pub fn row(point: &Point) -> [String; 20] {
    let expected = point.reading.map(|reading| reading.expected);
    let reps = expected.map(|expected| expected.reps_interval());
    let number = |value: Option<f64>, decimals: usize| {
        value.map_or_else(String::new, |value| format!("{value:.decimals$}"))
    };
    [
        guarded(point.set.lifter.as_str()).into_owned(),
        point.set.when.to_string(),
        guarded(point.set.lift.as_str()).into_owned(),
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
        number(point.scatter.map(|scatter| scatter.pct), 2),
        point.is_gauge.to_string(),
        number(point.p_shortfall, 4),
        point.plain_rule.unwrap_or(false).to_string(),
        point.ruling.call.as_str().to_owned(),
        guarded(&point.ruling.reason).into_owned(),
    ]
}
