//! A record read at its edges: what belongs to a day, which set leads, and what a set without a told reserve says.
//! Ilse Varnholt and her log are invented.

#![expect(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

use domain::{
    Catalogue, CheckIn, LiftName, LifterName, Limits, Load, LoggedSet, Mass, Note, Reps, Rir,
    SetKind, SetNumber, Unit, When,
};
use engine::recovery::Event;
use engine::strength::Reserve;
use jiff::civil::{Date, date};
use service::measure::estimate_from_set;
use service::record::history::{History, Model};

const FIRST: Date = date(2031, 1, 6);

fn set(when: &str, lift: &str, number: u8, kind: SetKind, reserve: Option<f64>) -> LoggedSet {
    LoggedSet {
        lifter: LifterName::new("Ilse Varnholt").unwrap(),
        when: When::parse(when).unwrap(),
        lift: LiftName::new(lift).unwrap(),
        number: SetNumber::new(number).unwrap(),
        kind,
        load: Load::new(100.0, Unit::Kg).unwrap(),
        reps: Reps::new(5).unwrap(),
        rir: reserve.map(|reserve| Rir::new(reserve).unwrap()),
        note: Note::default(),
    }
}

fn told(when: &str) -> CheckIn {
    CheckIn {
        lifter: LifterName::new("Ilse Varnholt").unwrap(),
        when: When::parse(when).unwrap(),
        sleep_h: None,
        stress: None,
        soreness: None,
        body_mass: None,
        pain: None,
    }
}

fn read(model: Model, sets: Vec<LoggedSet>, check_ins: Vec<CheckIn>) -> History {
    History::read(&Catalogue::built_in(), &Limits::default(), model, sets, check_ins)
}

/// A test is one to failure unless something else was told; a work set leaves what its lift usually leaves.
#[test]
fn a_test_without_a_told_reserve_left_nothing() {
    for model in Model::ALL {
        let reserve = |kind: SetKind, reserve: Option<f64>| {
            let sets = vec![
                set("2031-01-06", "back squat", 1, SetKind::Work, Some(3.0)),
                set("2031-01-09", "back squat", 1, kind, reserve),
            ];
            read(model, sets, Vec::new()).lifts[0].points[1].lead.reserve
        };
        let name = model.as_str();
        assert_eq!(reserve(SetKind::Test, None), Reserve::Reported(0.0), "{name}");
        assert_eq!(reserve(SetKind::Test, Some(2.0)), Reserve::Reported(2.0), "{name}");
        let usual = reserve(SetKind::Work, None);
        assert!(matches!(usual, Reserve::Assumed { .. }) && usual.reps() == 3.0, "{usual:?}");
        // On a lift of which nothing was told, one is left: common practice, no source.
        let first = set("2031-01-06", "back squat", 1, SetKind::Work, None);
        let alone = read(model, vec![first], Vec::new()).lifts[0].points[0].lead.reserve;
        assert_eq!(alone.reps(), 1.0, "{name}");
    }
}

/// Body mass is the newest told on or before a day.
#[test]
fn body_mass_is_the_newest_told_by_a_day() {
    let mass = |when: &str, kg: f64| CheckIn {
        body_mass: Some(Mass::try_from_kg(kg).unwrap()),
        ..told(when)
    };
    let check_ins = vec![
        mass("2031-01-05", 70.0),
        mass("2031-01-07", 72.0),
        told("2031-01-08"),
        mass("2031-01-09", 74.0),
    ];
    let sets = vec![set("2031-01-06", "back squat", 1, SetKind::Work, None)];
    let history = read(Model::Recovery, sets, check_ins);
    let kg = |day: i8| history.body_mass_kg(date(2031, 1, day));
    let expected = [None, Some(70.0), Some(70.0), Some(72.0), Some(72.0), Some(74.0), Some(74.0)];
    assert_eq!([4, 5, 6, 7, 8, 9, 30].map(kg), expected);
}

