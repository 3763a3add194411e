//! What the forecasts of a log would have been worth, beside plain rivals.
//!
//! Every lead set from the second of its lift on was forecast from what came before it
//! ([`crate::replay`]). Here the forecasts are held against what was done, and against two rivals that know
//! nothing of muscles: "as last time", and exponential smoothing whose numbers were chosen on *other*
//! lifters of the same log. It says how well forecasts fit and nothing about calls: no log says who had
//! recovered.

use std::collections::BTreeMap;

use domain::{Catalogue, EquipmentClass};
use engine::trend::{LeadSet, Smoothing};
use rand::rngs::ChaCha8Rng;
use rand::{RngExt, SeedableRng};
use serde::Serialize;

use crate::record::history::Point;

/// From which exposure of a lift on forecasts are also counted by themselves.
pub const SETTLED_FROM: u32 = 11;
/// The fewest lifters whose halves are told apart for the smoother.
pub const FEWEST_LIFTERS: usize = 6;
/// In how many ways lifters are halved.
const HALVINGS: usize = 10;
/// How often lifters are drawn for an interval.
const DRAWS: usize = 1_000;
const SEED: u64 = 20_261;
/// What a per cent of a single counts as, in repetitions: about Epley's worth of one.
const SINGLE_WORTH: f64 = 1.0 / 30.0;

/// Who forecasts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Rival {
    /// The model of this program that was asked.
    Model,
    /// What the lift's last lead set showed, by Epley's curve.
    LastValue,
    /// Exponential smoothing with growth that fades and a curve for each class of equipment, its numbers
    /// chosen on the other half of the lifters.
    Smoother,
}

/// How far off a rival was over some lead sets.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Figures {
    /// How many sets of several repetitions.
    pub sets: usize,
    /// By how many repetitions forecasts of these were off, at the mean; none without such sets.
    pub reps_off: Option<f64>,
    /// Its 95 % interval from drawing lifters.
    pub reps_off_interval: Option<(f64, f64)>,
    /// How many singles with nothing left.
    pub singles: usize,
    /// By how many % of the load forecasts of these were off, at the mean; none without singles.
    pub load_off_pct: Option<f64>,
    /// Its 95 % interval from drawing lifters.
    pub load_off_interval: Option<(f64, f64)>,
    /// Result less forecast in % of the 1RM, at the mean: above 0 if forecasts were too low.
    pub bias_pct: f64,
    /// Correlation of a forecast's miss with that of the lift's next; none with fewer than three pairs.
    pub successive: Option<f64>,
    /// Share of results inside the 80 % intervals, in %; none for a rival that gives none.
    pub inside_pct: Option<f64>,
}

/// One rival's figures.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct OfRival {
    /// Who.
    pub rival: Rival,
    /// From the second exposure of each lift on.
    pub all: Figures,
    /// From exposure [`SETTLED_FROM`] on; none if there are none.
    pub settled: Option<Figures>,
}

/// A log's forecasts.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ForecastFigures {
    /// Lifters with a forecast.
    pub lifters: usize,
    /// Forecasts in all.
    pub forecasts: usize,
    /// The rivals, the model first. No smoother where too few lifters are there to choose its numbers.
    pub rivals: Vec<OfRival>,
}

/// Holds the rows of a replay, in any order of lifters and in order of time within a lift, against what was
/// done. None if nothing was forecast.
#[must_use]
pub fn forecast_figures(catalogue: &Catalogue, rows: &[Point]) -> Option<ForecastFigures> {
    let records = records(catalogue, rows);
    let lifters = records.iter().map(|record| record.lifter + 1).max().unwrap_or(0);
    let by_model: Vec<Miss> = records.iter().flat_map(Record::by_model).collect();
    if by_model.is_empty() {
        return None;
    }
    let last_value = |_: EquipmentClass| Smoothing::LAST_VALUE;
    let by_last = misses(&records, &last_value);
    let mut rivals = vec![of_rival(Rival::Model, &by_model), of_rival(Rival::LastValue, &by_last)];
    if lifters >= FEWEST_LIFTERS {
        rivals.push(of_rival(Rival::Smoother, &by_smoother(&records, lifters)));
    }
    Some(ForecastFigures { lifters, forecasts: by_model.len(), rivals })
}

