//! The recovery model's forecasts of the open strength tests, pooled over other people.
//!
//! A leg is a lifter with one lift at a time. What lifters in general are like (how fast lifts grow at
//! first, how they differ, how they scatter) is estimated from the legs of nine tenths of the people;
//! the legs of the others then forecast each of their tests from the ones before. The study's training
//! between tests is known by arm, one or three sets of each exercise; its days aren't, and stand here as
//! two a week.

use std::collections::{BTreeMap, BTreeSet};

use domain::{Catalogue, LiftName};
use engine::recovery::{Event, Lifter, Pooled, Shape, regrow};
use engine::strength::Reserve;
use engine::trend::LeadSet;

use crate::strength_data::{Exercise, StrengthTest, Timing};

/// One forecast: mean of ln load, and whether the 80 % interval held the result.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Pooled80 {
    pub(crate) mean: f64,
    pub(crate) inside: bool,
}

type Key = (String, &'static str, usize);

/// The forecast of every test from the second of its leg and exercise on. How fast a lift grows differs
/// between the two, so each is pooled by itself.
pub(crate) fn recovery_forecasts(
    tests: &[StrengthTest],
    timing: &Timing,
) -> Result<BTreeMap<Key, Pooled80>, Box<dyn std::error::Error>> {
    let mut forecasts = BTreeMap::new();
    for exercise in Exercise::BOTH {
        let tests: Vec<&StrengthTest> =
            tests.iter().filter(|test| test.exercise == exercise).collect();
        forecast_exercise(exercise, &tests, timing, &mut forecasts)?;
    }
    Ok(forecasts)
}

fn forecast_exercise(
    exercise: Exercise,
    tests: &[&StrengthTest],
    timing: &Timing,
    forecasts: &mut BTreeMap<Key, Pooled80>,
) -> Result<(), Box<dyn std::error::Error>> {
    let shape = shape(exercise)?;
    let mut legs: BTreeMap<(String, String), Vec<Event>> = BTreeMap::new();
    for test in tests {
        let key = (test.participant.clone(), test.lifter());
        legs.entry(key).or_insert_with(|| events_of(tests, test, timing));
    }
    let people: BTreeSet<String> = legs.keys().map(|(person, _)| person.clone()).collect();
    let tenth = |person: &String| people.iter().position(|one| one == person).map(|idx| idx % 10);
    for left_out in (0..10).map(Some) {
        let others: Vec<(Shape, Vec<Event>)> = legs
            .iter()
            .filter(|((person, _), _)| tenth(person) != left_out)
            .map(|(_, events)| (shape.clone(), events.clone()))
            .collect();
        let (pooled, _) = regrow(&Pooled::shipped(), &Pooled::shipped(), &others)?;
        for ((_, leg), events) in legs.iter().filter(|((one, _), _)| tenth(one) == left_out) {
            let mut lifter = Lifter::new(shape.clone(), pooled.clone());
            let mut into = |time: usize, told: Pooled80| {
                forecasts.insert((leg.clone(), exercise.lift(), time), told);
            };
            forecast_leg(&mut lifter, events, timing, &mut into);
        }
    }
    Ok(())
}

fn forecast_leg(
    lifter: &mut Lifter,
    events: &[Event],
    timing: &Timing,
    into: &mut dyn FnMut(usize, Pooled80),
) {
    for event in events {
        match *event {
            Event::Lead { lift, set } | Event::WorkSets { lift, set, .. } => {
                if let (Some(expected), Some(shown)) =
                    (lifter.expect(lift, &set), lifter.shown_by(&set))
                {
                    let (low, high) = expected.interval();
                    let inside = (low..=high).contains(&shown);
                    into(timing.time_of(set.days), Pooled80 { mean: expected.mean, inside });
                }
                lifter.lead(lift, set);
            }
            Event::Work { lift, days, hard_sets } => lifter.work(lift, days, hard_sets),
            Event::CheckIn { .. } => {}
        }
    }
}

fn shape(exercise: Exercise) -> Result<Shape, Box<dyn std::error::Error>> {
    let name = LiftName::new(exercise.lift())?;
    Ok(Shape::of([Catalogue::built_in().find(&name).ok_or("no such lift")?]))
}

/// Tests and training of one leg in order of time.
fn events_of(tests: &[&StrengthTest], of: &StrengthTest, timing: &Timing) -> Vec<Event> {
    let own: Vec<_> = tests.iter().filter(|test| test.lifter() == of.lifter()).collect();
    let hard_sets = if of.arm == "single" { 1.0 } else { 3.0 };
    let mut events = Vec::new();
    for test in &own {
        let (days, reserve) = (timing.days(test.time), Reserve::Reported(0.0));
        let set = LeadSet { days, moved_kg: test.load_kg, reps: 1, reserve };
        events.push(Event::Lead { lift: 0, set });
    }
    let last = own.iter().map(|test| timing.days(test.time)).fold(0.0, f64::max);
    for week in 0..13 {
        for day in [2.0, 5.0] {
            let days = 7.0 * f64::from(week) + day + 0.25;
            if days < last {
                events.push(Event::Work { lift: 0, days, hard_sets });
            }
        }
    }
    events.sort_by(|a, b| a.days().total_cmp(&b.days()));
    events
}
