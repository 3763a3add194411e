//! Which lifts a joint's pain goes with, told by one lifter's own reports: an association with its
//! uncertainty, and no diagnosis.
//!
//! The worst rating told of a joint between the start of one session and the start of the next is taken as
//! level + Σ effect·part + noise. The level wanders from session to session, as pain comes and goes whatever is
//! trained; the part of a lift is its work sets over its own usual number, 0 where it was left out; its effect
//! is drawn towards 0, the harder the less the catalogue says that it loads the joint. How much the level
//! wanders and how large the noise is are averaged over, each by how well it explains the record (a Bayesian
//! dynamic regression; West & Harrison, *Bayesian Forecasting and Dynamic Models*, ch. 9, from memory). All
//! widths are our choice.
//!
//! Lifts that are always done on the same days can't be parted, so they are taken as one. Lifts that are nearly
//! always done together can hardly be parted, and their intervals are wide.

use crate::recovery::Freak;
use crate::recovery::belief::Belief;
use crate::trend::expectation::normal_cdf;

/// Training days below which nothing is said, and days with pain among them.
pub const FEWEST_DAYS: usize = 8;
/// See [`FEWEST_DAYS`].
pub const FEWEST_PAINFUL: usize = 3;

/// From so many points on a difference is worth a word: the least that a rating in whole points can show.
pub const NOTICED: f64 = 0.5;

/// sd of the first level, in points of a rating.
const LEVEL_SD: f64 = 2.0;
/// sd of the effect of a usual day's sets of a lift that loads the joint fully, in points.
const EFFECT_SD: f64 = 2.0;
/// How far the level may wander in a week (sd, points), and how large the noise may be (sd, points).
const WANDERS: [f64; 4] = [0.1, 0.3, 0.6, 1.2];
const NOISES: [f64; 4] = [0.4, 0.8, 1.4, 2.2];
/// Half the middle 80 % of a normal distribution, in standard deviations.
const MIDDLE_80: f64 = 1.281_551_565_545;

/// One session, and what was told of the joint after it began and before the next.
#[derive(Clone, Debug, PartialEq)]
pub struct PainDay {
    /// When, in days from any fixed origin.
    pub days: f64,
    /// The worst rating told, from 0 to 10; 0 where nothing was told.
    pub worst: f64,
    /// Sets of each lift, in the order of the lifts, warm-ups left out.
    pub sets: Vec<f64>,
}

/// How a joint's pain goes with a lift, or with several that are done on the same days.
#[derive(Clone, Debug, PartialEq)]
pub struct Association {
    /// The lifts.
    pub lifts: Vec<usize>,
    /// Days with them, and on how many of those pain was told.
    pub with: (usize, usize),
    /// Days without them, and on how many of those pain was told.
    pub without: (usize, usize),
    /// Their sets on a day with them, on average.
    pub usual_sets: f64,
    /// Points by which the rating is higher after a day with their usual sets, other lifts being equal: lower
    /// bound, middle and upper bound of 80 %.
    pub points: (f64, f64, f64),
    /// The probability that it is higher by [`NOTICED`] or more.
    pub p_more: f64,
}

/// Whether enough is on record to say anything. Days in order of time.
#[must_use]
pub fn is_enough(days: &[PainDay]) -> bool {
    let n_painful = days.iter().filter(|day| day.worst > 0.0).count();
    days.len() >= FEWEST_DAYS && n_painful >= FEWEST_PAINFUL
}

/// How a joint's pain goes with the lifts that load it; `loads` says how much each does, from 0 to 1. Lifts that don't
/// or were never done are in no association, and there is none where too little is on record.
#[must_use]
pub fn associations(days: &[PainDay], loads: &[f64]) -> Vec<Association> {
    if !is_enough(days) {
        return Vec::new();
    }
    let groups = groups(days, loads);
    let counted: Vec<Counted> = groups.iter().map(|lifts| count(days, lifts)).collect();
    let parts: Vec<Vec<(usize, f64)>> = days
        .iter()
        .map(|day| {
            let part = |row: usize| sets_of(day, &groups[row]) / counted[row].usual_sets;
            (0..groups.len()).map(|row| (row + 1, part(row))).collect()
        })
        .collect();
    let sds: Vec<f64> = groups
        .iter()
        .map(|lifts| EFFECT_SD * lifts.iter().map(|lift| loads[*lift]).fold(0.0, f64::max))
        .collect();
    let mut weighed: Vec<(f64, Belief)> = Vec::new();
    for wander in WANDERS {
        for noise in NOISES {
            weighed.push(learn(days, &parts, &sds, wander * wander / 7.0, noise * noise));
        }
    }
    let best = weighed.iter().map(|one| one.0).fold(f64::NEG_INFINITY, f64::max);
    weighed.iter_mut().for_each(|one| one.0 = (one.0 - best).exp());
    let told = groups.into_iter().zip(counted).enumerate();
    told.map(|(row, (lifts, counted))| {
        let Counted { with, without, usual_sets } = counted;
        let (points, p_more) = averaged(&weighed, row + 1);
        Association { lifts, with, without, usual_sets, points, p_more }
    })
    .collect()
}

