//! `programme change`: a session moved or left out, light days, days away with other equipment.

use clap::{Args, Subcommand};
use domain::{EquipmentClass, LifterName, Muscle};
use jiff::civil::Date;
use serde_json::json;
use service::programme::{PlanChange, PlanChangeLine};
use service::{Desk, ServiceError};

use super::Everywhere;
use super::clock::now;
use super::exit::Failure;
use super::lifts::lifter_name;
use super::paper::Paper;
use super::said::Said;
use crate::wording::instant;

/// Change the plan for some days: move or leave out a session, light days, days away
///
/// The programme stays as it is. Cards, the gym floor and the calendar follow the change at once. Nothing is
/// overwritten: a change that is taken back stays on record.
#[derive(Args, Debug)]
pub(super) struct ChangeArgs {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, Subcommand)]
enum What {
    /// Do the session planned on a day on another day of the same week
    Move {
        /// The lifter's name
        lifter: String,
        /// The day on which it is planned, as 2031-05-04
        day: Date,
        /// The day on which it is done instead
        to: Date,
        #[command(flatten)]
        why: Why,
    },
    /// Leave out the session planned on a day
    Drop {
        /// The lifter's name
        lifter: String,
        /// The day on which it is planned, as 2031-05-04
        day: Date,
        #[command(flatten)]
        why: Why,
    },
    /// Fewer sets for some days, for everything or for some muscles
    Light {
        /// The lifter's name
        lifter: String,
        #[command(flatten)]
        days: Days,
        /// The share of the sets that is kept, in %
        #[arg(long, value_name = "PCT", default_value_t = PlanChange::USUAL_SETS_PCT,
            value_parser = clap::value_parser!(u8).range(i64::from(PlanChange::SETS_PCT.0)..=i64::from(PlanChange::SETS_PCT.1)))]
        sets: u8,
        /// Only lifts of which this muscle is a prime mover; once for each muscle
        #[arg(long, value_name = "MUSCLE")]
        muscle: Vec<String>,
        #[command(flatten)]
        why: Why,
    },
    /// Other equipment for some days: lifts are swapped for what is there
    Away {
        /// The lifter's name
        lifter: String,
        #[command(flatten)]
        days: Days,
        /// What is there besides the body, such as dumbbell; once for each class
        #[arg(long, value_name = "CLASS")]
        equipment: Vec<String>,
        #[command(flatten)]
        why: Why,
    },
    /// List the changes on record
    List {
        /// The lifter's name
        lifter: String,
    },
    /// Take a change back, by its number in the list
    Undo {
        /// The lifter's name
        lifter: String,
        /// Its number
        number: usize,
        #[command(flatten)]
        why: Why,
    },
}

#[derive(Args, Debug)]
struct Days {
    /// The first day, as 2031-05-04
    #[arg(long, value_name = "DATE")]
    from: Date,
    /// The last day
    #[arg(long, value_name = "DATE")]
    until: Date,
}

#[derive(Args, Debug)]
struct Why {
    /// Why, to be kept beside it
    #[arg(long, value_name = "WORDS", default_value = "", hide_default_value = true)]
    reason: String,
}

pub(super) fn change(args: &ChangeArgs, everywhere: &Everywhere) -> Result<Said, Failure> {
    let refused = |refused: domain::Refused| Failure::WrongUse(refused.to_string());
    let (lifter, change, why) = match &args.what {
        What::List { lifter } => return list(&lifter_name(lifter)?, everywhere),
        What::Undo { lifter, number, why } => {
            return undo(&lifter_name(lifter)?, *number, &why.reason, everywhere);
        }
        What::Move { lifter, day, to, why } => {
            (lifter, PlanChange::Move { day: *day, to: *to }, why)
        }
        What::Drop { lifter, day, why } => (lifter, PlanChange::Drop { day: *day }, why),
        What::Light { lifter, days, sets, muscle, why } => {
            let muscles = muscle.iter().map(|name| Muscle::parse(name));
            let muscles = muscles.collect::<Result<_, _>>().map_err(refused)?;
            let days = (days.from, days.until);
            (lifter, PlanChange::Light { days, sets_pct: *sets, muscles }, why)
        }
        What::Away { lifter, days, equipment, why } => {
            let equipment = equipment.iter().map(|name| EquipmentClass::parse(name));
            let equipment = equipment.collect::<Result<_, _>>().map_err(refused)?;
            (lifter, PlanChange::Away { days: (days.from, days.until), equipment }, why)
        }
    };
    let name = lifter_name(lifter)?;
    let desk = Desk::new(everywhere.open_to_write()?);
    let made = desk.change_plan(&name, &change, &why.reason, (everywhere.today(), now()))?;
    let mut paper = Paper::default();
    paper.paragraph(&format!("{} {}", made.words, "Cards, floor and calendar follow it."));
    Said::done(paper.finish(), &made)
}

fn list(name: &LifterName, everywhere: &Everywhere) -> Result<Said, Failure> {
    let desk = Desk::new(everywhere.open()?);
    let view = desk.plan_changes(name, None, everywhere.today())?;
    let mut paper = Paper::default();
    if view.lines.is_empty() {
        paper.paragraph(&format!("No change of {}'s plan is on record.", view.lifter));
    }
    for (idx, line) in view.lines.iter().enumerate() {
        paper.item(&format!("{:>3}  ", idx + 1), &line_words(line));
    }
    Said::done(paper.finish(), &view.lines)
}

fn line_words(line: &PlanChangeLine) -> String {
    let state = match (line.is_withdrawn, line.is_over) {
        (true, _) => format!(" Taken back {}.", instant(line.recorded)),
        (false, true) => " Over.".to_owned(),
        (false, false) => String::new(),
    };
    let why = if line.reason.is_empty() { String::new() } else { format!(" ({})", line.reason) };
    format!("{}{state}{why}", line.words)
}

fn undo(
    name: &LifterName,
    number: usize,
    reason: &str,
    everywhere: &Everywhere,
) -> Result<Said, Failure> {
    let desk = Desk::new(everywhere.open_to_write()?);
    let view = desk.plan_changes(name, None, everywhere.today())?;
    let line = number.checked_sub(1).and_then(|idx| view.lines.get(idx));
    let Some(line) = line.filter(|line| !line.is_withdrawn) else {
        return Err(ServiceError::PlanChange {
            lifter: view.lifter.clone(),
            reason: format!(
                "there is no change {number} in force: look at `bellwether programme change list`"
            ),
        }
        .into());
    };
    desk.withdraw_plan_change(name, &line.id, reason, now())?;
    let mut paper = Paper::default();
    paper.paragraph(&format!("Taken back: {} It is kept.", line.words));
    Said::done(paper.finish(), &json!({ "lifter": view.lifter, "taken_back": line.id }))
}
