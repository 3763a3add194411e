//! Kilograms and pounds in one lifter's record of one lift: noticing that one of them may be a
//! wrong label.
//!
//! A lifter who trains in two gyms lifts about the same mass in both. If the lines in pounds lie
//! lower or higher than the lines in kilograms by the factor between the units, the unit of some
//! lines is probably wrong. Our own rule of thumb, no source.

use std::collections::BTreeMap;

use domain::mass::KG_PER_LB;
use domain::{Load, Unit};

/// Lines of either unit that are needed before anything is said.
const FEWEST: u32 = 2;
/// How near the factor must be, as a share of it.
const TOLERANCE: f64 = 0.15;

/// Loads by lifter, lift and unit.
#[derive(Default)]
pub(super) struct UnitMix {
    tallies: BTreeMap<(u32, usize), [Tally; 2]>,
}

#[derive(Clone, Copy, Default)]
struct Tally {
    n: u32,
    sum_ln_kg: f64,
}

impl UnitMix {
    /// Counts a load.
    pub(super) fn add(&mut self, lifter: u32, lift: usize, load: Load) {
        if load.grams() <= 0 {
            return;
        }
        let tally = &mut self.tallies.entry((lifter, lift)).or_default()[load.unit() as usize];
        tally.n += 1;
        tally.sum_ln_kg += load.kg().ln();
    }

    /// A sentence for every lifter and lift whose units look mixed up.
    pub(super) fn warnings(&self, names: impl Fn(u32, usize) -> (String, String)) -> Vec<String> {
        let mut warnings = Vec::new();
        for (&(lifter, lift), tallies) in &self.tallies {
            let [kg, lb] = [tallies[Unit::Kg as usize], tallies[Unit::Lb as usize]];
            if kg.n < FEWEST || lb.n < FEWEST {
                continue;
            }
            let ratio = (kg.sum_ln_kg / f64::from(kg.n) - lb.sum_ln_kg / f64::from(lb.n)).exp();
            let near = |factor: f64| (ratio / factor - 1.0).abs() <= TOLERANCE;
            if near(KG_PER_LB) || near(1.0 / KG_PER_LB) {
                let (lifter, lift) = names(lifter, lift);
                warnings.push(format!(
                    "`{lifter}`, `{lift}`: {} lines are in kg and {} in lb, and the loads differ by \
                     the factor between the two units: check the unit of these lines",
                    kg.n, lb.n
                ));
            }
        }
        warnings
    }
}
