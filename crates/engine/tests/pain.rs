//! The association of pain with lifts: against the joint normal distribution of everything, worked out whole
//! with the general-purpose library nalgebra, and on invented records whose truth is known.

use engine::pain::{NOTICED, PainDay, associations};
use nalgebra::{Cholesky, DMatrix, DVector};
use rand::rngs::ChaCha8Rng;
use rand::{RngExt as _, SeedableRng as _};
use rand_distr::{Distribution as _, StandardNormal};

const LOADS: [f64; 4] = [1.0, 0.5, 0.75, 0.0];

/// Sessions two and three days apart, each with some of four lifts, and nothing told yet.
fn sessions(random: &mut ChaCha8Rng, n: usize) -> Vec<PainDay> {
    (0..n)
        .map(|place| {
            let mut sets =
                || if random.random_bool(0.5) { f64::from(random.random_range(2..5)) } else { 0.0 };
            PainDay {
                days: (place * 7 / 3) as f64,
                worst: 0.0,
                sets: (0..4).map(|_| sets()).collect(),
            }
        })
        .collect()
}

/// Ratings as they would be told: a wandering level, effects of a usual day's sets, noise; whole points
/// between 0 and 10.
fn tell(days: &mut [PainDay], effects: [f64; 4], level: f64, random: &mut ChaCha8Rng) {
    let mut level = level;
    let usual: Vec<f64> = (0..4).map(|lift| usual(days, lift)).collect();
    for day in days {
        let normal: [f64; 2] = [StandardNormal.sample(random), StandardNormal.sample(random)];
        level += 0.2 * normal[0];
        let lifts: f64 = (0..4).map(|lift| effects[lift] * day.sets[lift] / usual[lift]).sum();
        day.worst = (level + lifts + 0.8 * normal[1]).round().clamp(0.0, 10.0);
    }
}

fn usual(days: &[PainDay], lift: usize) -> f64 {
    let with: Vec<f64> = days.iter().map(|day| day.sets[lift]).filter(|sets| *sets > 0.0).collect();
    with.iter().sum::<f64>() / with.len() as f64
}

#[test]
fn equals_the_joint_normal_distribution_worked_out_whole() {
    let mut random = ChaCha8Rng::seed_from_u64(11);
    let mut days = sessions(&mut random, 40);
    tell(&mut days, [1.5, 0.0, 0.8, 0.0], 2.0, &mut random);
    let got = associations(&days, &LOADS);
    assert_eq!(got.len(), 3, "a lift that doesn't load the joint is left out");

    let n = days.len();
    let parts = DMatrix::from_fn(n, 3, |day, lift| days[day].sets[lift] / usual(&days, lift));
    let spread =
        DMatrix::from_diagonal(&DVector::from_fn(3, |lift, _| (2.0 * LOADS[lift]).powi(2)));
    let told = DVector::from_fn(n, |day, _| days[day].worst);
    let mut weighed = Vec::new();
    for wander in [0.1_f64, 0.3, 0.6, 1.2] {
        for noise in [0.4_f64, 0.8, 1.4, 2.2] {
            let level = DMatrix::from_fn(n, n, |a, b| {
                let since = days[a.min(b)].days - days[0].days;
                4.0 + wander * wander / 7.0 * since + if a == b { noise * noise } else { 0.0 }
            });
            let whole = Cholesky::new(level + &parts * &spread * parts.transpose()).unwrap();
            let gain = &spread * parts.transpose() * whole.inverse();
            let mean = &gain * &told;
            let left = &spread - &gain * &parts * &spread;
            let log_likelihood = -0.5 * (told.dot(&whole.solve(&told)) + whole.ln_determinant());
            weighed.push((log_likelihood, mean, left));
        }
    }
    let best = weighed.iter().map(|one| one.0).fold(f64::NEG_INFINITY, f64::max);
    let all: f64 = weighed.iter().map(|one| (one.0 - best).exp()).sum();
    for lift in 0..3 {
        let over = |value: &dyn Fn(f64, f64) -> f64| -> f64 {
            let each = weighed.iter().map(|(log, mean, left)| {
                (log - best).exp() / all * value(mean[lift], left[(lift, lift)])
            });
            each.sum()
        };
        let mean = over(&|mean, _| mean);
        let sd = (over(&|mean, variance| variance + mean * mean) - mean * mean).sqrt();
        assert_eq!(got[lift].lifts, [lift]);
        let (low, middle, high) = got[lift].points;
        let close = |a: f64, b: f64| assert!((a - b).abs() < 1e-9, "lift {lift}: {a} and {b}");
        close(middle, mean);
        // The deviate of the 90th percentile: NIST/SEMATECH e-Handbook, table 1.3.6.7.1, gives 1.28.
        close(high - low, 2.0 * 1.281_551_565_545 * sd);
    }
}

#[test]
fn intervals_hold_the_truth_about_as_often_as_they_say() {
    let mut random = ChaCha8Rng::seed_from_u64(12);
    let (mut held, mut all, mut said, mut right) = (0.0, 0.0, 0.0, 0.0);
    for _ in 0..200 {
        let mut days = sessions(&mut random, 60);
        let mut effects = [0.0; 4];
        for (effect, load) in effects.iter_mut().zip(LOADS) {
            let normal: f64 = StandardNormal.sample(&mut random);
            *effect = (1.2 * load * normal).max(0.0);
        }
        tell(&mut days, effects, 2.0, &mut random);
        for association in associations(&days, &LOADS) {
            let effect = effects[association.lifts[0]];
            let (low, _, high) = association.points;
            all += 1.0;
            held += f64::from(low <= effect && effect <= high);
            if association.p_more > 0.9 {
                said += 1.0;
                right += f64::from(effect >= NOTICED);
            }
        }
    }
    let (share, true_share) = (held / all, right / said);
    assert!((0.72..0.92).contains(&share), "held the truth in {share:.2} of {all}");
    assert!(said > 50.0 && true_share > 0.9, "{true_share:.2} of {said} said to be nine in ten");
}

#[test]
fn lifts_always_done_together_are_taken_as_one() {
    let mut random = ChaCha8Rng::seed_from_u64(13);
    let mut days = sessions(&mut random, 60);
    for day in &mut days {
        day.sets[2] = day.sets[0];
    }
    tell(&mut days, [2.0, 0.0, 0.0, 0.0], 1.5, &mut random);
    let got = associations(&days, &LOADS);
    let lifts: Vec<&[usize]> = got.iter().map(|one| one.lifts.as_slice()).collect();
    assert_eq!(lifts, [&[0, 2][..], &[1]]);
    let (low, _, high) = got[0].points;
    assert!(low > 0.8 && high < 3.2, "what either may do is said of both: {:?}", got[0]);
    // On one day of all apart, they are hardly to be told apart.
    let first = days.iter().position(|day| day.sets[0] > 0.0).unwrap();
    days[first].sets[2] = 0.0;
    let got = associations(&days, &LOADS);
    assert_eq!(got.len(), 3);
    let width = |points: (f64, f64, f64)| points.2 - points.0;
    assert!(width(got[0].points) > 1.5 * (high - low), "{got:?}");
}

#[test]
fn too_short_a_record_says_nothing() {
    let mut random = ChaCha8Rng::seed_from_u64(14);
    let mut days = sessions(&mut random, 7);
    tell(&mut days, [1.0; 4], 4.0, &mut random);
    assert!(associations(&days, &LOADS).is_empty());
    let mut days = sessions(&mut random, 40);
    days[3].worst = 4.0;
    days[9].worst = 2.0;
    assert!(associations(&days, &LOADS).is_empty(), "pain on two days only");
}
