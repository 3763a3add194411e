//! Relations that the recovery model must keep on any record, and records meant to break it.
//!
//! No value here comes from elsewhere; `recovery_reference.rs` holds those. Records are invented at random,
//! with repeated times, absences, lifts without a first set, missing items and the least noise there is.

#[path = "../../domain/tests/support/properties.rs"]
mod properties;

use domain::Catalogue;
use engine::recovery::belief::Belief;
use engine::recovery::{Dynamics, Event, Freak, Lifter, Parameters, Pooled, Shape, State};
use engine::strength::Reserve;
use engine::trend::LeadSet;
use nalgebra::DMatrix;
use proptest::prelude::*;
use rand::{RngExt, SeedableRng, rngs::ChaCha8Rng};

/// The first so many lifts of the catalogue, spread over the whole of it.
fn shape(n_lifts: usize) -> Shape {
    let catalogue = Catalogue::built_in();
    let step = catalogue.lifts().len() / n_lifts;
    let lifts: Vec<_> = catalogue.lifts().iter().step_by(step).take(n_lifts).collect();
    assert_eq!(lifts.len(), n_lifts);
    Shape::of(lifts)
}

fn middles(shape: &Shape, pooled: &Pooled) -> Parameters {
    Lifter::new(shape.clone(), pooled.clone()).parameters().clone()
}

// ------------------------------------------------------------------------------------------------
// Records

/// One event before it has a day: days since the last one, and what happens.
type Raw = (f64, u8, usize, (f64, u16, Option<u8>), [Option<f64>; 3]);

fn gap() -> impl Strategy<Value = f64> {
    prop_oneof![4 => Just(0.0), 6 => 0.01..4.0, 1 => 14.0..90.0]
}

fn raw(n_lifts: usize) -> impl Strategy<Value = Raw> {
    let item = || proptest::option::weighted(0.7, -3.0..3.0);
    let set = (0.6..1.6, 1..=14_u16, proptest::option::of(0..=6_u8));
    (gap(), 0..8_u8, 0..n_lifts, set, [item(), item(), item()])
}

fn events(raw: &[Raw]) -> Vec<Event> {
    let mut days = 0.0;
    let event = |&(gap, what, lift, (factor, reps, reserve), items): &Raw| {
        days += gap;
        let reserve = match reserve {
            Some(left) => Reserve::Reported(f64::from(left)),
            None => Reserve::unreported(1.0),
        };
        match what {
            0 | 1 => Event::CheckIn { days, items },
            2..=4 => Event::Work { lift, days, hard_sets: factor * 3.0 },
            _ => {
                let moved_kg = factor * (60.0 + 20.0 * lift as f64);
                Event::Lead { lift, set: LeadSet { days, moved_kg, reps, reserve } }
            }
        }
    };
    raw.iter().map(event).collect()
}

/// A record taken by a lifter, whose check-ins are told and not yet centred.
fn tell(lifter: &mut Lifter, event: &Event) {
    match *event {
        Event::CheckIn { days, items } => lifter.check_in(days, items.map(|one| Some(one? + 5.0))),
        Event::Work { lift, days, hard_sets } => lifter.work(lift, days, hard_sets),
        Event::Lead { lift, set } | Event::WorkSets { lift, set, .. } => {
            lifter.lead(lift, set);
        }
    }
}

fn told(shape: &Shape, events: &[Event]) -> Lifter {
    let mut lifter = Lifter::new(shape.clone(), Pooled::shipped());
    events.iter().for_each(|event| tell(&mut lifter, event));
    lifter
}

/// Every number of a state, to the bit.
fn bits(state: &State) -> Vec<u64> {
    let belief = state.belief();
    let n = belief.len();
    let covariances = (0..n * n).map(|at| belief.covariance(at / n, at % n));
    (0..n).map(|row| belief.mean(row)).chain(covariances).map(f64::to_bits).collect()
}

// ------------------------------------------------------------------------------------------------
// Sound: finite, and a covariance is one

