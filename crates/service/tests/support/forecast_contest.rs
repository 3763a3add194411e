//! Forecasts of real strength tests held against plain rivals, and scatter from test to test.
//!
//! For the example `strength_tests` and the tests of the evidence. Everything is on the scale of ln
//! load; a hundredth of it is called a per cent. Both legs of a person are in the data and aren't
//! independent, so intervals come from drawing people, not legs (percentile bootstrap, Efron &
//! Tibshirani 1993, from memory).

use std::collections::BTreeMap;

use engine::repeatability::{
    self, Confidence, CoverageFactor, RepeatabilityError, Trials, coefficient_of_variation,
    minimal_detectable_change, typical_error, typical_error_interval,
};
use rand::rngs::ChaCha8Rng;
use rand::{RngExt, SeedableRng};

use crate::recovery_contest::recovery_forecasts;
use crate::strength_data::{Exercise, Leg, Replayed, StrengthTest};

const DRAWS: usize = 4_000;
const SEED: u64 = 598_543;

/// One test from the second of a leg on, with what was forecast.
#[derive(Clone, Debug)]
pub(crate) struct Forecast {
    pub(crate) test: StrengthTest,
    /// 2 for the second test of this leg and exercise.
    pub(crate) nth: usize,
    one_lift: f64,
    recovery: f64,
    last_value: f64,
    group_gain: f64,
    day_gain: f64,
    /// Whether the other leg was tested before this one on that day, and at this one's last time too.
    pub(crate) is_second: bool,
    /// Whether the one-lift model's 80 % interval held the result.
    pub(crate) inside: bool,
    /// Whether the recovery model's did.
    pub(crate) recovery_inside: bool,
}

/// Who forecasts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Rival {
    /// Bellwether's model of one lift, from this leg's earlier tests alone.
    OneLift,
    /// The recovery model, pooled over all other people.
    Recovery,
    /// The leg's last result.
    LastValue,
    /// The leg's last result and the mean gain of all other people between the same two times. It
    /// knows how the others' same weeks went, which nobody knows beforehand.
    GroupGain,
    /// The leg's last result and what the other leg gained since, where that was tested before it on the
    /// day; else as the one before.
    DayGain,
}

/// How far off a rival was.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Score {
    /// Mean absolute error, hundredths of ln load.
    pub(crate) mae_pct: f64,
    /// Mean absolute error, kg.
    pub(crate) mae_kg: f64,
    /// Mean of result less forecast, hundredths of ln load: above 0 if forecasts were too low.
    pub(crate) bias_pct: f64,
}

/// How well one time of testing repeats the time before.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Repeat {
    pub(crate) legs: usize,
    /// Typical error as a CV, %.
    pub(crate) cv_pct: f64,
    /// Its 95 % interval as if legs were independent (chi-square).
    pub(crate) cv_by_legs: (f64, f64),
    /// Its 95 % interval from drawing people.
    pub(crate) cv_by_people: (f64, f64),
    /// Mean change, %.
    pub(crate) mean_change_pct: f64,
    /// Minimal detectable change at 95 %, %.
    pub(crate) detectable_pct: f64,
}

impl Rival {
    pub(crate) const ALL: [Rival; 5] =
        [Rival::OneLift, Rival::Recovery, Rival::LastValue, Rival::GroupGain, Rival::DayGain];

    pub(crate) fn name(self) -> &'static str {
        match self {
            Rival::OneLift => "one-lift model",
            Rival::Recovery => "recovery model, pooled",
            Rival::LastValue => "last value",
            Rival::GroupGain => "last value + others' mean gain",
            Rival::DayGain => "last value + other leg's gain",
        }
    }
}

impl Forecast {
    fn by(&self, rival: Rival) -> f64 {
        match rival {
            Rival::OneLift => self.one_lift,
            Rival::Recovery => self.recovery,
            Rival::LastValue => self.last_value,
            Rival::GroupGain => self.group_gain,
            Rival::DayGain => self.day_gain,
        }
    }
}

