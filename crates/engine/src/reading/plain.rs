//! The plain rule: "no better than last time, so cut back".
//!
//! Kept for comparison and for the coach who wants it. It has no memory beyond the last lead set and
//! no notion of scatter.

use crate::trend::{LeadSet, OneLift};

/// Whether the plain rule would cut back at this lead set: the ln 1RM that it shows is not above what
/// the last one showed. None for the first lead set.
#[must_use]
pub fn plain_rule(lift: &OneLift, set: &LeadSet) -> Option<bool> {
    let last = lift.sets().last()?;
    let (now, then) = (lift.shown_by(set)?, lift.shown_by(last)?);
    // Half a gram in 100 kg: two equal sets differ by rounding only.
    Some(now <= then + 5e-6)
}
