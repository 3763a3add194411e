//! A week drafted from wishes, shown with what it gives, what binds, and how good it could be at all.

use std::time::Duration;

use domain::{Catalogue, Programme, Unit};
use engine::programme::draft::{
    Bound, Model, MuscleAccount, Plan, Search, Verdict, Verifier, accounts, bound, rows::Form,
    settle,
};
use serde::Serialize;

use super::report::{CAUTIONS, check_programme, unknown_lifts};
use super::view::CheckView;
use super::{DayWords, Planning, ProgrammeError, days_in_words, read_wishes, write_programme};
use crate::words::sentence;

/// Steps between two looks at the clock.
const STRIDE: u64 = 5_000;
/// How long the bound may take.
const BOUND_LIMIT: Duration = Duration::from_secs(20);

/// What is to be drafted.
#[derive(Clone, Debug)]
pub struct DraftOf<'a> {
    /// The text of the wish file.
    pub text: &'a str,
    /// What the lifter does now, if anything.
    pub present: Option<Programme>,
    /// The lifts known.
    pub catalogue: &'a Catalogue,
    /// What is known of the lifter.
    pub planning: &'a Planning,
    /// Where chance begins: the same number gives the same weeks after as many steps.
    pub seed: u64,
    /// How many weeks to show side by side, at least 1.
    pub weeks: usize,
    /// Kilograms or pounds in words.
    pub unit: Unit,
}

/// How far a draft has come.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DraftProgress {
    /// The week that is looked for, from 1.
    pub week: usize,
    /// Steps gone for it.
    pub steps: u64,
    /// Whether a week was found that keeps to all wishes.
    pub found: bool,
    /// How far the best one is at most from the best that can be, in %, if that is known.
    pub gap_pct: Option<f64>,
}

/// A draft as it is shown.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DraftView {
    /// What the programme is called.
    pub name: String,
    /// The weeks, the best first; none if the wishes can't all be kept.
    pub weeks: Vec<DraftedWeek>,
    /// A smallest set of wishes that can't all be kept.
    pub contradiction: Vec<String>,
    /// Whose hours between sessions were used.
    pub recovery: String,
    /// How many lifts were to choose from.
    pub n_lifts: usize,
    /// What isn't known, and what to mind.
    pub notes: Vec<String>,
    /// Cautions that go with every programme.
    pub cautions: &'static str,
}

/// One drafted week.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DraftedWeek {
    /// The programme as the text of its file.
    pub text: String,
    /// Its days in words.
    pub days: Vec<DayWords>,
    /// What each muscle gets.
    pub muscles: Vec<MuscleLine>,
    /// What a coach would remark on it, and its minutes.
    pub check: CheckView,
    /// How far it is at most from the best that can be, in %; none if no bound is known.
    pub gap_pct: Option<f64>,
    /// How much less it is worth than the first, in %.
    pub behind_pct: f64,
    /// Steps of the search.
    pub steps: u64,
    /// Of the present week's places (a lift on a day) how many stay, and how many there are.
    pub kept: Option<(usize, usize)>,
}

/// One muscle in a drafted week.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MuscleLine {
    /// The muscle.
    pub muscle: &'static str,
    /// Hard sets in the week.
    pub dose: f64,
    /// Least, aim and most.
    pub range: (f64, f64, f64),
    /// Whether it is trained for its own sake, and not only along with others.
    pub asked: bool,
    /// Where they come from.
    pub from: Vec<FromLift>,
    /// What stands in the way of the aim, if it isn't reached.
    pub limits: Option<String>,
}

/// A lift on a day that trains a muscle.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FromLift {
    /// The lift.
    pub lift: String,
    /// The day.
    pub day: &'static str,
    /// Hard sets for the muscle.
    pub dose: f64,
}

/// Drafts weeks for the wishes in a file. `go_on` is asked again and again whether to look further; it is
/// where a clock belongs.
///
/// # Errors
/// The file can't be read, or names lifts that aren't known.
pub fn draft_programme(
    of: &DraftOf<'_>,
    go_on: &mut dyn FnMut(&DraftProgress) -> bool,
) -> Result<DraftView, ProgrammeError> {
    let mut file = read_wishes(of.text)?;
    file.wishes.present.clone_from(&of.present);
    let wishes = &file.wishes;
    let ground = of.planning.ground(of.catalogue);
    let unknown = |names: Vec<_>| unknown_lifts(&names, of.catalogue);
    let mut model = Model::new(wishes, ground).map_err(unknown)?;
    let verdict = settle(wishes, ground).map_err(unknown)?;
    let mut view = DraftView {
        name: file.name.to_string(),
        weeks: Vec::new(),
        contradiction: Vec::new(),
        recovery: of.planning.recovery().to_owned(),
        n_lifts: model.size().0,
        notes: Vec::new(),
        cautions: CAUTIONS,
    };
    if let Verdict::Contradictory(words) = verdict {
        view.contradiction = words;
        return Ok(view);
    }
    let bound = bound(&model, Form::Tight, BOUND_LIMIT);
    let mut first = 0;
    for week in 1..=of.weeks.max(1) {
        let begin = match &verdict {
            Verdict::Possible(plan) if week == 1 => Some(plan),
            _ => None,
        };
        let Some((points, plan, steps)) = looked_for(&model, begin, bound, (of.seed, week), go_on)
        else {
            view.notes.push(if week == 1 {
                "No week was found that keeps to all wishes, and it isn't settled that none does: look \
                 longer, or give up a wish."
                    .to_owned()
            } else {
                format!("No other week was found that differs enough from the first {}.", week - 1)
            });
            break;
        };
        first = if week == 1 { points } else { first };
        let drafted = drafted(of, &file, &model, &plan, &Found { points, first, steps, bound })?;
        view.weeks.push(drafted);
        model = model.apart_from(&plan);
    }
    if wishes.days.iter().any(|day| day.minutes.is_none()) {
        view.notes.push("Where no minutes are told, 75 are taken.".to_owned());
    }
    if bound == Bound::Unknown {
        view.notes.push("How good a week can be at all wasn't found out in time.".to_owned());
    }
    Ok(view)
}

