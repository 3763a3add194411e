//! Persons drawn at random: strengths, habits, a programme of their own, and what happens to them.
//!
//! Programmes follow three splits (whole body; upper and lower; parts of the body), on two to six days
//! with four to twelve lifts. They are plain and not the product of any advice.

use domain::{Muscle, Unit};

use super::dice::Dice;
use super::person::{Event, Habits, Person, RirHabit, Slot, TrainingDay};
use super::world::World;

/// Streams for drawing persons lie beyond those that live their days.
const PERSONS: u64 = 1 << 63;

/// What a lift is for when a week is put together.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Part {
    Legs,
    Push,
    Pull,
}

/// A lift that programmes are made of.
#[derive(Clone, Copy)]
struct Choice {
    name: &'static str,
    part: Part,
    main: bool,
    /// 1RM of a trained lifter of about 80 kg, in kg as logged.
    max_kg: f64,
}

const fn main_lift(name: &'static str, part: Part, max_kg: f64) -> Choice {
    Choice { name, part, main: true, max_kg }
}

const fn small(name: &'static str, part: Part, max_kg: f64) -> Choice {
    Choice { name, part, main: false, max_kg }
}

const CHOICES: [Choice; 33] = [
    main_lift("back squat", Part::Legs, 140.0),
    main_lift("front squat", Part::Legs, 115.0),
    main_lift("deadlift", Part::Legs, 175.0),
    main_lift("romanian deadlift", Part::Legs, 135.0),
    main_lift("hip thrust", Part::Legs, 170.0),
    main_lift("leg press", Part::Legs, 240.0),
    small("split squat", Part::Legs, 32.0),
    small("leg extension", Part::Legs, 90.0),
    small("lying leg curl", Part::Legs, 75.0),
    small("seated leg curl", Part::Legs, 80.0),
    small("standing calf raise", Part::Legs, 130.0),
    main_lift("bench press", Part::Push, 108.0),
    main_lift("incline bench press", Part::Push, 90.0),
    main_lift("overhead press", Part::Push, 68.0),
    main_lift("dip", Part::Push, 38.0),
    main_lift("incline dumbbell press", Part::Push, 40.0),
    main_lift("dumbbell bench press", Part::Push, 43.0),
    small("seated dumbbell press", Part::Push, 34.0),
    small("machine chest press", Part::Push, 100.0),
    small("cable fly", Part::Push, 26.0),
    small("cable lateral raise", Part::Push, 19.0),
    small("triceps pushdown", Part::Push, 56.0),
    small("lying triceps extension", Part::Push, 46.0),
    main_lift("barbell row", Part::Pull, 102.0),
    main_lift("chin-up", Part::Pull, 32.0),
    main_lift("lat pull-down", Part::Pull, 98.0),
    main_lift("machine row", Part::Pull, 95.0),
    main_lift("dumbbell row", Part::Pull, 48.0),
    small("seated cable row", Part::Pull, 100.0),
    small("face pull", Part::Pull, 42.0),
    small("barbell curl", Part::Pull, 52.0),
    small("dumbbell curl", Part::Pull, 23.0),
    small("machine curl", Part::Pull, 55.0),
];

/// What a single hard day outside the gym falls upon.
const LEGS_AND_BACK: &[Muscle] = &[
    Muscle::Quadriceps,
    Muscle::Hamstrings,
    Muscle::Glutes,
    Muscle::SpinalErectors,
    Muscle::Adductors,
    Muscle::UpperBack,
];

/// The parts of the body that each day of a week trains.
const SPLITS: [(&[i32], &[&[Part]]); 8] = [
    (&[5, 2], &[WHOLE, WHOLE]),
    (&[5, 3, 1], &[WHOLE, WHOLE, WHOLE]),
    (&[6, 4, 2, 1], &[WHOLE, WHOLE, WHOLE, WHOLE]),
    (&[6, 5, 3, 2], &[LOWER, UPPER, LOWER, UPPER]),
    (&[6, 4, 2], &[&[Part::Push], LOWER, &[Part::Pull]]),
    (&[6, 5, 4, 2, 1], &[&[Part::Push], &[Part::Pull], LOWER, UPPER, LOWER]),
    (&[6, 5, 3, 1], &[LOWER, &[Part::Push], LOWER, &[Part::Pull]]),
    (
        &[6, 5, 4, 3, 2, 1],
        &[LOWER, &[Part::Push], &[Part::Pull], LOWER, &[Part::Push], &[Part::Pull]],
    ),
];
const WHOLE: &[Part] = &[Part::Legs, Part::Push, Part::Pull];
const UPPER: &[Part] = &[Part::Push, Part::Pull];
const LOWER: &[Part] = &[Part::Legs];

