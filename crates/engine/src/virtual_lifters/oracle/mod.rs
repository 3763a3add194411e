//! The oracle: the best reading that is to be had of a virtual lifter's log.
//!
//! It is told every parameter of the lifter and the world, every night's sleep and stress, how hard
//! each set truly was, what training added and a layoff took. It isn't told what was drawn: strains,
//! tolls, the day's form, scatter, a lift's wandering. With that it sees the same log as everybody
//! else. No rule can be expected to tell short days from sound ones better, so it is the yardstick;
//! nobody can be an oracle in a gym.
//!
//! A Kalman filter over the fatigue of every muscle, today's toll, the day's form, the wandering and
//! the last eight capacities of every lift; sets update it by quadrature, strains that nobody wrote
//! down are hypotheses that are merged into one Gaussian after each session. Approximate
//! where that merging and the Gaussian day form are; `tests/virtual_lifters.rs` checks that what it
//! says comes true as often as it says.

mod belief;
mod filter;
mod layout;
mod shown;
mod strain;

use domain::SetId;

use super::VirtualLifter;
use filter::Filter;

/// What the oracle is told of sleep and stress.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Nights {
    /// Every night as it was.
    Told,
    /// Nothing: it takes every night for a usual one, and is too sure of itself for that.
    Usual,
}

/// What the oracle says of one lead set.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OracleReading {
    /// The lead set.
    pub set: SetId,
    /// Mean of the true ln 1RM (in kg moved, without scatter) before the set is seen.
    pub mean: f64,
    /// Standard deviation of the same.
    pub sd: f64,
    /// The middle 80 % of the same: narrower than the normal one of this standard deviation, because
    /// a strain may have happened but seldom has.
    pub interval_80: (f64, f64),
    /// P(true log capacity more than the limit under the mean of the previous eight exposures), given
    /// everything up to and with this set; none with fewer than three exposures before.
    pub p_shortfall: Option<f64>,
}

/// Reads a lifter's whole record, one reading per lead set in order; `limit` is the shortfall that
/// matters, as log strength (0.02 for 2 %).
#[must_use]
pub fn read(lifter: &VirtualLifter, limit: f64, nights: Nights) -> Vec<OracleReading> {
    let mut filter = Filter::new(lifter, limit);
    for day in &lifter.hidden.days {
        let night = match nights {
            Nights::Told => day.night,
            Nights::Usual => lifter.hidden.usual,
        };
        filter.live(day, night);
    }
    filter.readings
}