/// One lift of one lifter: its lead sets in order, each with what the model forecast.
struct Record {
    lifter: usize,
    class: EquipmentClass,
    sets: Vec<(LeadSet, Option<ByModel>)>,
}

#[derive(Clone, Copy)]
struct ByModel {
    reps: f64,
    miss: f64,
    is_inside: bool,
}

/// One forecast held against its result.
#[derive(Clone, Copy)]
struct Miss {
    lifter: usize,
    /// Of the set that was forecast, from 2 on.
    exposure: u32,
    is_single: bool,
    reps_off: f64,
    /// Shown less forecast, in ln 1RM.
    miss: f64,
    is_inside: Option<bool>,
}

fn records(catalogue: &Catalogue, rows: &[Point]) -> Vec<Record> {
    let mut lifters: BTreeMap<String, usize> = BTreeMap::new();
    let mut places: BTreeMap<(usize, String), usize> = BTreeMap::new();
    let mut records: Vec<Record> = Vec::new();
    for point in rows.iter().filter(|point| point.log_shown.is_some()) {
        let Some(lift) = catalogue.find(&point.set.lift) else { continue };
        let next = lifters.len();
        let lifter = *lifters.entry(point.set.lifter.key()).or_insert(next);
        let place = *places.entry((lifter, lift.name.key())).or_insert_with(|| {
            records.push(Record { lifter, class: lift.equipment, sets: Vec::new() });
            records.len() - 1
        });
        let by_model = point.reading.zip(point.log_shown).map(|(reading, shown)| {
            let expected = reading.expected;
            let (low, high) = expected.interval();
            ByModel {
                reps: expected.reps_interval().1,
                miss: shown - expected.mean,
                is_inside: (low..=high).contains(&shown),
            }
        });
        records[place].sets.push((point.lead, by_model));
    }
    records
}

impl Record {
    fn by_model(&self) -> Vec<Miss> {
        let forecast = |(before, (set, by_model)): (usize, &(LeadSet, Option<ByModel>))| {
            by_model.map(|by_model| Miss {
                lifter: self.lifter,
                exposure: before as u32 + 1,
                is_single: set.is_single(),
                reps_off: (f64::from(set.reps) - by_model.reps).abs(),
                miss: by_model.miss,
                is_inside: Some(by_model.is_inside),
            })
        };
        self.sets.iter().enumerate().filter_map(forecast).collect()
    }

    /// The same sets forecast by a smoother.
    fn by(&self, smoothing: Smoothing, found: &mut Vec<Miss>) {
        let Some(((first, _), later)) = self.sets.split_first() else { return };
        let mut smoothed = smoothing.begin(first);
        for (before, (set, by_model)) in later.iter().enumerate() {
            if by_model.is_some() {
                found.push(Miss {
                    lifter: self.lifter,
                    exposure: before as u32 + 2,
                    is_single: set.is_single(),
                    reps_off: (f64::from(set.reps) - smoothed.expected_reps(set).max(0.0)).abs(),
                    miss: smoothed.miss(set),
                    is_inside: None,
                });
            }
            smoothed.take(set);
        }
    }
}

fn misses(records: &[Record], of_class: &dyn Fn(EquipmentClass) -> Smoothing) -> Vec<Miss> {
    let mut found = Vec::new();
    records.iter().for_each(|record| record.by(of_class(record.class), &mut found));
    found
}

/// The smoother's forecasts of each half of the lifters with the numbers that suit the other half best, for each
/// halving.
fn by_smoother(records: &[Record], lifters: usize) -> Vec<Miss> {
    let mut random = ChaCha8Rng::seed_from_u64(SEED);
    let mut found = Vec::new();
    for _ in 0..HALVINGS {
        let halves = halved(lifters, &mut random);
        for half in [false, true] {
            let of = |side: bool| -> Vec<&Record> {
                records.iter().filter(|record| halves[record.lifter] == side).collect()
            };
            let chosen = Chosen::on(&of(!half));
            for record in of(half) {
                record.by(chosen.for_class(record.class), &mut found);
            }
        }
    }
    found
}

