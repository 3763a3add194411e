//! The oracle: the best reading that is to be had of a virtual lifter's log.
//!
//! It is told every parameter of the lifter and the world and, by choice ([`Told`]), every night's sleep
//! and stress, how hard each set truly was, what training added and a layoff took. It isn't told what was
//! drawn: strains, tolls, the day's form, scatter, a lift's wandering. With that it sees the same log as
//! everybody else. No rule can be expected to tell short days from sound ones better, so it is the
//! yardstick; nobody can be an oracle in a gym.
//!
//! A Kalman filter over the fatigue of every muscle, today's toll, the day's form, the wandering and
//! the last eight capacities of every lift; sets update it by quadrature, strains that nobody wrote
//! down are hypotheses that are merged into one Gaussian after each session. Approximate
//! where that merging and the Gaussian day form are; `tests/virtual_lifters.rs` checks that what it
//! says comes true as often as it says.

mod belief;
mod filter;
mod layout;
mod line;
mod shown;
mod strain;

use domain::SetId;
use jiff::ToSpan;

use super::{Hidden, HiddenDay, Night, VirtualLifter};
use filter::Filter;

/// The share of what a check-in told that still holds a day later.
const KEPT_A_DAY: f64 = 0.7;

/// What the oracle is told of sleep and stress.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Nights {
    /// Every night as it was.
    Told,
    /// What the check-ins say; in between what the last one said, fading to usual within a few days.
    CheckedIn,
    /// Nothing: it takes every night for a usual one, and is too sure of itself for that.
    Usual,
}

/// What the oracle is told besides parameters, drawn strains and tolls never being among it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Told {
    /// Sleep and stress.
    pub nights: Nights,
    /// How hard each set truly was; otherwise it goes by the reserve in the log, less the lifter's usual
    /// misjudgement, or by the reserve aimed at.
    pub efforts: bool,
    /// What training added, a layoff took and a complaint cost, day by day; otherwise the straight line that
    /// fits it best for each lift, and how far it strays from that in a day.
    pub levels: bool,
}

impl Told {
    /// Everything but what was drawn for the day.
    pub const EVERYTHING: Told = Told { nights: Nights::Told, efforts: true, levels: true };
    /// Parameters and the log, and nothing that happened besides.
    pub const PARAMETERS: Told = Told { nights: Nights::CheckedIn, efforts: false, levels: false };
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
pub fn read(lifter: &VirtualLifter, limit: f64, told: Told) -> Vec<OracleReading> {
    let mut filter = Filter::new(lifter, limit, told);
    for (day, night) in lifter.hidden.days.iter().zip(nights(lifter, told.nights)) {
        filter.live(day, night);
    }
    filter.readings
}

/// The night before each day, as far as it is told.
fn nights(lifter: &VirtualLifter, told: Nights) -> Vec<Night> {
    let Hidden { usual, days, .. } = &lifter.hidden;
    if told != Nights::CheckedIn {
        let night = |day: &HiddenDay| if told == Nights::Told { day.night } else { *usual };
        return days.iter().map(night).collect();
    }
    // The log has dates and the hidden days count backwards from its end: the last set's day is both.
    let Some(last) = lifter.sets.iter().map(|set| set.when.date()).max() else {
        return vec![*usual; days.len()];
    };
    let has_sets = |day: &&HiddenDay| day.exercises.iter().any(|one| !one.sets.is_empty());
    let last_day = days.iter().filter(has_sets).map(|day| day.days_back).min().unwrap_or(0);
    let mut check_ins = lifter.check_ins.iter().peekable();
    let (mut sleep, mut stress) = (0.0, 0.0);
    days.iter()
        .map(|day| {
            let date = last.saturating_sub(i64::from(day.days_back - last_day).days());
            sleep *= KEPT_A_DAY;
            stress *= KEPT_A_DAY;
            while let Some(check_in) = check_ins.next_if(|check_in| check_in.when.date() <= date) {
                sleep = check_in.sleep_h.map_or(sleep, |hours| hours - usual.sleep_h);
                stress = check_in.stress.map_or(stress, |points| points - usual.stress);
            }
            Night { sleep_h: usual.sleep_h + sleep, stress: usual.stress + stress }
        })
        .collect()
}
