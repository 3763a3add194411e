//! Wishes that can't all be kept: a smallest set of them, in words.
//!
//! Whether any week keeps to all wishes is settled exactly: apart from what must be there (sets of lifts to go
//! up, a lift on every day) every limit is one that more lifts can only break, so that it is enough to try
//! the fewest sets that would do, everywhere. Then one wish after the other is left out, and stays out if the
//! rest still can't be kept (a deletion filter): what remains is in the way by itself, all of it.

use domain::{EquipmentClass, PlannedLift};

use super::model::{Model, Plan};
use super::state::State;
use super::verify::Verifier;
use super::wishes::Wishes;
use super::worth::RAISED_LEAST;
use crate::programme::check::Ground;

/// Places tried before the question is left open.
const TRIES: u64 = 400_000;

/// The most minutes that a day may have.
const LONGEST: u16 = 300;

/// Whether any week keeps to all wishes.
#[derive(Clone, Debug, PartialEq)]
pub enum Verdict {
    /// This one does, with nothing in it but what must be.
    Possible(Plan),
    /// None does: a smallest set of wishes that can't all be kept.
    Contradictory(Vec<InTheWay>),
    /// Not settled within the tries allowed.
    Open,
}

/// A wish that can't be kept together with others.
#[derive(Clone, Debug, PartialEq)]
pub struct InTheWay {
    /// Which one it is.
    pub wish: Wish,
    /// The same in words.
    pub words: String,
}

/// Settles whether any week keeps to all wishes, and if none does, which wishes are in the way.
///
/// # Errors
/// The lifts named that the catalogue doesn't know.
pub fn settle(wishes: &Wishes, ground: Ground<'_>) -> Result<Verdict, Vec<domain::LiftName>> {
    let model = Model::new(wishes, ground)?;
    match possible(&model) {
        Settled::Yes(plan) => return Ok(Verdict::Possible(plan)),
        Settled::Open => return Ok(Verdict::Open),
        Settled::No => {}
    }
    let mut left = wishes.clone();
    let mut in_the_way = Vec::new();
    for wish in all(wishes) {
        let without = without(&left, &wish);
        let still = Model::new(&without, ground).map(|model| possible(&model) == Settled::No);
        if still? {
            left = without;
        } else {
            in_the_way.push(wish);
        }
    }
    let told = in_the_way.into_iter().map(|wish| {
        let words = wish.words(&left, ground);
        InTheWay { wish, words }
    });
    Ok(Verdict::Contradictory(told.collect()))
}

#[derive(Clone, Debug, PartialEq, Eq)]
enum Settled {
    Yes(Plan),
    No,
    Open,
}

fn possible(model: &Model<'_>) -> Settled {
    let mut state = State::new(model, &model.empty_plan());
    let mut tries = TRIES;
    match place(&mut state, &mut tries, 0) {
        true => Settled::Yes(state.plan()),
        false if tries == 0 => Settled::Open,
        false => Settled::No,
    }
}

/// Places what is missing; leaves the state as it was if nothing does. The same lift goes to later and later
/// days, from `first_day` on.
fn place(state: &mut State<'_, '_>, tries: &mut u64, first_day: usize) -> bool {
    if *tries == 0 || state.goes_too_far() {
        return false;
    }
    *tries -= 1;
    let model = state.model;
    let n_days = model.days.len();
    for raised in &model.raised {
        let Some(candidate) = raised.candidate else {
            if raised.pinned_sets < RAISED_LEAST {
                return false;
            }
            continue;
        };
        let placed: i64 = (0..n_days).map(|day| i64::from(state.sets(candidate, day))).sum();
        let missing = RAISED_LEAST - raised.pinned_sets - placed;
        if missing <= 0 {
            continue;
        }
        let from = if placed > 0 { first_day } else { 0 };
        for day in from..n_days {
            let cell = model.cell(candidate, day);
            let enough = (missing as u8).max(cell.least).min(cell.most);
            for sets in (cell.least..=enough).rev().filter(|_| cell.allowed) {
                if try_with(state, tries, (candidate, day, sets), day + 1) {
                    return true;
                }
            }
        }
        return false;
    }
    let Some(day) = (0..n_days).find(|day| state.is_bare(*day)) else { return true };
    for candidate in 0..model.candidates.len() {
        let cell = model.cell(candidate, day);
        if cell.allowed && try_with(state, tries, (candidate, day, cell.least), 0) {
            return true;
        }
    }
    false
}

fn try_with(
    state: &mut State<'_, '_>,
    tries: &mut u64,
    (candidate, day, sets): (usize, usize, u8),
    first_day: usize,
) -> bool {
    state.set(candidate, day, sets);
    if place(state, tries, first_day) {
        return true;
    }
    state.set(candidate, day, 0);
    false
}

