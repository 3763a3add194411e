//! `import`: logs, check-ins, lift files and exports into the store.

use std::path::{Path, PathBuf};

use clap::Args;
use domain::Catalogue;
use serde_json::{Value, json};
use service::Store;
use service::export::restore;
use service::import::{
    Field, FileKind, Import, ImportError, ImportPlan, ImportReport, IntoStore, LiftFileReport,
    TableKind, import_check_ins, import_lift_file, import_log, look, recognise,
};

use super::Everywhere;
use super::clock;
use super::exit::{Exit, Failure};
use super::paper::Paper;
use super::progress::Progress;
use super::said::Said;
use super::tables::{Beginning, MadeWhenNeeded, TableArgs, is_same_file, open, report_words};
use crate::wording::count;

/// Import logs, check-ins, lift files or an export
///
/// What each file is, is recognised. A table of another form is read by naming its columns. Lines
/// that can't be taken are refused with the reason and written to a file of rejects, which can be
/// mended and imported; the others are imported in one step. The same file twice adds nothing.
#[derive(Args, Debug)]
pub(crate) struct ImportArgs {
    /// The files; lift files among them are taken first
    #[arg(required = true)]
    files: Vec<PathBuf>,
    #[command(flatten)]
    table: TableArgs,
    /// Report what would be done, and keep nothing
    #[arg(long)]
    dry_run: bool,
    /// Let lines that differ from the record supersede it
    #[arg(long)]
    correct: bool,
    /// Where refused lines go [default: FILE.rejects.csv beside the file]
    #[arg(long, value_name = "FILE")]
    rejects: Option<PathBuf>,
}

pub(crate) fn run(args: &ImportArgs, everywhere: &Everywhere) -> Result<Said, Failure> {
    let mut files = Vec::new();
    for path in &args.files {
        let beginning = Beginning::of(path)?;
        let kind = recognise(&beginning.bytes);
        files.push(OneFile { path, size: beginning.size, kind });
    }
    files.sort_by_key(|file| file.kind != FileKind::LiftFile); // stable: the others stay in order
    let n_tables = files.iter().filter(|file| file.kind != FileKind::LiftFile).count();
    if args.rejects.is_some() && n_tables > 1 {
        return Err(Failure::WrongUse(
            "`--rejects` names one file and there are several tables: import them one by one, or \
             leave it out"
                .to_owned(),
        ));
    }
    if let [only] = files.as_slice() {
        only.refuse_if_hopeless()?; // before a store is made for nothing
    }
    let path = everywhere.store_path()?;
    let scratch = Scratch::if_needed(args.dry_run, &path)?;
    let store = match &scratch {
        Some(scratch) => Store::open(&scratch.0)?,
        None => everywhere.open_or_make()?,
    };
    let task = Task { args, store: &store, plan: args.table.plan(), everywhere };
    let mut outcomes = Vec::new();
    for file in &files {
        let outcome = task.import(file);
        let stop =
            matches!(outcome, Err(Failure::Store(_) | Failure::StoreBusy(_) | Failure::Files(_)));
        outcomes.push((file, outcome));
        if stop {
            break;
        }
    }
    gather(outcomes, args.dry_run, everywhere, &path)
}

/// One file with what it is.
struct OneFile<'a> {
    path: &'a Path,
    size: u64,
    kind: FileKind,
}

impl OneFile<'_> {
    fn refuse_if_hopeless(&self) -> Result<(), Failure> {
        match &self.kind {
            FileKind::Empty => Err(Failure::from(ImportError::Empty).about(self.path)),
            FileKind::NotATable(found) => {
                let error = ImportError::NotATable { found: found.clone() };
                Err(Failure::from(error).about(self.path))
            }
            _ => Ok(()),
        }
    }

    fn name(&self) -> String {
        self.path.file_name().unwrap_or(self.path.as_os_str()).to_string_lossy().into_owned()
    }
}

