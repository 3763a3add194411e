//! `refit`: makes and keeps the fits that reading the record needs.

use std::time::Instant;

use clap::Args;
use service::population::refit::{FitVerdict, Refit, RefitLine, RefitReport};

use super::Everywhere;
use super::clock::{now, threads};
use super::exit::Failure;
use super::lifts::lifter_name;
use super::paper::Paper;
use super::progress::Progress;
use super::said::Said;
use crate::wording::count;

/// Fit the model to every lifter whose fit is stale, and keep the fits
///
/// Good to run overnight: pages and cards then have nothing to compute but readings. Each lifter's fits
/// are kept as soon as they are made; a run that was broken off goes on where it stopped. Readings are
/// the same with and without kept fits.
#[derive(Args, Debug)]
pub(crate) struct RefitArgs {
    /// One lifter only
    #[arg(long, value_name = "NAME")]
    lifter: Option<String>,
    /// Make all fits anew, those that aren't stale as well
    #[arg(long)]
    all: bool,
}

pub(crate) fn run(args: &RefitArgs, everywhere: &Everywhere) -> Result<Said, Failure> {
    let lifter = args.lifter.as_deref().map(lifter_name).transpose()?;
    let store = everywhere.open_to_write()?;
    let refit = Refit { store: &store, lifter, all: args.all, threads: threads(), now: now() };
    let (mut bar, begun) = (Progress::new("fitting"), Instant::now());
    let report = refit.run(&mut |done, whole, n_lifters| {
        let left = left_words(begun.elapsed().as_secs_f64(), done, whole);
        let lifters = count(n_lifters as u64, "lifter", "lifters");
        bar.at(done, whole, &format!("{lifters} done{left}"));
    })?;
    drop(bar);
    Said::done(words(&report), &report)
}

/// How long it will still take, from how long it has taken; nothing before anything is done.
fn left_words(seconds: f64, done: u64, whole: u64) -> String {
    if done == 0 {
        return String::new();
    }
    let left = seconds * (whole.saturating_sub(done)) as f64 / done as f64;
    match left {
        0.0..90.0 => format!(", about {left:.0} s left"),
        _ => format!(", about {:.0} min left", left / 60.0),
    }
}

fn words(report: &RefitReport) -> String {
    let mut paper = Paper::default();
    if report.lifters.is_empty() {
        paper.paragraph("Nobody is on record yet: import a log.");
        return paper.finish();
    }
    for line in report.lifters.iter().filter(|line| line.renewed) {
        paper.item("  ", &line_words(line));
    }
    let is_anew = |line: &&RefitLine| line.renewed && line.made > 0;
    let anew = report.lifters.iter().filter(is_anew).count() as u64;
    let fresh = report.lifters.len() as u64 - anew;
    paper.gap().paragraph(&format!(
        "{} fitted anew; the fits of {} were not stale.",
        count(anew, "lifter", "lifters"),
        if fresh == 0 { "no other".to_owned() } else { count(fresh, "lifter", "lifters") }
    ));
    let of = |verdict| count(report.count(verdict), "lifter", "lifters");
    paper.paragraph(&format!("Converged: {}.", of(FitVerdict::Converged)));
    if report.count(FitVerdict::NotConverged) > 0 {
        paper.paragraph(&format!(
            "Not converged: {}. Take their calls with doubt.",
            of(FitVerdict::NotConverged)
        ));
    }
    if report.count(FitVerdict::TooShort) > 0 {
        paper.paragraph(&format!(
            "Too short a record: {}. The values of lifters in general stand for them.",
            of(FitVerdict::TooShort)
        ));
    }
    paper.paragraph(&format!("Values of lifters in general: they {}.", report.general_values));
    paper.finish()
}

fn line_words(line: &RefitLine) -> String {
    let ended = match line.verdict {
        FitVerdict::Converged => "converged",
        FitVerdict::NotConverged => "did not converge",
        FitVerdict::TooShort => "too short a record",
    };
    let read = count(line.lead_sets, "lead set", "lead sets");
    match line.fitted_from {
        None => format!("{}: {ended}, {read}", line.name),
        Some(n) if line.made == 0 => {
            format!("{}: {ended}; kept already, the newest fit from {n} of {read}", line.name)
        }
        Some(n) => format!(
            "{}: {ended}; {} made, the newest from {n} of {read}",
            line.name,
            count(line.made, "fit", "fits")
        ),
    }
}
