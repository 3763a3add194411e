//! The way back from time away, and what a set counts as a dose: at their exact bounds. Records are invented.

use domain::{
    Catalogue, Lift, LiftName, Lifter, LifterName, Load, LoggedSet, Mass, Note, Reps, Rir, SetKind,
    SetNumber, Unit, When,
};
use engine::loading::Ladder;
use engine::recovery::dose::hard_sets;
use engine::strength::LoadRepCurve;
use engine::target::reentry::cut_pct;
use engine::target::{
    Course, DoneSet, DoubleProgression, Exposure, Forecast, Rule, Target, Today, target,
};

fn squat() -> Lift {
    Catalogue::built_in().find(&LiftName::new("back squat").unwrap()).unwrap().clone()
}

fn kg(kg: f64) -> Load {
    Load::from_kg(kg).unwrap()
}

fn reps(count: u16) -> Reps {
    Reps::new(count).unwrap()
}

fn double(low: u16, high: u16, sets: u8) -> Rule {
    let step = Mass::try_from_kg(2.5).unwrap();
    Rule::DoubleProgression(DoubleProgression::new(low, high, sets, None, step).unwrap())
}

/// The target on a day, with a forecast of the 1RM in kg if there is one.
fn on_day(day: f64, rule: &Rule, record: &[Exposure], one_rm: Option<f64>) -> Target {
    let lift = squat();
    let lifter = Lifter::usual(LifterName::new("Invented Lifter").unwrap(), Unit::Kg);
    let ladder = Ladder::new(&lift, &lifter);
    let forecast = one_rm.map(|kg| Forecast::new(kg.ln(), LoadRepCurve::EPLEY).unwrap());
    let today = Today { lift: &lift, ladder: &ladder, days: day, body_mass_kg: None, forecast };
    target(rule, record, &today).unwrap()
}

/// Sessions of sets with 100 kg on days 0 and 3.
fn before(first: u16, second: u16, sets: usize) -> Vec<Exposure> {
    let session = |day: f64, count: u16| {
        let done = DoneSet { load: kg(100.0), reps: reps(count), rir: None };
        Exposure::new(day, done, vec![done; sets - 1])
    };
    vec![session(0.0, first), session(3.0, second)]
}

/// Seventy days away, 80 kg × 5 on the first day back, 85 kg ten days later if that is before `day`, and a session
/// on that day.
fn on_the_way_back(day: f64, load: f64, count: u16, rir: Option<f64>) -> Vec<Exposure> {
    let mut sessions = before(7, 8, 4);
    let told = |load: f64, count: u16| DoneSet {
        load: kg(load),
        reps: reps(count),
        rir: rir.map(|rir| Rir::new(rir).unwrap()),
    };
    sessions.push(Exposure::new(73.0, told(80.0, 5), vec![told(80.0, 5)]));
    if day > 10.0 {
        sessions.push(Exposure::new(83.0, told(85.0, 5), vec![told(85.0, 5); 2]));
    }
    if day > 0.0 {
        sessions.push(Exposure::new(73.0 + day, told(load, count), vec![told(load, count); 3]));
    }
    sessions
}

// The load of the day is 100 kg less 20 % · (1 − day/35), as a step of 2.5 kg below.
#[test]
fn on_the_way_back_a_missed_set_is_done_again_before_the_load_rises() {
    let rule = double(5, 8, 4);
    let on_day = |day: f64, sessions: &[Exposure]| on_day(73.0 + day, &rule, sessions, None);
    let load = |day: f64, sessions: &[Exposure]| on_day(day, sessions).load.kg();
    // On day 24, 93.7 kg: five made, and four and three not.
    assert_eq!(load(24.0, &on_the_way_back(17.0, 90.0, 5, None)), 92.5);
    assert_eq!(load(24.0, &on_the_way_back(17.0, 90.0, 4, None)), 90.0);
    let missed = on_day(24.0, &on_the_way_back(17.0, 90.0, 3, None));
    assert_eq!((missed.load.kg(), missed.course), (90.0, Course::WayBack));
    assert!(missed.why.ends_with("since the last lead set fell short of what was asked"));
    // On day 7, 84 kg: three in reserve are asked for up to half of the way.
    assert_eq!(load(7.0, &on_the_way_back(3.0, 80.0, 5, Some(3.0))), 82.5);
    assert_eq!(load(7.0, &on_the_way_back(3.0, 80.0, 5, Some(2.5))), 80.0);
    // Half of the way is 17.5 days: from there on the rule's own reserve, here none.
    let reserve = |day: f64| on_day(day, &on_the_way_back(14.0, 87.5, 5, None)).rir.map(Rir::get);
    assert_eq!((reserve(17.25), reserve(17.5)), (Some(3.0), None));
}

