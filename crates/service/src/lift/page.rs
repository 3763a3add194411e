//! One lift of one lifter as a page of its own: the record, what two costs make of it, and every set.

use std::collections::BTreeMap;

use domain::bounds::number;
use domain::{LiftName, LifterName, Limits, LoggedSet, Rir};
use jiff::Timestamp;
use jiff::civil::Date;

use crate::ServiceError;
use crate::desk::Desk;
use crate::forms::{Fields, FormError, Problems};
use crate::import::nearest;
use crate::joints::stops::Stops;
use crate::lift::amend::amended_view;
use crate::lift::view::{Extent, chance_view, lift_view};
use crate::record::history::{LiftHistory, Standing};
use crate::record::person::Person;
use crate::session::next_lead::{NextLead, call_word};
use crate::view::{CallWord, CostsEffect, CostsView, LiftPageView, SetLine};

impl Desk {
    /// One lift with its whole record. `costs` holds the two costs that are being tried, in the fields
    /// `cut_for_nothing` and `trained_through`, or neither; nothing is written.
    ///
    /// # Errors
    /// The store has trouble, nobody has that name, or the lifter never did that lift.
    pub fn lift(
        &self,
        name: &LifterName,
        lift: &LiftName,
        costs: &Fields,
        today: Date,
    ) -> Result<LiftPageView, ServiceError> {
        let person = self.person(name)?;
        let (lifter, history) = (&person.lifter, &person.history);
        let record = known_lift(self, &person, lift)?;
        let standing = history.on(today);
        let missing = || no_such_lift(&person, lift);
        let stops = Stops::on(self, &person, today)?;
        let shown = lift_view(&person, &standing, record, &stops, (today, Extent::Whole))
            .ok_or_else(missing)?;
        Ok(LiftPageView {
            lifter: lifter.name.to_string(),
            unit: lifter.unit,
            today,
            remark: self.remark()?,
            lift: shown,
            costs: costs_view(&person, &standing, record, costs, today),
            sets: set_lines(record),
            amended: self.amended(&lifter.name, record)?,
        })
    }

    /// Puts two costs into force for a lifter, as new settings that supersede the old.
    ///
    /// # Errors
    /// A cost can't be taken, the store has trouble, or nobody has that name.
    pub fn set_costs(
        &self,
        name: &LifterName,
        costs: &Fields,
        now: Timestamp,
    ) -> Result<(), FormError> {
        let mut lifter = crate::record::person::lifter(self.store(), name)?;
        let mut problems = Problems::default();
        let limits = with_costs(&lifter.limits, costs, &mut problems);
        problems.none_left()?;
        if let Some(limits) = limits {
            lifter.limits = limits;
            self.store().put_lifter(&lifter, now)?;
        }
        Ok(())
    }

    /// The sets of a lift that were ever corrected or withdrawn, the latest change first.
    fn amended(
        &self,
        name: &LifterName,
        record: &LiftHistory,
    ) -> Result<Vec<crate::view::AmendedSet>, ServiceError> {
        let catalogue = crate::record::person::catalogue(self.store())?;
        let is_this = |set: &LoggedSet| {
            catalogue.find(&set.lift).is_some_and(|lift| lift.name == record.lift.name)
        };
        let mut amended: Vec<_> = self
            .store()
            .amended_sets_of(name)?
            .into_iter()
            .filter(|(_, versions)| versions.iter().any(|version| is_this(&version.content)))
            .filter_map(|(id, versions)| amended_view(id, &versions))
            .collect();
        amended.sort_by_key(|one| std::cmp::Reverse(one.versions.last().map(|last| last.recorded)));
        Ok(amended)
    }
}