/// A dry run without a store must not leave one behind: it runs on a store that is taken away.
struct Scratch(PathBuf);

impl Scratch {
    fn if_needed(dry_run: bool, store: &Path) -> Result<Option<Scratch>, Failure> {
        if !dry_run || store.exists() {
            return Ok(None);
        }
        let folder =
            std::env::temp_dir().join(format!("bellwether-dry-run-{}", std::process::id()));
        service::private::create_folder(&folder).map_err(|e| Failure::cannot_write(&folder, &e))?;
        Ok(Some(Scratch(folder.join("record.bellwether"))))
    }
}

impl Drop for Scratch {
    fn drop(&mut self) {
        if let Some(folder) = self.0.parent() {
            std::fs::remove_dir_all(folder).ok(); // nothing of worth is in it
        }
    }
}

/// What came of one file.
struct Outcome {
    text: String,
    json: Value,
    exit: Exit,
}

/// What one call of the command works with.
struct Task<'a> {
    args: &'a ImportArgs,
    store: &'a Store,
    plan: ImportPlan,
    everywhere: &'a Everywhere,
}

impl Task<'_> {
    fn import(&self, file: &OneFile<'_>) -> Result<Outcome, Failure> {
        file.refuse_if_hopeless()?;
        match file.kind {
            FileKind::LiftFile => self.lift_file(file),
            FileKind::Export => self.export(file),
            FileKind::CheckIns => self.table(file, TableKind::CheckIns),
            FileKind::OtherTable if self.names_items() => self.table(file, TableKind::CheckIns),
            _ => self.table(file, TableKind::Log),
        }
    }

    /// Whether the options speak of what only check-ins have.
    fn names_items(&self) -> bool {
        let log = TableKind::Log.fields();
        let named = self.plan.columns.iter().map(|choice| choice.field);
        named
            .chain(self.plan.values.iter().map(|value| value.field))
            .any(|f: Field| !log.contains(&f))
    }

    fn aimed_at_store<'s>(&self, source: &'s str) -> IntoStore<'s> {
        let (correct, dry_run) = (self.args.correct, self.args.dry_run);
        IntoStore { source, now: clock::now(), correct, dry_run }
    }

    fn catalogue(&self) -> Result<Catalogue, Failure> {
        Ok(service::catalogue(self.store)?)
    }

    fn table(&self, file: &OneFile<'_>, kind: TableKind) -> Result<Outcome, Failure> {
        let rejects_path = self.rejects_path(file)?;
        let mut rejects = MadeWhenNeeded::new(rejects_path);
        let mut nowhere = std::io::sink();
        let catalogue = self.catalogue()?;
        let mut progress = Progress::new("importing");
        let with = Import {
            catalogue: &catalogue,
            plan: &self.plan,
            today: self.everywhere.today(),
            rejects: if self.args.dry_run { &mut nowhere } else { &mut rejects },
            progress: &mut |at| {
                progress.at(at.bytes, file.size, &count(at.lines, "line", "lines"));
            },
        };
        let source = file.name();
        let (reader, into) = (open(file.path)?, self.aimed_at_store(&source));
        let report = match kind {
            TableKind::Log => import_log(self.store, reader, with, into),
            TableKind::CheckIns => import_check_ins(self.store, reader, with, into),
        };
        drop(progress);
        let report = report.map_err(|error| self.explained(error, file, kind, &catalogue))?;
        let rejects = rejects.finish()?;
        Ok(table_outcome(file, kind, &report, rejects.as_deref()))
    }

    fn rejects_path(&self, file: &OneFile<'_>) -> Result<PathBuf, Failure> {
        let path = self.args.rejects.clone().unwrap_or_else(|| {
            let mut name = file.path.as_os_str().to_owned();
            name.push(".rejects.csv");
            PathBuf::from(name)
        });
        if is_same_file(&path, file.path) {
            return Err(Failure::WrongUse(
                "the rejects would be written over the file itself: name another file".to_owned(),
            ));
        }
        Ok(path)
    }

    /// An error about columns with the columns that are proposed, ready to be typed.
    fn explained(
        &self,
        error: ImportError,
        file: &OneFile<'_>,
        kind: TableKind,
        catalogue: &Catalogue,
    ) -> Failure {
        let missing = matches!(error, ImportError::MissingColumns { .. });
        let failure = Failure::from(error).about(file.path);
        if !missing || self.plan.take_proposals {
            return failure;
        }
        let Ok(looked) = open(file.path)
            .map_err(|_| ())
            .and_then(|reader| look(reader, kind, &self.plan, catalogue).map_err(|_| ()))
        else {
            return failure;
        };
        if looked.proposals.is_empty() {
            return failure;
        }
        let mut proposed: Vec<_> = looked.proposals.iter().map(|p| p.option.as_str()).collect();
        proposed.retain(|option| !failure.to_string().contains(option));
        let mut text = failure.to_string();
        if !proposed.is_empty() {
            text.push_str(&format!("\nand perhaps: {}", proposed.join(" ")));
        }
        text.push_str(
            "\ntake what is proposed with `--take-proposals`, and give the rest yourself",
        );
        Failure::Data(text)
    }

    fn lift_file(&self, file: &OneFile<'_>) -> Result<Outcome, Failure> {
        let text = std::fs::read_to_string(file.path)
            .map_err(|error| Failure::cannot_read(file.path, &error))?;
        let name = file.name();
        let report =
            import_lift_file(self.store, &text, &self.catalogue()?, self.aimed_at_store(&name))
                .map_err(|error| Failure::from(error).about(file.path))?;
        let mut paper = Paper::default();
        paper.paragraph(&format!("{}: a lift file", file.path.display()));
        lift_file_words(&mut paper, &report);
        let json = json!({ "file": file.path, "kind": "lift-file", "report": report });
        Ok(Outcome { text: paper.finish(), json, exit: Exit::Done })
    }

    fn export(&self, file: &OneFile<'_>) -> Result<Outcome, Failure> {
        if self.args.dry_run {
            return Err(Failure::WrongUse(
                "an export is put back whole or not at all: leave out `--dry-run`".to_owned(),
            )
            .about(file.path));
        }
        let mut progress = Progress::new("putting back");
        let restored = restore(self.store, open(file.path)?, clock::now(), &mut |done| {
            progress.at(0, 0, &count(done, "fact", "facts"));
        });
        drop(progress);
        let restored = restored.map_err(|error| Failure::from(error).about(file.path))?;
        let mut paper = Paper::default();
        paper.paragraph(&format!("{}: an export of a record", file.path.display()));
        paper.item(
            "  ",
            &format!(
                "{} put back, {} there already",
                count(restored.new, "fact", "facts"),
                restored.already_there
            ),
        );
        let json = json!({ "file": file.path, "kind": "export", "report": restored });
        Ok(Outcome { text: paper.finish(), json, exit: Exit::Done })
    }
}

