//! `estimate`: a 1RM from one set or from bar speed.

use clap::Args;
use domain::{Load, Reps, Rir, Unit};
use service::measure::{
    SetEstimate, SpeedEstimate, estimate_from_set, estimate_from_speed, speed_line, speed_lines,
};

use super::exit::Failure;
use super::paper::{Column, Paper};
use super::said::Said;
use crate::wording::{decimal, estimate};

/// Estimate a 1RM from one set, or from bar speed
///
/// From a set: `--load 100 --reps 5 --rir 2`. From bar speed: `--speed 0.45 --line bench-press`, with
/// `--load` for the 1RM itself.
#[derive(Args, Debug)]
pub(crate) struct EstimateArgs {
    /// The load
    #[arg(long, allow_negative_numbers = true)]
    load: Option<f64>,
    /// The unit of the load: kg or lb
    #[arg(long, default_value = "kg", value_parser = unit)]
    unit: Unit,
    /// Repetitions done
    #[arg(long, allow_negative_numbers = true, conflicts_with = "speed", requires = "load")]
    reps: Option<u16>,
    /// Repetitions in reserve, 0 to 10 in half steps
    #[arg(long, allow_negative_numbers = true, requires = "reps")]
    rir: Option<f64>,
    /// Speed of the fastest repetition, m/s
    #[arg(
        long,
        allow_negative_numbers = true,
        requires = "line",
        required_unless_present = "reps"
    )]
    speed: Option<f64>,
    /// The published line for the speed: bench-press, full-squat, prone-bench-pull, parallel-squat
    #[arg(long, requires = "speed")]
    line: Option<String>,
}

/// Reads a unit for an option.
pub(crate) fn unit(text: &str) -> Result<Unit, domain::Refused> {
    Unit::parse(text)
}

pub(crate) fn run(args: &EstimateArgs) -> Result<Said, Failure> {
    let wrong = |error: &dyn std::fmt::Display| Failure::WrongUse(error.to_string());
    let load = args.load.map(|load| Load::new(load, args.unit)).transpose();
    let load = load.map_err(|error| wrong(&error))?;
    if let (Some(speed), Some(line)) = (args.speed, &args.line) {
        let line = speed_line(line).ok_or_else(|| unknown_line(line))?;
        let told = estimate_from_speed(line, speed, load).map_err(|error| wrong(&error))?;
        return Said::done(speed_words(&told), &told);
    }
    let (Some(load), Some(reps)) = (load, args.reps) else {
        return Err(Failure::WrongUse(
            "give `--load` and `--reps`, or `--speed` and `--line`".into(),
        ));
    };
    let reps = Reps::new(reps).map_err(|error| wrong(&error))?;
    let rir = args.rir.map(Rir::new).transpose().map_err(|error| wrong(&error))?;
    let told = estimate_from_set(load, reps, rir).map_err(|error| wrong(&error))?;
    Said::done(set_words(&told), &told)
}

fn set_words(told: &SetEstimate) -> String {
    let mut paper = Paper::default();
    let unit = told.unit;
    let reserve = match told.rir {
        None => "reserve not given".to_owned(),
        Some(rir) => crate::wording::reserve(rir),
    };
    paper.line(&format!("{} {unit} × {}, {reserve}", decimal(told.load, 2), told.reps)).gap();
    if told.sources_pct.is_empty() {
        paper.paragraph(&format!("1RM {} {unit}", decimal(told.one_rm.mid, 2)));
    } else {
        paper.paragraph(&format!(
            "1RM about {} {unit}; eight times in ten between {} and {} {unit}.",
            estimate(told.one_rm.mid),
            estimate(told.one_rm.low),
            estimate(told.one_rm.high),
        ));
        let sources: Vec<_> = told
            .sources_pct
            .iter()
            .map(|(words, pct)| format!("{words} ({} %)", decimal(*pct, 1)))
            .collect();
        paper.paragraph(&format!("The doubt comes from {}.", sources.join(", ")));
    }
    for note in &told.notes {
        paper.paragraph(note);
    }
    paper.gap().line("By the published equations, r being repetitions done plus reserve:").gap();
    let mut rows = Vec::new();
    for line in &told.equations {
        let value = line.one_rm.map_or("–".to_owned(), estimate);
        rows.push(vec![line.name.clone(), format!("{value} {unit}"), line.formula.to_owned()]);
    }
    paper.table(2, &[Column::Left, Column::Right, Column::Left], &rows);
    for refused in told.equations.iter().filter_map(|line| line.refused.as_ref()) {
        paper.item("  ", refused);
    }
    paper.gap().paragraph(
        "They describe groups of people and differ by several % for one of them. A maximum is tested \
         with a warm-up, a spotter or safety bars, and without pain.",
    );
    paper.finish()
}

fn speed_words(told: &SpeedEstimate) -> String {
    let mut paper = Paper::default();
    let speed = decimal(told.speed, 2);
    paper.line(&format!("{speed} m/s ({}) on the {}", told.speed_measure, told.line)).gap();
    let share = decimal(told.percent, 0);
    match (told.load, told.one_rm) {
        (Some(load), Some(one_rm)) => paper.paragraph(&format!(
            "About {share} % of 1RM: with {} {unit} on the bar, a 1RM of about {} {unit}.",
            decimal(load, 2),
            estimate(one_rm),
            unit = told.unit,
        )),
        _ => paper.paragraph(&format!("About {share} % of 1RM. Give `--load` for the 1RM itself.")),
    };
    paper.gap().paragraph(&format!(
        "The line is {}'s: a group of trained people who lifted as fast as they could. Lifters differ \
         from it by several % of 1RM, and so does a free bar from a guided one; a lifter's own line \
         is better where there is one.",
        told.source
    ));
    paper.finish()
}

fn unknown_line(name: &str) -> Failure {
    let lines: Vec<_> = speed_lines()
        .into_iter()
        .map(|(name, slow, fast)| format!("`{}` ({slow} to {fast} m/s)", name.replace(' ', "-")))
        .collect();
    Failure::WrongUse(format!(
        "there is no published line for `{}`: use one of {}",
        domain::bounds::shortened(name),
        lines.join(", ")
    ))
}
