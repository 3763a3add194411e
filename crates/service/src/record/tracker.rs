//! Where readings come from: the model chosen, and all that it has taken of one lifter so far.
//!
//! Only the chosen model is computed. How each works is the engine's; in which order events reach it
//! is [`crate::record::history`]'s.

use std::ops::Deref;

use domain::{CheckIn, Lift, LoggedSet, SetKind};
use engine::reading::{Absence, LiftModel, PlainRecord, RecoveryLift};
use engine::recovery::{self, Pooled, Shape, dose::hard_sets};
use engine::strength::Reserve;
use engine::trend::{LeadSet, OneLift, Prior, TodayEstimate};

use crate::record::inputs::{Followed, Grounds, UsedFit};

/// A model from which readings come.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Model {
    /// The plain rule, "no better than last time", with no forecast.
    Plain,
    /// Each lift alone.
    OneLift,
    /// All lifts and muscles of a lifter together, with dose, check-ins and absence.
    #[default]
    Recovery,
}

impl Model {
    /// All, the simplest first.
    pub const ALL: [Model; 3] = [Model::Plain, Model::OneLift, Model::Recovery];

    /// The model as it is written everywhere.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Model::Plain => "plain",
            Model::OneLift => "one-lift",
            Model::Recovery => "recovery",
        }
    }

    /// The model with this name.
    #[must_use]
    pub fn named(name: &str) -> Option<Model> {
        Model::ALL.into_iter().find(|model| model.as_str() == name)
    }
}

