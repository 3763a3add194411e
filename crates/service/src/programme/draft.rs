//! A week drafted from wishes, shown with what it gives, what binds, and how good it could be at all.

use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering};
use std::time::Duration;

use domain::{Catalogue, Programme, Unit};
use engine::programme::draft::{
    Bound, Model, MuscleAccount, Plan, Search, Verdict, Verifier, accounts, bound, rows::Form,
    settle,
};
use serde::Serialize;

use super::report::{CAUTIONS, checked, unknown_lifts};
use super::view::CheckView;
use super::wishes_form::field_of;
use super::{DayWords, Planning, ProgrammeError, WishFile, days_in_words, write_programme};
use crate::words::sentence;

/// Steps between two looks at the clock.
const STRIDE: u64 = 5_000;
/// How long the bound may take.
const BOUND_LIMIT: Duration = Duration::from_secs(20);

/// What is to be drafted.
#[derive(Clone, Debug)]
pub struct DraftOf<'a> {
    /// The wishes, with what the lifter does now.
    pub file: &'a WishFile,
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

/// Looks on while weeks are drafted. It is where a clock belongs.
pub trait DraftWatch {
    /// Asked again and again: whether to look further for this week.
    fn go_on(&mut self, progress: &DraftProgress) -> bool;

    /// Asked between two weeks: whether to leave it at those that there are.
    fn ends(&self) -> bool {
        false
    }

    /// Asked when a better week was found than was last shown: whether to show it now.
    fn wants_to_see(&mut self) -> bool {
        false
    }

    /// Takes the weeks as they stand, after [`DraftWatch::wants_to_see`] and whenever one is done.
    fn see(&mut self, _: &DraftView) {}
}

/// A draft as it is shown.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DraftView {
    /// What the programme is called.
    pub name: String,
    /// The weeks, the best first; none if the wishes can't all be kept.
    pub weeks: Vec<DraftedWeek>,
    /// A smallest set of wishes that can't all be kept.
    pub contradiction: Vec<ContraryWish>,
    /// Whose hours between sessions were used.
    pub recovery: String,
    /// How many lifts were to choose from.
    pub n_lifts: usize,
    /// What isn't known, and what to mind.
    pub notes: Vec<String>,
    /// Cautions that go with every programme.
    pub cautions: &'static str,
}

/// A wish that can't be kept together with others.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ContraryWish {
    /// The wish.
    pub words: String,
    /// The field of the form of wishes where it stands.
    pub field: String,
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

/// Drafts weeks for wishes, the best one first and then others that differ from it.
///
/// # Errors
/// The wishes name lifts that aren't known.
pub fn draft_programme(
    of: &DraftOf<'_>,
    watch: &mut dyn DraftWatch,
) -> Result<DraftView, ProgrammeError> {
    let wishes = &of.file.wishes;
    let ground = of.planning.ground(of.catalogue);
    let unknown = |names: Vec<_>| unknown_lifts(&names, of.catalogue);
    let mut model = Model::new(wishes, ground).map_err(unknown)?;
    let verdict = settle(wishes, ground).map_err(unknown)?;
    let mut view = DraftView {
        name: of.file.name.to_string(),
        weeks: Vec::new(),
        contradiction: Vec::new(),
        recovery: of.planning.recovery().to_owned(),
        n_lifts: model.size().0,
        notes: Vec::new(),
        cautions: CAUTIONS,
    };
    if let Verdict::Contradictory(wishes) = verdict {
        let contrary = wishes.into_iter().map(|told| ContraryWish {
            field: field_of(&told.wish, &of.file.wishes),
            words: told.words,
        });
        view.contradiction = contrary.collect();
        return Ok(view);
    }
    if wishes.days.iter().any(|day| day.minutes.is_none()) {
        view.notes.push("Where no minutes are told, 75 are taken.".to_owned());
    }
    let ceiling = Ceiling::over(&model);
    if ceiling.now() == Bound::Unknown {
        view.notes.push("How good a week can be at all wasn't found out in time.".to_owned());
    }
    let mut first = None;
    for week in 1..=of.weeks.max(1) {
        let begin = match &verdict {
            Verdict::Possible(plan) if week == 1 => Some(plan),
            _ => None,
        };
        let looking = Looking { of, model: &model, ceiling: &ceiling, first, week };
        let Some(found) = looking.looked_for(begin, &view, watch)? else {
            view.notes.push(if week == 1 {
                "No week was found that keeps to all wishes, and it isn't settled that none does: look \
                 longer, or give up a wish."
                    .to_owned()
            } else {
                format!("No other week was found that differs enough from the first {}.", week - 1)
            });
            break;
        };
        view.weeks.push(found.week);
        watch.see(&view);
        if watch.ends() {
            break;
        }
        first = first.or(Some(found.points));
        model = model.apart_from(&found.plan);
    }
    Ok(view)
}

