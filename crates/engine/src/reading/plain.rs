//! The plain rule: "no better than last time, so cut back".
//!
//! Kept for comparison and for the coach who wants it. It has no memory beyond the last lead set and
//! no notion of scatter.

use super::model::LiftModel;
use crate::strength::{LoadRepCurve, Reserve};
use crate::trend::LeadSet;

/// Whether the plain rule would cut back at this lead set: the ln 1RM that it shows is not above what
/// the last one showed. None for the first lead set and for sets too long to be read.
#[must_use]
pub fn plain_rule(lift: &dyn LiftModel, set: &LeadSet) -> Option<bool> {
    Some(is_no_better(lift.shown_by(set)?, lift.shown_by(&lift.last()?)?))
}

/// One lift as the plain rule knows it when no model stands behind it: the last lead set, by Epley's
/// curve.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PlainRecord {
    last: Option<LeadSet>,
    told: Option<f64>,
}

impl PlainRecord {
    /// What a set shows of ln 1RM; none if it is too long to be read.
    #[must_use]
    pub fn shown_by(&self, set: &LeadSet) -> Option<f64> {
        set.measure(LoadRepCurve::EPLEY).ok().map(|seen| seen.log_one_rm)
    }

    /// Whether the rule cuts back, as [`plain_rule`].
    #[must_use]
    pub fn fires(&self, set: &LeadSet) -> Option<bool> {
        Some(is_no_better(self.shown_by(set)?, self.shown_by(&self.last?)?))
    }

    /// The reserve to assume for a set whose reserve was not told: the one told last, else 1 (common
    /// practice, no source).
    #[must_use]
    pub fn usual_reserve(&self) -> Reserve {
        Reserve::unreported(self.told.unwrap_or(1.0))
    }

    /// The last lead set.
    #[must_use]
    pub fn last(&self) -> Option<LeadSet> {
        self.last
    }

    /// Takes a lead set; false if it is too long to be read.
    pub fn read(&mut self, set: LeadSet) -> bool {
        let is_read = self.shown_by(&set).is_some();
        if is_read {
            self.last = Some(set);
            if let Reserve::Reported(reps) = set.reserve {
                self.told = Some(reps);
            }
        }
        is_read
    }
}

fn is_no_better(now: f64, then: f64) -> bool {
    // Half a gram in 100 kg: two equal sets differ by rounding only.
    now <= then + 5e-6
}