/// Sleep, stress and soreness reach the model as what they are, by the time of the session's first set at the latest.
#[test]
fn a_check_in_keeps_its_items_apart_and_counts_before_its_session() {
    let of = |change: fn(&mut CheckIn)| {
        let mut told = told("2031-01-06T21:00");
        change(&mut told);
        let sets = vec![set("2031-01-06T18:00", "back squat", 1, SetKind::Work, None)];
        let history = read(Model::Recovery, sets, vec![told]);
        let standing = history.on(FIRST);
        match standing.recovery().unwrap().events()[0] {
            Event::CheckIn { days, items } => (days.fract(), items.map(|item| item.is_some())),
            ref other => panic!("{other:?}"),
        }
    };
    let six = 0.75;
    assert_eq!(of(|told| told.sleep_h = Some(6.0)), (six, [true, false, false]));
    assert_eq!(of(|told| told.stress = Some(6.0)), (six, [false, true, false]));
    assert_eq!(of(|told| told.soreness = Some(6.0)), (six, [false, false, true]));
}

/// Numbers that start again on one day, or that come again, are another session with a lead set of its own.
#[test]
fn the_first_set_after_numbers_start_again_leads() {
    let leads = |sets: &[(&str, u8, SetKind)]| -> Vec<u8> {
        let sets = sets.iter().map(|(time, number, kind)| {
            set(&format!("2031-01-06T{time}"), "back squat", *number, *kind, Some(1.0))
        });
        let history = read(Model::OneLift, sets.collect(), Vec::new());
        history.lifts[0].points.iter().map(|point| point.set.number.get()).collect()
    };
    let work = SetKind::Work;
    assert_eq!(leads(&[("07:00", 1, work), ("07:05", 2, work), ("07:10", 3, work)]), [1]);
    assert_eq!(leads(&[("07:00", 2, work), ("18:00", 2, work)]), [2, 2]);
    assert_eq!(leads(&[("07:00", 2, work), ("18:00", 1, work)]), [2, 1]);
    let warm = SetKind::WarmUp;
    assert_eq!(leads(&[("07:00", 1, warm), ("07:05", 2, work), ("07:10", 3, work)]), [2]);
}

/// Sets of one moment and one number stay in the order in which they came.
#[test]
fn sets_that_nothing_tells_apart_stay_as_they_came() {
    let of = |reserve| set("2031-01-06", "back squat", 1, SetKind::Work, Some(reserve));
    let history = read(Model::OneLift, vec![of(1.0), of(4.0), of(2.0)], Vec::new());
    let told: Vec<f64> = history.lifts[0].sets.iter().map(|set| set.rir.unwrap().get()).collect();
    assert_eq!(told, [1.0, 4.0, 2.0]);
}

/// The model learns from work sets after the lead set, once it knows how they fall off, and from no other kind.
#[test]
fn only_work_sets_add_to_a_lead_set() {
    let learns = |kind: SetKind| {
        let mut sets = Vec::new();
        for day in 6..=11 {
            let when = format!("2031-01-{day:02}");
            sets.push(set(&when, "back squat", 1, SetKind::Work, Some(1.0)));
            let kind = if day == 11 { kind } else { SetKind::Work };
            sets.push(set(&when, "back squat", 2, kind, Some(1.0)));
        }
        let history = read(Model::Recovery, sets, Vec::new());
        let standing = history.on(date(2031, 1, 11));
        let events = standing.recovery().unwrap().events();
        let lead = |event: &&Event| matches!(event, Event::Lead { .. } | Event::WorkSets { .. });
        matches!(events.iter().rev().find(lead), Some(Event::WorkSets { .. }))
    };
    assert!(learns(SetKind::Work));
    assert!(!learns(SetKind::Speed) && !learns(SetKind::WarmUp));
}

/// By Epley's curve a single with nothing left is the 1RM itself, and one with anything left isn't.
#[test]
fn only_a_single_to_failure_is_taken_as_it_is() {
    let load = Load::from_kg(100.0).unwrap();
    let told = |reps: u16, reserve: Option<f64>| {
        let reserve = reserve.map(|reserve| Rir::new(reserve).unwrap());
        estimate_from_set(load, Reps::new(reps).unwrap(), reserve).unwrap()
    };
    assert_eq!(told(1, Some(0.0)).one_rm.high, 100.0);
    for (reps, reserve) in [(1, Some(1.0)), (1, None), (2, Some(0.0))] {
        let one_rm = told(reps, reserve).one_rm;
        assert!(one_rm.high > one_rm.mid, "{reps} {reserve:?}: {one_rm:?}");
    }
    let drifts = |reps| told(reps, Some(0.0)).notes.iter().any(|note| note.contains("drift apart"));
    assert_eq!([10, 11].map(drifts), [false, true], "beyond ten repetitions");
}
