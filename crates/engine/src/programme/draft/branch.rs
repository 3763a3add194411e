//! A second opinion by branch and bound: the solver HiGHS on the same program.
//!
//! Built only with the feature `highs`, because it takes a C++ compiler and minutes. It proves closer bounds than
//! the relaxation alone and may find a better week; both are taken for what they are: a bound is rounded up past
//! the solver's tolerance, and a week is looked at anew by whoever takes it.

use std::time::Duration;

use highs::{Col, HighsModelStatus, RowProblem, Sense};

use super::bound::{Bound, rounded_up};
use super::model::Plan;
use super::rows::{Held, Rows};

/// What the solver found in its time.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Branched {
    /// What no week can exceed.
    pub bound: Bound,
    /// The best week that it found, if any; not yet checked.
    pub plan: Option<Plan>,
    /// Whether it says that this is the best there is.
    pub is_best: bool,
}

/// Solves a program for no longer than `limit`, on one thread.
#[must_use]
pub fn branch(rows: &Rows, limit: Duration) -> Branched {
    let mut problem = RowProblem::new();
    let columns: Vec<Col> = rows
        .columns
        .iter()
        .map(|column| {
            let bounds = 0.0..=column.most;
            match column.whole {
                true => problem.add_integer_column(column.worth, bounds),
                false => problem.add_column(column.worth, bounds),
            }
        })
        .collect();
    for row in &rows.rows {
        let terms: Vec<(Col, f64)> =
            row.terms.iter().map(|(at, factor)| (columns[*at], *factor)).collect();
        match row.held {
            Held::AtMost => problem.add_row(..=row.number, terms),
            Held::AtLeast => problem.add_row(row.number.., terms),
            Held::Equal => problem.add_row(row.number..=row.number, terms),
        };
    }
    let mut model = problem.optimise(Sense::Maximise);
    model.make_quiet();
    model.set_option("threads", 1);
    model.set_option("time_limit", limit.as_secs_f64());
    model.set_option("mip_rel_gap", 0.0);
    let solved = model.solve();
    let status = solved.status();
    if status == HighsModelStatus::Infeasible {
        return Branched { bound: Bound::Impossible, plan: None, is_best: false };
    }
    let proven = solved.double_info_value(c"mip_dual_bound").ok().filter(|most| most.is_finite());
    let bound = proven.map_or(Bound::Unknown, |most| rounded_up(most, rows.constant));
    let is_best = status == HighsModelStatus::Optimal;
    let values = solved.get_solution();
    let plan = (solved.mip_gap().is_finite()).then(|| plan_of(rows, values.columns()));
    Branched { bound, plan, is_best }
}

/// The sets of each place, from the columns' values.
fn plan_of(rows: &Rows, values: &[f64]) -> Plan {
    let sets = |place: &Option<(usize, usize, u8)>| match place {
        Some((on, more, least)) if values[*on] > 0.5 => {
            least + values[*more].round().clamp(0.0, 200.0) as u8 // a few sets
        }
        _ => 0,
    };
    Plan { sets: rows.places.iter().map(sets).collect() }
}
