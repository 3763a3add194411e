//! Virtual lifters: the same everywhere, plausible as logs, different from world to world, and true.
//!
//! The published figures held against them are named at each check; the rest checks our own choices.

#![expect(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

use std::collections::{BTreeMap, BTreeSet};

use domain::{Catalogue, Unit};
use engine::strength::Equation;
use engine::virtual_lifters::{
    Cohort, Event, RepCurve, RirHabit, Simulation, Truth, USUAL_EXPOSURES, World, draw, live,
};
use jiff::civil::{Date, date};

const END: Date = date(2031, 5, 4);

fn some(world: &World) -> Cohort {
    draw(world, 5, 30, 40, END).unwrap()
}

fn truths(cohort: &Cohort) -> impl Iterator<Item = &Truth> {
    cohort.lifters.iter().flat_map(|one| &one.truths)
}

fn share<'a>(truths: impl Iterator<Item = &'a Truth>, what: impl Fn(f64) -> bool) -> f64 {
    let known: Vec<f64> = truths.filter_map(|truth| truth.shortfall_pct).collect();
    known.iter().filter(|pct| what(**pct)).count() as f64 / known.len() as f64
}

/// FNV-1a, 64 bits: offset basis and prime as published by Fowler, Noll and Vo (from memory).
fn checksum(cohort: &Cohort) -> u64 {
    let mut hash = 0xcbf2_9ce4_8422_2325_u64;
    for one in &cohort.lifters {
        let text = format!("{:?}{:?}", one.sets, one.check_ins);
        hash =
            text.bytes().fold(hash, |h, byte| (h ^ u64::from(byte)).wrapping_mul(0x100_0000_01b3));
    }
    hash
}

#[test]
fn the_same_world_seed_and_day_give_the_same_log() {
    for world in World::all() {
        let (one, two) =
            (draw(&world, 3, 4, 20, END).unwrap(), draw(&world, 3, 4, 20, END).unwrap());
        assert_eq!(checksum(&one), checksum(&two));
        assert_eq!(one.lifters[3].truths, two.lifters[3].truths);
        assert_ne!(checksum(&one), checksum(&draw(&world, 4, 4, 20, END).unwrap()));
        let more = draw(&world, 3, 6, 20, END).unwrap();
        assert_eq!(one.lifters[2].sets, more.lifters[2].sets, "whatever the number drawn");
    }
    assert_eq!(World::named("heavy"), Some(World::heavy()));
    assert_eq!(World::named("nowhere"), None);
    assert_eq!(World::all().map(|world| world.name), World::NAMES);
}

#[test]
fn nobody_and_no_time_make_no_log() {
    let world = World::brisk();
    assert!(draw(&world, 3, 0, 20, END).unwrap().lifters.is_empty());
    assert!(draw(&world, 3, 2, 0, END).unwrap().lifters.iter().all(|one| one.sets.is_empty()));
    assert!(draw(&world, 3, 2, 3, END).unwrap().lifters.iter().all(|one| !one.sets.is_empty()));
    let error = draw(&world, 3, 2, 20, date(1950, 2, 1)).unwrap_err();
    assert!(error.to_string().contains("1950"), "{error}");
}

#[test]
fn a_lift_that_nobody_knows_is_named() {
    let (world, catalogue) = (World::brisk(), Catalogue::built_in());
    let mut person = draw(&world, 3, 1, 4, END).unwrap().lifters[0].hidden.person.clone();
    person.week[0].lifts[0].lift = "wagon pull".to_owned();
    let error = live(&world, &person, &catalogue, END, 3, 0).unwrap_err();
    assert!(error.to_string().contains("`wagon pull`"), "{error}");
}

