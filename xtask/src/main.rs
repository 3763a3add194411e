//! Housekeeping of the repository: `cargo run -p xtask -- tidy`.
//!
//! Checks what the compiler and the lints don't see (see [`tidy`]). Changes no file, and knows nothing
//! of training.

mod tidy;

use std::path::Path;
use std::process::ExitCode;

const USAGE: &str = "usage: cargo run -p xtask -- tidy";

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    match arguments.iter().map(String::as_str).collect::<Vec<_>>()[..] {
        ["tidy"] => run_tidy(),
        _ => {
            eprintln!("{USAGE}");
            ExitCode::from(2)
        }
    }
}

fn run_tidy() -> ExitCode {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
    let tree = match tidy::Tree::read(&root) {
        Ok(tree) => tree,
        Err(error) => {
            eprintln!("tidy: {error}");
            return ExitCode::from(2);
        }
    };
    let report = tidy::check(&tree);
    for remark in &report.remarks {
        println!("worth a look: {remark}");
    }
    for finding in &report.findings {
        eprintln!("{finding}");
    }
    match report.findings.len() {
        0 => {
            println!("tidy: {} files, nothing found", tree.len());
            ExitCode::SUCCESS
        }
        found => {
            eprintln!("tidy: {found} to put right in {} files", tree.len());
            ExitCode::FAILURE
        }
    }
}