/// What no week can exceed, as far as that is known by now.
#[derive(Clone)]
struct Ceiling(Arc<AtomicI64>);

impl Ceiling {
    const UNKNOWN: i64 = i64::MAX;

    /// The relaxation's bound at once; with the feature `highs` a closer one as soon as it is proven.
    fn over(model: &Model<'_>) -> Ceiling {
        let relaxed = match bound(model, Form::Tight, BOUND_LIMIT) {
            Bound::AtMost(points) => points,
            _ => Ceiling::UNKNOWN,
        };
        let ceiling = Ceiling(Arc::new(AtomicI64::new(relaxed)));
        #[cfg(feature = "highs")]
        ceiling.lower_beside(engine::programme::draft::rows::Rows::of(model, Form::Tight));
        ceiling
    }

    /// Proves a closer bound beside the search. Nobody waits for it: what isn't proven in time isn't shown.
    #[cfg(feature = "highs")]
    fn lower_beside(&self, rows: engine::programme::draft::rows::Rows) {
        let ceiling = self.clone();
        std::thread::spawn(move || {
            for limit in [2, 8, 30] {
                let told = engine::programme::draft::branch(&rows, Duration::from_secs(limit));
                if let Bound::AtMost(points) = told.bound {
                    ceiling.0.fetch_min(points, Ordering::Relaxed);
                }
                if told.is_best || Arc::strong_count(&ceiling.0) == 1 {
                    break;
                }
            }
        });
    }

    fn now(&self) -> Bound {
        match self.0.load(Ordering::Relaxed) {
            Ceiling::UNKNOWN => Bound::Unknown,
            points => Bound::AtMost(points),
        }
    }
}

/// One week that is looked for, and what it is measured by.
struct Looking<'a, 'm> {
    of: &'a DraftOf<'a>,
    model: &'a Model<'m>,
    ceiling: &'a Ceiling,
    /// The points of the first week, once it is there.
    first: Option<i64>,
    week: usize,
}

/// A week that was found.
struct Found {
    points: i64,
    plan: Plan,
    /// How it is shown.
    week: DraftedWeek,
}

impl Looking<'_, '_> {
    /// The best week that the search finds until it is told to stop; none if there is none.
    fn looked_for(
        &self,
        begin: Option<&Plan>,
        before: &DraftView,
        watch: &mut dyn DraftWatch,
    ) -> Result<Option<Found>, ProgrammeError> {
        let mut search = Search::new(self.model, self.of.seed.wrapping_add(self.week as u64));
        if let Some(plan) = begin {
            search.offer(plan);
        }
        let mut shown = None;
        loop {
            let points = search.best().map(|(points, _)| points);
            if let Some((points, plan)) = search.best()
                && shown != Some(points)
                && watch.wants_to_see()
            {
                let mut standing = before.clone();
                standing.weeks.push(self.drafted(points, plan, search.steps())?);
                watch.see(&standing);
                shown = Some(points);
            }
            let progress = DraftProgress {
                week: self.week,
                steps: search.steps(),
                found: points.is_some(),
                gap_pct: points.and_then(|points| gap_pct(points, self.ceiling.now())),
            };
            if !watch.go_on(&progress) {
                break;
            }
            search.go_on(STRIDE);
        }
        let Some((points, plan)) = search.best() else { return Ok(None) };
        let week = self.drafted(points, plan, search.steps())?;
        Ok(Some(Found { points, plan: plan.clone(), week }))
    }

    fn drafted(&self, points: i64, plan: &Plan, steps: u64) -> Result<DraftedWeek, ProgrammeError> {
        let Looking { of, model, ceiling, .. } = *self;
        let file = of.file;
        let programme = model
            .programme(plan, file.name.clone(), file.note.clone())
            .map_err(|error| ProgrammeError::NotSound(error.to_string()))?;
        let ground = of.planning.ground(of.catalogue);
        let sum = Verifier::new(&file.wishes, ground).reckon(&programme);
        if let Some(breach) = sum.breaches.first() {
            return Err(ProgrammeError::NotSound(breach.words.clone()));
        }
        if sum.points != points {
            let words = format!("{points} points, and an independent count makes {}", sum.points);
            return Err(ProgrammeError::NotSound(words));
        }
        let text = write_programme(&programme);
        let check = checked(&text, 1, of.catalogue, (of.planning, false))?;
        let first = self.first.unwrap_or(points);
        let behind = (first - points) as f64 / first.max(1) as f64;
        let present = file.wishes.present.as_ref();
        Ok(DraftedWeek {
            days: days_in_words(&programme, 0, of.unit),
            muscles: accounts(model, plan, &programme).iter().map(line).collect(),
            check,
            gap_pct: gap_pct(points, ceiling.now()),
            behind_pct: (100.0 * behind).max(0.0),
            steps,
            kept: present.map(|present| kept(present, &programme, of.catalogue)),
            text,
        })
    }
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
