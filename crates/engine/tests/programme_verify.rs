//! The independent check of a drafted week: each wish and limit broken by hand, at its exact bound.
//!
//! Drafts keep to all of them, so drafts alone never show that a breach would be seen.

use std::collections::BTreeMap;

use domain::programme::Progression;
use domain::{
    Catalogue, EquipmentClass, Joint, LiftName, Note, PlannedLift, Programme, ProgrammeDay,
    ProgrammeName, Purpose, RepRange,
};
use engine::programme::draft::{DayWish, Wishes, verify};
use engine::programme::{Ground, RecoveryHours};
use jiff::civil::Weekday::{self, Friday, Monday, Thursday, Tuesday};

fn name(lift: &str) -> LiftName {
    LiftName::new(lift).unwrap()
}

fn planned((lift, sets): &(&str, u8)) -> PlannedLift {
    let (reps, double) = (RepRange::new(8, 8).unwrap(), Progression::Double { step: None });
    PlannedLift::new(name(lift), *sets, reps, None, None, double).unwrap()
}

/// What an independent count says against a week of these days, when its days are wished and `change` besides.
fn breaches(days: &[(Weekday, &[(&str, u8)])], change: impl FnOnce(&mut Wishes)) -> Vec<String> {
    let mut wishes =
        Wishes::for_days(days.iter().map(|(day, _)| DayWish::free(*day, None)).collect());
    change(&mut wishes);
    let day = |(day, lifts): &(Weekday, &[(&str, u8)])| {
        ProgrammeDay::new(*day, None, lifts.iter().map(planned).collect()).unwrap()
    };
    let days = days.iter().map(day).collect();
    let title = ProgrammeName::new("invented").unwrap();
    let week = Programme::new(title, Note::default(), Purpose::default(), days).unwrap();
    let (catalogue, hours, gauges) =
        (Catalogue::built_in(), RecoveryHours::default(), BTreeMap::new());
    let ground = Ground { catalogue: &catalogue, hours: &hours, gauges: &gauges };
    verify(&week, &wishes, &ground).breaches.into_iter().map(|breach| breach.words).collect()
}

fn none(days: &[(Weekday, &[(&str, u8)])], change: impl FnOnce(&mut Wishes)) {
    assert_eq!(breaches(days, change), Vec::<String>::new());
}

const BENCH: &[(Weekday, &[(&str, u8)])] = &[(Monday, &[("bench press", 3)])];

#[test]
fn a_refused_lift_is_seen_by_any_spelling() {
    none(BENCH, |_| {});
    for spelling in ["bench press", "Flat Bench"] {
        let told = breaches(BENCH, |wishes| wishes.purpose.refuse.push(name(spelling)));
        assert_eq!(told, ["Monday: `bench press` is refused"]);
    }
    none(BENCH, |wishes| wishes.purpose.refuse.push(name("dip")));
}

#[test]
fn a_fixed_part_stands_as_it_was_fixed() {
    let fixing = |lift: &str, sets: u8| {
        let pin = planned(&(lift, sets));
        breaches(BENCH, |wishes| wishes.days[0].pinned.push(pin))
    };
    assert!(fixing("bench press", 3).is_empty());
    let missing = ["Monday: not all fixed lifts are there"];
    assert_eq!(fixing("bench press", 4), missing, "with other sets it is another part");
    assert_eq!(fixing("dip", 3), missing);
    // Fixed twice, it has to stand there twice.
    let twice = |days| {
        breaches(days, |wishes| wishes.days[0].pinned = vec![planned(&("bench press", 3)); 2])
    };
    assert_eq!(twice(BENCH), missing);
    assert!(twice(&[(Monday, &[("bench press", 3), ("bench press", 3)])]).is_empty());
    // A joint to be spared and a refusal hold for fixed parts as well.
    let spared = breaches(BENCH, |wishes| {
        wishes.days[0].pinned.push(planned(&("bench press", 3)));
        wishes.purpose.spare.push(Joint::Shoulder);
    });
    assert_eq!(spared, ["Monday: `bench press` loads the shoulder"]);
}

