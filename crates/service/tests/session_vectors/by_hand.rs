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
    pub(crate) lean: f64,
    pub(crate) is_single: bool,
}

/// Step 2: what the set was expected to show.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Expected {
    pub(crate) mean: f64,
    pub(crate) variance: f64,
    /// Covariance with capacity less usual.
    pub(crate) against: f64,
    pub(crate) curve_doubt: f64,
}

/// Step 3: the two scales after a surprise.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Scales {
    pub(crate) usual_variance: f64,
    pub(crate) wide_variance: f64,
    pub(crate) p_freak: f64,
}

pub(crate) fn shown(session: &Session, set: Done) -> Shown {
    let lift = session.lifts.iter().find(|lift| lift.place == set.place).unwrap();
    let b = session.curve_b;
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
    let likely = ((lift.usual_shown.exp() / set.moved_kg - 1.0) / b).clamp(0.0, 20.0);
    Shown {
        log_shown: set.moved_kg.ln() + (1.0 + b * n).ln(),
        lean: b * likely / (1.0 + b * likely),
        rep_worth,
        counting,
        reserve,
        length,
        noise: lift.luck_variance + counting + session.reserve_share * reserve + length,
        is_single,
    }
}

pub(crate) fn expected(session: &Session, set: Done) -> Expected {
    let lift = session.lifts.iter().find(|lift| lift.place == set.place).unwrap();
    let (capacity, against, bend) = (3 * set.place, 3 * set.place + 1, 3 * set.place + 2);
    let c = &session.covariance;
    let lean = shown(session, set).lean;
    let leaning = |lean: f64| {
        c[capacity][capacity] - 2.0 * lean * c[capacity][bend] + lean * lean * c[bend][bend]
    };
    let doubt = leaning(lean) - leaning(lift.usual_lean);
    Expected {
        mean: session.mean[capacity] - lean * session.mean[bend],
        variance: leaning(lean),
        against: c[against][capacity] - lean * c[against][bend],
        curve_doubt: if doubt > 0.0 { doubt } else { 0.0 },
    }
}

/// Step 4: the likely set.
fn likely(session: &Session, set: Done) -> Done {
    let likely = likely_reps(session, set).round();
    let reps = likely.clamp(1.0, 20.0).min((20.0 - set.reserve).max(1.0)) as u16; // 1 to 20
    Done { reps, ..set }
}

fn likely_reps(session: &Session, set: Done) -> f64 {
    let one_rm = expected(session, set).mean.exp();
    let to_failure = (one_rm / set.moved_kg - 1.0) / session.curve_b;
    let extra = if set.reps == 1 && set.reserve == 0.0 { 1.0 } else { 0.0 };
    to_failure - set.reserve + extra
}

/// Step 4: the noise that a forecast counts on, that of the likely set.
pub(crate) fn forecast_noise(session: &Session, set: Done) -> f64 {
    shown(session, likely(session, set)).noise + expected(session, set).curve_doubt
}

/// After step 5: whether so few repetitions want another reason than scatter.
pub(crate) fn is_far_below(session: &Session, set: Done) -> bool {
    let before = expected(session, set);
    let spread = before.variance - before.curve_doubt;
    let noise = forecast_noise(session, set) - shown(session, likely(session, set)).counting;
    let (share, single) = match set.reps == 1 && set.reserve == 0.0 {
        true => (0.0, 1.0),
        false => (session.freak_share, 0.0),
    };
    let one_more = f64::from(set.reps) + 0.5 + set.reserve - single;
    let off = before.mean - set.moved_kg.ln() - (1.0 + session.curve_b * one_more).ln();
    let wide = spread + session.freak_widening * session.freak_widening * noise;
    let chance_of_more = (1.0 - share) * normal_below(off / (spread + noise).sqrt())
        + share * normal_below(off / wide.sqrt());
    let missing = likely_reps(session, set) - f64::from(set.reps);
    1.0 - chance_of_more < 0.025 || (missing >= 2.0 && missing > f64::from(set.reps))
}

pub(crate) fn scales(
    session: &Session,
    is_single: bool,
    innovation: f64,
    spread: f64,
    noise: f64,
) -> Scales {
    let noise = if noise < 1e-10 { 1e-10 } else { noise };
    let widening = session.freak_widening * session.freak_widening;
    let (usual_variance, wide_variance) = (spread + noise, spread + widening * noise);
    let density = |variance: f64| {
        (-innovation * innovation / (2.0 * variance)).exp() / (2.0 * PI * variance).sqrt()
    };
    let share = if is_single { 0.0 } else { session.freak_share };
    let usual = (1.0 - share) * density(usual_variance);
    let wide = share * density(wide_variance);
    // Both densities are 0 to the computer only far outside anything that can be lifted.
    let p_freak = if wide == 0.0 { 0.0 } else { wide / (usual + wide) };
    Scales { usual_variance, wide_variance, p_freak }
}

