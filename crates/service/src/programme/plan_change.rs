//! A change of plan for some days: a session moved or dropped, light days, days away with other equipment.
//!
//! It stands beside the programme, which stays as it is. What it makes of the sessions is
//! [`Schedule`](super::Schedule)'s.

use domain::{EquipmentClass, Muscle, Refused, When};
use jiff::civil::Date;

use super::FileError;
use super::read::parsed;
use super::table::Node;
use crate::words;

/// What changes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum PlanChange {
    /// The session planned on a day is done on another one of the same week.
    Move {
        /// The day on which it is planned.
        day: Date,
        /// The day on which it is done instead.
        to: Date,
    },
    /// The session planned on a day is left out.
    Drop {
        /// The day.
        day: Date,
    },
    /// Fewer sets for some days.
    Light {
        /// The first and the last day.
        days: (Date, Date),
        /// The share of the sets that is kept, in %.
        sets_pct: u8,
        /// The muscles for which it is; everything if there are none.
        muscles: Vec<Muscle>,
    },
    /// Other equipment for some days.
    Away {
        /// The first and the last day.
        days: (Date, Date),
        /// What is at hand there, besides the body.
        equipment: Vec<EquipmentClass>,
    },
}

impl PlanChange {
    /// The share of sets that is kept on light days if nothing is said, in %: common practice, no source.
    pub const USUAL_SETS_PCT: u8 = 50;
    /// The least and the most that can be kept.
    pub const SETS_PCT: (u8, u8) = (10, 90);
    /// The most days that one change covers.
    pub const MOST_DAYS: i32 = 63;

    /// The first and the last day that it touches.
    #[must_use]
    pub fn days(&self) -> (Date, Date) {
        match self {
            PlanChange::Move { day, to } => (*day.min(to), *day.max(to)),
            PlanChange::Drop { day } => (*day, *day),
            PlanChange::Light { days, .. } | PlanChange::Away { days, .. } => *days,
        }
    }

    /// Checks what can be told without a programme, as [`PlanChange::read`] does.
    pub(super) fn checked(&self) -> Result<(), Refused> {
        match self {
            PlanChange::Move { .. } | PlanChange::Drop { .. } => Ok(()),
            PlanChange::Light { days: (from, until), sets_pct, .. } => {
                checked_days(*from, *until).and_then(|_| checked_pct(*sets_pct)).map(|_| ())
            }
            PlanChange::Away { days: (from, until), .. } => checked_days(*from, *until).map(|_| ()),
        }
    }

    /// Whether it leaves out sets of a muscle.
    #[must_use]
    pub fn lessens(&self, muscle: Muscle) -> bool {
        match self {
            PlanChange::Drop { .. } => true,
            PlanChange::Light { muscles, .. } => muscles.is_empty() || muscles.contains(&muscle),
            PlanChange::Move { .. } | PlanChange::Away { .. } => false,
        }
    }

    /// What changes, in words.
    #[must_use]
    pub fn words(&self, today: Date) -> String {
        let on = |date: Date| words::day(date, today);
        let span = |(from, until): (Date, Date)| match from == until {
            true => format!("on {}", on(from)),
            false => format!("from {} to {}", on(from), on(until)),
        };
        match self {
            PlanChange::Move { day, to } => {
                format!("the session of {} is done on {}", on(*day), on(*to))
            }
            PlanChange::Drop { day } => format!("the session of {} is left out", on(*day)),
            PlanChange::Light { days, sets_pct, muscles } => {
                let muscles: Vec<&str> = muscles.iter().map(|muscle| muscle.label()).collect();
                let of = match muscles.as_slice() {
                    [] => "everything".to_owned(),
                    some => words::list(some),
                };
                format!("light {}: {sets_pct}\u{a0}% of the sets for {of}", span(*days))
            }
            PlanChange::Away { days, equipment } => {
                let classes: Vec<&str> = equipment.iter().map(|class| class.label()).collect();
                let with = match classes.as_slice() {
                    [] => "nothing but the body".to_owned(),
                    some => words::list(some),
                };
                format!("away {} with {with}: lifts swapped for what is there", span(*days))
            }
        }
    }