/// Smallest eigenvalue at least −1e-9 of the largest; everything finite.
fn check_sound(belief: &Belief) -> Result<(), String> {
    let n = belief.len();
    if let Some(row) = (0..n).find(|&row| !belief.mean(row).is_finite()) {
        return Err(format!("mean of {row} is {}", belief.mean(row)));
    }
    let covariance = DMatrix::from_fn(n, n, |row, col| belief.covariance(row, col));
    if covariance.iter().any(|one| !one.is_finite()) {
        return Err("a covariance is not finite".to_owned());
    }
    let values = covariance.symmetric_eigenvalues();
    let (least, most) = (values.min(), values.max());
    if least < -1e-9 * most { Err(format!("eigenvalues {least:e} to {most:e}")) } else { Ok(()) }
}

/// What readings are made of, for every lift with a record.
fn check_readings(lifter: &Lifter, days: f64) -> Result<(), String> {
    for lift in 0..lifter.shape().n_lifts() {
        for (kg, reps, left) in [(100.0, 5, 1.0), (60.0, 12, 0.0), (200.0, 1, 0.0)] {
            let set = LeadSet { days, moved_kg: kg, reps, reserve: Reserve::Reported(left) };
            let Some(expected) = lifter.expect(lift, &set) else { continue };
            let shown = lifter.shown_by(&set).ok_or("not shown")?;
            let p = [
                expected.p_shortfall(shown, 0.02),
                expected.p_shortfall_before(0.02),
                expected.p_shortfall_in_step(shown, 0.02),
                expected.chance_of_at_least(reps),
            ];
            let (low, high) = expected.interval();
            let all = [expected.mean, expected.variance(), expected.sd(), low, high];
            if all.iter().any(|one| !one.is_finite()) || expected.variance() <= 0.0 {
                return Err(format!("lift {lift}: {all:?}"));
            }
            if p.iter().any(|one| !(0.0..=1.0).contains(one)) {
                return Err(format!("lift {lift}: probabilities {p:?}"));
            }
        }
    }
    for muscle in lifter.muscles(days, 0.02) {
        if !(0.0..=1.0).contains(&muscle.p_short) {
            return Err(format!("{muscle:?}"));
        }
    }
    Ok(())
}

proptest! {
    #![proptest_config(properties::config(60))]

    #[test]
    fn beliefs_stay_sound(raw in proptest::collection::vec(raw(3), 1..60)) {
        let (shape, pooled) = (shape(3), Pooled::shipped());
        let parameters = middles(&shape, &pooled);
        let dynamics = Dynamics { shape: &shape, pooled: &pooled, parameters: &parameters };
        let mut state = dynamics.start();
        for event in events(&raw) {
            let surprise = dynamics.take(&mut state, &event);
            prop_assert_eq!(check_sound(&state.belief()), Ok(()), "after {:?}", event);
            if let Some(one) = surprise {
                prop_assert!(one.variance > 0.0 && one.log_density.is_finite(), "{:?}", one);
                prop_assert!((0.0..=1.0).contains(&one.p_freak), "{:?}", one);
            }
        }
        let lifter = told(&shape, &events(&raw));
        let last = events(&raw).iter().map(Event::days).fold(0.0, f64::max);
        prop_assert_eq!(check_readings(&lifter, last + 2.0), Ok(()));
    }
}

/// What ten years hold.
#[derive(Clone, Copy, Debug)]
struct Years {
    n_lifts: usize,
    check_ins: bool,
    sets: bool,
    /// Every set to failure, every scatter and share at its least: no noise but counting.
    no_noise: bool,
    /// Every set four times over at the same moment.
    repeated: bool,
}