/// Step 4: P(shortfall) by the mixture, after a surprise with a set of this load and reserve.
pub(crate) fn p_by_mixture(session: &Session, set: Done, innovation: f64) -> f64 {
    let against = 3 * set.place + 1;
    let before = expected(session, set);
    let (both, own) = (before.against, session.covariance[against][against]);
    let (spread, noise) = (before.variance - before.curve_doubt, forecast_noise(session, set));
    let is_single = set.reps == 1 && set.reserve == 0.0;
    let found = scales(session, is_single, innovation, spread, noise);
    let of_set = found.p_freak * (1.0 - session.freak_of_day);
    let of_day = found.p_freak * session.freak_of_day;
    let more = found.wide_variance - found.usual_variance;
    let mut p = 0.0;
    for (weight, variance, day) in [
        (1.0 - found.p_freak, found.usual_variance, 0.0),
        (of_set, found.wide_variance, 0.0),
        (of_day, found.wide_variance, more),
    ] {
        let mean = session.mean[against] + innovation * (both + day) / variance;
        let left = own + day - (both + day) * (both + day) / variance;
        p += weight * normal_below(((1.0 - session.shortfall).ln() - mean) / left.sqrt());
    }
    p
}

/// Step 5: the same, never less for a set that showed less.
pub(crate) fn p_shortfall(session: &Session, set: Done, innovation: f64) -> f64 {
    let p = |at: f64| p_by_mixture(session, set, at);
    if set.reps == 1 && set.reserve == 0.0 {
        return p(innovation);
    }
    let sign = if innovation < 0.0 { 1.0 } else { -1.0 };
    let steps = 600;
    let at = |step: i32| innovation * f64::from(step) / f64::from(steps);
    let on_the_way: Vec<f64> = (0..=steps).map(|step| sign * p(at(step))).collect();
    let mut best = f64::NEG_INFINITY;
    for step in 0..=steps {
        let (before, after) = ((step - 1).max(0), (step + 1).min(steps));
        let height = on_the_way[step as usize];
        best = best.max(height);
        if height < on_the_way[before as usize] || height < on_the_way[after as usize] {
            continue;
        }
        let (mut near, mut far) = (at(before), at(after));
        for _ in 0..100 {
            let (one, other) = (near + (far - near) / 3.0, far - (far - near) / 3.0);
            if sign * p(one) < sign * p(other) {
                near = one;
            } else {
                far = other;
            }
        }
        best = best.max(sign * p((near + far) / 2.0));
    }
    sign * best
}

/// Step 5: the call, but for pain.
pub(crate) fn call(session: &Session, set: Done) -> &'static str {
    let lift = session.lifts.iter().find(|lift| lift.place == set.place).unwrap();
    let before = expected(session, set);
    let is_short_enough = f64::from(set.reps) + set.reserve <= 20.0;
    if !lift.is_read || !is_short_enough || before.curve_doubt > lift.luck_variance {
        return "no reading";
    }
    let innovation = shown(session, set).log_shown - before.mean;
    if p_shortfall(session, set, innovation) > session.threshold { "ease" } else { "go on" }
}

/// Step 6: what is believed after a lead set.
pub(crate) fn learn(session: &mut Session, set: Done) -> (f64, Scales) {
    let seen = shown(session, set);
    let before = expected(session, set);
    let innovation = seen.log_shown - before.mean;
    let found = scales(session, seen.is_single, innovation, before.variance, seen.noise);
    let (usual, wide) = (1.0 / found.usual_variance, 1.0 / found.wide_variance);
    let (p_usual, p_freak) = (1.0 - found.p_freak, found.p_freak);
    let weight = p_usual * usual + p_freak * wide;
    let between = innovation * innovation * p_usual * p_freak * (usual - wide) * (usual - wide);
    let (capacity, bend) = (3 * set.place, 3 * set.place + 2);
    let n = session.mean.len();
    let along: Vec<f64> =
        session.covariance.iter().map(|row| row[capacity] - seen.lean * row[bend]).collect();
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