fn table_outcome(
    file: &OneFile<'_>,
    kind: TableKind,
    report: &ImportReport,
    rejects: Option<&Path>,
) -> Outcome {
    let noun = match kind {
        TableKind::Log => ("set", "sets"),
        TableKind::CheckIns => ("check-in", "check-ins"),
    };
    let mut paper = Paper::default();
    paper.paragraph(&format!("{}: a {}", file.path.display(), kind.label()));
    paper.item("  ", &totals(report, noun));
    report_words(&mut paper, report, noun);
    if let Some(rejects) = rejects {
        paper.item(
            "  ",
            &format!(
                "The refused lines are in `{}`: mend them there and import that file.",
                rejects.display()
            ),
        );
    }
    let taken = report.new + report.already_there + report.superseded + report.repeated;
    let exit = match (taken, report.refused) {
        (0, _) => Exit::NothingDone,
        (_, 0) => Exit::Done,
        _ => Exit::SomeRefused,
    };
    let kind = match kind {
        TableKind::Log => "log",
        TableKind::CheckIns => "check-ins",
    };
    let json = json!({ "file": file.path, "kind": kind, "report": report, "rejects": rejects });
    Outcome { text: paper.finish(), json, exit }
}

fn totals(report: &ImportReport, noun: (&str, &str)) -> String {
    if report.lines == 0 {
        return "There is a header and no line under it: nothing to import.".to_owned();
    }
    let mut parts = vec![format!("{} new", count(report.new, noun.0, noun.1))];
    let mut part = |n: u64, words: &str| {
        if n > 0 {
            parts.push(format!("{n} {words}"));
        }
    };
    part(report.superseded, "in place of what was on record");
    part(report.already_there, "on record already");
    part(report.repeated, "said twice in the file");
    part(report.refused, "refused");
    format!("{} read: {}", count(report.lines, "line", "lines"), parts.join(", "))
}

