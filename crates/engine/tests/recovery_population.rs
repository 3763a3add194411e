//! Pooling lifters: middles and spreads that were put in come out again, and how much an anchor counts.
//!
//! Lifters are drawn here from known middles and spreads, all numbers invented. The closed form for
//! exactly known lifters is the normal mean with a normal prior (Gelman and others, Bayesian Data
//! Analysis, chapter 2: from memory).

use domain::{Catalogue, LiftName};
use engine::pooling::{PoolingError, Verdict};
use engine::recovery::{Event, LifterEstimate, Pooled, Shape, regrow, repool};
use engine::strength::Reserve;
use engine::trend::LeadSet;
use rand::SeedableRng;
use rand_distr::{Distribution, StandardNormal};

type Dice = rand::rngs::ChaCha12Rng;

const N: usize = 10;

fn normal(dice: &mut Dice) -> f64 {
    StandardNormal.sample(dice)
}

/// A lifter at `u`, known with the same precision in every component.
fn known(u: &[f64; N], precision: f64) -> LifterEstimate {
    let mut rows = [0.0; N * N];
    (0..N).for_each(|idx| rows[idx * (N + 1)] = precision);
    LifterEstimate::from_numbers(u, &rows).unwrap()
}

/// `n` lifters whose parameters lie around `middle` with sd `spread`, seen with noise.
fn drawn(
    n: usize,
    middle: &[f64; N],
    spread: f64,
    precision: f64,
    seed: u64,
) -> Vec<LifterEstimate> {
    let mut dice = Dice::seed_from_u64(seed);
    let noise = precision.sqrt().recip();
    (0..n)
        .map(|_| {
            let u = middle
                .map(|middle| middle + spread * normal(&mut dice) + noise * normal(&mut dice));
            known(&u, precision)
        })
        .collect()
}

/// The ten middles on the scale on which lifters differ, in sds of `shipped`, less those of `shipped`.
fn moved(pooled: &Pooled) -> [f64; N] {
    let shipped = Pooled::shipped();
    let log = |now: engine::recovery::Spread, then: engine::recovery::Spread| {
        (now.middle / then.middle).ln() / then.sd
    };
    let effect = |item: usize| {
        let (now, then) = (pooled.check_in_effects[item], shipped.check_in_effects[item]);
        (now.middle - then.middle) / then.sd
    };
    [
        log(pooled.muscle_sd, shipped.muscle_sd),
        log(pooled.slowness, shipped.slowness),
        log(pooled.form_sd, shipped.form_sd),
        log(pooled.drift, shipped.drift),
        log(pooled.unsteadiness, shipped.unsteadiness),
        log(pooled.reserve_share, shipped.reserve_share),
        effect(0),
        effect(1),
        effect(2),
        log(pooled.stress_slows, shipped.stress_slows),
    ]
}

/// The ten spreads relative to those of `shipped`.
fn widened(pooled: &Pooled) -> [f64; N] {
    let spreads = |p: &Pooled| {
        let [sleep, stress, soreness] = p.check_in_effects.map(|effect| effect.sd);
        let own = [p.muscle_sd, p.slowness, p.form_sd, p.drift, p.unsteadiness, p.reserve_share];
        let [a, b, c, d, e, f] = own.map(|spread| spread.sd);
        [a, b, c, d, e, f, sleep, stress, soreness, p.stress_slows.sd]
    };
    let (now, then) = (spreads(pooled), spreads(&Pooled::shipped()));
    std::array::from_fn(|idx| now[idx] / then[idx])
}

const MIDDLE: [f64; N] = [1.0, -1.0, 0.5, 2.0, 1.5, -0.5, 1.0, -2.0, 0.0, 0.7];

/// 600 lifters: the mean of u is known to 0.7·√(1 + …)/√600, about 0.035, and the eight of the anchor pull
/// by about 1 % of the distance; the sd is known to about 4 %. Tolerances: four times that.
#[test]
fn middles_and_spreads_that_were_put_in_come_out() {
    let shipped = Pooled::shipped();
    let lifters = drawn(600, &MIDDLE, 0.7, 4.0, 11);
    let (pooled, verdict) = repool(&shipped, &shipped, &lifters).unwrap();
    assert_eq!(verdict, Verdict::Converged);
    for (idx, (found, middle)) in moved(&pooled).iter().zip(MIDDLE).enumerate() {
        assert!((found - middle).abs() < 0.15, "{idx}: {found} against {middle}");
    }
    for (idx, found) in widened(&pooled).iter().enumerate() {
        assert!((found - 0.7).abs() < 0.12, "{idx}: {found}");
    }
    // What isn't pooled stays as it was.
    let others = |p: &Pooled| (p.cost, p.curve_b, p.slope, p.together, p.check_in_days);
    assert_eq!(others(&pooled), others(&shipped));
}

