//! `demo`: the invented squad in a store of its own.

use std::path::{Path, PathBuf};

use clap::Args;
use serde_json::json;
use service::demo::{DemoError, SEED, open_demo};
use service::{Desk, Store};

use super::Everywhere;
use super::clock;
use super::ending;
use super::exit::Failure;
use super::paper::Paper;
use super::said::{Said, print};
use super::serve::{AddressArgs, ServedDesk, serve};

/// Open an invented squad, to look around
///
/// The people, their club and every set are invented. They get a store of their own, in the folder
/// for temporary files unless `--to` names a file; your record is left alone.
#[derive(Args, Debug)]
pub(crate) struct DemoArgs {
    /// Make the squad's store there and serve nothing
    #[arg(long, value_name = "FILE")]
    to: Option<PathBuf>,
    /// Another number gives other records of the same people
    #[arg(long, default_value_t = SEED)]
    seed: u64,
    #[command(flatten)]
    at: AddressArgs,
}

pub(crate) fn run(args: &DemoArgs, everywhere: &Everywhere) -> Result<Said, Failure> {
    let path = match &args.to {
        Some(path) => path.clone(),
        None => fresh_file(),
    };
    let store = ending::watching(|| Store::open(&path))?;
    let squad = open_demo(&store, args.seed, everywhere.today(), clock::now()).map_err(failed)?;
    let names: Vec<_> = squad.lifters.iter().map(|lifter| lifter.name.to_string()).collect();
    let text = words(&path, &names, &squad.about);
    if args.to.is_some() {
        return Said::done(text, &json!({ "store": path, "lifters": names, "invented": true }));
    }
    if !everywhere.json {
        print(&format!("{text}\n"))?;
    }
    let desk = ServedDesk::new(Desk::new(store), everywhere.today);
    serve(desk, &args.at, "The invented squad", everywhere.json)
}

fn words(path: &Path, names: &[String], about: &[String]) -> String {
    let mut paper = Paper::default();
    paper.paragraph("An invented squad: the people, their club and all numbers are made up.").gap();
    for (name, about) in names.iter().zip(about) {
        let about = about
            .strip_prefix(name.as_str())
            .map_or(about.as_str(), |rest| rest.trim_start_matches([':', ',', ' ']));
        paper.item("  ", &format!("{name}: {about}"));
    }
    let first = names.first().map_or("NAME", String::as_str);
    paper.gap().paragraph(&format!("Their store is `{}`. Try:", path.display()));
    paper.line(&format!("  bellwether --store {} lifts \"{first}\"", path.display()));
    paper.line(&format!("  bellwether --store {} card \"{first}\"", path.display()));
    paper.finish()
}

/// A file in the folder for temporary files that isn't there yet.
fn fresh_file() -> PathBuf {
    let folder = std::env::temp_dir();
    let mut number = u64::from(std::process::id());
    loop {
        let path = folder.join(format!("bellwether-demo-{number}.bellwether"));
        if !path.exists() {
            return path;
        }
        number += 1;
    }
}

fn failed(error: DemoError) -> Failure {
    match error {
        DemoError::Store(error) => Failure::Store(error),
        error @ DemoError::NotEmpty(_) => Failure::WrongUse(error.to_string()),
        error @ (DemoError::Refused(_) | DemoError::Catalogue(_) | DemoError::UnknownLift(_)) => {
            Failure::Data(error.to_string())
        }
    }
}