/// What was found, and what it is measured by.
struct Found {
    points: i64,
    first: i64,
    steps: u64,
    bound: Bound,
}

/// The best week that the search finds until it is told to stop, and its steps.
fn looked_for(
    model: &Model<'_>,
    begin: Option<&Plan>,
    bound: Bound,
    (seed, week): (u64, usize),
    go_on: &mut dyn FnMut(&DraftProgress) -> bool,
) -> Option<(i64, Plan, u64)> {
    let mut search = Search::new(model, seed.wrapping_add(week as u64));
    if let Some(plan) = begin {
        search.offer(plan);
    }
    loop {
        let points = search.best().map(|(points, _)| points);
        let progress = DraftProgress {
            week,
            steps: search.steps(),
            found: points.is_some(),
            gap_pct: points.and_then(|points| gap_pct(points, bound)),
        };
        if !go_on(&progress) {
            break;
        }
        search.go_on(STRIDE);
    }
    let steps = search.steps();
    search.best().map(|(points, plan)| (points, plan.clone(), steps))
}

fn drafted(
    of: &DraftOf<'_>,
    file: &super::WishFile,
    model: &Model<'_>,
    plan: &Plan,
    found: &Found,
) -> Result<DraftedWeek, ProgrammeError> {
    let programme = model
        .programme(plan, file.name.clone(), file.note.clone())
        .map_err(|error| ProgrammeError::NotSound(error.to_string()))?;
    let ground = of.planning.ground(of.catalogue);
    let sum = Verifier::new(&file.wishes, ground).reckon(&programme);
    if let Some(breach) = sum.breaches.first() {
        return Err(ProgrammeError::NotSound(breach.words.clone()));
    }
    if sum.points != found.points {
        let words =
            format!("{} points, and an independent count makes {}", found.points, sum.points);
        return Err(ProgrammeError::NotSound(words));
    }
    let text = write_programme(&programme);
    let check = check_programme(&text, 1, of.catalogue, of.planning)?;
    let behind = (found.first - found.points) as f64 / found.first.max(1) as f64;
    Ok(DraftedWeek {
        days: days_in_words(&programme, 0, of.unit),
        muscles: accounts(model, plan, &programme).iter().map(line).collect(),
        check,
        gap_pct: gap_pct(found.points, found.bound),
        behind_pct: (100.0 * behind).max(0.0),
        steps: found.steps,
        kept: of.present.as_ref().map(|present| kept(present, &programme, of.catalogue)),
        text,
    })
}

/// How far points are at most from the best possible, in % of that.
fn gap_pct(points: i64, bound: Bound) -> Option<f64> {
    match bound {
        Bound::AtMost(most) if most > 0 => {
            Some(100.0 * (most - points).max(0) as f64 / most as f64)
        }
        _ => None,
    }
}

fn line(account: &MuscleAccount) -> MuscleLine {
    let from = account.sources.iter().map(|source| FromLift {
        lift: source.lift.clone(),
        day: source.day,
        dose: source.dose,
    });
    MuscleLine {
        muscle: account.muscle.label(),
        dose: account.dose,
        range: account.range,
        asked: account.asked,
        from: from.collect(),
        limits: account.limits.as_deref().map(sentence),
    }
}

/// How many of the present week's places stay, and how many there are.
fn kept(present: &Programme, drafted: &Programme, catalogue: &Catalogue) -> (usize, usize) {
    let places = |programme: &Programme| {
        let mut places = Vec::new();
        for day in programme.days() {
            for planned in day.lifts() {
                let name = catalogue.find(planned.lift()).map_or(planned.lift(), |lift| &lift.name);
                places.push((day.weekday(), name.key()));
            }
        }
        places
    };
    let now = places(present);
    let then = places(drafted);
    (now.iter().filter(|place| then.contains(place)).count(), now.len())
}