#[test]
fn a_life_can_be_lived_day_by_day() {
    let world = World::moody();
    let whole = draw(&world, 3, 1, 10, END).unwrap().lifters.remove(0);
    let catalogue = Catalogue::built_in();
    let mut life = Simulation::new(&world, &whole.hidden.person, &catalogue, END, 3, 0).unwrap();
    let mut days = 0;
    while life.live_a_day().unwrap() {
        assert_eq!(life.sets(), &whole.sets[..life.sets().len()], "what is logged stays");
        days += 1;
    }
    assert_eq!(days, 70);
    assert!(!life.live_a_day().unwrap(), "the record has ended");
    assert_eq!(life.finish().truths, whole.truths);
}

#[test]
fn every_set_could_have_been_logged() {
    let catalogue = Catalogue::built_in();
    for world in World::all() {
        for one in some(&world).lifters {
            let mut ids = BTreeSet::new();
            for set in &one.sets {
                let lift = catalogue.find(&set.lift).unwrap();
                assert_eq!(lift.accepts_load(set.load), Ok(()));
                assert!(ids.insert(set.id()), "twice: {set:?}");
                assert!(set.when.date() <= END);
                assert!(set.reps.get() <= 15);
                assert_eq!(set.load.unit(), one.lifter.unit);
            }
            assert!(one.sets.is_sorted_by_key(|set| set.when.date()));
        }
    }
}

#[test]
fn the_truth_knows_every_lead_set_and_adds_up() {
    for world in World::all() {
        for one in some(&world).lifters {
            let mut leads = Vec::new();
            let mut seen = BTreeSet::new();
            for set in one.sets.iter().filter(|set| set.kind.can_lead()) {
                if seen.insert((set.when, set.lift.key())) {
                    leads.push(set.id());
                }
            }
            let known: Vec<_> = one.truths.iter().map(|truth| truth.set).collect();
            assert_eq!(known, leads);
            let mut capacities: BTreeMap<String, Vec<f64>> = BTreeMap::new();
            for truth in &one.truths {
                let before = capacities.entry(truth.lift.key()).or_default();
                if before.len() == truth.exposures_before && before.len() >= 3 {
                    let last = &before[before.len().saturating_sub(USUAL_EXPOSURES)..];
                    let usual = last.iter().sum::<f64>() / last.len() as f64;
                    let short = 100.0 * (usual - truth.log_capacity);
                    assert!((short - truth.shortfall_pct.unwrap()).abs() < 2e-6);
                }
                before.push(truth.log_capacity);
                let acute = truth.in_muscles_pct + truth.in_whole_body_pct;
                assert!((acute - truth.acute_pct).abs() < 3e-6, "nobody here guards a joint");
                assert!((truth.log_capacity.exp() - truth.moved_max_kg).abs() < 1e-3);
            }
        }
    }
}

#[test]
fn shortfalls_are_the_exception_and_have_the_causes_of_their_world() {
    let mut in_muscles = BTreeMap::new();
    for world in World::all() {
        let cohort = some(&world);
        let short = share(truths(&cohort), |pct| pct > 2.0);
        // The design's own simulation had 7 % of lead sets more than 2 % short.
        assert!((0.03..0.2).contains(&short), "{}: {short}", world.name);
        let spread = truths(&cohort).map(|t| t.in_muscles_pct).sum::<f64>();
        in_muscles.insert(world.name, spread / truths(&cohort).count() as f64);
    }
    assert!(in_muscles["heavy"] > 1.5 * in_muscles["brisk"], "{in_muscles:?}");
    assert!(in_muscles["rested"] < 0.6 * in_muscles["brisk"], "{in_muscles:?}");
}

#[test]
fn strength_moves_as_it_does_in_trained_lifters() {
    for world in World::all() {
        let mut gains: Vec<f64> = Vec::new();
        for one in some(&world).lifters {
            let mut by_lift: BTreeMap<String, Vec<&Truth>> = BTreeMap::new();
            for truth in &one.truths {
                by_lift.entry(truth.lift.key()).or_default().push(truth);
            }
            for truths in by_lift.values().filter(|truths| truths.len() >= 20) {
                let rested = |t: &Truth| t.log_capacity + t.acute_pct / 100.0;
                let weeks = f64::from(truths[truths.len() - 1].record_day) / 7.0;
                gains.push(100.0 * (rested(truths[truths.len() - 1]) - rested(truths[0])) / weeks);
            }
        }
        gains.sort_by(f64::total_cmp);
        let median = gains[gains.len() / 2];
        // Common practice, no source: a trained lifter gains some 0.2 % a week.
        assert!((0.05..0.35).contains(&median), "{}: {median} % a week", world.name);
    }
}

