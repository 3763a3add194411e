//! `lifts`: every lift of one lifter, and without a name all lifters.

use clap::Args;
use domain::LifterName;
use service::Desk;
use service::view::{
    CallWord, Interval, LiftView, LifterView, MuscleView, MusclesView, SquadView, WhyView,
};

use super::Everywhere;
use super::clock::{now, threads};
use super::exit::Failure;
use super::paper::{Column, Paper};
use super::progress::Progress;
use super::said::Said;
use crate::wording::{
    ago, count, date, decimal, estimate_with_bounds, fixed, fixed_signed, flat_words, moment,
    percent, reserve, set, until_usual,
};

/// Show every lift of a lifter: 1RM, trend, scatter, next target
///
/// Without a name: all lifters, the most urgent first.
#[derive(Args, Debug)]
pub(crate) struct LiftsArgs {
    /// The lifter's name
    lifter: Option<String>,
}

/// Reads a lifter's name.
pub(crate) fn lifter_name(text: &str) -> Result<LifterName, Failure> {
    LifterName::new(text).map_err(|refused| Failure::WrongUse(refused.to_string()))
}

pub(crate) fn run(args: &LiftsArgs, everywhere: &Everywhere) -> Result<Said, Failure> {
    let name = args.lifter.as_deref().map(lifter_name).transpose()?;
    let desk = Desk::new(everywhere.open()?).with_threads(threads()).keeping_fits(now);
    match name {
        None => {
            let mut bar = Progress::new("reading the record");
            let squad = desk.squad_telling(everywhere.today(), &mut |done, whole| {
                bar.at(done as u64, whole as u64, &format!("{done} of {whole} lifters"));
            })?;
            drop(bar);
            Said::done(squad_words(&squad), &squad)
        }
        Some(name) => {
            let lifter = desk.lifter(&name, everywhere.today())?;
            Said::done(lifter_words(&lifter, everywhere), &lifter)
        }
    }
}

fn squad_words(squad: &SquadView) -> String {
    let mut paper = Paper::default();
    if squad.lifters.is_empty() {
        paper.paragraph("Nobody is on record yet: import a log.");
    }
    if let Some(remark) = squad.remark {
        paper.paragraph(remark);
    }
    for lifter in &squad.lifters {
        let last = lifter.last.map_or("no set yet".to_owned(), |day| ago(squad.today, day));
        paper.line(&format!(
            "{}: {} on record, {}, last {last}",
            lifter.name,
            count(lifter.sets, "set", "sets"),
            count(lifter.lifts as u64, "lift", "lifts"),
        ));
        paper.item("  ", &lifter.reason);
        let calls: Vec<_> = lifter
            .last_calls
            .iter()
            .filter(|(_, call)| *call != CallWord::GoOn)
            .map(|(lift, call)| format!("{lift}: {}", call.as_str()))
            .collect();
        if !calls.is_empty() {
            paper.item("  last session: ", &calls.join(", "));
        }
        paper.gap();
    }
    paper.finish()
}

fn lifter_words(lifter: &LifterView, everywhere: &Everywhere) -> String {
    let mut paper = Paper::default();
    paper.line(&format!("{}, {}", lifter.name, date(lifter.today)));
    if let Some(remark) = lifter.remark {
        paper.paragraph(remark);
    }
    paper.paragraph(&lifter.reason);
    for complaint in &lifter.complaints {
        paper.gap().item("! ", &complaint.words);
        paper.item("  ", &super::joints::how_to_answer(&lifter.name, complaint, everywhere));
    }
    if let Some(mass) = lifter.body_mass {
        let (mass, unit) = (decimal(mass, 1), lifter.unit.as_str());
        paper.paragraph(&format!("Body mass {mass} {unit}, as last told."));
    }
    if let Some(muscles) = &lifter.muscles {
        paper.gap();
        muscle_words(&mut paper, muscles);
    }
    for lift in &lifter.lifts {
        paper.gap();
        lift_words(&mut paper, lift);
    }
    if !lifter.fit.is_empty() {
        paper.gap().paragraph(&format!(
            "Behind this is a model of {}'s lifts and muscles. {}",
            lifter.name, lifter.fit
        ));
    }
    if !lifter.check_ins.is_empty() {
        paper.gap().line("Last check-ins");
        for line in &lifter.check_ins {
            paper.item(&format!("  {:<20}", moment(&line.when)), &line.items.join(", "));
        }
    }
    paper.gap().paragraph(
        "Estimates come with the bounds between which they lie eight times in ten. Pain, new or \
         strong, belongs before a licensed professional.",
    );
    paper.finish()
}

