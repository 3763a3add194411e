//! `restore`: puts a backup in the place of the store, which is moved aside.

use std::ops::ControlFlow;
use std::path::{Path, PathBuf};
use std::sync::atomic::Ordering;

use clap::Args;
use serde_json::{Value, json};
use service::backup::{Before, Difference, LifterDifference, Mode, Put, PutInPlace, put_in_place};

use super::Everywhere;
use super::backup::{contents_data, holds};
use super::clock;
use super::ending;
use super::exit::Failure;
use super::paper::Paper;
use super::place::pasted;
use super::progress::Progress;
use super::said::Said;
use crate::wording::{count, date};

/// Lifters named in the text; the data has all.
const SHOWN: usize = 20;

/// Put a backup in the place of the store
///
/// The backup is read to its last fact first. The store is moved aside as a whole, under its name with
/// the date and time behind it: nothing is removed or written over, so nothing is asked either. Tells
/// what the old store holds that the backup doesn't. End `serve` before.
#[derive(Args, Debug)]
pub(crate) struct RestoreArgs {
    /// The backup, or any copy of a store; it is left as it is
    #[arg(value_name = "FILE")]
    file: PathBuf,
    /// Tell what would change, and change nothing
    #[arg(long)]
    dry_run: bool,
}

pub(crate) fn run(args: &RestoreArgs, everywhere: &Everywhere) -> Result<Said, Failure> {
    let store = everywhere.store_path()?;
    if let Err(reason) = std::fs::metadata(&args.file) {
        return Err(Failure::cannot_read(&args.file, &reason));
    }
    let mark = format!("replaced-{}", clock::local_now().strftime("%Y-%m-%d-%H%M%S"));
    let mode = if args.dry_run { Mode::OnlyLook } else { Mode::Do };
    let asked = ending::asked();
    let mut progress = Progress::new("reading the backup");
    let how = Put { mark: &mark, mode, now: clock::now() };
    let put = put_in_place(&args.file, &store, how, &mut |done, whole| {
        progress.at(done, whole, "");
        if asked.load(Ordering::Relaxed) {
            ControlFlow::Break(())
        } else {
            ControlFlow::Continue(())
        }
    })?;
    drop(progress);
    Said::done(words(&args.file, &put, mode, everywhere), &data(&args.file, &put, mode))
}

fn words(file: &Path, put: &PutInPlace, mode: Mode, everywhere: &Everywhere) -> String {
    let mut paper = Paper::default();
    let (file, store) = (file.display(), put.store.display());
    match mode {
        Mode::Do => paper.paragraph(&format!("Restored `{file}` to `{store}`.")),
        Mode::OnlyLook => paper.paragraph(&format!(
            "Dry run: nothing was changed. This is what restoring `{file}` to `{store}` would do."
        )),
    };
    if let Some(version) = put.older_version {
        paper.paragraph(&format!(
            "The backup has version {version} and is brought up to date in the store; the file itself is left as it is."
        ));
    }
    let before = match &put.before {
        Before::Nothing => "no store".to_owned(),
        Before::NotReadable(why) => format!("what lay there can't be read as a store: {why}"),
        Before::Store(contents, _) => holds(contents),
    };
    paper.gap().item("  before  ", &before);
    paper.item("  after   ", &holds(&put.now));
    if let Before::Store(_, difference) = &put.before {
        difference_words(&mut paper, difference);
    }
    if let Some(aside) = &put.aside {
        let kept = aside.display();
        paper.gap().paragraph(&match &put.before {
            Before::Nothing => {
                format!("What was left beside it is kept under the name `{kept}-…`.")
            }
            _ => format!("The old store is kept as `{kept}`."),
        });
        if let Before::Store(_, difference) = &put.before {
            way_over(&mut paper, aside, difference, everywhere);
        }
    }
    paper.finish()
}

/// How the sets and check-ins that only the old store holds come into the new one.
fn way_over(paper: &mut Paper, old: &Path, difference: &Difference, everywhere: &Everywhere) {
    let is_any = |of: fn(&LifterDifference) -> u64| difference.lifters.iter().any(|l| of(l) > 0);
    let tables = [
        (is_any(|lifter| lifter.sets), " FOLDER/sets.csv"),
        (is_any(|lifter| lifter.check_ins), " FOLDER/check-ins.csv"),
    ];
    let tables: String = tables.into_iter().filter(|(any, _)| *any).map(|(_, name)| name).collect();
    if !tables.is_empty() {
        paper.line("To bring the sets and check-ins over that only it holds:");
        paper.line(&format!("  bellwether --store {} export FOLDER", pasted(old)));
        paper.line(&format!("  {}", everywhere.command(&format!("import{tables}"))));
    }
}

fn difference_words(paper: &mut Paper, difference: &Difference) {
    if difference.is_nothing() {
        paper.gap().paragraph("The backup holds everything that the old store does.");
    } else {
        paper.gap().paragraph("Only the old store holds:");
        for lifter in difference.lifters.iter().take(SHOWN) {
            paper.item("  ", &lifter_words(lifter));
        }
        if difference.lifters.len() > SHOWN {
            let more = (difference.lifters.len() - SHOWN) as u64;
            paper.item(
                "  ",
                &format!("as much or less of {}", count(more, "other lifter", "other lifters")),
            );
        }
        if difference.lift_files > 0 {
            paper.item("  ", &count(difference.lift_files, "lift file", "lift files"));
        }
    }
    if difference.only_in_new > 0 {
        paper.paragraph(&format!(
            "The backup holds {} that the old store doesn't.",
            count(difference.only_in_new, "fact", "facts")
        ));
    }
}

fn lifter_words(lifter: &LifterDifference) -> String {
    let parts = [
        (lifter.sets, "set", "sets"),
        (lifter.check_ins, "check-in", "check-ins"),
        (lifter.messages, "message from a phone", "messages from phones"),
        (lifter.others, "setting, link or plan", "settings, links or plans"),
    ];
    let parts: Vec<_> = parts
        .into_iter()
        .filter(|(n, ..)| *n > 0)
        .map(|(n, one, many)| count(n, one, many))
        .collect();
    let days = match lifter.days {
        None => String::new(),
        Some((first, last)) if first == last => format!(" ({})", date(first)),
        Some((first, last)) => format!(" ({} to {})", date(first), date(last)),
    };
    format!("{}: {}{days}", lifter.name, parts.join(", "))
}

fn data(file: &Path, put: &PutInPlace, mode: Mode) -> Value {
    let (before, difference) = match &put.before {
        Before::Nothing => (Value::Null, Value::Null),
        Before::NotReadable(why) => (json!({ "not_readable": why }), Value::Null),
        Before::Store(contents, difference) => {
            (contents_data(contents), difference_data(difference))
        }
    };
    json!({
        "restored": file,
        "store": put.store,
        "dry_run": mode == Mode::OnlyLook,
        "older_version": put.older_version,
        "before": before,
        "after": contents_data(&put.now),
        "only_in_old": difference,
        "old_store": put.aside,
    })
}

fn difference_data(difference: &Difference) -> Value {
    let lifters: Vec<_> = difference
        .lifters
        .iter()
        .map(|lifter| {
            json!({
                "name": lifter.name.as_str(),
                "sets": lifter.sets,
                "check_ins": lifter.check_ins,
                "messages": lifter.messages,
                "others": lifter.others,
                "first_day": lifter.days.map(|days| days.0.to_string()),
                "last_day": lifter.days.map(|days| days.1.to_string()),
            })
        })
        .collect();
    json!({
        "lifters": lifters,
        "lift_files": difference.lift_files,
        "only_in_backup": difference.only_in_new,
    })
}
