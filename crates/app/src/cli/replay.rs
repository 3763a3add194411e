//! `replay`: a whole log read as it would have been read at the time.

use std::fs;
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};

use clap::Args;
use domain::{Catalogue, CheckIn, Limits, LoggedSet};
use jiff::civil::{Date, date};
use serde_json::json;
use service::grounds::Grounds;
use service::history::{Model, Point};
use service::import::{
    FileKind, Import, ImportPlan, ImportReport, RefusalClass, Taken, read_check_ins,
    read_log_whole, recognise,
};
use service::private;
use service::replay::{Replay, write_rows};

use super::clock::threads;
use super::exit::{Exit, Failure};
use super::paper::Paper;
use super::pool::values_in;
use super::progress::Progress;
use super::said::Said;
use super::tables::{Beginning, TableArgs, open, report_words, unknown_lift_words};
use crate::wording::count;

/// A replay takes any day that a log can hold: simulated logs lie where they like.
const LAST_DAY: Date = date(2200, 12, 31);

/// Read a whole log as it would have been read at the time
///
/// Needs no store. Writes one row for each lead set: the forecast from what came before it, the
/// reading and the call (docs/replay.md). If a lift isn't known, all such lifts are named and nothing
/// is written.
#[derive(Args, Debug)]
pub(crate) struct ReplayArgs {
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
    model: Model,
    /// Values of lifters in general for the model `recovery`, as `pool --out` writes them [default: those
    /// that come with the program]
    #[arg(long, value_name = "FILE")]
    pooled: Option<PathBuf>,
    /// Where the table goes
    #[arg(long, value_name = "FILE")]
    out: PathBuf,
    #[command(flatten)]
    table: TableArgs,
}

pub(crate) fn run(args: &ReplayArgs) -> Result<Said, Failure> {
    let mut catalogue = Catalogue::built_in();
    for path in &args.lifts {
        let text = fs::read_to_string(path).map_err(|e| Failure::cannot_read(path, &e))?;
        catalogue = catalogue
            .with_file(&text)
            .map_err(|error| Failure::Data(error.to_string()).about(path))?;
    }
    let grounds = grounds(args)?;
    let (sets, report) = read_sets(&args.log, &args.table.plan(), &catalogue)?;
    if !report.unknown_lifts.is_empty() {
        return Err(unknown_lifts(&args.log, &report));
    }
    let (check_ins, of_check_ins) = match &args.checkins {
        None => (Vec::new(), None),
        Some(path) => {
            let (check_ins, report) = read_all_check_ins(path, &catalogue)?;
            (check_ins, Some(report))
        }
    };
    if sets.is_empty() {
        return Err(no_sets(&args.log, &report));
    }
    let mut progress = Progress::new("replaying");
    let mut told = |done: usize, whole: usize| {
        progress.at(done as u64, whole as u64, &format!("{done} of {whole} lifters"));
    };
    let replay = Replay {
        catalogue: &catalogue,
        limits: &Limits::default(),
        model: args.model,
        grounds: &grounds,
        threads: threads(),
    };
    let rows = replay.rows(sets, check_ins, &mut told);
    drop(progress);
    write(&args.out, &rows)?;
    say(args, &rows, &report, of_check_ins.as_ref())
}

/// The pooled values that were asked for.
fn grounds(args: &ReplayArgs) -> Result<Grounds, Failure> {
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
        fs::rename(&unfinished, path)
    };
    write().map_err(|error| {
        fs::remove_file(&unfinished).ok(); // it may not have been made
        Failure::cannot_write(path, &error)
    })
}

fn say(
    args: &ReplayArgs,
    rows: &[Point],
    report: &ImportReport,
    of_check_ins: Option<&ImportReport>,
) -> Result<Said, Failure> {
    let calls = |word: &str| rows.iter().filter(|row| row.ruling.call.as_str() == word).count();
    let mut paper = Paper::default();
    paper.paragraph(&format!("{}: a log", args.log.display()));
    report_words(&mut paper, report, ("set", "sets"));
    if let (Some(path), Some(report)) = (&args.checkins, of_check_ins) {
        paper.paragraph(&format!("{}: check-ins", path.display()));
        report_words(&mut paper, report, ("check-in", "check-ins"));
    }
    let words = ["go on", "ease", "stop", "no reading"];
    let counted: Vec<_> = words.iter().map(|word| format!("{word} {}", calls(word))).collect();
    paper.gap().paragraph(&format!(
        "{} in `{}`, read by the model `{}`: {}.",
        count(rows.len() as u64, "lead set", "lead sets"),
        args.out.display(),
        args.model.as_str(),
        counted.join(", ")
    ));
    let refused = report.refused + of_check_ins.map_or(0, |report| report.refused);
    let exit = if refused > 0 { Exit::SomeRefused } else { Exit::Done };
    let calls: serde_json::Map<String, serde_json::Value> =
        words.iter().map(|word| ((*word).to_owned(), calls(word).into())).collect();
    let json = json!({
        "out": args.out, "model": args.model.as_str(), "pooled": args.pooled, "lead_sets": rows.len(), "calls": calls, "log": report,
        "check_ins": of_check_ins,
    });
    Said::ended(paper.finish(), &json, exit)
}
