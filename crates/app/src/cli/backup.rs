//! `backup`: the whole store as one file, made while others use it; and what other commands say of backups.

use std::ops::ControlFlow;
use std::path::{Path, PathBuf};
use std::sync::atomic::Ordering;

use clap::Args;
use jiff::civil::DateTime;
use serde_json::{Value, json};
use service::backup::{BackedUp, BackupError, BackupFolder, Contents, Made, Over};
use service::{Finding, Severity, Store, StoreError};

use super::Everywhere;
use super::clock;
use super::ending;
use super::exit::Failure;
use super::paper::Paper;
use super::place::pasted;
use super::progress::Progress;
use super::said::Said;
use crate::wording::{ago_at, count, date, date_with_weekday};

/// After so many days something recorded since the last backup is worth a look.
const DAYS_WITHOUT: i64 = 2;

/// Make a backup: the whole record as one file
///
/// Works while the desk is served, too. The file is written under another name, opened again and
/// compared with the store fact by fact before it gets its name. `restore` puts it back.
#[derive(Args, Debug)]
pub(crate) struct BackupArgs {
    /// The file to write, or a folder for a file named by date and time [default: the folder of backups]
    #[arg(value_name = "FILE|FOLDER")]
    place: Option<PathBuf>,
    /// Put it in the place of a backup that lies there
    #[arg(long)]
    force: bool,
    #[command(flatten)]
    folder: FolderArgs,
}

/// Where backups lie.
#[derive(Args, Debug)]
pub(crate) struct FolderArgs {
    /// The folder of backups [default: backups beside the store]
    #[arg(long, value_name = "FOLDER", env = "BELLWETHER_BACKUP_FOLDER")]
    backup_folder: Option<PathBuf>,
}

impl FolderArgs {
    /// The folder, if one is named.
    pub(crate) fn named(&self) -> Option<&Path> {
        self.backup_folder.as_deref()
    }

    /// The folder for the store at `store`.
    pub(crate) fn of(&self, store: &Path) -> BackupFolder {
        BackupFolder::of(store, self.backup_folder.as_deref())
    }
}

pub(crate) fn run(args: &BackupArgs, everywhere: &Everywhere) -> Result<Said, Failure> {
    let store = everywhere.open()?;
    let folder = args.folder.of(store.path());
    let place = place(args.place.as_deref(), &folder, store.path())?;
    let over = if args.force { Over::ACopy } else { Over::Nothing };
    let asked = ending::asked();
    let mut progress = Progress::new("backing up");
    let made = store.back_up(&place, over, clock::now(), &mut |done, whole| {
        progress.at(done, whole, "");
        if asked.load(Ordering::Relaxed) {
            ControlFlow::Break(())
        } else {
            ControlFlow::Continue(())
        }
    })?;
    drop(progress);
    Said::done(words(&made, everywhere), &data(&made))
}

/// The file to write: as named, or in the folder that is named, or in the folder of backups.
fn place(named: Option<&Path>, folder: &BackupFolder, store: &Path) -> Result<PathBuf, Failure> {
    let now = clock::local_now();
    let Some(named) = named else {
        folder.make()?;
        return Ok(folder.place_at(now));
    };
    let ends_as_folder = named.to_string_lossy().ends_with(std::path::is_separator);
    if named.is_dir() {
        return Ok(BackupFolder::of(store, Some(named)).place_at(now));
    }
    if ends_as_folder {
        return Err(BackupError::NoFolder { path: named.to_owned() }.into());
    }
    Ok(named.to_owned())
}

fn words(made: &BackedUp, everywhere: &Everywhere) -> String {
    let mut paper = Paper::default();
    let in_place = if made.replaced { ", in place of the file that lay there" } else { "" };
    paper.paragraph(&format!("Backed up to `{}`{in_place}.", made.path.display()));
    paper.paragraph(&format!(
        "It holds {}. The file was opened again, and every fact in it is the same as in the store.",
        holds(&made.contents)
    ));
    paper.gap().line("To put it back:");
    let restore = everywhere.command(&format!("restore {}", pasted(&made.path)));
    paper.line(&format!("  {restore}"));
    paper.finish()
}

