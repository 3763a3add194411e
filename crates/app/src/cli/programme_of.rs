//! `programme set`, `show`, `copy` and `withdraw`: the programme that a lifter follows.

use std::path::PathBuf;

use clap::Args;
use jiff::civil::Date;
use serde_json::{Value, json};
use service::programme::{
    DayWords, FollowedView, Planning, ProgrammeSet, ProgrammeVersionLine, check_programme,
};
use service::{Desk, ServiceError, catalogue};

use super::Everywhere;
use super::clock::now;
use super::exit::Failure;
use super::lifts::lifter_name;
use super::paper::{Column, Paper};
use super::programme::text_of;
use super::said::Said;
use crate::wording::{count, date_with_weekday, instant};

/// Set the programme that a lifter follows, from a programme file
///
/// Cards and the gym floor follow it at once. It supersedes the programme that was there, which is kept. A
/// programme with the name of the one before goes on counting its weeks; any other begins
/// today.
#[derive(Args, Debug)]
pub(super) struct SetArgs {
    /// The lifter's name
    lifter: String,
    /// The programme file
    file: PathBuf,
    /// The day it begins, as 2031-05-04; weeks are counted from its first session from then on
    #[arg(long, value_name = "DATE")]
    begins: Option<Date>,
}

/// Show the programme that a lifter follows, and what stood before
#[derive(Args, Debug)]
pub(super) struct ShowArgs {
    /// The lifter's name
    lifter: String,
    /// Print its file, word for word
    #[arg(long)]
    file: bool,
}

/// Give a lifter the programme of another
#[derive(Args, Debug)]
pub(super) struct CopyArgs {
    /// Whose programme it is
    from: String,
    /// Who is to follow it too
    to: String,
    /// The day it begins, as 2031-05-04 [default: today]
    #[arg(long, value_name = "DATE")]
    begins: Option<Date>,
}

/// Take a lifter's programme away; cards follow the log again
#[derive(Args, Debug)]
pub(super) struct WithdrawArgs {
    /// The lifter's name
    lifter: String,
    /// Why, to be kept beside it
    #[arg(long, value_name = "WORDS", default_value = "", hide_default_value = true)]
    reason: String,
}

pub(super) fn set(args: &SetArgs, everywhere: &Everywhere) -> Result<Said, Failure> {
    let name = lifter_name(&args.lifter)?;
    let text = text_of(&args.file)?;
    let desk = Desk::new(everywhere.open_to_write()?);
    let set = desk.set_programme(&name, &text, args.begins, (everywhere.today(), now()));
    let set = set.map_err(|error| Failure::from(error).about(&args.file))?;
    told(&set, &text, &desk, everywhere)
}

pub(super) fn copy(args: &CopyArgs, everywhere: &Everywhere) -> Result<Said, Failure> {
    let (from, to) = (lifter_name(&args.from)?, lifter_name(&args.to)?);
    let desk = Desk::new(everywhere.open_to_write()?);
    let set = desk.copy_programme(&from, &to, args.begins, (everywhere.today(), now()))?;
    let there = desk.programme(&to, everywhere.today())?;
    told(&set, &there.now.map_or_else(String::new, |now| now.text), &desk, everywhere)
}

pub(super) fn withdraw(args: &WithdrawArgs, everywhere: &Everywhere) -> Result<Said, Failure> {
    let name = lifter_name(&args.lifter)?;
    let desk = Desk::new(everywhere.open_to_write()?);
    let before = desk.programme(&name, everywhere.today())?;
    let Some(followed) = before.now else {
        return Err(ServiceError::NoProgramme { lifter: before.lifter }.into());
    };
    desk.withdraw_programme(&name, &args.reason, now())?;
    let (lifter, programme) = (before.lifter, followed.programme.name.to_string());
    let mut paper = Paper::default();
    paper.paragraph(&format!(
        "{lifter} follows `{programme}` no more; cards take the lifts from the log again. It is kept."
    ));
    Said::done(paper.finish(), &json!({ "lifter": lifter, "withdrawn": programme }))
}

pub(super) fn show(args: &ShowArgs, everywhere: &Everywhere) -> Result<Said, Failure> {
    let name = lifter_name(&args.lifter)?;
    let desk = Desk::new(everywhere.open()?);
    let today = everywhere.today();
    let view = desk.programme(&name, today)?;
    if args.file {
        let Some(followed) = view.now else {
            return Err(ServiceError::NoProgramme { lifter: view.lifter }.into());
        };
        return Said::done(followed.text.clone(), &json!({ "text": followed.text }));
    }
    Said::done(words(&view, today), &data(&view))
}