// By hand (see the seconds of a session): 300 + 120 + 90 + 120 + 3 · 30 + 2 · 150 = 1,020 s, which is 17 minutes.
#[test]
fn a_day_may_be_full_and_no_fuller() {
    let minutes = |minutes| breaches(BENCH, |wishes| wishes.days[0].minutes = Some(minutes));
    assert!(minutes(17).is_empty());
    assert_eq!(minutes(16), ["Monday: 1020 seconds, and there are 960"]);
    let two: &[(Weekday, &[(&str, u8)])] = &[(Monday, &[("bench press", 3), ("machine row", 3)])];
    let lifts = |most| breaches(two, |wishes| wishes.purpose.drafting.most_lifts = Some(most));
    assert!(lifts(2).is_empty());
    assert_eq!(lifts(1), ["Monday: 2 lifts"]);
    // Ten hard sets of one muscle are the most for a session.
    none(&[(Monday, &[("bench press", 10)])], |_| {});
    let told = breaches(&[(Monday, &[("bench press", 11)])], |_| {});
    assert_eq!(told, ["Monday: 11000 thousandths for chest"]);
}

#[test]
fn what_is_at_hand_and_joints_to_be_spared_are_minded() {
    let with = |class| breaches(BENCH, |wishes| wishes.purpose.equipment = Some(vec![class]));
    assert!(with(EquipmentClass::Barbell).is_empty());
    assert_eq!(with(EquipmentClass::Dumbbell), ["Monday: nothing to do `bench press` with"]);
    // A leg press loads the lower back by a half, which is plainly; the elbow not at all.
    let spare = |joint| {
        breaches(&[(Monday, &[("leg press", 3)])], |wishes| wishes.purpose.spare.push(joint))
    };
    assert_eq!(spare(Joint::LowerBack), ["Monday: `leg press` loads the lower back"]);
    assert!(spare(Joint::Elbow).is_empty());
}

#[test]
fn a_lift_to_go_up_has_three_sets_a_week() {
    let raise = |days, lift| breaches(days, |wishes| wishes.purpose.raise.push(name(lift)));
    assert!(raise(BENCH, "bench press").is_empty());
    let two = raise(&[(Monday, &[("bench press", 2)])], "bench press");
    assert_eq!(two, ["`bench press` is to go up and has 2 sets"]);
    assert_eq!(raise(BENCH, "dip"), ["`dip` is to go up and has 0 sets"]);
}

#[test]
fn days_are_those_wished_and_no_lift_comes_too_often() {
    let two: &[(Weekday, &[(&str, u8)])] =
        &[(Monday, &[("bench press", 3)]), (Thursday, &[("machine row", 3)])];
    let told = breaches(two, |wishes| wishes.days.truncate(1));
    assert_eq!(told, ["2 days, and 1 are wanted"]);
    let told = breaches(BENCH, |wishes| wishes.days.push(DayWish::free(Friday, None)));
    assert_eq!(told, ["1 days, and 2 are wanted"]);
    let raise_days: [&[(&str, u8)]; 3] = [&[("lateral raise", 1)]; 3];
    let on = |days: &[Weekday]| -> Vec<(Weekday, &[(&str, u8)])> {
        days.iter().copied().zip(raise_days).collect()
    };
    none(&on(&[Monday, Thursday]), |_| {});
    let three = on(&[Monday, Weekday::Wednesday, Friday]);
    assert_eq!(breaches(&three, |_| {}), ["`lateral raise` on 3 days"]);
    none(&three, |wishes| wishes.purpose.raise.push(name("lateral raise")));
}

#[test]
fn muscles_are_back_before_they_are_loaded_again() {
    let close: &[(Weekday, &[(&str, u8)])] =
        &[(Monday, &[("bench press", 4)]), (Tuesday, &[("dip", 4)])];
    let told = breaches(close, |_| {});
    let chest = "Monday: chest needs 36 hours, and Tuesday follows after 24";
    assert!(told.iter().any(|words| words == chest), "{told:?}");
    none(close, |wishes| wishes.purpose.drafting.ignore_hours = true);
    let apart: &[(Weekday, &[(&str, u8)])] =
        &[(Monday, &[("bench press", 4)]), (Thursday, &[("dip", 4)])];
    none(apart, |_| {});
    // Around the end of the week: from Sunday to Monday.
    let around: &[(Weekday, &[(&str, u8)])] =
        &[(Monday, &[("dip", 4)]), (Weekday::Sunday, &[("bench press", 4)])];
    let told = breaches(around, |_| {});
    let chest = "Sunday: chest needs 36 hours, and Monday follows after 24";
    assert!(told.iter().any(|words| words == chest), "{told:?}");
}

#[test]
fn lifts_alike_do_not_stand_on_one_day() {
    let beside = |one, other| breaches(&[(Monday, &[(one, 1), (other, 1)])], |_| {});
    let squats = "Monday: `front squat` beside `back squat`";
    assert_eq!(beside("back squat", "front squat"), [squats]);
    assert_eq!(beside("dip", "dip"), ["Monday: `dip` beside `dip`"]);
    assert!(beside("back squat", "bench press").is_empty());
}
