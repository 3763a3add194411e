//! A lift that is swapped in on the gym floor: with a record it is read by the phone as the desk would read it,
//! without one its record starts. The lifter is invented.

use domain::{
    LiftName, Lifter, LifterName, Load, LoggedSet, Note, Reps, Rir, SetKind, SetNumber, Unit, When,
};
use jiff::civil::{Date, date};
use jiff::tz::TimeZone;
use jiff::{Timestamp, ToSpan};
use service::floor::FloorDay;
use service::session::by_hand::ReadRequest;
use service::view::SessionView;
use service::{Desk, Store};
use store::OnDifference;

/// A Monday: squats and leg presses come next.
const MONDAY: Date = date(2031, 5, 5);

fn name() -> LifterName {
    LifterName::new("Wilma Tarn").unwrap()
}

fn set(day: Date, lift: &str, number: u8, kg: f64, reps: u16) -> LoggedSet {
    LoggedSet {
        lifter: name(),
        when: When::new(day, None).unwrap(),
        lift: LiftName::new(lift).unwrap(),
        number: SetNumber::new(number).unwrap(),
        kind: SetKind::Work,
        load: Load::from_kg(kg).unwrap(),
        reps: Reps::new(reps).unwrap(),
        rir: Some(Rir::new(2.0).unwrap()),
        note: Note::default(),
    }
}

/// Twenty weeks: squat and leg press on Mondays and Thursdays, front squat on Saturdays.
fn gym() -> (tempfile::TempDir, Desk) {
    let folder = tempfile::tempdir().unwrap();
    let store = Store::open(&folder.path().join("record.bellwether")).unwrap();
    let mut import = store.begin_import("a log", Timestamp::UNIX_EPOCH).unwrap();
    import.add_lifter_if_missing(&Lifter::usual(name(), Unit::Kg)).unwrap();
    for week in 0..20_i32 {
        let monday = MONDAY.checked_sub((7 * (20 - week)).days()).unwrap();
        let gain = f64::from(week / 4) * 2.5;
        let days = [
            (0, [Some(("back squat", 100.0)), Some(("leg press", 180.0))]),
            (3, [Some(("back squat", 100.0)), Some(("leg press", 180.0))]),
            (5, [Some(("front squat", 80.0)), None]),
        ];
        for (later, lifts) in days {
            let day = monday.checked_add(later.days()).unwrap();
            for (lift, kg) in lifts.into_iter().flatten() {
                for number in 1..=3 {
                    let reps = 6 + u16::try_from((week + later) % 2).unwrap();
                    let set = set(day, lift, number, kg + gain, reps);
                    import.add_set(&set, OnDifference::Keep).unwrap();
                }
            }
        }
    }
    import.commit().unwrap();
    (folder, Desk::new(store))
}

fn floor(desk: &Desk) -> FloorDay {
    desk.floor_day(&name(), MONDAY, &TimeZone::UTC).unwrap()
}

/// Mean and variance of the capacity of a lift on a place.
fn capacity(session: &SessionView, place: usize) -> (f64, f64) {
    (session.mean[3 * place], session.covariance[3 * place][3 * place])
}

#[test]
fn what_is_planned_is_expected_as_without_anything_to_swap_in() {
    let (_folder, desk) = gym();
    let (day, card) = (floor(&desk), desk.card(&name(), MONDAY).unwrap());
    let (with, without) = (day.session.unwrap(), card.session.unwrap());
    assert!(with.lifts.len() > without.lifts.len(), "front squats can be swapped in");
    for lift in &without.lifts {
        let same = with.lifts.iter().find(|other| other.name == lift.name).unwrap();
        let (one, other) = (capacity(&without, lift.place), capacity(&with, same.place));
        assert!((one.0 - other.0).abs() < 1e-9 && (one.1 - other.1).abs() < 1e-9, "{}", lift.name);
        assert_eq!((lift.moved_kg, lift.reserve), (same.moved_kg, same.reserve));
    }
}

#[test]
fn a_lift_with_a_record_is_held_against_it_where_it_comes_in() {
    let (_folder, desk) = gym();
    let day = floor(&desk);
    let session = day.session.as_ref().unwrap();
    let [squat, press] = &day.lifts[..] else { panic!("two lifts are planned") };
    let (first, second) = (squat.places["front squat"], press.places["front squat"]);
    assert_ne!(first, second);
    for place in [first, second] {
        let told = &session.lifts[place];
        assert_eq!((told.name.as_str(), told.place, told.is_read), ("front squat", place, true));
    }
    // As the first lift of the day it is what the desk expects of it on a day without anything else.
    let plan = day.alternatives["front squat"].plan.as_ref().unwrap();
    let asked = ReadRequest {
        when: When::new(MONDAY, None).unwrap(),
        lift: LiftName::new("front squat").unwrap(),
        load: plan.card.lead.load.unwrap(),
        reps: Reps::new(plan.card.lead.reps).unwrap(),
        rir: plan.card.lead_rir.map(|rir| Rir::new(rir).unwrap()),
        kind: SetKind::Work,
    };
    let reading = desk.read(&name(), &asked).unwrap();
    let expected = reading.point.reps_expected.unwrap();
    let words = format!(
        "{:.0} likely, {:.0} to {:.0} eight times in ten",
        expected.mid, expected.low, expected.high
    );
    assert_eq!(plan.card.expected.as_deref(), Some(words.as_str()));
    // After the squats, which train the same muscles, less is to be expected.
    let (fresh, tired) = (capacity(session, first).0, capacity(session, second).0);
    assert!(tired < fresh - 0.001, "{tired} after squats, {fresh} before");
}

#[test]
fn a_lift_without_a_record_says_so_and_has_no_place() {
    let (_folder, desk) = gym();
    let day = floor(&desk);
    let new: Vec<&String> =
        day.lifts[0].instead.iter().filter(|lift| *lift != "front squat").collect();
    assert!(!new.is_empty());
    for lift in new {
        let other = &day.alternatives[lift];
        assert!(other.plan.is_none() && other.last.is_none() && !other.loads.is_empty(), "{lift}");
        assert!(!day.lifts[0].places.contains_key(lift));
    }
}
