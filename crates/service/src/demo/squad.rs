//! The scenario: eight invented lifters of an invented club in an invented harbour town.
//!
//! The Quillhaven Boat and Barbell Club rows in summer and lifts all year. Its coach has logged
//! for some months and begins to use the program now, so nobody in the log was eased by it. All
//! names and numbers are invented; loads are what such people might lift.

use domain::{Joint, Muscle, Unit};
use engine::virtual_lifters::{Event, Habits, Person, RirHabit, Slot, TrainingDay};

/// A lifter of the scenario, and who that is in one line.
pub(super) struct Invented {
    pub(super) person: Person,
    pub(super) about: &'static str,
}

/// A planned lift: name, work sets, and the range of repetitions.
type PlannedLift = (&'static str, u8, u16, u16);
/// A planned day: the weekday as days before the end of the record, and its lifts in order.
type PlannedDay = (i32, &'static [PlannedLift]);

/// The coach's own lift, as a lift file.
pub(super) const LIFT_FILE: &str = r#"# Lifts of our own at the Quillhaven Boat and Barbell Club (invented).

[[lift]]
name = "gunwale row"
also = ["gunwale pull"]
like = "seal row"
# Lying on the high bench in the boathouse, bar pulled up to the planks.
muscles = { upper_back = 1.0, lats = 1.0, rear_delts = 0.5, biceps = 0.5 }
"#;

const LEGS_AND_BACK: &[Muscle] = &[
    Muscle::Quadriceps,
    Muscle::Hamstrings,
    Muscle::Glutes,
    Muscle::SpinalErectors,
    Muscle::Adductors,
    Muscle::UpperBack,
];

const fn slot(lift: &'static str, sets: u8, low: u16, high: u16) -> PlannedLift {
    (lift, sets, low, high)
}

const fn day(days_back: i32, lifts: &'static [PlannedLift]) -> PlannedDay {
    (days_back, lifts)
}

fn week(plan: &[PlannedDay]) -> Vec<TrainingDay> {
    let slot = |(lift, sets, low, high): &PlannedLift| Slot {
        lift: (*lift).to_owned(),
        sets: *sets,
        low: *low,
        high: *high,
    };
    plan.iter()
        .map(|(days_back, lifts)| TrainingDay {
            days_back: *days_back,
            lifts: lifts.iter().map(slot).collect(),
        })
        .collect()
}

fn strengths(table: &[(&str, f64)]) -> Vec<(String, f64)> {
    table.iter().map(|(lift, max_kg)| ((*lift).to_owned(), *max_kg)).collect()
}

const FOUR_DAYS: &[PlannedDay] = &[
    day(
        6,
        &[
            slot("back squat", 4, 4, 6),
            slot("romanian deadlift", 3, 6, 8),
            slot("leg press", 3, 8, 12),
            slot("lying leg curl", 3, 8, 12),
            slot("standing calf raise", 3, 10, 15),
        ],
    ),
    day(
        5,
        &[
            slot("bench press", 4, 4, 6),
            slot("barbell row", 4, 6, 8),
            slot("seated dumbbell press", 3, 8, 10),
            slot("lat pull-down", 3, 8, 12),
            slot("triceps pushdown", 3, 10, 12),
            slot("dumbbell curl", 3, 8, 12),
        ],
    ),
    day(
        3,
        &[
            slot("deadlift", 3, 3, 5),
            slot("front squat", 3, 5, 8),
            slot("split squat", 3, 8, 10),
            slot("leg extension", 3, 10, 12),
            slot("lying leg curl", 3, 8, 12),
        ],
    ),
    day(
        1,
        &[
            slot("overhead press", 4, 4, 6),
            slot("chin-up", 4, 5, 8),
            slot("incline dumbbell press", 3, 8, 10),
            slot("seated cable row", 3, 8, 12),
            slot("cable lateral raise", 3, 10, 15),
            slot("triceps pushdown", 3, 10, 12),
        ],
    ),
];

const THREE_DAYS: &[PlannedDay] = &[
    day(
        5,
        &[
            slot("back squat", 4, 5, 8),
            slot("bench press", 4, 5, 8),
            slot("gunwale row", 4, 6, 8),
            slot("seated leg curl", 3, 8, 12),
            slot("cable lateral raise", 3, 10, 15),
            slot("dumbbell curl", 2, 8, 12),
        ],
    ),
    day(
        3,
        &[
            slot("deadlift", 3, 4, 6),
            slot("overhead press", 4, 5, 8),
            slot("chin-up", 4, 4, 8),
            slot("split squat", 3, 8, 10),
            slot("triceps pushdown", 3, 10, 12),
        ],
    ),
    day(
        0,
        &[
            slot("front squat", 4, 5, 8),
            slot("dumbbell bench press", 4, 6, 10),
            slot("gunwale row", 4, 6, 8),
            slot("romanian deadlift", 3, 6, 8),
            slot("dip", 3, 5, 8),
            slot("face pull", 3, 10, 15),
        ],
    ),
];

const TWO_DAYS: &[PlannedDay] = &[
    day(
        5,
        &[
            slot("back squat", 2, 5, 8),
            slot("bench press", 2, 5, 8),
            slot("lat pull-down", 1, 8, 12),
            slot("lying leg curl", 1, 8, 12),
            slot("dumbbell curl", 1, 8, 12),
        ],
    ),
    day(
        2,
        &[
            slot("deadlift", 1, 4, 6),
            slot("overhead press", 2, 5, 8),
            slot("seated cable row", 2, 8, 12),
            slot("leg extension", 1, 10, 12),
            slot("triceps pushdown", 1, 10, 12),
        ],
    ),
];

const CABLE_DAYS: &[PlannedDay] = &[
    day(
        6,
        &[
            slot("machine chest press", 4, 8, 12),
            slot("cable fly", 3, 10, 15),
            slot("cable lateral raise", 4, 10, 15),
            slot("triceps pushdown", 3, 8, 12),
            slot("cable overhead triceps extension", 3, 8, 12),
        ],
    ),
    day(
        5,
        &[
            slot("lat pull-down", 4, 8, 12),
            slot("seated cable row", 4, 8, 12),
            slot("face pull", 3, 10, 15),
            slot("cable curl", 3, 8, 12),
            slot("cable crunch", 3, 10, 15),
        ],
    ),
    day(
        4,
        &[
            slot("leg press", 4, 8, 12),
            slot("seated leg curl", 4, 8, 12),
            slot("leg extension", 3, 10, 12),
            slot("cable pull-through", 3, 10, 15),
            slot("standing calf raise", 4, 10, 15),
        ],
    ),
    day(
        2,
        &[
            slot("incline dumbbell press", 4, 8, 10),
            slot("cable lateral raise", 4, 10, 15),
            slot("cable fly", 3, 10, 15),
            slot("triceps pushdown", 3, 8, 12),
            slot("cable curl", 3, 8, 12),
            slot("face pull", 3, 10, 15),
        ],
    ),
    day(
        1,
        &[
            slot("leg press", 3, 8, 12),
            slot("lat pull-down", 3, 8, 12),
            slot("seated cable row", 3, 8, 12),
            slot("seated leg curl", 3, 8, 12),
            slot("cable crunch", 3, 10, 15),
        ],
    ),
];

const FIRST_WEEKS: &[PlannedDay] = &[
    day(
        6,
        &[
            slot("back squat", 3, 5, 8),
            slot("dumbbell bench press", 3, 8, 10),
            slot("seated cable row", 3, 8, 12),
            slot("seated leg curl", 2, 8, 12),
            slot("cable crunch", 2, 10, 15),
        ],
    ),
    day(
        4,
        &[
            slot("romanian deadlift", 3, 6, 10),
            slot("bench press", 3, 5, 8),
            slot("assisted chin-up", 3, 6, 10),
            slot("leg press", 2, 8, 12),
            slot("dumbbell curl", 2, 8, 12),
        ],
    ),
    day(
        1,
        &[
            slot("back squat", 3, 5, 8),
            slot("dumbbell bench press", 3, 8, 10),
            slot("lat pull-down", 3, 8, 12),
            slot("romanian deadlift", 2, 6, 10),
            slot("triceps pushdown", 2, 10, 12),
        ],
    ),
];

/// 1RM of a trained lifter of about 80 kg, in kg as logged.
const TRAINED: &[(&str, f64)] = &[
    ("back squat", 140.0),
    ("front squat", 115.0),
    ("deadlift", 175.0),
    ("romanian deadlift", 135.0),
    ("leg press", 240.0),
    ("split squat", 32.0),
    ("leg extension", 90.0),
    ("lying leg curl", 75.0),
    ("seated leg curl", 80.0),
    ("standing calf raise", 130.0),
    ("bench press", 108.0),
    ("incline dumbbell press", 40.0),
    ("dumbbell bench press", 43.0),
    ("overhead press", 68.0),
    ("seated dumbbell press", 34.0),
    ("dip", 38.0),
    ("machine chest press", 100.0),
    ("barbell row", 102.0),
    ("gunwale row", 92.0),
    ("chin-up", 32.0),
    ("lat pull-down", 98.0),
    ("seated cable row", 100.0),
    ("face pull", 42.0),
    ("cable fly", 26.0),
    ("cable lateral raise", 19.0),
    ("cable curl", 52.0),
    ("cable crunch", 78.0),
    ("cable pull-through", 88.0),
    ("cable overhead triceps extension", 48.0),
    ("triceps pushdown", 56.0),
    ("dumbbell curl", 23.0),
];

/// 1RM of a beginner, in kg as logged; assistance is below 0.
const BEGINNER: &[(&str, f64)] = &[
    ("back squat", 66.0),
    ("romanian deadlift", 68.0),
    ("leg press", 130.0),
    ("seated leg curl", 45.0),
    ("bench press", 50.0),
    ("dumbbell bench press", 20.0),
    ("assisted chin-up", -12.0),
    ("lat pull-down", 58.0),
    ("seated cable row", 56.0),
    ("triceps pushdown", 34.0),
    ("dumbbell curl", 13.0),
    ("cable crunch", 42.0),
];

const HABITS: Habits = Habits {
    time: None,
    rir: RirHabit::Whole,
    rir_bias: -0.5,
    warm_ups: false,
    missed: 0.04,
    check_ins: 0.0,
    tests: false,
    speed_work: false,
};

/// A trained lifter on four days a week, from whom the others differ.
fn lifter(name: &str) -> Person {
    Person {
        name: name.to_owned(),
        unit: Unit::Kg,
        body_mass_kg: 80.0,
        days: 36 * 7,
        accustomed: true,
        reserve: 1.8,
        weekly_gain: 0.003,
        half_gain: 0.08,
        slowness: 1.0,
        unsteadiness: 1.0,
        week: week(FOUR_DAYS),
        strengths: strengths(TRAINED),
        strength_scale: 1.0,
        habits: HABITS,
        events: Vec::new(),
    }
}

/// The eight lifters of the scenario.
pub(super) fn everybody() -> Vec<Invented> {
    let maren = Person {
        body_mass_kg: 68.0,
        strength_scale: 0.72,
        habits: Habits {
            time: Some((17, 30)),
            check_ins: 1.0,
            warm_ups: true,
            rir: RirHabit::Halves,
            ..HABITS
        },
        events: vec![Event::Stress { from: 47, to: 20 }],
        ..lifter("Maren Tidewell")
    };
    let maren = Invented {
        person: maren,
        about: "bow seat and night-shift nurse; four days; four hard weeks at work, checks in daily",
    };
    let tobias = Person {
        unit: Unit::Lb,
        body_mass_kg: 93.0,
        strength_scale: 1.22,
        days: 40 * 7,
        weekly_gain: 0.0022,
        habits: Habits {
            time: Some((6, 15)),
            warm_ups: true,
            tests: true,
            speed_work: true,
            rir_bias: -0.3,
            check_ins: 0.25,
            ..HABITS
        },
        events: vec![
            Event::Strain { on: 150, muscles: LEGS_AND_BACK, size_pct: 6.0 },
            Event::Strain { on: 4, muscles: LEGS_AND_BACK, size_pct: 9.0 },
        ],
        ..lifter("Tobias Wrenfold")
    };
    let tobias = Invented {
        person: tobias,
        about: "boatbuilder, logs in pounds; carried furniture twice and didn't write it down",
    };
    let ines = Person {
        body_mass_kg: 61.0,
        strength_scale: 0.66,
        days: 38 * 7,
        week: week(THREE_DAYS),
        habits: Habits { time: Some((18, 0)), check_ins: 0.4, tests: true, ..HABITS },
        events: vec![Event::Away { from: 118, to: 84 }],
        ..lifter("Ines Quarrel")
    };
    let ines =
        Invented { person: ines, about: "sculler; three days; five weeks at sea, then back again" };
    [maren, tobias, ines].into_iter().chain(the_others()).collect()
}

fn the_others() -> [Invented; 5] {
    let odd = Person {
        body_mass_kg: 78.0,
        strength_scale: 0.9,
        days: 34 * 7,
        week: week(TWO_DAYS),
        reserve: 2.5,
        habits: Habits { missed: 0.06, check_ins: 0.05, ..HABITS },
        ..lifter("Odd Fennimar")
    };
    let odd =
        Invented { person: odd, about: "ferry clerk; two short days; steady, and going nowhere" };
    let greta = Person {
        unit: Unit::Lb,
        body_mass_kg: 64.0,
        strength_scale: 0.68,
        habits: Habits { time: Some((12, 10)), check_ins: 0.35, ..HABITS },
        events: vec![Event::Complaint { joint: Joint::Elbow, from: 77, worst: 1 }],
        ..lifter("Greta Thornsay")
    };
    let greta = Invented {
        person: greta,
        about: "stroke seat, logs in pounds; an elbow that complains more and more",
    };
    let pim = Person {
        body_mass_kg: 74.0,
        days: 36,
        week: week(FIRST_WEEKS),
        strengths: strengths(BEGINNER),
        weekly_gain: 0.022,
        accustomed: false,
        half_gain: 0.15,
        unsteadiness: 1.3,
        reserve: 2.5,
        habits: Habits { time: Some((16, 45)), rir_bias: -1.0, check_ins: 0.6, ..HABITS },
        ..lifter("Pim Aldersloe")
    };
    let pim = Invented { person: pim, about: "new in the novice four; five weeks of record" };
    let ransome = Person {
        body_mass_kg: 84.0,
        strength_scale: 1.02,
        week: week(CABLE_DAYS),
        unsteadiness: 1.25,
        habits: Habits { time: Some((19, 20)), rir_bias: 0.4, missed: 0.06, ..HABITS },
        ..lifter("Ransome Beckwhistle")
    };
    let ransome = Invented {
        person: ransome,
        about: "cox turned gym regular; five days, nearly all on cables",
    };
    let juno = Person {
        body_mass_kg: 71.0,
        strength_scale: 0.78,
        days: 35 * 7,
        week: week(THREE_DAYS),
        slowness: 1.1,
        habits: Habits { rir: RirHabit::Never, tests: true, ..HABITS },
        ..lifter("Juno Marchwater")
    };
    let juno =
        Invented { person: juno, about: "sweep rower; three days; never says how much was left" };
    [odd, greta, pim, ransome, juno]
}
