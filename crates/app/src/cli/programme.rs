//! `programme`: a programme file checked, and its dose counted. What a lifter follows is beside it.

use std::fs;
use std::path::{Path, PathBuf};

use clap::{Args, Subcommand};
use domain::Catalogue;
use serde_json::json;
use service::programme::view::{CheckView, DoseView, FindingView, JointView, MuscleDose};
use service::programme::{
    Planning, Remark, check_programme, mend_programme, programme_dose, write_programme,
};
use service::{Store, catalogue, private};

use super::Everywhere;
use super::exit::Failure;
use super::lifts::lifter_name;
use super::paper::{Column, Paper};
use super::said::Said;
use super::{programme_change, programme_draft, programme_of};
use crate::wording::{count, decimal};

/// Programmes: set and show what a lifter follows, and look at a programme file
///
/// `docs/programme-format.md` describes the file.
#[derive(Args, Debug)]
pub(crate) struct ProgrammeArgs {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, Subcommand)]
enum What {
    Check(CheckArgs),
    Mend(MendArgs),
    Dose(DoseArgs),
    Draft(programme_draft::DraftArgs),
    Set(programme_of::SetArgs),
    Show(programme_of::ShowArgs),
    Copy(programme_of::CopyArgs),
    Withdraw(programme_of::WithdrawArgs),
    Change(programme_change::ChangeArgs),
}

/// Check a programme: findings in plain words, worst first, each with a cure
///
/// Dose against its ranges, hours between sessions against recovery, joints, minutes, equipment, the order
/// of lifts, and whether the lifts to be raised are trained.
#[derive(Args, Debug)]
struct CheckArgs {
    /// The programme file
    file: PathBuf,
    /// Check against this lifter's own recovery and gauge lifts
    #[arg(long, value_name = "NAME")]
    lifter: Option<String>,
    /// The week to look at, if waves make them differ
    #[arg(long, value_name = "N", default_value_t = 1)]
    week: usize,
}

/// Make the change that cures a remark of `programme check`
///
/// The change is one after which the remark is gone and no worse one has come. The programme is printed, or
/// written to a file; the file that was read stays as it is. Comments in the file are not carried over.
#[derive(Args, Debug)]
struct MendArgs {
    /// The programme file
    file: PathBuf,
    /// The number of the remark
    number: usize,
    /// Check against this lifter's own recovery and gauge lifts, as the remarks were made
    #[arg(long, value_name = "NAME")]
    lifter: Option<String>,
    /// The week that was looked at
    #[arg(long, value_name = "N", default_value_t = 1)]
    week: usize,
    /// Write the programme here
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
}

/// Count the dose of a programme: hard sets per muscle, by day and week
#[derive(Args, Debug)]
struct DoseArgs {
    /// The programme file
    file: PathBuf,
    /// The week to look at, if waves make them differ
    #[arg(long, value_name = "N", default_value_t = 1)]
    week: usize,
}

pub(crate) fn run(args: &ProgrammeArgs, everywhere: &Everywhere) -> Result<Said, Failure> {
    match &args.what {
        What::Check(args) => run_check(args, everywhere),
        What::Mend(args) => run_mend(args, everywhere),
        What::Draft(args) => programme_draft::draft(args, everywhere),
        What::Set(args) => programme_of::set(args, everywhere),
        What::Show(args) => programme_of::show(args, everywhere),
        What::Copy(args) => programme_of::copy(args, everywhere),
        What::Withdraw(args) => programme_of::withdraw(args, everywhere),
        What::Change(args) => programme_change::change(args, everywhere),
        What::Dose(args) => {
            let text = text_of(&args.file)?;
            let told = programme_dose(&text, args.week, &known_lifts(everywhere)?)
                .map_err(|error| Failure::from(error).about(&args.file))?;
            Said::done(dose_words(&told), &told)
        }
    }
}

fn run_check(args: &CheckArgs, everywhere: &Everywhere) -> Result<Said, Failure> {
    let text = text_of(&args.file)?;
    let (lifts, planning) = planning(args.lifter.as_deref(), everywhere)?;
    let told = check_programme(&text, args.week, &lifts, &planning)
        .map_err(|error| Failure::from(error).about(&args.file))?;
    Said::done(check_words(&told), &told)
}

fn run_mend(args: &MendArgs, everywhere: &Everywhere) -> Result<Said, Failure> {
    let text = text_of(&args.file)?;
    let (lifts, planning) = planning(args.lifter.as_deref(), everywhere)?;
    let remark = Remark::Number(args.number);
    let (programme, words) = mend_programme(&text, args.week, remark, (&lifts, &planning))
        .map_err(|error| Failure::from(error).about(&args.file))?;
    let mended = write_programme(&programme);
    let json = json!({ "changed": words, "text": mended });
    let Some(path) = &args.out else { return Said::done(mended, &json) };
    private::write(path, &mended).map_err(|error| Failure::cannot_write(path, &error))?;
    let mut paper = Paper::default();
    paper.paragraph(&format!("{words}. Written to `{}`.", path.display()));
    Said::done(paper.finish(), &json)
}

/// The lifts known and what is known of the lifter, if one is named.
fn planning(
    lifter: Option<&str>,
    everywhere: &Everywhere,
) -> Result<(Catalogue, Planning), Failure> {
    let Some(name) = lifter else {
        return Ok((known_lifts(everywhere)?, Planning::for_anybody()));
    };
    let name = lifter_name(name)?;
    let store = everywhere.open()?;
    let planning = Planning::for_lifter(&store, &name, everywhere.today())?;
    Ok((catalogue(&store)?, planning))
}