fn muscle_words(paper: &mut Paper, muscles: &MusclesView) {
    let short = decimal(muscles.short_from_pct, 1);
    paper.paragraph(&format!(
        "Muscles, as % under usual now with the bounds between which that lies eight times in ten, the \
         probability of being more than {short} % under, and the time until back with a probability \
         of 80 % if nothing is trained:"
    ));
    let row = |muscle: &MuscleView| {
        let now = muscle.days.first()?;
        let Interval { low, mid, high } = now.shortfall_pct;
        let bounds = format!("({} to {})", fixed(low, 1), fixed(high, 1));
        let back = until_usual(muscle.hours_until_usual);
        Some(vec![muscle.muscle.to_owned(), fixed(mid, 1), bounds, percent(now.p_short), back])
    };
    let rows: Vec<Vec<String>> = muscles.muscles.iter().filter_map(row).collect();
    use Column::{Left, Right};
    paper.table(2, &[Left, Right, Left, Right, Left], &rows);
}

/// The odds of why a lift is flat or falling, each line after `margin`.
pub(crate) fn why_words(paper: &mut Paper, margin: &str, why: &WhyView) {
    paper.item(margin, &flat_words(why.change_pct));
    for cause in &why.causes {
        let first = format!("{margin}{:>11}  ", percent(cause.odds));
        paper.item(&first, &format!("{}: {}", cause.cause, cause.evidence));
    }
}

fn lift_words(paper: &mut Paper, lift: &LiftView) {
    let meaning = lift.load_meaning.map_or(String::new(), |words| format!("; loads {words}"));
    paper.paragraph(&format!("{} ({}; {}{meaning})", lift.name, lift.equipment, lift.prime_movers));
    if let Some(one_rm) = lift.one_rm {
        let Interval { low, mid, high } = one_rm;
        let [mid, low, high] = estimate_with_bounds(mid, low, high, lift.unit);
        paper.item("  1RM      ", &format!("{mid} ({low} to {high})"));
    }
    if let Some(trend) = lift.trend_pct_per_week {
        let percent = |value: f64| fixed_signed(value, 2);
        paper.item(
            "  trend    ",
            &format!(
                "{} % a week ({} to {})",
                percent(trend.mid),
                percent(trend.low),
                percent(trend.high)
            ),
        );
    }
    let scatter = lift.scatter_pct;
    paper.item(
        "  scatter  ",
        &format!(
            "{} % ({} to {}); its class starts at {} %",
            fixed(scatter.mid, 1),
            fixed(scatter.low, 1),
            fixed(scatter.high, 1),
            fixed(lift.class_scatter_pct, 1)
        ),
    );
    let verdict = if lift.is_gauge { "yes" } else { "no" };
    paper.item("  gauge    ", &format!("{verdict}. {}", lift.gauge_reason));
    if let Some(point) = lift.points.last() {
        let told = point.rir.map_or(String::new(), |rir| format!(", {}", reserve(rir)));
        let (when, set) = (moment(&point.when), set(point.load, point.reps));
        let said = match lift.stop {
            Some(_) => ".".to_owned(),
            None => format!(": {}. {}", point.call.as_str(), point.reason),
        };
        paper.item("  last     ", &format!("{when}: {set}{told}{said}"));
    }
    if let Some(why) = &lift.why {
        why_words(paper, "  ", why);
    }
    if let Some(stop) = &lift.stop {
        paper.item("  next     ", &format!("{}. {}", CallWord::Stop.as_str(), stop.words));
    }
    if let Some(target) = &lift.target {
        let told = target.rir.map_or(String::new(), |rir| format!(", {}", reserve(rir)));
        let chance = target.chance.map_or(String::new(), |p| format!("; chance {}", percent(p)));
        let sets = count(u64::from(target.sets), "set", "sets");
        let lead = set(target.load, target.reps);
        paper.item("  next     ", &format!("{lead}{told}, {sets}{chance}. {}", target.why));
    }
}