/// The forecasts of every test from the second of its leg and exercise on. On a day leg `first` is tested
/// before the other, for all who look at more than one leg.
pub(crate) fn forecasts(
    replayed: &Replayed,
    first: Leg,
) -> Result<Vec<Forecast>, Box<dyn std::error::Error>> {
    let tests = &replayed.tests;
    let pooled = recovery_forecasts(tests, &replayed.timing, first)?;
    let mut before: BTreeMap<(String, &str), (usize, &StrengthTest)> = BTreeMap::new();
    let mut forecasts = Vec::new();
    for (test, row) in tests.iter().zip(&replayed.rows) {
        let key = (test.lifter(), test.exercise.lift());
        let (nth, last) = before.get(&key).map_or((1, None), |(nth, last)| (nth + 1, Some(*last)));
        if let Some(last) = last {
            let expected = row.reading.ok_or("a test from the second on has no forecast")?.expected;
            let shown = row.log_shown.ok_or("a test can't be read")?;
            let gain = gain_of_others(tests, last, test).ok_or("nobody else has both tests")?;
            let other = (test.leg != first).then(|| gain_of_other_leg(tests, last, test)).flatten();
            let (low, high) = expected.interval();
            let recovery = pooled
                .get(&(test.lifter(), test.exercise.lift(), test.time))
                .ok_or("the recovery model has no forecast")?;
            forecasts.push(Forecast {
                test: test.clone(),
                nth,
                one_lift: expected.mean,
                recovery: recovery.mean,
                last_value: last.load_kg.ln(),
                group_gain: last.load_kg.ln() + gain,
                day_gain: last.load_kg.ln() + other.unwrap_or(gain),
                is_second: other.is_some(),
                inside: (low..=high).contains(&shown),
                recovery_inside: recovery.inside,
            });
        }
        before.insert(key, (nth, test));
    }
    Ok(forecasts)
}

/// How far off `rival` was over some forecasts.
pub(crate) fn score(forecasts: &[&Forecast], rival: Rival) -> Score {
    let n = forecasts.len() as f64;
    let mean =
        |error: &dyn Fn(&Forecast) -> f64| forecasts.iter().map(|one| error(one)).sum::<f64>() / n;
    let miss = |one: &Forecast| one.test.load_kg.ln() - one.by(rival);
    Score {
        mae_pct: 100.0 * mean(&|one| miss(one).abs()),
        mae_kg: mean(&|one| (one.test.load_kg - one.by(rival).exp()).abs()),
        bias_pct: 100.0 * mean(&miss),
    }
}

/// The share of tests inside the one-lift model's 80 % intervals, %.
pub(crate) fn coverage_pct(forecasts: &[&Forecast]) -> f64 {
    let inside = forecasts.iter().filter(|one| one.inside).count();
    100.0 * inside as f64 / forecasts.len() as f64
}

/// The same of the recovery model's.
pub(crate) fn recovery_coverage_pct(forecasts: &[&Forecast]) -> f64 {
    let inside = forecasts.iter().filter(|one| one.recovery_inside).count();
    100.0 * inside as f64 / forecasts.len() as f64
}

/// The 95 % interval of a statistic of forecasts, from drawing people.
pub(crate) fn interval(
    forecasts: &[&Forecast],
    statistic: &dyn Fn(&[&Forecast]) -> f64,
) -> (f64, f64) {
    by_people(forecasts, |one| one.test.participant.as_str(), statistic)
}

/// The correlation of what the last value with the others' mean gain misses: between the two legs of a person on
/// one day, and between a leg and itself the time before. NaN without two pairs.
pub(crate) fn alike(forecasts: &[Forecast], exercise: Exercise) -> (f64, f64) {
    let miss = |one: &Forecast| one.test.load_kg.ln() - one.group_gain;
    let of: Vec<&Forecast> = forecasts.iter().filter(|one| one.test.exercise == exercise).collect();
    let with = |wanted: &dyn Fn(&StrengthTest, &StrengthTest) -> bool| {
        let pairs = of.iter().flat_map(|one| {
            of.iter()
                .filter(|other| one.test.participant == other.test.participant)
                .filter(|other| wanted(&one.test, &other.test))
                .map(|other| (miss(one), miss(other)))
        });
        correlation(&pairs.collect::<Vec<_>>())
    };
    let both_legs = |one: &StrengthTest, other: &StrengthTest| {
        one.time == other.time && one.leg == Leg::Left && other.leg == Leg::Right
    };
    let before = |one: &StrengthTest, other: &StrengthTest| {
        one.leg == other.leg && one.time + 1 == other.time
    };
    (with(&both_legs), with(&before))
}

/// Pearson's.
fn correlation(pairs: &[(f64, f64)]) -> f64 {
    let n = pairs.len() as f64;
    let (x, y) = pairs.iter().fold((0.0, 0.0), |(x, y), pair| (x + pair.0 / n, y + pair.1 / n));
    let sum = |of: &dyn Fn(f64, f64) -> f64| -> f64 {
        pairs.iter().map(|pair| of(pair.0 - x, pair.1 - y)).sum()
    };
    sum(&|x, y| x * y) / (sum(&|x, _| x * x) * sum(&|_, y| y * y)).sqrt()
}

