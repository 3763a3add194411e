//! One lead set given by hand: what was expected, what it says, and what follows.
//!
//! Nothing is written: logging a set is another matter. The set is held against the record as it is, so
//! earlier lifts of the same session count only if they were logged.

use domain::{LiftName, LifterName, Load, LoggedSet, Note, Reps, Rir, SetKind, SetNumber, When};

use engine::recovery::Why;

use crate::ServiceError;
use crate::desk::Desk;
use crate::import::nearest;
use crate::lift::view::{point_view, why_view};
use crate::record::history::{History, LiftHistory, Point, Standing};
use crate::session::next_lead::NextLead;
use crate::view::ReadingView;

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
        let no_such_lift = || {
            let names: Vec<&str> =
                history.lifts.iter().map(|lift| lift.lift.name.as_str()).collect();
            ServiceError::NoSuchLift {
                lifter: person.lifter.name.to_string(),
                lift: request.lift.to_string(),
                near: nearest(request.lift.as_str(), names.into_iter()),
            }
        };
        let lift = self.known_lift(history, &request.lift)?.ok_or_else(no_such_lift)?;
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
        let standing = history.on(request.when.date());
        let Some(model) = standing.lift(lift) else { return Err(no_such_lift()) };
        let shown = point_view(history, &*model, &lift.lift, &point, person.lifter.unit);
        let then = NextLead::plan(&person, &standing, lift, request.when.date())
            .map(|next| next.after(&point));
        Ok(ReadingView {
            lift: lift.lift.name.to_string(),
            point: shown,
            then: then.unwrap_or_default(),
            why: why_after(&standing, lift, &point)
                .map(|why| why_view(&why, &person, lift, Some(&point), request.when.date())),
        })
    }

    fn known_lift<'a>(
        &self,
        history: &'a History,
        name: &LiftName,
    ) -> Result<Option<&'a LiftHistory>, ServiceError> {
        let catalogue = crate::record::person::catalogue(self.store())?;
        Ok(catalogue.find(name).and_then(|lift| history.lift(&lift.name)))
    }
}

/// The odds of why, with the lead set taken in, if the lift is flat or falling then.
fn why_after(standing: &Standing<'_>, lift: &LiftHistory, point: &Point) -> Option<Why> {
    let place = standing.place(lift);
    let mut after = standing.recovery()?.clone();
    let is_read = after.lead(place, point.lead);
    after.why(place).filter(|why| is_read && why.flat)
}