/// Which half each lifter falls into: as many in one as in the other, or one more.
fn halved(lifters: usize, random: &mut ChaCha8Rng) -> Vec<bool> {
    let mut halves: Vec<bool> = (0..lifters).map(|lifter| lifter % 2 == 1).collect();
    for last in (1..lifters).rev() {
        halves.swap(last, random.random_range(0..=last));
    }
    halves
}

/// A smoother's numbers, with a curve for each class of equipment.
struct Chosen {
    shared: Smoothing,
    curves: BTreeMap<EquipmentClass, f64>,
}

impl Chosen {
    /// What misses least on some records: one number after the other is moved while that helps, by steps that
    /// get smaller.
    fn on(records: &[&Record]) -> Chosen {
        let start = Smoothing {
            weight: 0.5,
            first_growth: 0.01,
            lasting_growth: 0.002,
            fading: 5.0,
            curve_b: 1.0 / 30.0,
        };
        let classes = records.iter().map(|record| (record.class, start.curve_b)).collect();
        let mut chosen = Chosen { shared: start, curves: classes };
        let mut least = chosen.off(records);
        for step in [0.4, 0.2, 0.1, 0.05] {
            for _ in 0..4 {
                let before = least;
                least = chosen.improved(records, step, least);
                if before - least < 1e-6 * before {
                    break;
                }
            }
        }
        chosen
    }

    /// Tries each number a step up and down; the least miss found.
    fn improved(&mut self, records: &[&Record], step: f64, mut least: f64) -> f64 {
        let classes: Vec<EquipmentClass> = self.curves.keys().copied().collect();
        for sign in [1.0, -1.0] {
            let by = sign * step;
            for number in 0..4 + classes.len() {
                let (shared, curves) = (self.shared, self.curves.clone());
                match number {
                    0 => self.shared.weight = (shared.weight * by.exp()).clamp(0.05, 1.0),
                    1 => self.shared.first_growth += 0.02 * by,
                    2 => self.shared.lasting_growth += 0.005 * by,
                    3 => self.shared.fading = (shared.fading * by.exp()).clamp(0.5, 50.0),
                    _ => {
                        let curve =
                            self.curves.entry(classes[number - 4]).or_insert(shared.curve_b);
                        *curve = (*curve * by.exp()).clamp(0.01, 0.15);
                    }
                }
                let off = self.off(records);
                if off < least {
                    least = off;
                } else {
                    (self.shared, self.curves) = (shared, curves);
                }
            }
        }
        least
    }

    fn for_class(&self, class: EquipmentClass) -> Smoothing {
        let curve_b = self.curves.get(&class).copied().unwrap_or(self.shared.curve_b);
        Smoothing { curve_b, ..self.shared }
    }

    /// By how much all forecasts are off, in repetitions; of a single the load counts, since no curve has a
    /// part in it.
    fn off(&self, records: &[&Record]) -> f64 {
        let mut found = Vec::new();
        records.iter().for_each(|record| record.by(self.for_class(record.class), &mut found));
        let worth = |miss: &Miss| {
            if miss.is_single { miss.miss.abs() / SINGLE_WORTH } else { miss.reps_off }
        };
        found.iter().map(worth).sum()
    }
}

fn of_rival(rival: Rival, misses: &[Miss]) -> OfRival {
    let settled: Vec<Miss> =
        misses.iter().filter(|miss| miss.exposure >= SETTLED_FROM).copied().collect();
    let halvings = if rival == Rival::Smoother { HALVINGS } else { 1 };
    OfRival {
        rival,
        all: figures(misses, halvings),
        settled: (!settled.is_empty()).then(|| figures(&settled, halvings)),
    }
}