/// The lifter with this number of this world and seed.
pub(super) fn anybody(world: &World, seed: u64, number: u64, weeks: u16) -> Person {
    let mut dice = Dice::new(seed, PERSONS + number);
    let people = &world.people;
    let days = i32::from(weeks) * 7;
    let lifts = chosen_lifts(&mut dice);
    let week = week(&lifts, &mut dice);
    Person {
        name: format!("virtual {:03}", number + 1),
        unit: if dice.happens(0.2) { Unit::Lb } else { Unit::Kg },
        body_mass_kg: (78.0 + 12.0 * dice.normal()).clamp(50.0, 120.0),
        days,
        accustomed: true,
        reserve: dice.one_of(&[1.0, 1.5, 1.8, 2.0, 2.5, 3.0]),
        weekly_gain: (0.003 + 0.001 * dice.normal()).max(0.0005),
        half_gain: 0.08,
        slowness: dice.factor(people.slowness_log_sd),
        unsteadiness: dice.factor(people.unsteadiness_log_sd),
        strengths: lifts.iter().map(|lift| (lift.name.to_owned(), lift.max_kg)).collect(),
        week,
        strength_scale: (1.0 + 0.2 * dice.normal()).clamp(0.55, 1.5),
        habits: habits(world, &mut dice),
        events: events(world, days, &mut dice),
    }
}

/// Four to twelve lifts, some for every part of the body, a main lift first.
fn chosen_lifts(dice: &mut Dice) -> Vec<Choice> {
    let wanted = 4 + dice.below(9);
    let mut lifts: Vec<Choice> = Vec::new();
    for idx in 0..wanted {
        let part = [Part::Legs, Part::Push, Part::Pull][idx % 3];
        let main_wanted = idx < 3;
        let left: Vec<Choice> = CHOICES
            .iter()
            .filter(|c| c.part == part && (c.main || !main_wanted))
            .filter(|c| lifts.iter().all(|chosen| chosen.name != c.name))
            .copied()
            .collect();
        lifts.push(dice.one_of(&left)); // eight or more lifts for each part: never empty
    }
    lifts
}

/// A week of two to six days. With few lifts for a part, a lift comes back on every day of it; with
/// many, the days share them out.
fn week(lifts: &[Choice], dice: &mut Dice) -> Vec<TrainingDay> {
    let (days_back, parts) = dice.one_of(&SPLITS);
    let turned = dice.below(7) as i32;
    let sets = 2 + dice.below(3) as u8;
    let mut week = Vec::new();
    for (day_idx, (back, parts)) in days_back.iter().zip(parts).enumerate() {
        let mut slots: Vec<Slot> = Vec::new();
        for part in *parts {
            let of_part: Vec<&Choice> = lifts.iter().filter(|lift| lift.part == *part).collect();
            let most = if parts.len() == 1 { 5 } else { 2 };
            let n = of_part.len().min(most);
            for place in 0..n {
                let lift = of_part[(place + day_idx * most.min(n)) % of_part.len()];
                if slots.iter().all(|slot| slot.lift != lift.name) {
                    slots.push(slot(lift, sets, slots.len(), dice));
                }
            }
        }
        week.push(TrainingDay { days_back: (back + turned) % 7, lifts: slots });
    }
    week
}

fn slot(lift: &Choice, sets: u8, place: usize, dice: &mut Dice) -> Slot {
    let (low, high) = match (lift.main, place) {
        (true, 0) => dice.one_of(&[(3, 5), (4, 6), (5, 8)]),
        (true, _) => dice.one_of(&[(5, 8), (6, 8), (6, 10), (8, 10)]),
        (false, _) => dice.one_of(&[(8, 10), (8, 12), (10, 12), (10, 15)]),
    };
    let sets = if place == 0 { sets + 1 } else { sets };
    Slot { lift: lift.name.to_owned(), sets, low, high }
}

fn habits(world: &World, dice: &mut Dice) -> Habits {
    let rir = if dice.happens(world.people.silent) {
        RirHabit::Never
    } else {
        dice.one_of(&[RirHabit::Whole, RirHabit::Halves])
    };
    Habits {
        time: dice.one_of(&[None, Some((7, 0)), Some((18, 0))]),
        rir,
        rir_bias: -0.4 + 0.5 * dice.normal(),
        warm_ups: dice.happens(0.2),
        missed: world.people.missed,
        check_ins: dice.one_of(&world.people.check_ins),
        tests: dice.happens(0.15),
        speed_work: false,
    }
}

/// Stressful spells of ten days to four weeks, three to five weeks away for some, and something heavy
/// carried once. A record shorter than eight weeks has no time away.
fn events(world: &World, days: i32, dice: &mut Dice) -> Vec<Event> {
    let people = &world.people;
    let mut events = Vec::new();
    let any_day = |dice: &mut Dice| dice.below(days.max(1) as usize) as i32;
    let spell = i32::from(people.weeks_between_spells) * 7;
    for _ in 0..(days + spell / 2) / spell.max(1) {
        let from = any_day(dice);
        events.push(Event::Stress { from, to: from - 10 - dice.below(19) as i32 });
    }
    if dice.happens(people.go_away) && days >= 56 {
        let from = 35 + dice.below((days - 49) as usize) as i32;
        events.push(Event::Away { from, to: from - 21 - dice.below(15) as i32 });
    }
    if people.carry_once {
        events.push(Event::Strain { on: any_day(dice), muscles: LEGS_AND_BACK, size_pct: 6.0 });
    }
    events
}
