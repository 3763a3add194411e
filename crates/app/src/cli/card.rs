//! `card`: one session for one lifter.

use std::path::PathBuf;

use clap::Args;
use jiff::civil::Date;
use serde_json::json;
use service::Desk;
use service::private;
use service::view::{CardLift, CardSet, CardView};

use super::Everywhere;
use super::clock::now;
use super::exit::Failure;
use super::lifts::lifter_name;
use super::paper::{Column, Paper as Terminal};
use super::said::Said;
use crate::print::Paper;
use crate::print::card::card_pdf;
use crate::web::card_page::card_file;
use crate::wording::{card_set, date_with_weekday, percent, plates, reserve};

/// Make the card of one session: targets, warm-ups, plates, and what each outcome means
#[derive(Args, Debug)]
pub(crate) struct CardArgs {
    /// The lifter's name
    lifter: String,
    /// The day, as 2031-05-04 [default: today]
    #[arg(long)]
    date: Option<Date>,
    /// Write the card as PDF, one sheet for up to seven lifts
    #[arg(long, value_name = "FILE")]
    pdf: Option<PathBuf>,
    /// The paper for it, a4 or letter [default: a4 for a lifter in kilograms, letter for one in pounds]
    #[arg(long, requires = "pdf")]
    paper: Option<Paper>,
    /// Write the card as a page to print from a browser, which needs nothing else
    #[arg(long, value_name = "FILE")]
    html: Option<PathBuf>,
}

pub(crate) fn run(args: &CardArgs, everywhere: &Everywhere) -> Result<Said, Failure> {
    let name = lifter_name(&args.lifter)?;
    let desk = Desk::new(everywhere.open()?).keeping_fits(now);
    let card = desk.card(&name, args.date.unwrap_or_else(|| everywhere.today()))?;
    if args.html.is_none() && args.pdf.is_none() {
        return Said::done(words(&card), &card);
    }
    let write = |path: &PathBuf, bytes: &[u8]| {
        private::write(path, bytes).map_err(|error| Failure::cannot_write(path, &error))
    };
    if let Some(path) = &args.html {
        write(path, card_file(&card).as_bytes())?;
    }
    if let Some(path) = &args.pdf {
        let paper = args.paper.unwrap_or(Paper::usual_for(card.unit));
        let pdf = card_pdf(&card, paper).map_err(|error| Failure::Files(error.to_string()))?;
        write(path, &pdf)?;
    }
    let paths = args.pdf.iter().chain(&args.html);
    let places: Vec<String> = paths.map(|path| format!("`{}`", path.display())).collect();
    let text = format!("The card is in {}.\n", places.join(" and "));
    Said::done(text, &json!({ "html": args.html, "pdf": args.pdf }))
}

fn words(card: &CardView) -> String {
    let mut paper = Terminal::default();
    paper.line(&format!("Card of {}, {}", card.lifter, date_with_weekday(card.date)));
    paper.paragraph(&card.basis);
    if !card.notes.is_empty() {
        paper.gap();
    }
    for note in &card.notes {
        paper.item("! ", note);
    }
    for lift in &card.stopped {
        paper
            .gap()
            .item("stop  ", &format!("{} ({}). {}", lift.name, lift.prime_movers, lift.stop.words));
    }
    for (idx, lift) in card.lifts.iter().enumerate() {
        paper.gap();
        lift_words(&mut paper, idx + 1, lift);
    }
    paper.gap().paragraph(&card.cautions);
    paper.finish()
}

fn lift_words(paper: &mut Terminal, place: usize, lift: &CardLift) {
    let meaning = lift.load_meaning.map_or(String::new(), |words| format!("; loads {words}"));
    paper.item(&format!("{place}  "), &format!("{} ({}{meaning})", lift.name, lift.prime_movers));
    if lift.spotter {
        paper.item("   ", "with a spotter, or safety bars set first");
    }
    let told = lift.lead_rir.map_or(String::new(), |rir| format!(", {}", reserve(rir)));
    let mut rows: Vec<Vec<String>> = Vec::new();
    let mut add = |what: &str, sets: &[CardSet], told: &str| {
        for (idx, one) in sets.iter().enumerate() {
            let what = if idx == 0 { what } else { "" };
            let plates = one.plates.as_deref().map_or(String::new(), plates);
            let set = format!("{}{told}", card_set(one));
            rows.push(vec![what.to_owned(), set, plates]);
        }
    };
    add("warm-up", &lift.warm_ups, "");
    add("lead set", std::slice::from_ref(&lift.lead), &told);
    add("then", &lift.remaining, "");
    paper.table(3, &[Column::Left, Column::Left, Column::Left], &rows);
    paper.item("   ", &lift.why);
    let chance = lift.chance.map(|p| format!("Chance of making it {}.", percent(p)));
    let expected = lift.expected.as_ref().map(|words| format!("Repetitions: {words}."));
    let both: Vec<_> = chance.into_iter().chain(expected).collect();
    if !both.is_empty() {
        paper.item("   ", &both.join(" "));
    }
    if lift.outcomes.is_empty() {
        paper.item("   ", &lift.gauge_reason);
    }
    let wide = lift.outcomes.iter().map(|row| row.reps.chars().count()).max().unwrap_or(0);
    for row in &lift.outcomes {
        let first = format!("   {:<wide$}  {:<6}", row.reps, row.call.as_str());
        paper.item(&format!("{first} "), &row.then);
    }
}
