//! What a reading needs to know of one lift, whichever model tells it.
//!
//! Two do: [`OneLift`], which looks at the lift alone, and [`RecoveryLift`], one lift of a lifter whose
//! lifts and muscles are all followed together. Gauge, chances, plain rule and call work with either.

use crate::recovery::Lifter;
use crate::strength::{LoadRepCurve, Reserve};
use crate::trend::{Expectation, LeadSet, OneLift, Parameters, Scatter, TodayEstimate};

/// One lift as a model knows it so far. Days count from the model's origin and are not before what
/// it took last.
pub trait LiftModel {
    /// The forecast of a lead set with this time, mass and reserve; none before the lift's first.
    fn expect(&self, next: &LeadSet) -> Option<Expectation>;

    /// The ln 1RM that a set shows with the model's curve; none if it is too long to be read.
    fn shown_by(&self, set: &LeadSet) -> Option<f64>;

    /// 1RM and trend on a day; none before the lift's first lead set.
    fn today(&self, days: f64) -> Option<TodayEstimate>;

    /// How much a usual lead set scatters.
    fn scatter(&self) -> Scatter;

    /// The reserve to assume for a set whose reserve was not told.
    fn usual_reserve(&self) -> Reserve;

    /// How many lead sets have been read.
    fn exposures(&self) -> usize;

    /// The latest `n` lead sets read, in order of time.
    fn latest(&self, n: usize) -> Vec<LeadSet>;

    /// The lift's own load–rep curve as it looks now. The curve of [`LiftModel::shown_by`] may be
    /// another, if what the two differ by is part of what the model learns.
    fn curve(&self) -> LoadRepCurve;

    /// A trend of this lift alone with what the model has estimated of it: for the line of what was usual.
    fn alone(&self) -> Parameters;

    /// What the fit says of itself, as a sentence.
    fn fit_words(&self) -> String;

    /// What to add to the ln 1RM that a set shows to have it on the lift's own curve.
    fn to_own_curve(&self, set: &LeadSet) -> f64 {
        let own = set.measure(self.curve()).ok().map(|seen| seen.log_one_rm);
        own.zip(self.shown_by(set)).map_or(0.0, |(own, shown)| own - shown)
    }

    /// The last lead set read.
    fn last(&self) -> Option<LeadSet> {
        self.latest(1).pop()
    }
}

impl LiftModel for OneLift {
    fn expect(&self, next: &LeadSet) -> Option<Expectation> {
        self.expect(next)
    }

    fn shown_by(&self, set: &LeadSet) -> Option<f64> {
        self.shown_by(set)
    }

    fn today(&self, days: f64) -> Option<TodayEstimate> {
        self.today(days)
    }

    fn scatter(&self) -> Scatter {
        self.scatter()
    }

    fn usual_reserve(&self) -> Reserve {
        self.usual_reserve()
    }

    fn exposures(&self) -> usize {
        self.exposures()
    }

    fn latest(&self, n: usize) -> Vec<LeadSet> {
        self.sets()[self.exposures().saturating_sub(n)..].to_vec()
    }

    fn curve(&self) -> LoadRepCurve {
        self.parameters().curve
    }

    fn alone(&self) -> Parameters {
        *self.parameters()
    }

    fn fit_words(&self) -> String {
        self.fit_report().words()
    }
}

/// One lift of a lifter whom the recovery model follows.
#[derive(Clone, Copy, Debug)]
pub struct RecoveryLift<'a> {
    lifter: &'a Lifter,
    lift: usize,
}

impl<'a> RecoveryLift<'a> {
    /// The lift at place `lift` of the lifter's [`crate::recovery::Shape`].
    #[must_use]
    pub fn new(lifter: &'a Lifter, lift: usize) -> RecoveryLift<'a> {
        RecoveryLift { lifter, lift }
    }
}

impl LiftModel for RecoveryLift<'_> {
    fn expect(&self, next: &LeadSet) -> Option<Expectation> {
        self.lifter.expect(self.lift, next)
    }

    fn shown_by(&self, set: &LeadSet) -> Option<f64> {
        self.lifter.shown_by(set)
    }

    fn today(&self, days: f64) -> Option<TodayEstimate> {
        self.lifter.today(self.lift, days)
    }

    fn scatter(&self) -> Scatter {
        self.lifter.scatter(self.lift)
    }

    fn usual_reserve(&self) -> Reserve {
        self.lifter.usual_reserve(self.lift)
    }

    fn exposures(&self) -> usize {
        self.lifter.exposures(self.lift)
    }

    fn latest(&self, n: usize) -> Vec<LeadSet> {
        let mut latest: Vec<LeadSet> = self.lifter.lead_sets(self.lift).rev().take(n).collect();
        latest.reverse();
        latest
    }

    fn curve(&self) -> LoadRepCurve {
        self.lifter.curve(self.lift)
    }

    fn alone(&self) -> Parameters {
        self.lifter.alone(self.lift)
    }

    fn fit_words(&self) -> String {
        self.lifter.fit().words()
    }
}