/// Lifters known exactly, with sd σ: the middle is n/σ²/(n/σ² + 8) of their mean away from the anchor's.
#[test]
fn the_anchor_counts_as_eight_lifters() {
    let shipped = Pooled::shipped();
    for n in [1_usize, 4, 30] {
        let lifters = drawn(n, &MIDDLE, 0.5, 1e9, 7);
        let mean: [f64; N] = std::array::from_fn(|idx| {
            let sum: f64 = lifters.iter().map(|one| one.to_numbers().0[idx]).sum();
            sum / n as f64
        });
        let (pooled, _) = repool(&shipped, &shipped, &lifters).unwrap();
        for (idx, sd) in widened(&pooled).iter().enumerate() {
            let weight = n as f64 / (sd * sd);
            let wanted = weight / (weight + 8.0) * mean[idx];
            let found = moved(&pooled)[idx];
            assert!((found - wanted).abs() < 1e-4, "{n}, {idx}: {found} against {wanted}");
        }
    }
}

/// Estimates made anew with the values found, from the same records, leave these where they are: the
/// anchor doesn't move with them, so no record counts twice.
#[test]
fn the_values_found_are_found_again() {
    let shipped = Pooled::shipped();
    let (precise, seen) = (1e4, drawn(12, &MIDDLE, 0.6, 1e4, 3));
    let (first, _) = repool(&shipped, &shipped, &seen).unwrap();
    let (middles, sds) = (moved(&first), widened(&first));
    let again: Vec<LifterEstimate> = seen
        .iter()
        .map(|one| {
            let (u, _) = one.to_numbers();
            // The same lifter in sds of the new values from their middles.
            let u: [f64; N] = std::array::from_fn(|idx| (u[idx] - middles[idx]) / sds[idx]);
            let mut rows = [0.0; N * N];
            (0..N).for_each(|idx| rows[idx * (N + 1)] = precise * sds[idx] * sds[idx]);
            LifterEstimate::from_numbers(&u, &rows).unwrap()
        })
        .collect();
    let (second, _) = repool(&first, &shipped, &again).unwrap();
    for idx in 0..N {
        let (middle, sd) = (moved(&second)[idx], widened(&second)[idx]);
        assert!((middle - middles[idx]).abs() < 1e-4, "{idx}: {middle} after {}", middles[idx]);
        assert!((sd / sds[idx] - 1.0).abs() < 1e-4, "{idx}: {sd} after {}", sds[idx]);
    }
}

#[test]
fn the_order_of_lifters_does_not_matter() {
    let shipped = Pooled::shipped();
    let mut lifters = drawn(9, &MIDDLE, 0.7, 3.0, 5);
    let (one, _) = repool(&shipped, &shipped, &lifters).unwrap();
    lifters.reverse();
    lifters.swap(1, 6);
    let (other, _) = repool(&shipped, &shipped, &lifters).unwrap();
    for ((name, a), (_, b)) in one.to_numbers().into_iter().zip(other.to_numbers()) {
        assert!((a - b).abs() <= 1e-6 * a.abs(), "{name}: {a} and {b}");
    }
    // The same order gives the same bits.
    assert_eq!(repool(&shipped, &shipped, &lifters).unwrap().0, other);
}

#[test]
fn nobody_is_an_error_and_one_lifter_moves_a_little() {
    let shipped = Pooled::shipped();
    assert!(matches!(repool(&shipped, &shipped, &[]), Err(PoolingError::NoPersons)));
    let (pooled, _) = repool(&shipped, &shipped, &[known(&MIDDLE, 1e6)]).unwrap();
    for (found, middle) in moved(&pooled).iter().zip(MIDDLE) {
        assert!(found * middle >= 0.0 && found.abs() <= 0.2 * middle.abs(), "{found} of {middle}");
    }
    // A lifter of whom the record says nothing changes nothing.
    let (pooled, _) = repool(&shipped, &shipped, &[known(&MIDDLE, 0.0)]).unwrap();
    assert!(moved(&pooled).iter().all(|moved| moved.abs() < 1e-6), "{:?}", moved(&pooled));
}

