//! The muscle view: how far each muscle is under its usual, and when it will be back.
//!
//! A muscle is never observed by itself; lifts that share it are. So its state is told as a shortfall
//! in % of ln 1RM with an 80 % interval, and "back to usual" means: within δ of usual with a
//! probability of 80 %. Usual is the running mean of the state at the muscle's own exposures.

use domain::Muscle;

use super::lifter::Lifter;
use super::state::State;
use crate::trend::expectation::{Z_80, normal_cdf};

/// The probability with which a muscle counts as back.
const SURE: f64 = 0.8;
/// How far ahead a muscle is looked at, in hours.
const HORIZON_HOURS: f64 = 240.0;

/// One muscle at one moment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MuscleState {
    /// The muscle.
    pub muscle: Muscle,
    /// How far it is under its usual, in % of the strength of a lift that it does alone: lower bound of
    /// the 80 % interval, middle, upper bound. Below 0: fresher than usual.
    pub shortfall_pct: (f64, f64, f64),
    /// The probability that it is more than δ under usual.
    pub p_short: f64,
    /// Hours until it is within δ of usual with 80 % probability if it isn't trained; 0 if it is now,
    /// none if not within ten days (its state is then not known well enough).
    pub hours_until_usual: Option<f64>,
}

impl Lifter {
    /// Every muscle on a day not before the last event, δ (`shortfall`) being a fraction.
    #[must_use]
    pub fn muscles(&self, days: f64, shortfall: f64) -> Vec<MuscleState> {
        let mut now = self.muscle_states(days, shortfall);
        // One scan for all muscles: hour by hour until each is back.
        let mut hours = 0.0;
        while hours < HORIZON_HOURS && now.iter().any(|one| one.hours_until_usual.is_none()) {
            for (one, later) in
                now.iter_mut().zip(self.muscle_states(days + hours / 24.0, shortfall))
            {
                if one.hours_until_usual.is_none() && later.p_short <= 1.0 - SURE {
                    one.hours_until_usual = Some(hours);
                }
            }
            hours += 1.0;
        }
        now
    }

    /// Every muscle some hours after `days` if nothing is trained, for each of `hours`.
    #[must_use]
    pub fn muscles_ahead(&self, days: f64, shortfall: f64, hours: &[f64]) -> Vec<Vec<MuscleState>> {
        hours.iter().map(|hours| self.muscle_states(days + hours / 24.0, shortfall)).collect()
    }

    /// Every muscle at each of some ascending moments as it was believed then, from what had happened before
    /// and with the parameters as they are now.
    #[must_use]
    pub fn muscles_back(&self, moments: &[f64], shortfall: f64) -> Vec<Vec<MuscleState>> {
        let upto =
            |moment: &f64| self.events().iter().take_while(|event| event.days() < *moment).count();
        let states = self.states_at(moments.iter().map(upto));
        let of = |(state, moment): (State, &f64)| self.muscles_of(state, *moment, shortfall);
        states.into_iter().zip(moments).map(of).collect()
    }

    fn muscle_states(&self, days: f64, shortfall: f64) -> Vec<MuscleState> {
        self.muscles_of(self.state().clone(), days, shortfall)
    }

    fn muscles_of(&self, mut state: State, days: f64, shortfall: f64) -> Vec<MuscleState> {
        self.dynamics().pass(&mut state, days);
        let muscles = self.shape().muscles().iter().enumerate();
        muscles
            .map(|(place, &muscle)| {
                let row = [(self.shape().muscle_row(place), 1.0)];
                let under = state.muscle_usual[place].1 - state.mean_of(&row);
                let sd = state.variance_of(&row).sqrt();
                let p_short = normal_cdf((under + (1.0 - shortfall).ln()) / sd.max(1e-9));
                let pct = |z: f64| 100.0 * (1.0 - (-(under + z * sd)).exp());
                MuscleState {
                    muscle,
                    shortfall_pct: (pct(-Z_80), pct(0.0), pct(Z_80)),
                    p_short,
                    hours_until_usual: None,
                }
            })
            .collect()
    }
}
