//! Benchmarks: `bench filter FILE` times the Kalman filter on the observations in FILE, `bench import FILE LINES`
//! writes a log there and times reading it, `bench recovery FILE` writes a lifter's record there and times
//! the recovery model on it, `bench squad N` times the estimates of N lifters, `bench web PROGRAM FOLDER N SECONDS`
//! serves the record of N lifters, kept in FOLDER, with PROGRAM and times its pages for so long, `bench load PROGRAM FOLDER
//! CLIENTS SECONDS` has so many clients tell it sets and ask for pages at once for so long.
//!
//! One module per bench; each prints `name value` lines that `run.py` reads and sets beside the
//! reference it has timed in the same run. No statistics beyond the best of n: the best is what the code
//! costs, the rest is what else the machine was doing.

use std::hint::black_box;
use std::process::ExitCode;
use std::time::Instant;

mod desk;
mod filter;
mod import;
mod load;
mod recovery;
mod web;

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let outcome = match arguments.iter().map(String::as_str).collect::<Vec<_>>().as_slice() {
        ["filter", file] => filter::run(file),
        ["import", file, lines] => import::run(file, lines),
        ["recovery", file] => recovery::run(file),
        ["squad", n] => recovery::squad(n),
        ["web", program, folder, n, seconds] => {
            web::run(program, folder, n, seconds).map_err(|error| error.to_string().into())
        }
        ["load", program, folder, clients, seconds] => {
            load::run(program, folder, clients, seconds).map_err(|error| error.to_string().into())
        }
        _ => Err("usage: bench filter FILE, import FILE LINES, recovery FILE, squad N, web PROGRAM FOLDER N SECONDS, or \
                  load PROGRAM FOLDER CLIENTS SECONDS"
            .into()),
    };
    match outcome {
        Ok(()) => ExitCode::SUCCESS,
        Err(reason) => {
            eprintln!("{reason}");
            ExitCode::FAILURE
        }
    }
}

/// Least nanoseconds of `repeats` runs, and the last result.
fn best_of<T>(repeats: usize, mut work: impl FnMut() -> T) -> (u128, T) {
    let mut best = u128::MAX;
    let mut timed = || {
        let begin = Instant::now();
        let result = black_box(work());
        best = best.min(begin.elapsed().as_nanos());
        result
    };
    let mut result = timed();
    for _ in 1..repeats {
        result = timed();
    }
    (best, result)
}
