//! The reading of a lead set, and the call that follows.
//!
//! A reading is the probability that a lift's capacity today lies more than δ under the lifter's
//! own usual, held against what was expected ([`crate::trend`]). [`gauge`] says whether the lift can
//! be read at all, [`chances`] how often each rule is right and wrong on it, [`call`] what to do.
//! Here one lift is looked at alone; nothing is diagnosed, and nobody is cleared to train.

pub mod call;
pub mod chances;
pub mod gauge;
pub mod plain;

pub use call::{Call, Circumstances, Ruling, rule};
pub use chances::{Chances, chances};
pub use gauge::{Gauge, gauge};
pub use plain::plain_rule;

use crate::trend::{Expectation, LeadSet, OneLift};

/// What a lead set says.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reading {
    /// What was expected.
    pub expected: Expectation,
    /// The ln 1RM that the set showed.
    pub log_shown: f64,
    /// P(capacity more than δ under usual).
    pub p_shortfall: f64,
}

/// Reads a lead set that is not yet part of `lift`; `shortfall` is δ as a fraction. None if the lift
/// has no record yet or the set is too long to be read.
#[must_use]
pub fn read(lift: &OneLift, set: &LeadSet, shortfall: f64) -> Option<Reading> {
    let expected = lift.expect(set)?;
    let log_shown = lift.shown_by(set)?;
    Some(Reading { expected, log_shown, p_shortfall: expected.p_shortfall(log_shown, shortfall) })
}