/// The figures of forecasts that each stand there once for every halving.
fn figures(misses: &[Miss], halvings: usize) -> Figures {
    let several = |miss: &Miss| (!miss.is_single).then_some(miss.reps_off);
    let single = |miss: &Miss| miss.is_single.then_some(100.0 * miss.miss.abs());
    let mean = |values: Vec<f64>| {
        let n = values.len();
        (n > 0).then(|| values.iter().sum::<f64>() / n as f64)
    };
    let inside: Vec<f64> = misses
        .iter()
        .filter_map(|miss| miss.is_inside)
        .map(|inside| f64::from(u8::from(inside)))
        .collect();
    Figures {
        sets: misses.iter().filter_map(several).count() / halvings,
        reps_off: mean(misses.iter().filter_map(several).collect()),
        reps_off_interval: drawn(misses, &several),
        singles: misses.iter().filter_map(single).count() / halvings,
        load_off_pct: mean(misses.iter().filter_map(single).collect()),
        load_off_interval: drawn(misses, &single),
        bias_pct: mean(misses.iter().map(|miss| 100.0 * miss.miss).collect()).unwrap_or(0.0),
        successive: correlation(&successive(misses)),
        inside_pct: mean(inside).map(|share| 100.0 * share),
    }
}

/// The 95 % interval of a mean from drawing lifters (percentile bootstrap, Efron & Tibshirani 1993, from
/// memory); none with fewer than two lifters.
fn drawn(misses: &[Miss], of: &dyn Fn(&Miss) -> Option<f64>) -> Option<(f64, f64)> {
    let mut sums: BTreeMap<usize, (f64, f64)> = BTreeMap::new();
    for miss in misses {
        if let Some(value) = of(miss) {
            let (n, sum) = sums.entry(miss.lifter).or_default();
            *n += 1.0;
            *sum += value;
        }
    }
    let sums: Vec<(f64, f64)> = sums.into_values().collect();
    if sums.len() < 2 {
        return None;
    }
    let mut random = ChaCha8Rng::seed_from_u64(SEED);
    let mut means: Vec<f64> = (0..DRAWS)
        .map(|_| {
            let (mut n, mut sum) = (0.0, 0.0);
            for _ in 0..sums.len() {
                let one = sums[random.random_range(0..sums.len())];
                n += one.0;
                sum += one.1;
            }
            sum / n
        })
        .collect();
    means.sort_by(f64::total_cmp);
    Some((means[DRAWS / 40], means[DRAWS - 1 - DRAWS / 40]))
}

/// Misses of a lift that follow on each other. Within a record exposures count up.
fn successive(misses: &[Miss]) -> Vec<(f64, f64)> {
    misses
        .windows(2)
        .filter(|pair| pair[0].lifter == pair[1].lifter && pair[1].exposure == pair[0].exposure + 1)
        .map(|pair| (pair[0].miss, pair[1].miss))
        .collect()
}

fn correlation(pairs: &[(f64, f64)]) -> Option<f64> {
    if pairs.len() < 3 {
        return None;
    }
    let n = pairs.len() as f64;
    let (x, y) = pairs.iter().fold((0.0, 0.0), |(x, y), pair| (x + pair.0 / n, y + pair.1 / n));
    let (mut xx, mut yy, mut xy) = (0.0, 0.0, 0.0);
    for pair in pairs {
        let (a, b) = (pair.0 - x, pair.1 - y);
        (xx, yy, xy) = (xx + a * a, yy + b * b, xy + a * b);
    }
    let both = (xx * yy).sqrt();
    (both > 0.0).then(|| xy / both)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Pearson's correlation of Anscombe's first quartet, 0.816 (Anscombe 1973, The American Statistician 27:17,
    /// from memory).
    #[test]
    fn correlation_of_a_published_example() {
        let x = [10.0, 8.0, 13.0, 9.0, 11.0, 14.0, 6.0, 4.0, 12.0, 7.0, 5.0];
        let y = [8.04, 6.95, 7.58, 8.81, 8.33, 9.96, 7.24, 4.26, 10.84, 4.82, 5.68];
        let pairs: Vec<(f64, f64)> = x.into_iter().zip(y).collect();
        assert!((correlation(&pairs).unwrap() - 0.816_42).abs() < 1e-5);
        assert_eq!(correlation(&pairs[..2]), None);
        assert_eq!(correlation(&[(1.0, 2.0); 5]), None, "constant");
    }

    #[test]
    fn halves_are_of_one_size_and_every_lifter_is_in_one() {
        let mut random = ChaCha8Rng::seed_from_u64(3);
        let one = halved(9, &mut random);
        assert_eq!(one.iter().filter(|side| **side).count(), 4);
        assert_ne!(one, halved(9, &mut random));
    }
}
