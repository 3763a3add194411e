//! The rule about pain, case by case: every rating against every limit, what replaces what, and every lift of the
//! catalogue under every complaint. That a rating above a limit stops what loads the joint is common practice, no
//! source; the shipped limit of 5 is that of the pain-monitoring model (Thomeé and Silbernagel, from memory).

use domain::{Catalogue, Joint, LiftName, Pain, When};
use engine::complaint::{PainVerdict, Rating, is_above, is_on_record, newest, standing, verdict};

fn when(text: &str) -> When {
    When::parse(text).unwrap()
}

fn rated(joint: Joint, rating: u8, at: &str) -> Rating {
    Rating { pain: Pain::new(joint, rating).unwrap(), when: when(at) }
}

#[test]
fn a_rating_stops_from_one_above_the_limit_on() {
    for limit in 0..=10 {
        for rating in 0..=10 {
            let above = i16::from(rating) - i16::from(limit) >= 1;
            assert_eq!(is_above(rating, limit), above, "{rating} at {limit}");
            let stands = standing([rated(Joint::Elbow, rating, "2031-05-04")], limit);
            assert_eq!(stands.len(), usize::from(above), "{rating} at {limit}");
        }
    }
}

#[test]
fn the_newest_rating_of_a_joint_counts_alone_however_old() {
    let old = rated(Joint::Elbow, 9, "1999-01-01");
    let later = |rating| rated(Joint::Elbow, rating, "2031-05-04T18:00");
    assert_eq!(standing([old], 5), [old], "nothing fades unasked");
    for rating in 0..=10 {
        let stands = standing([old, later(rating)], 5);
        assert_eq!(stands, if rating > 5 { vec![later(rating)] } else { vec![] });
        assert_eq!(standing([later(rating), old], 5), stands, "whatever the order of the list");
    }
    // Other joints answer nothing; a morning without a time comes before the same day's evening.
    assert_eq!(standing([old, rated(Joint::Knee, 0, "2031-05-04")], 5), [old]);
    assert_eq!(standing([rated(Joint::Elbow, 8, "2031-05-04"), later(2)], 5), []);
    // Of one moment, the one that was said last.
    assert_eq!(standing([later(2), later(8)], 5), [later(8)]);
    assert_eq!(standing([later(8), later(2)], 5), []);
}

#[test]
fn the_worst_complaint_comes_first_and_joints_have_one_order() {
    let all = [
        rated(Joint::Knee, 6, "2031-05-01"),
        rated(Joint::Shoulder, 6, "2031-05-02"),
        rated(Joint::Elbow, 9, "2031-05-03"),
    ];
    let joints = |ratings: &[Rating]| ratings.iter().map(|r| r.pain.joint).collect::<Vec<_>>();
    assert_eq!(joints(&standing(all, 5)), [Joint::Elbow, Joint::Shoulder, Joint::Knee]);
    assert_eq!(joints(&newest(all)), [Joint::Shoulder, Joint::Elbow, Joint::Knee]);
}

/// Weight by weight over the whole catalogue: 0.5 and more stops, less asks for care, none is nothing.
#[test]
fn every_lift_under_every_complaint() {
    let catalogue = Catalogue::built_in();
    let (mut stopped, mut light, mut free) = (0, 0, 0);
    for lift in catalogue.lifts() {
        assert_eq!(verdict(lift, &[]), PainVerdict::Unaffected);
        for joint in Joint::ALL {
            let complaint = rated(*joint, 7, "2031-05-04");
            let load = lift.joints.iter().find(|load| load.joint == *joint).map(|load| load.get());
            let expected = match load {
                Some(load) if load >= 0.5 => PainVerdict::Stop(complaint),
                Some(_) => PainVerdict::Lightly(complaint),
                None => PainVerdict::Unaffected,
            };
            match expected {
                PainVerdict::Stop(_) => stopped += 1,
                PainVerdict::Lightly(_) => light += 1,
                PainVerdict::Unaffected => free += 1,
            }
            assert_eq!(verdict(lift, &[complaint]), expected, "{} {joint:?}", lift.name);
        }
    }
    assert!(stopped > 200 && light > 20 && free > 200, "{stopped} {light} {free}");
}

#[test]
fn a_joint_that_stops_a_lift_comes_before_one_that_it_loads_lightly() {
    let catalogue = Catalogue::built_in();
    let named = |name: &str| catalogue.find(&LiftName::new(name).unwrap()).unwrap();
    let is_both = |lift: &&domain::Lift| {
        let has = |joint, least: f64, most: f64| {
            lift.joints.iter().any(|l| l.joint == joint && (least..=most).contains(&l.get()))
        };
        has(Joint::Elbow, 0.1, 0.4) && has(Joint::Shoulder, 0.5, 1.0)
    };
    let lift = catalogue.lifts().iter().find(is_both).unwrap();
    let (elbow, shoulder) =
        (rated(Joint::Elbow, 9, "2031-05-04"), rated(Joint::Shoulder, 6, "2031-05-04"));
    assert_eq!(verdict(lift, &[elbow, shoulder]), PainVerdict::Stop(shoulder));
    assert_eq!(verdict(lift, &[elbow]), PainVerdict::Lightly(elbow));
    assert_eq!(verdict(named("bench press"), &[elbow]), PainVerdict::Stop(elbow));
    assert_eq!(verdict(named("leg press"), &[elbow, shoulder]), PainVerdict::Unaffected);
}

/// No set is judged by what was reported after it.
#[test]
fn what_was_reported_later_was_not_on_record() {
    let set = when("2031-05-04T18:00");
    for (reported, known) in [
        ("2031-05-03T23:59", true),
        ("2031-05-04", true),
        ("2031-05-04T18:00", true),
        ("2031-05-04T18:00:01", false),
        ("2031-05-05", false),
    ] {
        assert_eq!(is_on_record(when(reported), set), known, "{reported}");
    }
    // A set without a time of day is done on a day.
    assert!(is_on_record(when("2031-05-04T23:00"), when("2031-05-04")));
    assert!(!is_on_record(when("2031-05-05"), when("2031-05-04")));
}
