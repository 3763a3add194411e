//! One lead set given by hand: what was expected, what it says, and what follows.
//!
//! Nothing is written: logging a set is another matter.

use domain::{LiftName, LifterName, Load, LoggedSet, Note, Reps, Rir, SetKind, SetNumber, When};

use crate::ServiceError;
use crate::desk::Desk;
use crate::import::nearest;
use crate::lift_view::point_view;
use crate::plan::NextLead;
use crate::view::{PointView, ReadingView};

/// A lead set to be read.
#[derive(Clone, Debug)]
pub struct ReadRequest {
    /// Which lift.
    pub lift: LiftName,
    /// When it was done.
    pub when: When,
    /// With what.
    pub load: Load,
    /// How many repetitions.
    pub reps: Reps,
    /// How many were left, if known.
    pub rir: Option<Rir>,
    /// Work or test.
    pub kind: SetKind,
}

impl Desk {
    /// Reads a lead set against the lifter's record.
    ///
    /// # Errors
    /// The store has trouble, nobody has that name, the lifter never did that lift, or the lift can't
    /// have that load.
    pub fn read(
        &self,
        name: &LifterName,
        request: &ReadRequest,
    ) -> Result<ReadingView, ServiceError> {
        let person = self.person(name)?;
        let history = &person.history;
        let Some(lift) = self.known_lift(history, &request.lift)? else {
            let names: Vec<&str> =
                history.lifts.iter().map(|lift| lift.lift.name.as_str()).collect();
            return Err(ServiceError::NoSuchLift {
                lifter: person.lifter.name.to_string(),
                lift: request.lift.to_string(),
                near: nearest(request.lift.as_str(), names.into_iter()),
            });
        };
        lift.lift.accepts_load(request.load)?;
        let set = LoggedSet {
            lifter: person.lifter.name.clone(),
            when: request.when,
            lift: lift.lift.name.clone(),
            number: SetNumber::new(1)?,
            kind: request.kind,
            load: request.load,
            reps: request.reps,
            rir: request.rir,
            note: Note::default(),
        };
        let point = history.point(lift, &person.lifter.limits, &set);
        let shown: PointView = point_view(history, &lift.lift, &point, person.lifter.unit);
        let then = NextLead::plan(&person.lifter, history, lift, request.when.date())
            .map(|next| next.after(&point));
        Ok(ReadingView {
            lift: lift.lift.name.to_string(),
            point: shown,
            then: then.unwrap_or_default(),
        })
    }

    fn known_lift<'a>(
        &self,
        history: &'a crate::history::History,
        name: &LiftName,
    ) -> Result<Option<&'a crate::history::LiftHistory>, ServiceError> {
        let catalogue = crate::person::catalogue(self.store())?;
        Ok(catalogue.find(name).and_then(|lift| history.lift(&lift.name)))
    }
}
