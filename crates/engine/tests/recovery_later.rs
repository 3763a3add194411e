//! What the model learns from the sets after a lead set, by itself: it is the same as reading the record
//! from the beginning, it leaves out what is another thing, and it makes the next forecast surer.

use domain::{Catalogue, LiftName};
use engine::recovery::{Dynamics, Event, Lifter, Pooled, Prepared, Shape};
use engine::strength::Reserve;
use engine::trend::LeadSet;

fn lifter() -> Lifter {
    let catalogue = Catalogue::built_in();
    let lift = |name: &str| catalogue.find(&LiftName::new(name).unwrap()).unwrap();
    Lifter::new(Shape::of([lift("back squat"), lift("leg press")]), Pooled::shipped())
}

fn set(days: f64, moved_kg: f64, reps: u16) -> LeadSet {
    LeadSet { days, moved_kg, reps, reserve: Reserve::Reported(2.0) }
}

/// Sessions of two lifts whose later sets fall off by a repetition each.
fn train(lifter: &mut Lifter, sessions: u16, with_later: bool) {
    for session in 0..sessions {
        let days = f64::from(session) * 3.0 + 0.7;
        for (lift, kg) in [(0, 100.0), (1, 180.0)] {
            let reps = 7 + (session * 5 + lift as u16) % 3;
            lifter.lead(lift, set(days, kg, reps));
            lifter.work(lift, days, 1.0);
            for less in 1..3 {
                if with_later {
                    lifter.later(lift, set(days, kg, reps - less));
                }
                lifter.work(lift, days, 1.0);
            }
        }
    }
}

#[test]
fn the_day_goes_as_if_read_from_the_beginning() {
    let mut lifter = lifter();
    train(&mut lifter, 9, true);
    assert!(lifter.events().iter().any(|event| matches!(event, Event::WorkSets { .. })));
    let dynamics = Dynamics {
        shape: lifter.shape(),
        pooled: lifter.pooled(),
        parameters: lifter.parameters(),
    };
    let again =
        dynamics.log_likelihood(&Prepared::new(dynamics.shape, dynamics.pooled, lifter.events()));
    let once = lifter.log_likelihood();
    assert!((once / again - 1.0).abs() < 1e-12, "{once} {again}");
}

#[test]
fn more_sets_make_the_next_forecast_surer() {
    let (mut with, mut without) = (lifter(), lifter());
    train(&mut with, 9, true);
    train(&mut without, 9, false);
    let next = set(30.0, 100.0, 8);
    let [with, without] = [with, without].map(|one| one.expect(0, &next).unwrap());
    assert!(with.variance() < 0.98 * without.variance(), "{with:?} {without:?}");
    // Sets that fall off as always say the same as their lead set.
    assert!((with.mean - without.mean).abs() < 0.01, "{with:?} {without:?}");
}

#[test]
fn what_is_another_thing_is_left_out() {
    let mut lifter = lifter();
    train(&mut lifter, 5, true);
    lifter.lead(0, set(20.0, 100.0, 8));
    let before = lifter.events().to_vec();
    lifter.later(0, set(21.0, 100.0, 7)); // another day
    lifter.later(0, set(20.0, 60.0, 15)); // much lighter
    lifter.later(0, set(20.0, 100.0, 30)); // can't be read
    lifter.later(1, set(20.0, 180.0, 7)); // no lead set today
    lifter.later(0, set(20.0, f64::NAN, 7));
    assert_eq!(lifter.events(), before);
    lifter.later(0, set(20.0, 100.0, 7));
    assert_ne!(lifter.events(), before);
}
