//! The recovery model's forecasts of the open strength tests, pooled over other people.
//!
//! A person is a lifter with two lifts, one for each leg, and one kind of test at a time. What lifters in
//! general are like (how fast lifts grow at first, how they differ, how they scatter, how much of it all
//! lifts of a day have in common) is estimated from nine tenths of the people; each test of the others is
//! then forecast from all tests before it: those of earlier times, and on the same day that of the leg
//! which is tested first. Which leg that was isn't in the data, so the caller says. The study's training
//! between tests is known by arm, one or three sets of each exercise; its days aren't, and stand here as
//! two a week.

use std::collections::{BTreeMap, BTreeSet};

use domain::{Catalogue, LiftName};
use engine::recovery::{Event, Lifter, Pooled, Shape, regrow};
use engine::strength::Reserve;
use engine::trend::LeadSet;

use crate::strength_data::{Exercise, Leg, StrengthTest, Timing};

/// One forecast: mean of ln load, and whether the 80 % interval held the result.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Pooled80 {
    pub(crate) mean: f64,
    pub(crate) inside: bool,
}

type Key = (String, &'static str, usize);

/// The forecast of every test from the second of its leg and exercise on, leg `first` being tested before the
/// other. How fast a lift grows differs between the two exercises, so each is pooled by itself.
pub(crate) fn recovery_forecasts(
    tests: &[StrengthTest],
    timing: &Timing,
    first: Leg,
) -> Result<BTreeMap<Key, Pooled80>, Box<dyn std::error::Error>> {
    let mut forecasts = BTreeMap::new();
    for exercise in Exercise::BOTH {
        let of = |person: &str| -> Vec<&StrengthTest> {
            tests
                .iter()
                .filter(|test| test.exercise == exercise && test.participant == person)
                .collect()
        };
        let people: BTreeSet<&str> = tests.iter().map(|test| test.participant.as_str()).collect();
        let records: Vec<(&str, Vec<Event>)> =
            people.iter().map(|person| (*person, events_of(&of(person), timing, first))).collect();
        forecast_exercise(exercise, &records, timing, &mut forecasts)?;
    }
    Ok(forecasts)
}

fn forecast_exercise(
    exercise: Exercise,
    records: &[(&str, Vec<Event>)],
    timing: &Timing,
    forecasts: &mut BTreeMap<Key, Pooled80>,
) -> Result<(), Box<dyn std::error::Error>> {
    let shape = shape(exercise)?;
    for left_out in 0..10 {
        let of_others = records.iter().enumerate().filter(|(idx, _)| idx % 10 != left_out);
        let others: Vec<(Shape, Vec<Event>)> =
            of_others.map(|(_, (_, events))| (shape.clone(), events.clone())).collect();
        let (pooled, _) = regrow(&Pooled::shipped(), &Pooled::shipped(), &others)?;
        for (person, events) in records.iter().skip(left_out).step_by(10) {
            let mut lifter = Lifter::new(shape.clone(), pooled.clone());
            let mut into = |leg: Leg, time: usize, told: Pooled80| {
                forecasts.insert((leg.of(person), exercise.lift(), time), told);
            };
            forecast_person(&mut lifter, events, timing, &mut into);
        }
    }
    Ok(())
}

fn forecast_person(
    lifter: &mut Lifter,
    events: &[Event],
    timing: &Timing,
    into: &mut dyn FnMut(Leg, usize, Pooled80),
) {
    for event in events {
        match *event {
            Event::Lead { lift, set } | Event::WorkSets { lift, set, .. } => {
                if let (Some(expected), Some(shown)) =
                    (lifter.expect(lift, &set), lifter.shown_by(&set))
                {
                    let (low, high) = expected.interval();
                    let inside = (low..=high).contains(&shown);
                    let told = Pooled80 { mean: expected.mean, inside };
                    into(Leg::BOTH[lift], timing.time_of(set.days), told);
                }
                lifter.lead(lift, set);
            }
            Event::Work { lift, days, hard_sets } => lifter.work(lift, days, hard_sets),
            Event::CheckIn { .. } => {}
        }
    }
}

/// Both legs' lift, which trains the same muscles: the model doesn't tell left from right.
fn shape(exercise: Exercise) -> Result<Shape, Box<dyn std::error::Error>> {
    let (name, catalogue) = (LiftName::new(exercise.lift())?, Catalogue::built_in());
    let lift = catalogue.find(&name).ok_or("no such lift")?;
    Ok(Shape::of(Leg::BOTH.map(|_| lift)))
}

/// Tests and training of one person in order of time.
fn events_of(own: &[&StrengthTest], timing: &Timing, first: Leg) -> Vec<Event> {
    let last = own.iter().map(|test| timing.days(test.time)).fold(0.0, f64::max);
    let mut events = Vec::new();
    for leg in [first, first.other()] {
        let tests: Vec<_> = own.iter().filter(|test| test.leg == leg).collect();
        let Some(one) = tests.first() else { continue };
        let lift = leg as usize;
        for test in &tests {
            let (days, reserve) = (timing.days(test.time), Reserve::Reported(0.0));
            let set = LeadSet { days, moved_kg: test.load_kg, reps: 1, reserve };
            events.push(Event::Lead { lift, set });
        }
        let hard_sets = if one.arm == "single" { 1.0 } else { 3.0 };
        for week in 0..13 {
            for day in [2.0, 5.0] {
                let days = 7.0 * f64::from(week) + day + 0.25;
                if days < last {
                    events.push(Event::Work { lift, days, hard_sets });
                }
            }
        }
    }
    // What has the same time stays in order.
    events.sort_by(|a, b| a.days().total_cmp(&b.days()));
    events
}
