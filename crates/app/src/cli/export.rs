//! `export`: the whole record as files.

use std::path::PathBuf;

use clap::Args;
use service::export::{Existing, Exported, RECORD_FILE, export};

use super::Everywhere;
use super::exit::Failure;
use super::paper::Paper;
use super::progress::Progress;
use super::said::Said;
use crate::wording::count;

/// Export the whole record to a folder
///
/// Writes `sets.csv`, `check-ins.csv` and the lift files, which any spreadsheet and `import` can
/// read, and `record.jsonl` with every version of everything, from which `import` makes the same
/// record again.
#[derive(Args, Debug)]
pub(crate) struct ExportArgs {
    /// The folder; it is made if it is missing
    folder: PathBuf,
    /// Replace the export that lies there
    #[arg(long)]
    force: bool,
}

pub(crate) fn run(args: &ExportArgs, everywhere: &Everywhere) -> Result<Said, Failure> {
    let store = everywhere.open()?;
    let existing = if args.force { Existing::Replace } else { Existing::Keep };
    let mut progress = Progress::new("exporting");
    let exported = export(&store, &args.folder, existing, &mut |done, whole| {
        progress.at(done, whole, "");
    })?;
    drop(progress);
    Said::done(words(&exported), &exported)
}

fn words(exported: &Exported) -> String {
    let mut paper = Paper::default();
    paper.paragraph(&format!(
        "Exported to `{}`: {} of {}, {}, {}, and their whole history in {}.",
        exported.folder.display(),
        count(exported.sets, "set", "sets"),
        count(exported.lifters, "lifter", "lifters"),
        count(exported.check_ins, "check-in", "check-ins"),
        count(exported.lift_files, "lift file", "lift files"),
        count(exported.facts, "fact", "facts"),
    ));
    for file in &exported.files {
        paper.line(&format!("  {file}"));
    }
    paper.line("To put it back into a new store:");
    let record = exported.folder.join(RECORD_FILE);
    paper.line(&format!(
        "  bellwether --store NEW.bellwether import {}",
        super::place::pasted(&record)
    ));
    paper.finish()
}
