//! A card at its edges: the first sets of a record, the number of sets, and what follows the worst results.
//! Ilse Varnholt and her log are invented.

#![expect(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

use domain::{
    LiftName, Lifter, LifterName, Load, LoggedSet, Note, Reps, Rir, SetKind, SetNumber, Unit, When,
};
use jiff::civil::{Date, date};
use service::session::by_hand::ReadRequest;
use service::view::{CallWord, CardLift};
use service::{Desk, Store, demo};
use store::OnDifference;

const FIRST: Date = date(2031, 1, 6);

fn name() -> LifterName {
    LifterName::new("Ilse Varnholt").unwrap()
}

/// The card of a lifter who has squatted so often, three sets of five a time, three days apart.
fn squat_after(sessions: i32) -> CardLift {
    let folder = tempfile::tempdir().unwrap();
    let store = Store::open(&folder.path().join("record.bellwether")).unwrap();
    let mut import = store.begin_import("a log", "2031-01-01T08:00:00Z".parse().unwrap()).unwrap();
    import.put_lifter(&Lifter::usual(name(), Unit::Kg)).unwrap();
    for session in 0..sessions {
        for number in 1..=3 {
            let set = LoggedSet {
                lifter: name(),
                when: When::new(FIRST + jiff::Span::new().days(3 * session), None).unwrap(),
                lift: LiftName::new("back squat").unwrap(),
                number: SetNumber::new(number).unwrap(),
                kind: SetKind::Work,
                load: Load::new(100.0, Unit::Kg).unwrap(),
                reps: Reps::new(5).unwrap(),
                rir: Some(Rir::new(2.0).unwrap()),
                note: Note::default(),
            };
            import.add_set(&set, OnDifference::Keep).unwrap();
        }
    }
    import.commit().unwrap();
    let card =
        Desk::new(store).card(&name(), FIRST + jiff::Span::new().days(3 * sessions)).unwrap();
    card.lifts[0].clone()
}

#[test]
fn the_lead_set_is_one_of_the_sets_that_are_planned() {
    assert_eq!(squat_after(6).remaining.len(), 2);
}

#[test]
fn a_chance_is_told_from_the_third_lead_set_on() {
    let told = |sessions| {
        let lift = squat_after(sessions);
        (lift.chance.is_some(), lift.why_no_chance)
    };
    let short = Some("The record is too short to give a chance.");
    assert_eq!(told(2), (false, short));
    assert_eq!(told(3), (true, None));
}

/// The load of the sets in a row's words, in the lifter's unit; none where nothing is to be done.
fn load_in(words: &str) -> Option<f64> {
    words.split(" at ").nth(1)?.split([' ', '\u{a0}']).next()?.parse().ok()
}

/// The fewest repetitions of a row.
fn fewest(reps: &str) -> Option<u16> {
    if reps.ends_with("or fewer") {
        return Some(1);
    }
    reps.split(' ').next()?.parse().ok()
}

/// Nobody is told of ordinary scatter where one repetition was done in the place of nine.
#[test]
fn a_collapse_is_no_ordinary_scatter() {
    let folder = tempfile::tempdir().unwrap();
    let store = Store::open(&folder.path().join("squad.bellwether")).unwrap();
    let today = date(2031, 5, 6);
    demo::open_demo(&store, demo::SEED, today, "2031-05-06T08:00:00Z".parse().unwrap()).unwrap();
    let desk = Desk::new(store).with_threads(2);
    let read = |reps| {
        let request = ReadRequest {
            lift: LiftName::new("back squat").unwrap(),
            load: Load::new(85.0, Unit::Kg).unwrap(),
            reps: Reps::new(reps).unwrap(),
            rir: Some(Rir::new(0.0).unwrap()),
            when: When::new(today, None).unwrap(),
            kind: SetKind::Work,
        };
        let who = LifterName::new("Maren Tidewell").unwrap();
        desk.read(&who, &request).unwrap().why.unwrap().causes.into_iter().map(|one| one.cause)
    };
    assert!(read(1).all(|cause| cause != "ordinary scatter"));
    assert!(read(1).any(|cause| cause == "something that isn't on record"));
    assert!(read(9).any(|cause| cause == "ordinary scatter"));
}

/// On every card of the invented squad over three weeks: a worse result is never followed by a heavier load, what is far
/// below is sent to look for another reason whatever the call, and a row of its own says so.
#[test]
fn a_worse_lead_set_is_never_followed_by_a_heavier_load() {
    let folder = tempfile::tempdir().unwrap();
    let store = Store::open(&folder.path().join("squad.bellwether")).unwrap();
    let today = date(2031, 5, 6);
    demo::open_demo(&store, demo::SEED, today, "2031-05-06T08:00:00Z".parse().unwrap()).unwrap();
    let desk = Desk::new(store).with_threads(2);
    let names: Vec<String> =
        desk.squad(today).unwrap().lifters.into_iter().map(|line| line.name).collect();
    let (mut far_eased, mut held) = (0, 0);
    for name in names {
        let name = LifterName::new(&name).unwrap();
        for days in [0, 2, 5, 9, 20] {
            let card = desk.card(&name, today + jiff::Span::new().days(days)).unwrap();
            for lift in &card.lifts {
                let mut before = f64::INFINITY;
                for row in lift.outcomes.iter().filter(|row| fewest(&row.reps).is_some()) {
                    let is_far = row.then.contains("look for another reason");
                    far_eased += usize::from(is_far && row.call == CallWord::Ease);
                    held += usize::from(is_far && row.call == CallWord::GoOn);
                    if let Some(load) = load_in(&row.then) {
                        assert!(
                            load <= before + 1e-9,
                            "{} {}: {:#?}",
                            card.lifter,
                            lift.name,
                            lift.outcomes
                        );
                        before = load;
                    }
                }
            }
        }
    }
    assert!(far_eased > 5 && held > 5, "{far_eased} {held}");
}