/// Three sessions of up to four lifts a week for ten years, with a month away each year; checked once a
/// year, and after the first ten sessions each.
fn ten_years(years: Years) {
    let (shape, pooled) = (shape(years.n_lifts), Pooled::shipped());
    let mut parameters = middles(&shape, &pooled);
    if years.no_noise {
        parameters.scatter.fill(0.0);
        parameters.reserve_share = 0.0;
    }
    let dynamics = Dynamics { shape: &shape, pooled: &pooled, parameters: &parameters };
    let mut state = dynamics.start();
    let mut random = ChaCha8Rng::seed_from_u64(7);
    let mut days = 0.0;
    let mut n_read = 0;
    for session in 0..1560_usize {
        days += if session % 156 == 100 { 31.0 } else { random.random_range(1.5..3.0) };
        if years.check_ins {
            let items =
                [0, 1, 2].map(|_| random.random_bool(0.8).then(|| random.random_range(-2.0..2.0)));
            dynamics.take(&mut state, &Event::CheckIn { days, items });
        }
        for turn in 0..if years.sets { 4.min(years.n_lifts) } else { 0 } {
            let lift = (session * 4 + turn) % years.n_lifts;
            let reserve =
                if years.no_noise { 0.0 } else { f64::from(random.random_range(0..4_u8)) };
            let reps = random.random_range(4..10);
            let set = LeadSet { days, moved_kg: 100.0, reps, reserve: Reserve::Reported(reserve) };
            for _ in 0..if years.repeated { 4 } else { 1 } {
                n_read +=
                    usize::from(dynamics.take(&mut state, &Event::Lead { lift, set }).is_some());
                dynamics.take(&mut state, &Event::Work { lift, days, hard_sets: 3.0 });
            }
        }
        if session < 10 || session % 156 == 155 {
            assert_eq!(check_sound(&state.belief()), Ok(()), "{years:?}, session {session}");
        }
    }
    assert!(days > 3_400.0 && (n_read > 1_500) == years.sets, "{days} days, {n_read} sets read");
}

const USUAL: Years =
    Years { n_lifts: 4, check_ins: true, sets: true, no_noise: false, repeated: false };

#[test]
fn ten_years_stay_sound() {
    ten_years(USUAL);
    ten_years(Years { check_ins: false, ..USUAL });
    ten_years(Years { sets: false, ..USUAL });
    ten_years(Years { sets: false, check_ins: false, ..USUAL });
    ten_years(Years { n_lifts: 1, ..USUAL });
}

#[test]
fn ten_years_without_noise_stay_sound() {
    ten_years(Years { no_noise: true, ..USUAL });
    ten_years(Years { no_noise: true, repeated: true, ..USUAL });
    ten_years(Years { no_noise: true, n_lifts: 1, repeated: true, check_ins: false, ..USUAL });
}

#[test]
fn ten_years_of_repeated_times_stay_sound() {
    ten_years(Years { repeated: true, ..USUAL });
}

#[test]
fn ten_years_of_forty_lifts_stay_sound() {
    ten_years(Years { n_lifts: 40, ..USUAL });
}

/// Three years in which nothing happens: what fades has long faded away and come again, so that day by day it is
/// as at the start, whatever coordinates the belief is kept in. Without training levels follow their slopes.
#[test]
fn time_alone_leaves_everything_as_it_was() {
    let (shape, pooled) = (shape(3), Pooled::shipped());
    let parameters = Lifter::new(shape.clone(), pooled.clone()).parameters().clone();
    let dynamics = Dynamics { shape: &shape, pooled: &pooled, parameters: &parameters };
    let mut state = dynamics.start();
    let start = state.belief();
    let n_fading = 6 + shape.muscles().len();
    for day in 0..1_100 {
        dynamics.pass(&mut state, f64::from(day));
        let now = state.belief();
        // Of the rows before the lifts': absence and cost don't come again.
        for row in (0..n_fading).filter(|row| *row != 1 && *row != 2) {
            let (was, is) = (start.covariance(row, row), now.covariance(row, row));
            assert!((is / was - 1.0).abs() < 1e-9, "day {day}, row {row}: {is} for {was}");
        }
        // A first slope fades to the lasting one, and its level follows.
        let left = (-f64::from(day) / pooled.slope_days).exp();
        let slope = pooled.lasting_slope + left * (pooled.slope.middle - pooled.lasting_slope);
        assert!((now.mean(n_fading + 1) / slope - 1.0).abs() < 1e-9, "day {day}");
        let gained = pooled.lasting_slope * f64::from(day)
            + pooled.slope_days * (1.0 - left) * (pooled.slope.middle - pooled.lasting_slope);
        assert!((now.mean(n_fading) - gained).abs() < 1e-12, "day {day}: {gained}");
    }
}