/// How well `time` repeats the time before it, over the legs that have both.
pub(crate) fn repeat(
    tests: &[StrengthTest],
    exercise: Exercise,
    time: usize,
) -> Result<Repeat, RepeatabilityError> {
    let pairs: Vec<(&str, [f64; 2])> = pairs(tests, exercise, time - 1, time).collect();
    let loads: Vec<[f64; 2]> = pairs.iter().map(|(_, loads)| *loads).collect();
    let trials = Trials::from_rows(&loads)?;
    let logs = trials.logarithms()?;
    let spread = typical_error_interval(&logs, Confidence::NINETY_FIVE);
    let detectable = minimal_detectable_change(typical_error(&logs), CoverageFactor::ROUNDED_95)?;
    let means = logs.trial_means();
    let cv = |drawn: &[(&str, [f64; 2])]| {
        let loads: Vec<[f64; 2]> = drawn.iter().map(|(_, loads)| *loads).collect();
        let cv =
            Trials::from_rows(&loads).and_then(|t| repeatability::coefficient_of_variation(&t));
        cv.unwrap_or(f64::NAN)
    };
    Ok(Repeat {
        legs: pairs.len(),
        cv_pct: coefficient_of_variation(&trials)?,
        cv_by_legs: (pct(spread.lower), pct(spread.upper)),
        cv_by_people: by_people(&pairs, |(person, _)| *person, &cv),
        mean_change_pct: pct(means[1] - means[0]),
        detectable_pct: pct(detectable),
    })
}

/// A difference of logarithms as a change in %.
fn pct(log_difference: f64) -> f64 {
    100.0 * log_difference.exp_m1()
}

/// The mean gain in ln load of all other people between the times of two tests of one exercise.
fn gain_of_others(tests: &[StrengthTest], from: &StrengthTest, to: &StrengthTest) -> Option<f64> {
    let others = pairs(tests, to.exercise, from.time, to.time)
        .filter(|(person, _)| *person != to.participant)
        .map(|(_, [first, second])| (second / first).ln());
    let (n, sum) = others.fold((0.0, 0.0), |(n, sum), gain| (n + 1.0, sum + gain));
    (n > 0.0).then(|| sum / n)
}

/// The gain in ln load of the person's other leg between the times of two tests; none if it lacks one.
fn gain_of_other_leg(
    tests: &[StrengthTest],
    from: &StrengthTest,
    to: &StrengthTest,
) -> Option<f64> {
    let at = |time: usize| {
        tests.iter().find(|test| {
            test.participant == to.participant
                && test.exercise == to.exercise
                && test.time == time
                && test.leg != to.leg
        })
    };
    Some((at(to.time)?.load_kg / at(from.time)?.load_kg).ln())
}

/// The loads at two times, of every leg that has both, with the person.
fn pairs(
    tests: &[StrengthTest],
    exercise: Exercise,
    from: usize,
    to: usize,
) -> impl Iterator<Item = (&str, [f64; 2])> {
    let at = move |time: usize| {
        tests.iter().filter(move |test| test.exercise == exercise && test.time == time)
    };
    at(from).filter_map(move |first| {
        let same = |second: &&StrengthTest| {
            second.participant == first.participant && second.leg == first.leg
        };
        let second = at(to).find(same)?;
        Some((first.participant.as_str(), [first.load_kg, second.load_kg]))
    })
}

/// The 95 % percentile interval of a statistic: people are drawn with replacement, each with all
/// their rows. The seed is fixed, so that a page can quote the figures.
fn by_people<T: Copy>(
    rows: &[T],
    person: impl for<'a> Fn(&'a T) -> &'a str,
    statistic: &dyn Fn(&[T]) -> f64,
) -> (f64, f64) {
    let mut people: BTreeMap<&str, Vec<T>> = BTreeMap::new();
    for row in rows {
        people.entry(person(row)).or_default().push(*row);
    }
    let people: Vec<Vec<T>> = people.into_values().collect();
    let mut rng = ChaCha8Rng::seed_from_u64(SEED);
    let mut draws: Vec<f64> = (0..DRAWS)
        .map(|_| {
            let drawn = (0..people.len()).flat_map(|_| &people[rng.random_range(0..people.len())]);
            statistic(&drawn.copied().collect::<Vec<T>>())
        })
        .collect();
    draws.sort_by(f64::total_cmp);
    (draws[DRAWS / 40], draws[DRAWS - 1 - DRAWS / 40])
}
