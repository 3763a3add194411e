//! How good probabilities and forecasts were, where it is known what happened.
//!
//! Discrimination: area under the receiver operating characteristic, and false cuts at a given catch.
//! Calibration: reliability table and expected calibration error. Forecasts: coverage of intervals.
//! Uncertainty: a bootstrap over lifters, because lead sets of one lifter hang together. Nothing here
//! knows which rule it measures.

use super::dice::Dice;
use crate::trend::expectation::Z_80;

/// A probability that was said, or any score that is higher the likelier, and what happened.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Said {
    /// The probability, or score.
    pub p: f64,
    /// Whether it happened.
    pub happened: bool,
}

/// The middle 80 % of a forecast, and what was seen in the end.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Forecast {
    /// One in ten is lower.
    pub low: f64,
    /// One in ten is higher.
    pub high: f64,
    /// What was seen in the end.
    pub seen: f64,
}

impl Forecast {
    /// A normal forecast.
    #[must_use]
    pub fn normal(mean: f64, sd: f64, seen: f64) -> Forecast {
        Forecast { low: mean - Z_80 * sd, high: mean + Z_80 * sd, seen }
    }
}

/// The share of short days caught, and of sound days cut for nothing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rates {
    /// The share of what happened that was called.
    pub caught: f64,
    /// The share of what didn't happen that was called.
    pub false_cuts: f64,
}

/// One row of a reliability table.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reliability {
    /// The lowest probability of the row.
    pub low: f64,
    /// The highest.
    pub high: f64,
    /// How many fell into it.
    pub n: usize,
    /// Their mean.
    pub said: f64,
    /// How often it happened.
    pub happened: f64,
}

/// The probability that something that happened was given a higher score than something that didn't,
/// ties counting half (Hanley & McNeil 1982, Radiology 143:29: the Mann–Whitney statistic). None if
/// everything happened or nothing did, and for scores that aren't numbers.
#[must_use]
pub fn area_under_curve(said: &[Said]) -> Option<f64> {
    let groups = groups_from_high(said)?;
    let (yes, no) = totals(&groups)?;
    let (mut below, mut area) = (no, 0.0);
    for (happened, did_not) in groups {
        below -= did_not;
        area += happened * (below + 0.5 * did_not);
    }
    Some(area / (yes * no))
}

/// False cuts at the threshold that catches this share, on the straight line between neighbouring
/// thresholds where none catches exactly that. None as for [`area_under_curve`].
#[must_use]
pub fn false_cuts_at(said: &[Said], catch: f64) -> Option<f64> {
    let groups = groups_from_high(said)?;
    let (yes, no) = totals(&groups)?;
    let wanted = catch.clamp(0.0, 1.0) * yes;
    let (mut caught, mut cut) = (0.0, 0.0);
    for (happened, did_not) in groups {
        if caught + happened >= wanted {
            let part = if happened > 0.0 { (wanted - caught) / happened } else { 0.0 };
            return Some((cut + part * did_not) / no);
        }
        caught += happened;
        cut += did_not;
    }
    Some(1.0)
}

/// What a rule caught and cut that calls or doesn't. None as for [`area_under_curve`].
#[must_use]
pub fn rates(calls: &[(bool, bool)]) -> Option<Rates> {
    let share = |wanted: bool| {
        let (mut n, mut called) = (0, 0);
        for (call, happened) in calls {
            n += u32::from(*happened == wanted);
            called += u32::from(*happened == wanted && *call);
        }
        (n > 0).then(|| f64::from(called) / f64::from(n))
    };
    Some(Rates { caught: share(true)?, false_cuts: share(false)? })
}

/// The reliability table by tenths of probability; rows that nothing fell into are left out.
#[must_use]
pub fn reliability(said: &[Said]) -> Vec<Reliability> {
    let mut rows: Vec<Vec<Said>> = vec![Vec::new(); 10];
    for one in said.iter().filter(|one| one.p.is_finite()) {
        rows[((one.p * 10.0).floor().max(0.0) as usize).min(9)].push(*one);
    }
    (0..)
        .zip(&rows)
        .filter(|(_, row)| !row.is_empty())
        .map(|(tenth, row)| {
            let low = f64::from(tenth) / 10.0;
            Reliability { low, high: f64::from(tenth + 1) / 10.0, ..summary(row) }
        })
        .collect()
}