/// The same number observed again and again without any noise, and then another: what is known for sure
/// stays a number, and noise of 0 is taken for the least there is.
#[test]
fn exact_observations_leave_a_covariance() {
    let mut belief = Belief::new(2);
    belief.disturb(0, 0.0, 4e-4);
    belief.disturb(1, 0.0, 1e-4);
    for (times, observed) in [(50, 0.01), (3, 0.02)] {
        for _ in 0..times {
            let surprise = belief.observe(&[(0, 1.0), (1, 0.5)], observed, 0.0, Freak::NONE);
            assert!(surprise.variance > 0.0 && surprise.log_density.is_finite(), "{surprise:?}");
            assert_eq!(check_sound(&belief), Ok(()));
        }
    }
    // 53 numbers of equal weight: 50·0.01 + 3·0.02 of 53.
    assert!((belief.mean_of(&[(0, 1.0), (1, 0.5)]) - 0.56 / 53.0).abs() < 1e-6, "{belief:?}");
}

/// Nothing known, nothing told: no forecast, muscles at their usual, and every question answered.
#[test]
fn an_empty_record_is_no_trouble() {
    for n_lifts in [1, 40] {
        let mut lifter = told(&shape(n_lifts), &[]);
        assert_eq!(check_readings(&lifter, 3.0), Ok(()));
        let set = LeadSet { days: 3.0, moved_kg: 100.0, reps: 5, reserve: Reserve::Reported(1.0) };
        assert!(lifter.expect(0, &set).is_none() && lifter.today(0, 3.0).is_none());
        assert_eq!((lifter.absence(3.0), lifter.log_likelihood()), ((0.0, 0.0), 0.0));
        assert!(lifter.session(&[(0, 3.0)], 3.0).mean.is_empty());
        lifter.refit();
        assert_eq!((lifter.log_likelihood(), lifter.exposures(0)), (0.0, 0));
    }
}

/// What is expected on a day that can't be is what is expected on the latest.
#[test]
fn an_impossible_day_is_the_latest() {
    let mut lifter = Lifter::new(shape(2), Pooled::shipped());
    let set = LeadSet { days: 5.0, moved_kg: 100.0, reps: 5, reserve: Reserve::Reported(1.0) };
    assert!(lifter.lead(0, set) && lifter.lead(0, LeadSet { days: 8.0, ..set }));
    let expected = |days: f64| lifter.expect(0, &LeadSet { days, ..set }).unwrap();
    for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 1e300, -1e300] {
        assert_eq!(expected(bad), expected(8.0), "{bad}");
        assert_eq!(lifter.absence(bad), lifter.absence(8.0), "{bad}");
        assert_eq!(lifter.session(&[(0, 3.0)], bad), lifter.session(&[(0, 3.0)], 8.0), "{bad}");
    }
}

/// Numbers that are no numbers, or beyond all measure, are not taken: nothing changes.
#[test]
fn hostile_events_change_nothing() {
    let (shape, pooled) = (shape(2), Pooled::shipped());
    let parameters = middles(&shape, &pooled);
    let dynamics = Dynamics { shape: &shape, pooled: &pooled, parameters: &parameters };
    let set = LeadSet { days: 5.0, moved_kg: 100.0, reps: 5, reserve: Reserve::Reported(1.0) };
    let mut state = dynamics.start();
    dynamics.take(&mut state, &Event::Lead { lift: 0, set });
    let before = bits(&state);
    for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 1e300, -1e300] {
        for event in [
            Event::CheckIn { days: bad, items: [Some(1.0), None, None] },
            Event::CheckIn { days: 6.0, items: [None, Some(bad), None] },
            Event::Work { lift: 0, days: bad, hard_sets: 3.0 },
            Event::Work { lift: 0, days: 6.0, hard_sets: bad },
            Event::Lead { lift: 0, set: LeadSet { days: bad, ..set } },
            Event::Lead { lift: 0, set: LeadSet { moved_kg: bad, ..set } },
            Event::Lead { lift: 0, set: LeadSet { reserve: Reserve::Reported(bad), ..set } },
        ] {
            assert!(dynamics.take(&mut state, &event).is_none());
            assert!(bits(&state) == before, "{event:?}");
        }
    }
    for event in [
        Event::Work { lift: 0, days: 6.0, hard_sets: -1.0 },
        Event::Lead { lift: 0, set: LeadSet { reps: 0, ..set } },
        Event::Lead { lift: 0, set: LeadSet { reps: 25, ..set } },
        Event::Lead { lift: 0, set: LeadSet { moved_kg: 0.0, ..set } },
    ] {
        assert!(dynamics.take(&mut state, &event).is_none());
        assert!(bits(&state) == before, "{event:?}");
    }
}

