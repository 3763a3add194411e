//! The reading of a lead set, and the call that follows.
//!
//! A reading is the probability that a lift's capacity today lies more than δ under the lifter's
//! own usual, held against what was expected by a [`LiftModel`]: that of all of a lifter's lifts and
//! muscles ([`crate::recovery`]), or of one lift alone ([`crate::trend`]). [`gauge`] says whether the
//! lift can be read at all, [`chances`] how often each rule is right and wrong on it, [`call`] what to
//! do. Nothing is diagnosed here, and nobody is cleared to train.

pub mod call;
pub mod chances;
pub mod gauge;
pub mod model;
pub mod plain;

pub use call::{
    Absence, Call, Circumstances, Ruling, percent, rule, rule_plainly, why_load_unread, why_unread,
};
pub use chances::{Chances, chances};
pub use gauge::{Gauge, gauge};
pub use model::{LiftModel, RecoveryLift};
pub use plain::{PlainRecord, plain_rule};

use crate::trend::{Expectation, LeadSet};

/// What a lead set says.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reading {
    /// What was expected.
    pub expected: Expectation,
    /// The ln 1RM that the set showed.
    pub log_shown: f64,
    /// P(capacity more than δ under usual), never less for a set that showed less.
    pub p_shortfall: f64,
}

/// Reads a lead set that is not yet part of `lift`; `shortfall` is δ as a fraction. None if the lift
/// has no record yet or the set is too long to be read.
#[must_use]
pub fn read(lift: &dyn LiftModel, set: &LeadSet, shortfall: f64) -> Option<Reading> {
    Some(hold_against(lift.expect(set)?, lift.shown_by(set)?, shortfall))
}

/// Holds the ln 1RM that a lead set showed against what was expected of it.
#[must_use]
pub fn hold_against(expected: Expectation, log_shown: f64, shortfall: f64) -> Reading {
    let p_shortfall = expected.p_shortfall_in_step(log_shown, shortfall);
    Reading { expected, log_shown, p_shortfall }
}
