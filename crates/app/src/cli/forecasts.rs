//! `forecasts`: how far off the forecasts of a log would have been, beside plain rivals.

use clap::Args;
use serde_json::json;
use service::replay::forecasts::{
    FEWEST_LIFTERS, Figures, ForecastFigures, OfRival, Rival, SETTLED_FROM, forecast_figures,
};

use super::exit::Failure;
use super::paper::{Column, Paper};
use super::said::Said;
use super::whole_log::WholeLogArgs;
use crate::wording::{count, decimal, fixed, fixed_signed};

/// Say how well the lead sets of a log would have been forecast, beside plain rivals
///
/// Needs no store. Every lead set is forecast from what came before it, and the forecasts are held against
/// "as last time" and against a smoother whose numbers are chosen on the other half of the lifters. It says
/// nothing about calls: no log says who had recovered.
#[derive(Args, Debug)]
pub(crate) struct ForecastsArgs {
    #[command(flatten)]
    log: WholeLogArgs,
}

pub(crate) fn run(args: &ForecastsArgs) -> Result<Said, Failure> {
    let replayed = args.log.replayed()?;
    let mut paper = Paper::default();
    replayed.words(&mut paper);
    paper.gap();
    let figures = forecast_figures(&replayed.catalogue, &replayed.rows);
    match &figures {
        Some(figures) => words(&mut paper, args.log.model.as_str(), figures),
        None => {
            paper.paragraph(
                "Nothing was forecast: a forecast needs an earlier lead set of the same lift, and the model \
                 `plain` makes none.",
            );
        }
    }
    let json = json!({ "model": args.log.model.as_str(), "pooled": args.log.pooled, "forecasts": figures });
    Said::ended(paper.finish(), &json, replayed.exit())
}

fn words(paper: &mut Paper, model: &str, figures: &ForecastFigures) {
    paper.paragraph(&format!(
        "{} of {}, from the second lead set of each lift on.",
        count(figures.forecasts as u64, "forecast", "forecasts"),
        count(figures.lifters as u64, "lifter", "lifters"),
    ));
    let all: Vec<(Rival, Figures)> =
        figures.rivals.iter().map(|one| (one.rival, one.all)).collect();
    table(paper, model, &all);
    let settled = |one: &OfRival| one.settled.map(|settled| (one.rival, settled));
    let settled: Vec<(Rival, Figures)> = figures.rivals.iter().filter_map(settled).collect();
    if !settled.is_empty() {
        paper.gap().paragraph(&format!("From lead set {SETTLED_FROM} of each lift on."));
        table(paper, model, &settled);
    }
    paper.gap().paragraph(
        "Off: how far the middle of the forecast lay from what was done, at the mean, with its 95 % interval from \
         drawing lifters; repetitions where a set has several, % of the load for a single with nothing left. Too \
         low by: result less forecast, in % of the 1RM; below 0 forecasts were too high. In a row: correlation of \
         a lift's misses with the next; far from 0, the forecast follows too slowly (above) or too quickly (below). \
         Inside: results within the intervals that are to hold eight in ten.",
    );
    if !figures.rivals.iter().any(|one| one.rival == Rival::Smoother) {
        paper.paragraph(&format!(
            "No smoother: its numbers are chosen on other lifters, and a log of fewer than {FEWEST_LIFTERS} has too \
             few."
        ));
    }
}

fn table(paper: &mut Paper, model: &str, rows: &[(Rival, Figures)]) {
    let mut lines =
        vec![["", "off", "", "too low by", "in a row", "inside"].map(str::to_owned).to_vec()];
    for (rival, figures) in rows {
        let name = match rival {
            Rival::Model => format!("Bellwether ({model})"),
            Rival::LastValue => "as last time".to_owned(),
            Rival::Smoother => "smoother".to_owned(),
        };
        let reps = off(figures.reps_off, figures.reps_off_interval, 2, "reps");
        let load = off(figures.load_off_pct, figures.load_off_interval, 1, "%");
        let more = || {
            vec![
                format!("{} %", fixed_signed(figures.bias_pct, 1)),
                figures.successive.map_or_else(String::new, |value| fixed_signed(value, 2)),
                figures.inside_pct.map_or_else(String::new, |pct| format!("{} %", decimal(pct, 0))),
            ]
        };
        let mut first = true;
        for (middle, interval) in [reps, load].into_iter().flatten() {
            let head = if first { name.clone() } else { String::new() };
            let tail = if first { more() } else { vec![String::new(); 3] };
            lines.push([vec![head, middle, interval], tail].concat());
            first = false;
        }
    }
    use Column::{Left, Right};
    paper.table(0, &[Left, Right, Left, Right, Right, Right], &lines);
}

/// A mean with its interval, written out; none if there is no mean.
fn off(
    mean: Option<f64>,
    interval: Option<(f64, f64)>,
    places: usize,
    unit: &str,
) -> Option<(String, String)> {
    let number = |value: f64| fixed(value, places);
    let between = interval
        .map(|(low, high)| format!("({} to {})", number(low), number(high)))
        .unwrap_or_default();
    mean.map(|mean| (format!("{} {unit}", number(mean)), between))
}
