//! Benchmarks: `bench filter FILE` times the Kalman filter on the observations in FILE.
//!
//! One module per bench; each prints `name value` lines that `run.py` reads and sets beside the
//! reference it has timed in the same run. No statistics beyond the best of n: the best is what the code
//! costs, the rest is what else the machine was doing.

use std::process::ExitCode;

mod filter;

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let outcome = match arguments.iter().map(String::as_str).collect::<Vec<_>>().as_slice() {
        ["filter", file] => filter::run(file),
        _ => Err("usage: bench filter FILE".into()),
    };
    match outcome {
        Ok(()) => ExitCode::SUCCESS,
        Err(reason) => {
            eprintln!("{reason}");
            ExitCode::FAILURE
        }
    }
}