/// The limits with other costs, each checked by itself so that its own field can say what is wrong.
pub(crate) fn with_costs(
    limits: &Limits,
    fields: &Fields,
    problems: &mut Problems,
) -> Option<Limits> {
    let (pain, shortfall) = (limits.pain(), limits.shortfall_pct());
    let mut cost = |field: &str, what: &'static str| {
        let value = problems.take(field, number(what, fields.get(field)))?;
        problems.take(field, Limits::new(pain, shortfall, value, 1.0))?;
        Some(value)
    };
    let cut = cost("cut_for_nothing", "cost of sets lost for nothing");
    let through = cost("trained_through", "cost of training on a shortfall");
    Limits::new(pain, shortfall, cut?, through?).ok()
}

fn known_lift<'a>(
    desk: &Desk,
    person: &'a Person,
    lift: &LiftName,
) -> Result<&'a LiftHistory, ServiceError> {
    let catalogue = crate::record::person::catalogue(desk.store())?;
    let found = catalogue.find(lift).and_then(|lift| person.history.lift(&lift.name));
    found.ok_or_else(|| no_such_lift(person, lift))
}

fn no_such_lift(person: &Person, lift: &LiftName) -> ServiceError {
    let names = person.history.lifts.iter().map(|lift| lift.lift.name.as_str());
    ServiceError::NoSuchLift {
        lifter: person.lifter.name.to_string(),
        lift: lift.to_string(),
        near: nearest(lift.as_str(), names),
    }
}

fn costs_view(
    person: &Person,
    standing: &Standing<'_>,
    record: &LiftHistory,
    typed: &Fields,
    today: Date,
) -> CostsView {
    let limits = &person.lifter.limits;
    let next = NextLead::plan(person, standing, record, today);
    let effect = |limits: &Limits| effect(next.as_ref(), record, limits);
    let is_asked = typed.has("cut_for_nothing") || typed.has("trained_through");
    let mut problems = Problems::default();
    let chosen = is_asked.then(|| with_costs(limits, typed, &mut problems)).flatten();
    let fields = match is_asked {
        true => typed.clone(),
        false => Fields::default()
            .with("cut_for_nothing", limits.cut_for_nothing())
            .with("trained_through", limits.trained_through()),
    };
    CostsView {
        in_force: effect(limits),
        chosen: chosen.as_ref().map(effect),
        shortfall_pct: limits.shortfall_pct(),
        fields,
        problems,
    }
}

/// What costs make of a lift: the threshold, its chances, and the lead sets read that it would have eased.
fn effect(next: Option<&NextLead<'_>>, record: &LiftHistory, limits: &Limits) -> CostsEffect {
    let threshold = limits.threshold();
    let read = record
        .points
        .iter()
        .filter(|point| matches!(call_word(point.ruling.call), CallWord::GoOn | CallWord::Ease));
    let read: Vec<f64> = read.filter_map(|point| point.p_shortfall).collect();
    CostsEffect {
        cut_for_nothing: limits.cut_for_nothing(),
        trained_through: limits.trained_through(),
        threshold,
        chances: next
            .and_then(|next| next.chances(record, threshold))
            .map(|chances| chance_view(&chances, threshold)),
        eased: read.iter().filter(|p| **p > threshold).count(),
        read: read.len(),
    }
}

/// Every set on record, the latest first, with the call if it was a lead set.
fn set_lines(record: &LiftHistory) -> Vec<SetLine> {
    let calls: BTreeMap<_, CallWord> =
        record.points.iter().map(|point| (point.set.id(), call_word(point.ruling.call))).collect();
    record
        .sets
        .iter()
        .rev()
        .map(|set| SetLine { call: calls.get(&set.id()).copied(), ..set_line(set) })
        .collect()
}

/// A set in plain data, as it was written down.
pub(crate) fn set_line(set: &LoggedSet) -> SetLine {
    SetLine {
        id: set.id().to_string(),
        when: set.when.to_string(),
        lift: set.lift.to_string(),
        number: set.number.get(),
        kind: set.kind.as_str(),
        load: set.load,
        reps: set.reps.get(),
        rir: set.rir.map(Rir::get),
        note: set.note.as_str().to_owned(),
        call: None,
    }
}
