//! `week-load`: total, monotony and strain of a week of sessions.

use clap::Args;
use service::measure::{Evenness, WeekEstimate, load_of_session, week_load};

use super::exit::Failure;
use super::paper::{Column, Paper};
use super::said::Said;
use crate::wording::decimal;

/// Weigh a week of sessions: total load, monotony, strain
///
/// Give seven days in order, each as a load (`450`), as session RPE times minutes (`7x60`), as
/// several sessions (`7x60+4x30`), or `0` for a rest day.
#[derive(Args, Debug)]
pub(crate) struct WeekLoadArgs {
    /// The seven days
    #[arg(required = true, num_args = 7, value_names = ["1", "2", "3", "4", "5", "6", "7"])]
    days: Vec<String>,
}

pub(crate) fn run(args: &WeekLoadArgs) -> Result<Said, Failure> {
    let mut days = [0.0; 7];
    for (idx, (day, text)) in days.iter_mut().zip(&args.days).enumerate() {
        *day = day_load(text)
            .map_err(|reason| Failure::WrongUse(format!("day {}: {reason}", idx + 1)))?;
    }
    let told = week_load(days).map_err(|error| Failure::WrongUse(error.to_string()))?;
    Said::done(words(&told), &told)
}

/// The load of one day: sessions joined by `+`.
fn day_load(text: &str) -> Result<f64, String> {
    text.split('+').map(part).sum()
}

fn part(text: &str) -> Result<f64, String> {
    let number = |what, text: &str| domain::bounds::number(what, text).map_err(|e| e.to_string());
    match text.split_once(['x', 'X', '×', '*']) {
        None => number("load", text),
        Some((rpe, minutes)) => {
            load_of_session(number("session RPE", rpe)?, number("minutes", minutes)?)
                .map_err(|error| error.to_string())
        }
    }
}

fn words(told: &WeekEstimate) -> String {
    let mut paper = Paper::default();
    let days: Vec<_> = told.days.iter().map(|day| decimal(*day, 0)).collect();
    paper.paragraph(&format!("Daily loads (RPE × minutes): {}", days.join(", "))).gap();
    paper.paragraph(&format!(
        "Total {}, {} a day on average.",
        decimal(told.total, 0),
        decimal(told.daily_mean, 0)
    ));
    let row = |name: &str, evenness: Evenness| {
        vec![
            name.to_owned(),
            decimal(evenness.standard_deviation, 0),
            decimal(evenness.monotony, 2),
            decimal(evenness.strain, 0),
        ]
    };
    if let (Some(sample), Some(population)) = (told.sample, told.population) {
        let header = ["standard deviation", "SD", "monotony", "strain"].map(str::to_owned).to_vec();
        let rows = [header, row("sample (over 6)", sample), row("population (over 7)", population)];
        paper.gap();
        paper.table(0, &[Column::Left, Column::Right, Column::Right, Column::Right], &rows);
        paper.gap().paragraph(
            "Monotony is the mean day over the standard deviation of the days, strain is total × \
             monotony (Foster 1998). Compare only figures made with the same standard deviation. They \
             describe a week; no call is built on them.",
        );
    }
    if let Some(undefined) = &told.undefined {
        paper.paragraph(undefined);
    }
    paper.finish()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_day_is_a_load_or_sessions() {
        assert_eq!(day_load("450"), Ok(450.0));
        assert_eq!(day_load("7x60+4×30"), Ok(540.0));
        assert_eq!(day_load("0"), Ok(0.0));
        assert!(day_load("11x60").unwrap_err().contains("session RPE `11` is out of range"));
        assert!(day_load("7x").unwrap_err().contains("minutes is empty: write a number"));
    }
}
