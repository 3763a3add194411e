//! `replay`: a whole log read as it would have been read at the time.

use std::fs;
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};

use clap::Args;
use serde_json::json;
use service::private;
use service::record::history::Point;
use service::replay::write_rows;

use super::exit::Failure;
use super::paper::Paper;
use super::said::Said;
use super::whole_log::{ReplayedLog, WholeLogArgs};
use crate::wording::count;

/// Read a whole log as it would have been read at the time
///
/// Needs no store. Writes one row for each lead set: the forecast from what came before it, the
/// reading and the call (docs/replay.md). If a lift isn't known, all such lifts are named and nothing
/// is written.
#[derive(Args, Debug)]
pub(crate) struct ReplayArgs {
    #[command(flatten)]
    log: WholeLogArgs,
    /// Where the table goes
    #[arg(long, value_name = "FILE")]
    out: PathBuf,
}

pub(crate) fn run(args: &ReplayArgs) -> Result<Said, Failure> {
    args.log.refuse_to_write_over(&args.out)?;
    let replayed = args.log.replayed()?;
    write(&args.out, &replayed.rows)?;
    say(args, &replayed)
}

/// Writes the table whole or not at all.
fn write(path: &Path, rows: &[Point]) -> Result<(), Failure> {
    let mut name = path.as_os_str().to_owned();
    name.push(".unfinished");
    let unfinished = PathBuf::from(name);
    let write = || -> std::io::Result<()> {
        let mut out = BufWriter::new(private::create(&unfinished)?);
        write_rows(rows, &mut out)?;
        out.flush()?;
        out.get_ref().sync_all()?;
        private::refuse_database(path)?;
        fs::rename(&unfinished, path)
    };
    write().map_err(|error| {
        fs::remove_file(&unfinished).ok(); // it may not have been made
        Failure::cannot_write(path, &error)
    })
}

fn say(args: &ReplayArgs, replayed: &ReplayedLog) -> Result<Said, Failure> {
    let (rows, model) = (&replayed.rows, args.log.model.as_str());
    let calls = |word: &str| rows.iter().filter(|row| row.ruling.call.as_str() == word).count();
    let mut paper = Paper::default();
    replayed.words(&mut paper);
    let words = ["go on", "ease", "stop", "no reading"];
    let counted: Vec<_> = words.iter().map(|word| format!("{word} {}", calls(word))).collect();
    paper.gap().paragraph(&format!(
        "{} in `{}`, read by the model `{model}`: {}.",
        count(rows.len() as u64, "lead set", "lead sets"),
        args.out.display(),
        counted.join(", ")
    ));
    let calls: serde_json::Map<String, serde_json::Value> =
        words.iter().map(|word| ((*word).to_owned(), calls(word).into())).collect();
    let json = json!({
        "out": args.out, "model": model, "pooled": args.log.pooled, "lead_sets": rows.len(), "calls": calls,
        "log": replayed.report, "check_ins": replayed.check_ins.as_ref().map(|(_, report)| report),
    });
    Said::ended(paper.finish(), &json, replayed.exit())
}
