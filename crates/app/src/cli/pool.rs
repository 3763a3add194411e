//! `pool`: values of lifters in general, estimated anew from the lifters on record.

use std::fs;
use std::path::{Path, PathBuf};

use clap::Args;
use serde_json::json;
use service::population::pool::{
    OverLifters, PooledChange, Proposal, back_to_shipped, given, propose,
};
use service::record::inputs::Grounds;

use super::Everywhere;
use super::clock::now;
use super::exit::{Exit, Failure};
use super::paper::Paper;
use super::progress::Progress;
use super::said::Said;
use crate::wording::{count, fixed};

/// Estimate the values of lifters in general anew, from the lifters on record
///
/// Every lifter's fit starts from what lifters in general are like. This says how these values would
/// change if your own lifters counted, and changes nothing; with `--adopt` they come into force, for
/// every page, card and reading. It takes the estimates that `refit` has kept. The values that come
/// with the program count as eight lifters.
#[derive(Args, Debug)]
pub(crate) struct PoolArgs {
    /// Put the values in force
    #[arg(long)]
    adopt: bool,
    /// Also estimate how lifts grow, from all records together; takes long
    #[arg(long)]
    growth: bool,
    /// Write the values as text to this file, for `replay --pooled` or `pool --from`
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// Take the values from a file that `--out` wrote, of another record say, and estimate nothing
    #[arg(long, value_name = "FILE", conflicts_with_all = ["growth", "out"])]
    from: Option<PathBuf>,
    /// Go back to the values that come with the program
    #[arg(long, conflicts_with_all = ["adopt", "growth", "out", "from"])]
    shipped: bool,
}

pub(crate) fn run(args: &PoolArgs, everywhere: &Everywhere) -> Result<Said, Failure> {
    if args.shipped {
        let changes = back_to_shipped(&everywhere.open_to_write()?, now())?;
        return said_of_shipped(&changes);
    }
    let store = if args.adopt { everywhere.open_to_write()? } else { everywhere.open()? };
    let proposal = match &args.from {
        Some(path) => given(&store, &values_in(path)?)?,
        None => {
            let mut bar = Progress::new("reading the record");
            propose(&store, args.growth, &mut |done, whole| {
                bar.at(done as u64, whole as u64, &format!("{done} of {whole} lifters"));
            })?
        }
    };
    if let Some(path) = &args.out {
        service::private::write(path, proposal.as_text())
            .map_err(|e| Failure::cannot_write(path, &e))?;
    }
    if args.adopt {
        proposal.adopt(&store, now())?;
    }
    let json = json!({
        "lifters": proposal.n_lifters, "without_estimate": proposal.n_without,
        "in_force_before": proposal.before, "verdict": proposal.verdict,
        "adopted": args.adopt, "out": args.out, "from": args.from, "changes": proposal.changes,
    });
    Said::ended(words(args, &proposal), &json, Exit::Done)
}

/// Values of lifters in general in a file.
pub(super) fn values_in(path: &Path) -> Result<Grounds, Failure> {
    let text = fs::read_to_string(path).map_err(|e| Failure::cannot_read(path, &e))?;
    Grounds::from_text(&text).map_err(|error| Failure::Data(error.to_string()).about(path))
}

fn words(args: &PoolArgs, proposal: &Proposal) -> String {
    let mut paper = Paper::default();
    let from = match &args.from {
        Some(path) => format!("`{}`", path.display()),
        None => count(proposal.n_lifters as u64, "lifter", "lifters"),
    };
    paper.paragraph(&format!(
        "Values of lifters in general, from {from}. Those in force until now {}.",
        proposal.before
    ));
    if proposal.n_without > 0 {
        paper.paragraph(&format!(
            "{} had no estimate to take: too short a record, or `bellwether refit` has not run since.",
            count(proposal.n_without as u64, "lifter", "lifters"),
        ));
    }
    if args.from.is_none() {
        paper.paragraph(&proposal.verdict);
    }
    paper.gap();
    change_words(&mut paper, &proposal.changes);
    paper.gap();
    if let Some(path) = &args.out {
        paper.paragraph(&format!("Written to `{}`.", path.display()));
    }
    paper.paragraph(if args.adopt {
        "They are in force now, and every record is read with them. Run `bellwether refit`, so that \
         nobody waits for the fits. `bellwether pool --shipped` goes back."
    } else {
        "Nothing was changed. The same with `--adopt` puts them in force."
    });
    paper.finish()
}

fn said_of_shipped(changes: &[PooledChange]) -> Result<Said, Failure> {
    let changed: Vec<PooledChange> =
        changes.iter().filter(|change| change.before != change.after).cloned().collect();
    let mut paper = Paper::default();
    if changed.is_empty() {
        paper.paragraph("The values that come with the program are in force.");
    } else {
        change_words(&mut paper, &changed);
        paper.gap().paragraph(
            "The values that come with the program are in force again; the others stay in the store. \
             Run `bellwether refit`, so that nobody waits for the fits.",
        );
    }
    let json = json!({ "shipped": true, "changes": changed });
    Said::ended(paper.finish(), &json, Exit::Done)
}

fn change_words(paper: &mut Paper, changes: &[PooledChange]) {
    paper.paragraph(
        "Each with the bounds between which eight lifters in ten lie (for gains: eight lifts in ten):",
    );
    for change in changes {
        paper.line(&format!("  {}", change.what));
        paper.line(&format!("      now   {}", quantity(&change.before, change.unit)));
        if change.after != change.before {
            paper.line(&format!("      then  {}", quantity(&change.after, change.unit)));
        }
    }
}

fn quantity(over: &OverLifters, unit: &str) -> String {
    let middle = short(over.middle);
    match over.bounds {
        None => format!("{middle} {unit}"),
        Some((low, high)) => format!("{middle} {unit} ({} to {})", short(low), short(high)),
    }
}

/// A number with about three figures that matter.
fn short(value: f64) -> String {
    let places = match value.abs() {
        0.0..1.0 => 3,
        1.0..10.0 => 2,
        10.0..100.0 => 1,
        _ => 0,
    };
    fixed(value, places)
}