/// The lifts that load the joint and were done, those done on the same days together.
fn groups(days: &[PainDay], loads: &[f64]) -> Vec<Vec<usize>> {
    let is_done = |day: &PainDay, lift: usize| day.sets[lift] > 0.0;
    let mut groups: Vec<Vec<usize>> = Vec::new();
    for lift in (0..loads.len()).filter(|lift| loads[*lift] > 0.0) {
        if !days.iter().any(|day| is_done(day, lift)) {
            continue;
        }
        let with = |lifts: &&mut Vec<usize>| {
            lifts.first().is_some_and(|first| {
                days.iter().all(|day| is_done(day, *first) == is_done(day, lift))
            })
        };
        match groups.iter_mut().find(with) {
            Some(lifts) => lifts.push(lift),
            None => groups.push(vec![lift]),
        }
    }
    groups
}

#[derive(Clone, Copy)]
struct Counted {
    with: (usize, usize),
    without: (usize, usize),
    usual_sets: f64,
}

fn sets_of(day: &PainDay, lifts: &[usize]) -> f64 {
    lifts.iter().map(|lift| day.sets[*lift]).sum()
}

fn count(days: &[PainDay], lifts: &[usize]) -> Counted {
    let mut counted = Counted { with: (0, 0), without: (0, 0), usual_sets: 0.0 };
    for day in days {
        let sets = sets_of(day, lifts);
        let (all, painful) = if sets > 0.0 { &mut counted.with } else { &mut counted.without };
        *all += 1;
        *painful += usize::from(day.worst > 0.0);
        counted.usual_sets += sets;
    }
    counted.usual_sets /= counted.with.0.max(1) as f64; // a few hundred at most
    counted
}

/// The belief about the level (row 0) and the effects after all days, with its log-likelihood.
fn learn(
    days: &[PainDay],
    parts: &[Vec<(usize, f64)>],
    sds: &[f64],
    wander_per_day: f64,
    noise: f64,
) -> (f64, Belief) {
    let mut belief = Belief::new(1 + sds.len());
    belief.disturb(0, 0.0, LEVEL_SD * LEVEL_SD);
    for (row, sd) in sds.iter().enumerate() {
        belief.disturb(row + 1, 0.0, sd * sd);
    }
    let mut log_likelihood = 0.0;
    let mut before: Option<f64> = None;
    for (day, parts) in days.iter().zip(parts) {
        let gap = before.map_or(0.0, |before| (day.days - before).max(0.0));
        before = Some(day.days);
        belief.disturb(0, 0.0, wander_per_day * gap);
        let mut sum = vec![(0, 1.0)];
        sum.extend(parts.iter().filter(|(_, part)| *part > 0.0));
        log_likelihood += belief.observe(&sum, day.worst, noise, Freak::NONE).log_density;
    }
    (log_likelihood, belief)
}

/// Middle 80 % (by mean and variance of the mixture) and probability of [`NOTICED`] of one row.
fn averaged(weighed: &[(f64, Belief)], row: usize) -> ((f64, f64, f64), f64) {
    let whole: f64 = weighed.iter().map(|one| one.0).sum();
    let (mut mean, mut square, mut p_more) = (0.0, 0.0, 0.0);
    for (weight, belief) in weighed {
        let (part, middle) = (weight / whole, belief.mean(row));
        let variance = belief.covariance(row, row).max(0.0);
        mean += part * middle;
        square += part * (variance + middle * middle);
        p_more += part * normal_cdf((middle - NOTICED) / variance.sqrt().max(1e-9));
    }
    let half = MIDDLE_80 * (square - mean * mean).max(0.0).sqrt();
    ((mean - half, mean, mean + half), p_more)
}
