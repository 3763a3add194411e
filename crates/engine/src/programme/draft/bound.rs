//! What no week can be better than: the best of the model's linear relaxation.
//!
//! The relaxation lets numbers of sets be broken, so its best is at least that of any real week. It is solved
//! with microlp, which is given a time limit by the caller; without an answer in time there is no bound, and
//! that is said. The value is rounded up, past what the arithmetic of the solver can be off.

use std::time::Duration;

use microlp::{ComparisonOp, OptimizationDirection, Problem, SolveOptions, SolveOutcome};

use super::model::Model;
use super::rows::{Form, Held, Rows};

/// How far beyond its answer the solver's best may lie, relatively: a hundred times its tolerance.
const SLACK: f64 = 1e-5;

/// What came of looking for a bound.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Bound {
    /// No week has more points than this.
    AtMost(i64),
    /// No week keeps to all wishes, even with broken sets.
    Impossible,
    /// Not known within the time given.
    Unknown,
}

/// Points that no week of the model can exceed, looked for no longer than `limit`.
#[must_use]
pub fn bound(model: &Model<'_>, form: Form, limit: Duration) -> Bound {
    if model.fixed_wrongly > 0 {
        return Bound::Impossible;
    }
    let rows = Rows::of(model, form);
    let mut problem = Problem::new(OptimizationDirection::Maximize);
    let columns: Vec<_> = rows
        .columns
        .iter()
        .map(|column| problem.add_var(column.worth, (0.0, column.most)))
        .collect();
    for row in &rows.rows {
        let held = match row.held {
            Held::AtMost => ComparisonOp::Le,
            Held::AtLeast => ComparisonOp::Ge,
            Held::Equal => ComparisonOp::Eq,
        };
        let terms: Vec<_> = row.terms.iter().map(|(at, factor)| (columns[*at], *factor)).collect();
        problem.add_constraint(terms, held, row.number);
    }
    let mut options = SolveOptions::default();
    options.time_limit = Some(limit);
    match problem.solve_with(options) {
        Ok(SolveOutcome::Solution(solution))
            if solution.status() == microlp::SolutionStatus::Optimal =>
        {
            rounded_up(solution.objective(), rows.constant)
        }
        Err(microlp::Error::Infeasible) => Bound::Impossible,
        _ => Bound::Unknown,
    }
}

/// A solver's best, in thousands of points beside a constant, as a bound past what its arithmetic can be off.
pub(super) fn rounded_up(best: f64, constant: f64) -> Bound {
    let points = 1000.0 * (best + constant);
    Bound::AtMost((points + SLACK * points.abs() + 1.0).ceil() as i64)
}
