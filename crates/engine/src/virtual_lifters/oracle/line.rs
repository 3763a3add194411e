//! What stands for a lift's level where the oracle isn't told it: the straight line that fits it best, and
//! how far it strays from that in a day. Both are fitted to the truth, so that they are parameters of the
//! lift like any other.

use super::super::Hidden;

/// A level as a line through time with a random walk around it.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Line {
    start: f64,
    a_day: f64,
    /// Variance that the departure from the line gains in a day.
    pub(super) variance_a_day: f64,
}

impl Line {
    /// The line at so many days before the end of the record.
    pub(super) fn at(&self, days_back: i32) -> f64 {
        self.start - self.a_day * f64::from(days_back)
    }

    /// One line for each lift, fitted to what its level was at its exposures.
    pub(super) fn of_lifts(hidden: &Hidden) -> Vec<Line> {
        (0..hidden.lifts.len())
            .map(|lift_idx| {
                let levels: Vec<(f64, f64)> = hidden
                    .days
                    .iter()
                    .flat_map(|day| {
                        day.exercises.iter().map(|one| (f64::from(-day.days_back), one))
                    })
                    .filter(|(_, exercise)| exercise.lift_idx == lift_idx)
                    .map(|(day, exercise)| (day, exercise.told_level))
                    .collect();
                Line::through(&levels)
            })
            .collect()
    }

    /// Least squares through (day, level).
    fn through(levels: &[(f64, f64)]) -> Line {
        let n = levels.len().max(1) as f64;
        let mean = |of: &dyn Fn(&(f64, f64)) -> f64| levels.iter().map(of).sum::<f64>() / n;
        let (day, level) = (mean(&|one| one.0), mean(&|one| one.1));
        let across: f64 = levels.iter().map(|one| (one.0 - day) * (one.1 - level)).sum();
        let along: f64 = levels.iter().map(|one| (one.0 - day).powi(2)).sum();
        let a_day = if along > 0.0 { across / along } else { 0.0 };
        let line = Line { start: level - a_day * day, a_day, variance_a_day: 0.0 };
        let strays: Vec<f64> = levels
            .windows(2)
            .filter(|pair| pair[1].0 > pair[0].0)
            .map(|pair| {
                let days = pair[1].0 - pair[0].0;
                (pair[1].1 - pair[0].1 - a_day * days).powi(2) / days
            })
            .collect();
        let variance_a_day = strays.iter().sum::<f64>() / strays.len().max(1) as f64;
        Line { variance_a_day, ..line }
    }
}