fn lift_file_words(paper: &mut Paper, report: &LiftFileReport) {
    let named = |names: &[String]| {
        let shown: Vec<_> = names.iter().take(8).cloned().collect();
        let more = names.len().saturating_sub(shown.len());
        let rest = if more > 0 { format!(" and {more} more") } else { String::new() };
        format!("{}{rest}", shown.join(", "))
    };
    if !report.added.is_empty() {
        paper.item("  ", &format!("new: {}", named(&report.added)));
    }
    if !report.changed.is_empty() {
        paper.item("  ", &format!("changed: {}", named(&report.changed)));
    }
    if report.already_there {
        paper.item("  ", "the same file is on record already");
    } else if report.added.is_empty() && report.changed.is_empty() {
        paper.item("  ", "it changes nothing in the lifts known");
    }
}

fn gather(
    outcomes: Vec<(&OneFile<'_>, Result<Outcome, Failure>)>,
    dry_run: bool,
    everywhere: &Everywhere,
    store: &Path,
) -> Result<Said, Failure> {
    let n_files = outcomes.len();
    let (mut text, mut files, mut exits) = (String::new(), Vec::new(), Vec::new());
    for (file, outcome) in outcomes {
        match outcome {
            Ok(Outcome { text: told, json, exit }) => {
                text.push_str(&told);
                text.push('\n');
                files.push(json);
                exits.push(exit);
            }
            Err(failure) if n_files == 1 => return Err(failure),
            Err(failure) => {
                let exit = failure.print(everywhere.json);
                files.push(json!({
                    "file": file.path, "error": failure.to_string(), "exit": exit.code()
                }));
                exits.push(exit);
            }
        }
    }
    let exit = together(&exits);
    text.push_str(&match (dry_run, exit) {
        (true, _) => "This was a dry run: nothing was kept.\n".to_owned(),
        (false, Exit::NothingDone) => "Nothing was imported.\n".to_owned(),
        (false, _) => format!("Recorded in `{}`.\n", store.display()),
    });
    Said::ended(text, &json!({ "store": store, "dry_run": dry_run, "files": files }), exit)
}

/// How the whole ended: trouble with store or files first, else whether all, some or none was done.
fn together(exits: &[Exit]) -> Exit {
    let worst = exits.iter().copied().max().unwrap_or(Exit::Done);
    let some_done = exits.iter().any(|exit| matches!(exit, Exit::Done | Exit::SomeRefused));
    match worst {
        Exit::NothingDone | Exit::WrongUse if some_done => Exit::SomeRefused,
        worst => worst,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn several_files_end_together() {
        use Exit::*;
        assert_eq!(together(&[Done, Done]), Done);
        assert_eq!(together(&[Done, NothingDone]), SomeRefused);
        assert_eq!(together(&[NothingDone, NothingDone]), NothingDone);
        assert_eq!(together(&[SomeRefused, Store]), Store);
    }
}