#[test]
fn on_the_way_back_no_load_is_beyond_the_forecast() {
    let load = |day: f64, one_rm: f64, sessions: &[Exposure]| {
        let found = on_day(73.0 + day, &double(5, 8, 4), sessions, Some(one_rm));
        assert_eq!(found.course, Course::WayBack);
        found.load.kg()
    };
    // By Epley's curve 100 kg / (1 + 5/30) = 85.7 kg go for five, and 110 kg for five with 94.3 kg.
    let late = on_the_way_back(17.0, 90.0, 5, None);
    assert_eq!((load(24.0, 100.0, &late), load(24.0, 110.0, &late)), (85.0, 92.5));
    // On the first day back three in reserve besides: 100 kg / (1 + 8/30) = 78.9 kg, and 5 % less is 95 kg.
    let first = |one_rm: f64| on_day(23.0, &double(5, 8, 3), &before(8, 8, 3), Some(one_rm));
    assert_eq!((first(100.0).load, first(150.0).load), (kg(77.5), kg(95.0)));
    assert_eq!(first(100.0).course, Course::ReEntry);
    // So they are up to half of the way.
    assert_eq!(load(7.0, 100.0, &on_the_way_back(0.0, 0.0, 0, None)), 77.5);
}

/// Two weeks are no time away, to the day: neither before today nor in the record.
#[test]
fn fourteen_days_are_not_away() {
    let rule = double(5, 8, 3);
    let sessions = before(7, 7, 3);
    assert_eq!(on_day(17.0, &rule, &sessions, None).course, Course::MoreReps);
    assert_eq!(on_day(17.25, &rule, &sessions, None).course, Course::ReEntry);
    let after = |gap: f64| {
        let mut sessions = sessions.clone();
        let done = DoneSet { load: kg(95.0), reps: reps(5), rir: None };
        sessions.push(Exposure::new(3.0 + gap, done, vec![done; 2]));
        on_day(5.0 + gap, &rule, &sessions, None).course
    };
    assert_eq!((after(14.0), after(14.25)), (Course::MoreReps, Course::WayBack));
    for (days, cut) in [(14.0, 0.0), (21.0, 5.0), (28.0, 10.0), (56.0, 15.0), (112.0, 20.0)] {
        assert_eq!(cut_pct(days), cut, "{days}");
        assert!(cut_pct(days + 0.25) > cut, "{days}");
    }
    // Of an odd number of sets the larger half, and of one that one.
    let sets = |sets: u8| on_day(23.0, &double(5, 8, sets), &sessions, None).sets;
    assert_eq!([1, 2, 3, 5].map(sets), [1, 1, 2, 3]);
}

fn dose(kind: SetKind, reserve: Option<f64>) -> f64 {
    hard_sets(&LoggedSet {
        lifter: LifterName::new("Invented Lifter").unwrap(),
        when: When::new(jiff::civil::date(2031, 5, 5), None).unwrap(),
        lift: LiftName::new("back squat").unwrap(),
        number: SetNumber::new(1).unwrap(),
        kind,
        load: Load::from_kg(100.0).unwrap(),
        reps: Reps::new(5).unwrap(),
        rir: reserve.map(|reserve| Rir::new(reserve).unwrap()),
        note: Note::default(),
    })
}

// The table of docs/model.md, "Work", with its edge at exactly 4 in reserve.
#[test]
fn a_set_with_four_in_reserve_is_still_hard() {
    let work = |reserve: f64| dose(SetKind::Work, Some(reserve));
    assert_eq!([0.0, 1.0, 3.0].map(work), [1.1, 1.0, 1.1 - 0.1 * 3.0]);
    assert!((work(4.0) - 0.7).abs() < 1e-12, "{}", work(4.0));
    assert_eq!([4.5, 10.0].map(work), [0.25, 0.25]);
    assert_eq!(dose(SetKind::Work, None), work(1.0), "a reserve that nobody told is 1");
    let others = [SetKind::WarmUp, SetKind::Speed, SetKind::Test];
    assert_eq!(others.map(|kind| dose(kind, None)), [0.0, 0.2, 0.8]);
    assert_eq!(others.map(|kind| dose(kind, Some(8.0))), [0.0, 0.2, 0.8]);
}
