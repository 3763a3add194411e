//! The invented squad: is it the same everywhere, does it hold what the scenario promises, and
//! could it be a log?
//!
//! The published figures held against it are named at each check; the rest checks the scenario.

#![expect(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

use std::collections::{BTreeMap, BTreeSet};

use domain::{Catalogue, EquipmentClass, Joint, LoggedSet, SetKind, Unit};
use jiff::civil::{Date, date};
use service::demo::{DemoError, SEED, Squad, Truth, open_demo, squad};
use store::Store;

const TODAY: Date = date(2031, 5, 14);

fn the_squad() -> Squad {
    squad(SEED, TODAY).unwrap()
}

fn days_back(day: Date) -> i32 {
    (TODAY - day).get_days()
}

fn catalogue(squad: &Squad) -> Catalogue {
    Catalogue::built_in().with_file(&squad.lift_file).unwrap()
}

fn sets_of<'a>(squad: &'a Squad, name: &str) -> Vec<&'a LoggedSet> {
    squad.sets.iter().filter(|set| set.lifter.as_str() == name).collect()
}

fn line(set: &LoggedSet) -> String {
    format!(
        "{},{},{},{},{},{},{},{},{}\n",
        set.when,
        set.lifter,
        set.lift,
        set.number.get(),
        set.kind.as_str(),
        set.load,
        set.reps,
        set.rir.map_or(String::new(), |rir| rir.to_string()),
        set.note.as_str()
    )
}

/// FNV-1a, 64 bits: offset basis and prime as published by Fowler, Noll and Vo (from memory).
fn fnv(text: &str, start: u64) -> u64 {
    text.bytes().fold(start, |hash, byte| (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3))
}

fn checksum(squad: &Squad) -> u64 {
    let sets = squad.sets.iter().fold(0xcbf2_9ce4_8422_2325, |hash, set| fnv(&line(set), hash));
    squad.check_ins.iter().fold(sets, |hash, check_in| fnv(&format!("{check_in:?}"), hash))
}

fn short(truths: &[&Truth]) -> f64 {
    let known: Vec<f64> = truths.iter().filter_map(|truth| truth.shortfall_pct).collect();
    known.iter().filter(|pct| **pct > 2.0).count() as f64 / known.len() as f64
}

/// True strength gained, in % a week: from the mean of a lift's first five exposures to that of its
/// last five, with what was missing for want of recovery put back.
fn weekly_gain_pct(truths: &[&Truth]) -> f64 {
    let mean = |some: &[&Truth]| {
        let sum: f64 = some.iter().map(|t| t.moved_max_kg.ln() + t.acute_pct / 100.0).sum();
        sum / some.len() as f64
    };
    let weeks = (truths[truths.len() - 3].when.days() - truths[2].when.days()) / 7.0;
    100.0 * (mean(&truths[truths.len() - 5..]) - mean(&truths[..5])) / weeks
}

fn median_gain(squad: &Squad, name: &str) -> f64 {
    let mut by_lift: BTreeMap<&str, Vec<&Truth>> = BTreeMap::new();
    for truth in squad.truths.iter().filter(|truth| truth.lifter.as_str() == name) {
        by_lift.entry(truth.lift.as_str()).or_default().push(truth);
    }
    let mut gains: Vec<f64> =
        by_lift.values().filter(|truths| truths.len() >= 8).map(|t| weekly_gain_pct(t)).collect();
    gains.sort_by(f64::total_cmp);
    gains[gains.len() / 2]
}

#[test]
fn the_same_seed_and_day_give_the_same_log() {
    let (one, two) = (the_squad(), the_squad());
    assert_eq!(one.sets, two.sets);
    assert_eq!(one.check_ins, two.check_ins);
    assert_eq!(one.truths, two.truths);
    assert_ne!(
        checksum(&one),
        checksum(&squad(SEED + 1, TODAY).unwrap()),
        "another seed, another log"
    );
    // Pinned: it changes only if the generator or a crate of random draws does, and then on purpose.
    assert_eq!(format!("{:016x}", checksum(&one)), "17475106e0f6951e");
}

#[test]
fn any_day_can_be_today() {
    let early = squad(SEED, date(2028, 2, 29)).unwrap();
    assert_eq!(early.sets.len(), the_squad().sets.len(), "the scenario hangs on no calendar");
    assert_eq!(early.sets.last().unwrap().when.date(), date(2028, 2, 29));
    assert!(squad(SEED, date(1950, 3, 1)).is_err(), "a log can't begin before dates do");
}