#[test]
fn lifters_of_a_world_differ() {
    let cohort = draw(&World::brisk(), 8, 200, 12, END).unwrap();
    let persons: Vec<_> = cohort.lifters.iter().map(|one| &one.hidden.person).collect();
    let days: BTreeSet<usize> = persons.iter().map(|p| p.week.len()).collect();
    assert_eq!(days, (2..=6).collect());
    let lifts: BTreeSet<usize> = persons.iter().map(|p| p.strengths.len()).collect();
    assert_eq!(lifts, (4..=12).collect());
    let count = |what: &dyn Fn(&engine::virtual_lifters::Person) -> bool| {
        persons.iter().filter(|person| what(person)).count()
    };
    assert!((40..100).contains(&count(&|p| p.habits.rir == RirHabit::Never)));
    assert!((20..70).contains(&count(&|p| p.unit == Unit::Lb)));
    assert!(
        (25..80).contains(&count(&|p| p.events.iter().any(|e| matches!(e, Event::Away { .. }))))
    );
    assert!(count(&|p| p.slowness > 1.15) > 20 && count(&|p| p.slowness < 0.87) > 20);
}

#[test]
fn quiet_people_are_quiet() {
    let rested = draw(&World::rested(), 8, 60, 12, END).unwrap();
    let told = rested.lifters.iter().filter(|one| one.sets.iter().any(|s| s.rir.is_some())).count();
    assert!(told < 20, "{told} of 60");
    let check_ins: usize = rested.lifters.iter().map(|one| one.check_ins.len()).sum();
    assert!(check_ins < 60 * 84 / 10, "{check_ins}");
}

#[test]
fn time_away_costs_strength_and_is_marked() {
    let cohort = draw(&World::brisk(), 8, 80, 40, END).unwrap();
    let mut back = 0;
    for one in &cohort.lifters {
        let away = one.hidden.person.events.iter().any(|e| matches!(e, Event::Away { .. }));
        let marked = one.truths.iter().any(|truth| truth.days_since_layoff.is_some());
        assert!(marked || !away);
        back += one.truths.iter().filter(|t| t.days_since_layoff == Some(0)).count();
    }
    assert!(back > 50, "{back} lead sets on the first day back");
}

/// Wathan 1994 and Brzycki 1993 as [`engine::strength::Equation`] has them (checked there against
/// published tables), each held against its own value at one repetition.
#[test]
fn the_curves_are_the_published_ones() {
    for (curve, equation) in
        [(RepCurve::Wathan, Equation::Wathan), (RepCurve::Brzycki, Equation::Brzycki)]
    {
        let single = equation.one_rm(100.0, 1.0).unwrap();
        for reps in [1.0, 3.0, 5.5, 8.0, 12.0, 15.0] {
            let share = single / equation.one_rm(100.0, reps).unwrap();
            assert!((curve.log_share(reps, 1.0) - share.ln()).abs() < 1e-12, "{curve:?} {reps}");
        }
    }
}

#[test]
fn curves_go_there_and_back() {
    for curve in [RepCurve::Bent, RepCurve::Wathan, RepCurve::Brzycki] {
        for rep_cost in [0.8, 1.0, 1.3] {
            for reps in [1.0, 2.5, 6.0, 11.0, 18.0] {
                let spare = -curve.log_share(reps, rep_cost);
                assert!((curve.reps(spare, rep_cost) - reps).abs() < 1e-9, "{curve:?} {reps}");
            }
            assert_eq!(curve.reps(-0.001, rep_cost), 0.0);
            assert!(curve.reps(9.0, rep_cost).is_finite());
        }
    }
}
