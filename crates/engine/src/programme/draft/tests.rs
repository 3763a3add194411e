//! The points of a plan against an independent count, and the search against every week that there is.

use std::collections::BTreeMap;

use domain::programme::{Progression, WEEK};
use domain::{
    Catalogue, DoseRange, Joint, LiftName, Muscle, Note, PlannedLift, Priority, Programme,
    ProgrammeDay, ProgrammeName, RepRange, Rir,
};
use rand::rngs::ChaCha8Rng;
use rand::{RngExt, SeedableRng};

use super::rows::Form;
use super::state::State;
use super::{
    Bound, DayWish, Keep, Model, Plan, Reckoning, Search, Verdict, Verifier, Wishes, bound, settle,
};
use crate::programme::{Ground, RecoveryHours};

const LONG: std::time::Duration = std::time::Duration::from_secs(600);

fn title() -> ProgrammeName {
    ProgrammeName::new("invented").unwrap()
}

/// Random wishes for a few lifts: the rest of the catalogue is refused.
struct Chance<'a> {
    catalogue: &'a Catalogue,
    rng: ChaCha8Rng,
    lifts: Vec<LiftName>,
}

impl<'a> Chance<'a> {
    fn new(catalogue: &'a Catalogue, seed: u64) -> Chance<'a> {
        let lifts =
            catalogue.lifts().iter().filter(|lift| lift.staple).map(|lift| lift.name.clone());
        Chance { catalogue, rng: ChaCha8Rng::seed_from_u64(seed), lifts: lifts.collect() }
    }

    fn below(&mut self, end: usize) -> usize {
        self.rng.random_range(0..end)
    }

    fn happens(&mut self, one_in: usize) -> bool {
        self.below(one_in) == 0
    }

    fn some<T: Clone>(&mut self, all: &[T], n: usize) -> Vec<T> {
        let mut left = all.to_vec();
        (0..n.min(all.len())).map(|_| left.remove(self.rng.random_range(0..left.len()))).collect()
    }

    fn planned(&mut self, lift: LiftName) -> PlannedLift {
        let reps = RepRange::new(5, 8).unwrap();
        let rir = if self.happens(4) { Rir::new(5.0).ok() } else { None };
        let rest = if self.happens(3) { Some(100) } else { None };
        let sets = 1 + self.below(5) as u8;
        let double = Progression::Double { step: None };
        PlannedLift::new(lift, sets, reps, rir, rest, double).unwrap()
    }

    fn wishes(&mut self, n_lifts: usize, n_days: usize) -> Wishes {
        let lifts = self.lifts.clone();
        let taken = self.some(&lifts, n_lifts);
        let mut weekdays = self.some(&WEEK, n_days);
        weekdays.sort_by_key(|day| day.to_monday_zero_offset());
        let mut days: Vec<DayWish> = Vec::new();
        for weekday in weekdays {
            let minutes = [None, Some(25), Some(30), Some(40), Some(60)][self.below(5)];
            let mut pinned = Vec::new();
            for lift in self.some(&taken, 1) {
                if self.happens(5) {
                    pinned.push(self.planned(lift));
                }
            }
            days.push(DayWish { weekday, minutes, pinned });
        }
        let mut wishes = Wishes::for_days(days);
        let all = self.catalogue.lifts().iter().map(|lift| &lift.name);
        wishes.purpose.refuse = all.filter(|lift| !taken.contains(lift)).cloned().collect();
        for muscle in Muscle::ALL {
            let most = 2.0 * self.below(11) as f64;
            wishes.purpose.dose.insert(*muscle, DoseRange::new(0.0, 0.0, most).unwrap());
            if self.happens(4) {
                let priority = [Priority::Low, Priority::Usual, Priority::High][self.below(3)];
                wishes.purpose.drafting.priorities.insert(*muscle, priority);
            }
        }
        for lift in &taken {
            for part in &self.catalogue.find(lift).unwrap().muscles {
                let aim = 1.0 + self.below(8) as f64;
                let least = if self.happens(2) { aim / 2.0 } else { 0.0 };
                let range = DoseRange::new(least, aim, aim + self.below(9) as f64).unwrap();
                wishes.purpose.dose.insert(part.muscle, range);
            }
        }
        if self.happens(3) {
            wishes.purpose.raise = self.some(&taken, 1);
        }
        if self.happens(3) {
            wishes.prefer = self.some(&taken, 1);
        }
        if self.happens(4) {
            wishes.purpose.spare = self.some(Joint::ALL, 1);
        }
        wishes.purpose.drafting.ignore_hours = self.happens(6);
        wishes.purpose.drafting.most_lifts = Some(1 + self.below(4) as u8);
        if self.happens(2) {
            let days = WEEK.iter().take(1 + self.below(4)).map(|day| {
                let n = 1 + self.rng.random_range(0..2);
                let lifts = self.some(&taken, n);
                let planned = lifts.into_iter().map(|lift| self.planned(lift)).collect();
                ProgrammeDay::new(*day, None, planned).unwrap()
            });
            let days: Vec<ProgrammeDay> = days.collect();
            let purpose = wishes.purpose.clone();
            wishes.present = Programme::new(title(), Note::default(), purpose, days).ok();
            wishes.keep = if self.happens(2) { Keep::All } else { Keep::Habits };
        }
        wishes
    }
}

/// The plan added up by who doesn't know the model; none if a day has no lift.
fn reckoned(model: &Model<'_>, plan: &Plan, verifier: &Verifier<'_>) -> Option<Reckoning> {
    Some(verifier.reckon(&model.programme(plan, title(), Note::default()).ok()?))
}

// Goes red if a term of the points, a limit, or its undoing is left out of either count.
#[test]
fn a_plan_comes_to_what_an_independent_count_makes_of_it() {
    let catalogue = Catalogue::built_in();
    let (mut possible, mut not) = (0, 0);
    for seed in 0..150 {
        let mut chance = Chance::new(&catalogue, seed);
        let (n_lifts, n_days) = (2 + chance.below(12), 1 + chance.below(5));
        let wishes = chance.wishes(n_lifts, n_days);
        let slowness = [0.7, 1.0, 1.4][chance.below(3)];
        let hours = RecoveryHours::with_slowness(slowness);
        let gauges = BTreeMap::new();
        let ground = Ground { catalogue: &catalogue, hours: &hours, gauges: &gauges };
        let model = Model::new(&wishes, ground).unwrap();
        let verifier = Verifier::new(&wishes, ground);
        let mut state = State::new(&model, &model.empty_plan());
        let (n_candidates, n_days) = model.size();
        for _ in 0..60 {
            if n_candidates == 0 {
                continue;
            }
            let (candidate, day) = (chance.below(n_candidates), chance.below(n_days));
            let cell = model.cell(candidate, day);
            if !cell.allowed {
                continue;
            }
            let sets = [0, 0, cell.least, cell.most][chance.below(4)];
            state.set(candidate, day, sets);
            let fresh = State::new(&model, &state.plan());
            assert_eq!(
                (fresh.points(), fresh.height()),
                (state.points(), state.height()),
                "{seed}"
            );
            let Some(sum) = reckoned(&model, &state.plan(), &verifier) else { continue };
            assert_eq!(state.points(), sum.points, "{seed}: {wishes:#?}");
            assert_eq!(state.is_possible(), sum.breaches.is_empty(), "{seed}: {:?}", sum.breaches);
            if state.is_possible() { possible += 1 } else { not += 1 }
        }
    }
    assert!(possible > 150 && not > 300, "both kinds were met: {possible}, {not}");
}

/// The best points over all numbers of sets for all candidates and days, and none if nothing is possible.
fn best_of_all(model: &Model<'_>, verifier: &Verifier<'_>) -> Option<i64> {
    let mut plan = model.empty_plan();
    let mut best = None;
    loop {
        if let Some(sum) = reckoned(model, &plan, verifier)
            && sum.breaches.is_empty()
        {
            best = best.max(Some(sum.points));
        }
        // The next plan, as a number whose digits are the sets.
        let Some(at) = (0..plan.sets.len()).find(|at| plan.sets[*at] < model.cells[*at].most)
        else {
            return best;
        };
        plan.sets[..at].fill(0);
        plan.sets[at] = (plan.sets[at] + 1).max(model.cells[at].least);
    }
}

// Goes red if the search misses a step, or if the model forbids what an independent count allows.
#[test]
fn the_search_finds_the_best_of_all_weeks_of_two_hundred_small_wishes() {
    let catalogue = Catalogue::built_in();
    let (mut possible, mut not) = (0, 0);
    for seed in 0..240 {
        let mut chance = Chance::new(&catalogue, 1000 + seed);
        let shapes = [(2, 2), (3, 1), (1, 3), (1, 4), (2, 1), (1, 2), (3, 1), (2, 1)];
        let (n_lifts, n_days) = shapes[chance.below(shapes.len())];
        let wishes = chance.wishes(n_lifts, n_days);
        let hours = RecoveryHours::with_slowness([0.7, 1.0, 1.4][chance.below(3)]);
        let gauges = BTreeMap::new();
        let ground = Ground { catalogue: &catalogue, hours: &hours, gauges: &gauges };
        let model = Model::new(&wishes, ground).unwrap();
        let best = best_of_all(&model, &Verifier::new(&wishes, ground));
        let mut search = Search::new(&model, seed);
        search.go_on(8_000);
        assert_eq!(search.best().map(|(points, _)| points), best, "{seed}");
        if best.is_some() { possible += 1 } else { not += 1 }
    }
    assert!(possible > 100 && not > 10, "both kinds were met: {possible}, {not}");
}

// Goes red if the tight form loses an allowed week, or if either form's best is no bound.
#[test]
fn no_week_is_better_than_the_bound() {
    let catalogue = Catalogue::built_in();
    let (mut known, mut gap) = (0, [0.0, 0.0]);
    for seed in 0..60 {
        let mut chance = Chance::new(&catalogue, 5000 + seed);
        let (n_lifts, n_days) = (1 + chance.below(14), 1 + chance.below(5));
        let wishes = chance.wishes(n_lifts, n_days);
        let hours = RecoveryHours::with_slowness([0.7, 1.0, 1.4][chance.below(3)]);
        let gauges = BTreeMap::new();
        let ground = Ground { catalogue: &catalogue, hours: &hours, gauges: &gauges };
        let model = Model::new(&wishes, ground).unwrap();
        let mut search = Search::new(&model, seed);
        search.go_on(6_000);
        let verdict = settle(&wishes, ground).unwrap();
        let bounds = [Form::Plain, Form::Tight].map(|form| bound(&model, form, LONG));
        let Some((points, _)) = search.best() else {
            assert!(matches!(verdict, Verdict::Contradictory(_)), "{seed}: {verdict:?}");
            continue;
        };
        assert!(matches!(verdict, Verdict::Possible(_)), "{seed}: {verdict:?}");
        for (at, bound) in bounds.into_iter().enumerate() {
            let Bound::AtMost(most) = bound else { panic!("{seed}: {bound:?}") };
            assert!(most >= points, "{seed}: {most} {points}");
            gap[at] += (most - points) as f64;
        }
        known += 1;
    }
    assert!(known > 30, "{known}");
    assert!(gap[1] < gap[0], "the tight form is tighter: {gap:?}");
}

// Goes red if the filter keeps a wish that isn't needed, or if hours, minutes or joints are not settled.
#[test]
fn wishes_that_contradict_each_other_are_named_and_no_others() {
    let catalogue = Catalogue::built_in();
    let hours = RecoveryHours::default();
    let gauges = BTreeMap::new();
    let ground = Ground { catalogue: &catalogue, hours: &hours, gauges: &gauges };
    let check = |change: &dyn Fn(&mut Wishes), needed: &[&str]| {
        let days = [0, 1, 3].map(|day| DayWish::free(WEEK[day], Some(60))).to_vec();
        let mut wishes = Wishes::for_days(days);
        wishes.purpose.refuse.push(LiftName::new("lateral raise").unwrap());
        change(&mut wishes);
        let Verdict::Contradictory(told) = settle(&wishes, ground).unwrap() else {
            panic!("{needed:?}")
        };
        let words: Vec<&str> = told.iter().map(|one| one.words.as_str()).collect();
        assert_eq!(words, needed);
    };
    let lift = |name: &str| LiftName::new(name).unwrap();
    let fixed = |name: &str, sets: u8| {
        let reps = RepRange::new(8, 8).unwrap();
        let double = Progression::Double { step: None };
        PlannedLift::new(lift(name), sets, reps, None, None, double).unwrap()
    };
    check(
        &|wishes| {
            wishes.purpose.raise = vec![lift("deadlift"), lift("bench press")];
            wishes.purpose.spare = vec![Joint::Wrist, Joint::LowerBack];
            wishes.purpose.raise.remove(1);
        },
        &[
            "`deadlift` is to go up, which takes 3 work sets a week or more",
            "the lower back is to be spared",
        ],
    );
    check(
        &|wishes| {
            wishes.days[0].pinned.push(fixed("bench press", 4));
            wishes.days[1].pinned.push(fixed("bench press", 4));
        },
        &[
            "muscles are to be back before they are loaded again (Monday: chest needs 36 hours, and \
             Tuesday follows after 24)",
            "`bench press` is fixed on Monday with 4 sets",
            "`bench press` is fixed on Tuesday with 4 sets",
        ],
    );
    check(
        &|wishes| {
            wishes.days[1].minutes = Some(15);
            wishes.days[1].pinned.push(fixed("leg press", 3));
        },
        &["Tuesday has 15 minutes", "`leg press` is fixed on Tuesday with 3 sets"],
    );
    check(
        &|wishes| {
            wishes.purpose.raise = vec![lift("bench press"), lift("squat")];
            wishes.purpose.equipment = Some(vec![domain::EquipmentClass::Dumbbell]);
            wishes.purpose.refuse.push(lift("back squat"));
        },
        &[
            "nothing is at hand but: dumbbell",
            "`squat` is to go up, which takes 3 work sets a week or more",
        ],
    );
    check(
        &|wishes| {
            wishes.purpose.drafting.most_lifts = Some(1);
            wishes.purpose.raise =
                ["bench press", "squat", "chin-up", "hip thrust"].map(lift).to_vec();
        },
        &[
            "a day has at most 1 lift",
            "`bench press` is to go up, which takes 3 work sets a week or more",
            "`squat` is to go up, which takes 3 work sets a week or more",
            "`chin-up` is to go up, which takes 3 work sets a week or more",
            "`hip thrust` is to go up, which takes 3 work sets a week or more",
        ],
    );
}

/// A deadlift that is to go up stands on one day, or on as many as now, by whatever spelling the present week has.
#[test]
fn a_heavy_hinge_to_go_up_keeps_to_its_days() {
    let catalogue = Catalogue::built_in();
    let deadlift = catalogue.find(&LiftName::new("deadlift").unwrap()).unwrap();
    let spelling = deadlift.also.first().unwrap();
    let (hours, gauges) = (RecoveryHours::default(), BTreeMap::new());
    let ground = Ground { catalogue: &catalogue, hours: &hours, gauges: &gauges };
    let most_days = |days_now: usize| {
        let planned = |_| {
            let (reps, double) = (RepRange::new(5, 5).unwrap(), Progression::Double { step: None });
            PlannedLift::new(spelling.clone(), 3, reps, None, None, double).unwrap()
        };
        let now = WEEK.iter().take(days_now);
        let days = now.map(|day| ProgrammeDay::new(*day, None, vec![planned(())]).unwrap());
        let present = Programme::new(title(), Note::default(), Default::default(), days.collect());
        let wished = WEEK.iter().take(4).map(|day| DayWish::free(*day, None)).collect();
        let mut wishes = Wishes::for_days(wished).keeping(present.ok());
        wishes.purpose.raise = vec![deadlift.name.clone()];
        let model = Model::new(&wishes, ground).unwrap();
        let mut found = model.candidates.iter().filter(|one| one.lift.name == deadlift.name);
        found.next().unwrap().most_days
    };
    assert_eq!([0, 1, 2, 4].map(most_days), [1, 1, 2, 3]);
}