#[test]
fn no_spread_leaves_what_is_taken_for_one() {
    let shipped = Pooled::shipped();
    let alike: Vec<_> = (0..400).map(|_| known(&[0.0; N], 1e9)).collect();
    let (pooled, _) = repool(&shipped, &shipped, &alike).unwrap();
    assert!(widened(&pooled).iter().all(|by| (by - 0.2).abs() < 1e-9), "{:?}", widened(&pooled));
    let apart = drawn(400, &[0.0; N], 30.0, 1e6, 2);
    let (pooled, _) = repool(&shipped, &shipped, &apart).unwrap();
    assert!(widened(&pooled).iter().all(|by| (by - 5.0).abs() < 1e-9), "{:?}", widened(&pooled));
}

#[test]
fn estimates_come_back_from_their_numbers_and_other_sizes_are_refused() {
    let one = drawn(1, &MIDDLE, 0.7, 3.0, 5).remove(0);
    let (mean, precision) = one.to_numbers();
    assert_eq!((mean.len(), precision.len()), (N, N * N));
    assert_eq!(LifterEstimate::from_numbers(&mean, &precision), Ok(one));
    for (mean, precision) in [(&mean[1..], &precision[..]), (&mean[..], &precision[1..])] {
        let refused = LifterEstimate::from_numbers(mean, precision).unwrap_err();
        assert!(matches!(refused, PoolingError::Size { need: N, .. }), "{refused:?}");
    }
    let mut negative = precision.clone();
    negative[0] = -1.0;
    assert!(LifterEstimate::from_numbers(&mean, &negative).is_err());
    let mut no_number = mean.clone();
    no_number[2] = f64::NAN;
    assert!(LifterEstimate::from_numbers(&no_number, &precision).is_err());
}

/// Records of two lifts that gain `per_week` %, with scatter of 1 % and a little forms of the day.
fn records(n: usize, per_week: f64, seed: u64) -> Vec<(Shape, Vec<Event>)> {
    let catalogue = Catalogue::built_in();
    let find = |name: &str| catalogue.find(&LiftName::new(name).unwrap()).unwrap();
    let shape = Shape::of([find("back squat"), find("bench press")]);
    let mut dice = Dice::seed_from_u64(seed);
    let one = |dice: &mut Dice| {
        let mut events = Vec::new();
        for session in 0..40 {
            let days = 3.5 * f64::from(session);
            for lift in 0..2 {
                let log = 5.0 + per_week / 700.0 * days + 0.01 * normal(dice);
                // Five repetitions with two left, on the curve with b = 1/30.
                let moved_kg = log.exp() / (1.0 + 7.0 / 30.0);
                let reserve = Reserve::Reported(2.0);
                events
                    .push(Event::Lead { lift, set: LeadSet { days, moved_kg, reps: 5, reserve } });
            }
        }
        events
    };
    (0..n).map(|_| (shape.clone(), one(&mut dice))).collect()
}

/// How fast lifts grow is found from records of 20 weeks that grow at a known pace: first and lasting
/// slope can't be told apart there, so what is checked is the mean gain over the record.
#[test]
fn growth_that_was_put_in_comes_out() {
    let shipped = Pooled::shipped();
    let gain = |pooled: &Pooled| {
        let (days, t) = (136.5, pooled.slope_days);
        let fading = t * (1.0 - (-days / t).exp());
        let gained = pooled.slope.middle * fading + pooled.lasting_slope * (days - fading);
        700.0 * gained / days
    };
    for per_week in [0.05, 0.8] {
        let (pooled, _) = regrow(&shipped, &shipped, &records(6, per_week, 4)).unwrap();
        let (found, before) = (gain(&pooled), gain(&shipped));
        let near = (found - per_week).abs() < 0.3 * (before - per_week).abs();
        assert!(near, "{found} % a week where {per_week} was put in; {before} before");
        assert_eq!((pooled.muscle_sd, pooled.cost), (shipped.muscle_sd, shipped.cost));
        assert_eq!(pooled.drift.sd, shipped.drift.sd);
    }
}

#[test]
fn without_records_growth_stays_at_the_anchor() {
    let shipped = Pooled::shipped();
    let mut anchor = shipped.clone();
    anchor.slope_days = 90.0;
    let (pooled, _) = regrow(&shipped, &anchor, &[]).unwrap();
    assert!((pooled.slope_days / 90.0 - 1.0).abs() < 1e-2, "{}", pooled.slope_days);
    assert!((pooled.slope.middle / shipped.slope.middle - 1.0).abs() < 5e-2, "{:?}", pooled.slope);
}
