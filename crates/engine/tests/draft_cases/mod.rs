//! Twenty wishes, from a beginner's two days to an advanced lifter's six, and what is known of each.
//!
//! All invented. The best points known come from long runs of `examples/draft_best.rs`, which says how they are
//! made anew, or from the second solver where it found better; they hold for the table of points and the catalogue of the time, and for these wishes only.

use domain::programme::Progression;
use domain::{
    DoseRange, EquipmentClass, Joint, LiftName, Muscle, Note, PlannedLift, Priority, Programme,
    ProgrammeDay, ProgrammeName, Purpose, RepRange,
};
use engine::programme::draft::{DayWish, Keep, Wishes};
use jiff::civil::Weekday;

use EquipmentClass as E;
use Weekday::{
    Friday as Fri, Monday as Mon, Saturday as Sat, Thursday as Thu, Tuesday as Tue,
    Wednesday as Wed,
};

/// Wishes with a name, how slowly the lifter recovers, and the best points known.
pub(crate) struct Case {
    /// What it is.
    pub(crate) name: &'static str,
    /// The wishes.
    pub(crate) wishes: Wishes,
    /// Times the usual hours of recovery.
    pub(crate) slowness: f64,
    /// The best points known.
    pub(crate) best_known: i64,
}

/// Where the best points known are kept: one line for each case.
const BEST_KNOWN: &str = include_str!("best_known.csv");

fn days(weekdays: &[Weekday], minutes: u16) -> Wishes {
    Wishes::for_days(weekdays.iter().map(|day| DayWish::free(*day, Some(minutes))).collect())
}

fn names(lifts: &[&str]) -> Vec<LiftName> {
    lifts.iter().map(|lift| LiftName::new(lift).unwrap()).collect()
}

fn planned(lift: &str, sets: u8) -> PlannedLift {
    let reps = RepRange::new(5, 8).unwrap();
    let double = Progression::Double { step: None };
    PlannedLift::new(LiftName::new(lift).unwrap(), sets, reps, None, None, double).unwrap()
}

fn with(mut wishes: Wishes, change: impl FnOnce(&mut Wishes)) -> Wishes {
    change(&mut wishes);
    wishes
}

/// A week as it is done now.
fn present() -> Programme {
    let day = |weekday, lifts: &[(&str, u8)]| {
        let lifts = lifts.iter().map(|(lift, sets)| planned(lift, *sets)).collect();
        ProgrammeDay::new(weekday, Some(70), lifts).unwrap()
    };
    let days = vec![
        day(
            Mon,
            &[("back squat", 4), ("bench press", 4), ("barbell row", 4), ("dumbbell curl", 3)],
        ),
        day(Wed, &[("deadlift", 3), ("overhead press", 4), ("chin-up", 4), ("lateral raise", 3)]),
        day(Fri, &[("front squat", 3), ("incline dumbbell press", 4), ("seated cable row", 4)]),
    ];
    let name = ProgrammeName::new("invented").unwrap();
    Programme::new(name, Note::default(), Purpose::default(), days).unwrap()
}

