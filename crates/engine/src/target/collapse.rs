//! What may remain of a lift after a lead set far below what was likely, if its lifter goes on at all.
//!
//! The plan has been overtaken: nobody does three sets of five after one repetition. What the lead set alone has
//! shown is taken at its word, and each remaining set is one that leaves [`RESERVE`] by it: lighter, never longer
//! than planned, never heavier than what was just done. Where no load is that light, nothing remains. Whether to go
//! on is decided elsewhere, and the reason is looked for first.

use domain::{Load, Reps};

use super::Today;

/// Repetitions that each remaining set leaves by what the lead set has shown; later sets of a lift show about one
/// repetition less than the first (common practice, no source). Our choice.
pub const RESERVE: f64 = 2.0;

/// A lead set as it is taken at its word.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DoneLead {
    /// The mass that it moved, in kilograms.
    pub moved_kg: f64,
    /// Its repetitions.
    pub reps: u16,
    /// The reserve as it was reported; 0 where it wasn't, for somebody who fell so far short.
    pub reserve: f64,
    /// b of the lift's load–rep curve M = w·(1 + b·n).
    pub curve_b: f64,
}

impl DoneLead {
    /// The 1RM that the set alone shows, as mass moved in kilograms.
    #[must_use]
    pub fn one_rm_kg(&self) -> f64 {
        // A single with nothing left is the 1RM itself.
        let is_single = self.reps == 1 && self.reserve == 0.0;
        let n = if is_single { 0.0 } else { f64::from(self.reps) + self.reserve };
        self.moved_kg * (1.0 + self.curve_b * n)
    }

    /// The most mass in kilograms that leaves [`RESERVE`] after so many repetitions, and no more than was moved.
    #[must_use]
    pub fn most_kg(&self, reps: u16) -> f64 {
        let most = self.one_rm_kg() / (1.0 + self.curve_b * (f64::from(reps) + RESERVE));
        most.min(self.moved_kg)
    }
}

/// The remaining sets in the place of the `planned` ones, load and repetitions; fewer where no load is light enough.
#[must_use]
pub fn remaining(today: &Today<'_>, lead: DoneLead, planned: &[(Load, Reps)]) -> Vec<(Load, Reps)> {
    let held = |(load, reps): &(Load, Reps)| {
        let most = today.load_kg(lead.most_kg(reps.get()))?;
        let light = today.ladder.at_or_below(most)?;
        Some((if light.kg() < load.kg() { light } else { *load }, *reps))
    };
    planned.iter().filter_map(held).collect()
}

/// Whether so few repetitions are less than half of so many, and at least two fewer: far below by any measure.
#[must_use]
pub fn is_half_missing(done: u16, of: f64) -> bool {
    let done = f64::from(done);
    2.0 * done < of && of - done >= 2.0
}
