//! `dose`: hard sets of each muscle week by week, beside the plan, and what eight weeks propose.

use clap::Args;
use service::Desk;
use service::dose_record::{DoseRecordView, why_nothing};

use super::Everywhere;
use super::clock::now;
use super::exit::Failure;
use super::lifts::lifter_name;
use super::paper::{Column, Paper};
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
    paper.paragraph("Hard sets by the week of").gap();
    let from = view.weeks.len().saturating_sub(shown);
    let mut first = vec![String::new()];
    first.extend(view.weeks[from..].iter().map(|monday| wording::short_day(*monday)));
    first.extend(["planned", "least–aim–most"].map(str::to_owned));
    let mut rows = vec![first];
    for record in &view.muscles {
        let (least, aim, most) = record.range;
        let own = if record.own_range { "*" } else { "" };
        let planned = record.weeks.last().and_then(|week| week.planned);
        let mut row = vec![record.muscle.to_owned()];
        row.extend(record.weeks[from..].iter().map(|week| decimal(week.done(), 1)));
        row.push(planned.map_or("–".to_owned(), |sets| decimal(sets, 1)));
        row.push(format!("{}–{}–{}{own}", decimal(least, 1), decimal(aim, 1), decimal(most, 1)));
        rows.push(row);
    }
    let columns: Vec<Column> = std::iter::once(Column::Left)
        .chain(vec![Column::Right; view.weeks.len() - from + 2])
        .collect();
    paper.table(0, &columns, &rows);
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