/// Expected calibration error over ten groups of equal size from low to high probability: the mean
/// gap between what was said and what happened, weighted by size (Naeini 2015, AAAI 29:2901, with
/// equal numbers in place of equal widths). Equal probabilities stay in one group. None of nothing.
#[must_use]
pub fn expected_calibration_error(said: &[Said]) -> Option<f64> {
    let mut sorted: Vec<Said> = said.iter().copied().filter(|one| one.p.is_finite()).collect();
    sorted.sort_by(|a, b| a.p.total_cmp(&b.p));
    let n = sorted.len();
    let (mut start, mut error) = (0, 0.0);
    for group in 1..=10 {
        let mut end = n * group / 10;
        while end > 0 && end < n && sorted[end].p == sorted[end - 1].p {
            end += 1;
        }
        if end > start {
            let row = summary(&sorted[start..end]);
            error += row.n as f64 / n as f64 * (row.said - row.happened).abs();
            start = end;
        }
    }
    (n > 0).then_some(error)
}

/// The share of forecasts whose middle 80 % held what was seen. None of nothing.
#[must_use]
pub fn coverage_80(forecasts: &[Forecast]) -> Option<f64> {
    let inside = forecasts.iter().filter(|f| (f.low..=f.high).contains(&f.seen)).count();
    (!forecasts.is_empty()).then(|| inside as f64 / forecasts.len() as f64)
}

/// The middle 90 % of `statistic` over `n` samples of whole lifters, drawn with replacement (Efron's
/// percentile interval). None without lifters, and if fewer than half of the samples have a value.
#[must_use]
pub fn bootstrap_90<T: Copy>(
    lifters: &[Vec<T>],
    seed: u64,
    n: usize,
    statistic: impl Fn(&[T]) -> Option<f64>,
) -> Option<(f64, f64)> {
    if lifters.is_empty() {
        return None;
    }
    let mut dice = Dice::new(seed, 0);
    let mut values = Vec::new();
    let mut sample = Vec::new();
    for _ in 0..n {
        sample.clear();
        for _ in lifters {
            sample.extend_from_slice(&lifters[dice.below(lifters.len())]);
        }
        values.extend(statistic(&sample));
    }
    if values.is_empty() || 2 * values.len() < n {
        return None;
    }
    values.sort_by(f64::total_cmp);
    let at = |share: f64| values[((values.len() - 1) as f64 * share).round() as usize];
    Some((at(0.05), at(0.95)))
}

/// How many happened and how many didn't at each score, from the highest score down.
fn groups_from_high(said: &[Said]) -> Option<Vec<(f64, f64)>> {
    if said.iter().any(|one| one.p.is_nan()) {
        return None;
    }
    let mut sorted = said.to_vec();
    sorted.sort_by(|a, b| b.p.total_cmp(&a.p));
    let groups = sorted.chunk_by(|a, b| a.p == b.p);
    let count = |group: &[Said]| {
        let yes = group.iter().filter(|one| one.happened).count();
        (yes as f64, (group.len() - yes) as f64)
    };
    Some(groups.map(count).collect())
}

fn totals(groups: &[(f64, f64)]) -> Option<(f64, f64)> {
    let (yes, no) = groups.iter().fold((0.0, 0.0), |(y, n), (a, b)| (y + a, n + b));
    (yes > 0.0 && no > 0.0).then_some((yes, no))
}

fn summary(row: &[Said]) -> Reliability {
    let n = row.len() as f64;
    let said = row.iter().map(|one| one.p).sum::<f64>() / n;
    let happened = row.iter().filter(|one| one.happened).count() as f64 / n;
    let bounds = |f: fn(f64, f64) -> f64, start| row.iter().map(|one| one.p).fold(start, f);
    let (low, high) = (bounds(f64::min, f64::INFINITY), bounds(f64::max, f64::NEG_INFINITY));
    Reliability { low, high, n: row.len(), said, happened }
}
