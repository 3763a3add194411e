//! The arithmetic of `docs/card-data.md` once more, from the page alone: plain loops over plain numbers.
//!
//! Calls nothing of the engine, not even its normal distribution, so that page and engine check each
//! other. Steps are numbered as on the page.

use std::f64::consts::PI;

use crate::vectors::{Done, Session};

/// Step 1: what a set shows, and the variance of its noise.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Shown {
    pub(crate) log_shown: f64,
    pub(crate) rep_worth: f64,
    pub(crate) counting: f64,
    pub(crate) reserve: f64,
    pub(crate) length: f64,
    pub(crate) noise: f64,
    pub(crate) is_single: bool,
}

/// Step 2: the two scales after a surprise.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Scales {
    pub(crate) usual_variance: f64,
    pub(crate) wide_variance: f64,
    pub(crate) p_freak: f64,
}

pub(crate) fn shown(session: &Session, set: Done) -> Shown {
    let lift = session.lifts.iter().find(|lift| lift.pair == set.pair).unwrap();
    let b = lift.curve_b;
    let to_failure = f64::from(set.reps) + set.reserve;
    let is_single = set.reps == 1 && set.reserve == 0.0;
    let n = if is_single { 0.0 } else { to_failure };
    let rep_worth = b / (1.0 + b * n);
    let beyond_twelve = if to_failure > 12.0 { to_failure - 12.0 } else { 0.0 };
    let reserve_sd = (0.75 + 0.20 * set.reserve) * (1.0 + 0.19 * beyond_twelve);
    let in_reps = match (set.is_told, set.reserve == 0.0) {
        (true, true) => 0.0,
        (true, false) => reserve_sd * reserve_sd,
        (false, _) => reserve_sd * reserve_sd + 1.5 * 1.5,
    };
    let worth_there = b / (1.0 + b * to_failure);
    let reserve = worth_there * worth_there * in_reps;
    let beyond_fifteen = if to_failure > 15.0 { to_failure - 15.0 } else { 0.0 };
    let length = (0.029 * beyond_fifteen) * (0.029 * beyond_fifteen);
    let counting = rep_worth * rep_worth / 12.0;
    Shown {
        log_shown: lift.moved_kg.ln() + (1.0 + b * n).ln(),
        rep_worth,
        counting,
        reserve,
        length,
        noise: lift.luck_variance + counting + session.reserve_share * reserve + length,
        is_single,
    }
}

/// The variance of noise that a forecast counts on: that of the likely set at this reserve.
pub(crate) fn forecast_noise(session: &Session, pair: usize, reserve: f64, is_told: bool) -> f64 {
    let lift = session.lifts.iter().find(|lift| lift.pair == pair).unwrap();
    let one_rm = session.mean[2 * pair].exp();
    let likely = ((one_rm / lift.moved_kg - 1.0) / lift.curve_b - reserve).round();
    let reps = likely.clamp(1.0, 20.0).min((20.0 - reserve).max(1.0)) as u16; // 1 to 20
    shown(session, Done { pair, reps, reserve, is_told }).noise
}

pub(crate) fn scales(
    session: &Session,
    pair: usize,
    is_single: bool,
    innovation: f64,
    spread: f64,
    noise: f64,
) -> Scales {
    let noise = if noise < 1e-10 { 1e-10 } else { noise };
    let lift = session.lifts.iter().find(|lift| lift.pair == pair).unwrap();
    let widening = lift.freak_widening * lift.freak_widening;
    let (usual_variance, wide_variance) = (spread + noise, spread + widening * noise);
    let density = |variance: f64| {
        (-innovation * innovation / (2.0 * variance)).exp() / (2.0 * PI * variance).sqrt()
    };
    let share = if is_single { 0.0 } else { lift.freak_share };
    let usual = (1.0 - share) * density(usual_variance);
    let wide = share * density(wide_variance);
    // Both densities are 0 to the computer only far outside anything that can be lifted.
    let p_freak = if wide == 0.0 { 0.0 } else { wide / (usual + wide) };
    Scales { usual_variance, wide_variance, p_freak }
}