// ------------------------------------------------------------------------------------------------
// Steps

/// Nor does one that tells nothing part the dose of two sets in a row.
#[test]
fn an_empty_check_in_between_two_sets_leaves_one_dose() {
    let dosed = |between: bool| {
        let mut lifter = told(&shape(1), &[]);
        let set = LeadSet { days: 1.0, moved_kg: 80.0, reps: 6, reserve: Reserve::Reported(2.0) };
        lifter.lead(0, set);
        lifter.work(0, 1.0, 1.0);
        if between {
            lifter.check_in(1.0, [None; 3]);
        }
        lifter.work(0, 1.0, 1.0);
        lifter.lead(0, LeadSet { days: 2.0, ..set });
        lifter.log_likelihood()
    };
    assert_eq!(dosed(true), dosed(false));
}

/// One to three repetitions where seven were likely are a cramp or a miscount. They say at which repetitions
/// a lift is read from then on, and through that move its curve and its 1RM: by a fortieth of b and one per cent
/// at most, a third of the 1RM's own interval.
#[test]
fn one_freak_set_leaves_curve_and_one_rm_alone() {
    let after = |odd_at: u16, odd_reps: Option<u16>| {
        let mut lifter = Lifter::new(shape(3), Pooled::shipped());
        let mut told = Vec::new();
        for session in 0..28_u16 {
            let days = 3.5 * f64::from(session);
            let usual = 7 - [0, 1, 0, 1, 1][usize::from(session % 5)];
            let reps = odd_reps.filter(|_| session == odd_at).unwrap_or(usual);
            lifter
                .lead(0, LeadSet { days, moved_kg: 100.0, reps, reserve: Reserve::Reported(1.0) });
            lifter.work(0, days, 3.0);
            told.push((lifter.curve(0).b(), lifter.today(0, days).unwrap().log_one_rm));
        }
        told
    };
    for (odd_at, odd_reps) in [(20, 1), (20, 2), (20, 3), (23, 1), (23, 2), (23, 3)] {
        let pairs = after(odd_at, None).into_iter().zip(after(odd_at, Some(odd_reps)));
        for (usual, odd) in pairs {
            let (of_b, of_one_rm) = ((odd.0 / usual.0).ln().abs(), (odd.1 - usual.1).abs());
            assert!(of_b < 0.025 && of_one_rm < 0.01, "{odd_at} {odd_reps}: {of_b} {of_one_rm}");
        }
    }
}

/// A belief of seven quantities with means and a covariance from `numbers`, and the covariance.
fn belief(numbers: &[f64]) -> (Belief, DMatrix<f64>) {
    let root = DMatrix::from_row_slice(7, 7, &numbers[7..56]);
    let covariance = &root * root.transpose();
    let mut belief = Belief::new(7);
    for row in 0..7 {
        belief.disturb(row, numbers[row], covariance[(row, row)]);
        (0..row).for_each(|col| belief.correlate(row, col, covariance[(row, col)]));
    }
    (belief, covariance)
}

