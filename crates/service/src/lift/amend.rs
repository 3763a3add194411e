//! Corrections and withdrawals of sets at the desk: a new version each, and what stood before.

use domain::{
    Catalogue, LiftName, LifterName, Load, LoggedSet, Note, Refused, Reps, Rir, SetId, SetKind,
    SetNumber, Unit,
};
use jiff::Timestamp;
use jiff::civil::Date;
use store::{SetVersion, Standing, StoreError};

use crate::ServiceError;
use crate::desk::Desk;
use crate::forms::{Fields, FormError, Problems, when};
use crate::import::near_lifts;
use crate::lift::page::set_line;
use crate::view::{AmendedSet, SetPageView, SetVersionLine};

/// Why something was changed, if nobody said.
const NO_REASON: &str = "changed at the desk";

impl Desk {
    /// One set with everything that was ever said of it, and the fields of the form that corrects it.
    ///
    /// # Errors
    /// The store has trouble, or the lifter has no such set.
    pub fn set(&self, name: &LifterName, id: SetId) -> Result<SetPageView, ServiceError> {
        let versions = self.versions_of(name, id)?;
        let amended = amended_view(id, &versions).ok_or_else(|| no_such_set(id))?;
        let set = &versions[versions.len() - 1].content;
        let catalogue = crate::record::person::catalogue(self.store())?;
        let lift = catalogue.find(&set.lift).map_or(set.lift.as_str(), |lift| lift.name.as_str());
        Ok(SetPageView {
            lifter: set.lifter.to_string(),
            lift: lift.to_owned(),
            id: id.to_string(),
            is_withdrawn: amended.is_withdrawn,
            fields: set_fields(set),
            known_lifts: catalogue.lifts().iter().map(|lift| lift.name.to_string()).collect(),
            versions: amended.versions,
        })
    }

    /// Corrects a set by the fields of its form, or puts a withdrawn one back; what stood before stays
    /// in its history. Returns the lift under which it now stands.
    ///
    /// # Errors
    /// A field can't be taken, the store has trouble, or the lifter has no such set.
    pub fn correct_set(
        &self,
        name: &LifterName,
        id: SetId,
        fields: &Fields,
        (today, now): (Date, Timestamp),
    ) -> Result<LiftName, FormError> {
        let versions = self.versions_of(name, id)?;
        let before = &versions[versions.len() - 1].content;
        let catalogue = crate::record::person::catalogue(self.store())?;
        let mut problems = Problems::default();
        let reason = problems.take("reason", reason(fields.get("reason")));
        let corrected = read_set(fields, before, &catalogue, today, &mut problems);
        let (Some(set), Some(reason), true) = (corrected, reason, problems.is_empty()) else {
            return Err(FormError::Problems(problems));
        };
        match self.store().correct_set(id, &set, reason.as_str(), now) {
            Ok(()) => Ok(catalogue.find(&set.lift).map_or(set.lift, |lift| lift.name.clone())),
            Err(StoreError::PlaceTaken { .. }) => {
                let taken = format!(
                    "set {} of this lift is on record at that time already: give another number, \
                     or withdraw one of the two",
                    set.number.get()
                );
                problems.note("number", taken);
                Err(FormError::Problems(problems))
            }
            Err(error) => Err(error.into()),
        }
    }

    /// Takes a set back, with the reason in the field `withdraw_reason`. It counts no more and stays in the history.
    /// Returns the lift under which it stood.
    ///
    /// # Errors
    /// The reason can't be taken, the store has trouble, or the lifter has no such set.
    pub fn withdraw_set(
        &self,
        name: &LifterName,
        id: SetId,
        fields: &Fields,
        now: Timestamp,
    ) -> Result<LiftName, FormError> {
        let versions = self.versions_of(name, id)?;
        let lift = versions[versions.len() - 1].content.lift.clone();
        let mut problems = Problems::default();
        let field = "withdraw_reason";
        let reason = problems.take(field, reason(fields.get(field)));
        problems.none_left()?;
        if let Some(reason) = reason {
            self.store().withdraw_set(id, reason.as_str(), now)?;
        }
        let catalogue = crate::record::person::catalogue(self.store())?;
        Ok(catalogue.find(&lift).map_or(lift, |lift| lift.name.clone()))
    }