#[test]
fn every_set_could_have_been_logged() {
    let squad = the_squad();
    let catalogue = catalogue(&squad);
    let mut ids = BTreeSet::new();
    let mut previous: Option<&LoggedSet> = None;
    for set in &squad.sets {
        let lift = catalogue.find(&set.lift).unwrap();
        assert_eq!(lift.name, set.lift, "the catalogue's own spelling");
        assert_eq!(lift.accepts_load(set.load), Ok(()));
        assert!(ids.insert(set.id()), "twice: {}", line(set));
        assert!(previous.is_none_or(|before| before.when.date() <= set.when.date()));
        assert!(set.when.date() <= TODAY);
        assert!(set.reps.get() <= 15, "{}", line(set));
        let step = match (set.load.unit(), lift.equipment) {
            (Unit::Kg, _) => lift.increment.kg(),
            (Unit::Lb, EquipmentClass::Dumbbell | EquipmentClass::Bodyweight) => 2.5,
            (Unit::Lb, _) => 5.0,
        };
        let steps = set.load.value() / step;
        assert!((steps - steps.round()).abs() < 0.002, "not loadable: {}", line(set));
        if lift.equipment == EquipmentClass::Barbell {
            assert!(set.load.kg() >= 20.0, "lighter than the bar: {}", line(set));
        }
        previous = Some(set);
    }
    let check_ins: BTreeSet<_> = squad.check_ins.iter().map(|c| c.id()).collect();
    assert_eq!(check_ins.len(), squad.check_ins.len());
}

#[test]
fn set_numbers_count_from_one_in_every_lift_and_session() {
    let squad = the_squad();
    let mut places: BTreeMap<_, Vec<u8>> = BTreeMap::new();
    for set in &squad.sets {
        let key = (set.lifter.key(), set.when, set.lift.key());
        places.entry(key).or_default().push(set.number.get());
    }
    for (key, got) in places {
        let want: Vec<u8> = (1..=got.len() as u8).collect();
        assert_eq!(got, want, "{key:?}");
    }
}

#[test]
fn the_truth_knows_every_lead_set() {
    let squad = the_squad();
    let mut leads = BTreeMap::new();
    for set in squad.sets.iter().filter(|set| set.kind.can_lead()) {
        leads.entry((set.lifter.key(), set.when, set.lift.key())).or_insert(set.id());
    }
    let known: BTreeSet<_> = squad.truths.iter().map(|truth| truth.set).collect();
    assert_eq!(known, leads.into_values().collect());
}

#[test]
fn shortfalls_are_the_exception_and_gather_in_the_hard_weeks() {
    let squad = the_squad();
    let all: Vec<&Truth> = squad.truths.iter().collect();
    // The design's own simulation had 7 % of lead sets more than 2 % short.
    assert!((0.04..0.15).contains(&short(&all)), "{}", short(&all));
    let (hard, other): (Vec<_>, Vec<_>) = all
        .into_iter()
        .filter(|truth| truth.lifter.as_str() == "Maren Tidewell")
        .partition(|truth| (20..=47).contains(&days_back(truth.when.date())));
    assert!(short(&hard) > 0.2 && short(&hard) > 3.0 * short(&other), "{}", short(&hard));
}

#[test]
fn strength_moves_as_it_does_in_such_people() {
    let squad = the_squad();
    // Common practice, no source: a trained lifter gains some 0.2 % a week.
    for name in ["Maren Tidewell", "Tobias Wrenfold", "Greta Thornsay", "Juno Marchwater"] {
        let gain = median_gain(&squad, name);
        assert!((0.1..0.4).contains(&gain), "{name}: {gain} % a week");
    }
    assert!(median_gain(&squad, "Odd Fennimar").abs() < 0.05, "too little training: flat");
    assert!(median_gain(&squad, "Pim Aldersloe") > 0.7, "a beginner gains fast");
    let odd: Vec<_> =
        squad.truths.iter().filter(|truth| truth.lifter.as_str() == "Odd Fennimar").collect();
    assert!(short(&odd) < 0.07, "flat without shortfalls: {}", short(&odd));
}

#[test]
fn five_weeks_away_cost_strength_that_comes_back() {
    let squad = the_squad();
    let days: BTreeSet<i32> =
        sets_of(&squad, "Ines Quarrel").iter().map(|set| days_back(set.when.date())).collect();
    let sorted: Vec<i32> = days.into_iter().collect();
    let gap = sorted.windows(2).map(|two| two[1] - two[0]).max().unwrap();
    assert!((35..=42).contains(&gap), "{gap} days");
    let squats: Vec<&Truth> = squad
        .truths
        .iter()
        .filter(|t| t.lifter.as_str() == "Ines Quarrel" && t.lift.as_str() == "back squat")
        .collect();
    let back = squats.iter().position(|t| days_back(t.when.date()) < 84).unwrap();
    let lost = 1.0 - squats[back].moved_max_kg / squats[back - 1].moved_max_kg;
    // McMaster 2013 (from memory): kept for about three weeks, then falling.
    assert!((0.02..0.10).contains(&lost), "{lost}");
    assert!(squats.last().unwrap().moved_max_kg > squats[back - 1].moved_max_kg * 0.99);
}

