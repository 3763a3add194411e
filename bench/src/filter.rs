//! One pass of the filter over a series, for the likelihood alone and with every step kept.

use std::error::Error;
use std::fs;
use std::hint::black_box;

use engine::statespace::{
    Convention, LocalLevel, LocalLinearTrend, Model, Observation, Start, filter_series,
    fit_local_linear_trend, log_likelihood,
};

use crate::best_of;

/// Times passes over the values in `file` (one a line, a day apart) and prints nanoseconds.
pub fn run(file: &str) -> Result<(), Box<dyn Error>> {
    let mut series = Vec::new();
    for (day, line) in fs::read_to_string(file)?.lines().enumerate() {
        series.push(Observation::new(day as f64, line.parse()?, 1.0));
    }
    passes("level", &LocalLevel::try_new(0.1)?, &series)?;
    passes("trend", &LocalLinearTrend::try_new(0.1, 0.001)?, &series)?;
    let hundred = &series[..100.min(series.len())];
    let (nanoseconds, fit) = best_of(50, || fit_local_linear_trend(black_box(hundred)));
    println!("trend_fit_100_ns {nanoseconds}");
    println!("trend_fit_100_evaluations {}", fit?.maximum.evaluations);
    Ok(())
}

fn passes<M: Model<N>, const N: usize>(
    name: &str,
    model: &M,
    series: &[Observation],
) -> Result<(), Box<dyn Error>> {
    let start = Start::<N>::diffuse();
    let (alone, sums) =
        best_of(200, || log_likelihood(black_box(model), &start, black_box(series)));
    let (stored, filtered) =
        best_of(50, || filter_series(black_box(model), &start, black_box(series)));
    let total = sums?.total(Convention::EveryObservation);
    if total != filtered?.log_likelihood.total(Convention::EveryObservation) {
        return Err("the two passes disagree about the likelihood".into());
    }
    println!("{name}_log_likelihood {total:?}");
    println!("{name}_alone_ns {alone}");
    println!("{name}_stored_ns {stored}");
    Ok(())
}