/// Step 3: P(shortfall) by the mixture.
pub(crate) fn p_by_mixture(
    session: &Session,
    pair: usize,
    is_single: bool,
    innovation: f64,
    noise: f64,
) -> f64 {
    let (shows, against) = (2 * pair, 2 * pair + 1);
    let spread = session.covariance[shows][shows];
    let both = session.covariance[shows][against];
    let own = session.covariance[against][against];
    let found = scales(session, pair, is_single, innovation, spread, noise);
    let mut p = 0.0;
    for (weight, variance) in
        [(1.0 - found.p_freak, found.usual_variance), (found.p_freak, found.wide_variance)]
    {
        let mean = session.mean[against] + innovation * both / variance;
        let left = own - both * both / variance;
        p += weight * normal_below(((1.0 - session.shortfall).ln() - mean) / left.sqrt());
    }
    p
}

/// Step 4: the same, never less for a set that showed less.
pub(crate) fn p_shortfall(
    session: &Session,
    pair: usize,
    is_single: bool,
    innovation: f64,
    noise: f64,
) -> f64 {
    let p = |at: f64| p_by_mixture(session, pair, is_single, at, noise);
    let sign = if innovation < 0.0 { 1.0 } else { -1.0 };
    let steps = 600;
    let at = |step: i32| innovation * f64::from(step) / f64::from(steps);
    let mut best = 0;
    for step in 0..=steps {
        if sign * p(at(step)) > sign * p(at(best)) {
            best = step;
        }
    }
    let (mut near, mut far) = (at((best - 1).max(0)), at((best + 1).min(steps)));
    for _ in 0..100 {
        let (one, other) = (near + (far - near) / 3.0, far - (far - near) / 3.0);
        if sign * p(one) < sign * p(other) {
            near = one;
        } else {
            far = other;
        }
    }
    let (there, here) = (p((near + far) / 2.0), p(at(best)));
    if sign > 0.0 { there.max(here) } else { there.min(here) }
}

/// Step 5: what is believed after a lead set.
pub(crate) fn learn(session: &mut Session, set: Done) -> (f64, Scales) {
    let seen = shown(session, set);
    let shows = 2 * set.pair;
    let innovation = seen.log_shown - session.mean[shows];
    let spread = session.covariance[shows][shows];
    let found = scales(session, set.pair, seen.is_single, innovation, spread, seen.noise);
    let (usual, wide) = (1.0 / found.usual_variance, 1.0 / found.wide_variance);
    let (p_usual, p_freak) = (1.0 - found.p_freak, found.p_freak);
    let weight = p_usual * usual + p_freak * wide;
    let between = innovation * innovation * p_usual * p_freak * (usual - wide) * (usual - wide);
    let n = session.mean.len();
    let along: Vec<f64> = session.covariance.iter().map(|row| row[shows]).collect();
    for row in 0..n {
        session.mean[row] += innovation * weight * along[row];
        for column in 0..n {
            session.covariance[row][column] -= (weight - between) * along[row] * along[column];
        }
    }
    (innovation, found)
}

/// Φ by the series of Abramowitz & Stegun 1964, 26.2.11: ½ + φ(z)·(z + z³/3 + z⁵/15 + …), whose terms
/// all have one sign. Beyond 8 in either direction the answer is 0 or 1 to fifteen places.
pub(crate) fn normal_below(z: f64) -> f64 {
    if z.abs() > 8.0 {
        return if z > 0.0 { 1.0 } else { 0.0 };
    }
    let (mut term, mut sum, mut odd) = (z, z, 1.0);
    while term.abs() > 1e-18 {
        odd += 2.0;
        term *= z * z / odd;
        sum += term;
    }
    0.5 + sum * (-z * z / 2.0).exp() / (2.0 * PI).sqrt()
}