proptest! {
    #![proptest_config(properties::config(256))]

    /// Each step, done in place on a triangle, is x ← T·x: mean T·m, covariance T·P·T'.
    #[test]
    fn steps_are_matrix_products(numbers in proptest::collection::vec(-1.0..1.0_f64, 56)) {
        let (before, covariance) = belief(&numbers);
        let amount = numbers[0] * 2.0;
        type Step<'a> = &'a dyn Fn(&mut Belief, &mut DMatrix<f64>);
        let stretch: Step<'_> = &|belief, map| {
            belief.stretch(3, amount);
            map[(3, 3)] = amount;
        };
        let approach: Step<'_> = &|belief, map| {
            belief.approach(4, 0.3, &[(0, 1.0), (6, amount)]);
            (map[(4, 4)], map[(4, 0)], map[(4, 6)]) = (0.7, 0.3, 0.3 * amount);
        };
        for (name, step) in [
            ("stretch", stretch),
            ("approach", approach),
        ] {
            let (mut after, mut map) = (before.clone(), DMatrix::identity(7, 7));
            step(&mut after, &mut map);
            let expected = &map * &covariance * map.transpose();
            for row in 0..7 {
                let mean: f64 = (0..7).map(|col| map[(row, col)] * before.mean(col)).sum();
                prop_assert!((after.mean(row) - mean).abs() < 1e-13, "{name}, mean of {row}");
                for col in 0..7 {
                    let gap = after.covariance(row, col) - expected[(row, col)];
                    prop_assert!(gap.abs() < 1e-12, "{name}, {row} and {col}: {gap}");
                }
            }
        }
    }
}

// ------------------------------------------------------------------------------------------------
// Relations