/// One wish that may be in the way.
#[derive(Clone, Debug, PartialEq)]
pub enum Wish {
    /// A lift that is fixed on a day, by its place among the wishes' days.
    Fixed {
        /// The day.
        day: usize,
        /// The lift.
        lift: PlannedLift,
    },
    /// A lift that is to go up.
    Raise(domain::LiftName),
    /// A joint to be spared.
    Spare(domain::Joint),
    /// Nothing but these classes of equipment.
    AtHand(Vec<EquipmentClass>),
    /// A lift that is refused.
    Refuse(domain::LiftName),
    /// The minutes of a day, by its place among the wishes' days.
    Minutes {
        /// The day.
        day: usize,
    },
    /// The most lifts in a day.
    MostLifts,
    /// That muscles are back before they are loaded again.
    Hours,
}

/// All wishes, those first that are given up most easily.
fn all(wishes: &Wishes) -> Vec<Wish> {
    let mut all = Vec::new();
    all.extend(wishes.purpose.refuse.iter().cloned().map(Wish::Refuse));
    all.push(Wish::MostLifts);
    all.extend((0..wishes.days.len()).map(|day| Wish::Minutes { day }));
    all.extend(wishes.mind_hours().then_some(Wish::Hours));
    all.extend(wishes.purpose.equipment.clone().map(Wish::AtHand));
    for (day, wish) in wishes.days.iter().enumerate() {
        all.extend(wish.pinned.iter().map(|lift| Wish::Fixed { day, lift: lift.clone() }));
    }
    all.extend(wishes.purpose.raise.iter().cloned().map(Wish::Raise));
    all.extend(wishes.purpose.spare.iter().copied().map(Wish::Spare));
    all
}

fn without(wishes: &Wishes, wish: &Wish) -> Wishes {
    let mut left = wishes.clone();
    match wish {
        Wish::Fixed { day, lift } => {
            let pinned = &mut left.days[*day].pinned;
            if let Some(at) = pinned.iter().position(|other| other == lift) {
                pinned.remove(at);
            }
        }
        Wish::Raise(name) => left.purpose.raise.retain(|other| other != name),
        Wish::Spare(joint) => left.purpose.spare.retain(|other| other != joint),
        Wish::AtHand(_) => left.purpose.equipment = None,
        Wish::Refuse(name) => left.purpose.refuse.retain(|other| other != name),
        Wish::Minutes { day } => left.days[*day].minutes = Some(LONGEST),
        Wish::MostLifts => left.purpose.drafting.most_lifts = Some(u8::MAX),
        Wish::Hours => left.purpose.drafting.ignore_hours = true,
    }
    left
}

impl Wish {
    /// The wish in words; `left` is what is left of all wishes.
    fn words(&self, left: &Wishes, ground: Ground<'_>) -> String {
        match self {
            Wish::Fixed { day, lift } => {
                let sets = if lift.sets() == 1 { "set" } else { "sets" };
                let day = left.days[*day].name();
                format!("`{}` is fixed on {day} with {} {sets}", lift.lift(), lift.sets())
            }
            Wish::Raise(name) => {
                format!("`{name}` is to go up, which takes {RAISED_LEAST} work sets a week or more")
            }
            Wish::Spare(joint) => format!("the {} is to be spared", joint.label()),
            Wish::AtHand(classes) => {
                let names: Vec<&str> = classes.iter().map(|class| class.label()).collect();
                match names[..] {
                    [] => "no equipment is at hand".to_owned(),
                    _ => format!("nothing is at hand but: {}", names.join(", ")),
                }
            }
            Wish::Refuse(name) => format!("`{name}` is refused"),
            Wish::Minutes { day } => {
                let wish = &left.days[*day];
                format!("{} has {} minutes", wish.name(), wish.seconds() / 60)
            }
            Wish::MostLifts => match left.most_lifts() {
                1 => "a day has at most 1 lift".to_owned(),
                most => format!("a day has at most {most} lifts"),
            },
            Wish::Hours => match hours_words(left, ground) {
                Some(words) => {
                    format!("muscles are to be back before they are loaded again ({words})")
                }
                None => "muscles are to be back before they are loaded again".to_owned(),
            },
        }
    }
}

/// Which muscle isn't back in a week that keeps to all other wishes left.
fn hours_words(left: &Wishes, ground: Ground<'_>) -> Option<String> {
    let unminded = without(left, &Wish::Hours);
    let model = Model::new(&unminded, ground).ok()?;
    let Settled::Yes(plan) = possible(&model) else { return None };
    let name = domain::ProgrammeName::new("draft").ok()?;
    let programme = model.programme(&plan, name, domain::Note::default()).ok()?;
    let sum = Verifier::new(left, ground).reckon(&programme);
    sum.breaches.into_iter().map(|breach| breach.words).find(|words| words.contains("hours"))
}