#[test]
fn everybody_logs_in_their_own_way() {
    let squad = the_squad();
    assert_eq!(squad.lifters.len(), 8);
    assert_eq!(squad.about.len(), 8);
    let in_pounds = squad.lifters.iter().filter(|lifter| lifter.unit == Unit::Lb).count();
    assert_eq!(in_pounds, 2);
    for lifter in &squad.lifters {
        let sets = sets_of(&squad, lifter.name.as_str());
        assert!(sets.iter().all(|set| set.load.unit() == lifter.unit));
        let first = days_back(sets[0].when.date());
        let beginner = lifter.name.as_str() == "Pim Aldersloe";
        assert!(if beginner { first <= 36 } else { first > 30 * 7 }, "{}", lifter.name);
        assert!(days_back(sets.last().unwrap().when.date()) <= 4, "{}", lifter.name);
    }
    assert!(sets_of(&squad, "Juno Marchwater").iter().all(|s| s.rir.is_none()));
    assert!(sets_of(&squad, "Juno Marchwater").iter().all(|s| s.when.time().is_none()));
    assert!(sets_of(&squad, "Maren Tidewell").iter().all(|s| s.when.time().is_some()));
    let check_ins = |name| squad.check_ins.iter().filter(|c| c.lifter.as_str() == name).count();
    assert_eq!(check_ins("Maren Tidewell"), 36 * 7);
    assert_eq!(check_ins("Juno Marchwater"), 0);
}

#[test]
fn every_kind_of_set_and_load_is_there() {
    let squad = the_squad();
    let catalogue = catalogue(&squad);
    let has = |f: &dyn Fn(&LoggedSet) -> bool| squad.sets.iter().any(f);
    for kind in [SetKind::WarmUp, SetKind::Work, SetKind::Speed, SetKind::Test] {
        assert!(has(&|set| set.kind == kind), "{kind:?}");
    }
    let class = |set: &LoggedSet| catalogue.find(&set.lift).unwrap().equipment;
    assert!(has(&|set| class(set) == EquipmentClass::Bodyweight && set.load.grams() > 0));
    assert!(has(&|set| class(set) == EquipmentClass::Bodyweight && set.load.grams() < 0));
    assert!(has(&|set| catalogue.find(&set.lift).unwrap().per_hand));
    assert!(has(&|set| set.lift.as_str() == "gunwale row"), "the coach's own lift is in use");
    assert!(Catalogue::built_in().find(&domain::LiftName::new("gunwale row").unwrap()).is_none());
    let ransome = sets_of(&squad, "Ransome Beckwhistle");
    let cables = ransome.iter().filter(|set| class(set) == EquipmentClass::Cable).count();
    assert!(2 * cables > ransome.len(), "{cables} of {}", ransome.len());
}

#[test]
fn one_elbow_complains_and_once_above_the_limit() {
    let squad = the_squad();
    let pains: Vec<_> = squad.check_ins.iter().filter(|c| c.pain.is_some()).collect();
    assert!(pains.iter().all(|c| c.lifter.as_str() == "Greta Thornsay"));
    assert!(pains.iter().all(|c| c.pain.unwrap().joint == Joint::Elbow));
    let limit = squad.lifters.iter().find(|l| l.name.as_str() == "Greta Thornsay").unwrap().limits;
    let above = pains.iter().filter(|c| c.pain.unwrap().rating() > limit.pain()).count();
    assert_eq!(above, 1);
    let half = pains.len() / 2;
    let sum = |some: &[&domain::CheckIn]| -> f64 {
        some.iter().map(|c| f64::from(c.pain.unwrap().rating())).sum::<f64>() / some.len() as f64
    };
    assert!(sum(&pains[half..]) > sum(&pains[..half]) + 1.0, "it grows");
}

#[test]
fn an_empty_store_is_filled_once() {
    let folder = tempfile::tempdir().unwrap();
    let store = Store::open(&folder.path().join("demo.bellwether")).unwrap();
    let now = jiff::Timestamp::from_second(1_936_000_000).unwrap();
    let squad = open_demo(&store, SEED, TODAY, now).unwrap();
    assert_eq!(store.lifters().unwrap().len(), 8);
    assert_eq!(store.lift_files().unwrap(), std::slice::from_ref(&squad.lift_file));
    for lifter in &squad.lifters {
        let stored = store.sets_of(&lifter.name).unwrap();
        let made = sets_of(&squad, lifter.name.as_str());
        assert!(stored.iter().eq(made.into_iter()), "{}", lifter.name);
        let check_ins = store.check_ins_of(&lifter.name).unwrap();
        assert!(check_ins.iter().eq(squad.check_ins.iter().filter(|c| c.lifter == lifter.name)));
    }
    assert!(matches!(open_demo(&store, SEED, TODAY, now), Err(DemoError::NotEmpty(8))));
}
