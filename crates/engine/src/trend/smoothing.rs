//! Exponential smoothing of what a lift's sets show: a yardstick for forecasts, and nothing else.
//!
//! A set of n repetitions to failure with mass w shows y = ln(w·(1 + b·n)). The level follows
//! ℓ ← ℓ + α·(y − ℓ) + growth, where growth fades over exposures from a first to a lasting value. Simple
//! exponential smoothing with drift: Hyndman & Athanasopoulos, *Forecasting*, chapter 8 (from memory).
//! It knows nothing of muscles, days between, or noise, and it gives no interval: a model that doesn't
//! beat it isn't worth its trouble.

use super::LeadSet;

/// The numbers of a smoother.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Smoothing {
    /// α: the part of each miss by which the level moves, between 0 and 1.
    pub weight: f64,
    /// Growth at the first exposure, in ln 1RM an exposure.
    pub first_growth: f64,
    /// Growth that lasts, in ln 1RM an exposure.
    pub lasting_growth: f64,
    /// Exposures in which the first growth fades to a third of its distance from the lasting one.
    pub fading: f64,
    /// b of the load–rep curve.
    pub curve_b: f64,
}

/// A lift followed by a smoother.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Smoothed {
    numbers: Smoothing,
    level: f64,
    exposures: u32,
}

impl Smoothing {
    /// "It will be as last time": the whole miss is taken, and nothing grows. Read by Epley's curve.
    pub const LAST_VALUE: Smoothing = Smoothing {
        weight: 1.0,
        first_growth: 0.0,
        lasting_growth: 0.0,
        fading: 1.0,
        curve_b: 1.0 / 30.0,
    };

    /// Begins with a lift's first set.
    #[must_use]
    pub fn begin(self, first: &LeadSet) -> Smoothed {
        let mut smoothed = Smoothed { numbers: self, level: self.shown(first), exposures: 1 };
        smoothed.level += smoothed.growth(0);
        smoothed
    }

    /// ln 1RM that a set shows on this smoother's curve.
    #[must_use]
    pub fn shown(&self, set: &LeadSet) -> f64 {
        set.moved_kg.ln() + (1.0 + self.curve_b * set.reps_to_failure()).ln()
    }
}

impl Smoothed {
    /// The ln 1RM that the next set is expected to show.
    #[must_use]
    pub fn expected(&self) -> f64 {
        self.level
    }

    /// The repetitions that the next set is expected to have at its mass and reserve.
    #[must_use]
    pub fn expected_reps(&self, next: &LeadSet) -> f64 {
        let to_failure = (self.level.exp() / next.moved_kg - 1.0) / self.numbers.curve_b;
        to_failure - next.reserve.reps() + if next.is_single() { 1.0 } else { 0.0 }
    }

    /// What the set showed, less what was expected.
    #[must_use]
    pub fn miss(&self, set: &LeadSet) -> f64 {
        self.numbers.shown(set) - self.level
    }

    /// Takes a set.
    pub fn take(&mut self, set: &LeadSet) {
        self.level += self.numbers.weight * self.miss(set) + self.growth(self.exposures);
        self.exposures += 1;
    }

    fn growth(&self, exposures: u32) -> f64 {
        let Smoothing { first_growth, lasting_growth, fading, .. } = self.numbers;
        lasting_growth + (first_growth - lasting_growth) * (-f64::from(exposures) / fading).exp()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::strength::Reserve;

    fn set(moved_kg: f64, reps: u16) -> LeadSet {
        LeadSet { days: 0.0, moved_kg, reps, reserve: Reserve::Reported(0.0) }
    }

    /// By hand: 100 kg × 6 shows 100·1.2, 100 kg × 9 shows 100·1.3.
    #[test]
    fn the_last_value_repeats_what_was_shown() {
        let mut lift = Smoothing::LAST_VALUE.begin(&set(100.0, 6));
        assert!((lift.expected() - 120.0_f64.ln()).abs() < 1e-12);
        assert!((lift.expected_reps(&set(100.0, 1)) - 7.0).abs() < 1e-9, "a single counts from 1");
        assert!((lift.expected_reps(&set(96.0, 5)) - 7.5).abs() < 1e-9);
        lift.take(&set(100.0, 9));
        assert!((lift.expected() - 130.0_f64.ln()).abs() < 1e-12);
    }

    #[test]
    fn a_half_weight_goes_half_way_and_growth_fades() {
        let numbers = Smoothing {
            weight: 0.5,
            first_growth: 0.01,
            lasting_growth: 0.002,
            fading: 2.0,
            ..Smoothing::LAST_VALUE
        };
        let mut lift = numbers.begin(&set(100.0, 6));
        assert!((lift.expected() - 120.0_f64.ln() - 0.01).abs() < 1e-12);
        let before = lift.expected();
        lift.take(&set(100.0, 9));
        let grown = 0.002 + 0.008 * (-0.5_f64).exp();
        let half = before + 0.5 * (130.0_f64.ln() - before);
        assert!((lift.expected() - half - grown).abs() < 1e-12);
    }
}
