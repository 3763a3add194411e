//! Other valleys of the criterion: where persons would differ much more, or much less, than was found.
//!
//! With few persons of whom some are known well and others hardly, the criterion often has two valleys: all alike
//! with one person far off by bad luck, or all apart. A descent ends in one of them. Here is where to look for the
//! others; descending is [`super::search`]'s.

use std::ops::RangeInclusive;

use nalgebra::{DMatrix, DVector};

use super::criterion::Problem;

/// Spreads looked at: none, and so many doublings of a component's natural scale.
const DOUBLINGS: RangeInclusive<i32> = -6..=16;
/// Share of the criterion by which a dip must lie below what is beside it, to be more than rounding.
const ROUNDING: f64 = 1e-10;

/// Factors of covariances from which a descent may end lower than at `factor`: the dips of the criterion along the
/// spread of each component, the others being as found, and of all of them together. `scales` are the components'
/// natural scales (q).
pub(super) fn elsewhere(
    problem: &Problem,
    scales: &DVector<f64>,
    factor: &DMatrix<f64>,
) -> Vec<DMatrix<f64>> {
    let q = scales.len();
    let together = |times: f64| DMatrix::from_diagonal(&(scales * times));
    let mut found = dips(problem, &together);
    for row in (0..q).filter(|_| q > 1) {
        let others = without(factor, row);
        let alone = |times: f64| {
            let mut factor = others.clone();
            factor[(row, row)] = scales[row] * times;
            factor
        };
        found.extend(dips(problem, &alone));
    }
    found
}

/// The points of a line that lie lower than both their neighbours.
fn dips(problem: &Problem, line: &dyn Fn(f64) -> DMatrix<f64>) -> Vec<DMatrix<f64>> {
    let times = std::iter::once(0.0).chain(DOUBLINGS.map(|k| f64::from(k).exp2()));
    let points: Vec<(f64, f64)> = times
        .map(|times| (times, problem.at(&line(times)).map_or(f64::INFINITY, |at| at.criterion)))
        .collect();
    let is_lower = |here: f64, beside: Option<&(f64, f64)>| {
        beside.is_none_or(|&(_, there)| there - here > ROUNDING * (1.0 + here.abs()))
    };
    let is_dip = |at: &usize| {
        let here = points[*at].1;
        let before = at.checked_sub(1).and_then(|before| points.get(before));
        here.is_finite() && is_lower(here, before) && is_lower(here, points.get(at + 1))
    };
    (0..points.len()).filter(is_dip).map(|at| line(points[at].0)).collect()
}

/// A factor of the same covariance with no spread in one component, whose row and column are free.
fn without(factor: &DMatrix<f64>, row: usize) -> DMatrix<f64> {
    let q = factor.nrows();
    let triangle = factor.clone().remove_row(row).transpose().qr().r().transpose();
    let place = |idx: usize| if idx < row { idx } else { idx + 1 };
    let mut whole = DMatrix::zeros(q, q);
    for i in 0..q - 1 {
        for j in 0..q - 1 {
            whole[(place(i), place(j))] = triangle[(i, j)];
        }
    }
    whole
}
