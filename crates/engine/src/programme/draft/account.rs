//! What a drafted week gives each muscle, from where, and what keeps it from more.

use domain::{Lift, Muscle, PlannedLift, Programme};

use super::model::{Model, Plan};
use super::state::{Limit, State};
use super::worth::{Milli, milli};
use crate::programme::dose::is_hard;

/// One muscle's part of a week.
#[derive(Clone, Debug, PartialEq)]
pub struct MuscleAccount {
    /// The muscle.
    pub muscle: Muscle,
    /// Hard sets in the week.
    pub dose: f64,
    /// The range that was aimed at: least, aim, most.
    pub range: (f64, f64, f64),
    /// Whether it is trained for its own sake, and not only along with others.
    pub asked: bool,
    /// The lifts that it comes from.
    pub sources: Vec<Source>,
    /// What stands in the way of more, in words; none if the aim is reached.
    pub limits: Option<String>,
}

/// A lift on a day that trains a muscle.
#[derive(Clone, Debug, PartialEq)]
pub struct Source {
    /// The day.
    pub day: &'static str,
    /// The lift.
    pub lift: String,
    /// Hard sets for the muscle.
    pub dose: f64,
}

/// The account of every muscle that is trained or aimed at, in the order in which muscles are shown.
#[must_use]
pub fn accounts(model: &Model<'_>, plan: &Plan, programme: &Programme) -> Vec<MuscleAccount> {
    let mut state = State::new(model, plan);
    let muscles = Muscle::ALL.iter().map(|&muscle| {
        let sources = sources(model, programme, muscle);
        let dose: f64 = sources.iter().map(|source| source.dose).sum();
        let range = model.wishes.range(muscle);
        let short = dose < range.aim();
        let asked = model.wishes.priority(muscle).is_some();
        MuscleAccount {
            muscle,
            dose,
            range: (range.least(), range.aim(), range.most()),
            asked,
            sources,
            limits: (short && asked).then(|| limits(&mut state, muscle)),
        }
    });
    muscles.filter(|account| account.dose > 0.0 || account.limits.is_some()).collect()
}

fn sources(model: &Model<'_>, programme: &Programme, muscle: Muscle) -> Vec<Source> {
    let find = |planned: &PlannedLift| -> Option<&Lift> { model.find(planned.lift()) };
    let mut sources = Vec::new();
    for day in programme.days() {
        for planned in day.lifts().iter().filter(|planned| is_hard(planned.rir())) {
            let Some(lift) = find(planned) else { continue };
            let dose = milli(lift.weight_of(muscle)) * Milli::from(planned.sets());
            if dose > 0 {
                sources.push(Source {
                    day: domain::programme::weekday_name(day.weekday()),
                    lift: lift.name.to_string(),
                    dose: dose as f64 / 1000.0,
                });
            }
        }
    }
    sources
}

/// Why no lift or set more trains a muscle: for each day what the easiest one more would break.
fn limits(state: &mut State<'_, '_>, muscle: Muscle) -> String {
    let model = state.model;
    let (n_lifts, n_days) = model.size();
    let points = state.points();
    let mut trains = false;
    let mut costs_more = Vec::new();
    let mut blocked: Vec<(Limit, &'static str)> = Vec::new();
    for day in 0..n_days {
        let mut easiest: Option<(i64, Option<Limit>)> = None;
        for one in 0..n_lifts {
            let cell = model.cell(one, day);
            let now = state.sets(one, day);
            let prime = model.candidates[one].lift.has_prime_mover(muscle);
            trains |= prime && cell.allowed;
            if !prime || !cell.allowed || now == cell.most {
                continue;
            }
            state.set(one, day, if now == 0 { cell.least } else { now + 1 });
            let tried = (state.toll(), state.limits(day).into_iter().next());
            let better = state.is_possible() && state.points() > points;
            state.set(one, day, now);
            if better {
                continue; // the search has not come so far: no limit
            }
            if easiest.as_ref().is_none_or(|(toll, _)| tried.0 < *toll) {
                easiest = Some(tried);
            }
        }
        match easiest {
            Some((0, _)) => costs_more.push(model.wishes.days[day].name()),
            Some((_, Some(limit))) => blocked.push((limit, model.wishes.days[day].name())),
            _ => {}
        }
    }
    if !trains {
        return "no lift at hand trains it that may be taken".to_owned();
    }
    let mut words: Vec<String> = Vec::new();
    for limit in Limit::ALL {
        let of_limit = blocked.iter().filter(|(other, _)| other == limit);
        let days: Vec<&str> = of_limit.map(|(_, day)| *day).collect();
        if !days.is_empty() {
            words.push(format!("{} ({})", limit.words(), days.join(", ")));
        }
    }
    if !costs_more.is_empty() {
        let days = costs_more.join(", ");
        words.push(format!("more would cost more elsewhere than it gives ({days})"));
    }
    if words.is_empty() {
        return "a longer search may find more".to_owned();
    }
    words.join("; ")
}
