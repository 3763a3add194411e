//! `repeat`: how well a measurement repeats.

use std::fs::File;
use std::path::PathBuf;

use clap::Args;
use service::measure::{RepeatError, Repeatability, Span, TrialTable, repeatability};

use super::exit::Failure;
use super::paper::{Column, Paper};
use super::said::Said;
use crate::wording::{decimal, fixed, fixed_signed};

/// Say how well a measurement repeats, from a table of trials
///
/// The table is a CSV file with a header line: one row per person, one column per trial; a first
/// column of names is left out.
#[derive(Args, Debug)]
pub(crate) struct RepeatArgs {
    /// The table
    file: PathBuf,
}

pub(crate) fn run(args: &RepeatArgs) -> Result<Said, Failure> {
    let file = File::open(&args.file).map_err(|error| Failure::cannot_read(&args.file, &error))?;
    let table = TrialTable::read(file).map_err(|error| failed(error).about(&args.file))?;
    let told = repeatability(&table).map_err(|error| failed(error).about(&args.file))?;
    Said::done(words(&told), &told)
}

fn failed(error: RepeatError) -> Failure {
    match error {
        RepeatError::Csv(error) if error.is_io_error() => Failure::Files(error.to_string()),
        error => Failure::Data(error.to_string()),
    }
}

fn words(told: &Repeatability) -> String {
    let mut paper = Paper::default();
    let places = places_for(told);
    let number = |value: f64| fixed(value, places);
    let trials: Vec<_> = told
        .trials
        .iter()
        .zip(&told.trial_means)
        .map(|(name, mean)| format!("{name} (mean {})", number(*mean)))
        .collect();
    paper.paragraph(&format!("{} people, trials {}", told.people, trials.join(", "))).gap();
    let mut rows = vec![vec![
        "typical error".to_owned(),
        number(told.typical_error),
        format!("90 % interval {}", between(told.typical_error_interval, places)),
    ]];
    let cv = told.cv_pct.map_or("–".to_owned(), |cv| format!("{} %", decimal(cv, 1)));
    rows.push(vec!["the same as a CV".to_owned(), cv, String::new()]);
    let mut row = |what: &str, value: f64, words: &str| {
        rows.push(vec![what.to_owned(), number(value), words.to_owned()]);
    };
    row("minimal detectable change", told.minimal_detectable_change, "1.96·√2 typical errors");
    row("smallest worthwhile change", told.smallest_worthwhile_change, "0.2 SD between people");
    row("SD between people", told.between_person_sd, "of their means");
    paper.table(0, &[Column::Left, Column::Right, Column::Left], &rows).gap();
    reliability_words(&mut paper, told);
    agreement_words(&mut paper, told, places);
    meaning_words(&mut paper, told, places);
    paper.finish()
}

fn reliability_words(paper: &mut Paper, told: &Repeatability) {
    if told.reliability.is_empty() {
        paper.paragraph("All people have the same mean, so there is no intraclass correlation.");
    }
    let row = |form: &service::measure::Reliability| {
        let interval = form.interval.map_or("interval unknown".to_owned(), |i| between(i, 2));
        vec![form.name.to_owned(), fixed(form.value, 2), interval, form.meaning.to_owned()]
    };
    let rows: Vec<_> = told.reliability.iter().map(row).collect();
    if !rows.is_empty() {
        paper.line("Intraclass correlations with 95 % intervals:");
    }
    let columns = [Column::Left, Column::Right, Column::Left, Column::Left];
    paper.table(2, &columns, &rows).gap();
}

fn agreement_words(paper: &mut Paper, told: &Repeatability, places: usize) {
    let Some(agreement) = told.agreement else { return };
    paper.paragraph(&format!(
        "Limits of agreement: the first trial is {} from the second on average (95 % interval {}), and \
         for 95 of 100 people between {} and {} from it.",
        fixed_signed(agreement.bias, places),
        between(agreement.bias_interval, places),
        fixed_signed(agreement.limits.lower, places),
        fixed_signed(agreement.limits.upper, places),
    ));
    paper.gap();
}

fn meaning_words(paper: &mut Paper, told: &Repeatability, places: usize) {
    let number = |value: f64| fixed(value, places);
    paper.paragraph(&format!(
        "One person measured again lands within {} of the last reading about two times in three if \
         nothing has changed, as both readings scatter. A change of one person is more than noise (95 \
         %) from {} on.",
        number(told.typical_error * std::f64::consts::SQRT_2),
        number(told.minimal_detectable_change),
    ));
    paper.paragraph(if told.typical_error <= told.smallest_worthwhile_change {
        "The typical error is smaller than the smallest worthwhile change: a single reading can show \
         a change that matters."
    } else {
        "The typical error is larger than the smallest worthwhile change: a single reading can't show \
         a change that matters; take the mean of several."
    });
    if let Some(refused) = &told.cv_refused {
        paper.paragraph(&format!("No CV: {refused}."));
    }
    if told.people < 15 {
        paper.paragraph(
            "With so few people all of this is rough: the intervals say how rough. About 50 people and \
             three trials make a reasonable estimate (Hopkins 2000).",
        );
    }
}

/// As many decimals as the typical error needs for three digits.
fn places_for(told: &Repeatability) -> usize {
    let size = told.typical_error.max(told.smallest_worthwhile_change);
    if size <= 0.0 { 2 } else { (2.0 - size.log10().floor()).clamp(0.0, 6.0) as usize }
}

fn between(span: Span, places: usize) -> String {
    format!("{} to {}", fixed(span.lower, places), fixed(span.upper, places))
}
