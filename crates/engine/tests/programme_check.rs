//! Findings on weeks that are wrong on purpose, one wrong at a time.

use std::collections::BTreeMap;

use domain::programme::Progression;
use domain::{
    Catalogue, DoseRange, EquipmentClass, Joint, LiftName, Muscle, Note, PlannedLift, Programme,
    ProgrammeDay, ProgrammeName, Purpose, RepRange,
};
use engine::programme::check::Finding;
use engine::programme::{Ground, RecoveryHours, Urgency, Week, check};
use jiff::civil::Weekday;

type Day<'a> = (Weekday, Option<u16>, &'a [(&'a str, u8)]);

fn name(lift: &str) -> LiftName {
    LiftName::new(lift).unwrap()
}

fn findings_with(purpose: Purpose, days: &[Day<'_>], slowness: f64) -> Vec<Finding> {
    findings_for(purpose, days, slowness, &BTreeMap::new())
}

fn findings_for(
    purpose: Purpose,
    days: &[Day<'_>],
    slowness: f64,
    gauges: &BTreeMap<String, bool>,
) -> Vec<Finding> {
    let reps = RepRange::new(8, 8).unwrap();
    let planned = |(lift, sets): &(&str, u8)| {
        let double = Progression::Double { step: None };
        PlannedLift::new(name(lift), *sets, reps, None, None, double).unwrap()
    };
    let days = days
        .iter()
        .map(|(day, minutes, lifts)| {
            ProgrammeDay::new(*day, *minutes, lifts.iter().map(planned).collect()).unwrap()
        })
        .collect();
    let invented = ProgrammeName::new("invented").unwrap();
    let programme = Programme::new(invented, Note::default(), purpose, days).unwrap();
    let catalogue = Catalogue::built_in();
    let hours = RecoveryHours::with_slowness(slowness);
    let ground = Ground { catalogue: &catalogue, hours: &hours, gauges };
    check(&Week::of(&programme, &catalogue, 0).unwrap(), &ground)
}

fn findings(purpose: Purpose, days: &[Day<'_>]) -> Vec<Finding> {
    findings_with(purpose, days, 1.0)
}

/// A week that trains everything, three times, with nothing to remark on.
const GOOD: &[Day<'_>] = &[
    (
        Weekday::Monday,
        Some(75),
        &[
            ("back squat", 3),
            ("bench press", 3),
            ("machine row", 3),
            ("lying leg curl", 2),
            ("standing calf raise", 3),
        ],
    ),
    (
        Weekday::Wednesday,
        Some(75),
        &[
            ("overhead press", 3),
            ("chin-up", 3),
            ("lateral raise", 3),
            ("cable crunch", 3),
            ("dumbbell curl", 2),
            ("triceps pushdown", 2),
        ],
    ),
    (
        Weekday::Friday,
        Some(75),
        &[
            ("romanian deadlift", 3),
            ("incline dumbbell press", 3),
            ("lat pull-down", 3),
            ("leg extension", 2),
            ("standing calf raise", 3),
            ("cable crunch", 3),
            ("dumbbell curl", 2),
            ("lateral raise", 2),
        ],
    ),
];

fn has<'a>(findings: &'a [Finding], urgency: Urgency, words: &str) -> &'a Finding {
    let found = findings.iter().find(|f| f.words.contains(words) && f.urgency == urgency);
    found.unwrap_or_else(|| panic!("no {urgency:?} with {words:?} in {findings:#?}"))
}

#[test]
fn a_good_week_gets_no_more_than_things_to_consider() {
    let found = findings(Purpose::default(), GOOD);
    let worse: Vec<_> = found.iter().filter(|f| f.urgency != Urgency::Consider).collect();
    assert!(worse.is_empty(), "{worse:#?}");
}

#[test]
fn what_goes_against_the_programme_itself_comes_first() {
    let purpose = Purpose {
        raise: vec![name("deadlift"), name("bench")],
        equipment: Some(vec![EquipmentClass::Barbell, EquipmentClass::Dumbbell]),
        spare: vec![Joint::Knee],
        dose: BTreeMap::new(),
        ..Purpose::default()
    };
    let found = findings(purpose, GOOD);
    assert!(found.windows(2).all(|two| two[0].urgency <= two[1].urgency), "worst first");
    let untrained = has(&found, Urgency::PutRight, "`deadlift` is to go up, and no day trains it");
    assert_eq!(untrained.place, "week");
    assert!(
        !found.iter().any(|f| f.words.contains("`bench` is to go up, and no day")),
        "a spelling"
    );
    let row = has(&found, Urgency::PutRight, "`machine row` needs a stack machine");
    assert_eq!(row.cure.as_deref(), Some("take `seal row` in its place: nearly the same muscles"));
    let squat = has(&found, Urgency::PutRight, "the knee is to be spared, and `back squat`");
    let cure = squat.cure.as_deref().unwrap();
    assert!(!cure.contains("squat"), "no lift that loads the knee: {cure}");
    let squats = "leave it out: nothing at hand trains nearly the same muscles without loading a joint to be spared";
    assert_eq!(cure, squats);
}

#[test]
fn dose_is_held_against_its_range_with_a_cure() {
    let none = findings(Purpose::default(), &[(Weekday::Monday, None, &[("bench press", 3)])]);
    let quadriceps = has(&none, Urgency::Change, "quadriceps: 0 hard sets a week");
    assert!(quadriceps.cure.as_ref().unwrap().starts_with("add 5 hard sets of `"));
    let chest = has(&none, Urgency::Consider, "chest: 3 hard sets a week");
    assert_eq!(chest.cure.as_deref(), Some("add 2 hard sets more of `bench press`"));
    let mut purpose = Purpose::default();
    purpose.dose.insert(Muscle::Chest, DoseRange::new(1.0, 2.0, 2.0).unwrap());
    let own = findings(purpose, &[(Weekday::Monday, None, &[("bench press", 3)])]);
    let over = has(&own, Urgency::Change, "chest: 3 hard sets a week, and beyond 2");
    assert_eq!(over.cure.as_deref(), Some("take 1 hard set from `bench press` on Monday"));
}

#[test]
fn days_too_close_for_this_lifter_are_named() {
    let days: &[Day<'_>] = &[
        (Weekday::Monday, None, &[("bench press", 4)]),
        (Weekday::Wednesday, None, &[("dip", 3)]),
    ];
    let close = |found: &[Finding]| found.iter().any(|f| f.words.contains("trained again on"));
    assert!(!close(&findings(Purpose::default(), days)), "48 hours do for most people");
    let slow = findings_with(Purpose::default(), days, 1.6);
    let chest = has(&slow, Urgency::Consider, "chest: 4 hard sets on Monday and trained again");
    assert!(chest.words.contains("48 hours later; that much needs about 58 hours"), "{chest:?}");
    // Around the end of the week: Sunday to Monday.
    let around: &[Day<'_>] =
        &[(Weekday::Monday, None, &[("dip", 3)]), (Weekday::Sunday, None, &[("bench press", 6)])];
    let found = findings(Purpose::default(), around);
    assert!(
        found.iter().any(|f| f.place == "Sunday" && f.words.contains("24 hours later")),
        "{found:#?}"
    );
}

#[test]
fn minutes_order_and_balance_are_looked_at() {
    let days: &[Day<'_>] = &[(
        Weekday::Monday,
        Some(30),
        &[
            ("cable fly", 4),
            ("cable curl", 3),
            ("face pull", 3),
            ("deadlift", 3),
            ("back squat", 3),
            ("power clean", 3),
        ],
    )];
    let found = findings(Purpose { raise: vec![name("back squat")], ..Purpose::default() }, days);
    let long = has(&found, Urgency::Change, "it takes about");
    assert_eq!(long.cure.as_deref(), Some("leave `power clean` out, or move it to another day"));
    has(
        &found,
        Urgency::Change,
        "`power clean` is done at full speed and comes after `back squat`",
    );
    has(&found, Urgency::Consider, "`back squat` comes right after `deadlift`");
    has(&found, Urgency::Change, "`back squat` is to go up, and comes after `deadlift`");
    let gauge = has(&found, Urgency::Consider, "none of the first three lifts repeats");
    assert_eq!(gauge.cure.as_deref(), Some("do `deadlift` earlier"));
    let one_sided: &[Day<'_>] =
        &[(Weekday::Monday, None, &[("bench press", 6), ("machine row", 1)])];
    has(
        &findings(Purpose::default(), one_sided),
        Urgency::Consider,
        "pressing (chest and front delts): 9",
    );
}

fn is_silent(findings: &[Finding], words: &str) {
    let found = findings.iter().find(|f| f.words.contains(words));
    assert!(found.is_none(), "{found:#?}");
}

#[test]
fn too_much_is_taken_from_lifts_that_are_not_to_go_up() {
    let days: &[Day<'_>] = &[(Weekday::Monday, None, &[("bench press", 4), ("cable fly", 2)])];
    let mut purpose = Purpose { raise: vec![name("bench")], ..Purpose::default() };
    purpose.dose.insert(Muscle::Chest, DoseRange::new(1.0, 2.0, 5.0).unwrap());
    let found = findings(purpose, days);
    let chest = has(&found, Urgency::Consider, "chest: 6 hard sets a week, and beyond 5");
    assert_eq!(chest.cure.as_deref(), Some("take 1 hard set from `cable fly` on Monday"));
}

#[test]
fn a_refused_lift_is_remarked_on_and_stands_in_for_nothing() {
    let days: &[Day<'_>] = &[(Weekday::Monday, None, &[("bench press", 4)])];
    let cure = |refuse: &[&str], words: &str| {
        let refuse = refuse.iter().map(|lift| name(lift)).collect();
        let found = findings(Purpose { refuse, ..Purpose::default() }, days);
        has(&found, Urgency::PutRight, words).cure.clone().unwrap()
    };
    let words = "`bench press` is one of the lifts not to be taken";
    assert!(!findings(Purpose::default(), days).iter().any(|found| found.words == words));
    // Any spelling that the catalogue knows.
    let first = cure(&["bench"], words);
    let stand_in = first.split('`').nth(1).unwrap();
    let second = cure(&["bench", stand_in], words);
    assert!(!second.contains(&format!("`{stand_in}`")), "{first}, and then {second}");
    // Nor is a lift that is to go up asked for if it is refused.
    let both = Purpose {
        raise: vec![name("deadlift")],
        refuse: vec![name("deadlift")],
        ..Purpose::default()
    };
    let found = findings(both, days);
    has(&found, Urgency::PutRight, "`deadlift` is to go up, and is one of the lifts not to be");
    is_silent(&found, "`deadlift` is to go up, and no day");
}

#[test]
fn a_little_too_long_costs_sets_and_no_lift() {
    let days: &[Day<'_>] = &[(Weekday::Monday, Some(20), &[("bench press", 5)])];
    let found = findings(Purpose::default(), days);
    let long = has(&found, Urgency::Change, "it takes about");
    assert_eq!(long.cure.as_deref(), Some("take 1 set from `bench press`, or shorten its rest"));
}

#[test]
fn sides_are_held_against_each_other_both_ways_from_some_sets_on() {
    let of = |lift: &str, sets: u8| {
        findings(Purpose::default(), &[(Weekday::Monday, None, &[(lift, sets)])])
    };
    has(
        &of("machine row", 6),
        Urgency::Consider,
        "pulling (lats and upper back): 12 hard sets; pres",
    );
    is_silent(&of("bench press", 2), "pressing (chest and front delts)");
}

#[test]
fn a_lift_to_go_up_gets_at_least_three_sets() {
    let few = |sets: u8| {
        let purpose = Purpose { raise: vec![name("back squat")], ..Purpose::default() };
        findings(purpose, &[(Weekday::Monday, None, &[("back squat", sets)])])
    };
    has(&few(2), Urgency::Consider, "`back squat` is to go up, and has 2 work sets");
    is_silent(&few(3), "is to go up");
}

#[test]
fn what_is_in_good_order_gets_no_remark() {
    let hinges: &[Day<'_>] =
        &[(Weekday::Monday, None, &[("deadlift", 3), ("romanian deadlift", 3)])];
    is_silent(&findings(Purpose::default(), hinges), "comes right after");
    // An explosive lift belongs before the lift to go up.
    let purpose = Purpose { raise: vec![name("back squat")], ..Purpose::default() };
    let cleans: &[Day<'_>] = &[(Weekday::Monday, None, &[("power clean", 3), ("back squat", 3)])];
    is_silent(&findings(purpose, cleans), "has tired its muscles");
    let purpose = Purpose { spare: vec![Joint::Ankle], ..Purpose::default() };
    is_silent(&findings(purpose, cleans), "ankle is to be spared");
}

#[test]
fn a_light_session_loads_no_muscle_and_far_too_close_asks_for_a_change() {
    let days: &[Day<'_>] = &[
        (Weekday::Monday, None, &[("bench press", 4)]),
        (Weekday::Wednesday, None, &[("dip", 3)]),
    ];
    let far = findings_with(Purpose::default(), days, 2.5);
    has(&far, Urgency::Change, "chest: 4 hard sets on Monday and trained again on Wednesday");
    let light: &[Day<'_>] = &[
        (Weekday::Monday, None, &[("bench press", 4)]),
        (Weekday::Tuesday, None, &[("cable fly", 1)]),
    ];
    is_silent(&findings_with(Purpose::default(), light, 2.5), "trained again on Tuesday");
}

#[test]
fn the_lifters_own_record_says_what_is_a_gauge() {
    let days: &[Day<'_>] = &[(Weekday::Monday, None, &[("bench press", 4), ("deadlift", 3)])];
    let none = "none of the first three lifts repeats";
    is_silent(&findings(Purpose::default(), days), none);
    let gauges = ["bench press", "deadlift"].map(|lift| (name(lift).key(), false));
    let found = findings_for(Purpose::default(), days, 1.0, &gauges.into());
    let gauge = has(&found, Urgency::Consider, none);
    assert_eq!(gauge.cure.as_deref(), Some("begin with a lift on a bar or a machine"));
}

#[test]
fn of_the_same_urgency_what_is_further_off_comes_first() {
    let found = findings(Purpose::default(), &[(Weekday::Monday, None, &[("bench press", 3)])]);
    let place = |words: &str| found.iter().position(|f| f.words.starts_with(words)).unwrap();
    has(&found, Urgency::Change, "triceps: 1.5 hard sets a week");
    assert!(place("quadriceps: 0") < place("triceps: 1.5"), "{found:#?}");
    assert!(place("triceps: 1.5") < place("chest: 3"), "{found:#?}");
}

#[test]
fn a_session_with_more_for_a_muscle_than_helps_is_found() {
    let days: &[Day<'_>] =
        &[(Weekday::Monday, None, &[("bench press", 8), ("dip", 8), ("barbell row", 3)])];
    let found = findings(Purpose::default(), days);
    let chest = has(&found, Urgency::Change, "chest: 16 hard sets in one session");
    assert_eq!(
        (chest.place, chest.cure.as_deref()),
        ("Monday", Some("give 6 hard sets to another day"))
    );
    assert!(!found.iter().any(|one| one.words.contains("lats: 3 hard sets in one session")));
}

#[test]
fn a_long_day_loses_what_is_not_to_go_up() {
    let purpose = Purpose { raise: vec![name("bench press")], ..Purpose::default() };
    let days: &[Day<'_>] =
        &[(Weekday::Monday, Some(30), &[("barbell row", 3), ("leg press", 6), ("bench press", 8)])];
    let found = findings(purpose, days);
    let long = has(&found, Urgency::Change, "it takes about");
    assert!(long.cure.as_ref().unwrap().contains("`leg press`"), "{long:?}");
    // Of what asks as much for a change, what can't be done in the time stands before what is missing.
    let first = found.iter().find(|one| one.urgency == Urgency::Change).unwrap();
    assert!(first.words.contains("tired its muscles") || first.words == long.words, "{first:?}");
}

#[test]
fn a_missing_muscle_is_given_a_usual_lift() {
    let found = findings(Purpose::default(), &[(Weekday::Monday, None, &[("bench press", 3)])]);
    let catalogue = Catalogue::built_in();
    for one in found.iter().filter(|one| one.words.contains("0 hard sets a week")) {
        let Some(lift) = one.cure.as_ref().unwrap().split('`').nth(1) else { continue };
        assert!(catalogue.find(&name(lift)).unwrap().staple, "{one:?}");
    }
}