    /// The text of a change, in TOML, which reads back to the same.
    #[must_use]
    pub fn write(&self) -> String {
        let quoted = |words: Vec<&str>| {
            let quoted: Vec<String> = words.iter().map(|word| format!("\"{word}\"")).collect();
            quoted.join(", ")
        };
        match self {
            PlanChange::Move { day, to } => {
                format!("change = \"move\"\nday = \"{day}\"\nto = \"{to}\"\n")
            }
            PlanChange::Drop { day } => format!("change = \"drop\"\nday = \"{day}\"\n"),
            PlanChange::Light { days: (from, until), sets_pct, muscles } => {
                let muscles = quoted(muscles.iter().map(|muscle| muscle.key()).collect());
                format!(
                    "change = \"light\"\nfrom = \"{from}\"\nuntil = \"{until}\"\nsets_pct = {sets_pct}\n\
                     muscles = [{muscles}]\n"
                )
            }
            PlanChange::Away { days: (from, until), equipment } => {
                let equipment = quoted(equipment.iter().map(|class| class.key()).collect());
                format!(
                    "change = \"away\"\nfrom = \"{from}\"\nuntil = \"{until}\"\nequipment = [{equipment}]\n"
                )
            }
        }
    }

    /// Reads the text of a change.
    ///
    /// # Errors
    /// The text isn't TOML, or something in it is missing, unknown or out of range.
    pub fn read(text: &str) -> Result<PlanChange, FileError> {
        let document = parsed(text)?;
        let file = Node::new(text, document.as_table(), "the change of plan");
        let day = |key: &str| file.read(key, |text| When::parse(text).map(|when| when.date()));
        let days = || -> Result<(Date, Date), FileError> {
            let (from, until) = (day("from")?, day("until")?);
            checked_days(from, until).map_err(|refused| file.fail("until", refused))
        };
        match file.text("change")? {
            Some("move") => {
                file.only(&["change", "day", "to"])?;
                Ok(PlanChange::Move { day: day("day")?, to: day("to")? })
            }
            Some("drop") => {
                file.only(&["change", "day"])?;
                Ok(PlanChange::Drop { day: day("day")? })
            }
            Some("light") => {
                file.only(&["change", "from", "until", "sets_pct", "muscles"])?;
                let pct = file.whole("sets_pct")?.unwrap_or(PlanChange::USUAL_SETS_PCT);
                let sets_pct =
                    checked_pct(pct).map_err(|refused| file.fail("sets_pct", refused))?;
                let muscles = file.list("muscles", Muscle::parse)?;
                Ok(PlanChange::Light { days: days()?, sets_pct, muscles })
            }
            Some("away") => {
                file.only(&["change", "from", "until", "equipment"])?;
                let equipment = file.list("equipment", EquipmentClass::parse)?;
                Ok(PlanChange::Away { days: days()?, equipment })
            }
            _ => Err(file.fail("change", "`change` must be `move`, `drop`, `light` or `away`")),
        }
    }
}

/// Checks the days of a change: in order, and no more of them than a change may cover.
pub(super) fn checked_days(from: Date, until: Date) -> Result<(Date, Date), Refused> {
    let days = until.duration_since(from).as_hours() / 24 + 1;
    let most = i64::from(PlanChange::MOST_DAYS);
    if !(1..=most).contains(&days) {
        return Err(Refused::Text {
            what: "last day",
            got: until.to_string(),
            needed: format!("take one from {from} on, {most} days later at most"),
        });
    }
    Ok((from, until))
}

/// Checks the share of sets that is kept.
pub(super) fn checked_pct(pct: u8) -> Result<u8, Refused> {
    let (least, most) = PlanChange::SETS_PCT;
    if (least..=most).contains(&pct) {
        return Ok(pct);
    }
    Err(Refused::Text {
        what: "share of the sets",
        got: pct.to_string(),
        needed: format!("take one from {least} to {most} %"),
    })
}