/// One lift as a model knows it.
#[derive(Clone, Copy, Debug)]
pub enum LiftBy<'a> {
    /// By itself.
    OneLift(&'a OneLift),
    /// Among all lifts of the lifter.
    Recovery(RecoveryLift<'a>),
}

impl<'a> Deref for LiftBy<'a> {
    type Target = dyn LiftModel + 'a;

    fn deref(&self) -> &(dyn LiftModel + 'a) {
        match self {
            LiftBy::OneLift(lift) => *lift,
            LiftBy::Recovery(lift) => lift,
        }
    }
}

/// What is known of one lift: by a model, or only what the plain rule needs.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Known<'a> {
    Model(LiftBy<'a>),
    Plain(&'a PlainRecord),
}

/// A model with everything that it has taken of one lifter. Lifts go by their place in the list given
/// at the start.
#[derive(Clone, Debug)]
pub(crate) enum Follower {
    Plain(Vec<PlainRecord>),
    OneLift(Vec<OneLift>),
    Recovery(Box<Followed>),
}

impl Follower {
    /// Nothing taken yet of a lifter who does these lifts.
    pub(crate) fn new(model: Model, lifts: &[&Lift], pooled: &Pooled) -> Follower {
        match model {
            Model::Plain => Follower::Plain(vec![PlainRecord::default(); lifts.len()]),
            Model::OneLift => {
                let alone =
                    |lift: &&Lift| OneLift::new(Prior::starting_at(lift.starting_scatter_pct));
                Follower::OneLift(lifts.iter().map(alone).collect())
            }
            Model::Recovery => {
                let shape = Shape::of(lifts.iter().copied());
                let lifter = recovery::Lifter::new(shape, pooled.clone());
                Follower::Recovery(Box::new(Followed { lifter, used: Vec::new() }))
            }
        }
    }

    /// Which model it is.
    pub(crate) fn model(&self) -> Model {
        match self {
            Follower::Plain(_) => Model::Plain,
            Follower::OneLift(_) => Model::OneLift,
            Follower::Recovery(_) => Model::Recovery,
        }
    }

    /// Notes which of the fits used so far are kept by now.
    pub(crate) fn note_kept(&mut self, grounds: &Grounds) {
        if let Follower::Recovery(followed) = self {
            followed.note_kept(grounds);
        }
    }

    /// What is known of one lift.
    pub(crate) fn knows(&self, place: usize) -> Known<'_> {
        match self {
            Follower::Plain(lifts) => Known::Plain(&lifts[place]),
            Follower::OneLift(lifts) => Known::Model(LiftBy::OneLift(&lifts[place])),
            Follower::Recovery(followed) => {
                Known::Model(LiftBy::Recovery(RecoveryLift::new(&followed.lifter, place)))
            }
        }
    }

    /// The recovery model, if it is the one chosen.
    pub(crate) fn recovery(&self) -> Option<&recovery::Lifter> {
        match self {
            Follower::Recovery(followed) => Some(&followed.lifter),
            Follower::Plain(_) | Follower::OneLift(_) => None,
        }
    }

    /// The fits used so far, those of the fewest lead sets first.
    pub(crate) fn used_fits(&self) -> &[UsedFit] {
        match self {
            Follower::Recovery(followed) => &followed.used,
            Follower::Plain(_) | Follower::OneLift(_) => &[],
        }
    }

    /// A lead set as models read it: mass moved, and the reserve told or usual.
    pub(crate) fn lead_set(&self, place: usize, set: &LoggedSet, moved_kg: f64) -> LeadSet {
        let reserve = match (set.rir, set.kind) {
            (Some(rir), _) => Reserve::Reported(rir.get()),
            (None, SetKind::Test) => Reserve::Reported(0.0),
            (None, _) => match self.knows(place) {
                Known::Model(model) => model.usual_reserve(),
                Known::Plain(record) => record.usual_reserve(),
            },
        };
        LeadSet { days: set.when.days(), moved_kg, reps: set.reps.get(), reserve }
    }

    /// What is still missing on a day from an absence of `away` days.
    pub(crate) fn absence(&self, days: f64, away: f64) -> Option<Absence> {
        let (mean, _) = self.recovery()?.absence(days);
        Some(Absence { days: away, missing: 1.0 - mean.exp() })
    }

    /// Takes a check-in, at the latest at `days`.
    pub(crate) fn check_in(&mut self, told: &CheckIn, latest: f64) {
        if let Follower::Recovery(followed) = self {
            let days = told.when.days().min(latest);
            followed.lifter.check_in(days, [told.sleep_h, told.stress, told.soreness]);
        }
    }

    /// Takes a lead set; 1RM and trend with it read, if it could be.
    pub(crate) fn lead(&mut self, place: usize, set: LeadSet) -> Option<TodayEstimate> {
        let is_read = match self {
            Follower::Plain(lifts) => lifts[place].read(set),
            Follower::OneLift(lifts) => lifts[place].read(set).is_ok(),
            Follower::Recovery(followed) => followed.lifter.lead(place, set),
        };
        // A set that can't be read leaves the model as it was; its ruling says so.
        match self.knows(place) {
            Known::Model(model) if is_read => model.today(set.days),
            Known::Model(_) | Known::Plain(_) => None,
        }
    }

    /// Takes a work set after the lead set of its lift.
    pub(crate) fn later(&mut self, place: usize, set: &LoggedSet, moved_kg: f64) {
        let set = self.lead_set(place, set, moved_kg);
        if let Follower::Recovery(followed) = self {
            followed.lifter.later(place, set);
        }
    }

    /// Takes the dose of a set.
    pub(crate) fn work(&mut self, place: usize, set: &LoggedSet) {
        if let Follower::Recovery(followed) = self {
            let dose = hard_sets(set);
            if dose > 0.0 {
                followed.lifter.work(place, set.when.days(), dose);
            }
        }
    }

    /// Whether the end of the session will bring other estimates.
    pub(crate) fn is_due(&self) -> bool {
        self.recovery().is_some_and(recovery::Lifter::is_due)
    }

    /// The session is over: estimates anew what is due, or takes the fits kept for that.
    pub(crate) fn settle(&mut self, grounds: &Grounds) {
        if let Follower::Recovery(followed) = self {
            followed.settle(grounds);
        }
    }
}
