//! Any bytes as a lifter's record, and what must hold whatever they are.
//!
//! Most bytes become numbers such as logs hold; some become any 64-bit float at all, infinite and NaN
//! among them. Only the public interface is used. The fuzz target and a test of the engine share this
//! file; it knows neither.

use std::sync::LazyLock;

use domain::{Catalogue, LiftName};
use engine::recovery::{Lifter, Pooled, Shape};
use engine::strength::Reserve;
use engine::trend::LeadSet;

const LIFTS: [&str; 5] = ["back squat", "bench press", "leg press", "chin-up", "barbell row"];

/// Inputs end after so many events, so that each is quick.
const MOST_EVENTS: usize = 120;
/// Questions are asked after every so many events, and at the end.
const ASK_EVERY: usize = 20;

/// Reads `bytes` as a record and asks everything of it.
///
/// # Errors
/// What was broken: a number that is none, or a probability outside 0 to 1.
pub(crate) fn drive(bytes: &[u8]) -> Result<(), String> {
    let mut bytes = Bytes(bytes);
    let n_lifts = 1 + usize::from(bytes.next()) % LIFTS.len();
    let mut record = Record { lifter: lifter(n_lifts)?, now: 0.0, is_fitted: false };
    for event in 1..=MOST_EVENTS {
        if bytes.0.is_empty() {
            break;
        }
        record.happen(&mut bytes);
        if event % ASK_EVERY == 0 {
            record.ask()?;
        }
    }
    for muscle in record.lifter.muscles(record.now, 0.02) {
        probability("muscle", &[muscle.p_short])?;
    }
    record.ask()
}

fn lifter(n_lifts: usize) -> Result<Lifter, String> {
    static CATALOGUE: LazyLock<Catalogue> = LazyLock::new(Catalogue::built_in);
    let mut lifts = Vec::new();
    for name in &LIFTS[..n_lifts] {
        let name = LiftName::new(name).map_err(|error| error.to_string())?;
        lifts.push(CATALOGUE.find(&name).ok_or("a lift is not in the catalogue")?);
    }
    Ok(Lifter::new(Shape::of(lifts), Pooled::shipped()))
}

/// What is left of the input; zeros once it has ended.
struct Bytes<'a>(&'a [u8]);

impl Bytes<'_> {
    fn next(&mut self) -> u8 {
        let Some((first, rest)) = self.0.split_first() else { return 0 };
        self.0 = rest;
        *first
    }

    /// From `low` to `high`, or one time in sixteen any number there is.
    fn number(&mut self, low: f64, high: f64) -> f64 {
        let kind = self.next();
        if kind % 16 == 15 {
            return f64::from_bits(u64::from_le_bytes(std::array::from_fn(|_| self.next())));
        }
        low + (high - low) * f64::from(self.next()) / 255.0
    }

    fn item(&mut self) -> Option<f64> {
        (!self.next().is_multiple_of(4)).then(|| self.number(0.0, 10.0))
    }

    /// A day: later by up to three, by up to a hundred, earlier, or any.
    fn days(&mut self, now: f64) -> f64 {
        match self.next() % 8 {
            0..=2 => now,
            6 => self.number(now, now + 100.0),
            7 => self.number(now - 10.0, now),
            _ => self.number(now, now + 3.0),
        }
    }
}

struct Record {
    lifter: Lifter,
    now: f64,
    /// Estimates are costly: once in a record at most.
    is_fitted: bool,
}

impl Record {
    fn happen(&mut self, bytes: &mut Bytes<'_>) {
        let what = bytes.next() % 16;
        if what == 0 && !self.is_fitted && bytes.next() % 8 == 7 {
            self.is_fitted = true;
            self.lifter.refit();
        }
        let days = bytes.days(self.now);
        match what {
            0..=3 => self.lifter.check_in(days, [bytes.item(), bytes.item(), bytes.item()]),
            4..=8 => {
                let lift = self.lift(bytes);
                self.lifter.work(lift, days, bytes.number(0.0, 12.0));
            }
            _ => {
                let lift = self.lift(bytes);
                let moved_kg = bytes.number(20.0, 300.0);
                let reps = u16::from(bytes.next()) % 24;
                let reserve = match bytes.next() % 4 {
                    0 => Reserve::unreported(bytes.number(0.0, 5.0)),
                    1 => Reserve::Reported(bytes.number(0.0, 5.0)),
                    left => Reserve::Reported(f64::from(left - 2)),
                };
                let set = LeadSet { days, moved_kg, reps, reserve };
                if what == 15 {
                    self.lifter.later(lift, set);
                } else {
                    self.lifter.lead(lift, set);
                }
            }
        }
        // The latest day that was taken, so that questions are asked of a day not before it.
        let latest = self.lifter.events().iter().map(|event| event.days()).fold(0.0, f64::max);
        self.now = self.now.max(latest);
    }

