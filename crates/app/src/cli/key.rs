//! `key`: prints the coach's key, or puts another in its place.

use clap::Args;
use serde_json::json;
use service::StoreError;

use super::Everywhere;
use super::entropy;
use super::exit::Failure;
use super::paper::Paper;
use super::said::Said;
use crate::web::door::{Browsers, Key, in_groups};

/// Print the key that opens the coach's pages in a browser, or change it
///
/// It is asked for in browsers that the desk doesn't know. Whoever has it has every page of the coach's.
#[derive(Args, Debug)]
pub(crate) struct KeyArgs {
    /// Make another key: every browser that was let in is ended, at once
    #[arg(long)]
    change: bool,
}

pub(crate) fn run(args: &KeyArgs, everywhere: &Everywhere) -> Result<Said, Failure> {
    let record = everywhere.store_path()?;
    if !record.exists() {
        return Err(Failure::Store(StoreError::NoSuchStore { path: record }));
    }
    let drawn = || entropy::token().map_err(|failure| failure.to_string());
    let key = Key::beside(&record, drawn).map_err(|error| {
        Failure::Files(format!("{error}; allow reading and writing beside the record"))
    })?;
    let mut ended = None;
    if args.change {
        let changed = key.change(&entropy::token()?);
        changed.map_err(|error| Failure::Files(format!("the key can't be stored: {error}")))?;
        // Under another key none of them is let in any more, whether or not its file can be removed.
        ended = Some(Browsers::beside(&record).end_all_but(None).unwrap_or_default());
    }
    let key = key.read().ok_or_else(|| {
        Failure::Files("the key was removed just now; ask for it again".to_owned())
    })?;
    let mut paper = Paper::default();
    paper.line(&format!("The coach's key of `{}`", record.display())).gap();
    paper.line(&format!("  {}", in_groups(&key))).gap();
    match ended {
        Some(n) => paper.paragraph(&format!(
            "It is new. {} Type it in each browser of yours that should be let in again.",
            match n {
                0 => "No browser was let in with the old one.".to_owned(),
                1 => "The browser that was let in with the old one is ended.".to_owned(),
                n => format!("The {n} browsers that were let in with the old one are ended."),
            }
        )),
        None => paper.paragraph(
            "Type it where the desk asks for it. Whoever has it has every page of the coach's; \
             `bellwether key --change` makes another.",
        ),
    };
    Said::done(paper.finish(), &json!({ "key": key, "changed": args.change, "ended": ended }))
}