    /// All versions of a set of this lifter; at least one.
    fn versions_of(&self, name: &LifterName, id: SetId) -> Result<Vec<SetVersion>, ServiceError> {
        let versions = self.store().history_of_set(id)?;
        match versions.last() {
            Some(last) if last.content.lifter.key() == name.key() => Ok(versions),
            _ => Err(no_such_set(id)),
        }
    }
}

/// A set with its versions; none without any.
pub(crate) fn amended_view(id: SetId, versions: &[SetVersion]) -> Option<AmendedSet> {
    let line = |version: &SetVersion| SetVersionLine {
        set: set_line(&version.content),
        is_withdrawn: version.standing == Standing::Withdrawn,
        reason: version.reason.clone(),
        recorded: version.recording.at,
        source: version.recording.source.clone(),
    };
    let last = versions.last()?;
    let is_withdrawn = last.standing == Standing::Withdrawn;
    // A withdrawn set has lost its place, so it goes by the id that it was entered under.
    let id = if is_withdrawn { id } else { last.content.id() };
    let versions = versions.iter().map(line).collect();
    Some(AmendedSet { id: id.to_string(), is_withdrawn, versions })
}

fn no_such_set(id: SetId) -> ServiceError {
    StoreError::NoSuchFact { what: "set", id: id.to_string() }.into()
}

fn reason(told: &str) -> Result<Note, Refused> {
    Note::new(if told.is_empty() { NO_REASON } else { told })
}

fn set_fields(set: &LoggedSet) -> Fields {
    let time = set.when.to_string();
    Fields::default()
        .with("date", set.when.date())
        .with("time", time.split_once('T').map_or("", |(_, time)| time))
        .with("lift", &set.lift)
        .with("number", set.number.get())
        .with("kind", set.kind.as_str())
        .with("load", set.load.value())
        .with("unit", set.load.unit().as_str())
        .with("reps", set.reps)
        .with("rir", set.rir.map_or(String::new(), |rir| rir.to_string()))
        .with("note", set.note.as_str())
}

/// Reads a form into the set that is to stand in the place of `before`.
fn read_set(
    fields: &Fields,
    before: &LoggedSet,
    catalogue: &Catalogue,
    today: Date,
    problems: &mut Problems,
) -> Option<LoggedSet> {
    let when = when(fields, today, problems);
    let lift = read_lift(fields.get("lift"), catalogue, problems, "lift");
    let number = problems.take("number", SetNumber::parse(fields.get("number")));
    let kind = problems.take("kind", SetKind::parse(fields.get("kind")));
    let unit = problems.take("unit", Unit::parse(fields.get("unit")));
    let load = unit.and_then(|unit| problems.take("load", Load::parse(fields.get("load"), unit)));
    let reps = problems.take("reps", Reps::parse(fields.get("reps")));
    let rir = problems.take("rir", Rir::parse(fields.get("rir")));
    let note = problems.take("note", Note::new(fields.get("note")));
    if let Some((lift, load)) = lift.zip(load) {
        problems.take("load", lift.accepts_load(load));
    }
    let name = &lift?.name;
    // A spelling that means the same lift is no correction.
    let is_same = catalogue.find(&before.lift).is_some_and(|lift| lift.name == *name);
    Some(LoggedSet {
        lifter: before.lifter.clone(),
        when: when?,
        lift: if is_same { before.lift.clone() } else { name.clone() },
        number: number?,
        kind: kind?,
        load: load?,
        reps: reps?,
        rir: rir?,
        note: note?,
    })
}

/// Finds a lift by what was typed.
pub(crate) fn read_lift<'a>(
    text: &str,
    catalogue: &'a Catalogue,
    problems: &mut Problems,
    field: &str,
) -> Option<&'a domain::Lift> {
    let name = problems.take(field, LiftName::new(text))?;
    let found = catalogue.find(&name);
    if found.is_none() {
        let near = near_lifts(text, catalogue);
        let cure = match near.as_slice() {
            [] => "choose one from the list, or import a lift file that has it".to_owned(),
            near => format!("did you mean {}?", near.join(", ")),
        };
        problems.note(field, format!("lift `{text}` is not in the catalogue: {cure}"));
    }
    found
}
