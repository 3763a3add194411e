//! A whole log, read as it would have been read at the time, without a store: what `replay` and `forecasts`
//! have in common.

use std::fs;
use std::path::{Path, PathBuf};

use clap::Args;
use domain::{Catalogue, CheckIn, Limits, LoggedSet};
use jiff::civil::{Date, date};
use service::import::{
    FileKind, Import, ImportPlan, ImportReport, RefusalClass, Taken, read_check_ins,
    read_log_whole, recognise,
};
use service::record::history::{Model, Point};
use service::record::inputs::Grounds;
use service::replay::Replay;

use super::clock::threads;
use super::exit::{Exit, Failure};
use super::paper::Paper;
use super::pool::values_in;
use super::progress::Progress;
use super::tables::{Beginning, TableArgs, is_same_file, open, report_words, unknown_lift_words};
use crate::wording::count;

/// A log may hold any day: simulated logs lie where they like.
const LAST_DAY: Date = date(2200, 12, 31);

/// A log, and how it is read.
#[derive(Args, Debug)]
pub(crate) struct WholeLogArgs {
    /// The log
    log: PathBuf,
    /// Check-ins: sleep, stress, body mass, pain
    #[arg(long, value_name = "FILE")]
    checkins: Option<PathBuf>,
    /// A lift file, laid over the lifts known (again for each)
    #[arg(long, value_name = "FILE")]
    lifts: Vec<PathBuf>,
    /// Where readings come from: `recovery`, all lifts and muscles of a lifter together; `one-lift`,
    /// each lift alone; `plain`, the rule "no better than last time"
    #[arg(long, value_name = "MODEL", value_parser = model, default_value = "recovery")]
    pub(crate) model: Model,
    /// Values of lifters in general for the model `recovery`, as `pool --out` writes them [default: those
    /// that come with the program]
    #[arg(long, value_name = "FILE")]
    pub(crate) pooled: Option<PathBuf>,
    #[command(flatten)]
    table: TableArgs,
}

/// A log that was read.
pub(crate) struct ReplayedLog {
    /// The lifts known.
    pub(crate) catalogue: Catalogue,
    /// One row for each lead set, in the log's order.
    pub(crate) rows: Vec<Point>,
    /// What the log held.
    pub(crate) report: ImportReport,
    /// The file of check-ins and what it held.
    pub(crate) check_ins: Option<(PathBuf, ImportReport)>,
    log: PathBuf,
}

impl WholeLogArgs {
    /// Refuses to write what comes of the log over what it comes from.
    pub(crate) fn refuse_to_write_over(&self, out: &Path) -> Result<(), Failure> {
        let read = std::iter::once(&self.log).chain(&self.checkins).chain(&self.lifts);
        match read.into_iter().find(|path| is_same_file(path, out)) {
            Some(path) => Err(Failure::WrongUse(format!(
                "the table would be written over `{}`, which it is made from: name another file",
                path.display()
            ))),
            None => Ok(()),
        }
    }

    /// Reads the log. If a lift isn't known, the error names all such lifts.
    pub(crate) fn replayed(&self) -> Result<ReplayedLog, Failure> {
        let catalogue = self.catalogue()?;
        let grounds = grounds(self)?;
        let (sets, report) = read_sets(&self.log, &self.table.plan(), &catalogue)?;
        if !report.unknown_lifts.is_empty() {
            return Err(unknown_lifts(&self.log, &report));
        }
        let (check_ins, of_check_ins) = match &self.checkins {
            None => (Vec::new(), None),
            Some(path) => {
                let (check_ins, report) = read_all_check_ins(path, &catalogue)?;
                (check_ins, Some((path.clone(), report)))
            }
        };
        if sets.is_empty() {
            return Err(no_sets(&self.log, &report));
        }
        let mut progress = Progress::new("replaying");
        let mut told = |done: usize, whole: usize| {
            progress.at(done as u64, whole as u64, &format!("{done} of {whole} lifters"));
        };
        let limits = Limits::default();
        let replay = Replay {
            catalogue: &catalogue,
            limits: &limits,
            model: self.model,
            grounds: &grounds,
            threads: threads(),
        };
        let rows = replay.rows(sets, check_ins, &mut told);
        drop(progress);
        let log = self.log.clone();
        Ok(ReplayedLog { catalogue, rows, report, check_ins: of_check_ins, log })
    }

