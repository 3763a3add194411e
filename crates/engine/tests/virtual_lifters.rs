//! Virtual lifters: the same everywhere, plausible as logs, different from world to world, and true.
//!
//! The published figures held against them are named at each check; the rest checks our own choices.

#![expect(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

use std::collections::{BTreeMap, BTreeSet};

use domain::{Catalogue, Unit};
use engine::strength::Equation;
use engine::virtual_lifters::oracle::{Nights, OracleReading, Told, read};
use engine::virtual_lifters::score::{
    Forecast, Said, area_under_curve, coverage_80, expected_calibration_error, reliability,
};
use engine::virtual_lifters::{
    Cohort, Event, RepCurve, RirHabit, Simulation, Tail, Truth, USUAL_EXPOSURES, VirtualLifter,
    World, draw, live,
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

/// Lead sets from the seventh week on whose usual is known: what the oracle said, and what was so.
fn told(lifters: &[VirtualLifter]) -> (Vec<Said>, Vec<Forecast>) {
    let (mut said, mut forecasts) = (Vec::new(), Vec::new());
    for one in lifters {
        let readings = read(one, 0.02, Told::EVERYTHING);
        assert_eq!(readings.len(), one.truths.len());
        for (reading, truth) in readings.iter().zip(&one.truths) {
            assert_eq!(reading.set, truth.set);
            assert_eq!(reading.p_shortfall.is_some(), truth.shortfall_pct.is_some());
            let (Some(p), Some(pct)) = (reading.p_shortfall, truth.shortfall_pct) else { continue };
            if truth.record_day >= 42 {
                said.push(Said { p, happened: pct > 2.0 });
                let (low, high) = reading.interval_80;
                forecasts.push(Forecast { low, high, seen: truth.log_capacity });
            }
        }
    }
    (said, forecasts)
}

/// Over 16 lifters of each world: the oracle's probabilities come true as often as they say. In each
/// row, lead sets of one lifter hang together; four standard deviations of independent draws leave
/// room for that.
#[test]
fn what_the_oracle_says_comes_true_as_often_as_it_says() {
    for world in World::all() {
        let (said, forecasts) = told(&draw(&world, 41, 16, 26, END).unwrap().lifters);
        assert!(said.len() > 2_000, "{}: {}", world.name, said.len());
        for row in reliability(&said) {
            let sd = (row.said * (1.0 - row.said) / row.n as f64).sqrt();
            assert!((row.said - row.happened).abs() < 4.0 * sd, "{}: {row:?}", world.name);
        }
        let error = expected_calibration_error(&said).unwrap();
        assert!(error < 0.012, "{}: {error}", world.name);
        let area = area_under_curve(&said).unwrap();
        assert!(area > 0.88, "{}: {area}", world.name);
        let coverage = coverage_80(&forecasts).unwrap();
        assert!((0.79..0.85).contains(&coverage), "{}: {coverage}", world.name);
    }
}

/// The intervals hold a little more than 80 % where the day's form has heavy tails, for which the
/// oracle takes a normal distribution of the same variance. Without them they hold 80 %.
#[test]
fn without_heavy_tails_the_oracles_intervals_hold_four_in_five() {
    let world = World { tail: Tail::Student { freedom: 300.0 }, ..World::brisk() };
    let (_, forecasts) = told(&draw(&world, 41, 24, 26, END).unwrap().lifters);
    let coverage = coverage_80(&forecasts).unwrap();
    assert!((0.785..0.815).contains(&coverage), "{coverage}");
}

#[test]
fn the_oracle_looks_at_nothing_that_comes_later() {
    let lifter = draw(&World::heavy(), 7, 1, 16, END).unwrap().lifters.remove(0);
    let mut other = lifter.clone();
    let half = other.sets.len() / 2;
    let date = other.sets[half].when.date();
    for set in other.sets.iter_mut().filter(|set| set.when.date() >= date) {
        set.reps = domain::Reps::new(set.reps.get().saturating_sub(1).max(1)).unwrap();
    }
    let before = |readings: &[OracleReading]| {
        let n = lifter.truths.iter().filter(|truth| truth.when.date() < date).count();
        readings[..n].to_vec()
    };
    let (one, two) = (read(&lifter, 0.02, Told::EVERYTHING), read(&other, 0.02, Told::EVERYTHING));
    assert!(before(&one).len() > 20);
    assert_eq!(before(&one), before(&two));
    assert_ne!(one, two);
}

/// The larger the shortfall that is asked about, the less likely it is.
#[test]
fn a_larger_shortfall_is_less_likely() {
    let lifter = draw(&World::moody(), 7, 1, 16, END).unwrap().lifters.remove(0);
    let (small, large) =
        (read(&lifter, 0.01, Told::EVERYTHING), read(&lifter, 0.03, Told::EVERYTHING));
    for (small, large) in small.iter().zip(&large) {
        assert!(small.p_shortfall.unwrap_or(1.0) >= large.p_shortfall.unwrap_or(1.0));
        assert_eq!((small.mean, small.sd), (large.mean, large.sd));
    }
}

/// Sleep and stress tell much in a world where little else is behind a shortfall.
#[test]
fn nights_are_worth_knowing() {
    let world = World::rested();
    let lifters = draw(&world, 41, 12, 26, END).unwrap().lifters;
    let area = |nights: Nights| {
        let said = |one: &VirtualLifter| {
            read(one, 0.02, Told { nights, ..Told::EVERYTHING })
                .iter()
                .zip(&one.truths)
                .filter_map(|(reading, truth)| {
                    Some(Said { p: reading.p_shortfall?, happened: truth.shortfall_pct? > 2.0 })
                })
                .collect::<Vec<_>>()
        };
        area_under_curve(&lifters.iter().flat_map(said).collect::<Vec<_>>()).unwrap()
    };
    let [told, checked_in, usual] = [Nights::Told, Nights::CheckedIn, Nights::Usual].map(area);
    assert!(told > checked_in && checked_in > usual + 0.004, "{told} {checked_in} {usual}");
}

/// The less an oracle is told, the less it can tell; what parameters alone tell still holds good.
#[test]
fn an_oracle_told_less_tells_less() {
    let lifters = draw(&World::brisk(), 43, 12, 30, END).unwrap().lifters;
    let area = |told: Told| {
        let said = |one: &VirtualLifter| {
            read(one, 0.02, told)
                .iter()
                .zip(&one.truths)
                .filter(|(_, truth)| truth.record_day >= 42)
                .filter_map(|(reading, truth)| {
                    Some(Said { p: reading.p_shortfall?, happened: truth.shortfall_pct? > 2.0 })
                })
                .collect::<Vec<_>>()
        };
        area_under_curve(&lifters.iter().flat_map(said).collect::<Vec<_>>()).unwrap()
    };
    let everything = area(Told::EVERYTHING);
    let without_efforts = area(Told { efforts: false, ..Told::EVERYTHING });
    let parameters = area(Told::PARAMETERS);
    assert!(everything > without_efforts, "{everything} {without_efforts}");
    assert!(
        without_efforts > parameters + 0.01 && parameters > 0.8,
        "{without_efforts} {parameters}"
    );
}

#[test]
fn a_record_without_sessions_leaves_nothing_to_say() {
    let lifter = draw(&World::brisk(), 7, 1, 0, END).unwrap().lifters.remove(0);
    assert!(read(&lifter, 0.02, Told::EVERYTHING).is_empty());
}