    fn lift(&self, bytes: &mut Bytes<'_>) -> usize {
        usize::from(bytes.next()) % self.lifter.shape().n_lifts()
    }

    fn ask(&self) -> Result<(), String> {
        let lifter = &self.lifter;
        let days = self.now + 1.5;
        finite("log-likelihood", &[lifter.log_likelihood()])?;
        let (mean, sd) = lifter.absence(days);
        finite("absence", &[mean, sd])?;
        for lift in 0..lifter.shape().n_lifts() {
            self.ask_of_lift(lift, days)?;
        }
        for muscle in lifter.muscles_ahead(days, 0.02, &[0.0, 30.0]).into_iter().flatten() {
            let (low, middle, high) = muscle.shortfall_pct;
            finite("muscle", &[low, middle, high])?;
            probability("muscle", &[muscle.p_short])?;
        }
        self.ask_of_session(days)
    }

    fn ask_of_lift(&self, lift: usize, days: f64) -> Result<(), String> {
        let lifter = &self.lifter;
        let Some(today) = lifter.today(lift, days) else { return Ok(()) };
        finite("today", &[today.log_one_rm, today.log_one_rm_sd, today.slope, today.slope_sd])?;
        let scatter = lifter.scatter(lift);
        finite("scatter", &[scatter.low_pct, scatter.pct, scatter.high_pct])?;
        finite("curve", &[lifter.curve(lift).b()])?;
        for (moved_kg, reps, left) in [(100.0, 5, 1.0), (30.0, 15, 0.0), (250.0, 1, 0.0)] {
            let set = LeadSet { days, moved_kg, reps, reserve: Reserve::Reported(left) };
            let expected =
                lifter.expect(lift, &set).ok_or("no forecast of a lift with a record")?;
            let shown = lifter.shown_by(&set).ok_or("an ordinary set is not read")?;
            let (low, high) = expected.interval();
            finite("forecast", &[expected.mean, expected.variance(), expected.sd(), low, high])?;
            if expected.variance() <= 0.0 {
                return Err(format!("variance {} of a forecast", expected.variance()));
            }
            let asked = [
                expected.p_shortfall(shown, 0.02),
                expected.p_shortfall_before(0.02),
                expected.p_shortfall_in_step(shown, 0.02),
                expected.chance_of_at_least(reps),
            ];
            probability("forecast", &asked)?;
        }
        let Some(why) = lifter.why(lift) else { return Ok(()) };
        let odds: Vec<f64> = why.causes.iter().map(|one| one.odds).collect();
        finite("change", &[why.change_pct])?;
        probability("cause", &odds)
    }

    fn ask_of_session(&self, days: f64) -> Result<(), String> {
        let planned: Vec<(usize, f64)> =
            (0..self.lifter.shape().n_lifts()).map(|lift| (lift, 3.0)).collect();
        let mut session = self.lifter.session(&planned, days);
        for place in 0..session.lifts.len() {
            let reps = 1 + place as u16 % 12; // 1 to 12
            let reserve = Reserve::Reported((place % 3) as f64);
            let next = LeadSet { days, moved_kg: 80.0, reps, reserve };
            let Some(expected) = session.expectation(place, &next) else {
                return Err("no forecast of a set that can be read".to_owned());
            };
            finite("forecast in a session", &[expected.mean, expected.variance()])?;
            session.learn(place, &next);
        }
        finite("session", &session.mean)?;
        session.covariance.iter().try_for_each(|row| finite("session", row))
    }
}

fn finite(what: &str, numbers: &[f64]) -> Result<(), String> {
    match numbers.iter().find(|one| !one.is_finite()) {
        Some(broken) => Err(format!("{what}: `{broken}` among {numbers:?}")),
        None => Ok(()),
    }
}

fn probability(what: &str, numbers: &[f64]) -> Result<(), String> {
    // Sums of many shares may pass 1 by rounding.
    match numbers.iter().find(|one| !(0.0..=1.0 + 1e-9).contains(*one)) {
        Some(broken) => Err(format!("{what}: probability `{broken}` among {numbers:?}")),
        None => Ok(()),
    }
}