    fn catalogue(&self) -> Result<Catalogue, Failure> {
        let mut catalogue = Catalogue::built_in();
        for path in &self.lifts {
            let text = fs::read_to_string(path).map_err(|e| Failure::cannot_read(path, &e))?;
            catalogue = catalogue
                .with_file(&text)
                .map_err(|error| Failure::Data(error.to_string()).about(path))?;
        }
        Ok(catalogue)
    }
}

impl ReplayedLog {
    /// What was read, in words.
    pub(crate) fn words(&self, paper: &mut Paper) {
        paper.paragraph(&format!("{}: a log", self.log.display()));
        report_words(paper, &self.report, ("set", "sets"));
        if let Some((path, report)) = &self.check_ins {
            paper.paragraph(&format!("{}: check-ins", path.display()));
            report_words(paper, report, ("check-in", "check-ins"));
        }
    }

    /// Whether something of it was refused.
    pub(crate) fn exit(&self) -> Exit {
        let of_check_ins = self.check_ins.as_ref().map_or(0, |(_, report)| report.refused);
        if self.report.refused + of_check_ins > 0 { Exit::SomeRefused } else { Exit::Done }
    }
}

/// The pooled values that were asked for.
fn grounds(args: &WholeLogArgs) -> Result<Grounds, Failure> {
    let Some(path) = &args.pooled else { return Ok(Grounds::shipped()) };
    if args.model != Model::Recovery {
        let model = args.model.as_str();
        return Err(Failure::WrongUse(format!(
            "`--pooled` goes with the model `recovery`, and the model `{model}` takes no such values: \
             leave one of the two out"
        )));
    }
    values_in(path)
}

/// Reads a model's name.
fn model(text: &str) -> Result<Model, String> {
    let names = Model::ALL.map(Model::as_str).join(", ");
    Model::named(text).ok_or_else(|| format!("there is no such model: use one of {names}"))
}

fn read_sets(
    path: &Path,
    plan: &ImportPlan,
    catalogue: &Catalogue,
) -> Result<(Vec<LoggedSet>, ImportReport), Failure> {
    let beginning = Beginning::of(path)?;
    if let FileKind::LiftFile | FileKind::Export = recognise(&beginning.bytes) {
        return Err(
            Failure::Data("this is no log of sets: name the log first".to_owned()).about(path)
        );
    }
    let mut progress = Progress::new("reading");
    let with = Import {
        catalogue,
        plan,
        today: LAST_DAY,
        rejects: &mut std::io::sink(),
        progress: &mut |at| {
            progress.at(at.bytes, beginning.size, &count(at.lines, "line", "lines"));
        },
    };
    let (sets, report) =
        read_log_whole(open(path)?, with).map_err(|error| Failure::from(error).about(path))?;
    Ok((sets.into_iter().map(|(_, set)| set).collect(), report))
}

fn read_all_check_ins(
    path: &Path,
    catalogue: &Catalogue,
) -> Result<(Vec<CheckIn>, ImportReport), Failure> {
    let mut check_ins = Vec::new();
    let with = Import {
        catalogue,
        plan: &ImportPlan::default(),
        today: LAST_DAY,
        rejects: &mut std::io::sink(),
        progress: &mut |_| (),
    };
    let report = read_check_ins(open(path)?, with, &mut |_, check_in| {
        check_ins.push(check_in);
        Ok(Taken::New)
    })
    .map_err(|error| Failure::from(error).about(path))?;
    Ok((check_ins, report))
}

fn unknown_lifts(log: &Path, report: &ImportReport) -> Failure {
    let mut paper = Paper::default();
    let n = report.refused_by.get(&RefusalClass::UnknownLift).copied().unwrap_or_default();
    paper.paragraph(&format!(
        "`{}` has lifts that aren't known, on {}; nothing was written",
        log.display(),
        count(n, "line", "lines")
    ));
    unknown_lift_words(&mut paper, report, "give the lift in a lift file with `--lifts`");
    Failure::Data(paper.finish().trim_end().to_owned())
}

fn no_sets(log: &Path, report: &ImportReport) -> Failure {
    let mut paper = Paper::default();
    paper.paragraph(&format!(
        "`{}` has no set that can be read; nothing was written",
        log.display()
    ));
    report_words(&mut paper, report, ("set", "sets"));
    Failure::Data(paper.finish().trim_end().to_owned())
}
