//! Fits that are taken back and values written as numbers: the same as computed, or refused.
//!
//! The records are made up here; nothing is held against a figure from outside.

use domain::{Catalogue, LiftName};
use engine::recovery::numbers::NUMBERS;
use engine::recovery::{Lifter, ParameterFit, Pooled, PooledError, RecoveryFit, Shape};
use engine::strength::Reserve;
use engine::trend::LeadSet;

/// Numbers with their names.
type Named = Vec<(&'static str, f64)>;

const TWO: [&str; 2] = ["back squat", "bench press"];
/// The third brings muscles of its own, which stand between the others in the state.
const THREE: [&str; 3] = ["back squat", "bench press", "chin-up"];

fn shape(names: &[&str]) -> Shape {
    let catalogue = Catalogue::built_in();
    let find = |name: &&str| catalogue.find(&LiftName::new(name).unwrap()).unwrap();
    Shape::of(names.iter().map(find).collect::<Vec<_>>())
}

/// One session of the first two lifts.
fn train(lifter: &mut Lifter, session: u16) {
    let days = f64::from(session) * 2.3;
    let wobble = f64::from(session * 7 % 5) - 2.0;
    lifter.check_in(
        days,
        [Some(7.0 + 0.4 * wobble), (!session.is_multiple_of(3)).then_some(3.0), None],
    );
    for lift in 0..2 {
        let reps = 5 + (session * 5 + lift as u16) % 4;
        let reserve =
            if session % 4 == 3 { Reserve::unreported(1.0) } else { Reserve::Reported(1.0) };
        let moved_kg = [100.0, 70.0][lift] + 2.5 * f64::from(session / 6);
        lifter.lead(lift, LeadSet { days, moved_kg, reps, reserve });
        lifter.work(lift, days, 3.0);
    }
}

fn after(sessions: u16, names: &[&str]) -> Lifter {
    let mut lifter = Lifter::new(shape(names), Pooled::shipped());
    (0..sessions).for_each(|session| train(&mut lifter, session));
    lifter
}

fn fitted(sessions: u16, names: &[&str]) -> (Lifter, ParameterFit) {
    let mut lifter = after(sessions, names);
    lifter.settle();
    let fit = lifter.last_fit().unwrap();
    (lifter, fit)
}

/// Everything that a page shows of a lift, to the bit.
fn shown(lifter: &Lifter) -> String {
    let next = LeadSet { days: 60.0, moved_kg: 105.0, reps: 5, reserve: Reserve::Reported(1.0) };
    let lift = |lift| (lifter.expect(lift, &next), lifter.today(lift, 60.0), lifter.scatter(lift));
    format!("{:?} {:?} {:?}", lift(0), lift(1), lifter.log_likelihood())
}

#[test]
fn a_fit_is_due_at_twenty_lead_sets_and_when_the_record_has_grown_by_half() {
    let mut lifter = after(0, &TWO);
    let mut due = Vec::new();
    for session in 0..34 {
        train(&mut lifter, session);
        if lifter.is_due() {
            due.push(lifter.n_lead_sets());
        }
        lifter.settle();
        assert!(!lifter.is_due());
    }
    assert_eq!(due, [20, 30, 46]);
}

#[test]
fn a_fit_taken_back_reads_as_if_it_had_just_been_computed() {
    let (computed, fit) = fitted(12, &TWO);
    assert_eq!(fit.n_lead_sets, 24);
    let mut taken = after(12, &TWO);
    assert!(taken.last_fit().is_none() && shown(&taken) != shown(&computed));
    assert!(taken.take_fit(&fit));
    assert_eq!(shown(&taken), shown(&computed));
    assert_eq!((taken.last_fit(), taken.ground()), (Some(fit), computed.ground()));
    assert!(!taken.is_due());
    assert_eq!(taken.estimate(), computed.estimate());
}

#[test]
fn a_lift_that_joins_later_leaves_an_older_fit_as_it_is() {
    let (computed, own) = fitted(12, &THREE);
    let (two, fit) = fitted(12, &TWO);
    let mut three = after(12, &THREE);
    assert_eq!(three.ground(), after(12, &TWO).ground());
    assert!(three.take_fit(&fit));
    assert_eq!(shown(&three), shown(&computed));
    assert_eq!(shown(&three), shown(&two));
    assert_eq!(own.at[..fit.at.len()], fit.at);
    assert_eq!(own.at[fit.at.len()..], [0.0]);
}

#[test]
fn a_fit_of_something_else_is_refused_and_changes_nothing() {
    let (_, fit) = fitted(12, &TWO);
    let mut lifter = after(12, &TWO);
    let before = shown(&lifter);
    let RecoveryFit::Fitted(climb) = fit.report else { panic!("{fit:?}") };
    let shifted = |by: f64| {
        let mut report = climb;
        report.log_posterior += by;
        ParameterFit { report: RecoveryFit::Fitted(report), ..fit.clone() }
    };
    let at = |change: fn(&mut Vec<f64>)| {
        let mut other = fit.clone();
        change(&mut other.at);
        other
    };
    let wrong = [
        ParameterFit { n_lead_sets: 23, ..fit.clone() },
        ParameterFit { report: RecoveryFit::PooledValues, ..fit.clone() },
        shifted(0.01),
        shifted(f64::NAN),
        at(|at| at.push(0.0)),
        at(|at| at.truncate(9)),
        at(|at| at[3] += 0.1),
        at(|at| at[0] = f64::NAN),
        at(|at| at[0] = f64::INFINITY),
    ];
    for (idx, wrong) in wrong.iter().enumerate() {
        assert!(!lifter.take_fit(wrong), "{idx}");
        assert_eq!(shown(&lifter), before, "{idx}");
    }
    let mut other = Lifter::new(shape(&TWO), Pooled::shipped());
    (0..12).for_each(|session| train(&mut other, session + 1));
    assert!(!other.take_fit(&fit), "a record with other sets");
    assert!(lifter.take_fit(&fit));
}

#[test]
fn the_ground_changes_with_everything_that_a_fit_rests_on() {
    let ground = |change: &dyn Fn(&mut Pooled), names: &[&str], last: &dyn Fn(&mut Lifter)| {
        let mut pooled = Pooled::shipped();
        change(&mut pooled);
        let mut lifter = Lifter::new(shape(names), pooled);
        (0..12).for_each(|session| train(&mut lifter, session));
        last(&mut lifter);
        lifter.ground()
    };
    let set = |reps, reserve| LeadSet { days: 40.0, moved_kg: 110.0, reps, reserve };
    let nothing = |_: &mut Lifter| ();
    let grounds = [
        ground(&|_| (), &TWO, &nothing),
        ground(&|pooled| pooled.toll_sd *= 1.25, &TWO, &nothing),
        ground(&|_| (), &["front squat", "bench press"], &nothing),
        ground(&|_| (), &TWO, &|lifter| lifter.settle()),
        ground(&|_| (), &TWO, &|lifter| lifter.work(1, 40.0, 2.0)),
        ground(&|_| (), &TWO, &|lifter| lifter.work(1, 40.0, 3.0)),
        ground(&|_| (), &TWO, &|lifter| lifter.check_in(40.0, [Some(7.0), None, None])),
        ground(&|_| (), &TWO, &|lifter| {
            lifter.lead(1, set(5, Reserve::Reported(1.0)));
        }),
        ground(&|_| (), &TWO, &|lifter| {
            lifter.lead(1, set(6, Reserve::Reported(1.0)));
        }),
        ground(&|_| (), &TWO, &|lifter| {
            lifter.lead(1, set(5, Reserve::unreported(1.0)));
        }),
        ground(&|_| (), &THREE, &|lifter| lifter.work(2, 40.0, 2.0)),
        ground(&|_| (), &TWO, &|lifter| four_days_with_a_second_set(lifter, 5)),
        ground(&|_| (), &TWO, &|lifter| four_days_with_a_second_set(lifter, 4)),
    ];
    for (idx, one) in grounds.iter().enumerate() {
        assert!(!grounds[..idx].contains(one), "{idx}");
    }
    assert_eq!(grounds[0], ground(&|_| (), &TWO, &nothing));
}

#[test]
fn what_the_record_says_is_as_of_the_fit() {
    let (mut lifter, _) = fitted(12, &TWO);
    let as_of_the_fit = lifter.estimate().unwrap();
    train(&mut lifter, 12);
    assert!(!lifter.is_due());
    assert_eq!(lifter.estimate(), Some(as_of_the_fit));
    assert_eq!(after(12, &TWO).estimate(), None);
}

#[test]
fn pooled_values_come_back_from_their_numbers_in_any_order() {
    let shipped = Pooled::shipped();
    // Every number of the debug form has its place in the table.
    let printed = format!("{shipped:?}");
    let is_number = |word: &&str| word.parse::<f64>().is_ok();
    let n_printed = printed.split([' ', ',', '[', ']', '}']).filter(is_number).count();
    assert_eq!(n_printed, NUMBERS.len());
    for (number, (name, value)) in NUMBERS.iter().zip(shipped.to_numbers()) {
        assert_eq!(number.name, name);
        assert!((number.low..=number.high).contains(&value), "{name}");
    }
    let moved: Vec<(&str, f64)> = NUMBERS
        .iter()
        .enumerate()
        .map(|(idx, number)| {
            let share = 0.1 + 0.8 * idx as f64 / NUMBERS.len() as f64;
            (number.name, number.low + share * (number.high - number.low))
        })
        .collect();
    let back = Pooled::from_numbers(moved.iter().rev().copied()).unwrap();
    assert_eq!(back.to_numbers(), moved);
    assert_eq!(Pooled::from_numbers(shipped.to_numbers()), Ok(shipped));
}

#[test]
fn numbers_that_are_no_pooled_values_are_refused_by_name() {
    let numbers = Pooled::shipped().to_numbers();
    let with = |change: &dyn Fn(&mut Named)| {
        let mut numbers = numbers.clone();
        change(&mut numbers);
        Pooled::from_numbers(numbers).unwrap_err()
    };
    assert_eq!(with(&|n| n.truncate(3)), PooledError::Missing { name: "slowness" });
    assert_eq!(with(&|n| n.push(("drift", 0.001))), PooledError::Twice { name: "drift" });
    let unknown = PooledError::Unknown { name: "slownes".to_owned() };
    assert_eq!(with(&|n| n[3].0 = "slownes"), unknown);
    for (idx, number) in NUMBERS.iter().enumerate() {
        let span = number.high - number.low;
        for wrong in [number.low - 0.01 * span, number.high + 0.01 * span, f64::NAN, f64::INFINITY]
        {
            let error = with(&|n| n[idx].1 = wrong);
            let named =
                matches!(error, PooledError::OutOfRange { name, .. } if name == number.name);
            assert!(named, "{} {wrong}: {error}", number.name);
        }
    }
    let words = with(&|n| n[3].1 = 30.0).to_string();
    let wanted = "`slowness` is 30 and must lie from 0.2 to 5: check the unit and the decimal mark";
    assert_eq!(words, wanted);
}

/// The second set of the last day is of so many repetitions.
fn four_days_with_a_second_set(lifter: &mut Lifter, last: u16) {
    for day in 0..4_u16 {
        let set = |reps| LeadSet {
            days: 40.0 + 3.0 * f64::from(day),
            moved_kg: 110.0,
            reps,
            reserve: Reserve::Reported(1.0),
        };
        lifter.lead(1, set(6));
        lifter.later(1, set(if day == 3 { last } else { 5 }));
    }
}
