//! `read`: one lead set held against the record.

use clap::Args;
use domain::{LiftName, Load, Reps, Rir, SetKind, Unit, When};
use service::Desk;
use service::session::by_hand::ReadRequest;
use service::view::{CallWord, Interval, ReadingView};

use super::Everywhere;
use super::clock::now;
use super::estimate::unit;
use super::exit::Failure;
use super::lifts::{lifter_name, why_words};
use super::paper::Paper;
use super::said::Said;
use crate::wording::{decimal, estimate_in, estimate_with_bounds, moment, percent, reserve, set};

/// Read a lead set: what was expected, what it says, what follows
///
/// Nothing is recorded.
#[derive(Args, Debug)]
pub(crate) struct ReadArgs {
    /// The lifter's name
    lifter: String,
    /// The lift
    #[arg(long)]
    lift: String,
    /// The load; less than 0 for assistance
    #[arg(long, allow_negative_numbers = true)]
    load: f64,
    /// The unit of the load: kg or lb [default: the lifter's]
    #[arg(long, value_parser = unit)]
    unit: Option<Unit>,
    /// Repetitions done
    #[arg(long)]
    reps: u16,
    /// Repetitions in reserve, 0 to 10 in half steps
    #[arg(long)]
    rir: Option<f64>,
    /// When: 2031-05-04 or 2031-05-04T18:20 [default: today]
    #[arg(long, value_name = "DATE")]
    date: Option<String>,
    /// It was a test of a maximum
    #[arg(long)]
    test: bool,
}

pub(crate) fn run(args: &ReadArgs, everywhere: &Everywhere) -> Result<Said, Failure> {
    let name = lifter_name(&args.lifter)?;
    let store = everywhere.open()?;
    let known = store.lifter(&name)?;
    let unit = args.unit.or(known.map(|lifter| lifter.unit)).unwrap_or_default();
    let wrong = |refused: domain::Refused| Failure::WrongUse(refused.to_string());
    let today = everywhere.today();
    let request = ReadRequest {
        lift: LiftName::new(&args.lift).map_err(wrong)?,
        when: match &args.date {
            None => When::new(today, None),
            Some(text) => When::parse(text),
        }
        .map_err(wrong)?,
        load: Load::new(args.load, unit).map_err(wrong)?,
        reps: Reps::new(args.reps).map_err(wrong)?,
        rir: args.rir.map(Rir::new).transpose().map_err(wrong)?,
        kind: if args.test { SetKind::Test } else { SetKind::Work },
    };
    let told = Desk::new(store).keeping_fits(now).read(&name, &request)?;
    Said::done(words(&told, unit), &told)
}

fn words(told: &ReadingView, unit: Unit) -> String {
    let mut paper = Paper::default();
    let point = &told.point;
    let given = point.rir.map_or(String::new(), |rir| format!(", {}", reserve(rir)));
    let (when, set) = (moment(&point.when), set(point.load, point.reps));
    paper.line(&format!("{}, {when}: {set}{given}", told.lift)).gap();
    paper.item(&format!("{:<12}", point.call.as_str()), &point.reason);
    paper.item(&" ".repeat(12), &told.then).gap();
    if let Some(Interval { low, mid, high }) = point.reps_expected {
        paper.paragraph(&format!(
            "Expected at this load and reserve: {} repetitions, {} to {} eight times in ten.",
            decimal(mid, 1),
            decimal(low, 1),
            decimal(high, 1)
        ));
    }
    if let (Some(seen), Some(Interval { low, mid, high })) =
        (point.one_rm_seen, point.one_rm_expected)
    {
        let [expected, low, high] = estimate_with_bounds(mid, low, high, unit);
        paper.paragraph(&format!(
            "1RM shown {}, expected {expected} ({low} to {high}).",
            estimate_in(seen, unit),
        ));
    }
    // Where the lift isn't read, its probability would be taken for one.
    if let Some(p) = point.p_shortfall.filter(|_| point.call != CallWord::NoReading) {
        paper.paragraph(&format!("Probability of a shortfall: {}.", percent(p)));
    }
    if let Some(why) = &told.why {
        paper.gap();
        why_words(&mut paper, "", why);
    }
    paper.gap().paragraph("Pain, new or strong, stops a lift whatever the numbers say.");
    paper.finish()
}
