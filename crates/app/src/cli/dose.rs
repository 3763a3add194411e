//! `dose`: hard sets of each muscle week by week, beside the plan, and what eight weeks propose.

use clap::Args;
use jiff::civil::Date;
use service::Desk;
use service::dose::record::{DoseRecordView, MuscleDoseRecord, WeekOfDose, why_nothing};

use super::Everywhere;
use super::clock::now;
use super::exit::Failure;
use super::lifts::lifter_name;
use super::paper::{self, Column, Paper};
use super::said::Said;
use crate::wording::{self, decimal};

/// Show a lifter's dose by weeks beside the plan, and what eight weeks of it propose
#[derive(Args, Debug)]
pub(crate) struct DoseArgs {
    /// The lifter's name
    lifter: String,
    /// How many weeks to show, the present one among them
    #[arg(long, value_name = "N", default_value_t = 6, value_parser = clap::value_parser!(u8).range(1..=13))]
    weeks: u8,
}

pub(crate) fn run(args: &DoseArgs, everywhere: &Everywhere) -> Result<Said, Failure> {
    let name = lifter_name(&args.lifter)?;
    let desk = Desk::new(everywhere.open()?).keeping_fits(now);
    let view = desk.dose_record(&name, everywhere.today())?;
    Said::done(words(&view, args.weeks.into()), &view)
}

fn words(view: &DoseRecordView, shown: usize) -> String {
    let mut paper = Paper::default();
    paper.line(&format!("Dose of {}, {}", view.lifter, wording::date_with_weekday(view.today)));
    if view.muscles.is_empty() {
        paper.paragraph("No hard set was done in the last weeks, and no programme plans any.");
        return paper.finish();
    }
    summary(&mut paper, view);
    by_week(&mut paper, view, shown);
    paper.gap().line("What eight weeks propose");
    let told = view.muscles.iter().filter_map(|record| Some((record, record.proposal.as_ref()?)));
    let (keep, shift): (Vec<_>, Vec<_>) = told.partition(|(_, told)| told.shift == "keep");
    if keep.is_empty() && shift.is_empty() {
        paper.item("  ", &why_nothing());
    }
    for (record, told) in &shift {
        let text = format!("{}: {}", record.muscle, wording::proposal(told));
        paper.item("  - ", &format!("{text} {} {}", told.words, wording::dose_odds(told.p)));
    }
    if !keep.is_empty() {
        let names: Vec<&str> = keep.iter().map(|(record, _)| record.muscle).collect();
        paper.item("  ", &format!("As it is: {}.", names.join(", ")));
    }
    for note in &view.notes {
        paper.gap().paragraph(note);
    }
    paper.finish()
}

/// Each muscle's last four weeks against the four before, the plan and the range.
fn summary(paper: &mut Paper, view: &DoseRecordView) {
    let plan = if view.has_programme { "the plan of the present week, " } else { "" };
    let own = view.muscles.iter().any(|record| record.own_range);
    let star = if own { " (* the programme's own)" } else { "" };
    paper.paragraph(&format!(
        "Hard sets a week: the mean of the last four full weeks, its change against the four before, {plan}and \
         the range{star}."
    ));
    let told = |sets: Option<f64>| sets.map_or("–".to_owned(), |sets| decimal(sets, 1));
    let row = |record: &MuscleDoseRecord| {
        let (least, aim, most) = record.range;
        let star = if record.own_range { "*" } else { "" };
        let change = record.change.map_or("–".to_owned(), |change| wording::signed(change, 1));
        let mut row = vec![record.muscle.to_owned(), told(record.mean), change];
        if view.has_programme {
            row.push(told(record.weeks.last().and_then(|week| week.planned)));
        }
        row.push(format!("{}–{}–{}{star}", decimal(least, 1), decimal(aim, 1), decimal(most, 1)));
        row
    };
    let mut first = vec!["", "last four", "change"];
    if view.has_programme {
        first.push("planned");
    }
    first.push("least–aim–most");
    let first = first.into_iter().map(str::to_owned).collect();
    let rows: Vec<Vec<String>> =
        std::iter::once(first).chain(view.muscles.iter().map(row)).collect();
    paper.gap().table(0, &columns(rows[0].len()), &rows);
}

/// The weeks shown, direct and assisting sets apart; where they are too many for the width, one table below
/// another.
fn by_week(paper: &mut Paper, view: &DoseRecordView, shown: usize) {
    paper.gap().paragraph(
        "By the week of, as a prime mover + while assisting; the last week is still going on.",
    );
    let from = view.weeks.len().saturating_sub(shown);
    let short = |monday: &Date| format!("{} {}", monday.day(), wording::month(*monday));
    let mut rows = vec![vec![String::new()]];
    rows[0].extend(view.weeks[from..].iter().map(short));
    for record in &view.muscles {
        let mut row = vec![record.muscle.to_owned()];
        row.extend(record.weeks[from..].iter().map(sets_apart));
        rows.push(row);
    }
    let wide = |cells: &mut dyn Iterator<Item = &String>| {
        cells.map(|cell| cell.chars().count()).max().unwrap_or(0)
    };
    let names = wide(&mut rows.iter().filter_map(|row| row.first()));
    let sets = wide(&mut rows.iter().flat_map(|row| &row[1..]));
    let n_weeks = view.weeks.len() - from;
    let fit = (paper::WIDTH.saturating_sub(names) / (sets + 2)).max(1);
    let at_once = n_weeks.div_ceil(n_weeks.div_ceil(fit));
    for start in (1..=n_weeks).step_by(at_once) {
        let end = (start + at_once).min(n_weeks + 1);
        let part: Vec<Vec<String>> = rows
            .iter()
            .map(|row| std::iter::once(&row[0]).chain(&row[start..end]).cloned().collect())
            .collect();
        paper.gap().table(0, &columns(part[0].len()), &part);
    }
}

/// `7+2.5`: as a prime mover and while assisting; `–` without either.
fn sets_apart(week: &WeekOfDose) -> String {
    if week.done() > 0.0 {
        format!("{}+{}", decimal(week.direct, 1), decimal(week.assisting, 1))
    } else {
        "–".to_owned()
    }
}

/// Names to the left, numbers to the right.
fn columns(n: usize) -> Vec<Column> {
    std::iter::once(Column::Left).chain(vec![Column::Right; n - 1]).collect()
}