/// What was set, and what a coach would remark on it for this lifter.
fn told(
    set: &ProgrammeSet,
    text: &str,
    desk: &Desk,
    everywhere: &Everywhere,
) -> Result<Said, Failure> {
    let planning =
        Planning::for_lifter(desk.store(), &lifter_name(&set.lifter)?, everywhere.today())?;
    let check = check_programme(text, 1, &catalogue(desk.store())?, &planning)?;
    let mut paper = Paper::default();
    let first = date_with_weekday(set.first_monday);
    let (lifter, programme) = (&set.lifter, &set.programme);
    match (set.is_new, &set.before) {
        (false, _) => {
            paper.paragraph(&format!("{lifter} follows `{programme}` already; nothing was recorded."))
        }
        (true, Some(before)) if before != programme => paper.paragraph(&format!(
            "{lifter} now follows `{programme}`; its first week begins on {first}. `{before}` is kept."
        )),
        (true, Some(_)) => paper.paragraph(&format!(
            "{lifter} now follows the new `{programme}`; its first week begins on {first}. What stood \
             before is kept."
        )),
        (true, None) => paper.paragraph(&format!(
            "{lifter} now follows `{programme}`; its first week begins on {first}."
        )),
    };
    let first = check.findings.iter().filter(|finding| finding.urgency == "put right");
    for finding in first {
        super::programme::finding_words(&mut paper, finding, None);
    }
    if !check.findings.is_empty() {
        paper.paragraph(&format!(
            "{} in all; `bellwether programme check FILE --lifter NAME` says each with its cure.",
            count(check.findings.len() as u64, "remark", "remarks")
        ));
    }
    let json = json!({ "set": set, "findings": check.findings });
    Said::done(paper.finish(), &json)
}

fn words(view: &FollowedView, today: Date) -> String {
    let mut paper = Paper::default();
    let Some(followed) = &view.now else {
        paper.paragraph(&format!(
            "{} follows no programme; cards take the lifts from the log.",
            view.lifter
        ));
        before(&mut paper, &view.versions);
        return paper.finish();
    };
    paper.paragraph(&format!("{}, of {}", followed.programme.name, view.lifter));
    paper.paragraph(&week_words(view, followed.first_monday(), today));
    for change in &view.changes {
        paper.item("  – ", change);
    }
    let note = followed.programme.note.as_str();
    if !note.is_empty() {
        paper.gap().paragraph(note);
    }
    for day in &view.days {
        day_words(&mut paper, day);
    }
    before(&mut paper, view.versions.get(1..).unwrap_or_default());
    paper.finish()
}

fn week_words(view: &FollowedView, first: Date, today: Date) -> String {
    let begins = date_with_weekday(first);
    match view.week {
        None => format!("Its first week begins on {begins}."),
        Some((_, 1)) => format!("Since the week of {begins}."),
        Some((week, weeks)) => format!(
            "Since the week of {begins}; {} lies in week {week} of {weeks}.",
            date_with_weekday(today)
        ),
    }
}

fn day_words(paper: &mut Paper, day: &DayWords) {
    let minutes = day.minutes.map_or(String::new(), |minutes| format!(", {minutes} min"));
    paper.gap().line(&format!("{}{minutes}", day.weekday));
    let rows: Vec<Vec<String>> = day
        .lifts
        .iter()
        .map(|lift| {
            let rest = lift.rest.as_ref().map_or(String::new(), |rest| format!("rest {rest}"));
            vec![lift.lift.clone(), lift.sets.clone(), rest]
        })
        .collect();
    paper.table(2, &[Column::Left, Column::Left, Column::Left], &rows);
    let moves_on: Vec<String> =
        day.lifts.iter().map(|lift| format!("{}: {}", lift.lift, lift.moves_on)).collect();
    paper.item("  ", &format!("{}.", moves_on.join("; ")));
}

fn before(paper: &mut Paper, versions: &[ProgrammeVersionLine]) {
    if versions.is_empty() {
        return;
    }
    paper.gap().line("Before");
    for version in versions {
        let what = if version.is_withdrawn { "taken away" } else { "set" };
        let why = match version.reason.as_str() {
            "" => String::new(),
            reason => format!(": {reason}"),
        };
        paper.item(
            "  ",
            &format!("{}, {what} {}{why}", version.programme, instant(version.recorded)),
        );
    }
}

fn data(view: &FollowedView) -> Value {
    let now = view.now.as_ref().map(|followed| {
        json!({
            "name": followed.programme.name.as_str(),
            "begins": followed.begins.to_string(),
            "week": view.week.map(|(week, _)| week),
            "weeks": followed.programme.weeks(),
            "days": view.days,
            "text": followed.text,
        })
    });
    let versions: Vec<Value> = view
        .versions
        .iter()
        .map(|version| {
            json!({
                "name": version.programme,
                "begins": version.begins.to_string(),
                "withdrawn": version.is_withdrawn,
                "reason": version.reason,
                "recorded": version.recorded.to_string(),
            })
        })
        .collect();
    json!({
        "lifter": view.lifter,
        "programme": now,
        "changes": view.changes,
        "versions": versions,
    })
}