/// The twenty cases.
pub(crate) fn all() -> Vec<Case> {
    let gentle = |wishes: &mut Wishes| {
        for muscle in
            [Muscle::Quadriceps, Muscle::Hamstrings, Muscle::Glutes, Muscle::Chest, Muscle::Lats]
        {
            wishes.purpose.dose.insert(muscle, DoseRange::new(3.0, 6.0, 12.0).unwrap());
        }
    };
    let at_hand = |classes: &[E]| {
        let classes = classes.to_vec();
        move |wishes: &mut Wishes| wishes.purpose.equipment = Some(classes)
    };
    let raise = |lifts: &'static [&'static str]| {
        move |wishes: &mut Wishes| wishes.purpose.raise = names(lifts)
    };
    let spare = |joints: &'static [Joint]| {
        move |wishes: &mut Wishes| wishes.purpose.spare = joints.to_vec()
    };
    let list: Vec<(&'static str, f64, Wishes)> = vec![
        ("beginner, two days", 1.0, with(days(&[Tue, Fri], 45), gentle)),
        (
            "beginner, two days, machines",
            1.0,
            with(with(days(&[Mon, Thu], 60), gentle), at_hand(&[E::Stack, E::PlateMachine])),
        ),
        ("three days of an hour", 1.0, days(&[Mon, Wed, Fri], 60)),
        (
            "three days, three big lifts to go up",
            1.0,
            with(days(&[Mon, Wed, Fri], 75), raise(&["back squat", "bench press", "deadlift"])),
        ),
        ("four days in pairs", 1.0, days(&[Mon, Tue, Thu, Fri], 75)),
        (
            "four days, press and chin-up to go up",
            1.1,
            with(days(&[Mon, Wed, Thu, Sat], 60), raise(&["overhead press", "chin-up"])),
        ),
        ("five days", 1.0, days(&[Mon, Tue, Wed, Fri, Sat], 75)),
        ("advanced, six days of an hour", 0.8, days(&[Mon, Tue, Wed, Thu, Fri, Sat], 60)),
        (
            "advanced, six days, much of everything",
            0.7,
            with(days(&[Mon, Tue, Wed, Thu, Fri, Sat], 90), |wishes| {
                for muscle in Muscle::ALL.iter().take(20) {
                    let range = DoseRange::new(6.0, 14.0, 22.0).unwrap();
                    wishes.purpose.dose.insert(*muscle, range);
                }
            }),
        ),
        ("home, dumbbells only", 1.0, with(days(&[Mon, Wed, Fri], 45), at_hand(&[E::Dumbbell]))),
        (
            "home, dumbbells only, four half hours",
            1.0,
            with(days(&[Mon, Tue, Thu, Sat], 30), at_hand(&[E::Dumbbell])),
        ),
        ("the body alone", 1.0, with(days(&[Tue, Thu, Sat], 30), at_hand(&[]))),
        ("kettlebells", 1.0, with(days(&[Mon, Wed, Fri], 40), at_hand(&[E::Kettlebell]))),
        ("a sore elbow", 1.0, with(days(&[Mon, Tue, Thu, Fri], 75), spare(&[Joint::Elbow]))),
        ("a sore knee", 1.0, with(days(&[Mon, Wed, Fri], 75), spare(&[Joint::Knee]))),
        (
            "a sore back and shoulder",
            1.2,
            with(days(&[Mon, Wed, Sat], 60), spare(&[Joint::LowerBack, Joint::Shoulder])),
        ),
        ("five half hours", 1.0, days(&[Mon, Tue, Wed, Thu, Fri], 30)),
        (
            "priorities",
            1.0,
            with(days(&[Mon, Tue, Thu, Fri], 60), |wishes| {
                for muscle in [Muscle::SideDelts, Muscle::Biceps, Muscle::Chest] {
                    wishes.purpose.drafting.priorities.insert(muscle, Priority::High);
                }
                wishes.purpose.drafting.priorities.insert(Muscle::Quadriceps, Priority::Low);
            }),
        ),
        (
            "fixed parts",
            1.0,
            with(days(&[Mon, Wed, Fri], 70), |wishes| {
                wishes.days[0].pinned.push(planned("bench press", 5));
                wishes.days[2].pinned.push(planned("deadlift", 3));
                wishes.prefer = names(&["dip", "chin-up"]);
                wishes.purpose.refuse = names(&["leg press", "back squat"]);
            }),
        ),
        (
            "a week to be changed for a slow recoverer with a fourth day",
            1.5,
            with(days(&[Mon, Wed, Fri, Sat], 70), |wishes| {
                wishes.present = Some(present());
                wishes.keep = Keep::All;
            }),
        ),
    ];
    let best = |name: &str| {
        let lines = BEST_KNOWN.lines().filter_map(|line| line.rsplit_once(';'));
        let found = lines.into_iter().find(|(of, _)| *of == name);
        found.and_then(|(_, points)| points.parse().ok()).unwrap_or(0)
    };
    let case = |(name, slowness, wishes)| Case { name, wishes, slowness, best_known: best(name) };
    list.into_iter().map(case).collect()
}