fn data(made: &BackedUp) -> Value {
    let mut data = contents_data(&made.contents);
    data["backup"] = json!(made.path);
    data["bytes"] = json!(made.bytes);
    data["replaced"] = json!(made.replaced);
    data
}

/// What a store holds: how many facts and lifters, and up to when.
pub(crate) fn holds(contents: &Contents) -> String {
    let mut text = format!(
        "{} of {}",
        count(contents.facts, "fact", "facts"),
        count(contents.lifters, "lifter", "lifters")
    );
    if let Some(day) = contents.newest_day {
        text.push_str(&format!(", training up to {}", date_with_weekday(day)));
    }
    if let Some(at) = contents.last_recorded {
        text.push_str(&format!(", the last of it recorded on {}", at_time(clock::local(at))));
    }
    text
}

/// [`holds`] as data.
pub(crate) fn contents_data(contents: &Contents) -> Value {
    json!({
        "facts": contents.facts,
        "lifters": contents.lifters,
        "newest_day": contents.newest_day.map(|day| day.to_string()),
        "last_recorded": contents.last_recorded.map(|at| at.to_string()),
    })
}

/// A moment by this machine's clock: `4 May 2031 at 18:20`.
fn at_time(at: DateTime) -> String {
    format!("{} at {:02}:{:02}", date(at.date()), at.hour(), at.minute())
}

/// What the doctor says of the backups of the store at `path`; nothing if the store can't be read.
pub(crate) fn finding(path: &Path, folder: &FolderArgs) -> Option<Finding> {
    let store = Store::open_read_only(path).ok()?;
    let (folder, now) = (folder.of(path), clock::local_now());
    if let Some(finding) = unusable(folder.path()) {
        return Some(finding);
    }
    let look = || -> Result<Option<Finding>, StoreError> {
        if store.newest_fact()? == 0 {
            return Ok(None);
        }
        let Some(newest) = folder.newest(&store, now)? else {
            return Ok(Some(look_at(format!("none lies in `{}`", folder.path().display()))));
        };
        let since = folder.recorded_since(&newest, &store)?;
        Ok(Some(found_backup(&newest, since, now)))
    };
    look().ok().flatten()
}

/// That nothing can be written into a folder for backups that is there.
fn unusable(folder: &Path) -> Option<Finding> {
    let found = match std::fs::metadata(folder) {
        Ok(there) if !there.is_dir() => "is no folder",
        Ok(there) if there.permissions().readonly() => "can't be written",
        _ => return None,
    };
    Some(Finding {
        what: "backup",
        severity: Severity::LookAtThis,
        words: format!("`{}`, where backups belong, {found}", folder.display()),
        cure: "name another with `--backup-folder`".to_owned(),
    })
}

fn found_backup(newest: &Made, since: Option<u64>, now: DateTime) -> Finding {
    let when = format!("the last one was made {}", ago_at(now, newest.at));
    let words = match since {
        Some(0) => format!("{when}, and nothing has been recorded since"),
        Some(1) => format!("{when}, and 1 fact has been recorded since"),
        Some(n) => format!("{when}, and {n} facts have been recorded since"),
        None => format!("{when}; how much has been recorded since isn't known"),
    };
    let days = now.date().duration_since(newest.at.date()).as_hours() / 24;
    if since == Some(0) || days < DAYS_WITHOUT {
        return Finding { what: "backup", severity: Severity::Fine, words, cure: String::new() };
    }
    look_at(words)
}

fn look_at(words: String) -> Finding {
    let cure = "run `bellwether backup`; `bellwether serve` makes one a day by itself".to_owned();
    Finding { what: "backup", severity: Severity::LookAtThis, words, cure }
}