proptest! {
    #![proptest_config(properties::config(40))]

    /// Kilograms are as good as pounds: a factor on all loads moves levels by its logarithm and nothing
    /// else. Tolerance: rounding, as it grows over a record.
    #[test]
    fn a_factor_on_all_loads_moves_levels_alone(
        raw in proptest::collection::vec(raw(3), 5..80),
        factor in 0.05..20.0,
    ) {
        let shape = shape(3);
        let events = events(&raw);
        let scaled = |event: &Event| match *event {
            Event::Lead { lift, set } => {
                let set = LeadSet { moved_kg: set.moved_kg * factor, ..set };
                Event::Lead { lift, set }
            }
            other => other,
        };
        let (one, other) = (told(&shape, &events), told(&shape, &events.iter().map(scaled).collect::<Vec<_>>()));
        let days = events.iter().map(Event::days).fold(0.0, f64::max) + 1.0;
        prop_assert!((one.log_likelihood() - other.log_likelihood()).abs() < 1e-7);
        for lift in 0..3 {
            prop_assert_eq!(one.exposures(lift), other.exposures(lift));
            let set = LeadSet { days, moved_kg: 90.0, reps: 6, reserve: Reserve::Reported(1.0) };
            let moved = LeadSet { moved_kg: 90.0 * factor, ..set };
            let Some((left, right)) = one.expect(lift, &set).zip(other.expect(lift, &moved)) else { continue };
            prop_assert!((right.mean - left.mean - f64::ln(factor)).abs() < 1e-9);
            let (today, then) = (one.today(lift, days).unwrap(), other.today(lift, days).unwrap());
            prop_assert!((then.log_one_rm - today.log_one_rm - f64::ln(factor)).abs() < 1e-9);
            prop_assert!((then.slope - today.slope).abs() < 1e-9);
            let (shown, seen) = (one.shown_by(&set).unwrap(), other.shown_by(&moved).unwrap());
            for shortfall in [0.01, 0.02, 0.05] {
                let gap = left.p_shortfall(shown, shortfall) - right.p_shortfall(seen, shortfall);
                prop_assert!(gap.abs() < 1e-8, "{}", gap);
            }
            prop_assert!((left.chance_of_at_least(6) - right.chance_of_at_least(6)).abs() < 1e-8);
        }
    }

    /// A check-in that tells nothing is as good as none, to the bit, whenever it comes.
    #[test]
    fn a_missing_check_in_is_one_never_sent(
        raw in proptest::collection::vec(raw(3), 1..60),
        at in 0..60_usize,
        later in 0.0..3.0,
    ) {
        let (shape, events) = (shape(3), events(&raw));
        let mut with = events.clone();
        let at = at.min(events.len());
        let days = if at == 0 { 0.0 } else { events[at - 1].days() };
        // Not after the next event: time doesn't go backwards in a record.
        let next = events.get(at).map_or(f64::INFINITY, Event::days);
        let days = f64::min(days + later, next);
        with.insert(at, Event::CheckIn { days, items: [None; 3] });
        let pooled = Pooled::shipped();
        let parameters = middles(&shape, &pooled);
        let dynamics = Dynamics { shape: &shape, pooled: &pooled, parameters: &parameters };
        let read = |events: &[Event]| {
            let mut state = dynamics.start();
            for event in events {
                dynamics.take(&mut state, event);
            }
            bits(&state)
        };
        prop_assert!(read(&events) == read(&with));
        prop_assert_eq!(told(&shape, &events).log_likelihood(), told(&shape, &with).log_likelihood());
    }

    /// The same events in the same order give the same numbers to the bit: told one by one with other
    /// lifters read in between, read again from the record, or fitted twice.
    #[test]
    fn the_same_record_gives_the_same_numbers(raw in proptest::collection::vec(raw(2), 1..60)) {
        let (shape, events) = (shape(2), events(&raw));
        let mut one = Lifter::new(shape.clone(), Pooled::shipped());
        let mut stranger = Lifter::new(shape.clone(), Pooled::shipped());
        for event in &events {
            tell(&mut stranger, event);
            tell(&mut one, event);
            tell(&mut stranger, event);
            check_readings(&one, event.days() + 1.0).map_err(TestCaseError::fail)?;
        }
        let mut other = told(&shape, &events);
        let days = events.iter().map(Event::days).fold(0.0, f64::max) + 0.5;
        for fitted in [false, true] {
            if fitted {
                one.refit();
                other.refit();
            }
            prop_assert_eq!(one.log_likelihood().to_bits(), other.log_likelihood().to_bits());
            prop_assert_eq!(one.parameters(), other.parameters());
            for lift in 0..2 {
                let set = LeadSet { days, moved_kg: 80.0, reps: 5, reserve: Reserve::Reported(2.0) };
                prop_assert_eq!(one.expect(lift, &set), other.expect(lift, &set));
            }
            prop_assert_eq!(one.muscles(days, 0.02), other.muscles(days, 0.02));
        }
    }

    /// Asking for an earlier day changes nothing, and an event that comes in late, with a day before the
    /// latest one, is taken as if it were of the latest.
    #[test]
    fn time_going_backwards_changes_nothing(
        raw in proptest::collection::vec(raw(2), 2..50),
        back in 0.0..40.0,
        which in 1..50_usize,
    ) {
        let (shape, pooled) = (shape(2), Pooled::shipped());
        let parameters = middles(&shape, &pooled);
        let dynamics = Dynamics { shape: &shape, pooled: &pooled, parameters: &parameters };
        // A check-in that tells nothing is none: it moves no clock.
        let tells = |event: &Event| !matches!(event, Event::CheckIn { items: [None, None, None], .. });
        let mut events: Vec<Event> = events(&raw).into_iter().filter(tells).collect();
        events.insert(0, Event::Work { lift: 0, days: 0.0, hard_sets: 3.0 });
        let which = which.min(events.len() - 1);
        prop_assume!(which > 0);
        let (mut state, mut late) = (dynamics.start(), dynamics.start());
        for (idx, event) in events.iter().enumerate() {
            // On the day of the one before it, or told to be of before.
            let then = if idx == which { events[idx - 1].days() } else { event.days() };
            let before = if idx == which { then - back } else { then };
            dynamics.take(&mut state, &dated(event, then));
            dynamics.take(&mut late, &dated(event, before));
            let now = bits(&late);
            dynamics.pass(&mut late, then - back);
            prop_assert!(bits(&late) == now);
        }
        prop_assert!(bits(&state) == bits(&late));
    }
}

fn dated(event: &Event, days: f64) -> Event {
    match *event {
        Event::CheckIn { items, .. } => Event::CheckIn { days, items },
        Event::Work { lift, hard_sets, .. } => Event::Work { lift, days, hard_sets },
        Event::Lead { lift, set } | Event::WorkSets { lift, set, .. } => {
            Event::Lead { lift, set: LeadSet { days, ..set } }
        }
    }
}