/// The built-in lifts, and the coach's own if there is a store.
pub(super) fn known_lifts(everywhere: &Everywhere) -> Result<Catalogue, Failure> {
    let store: Option<Store> = everywhere.open_if_there()?;
    Ok(match store {
        Some(store) => catalogue(&store)?,
        None => Catalogue::built_in(),
    })
}

pub(super) fn text_of(path: &Path) -> Result<String, Failure> {
    fs::read_to_string(path).map_err(|error| Failure::cannot_read(path, &error))
}

fn title(name: &str, (week, weeks): (usize, usize)) -> String {
    if weeks == 1 { name.to_owned() } else { format!("{name}, week {week} of {weeks}") }
}

fn check_words(told: &CheckView) -> String {
    let mut paper = Paper::default();
    paper.paragraph(&title(&told.name, told.week));
    paper.paragraph(&told.recovery).gap();
    if told.findings.is_empty() {
        paper.paragraph("Nothing to remark.");
    }
    for (idx, finding) in told.findings.iter().enumerate() {
        finding_words(&mut paper, finding, Some(idx + 1));
    }
    if told.findings.iter().any(|finding| finding.mend.is_some()) {
        let how = "`bellwether programme mend FILE NUMBER --out NEW` makes the change that stands beside \
                   `mend`, with the same options as here.";
        paper.gap().paragraph(how);
    }
    paper.gap().line("Days");
    let rows: Vec<Vec<String>> = told
        .days
        .iter()
        .map(|day| {
            let there = day.minutes_there.map_or(String::new(), |there| format!("of {there}"));
            vec![
                day.weekday.to_owned(),
                count(day.lifts as u64, "lift", "lifts"),
                count(day.sets.into(), "work set", "work sets"),
                format!("about {} min", day.minutes),
                there,
            ]
        })
        .collect();
    use Column::{Left, Right};
    paper.table(2, &[Left, Right, Right, Right, Left], &rows);
    paper.gap().line("Joints, as work sets weighted by how much a lift loads them");
    let weekdays: Vec<&str> = told.days.iter().map(|day| day.weekday).collect();
    let joints: Vec<Vec<String>> =
        std::iter::once(header("", &weekdays)).chain(told.joints.iter().map(joint_row)).collect();
    paper.table(2, &columns(weekdays.len()), &joints);
    if !told.spotted.is_empty() {
        let lifts = told.spotted.join(", ");
        paper.gap().paragraph(&format!("With a spotter or safety bars: {lifts}."));
    }
    paper.gap().paragraph(told.cautions);
    paper.finish()
}

/// A finding, and what would do: the change that `programme mend` makes by the number, or the cure in words.
pub(super) fn finding_words(paper: &mut Paper, finding: &FindingView, number: Option<usize>) {
    let place = if finding.place == "week" { "" } else { finding.place };
    let place = if place.is_empty() { String::new() } else { format!("{place}: ") };
    paper.item(&format!("{:<10} ", finding.urgency), &format!("{place}{}", finding.words));
    match (&finding.mend, &finding.cure, number) {
        (Some(mend), _, Some(number)) => paper.item(&format!("  mend {number:>2}  "), mend),
        (Some(words), _, None) | (None, Some(words), _) => paper.item("        →  ", words),
        (None, None, _) => paper,
    };
}

fn joint_row(joint: &JointView) -> Vec<String> {
    let spared = match (joint.spared, joint.complains) {
        (true, _) => " (to be spared)",
        (false, true) => " (complains)",
        (false, false) => "",
    };
    let days = joint.days.iter().map(|sets| sets_or_dash(*sets));
    let name = format!("{}{spared}", joint.joint);
    std::iter::once(name).chain(days).chain([decimal(joint.week, 1)]).collect()
}

fn dose_words(told: &DoseView) -> String {
    let mut paper = Paper::default();
    paper.paragraph(&title(&told.name, told.week));
    paper
        .paragraph("Hard sets planned, by muscle; of the week's, those in which it only assists.")
        .gap();
    let mut first = header("", &told.weekdays);
    first.extend(["assisting", "range", ""].map(str::to_owned));
    let rows: Vec<Vec<String>> =
        std::iter::once(first).chain(told.muscles.iter().map(muscle_row)).collect();
    let mut columns = columns(told.weekdays.len());
    columns.extend([Column::Right, Column::Right, Column::Left]);
    paper.table(0, &columns, &rows).gap();
    paper.paragraph("Ranges are least–aim–most hard sets a week; * is the programme's own.");
    for note in &told.notes {
        paper.gap().paragraph(note);
    }
    paper.finish()
}

fn muscle_row(row: &MuscleDose) -> Vec<String> {
    let (least, aim, most) = row.range;
    let own = if row.own_range { "*" } else { "" };
    let range = format!("{}–{}–{}{own}", decimal(least, 1), decimal(aim, 1), decimal(most, 1));
    let days = row.days.iter().map(|sets| sets_or_dash(*sets));
    std::iter::once(row.muscle.to_owned())
        .chain(days)
        .chain([decimal(row.total, 1), sets_or_dash(row.assisting), range, row.verdict.to_owned()])
        .collect()
}

/// A row of weekdays, shortened, over columns of numbers.
fn header(first: &str, weekdays: &[&str]) -> Vec<String> {
    let short = weekdays.iter().map(|day| day[..3].to_owned());
    std::iter::once(first.to_owned()).chain(short).chain(["week".to_owned()]).collect()
}

fn columns(n_days: usize) -> Vec<Column> {
    std::iter::once(Column::Left).chain(vec![Column::Right; n_days + 1]).collect()
}

fn sets_or_dash(sets: f64) -> String {
    if sets > 0.0 { decimal(sets, 1) } else { "–".to_owned() }
}
