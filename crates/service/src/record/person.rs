//! One lifter loaded and read: settings, lifts known, history.

use domain::{Catalogue, CatalogueError, CheckIn, Lifter, LifterName, LoggedSet, Muscle};
use engine::recovery::MODEL_VERSION;
use jiff::civil::Date;
use store::{KeptFit, Store, StoreError};

use crate::ServiceError;
use crate::import::nearest;
use crate::programme::{Schedule, Slot, followed, plan_changes_in_force};
use crate::record::history::{History, Model};
use crate::record::inputs::Grounds;

/// A lifter as the record stands.
#[derive(Clone, Debug)]
pub(crate) struct Person {
    pub(crate) lifter: Lifter,
    pub(crate) history: History,
    /// The programme that the lifter follows.
    pub(crate) schedule: Option<Schedule>,
    /// How many sets are on record, those of lifts that nobody knows among them.
    pub(crate) n_sets: usize,
}

impl Person {
    /// Loads a lifter with the fits kept; a name that isn't on record is answered with near ones.
    pub(crate) fn load(store: &Store, name: &LifterName) -> Result<Person, ServiceError> {
        Person::load_with(store, name, &store.kept_fits(name, MODEL_VERSION)?, None)
    }

    /// Loads a lifter, of whom these fits were kept. What was read `earlier` saves time and changes nothing.
    pub(crate) fn load_with(
        store: &Store,
        name: &LifterName,
        kept: &[KeptFit],
        earlier: Option<&Person>,
    ) -> Result<Person, ServiceError> {
        let lifter = lifter(store, name)?;
        let sets = store.sets_of(&lifter.name)?;
        let check_ins = store.check_ins_of(&lifter.name)?;
        let earlier = earlier.map(|earlier| &earlier.history);
        Person::read(store, lifter, (kept, earlier), sets, check_ins)
    }

    /// The lifter as [`Person::load_before`] has them; none if that can't be told from this reading.
    pub(crate) fn before(&self, date: Date) -> Option<Person> {
        let history = self.history.before(date)?;
        let of_later_days = |set: &&LoggedSet| set.when.date() >= date;
        let later = self.history.lifts.iter().flat_map(|lift| &lift.sets).filter(of_later_days);
        let n_sets = self.n_sets - later.count();
        Some(Person {
            lifter: self.lifter.clone(),
            history,
            schedule: self.schedule.clone(),
            n_sets,
        })
    }

    /// Loads a lifter as they stood before a day, but with that day's check-ins.
    pub(crate) fn load_before(
        store: &Store,
        name: &LifterName,
        date: Date,
    ) -> Result<Person, ServiceError> {
        let lifter = lifter(store, name)?;
        let kept = store.kept_fits(name, MODEL_VERSION)?;
        let mut sets = store.sets_of(&lifter.name)?;
        sets.retain(|set| set.when.date() < date);
        let check_ins = store.check_ins_of(&lifter.name)?;
        Person::read(store, lifter, (&kept, None), sets, check_ins)
    }

    /// The next planned slot of a lift from a day on, if the programme has the lift.
    pub(crate) fn next_slot(&self, lift: &domain::LiftName, date: Date) -> Option<Slot<'_>> {
        self.schedule.as_ref()?.next_slot(lift, date, &self.history.days)
    }

    /// Whether sets of a muscle were or are left out by plan between two days.
    pub(crate) fn leaves_out(&self, muscle: Muscle, days: (Date, Date)) -> bool {
        self.schedule.as_ref().is_some_and(|schedule| schedule.leaves_out(muscle, days))
    }

    fn read(
        store: &Store,
        lifter: Lifter,
        (kept, earlier): (&[KeptFit], Option<&History>),
        sets: Vec<LoggedSet>,
        check_ins: Vec<CheckIn>,
    ) -> Result<Person, ServiceError> {
        let n_sets = sets.len();
        let catalogue = catalogue(store)?;
        let grounds = Grounds::in_force(store)?.with_kept(kept);
        let (limits, model) = (&lifter.limits, Model::default());
        let on = (grounds, &catalogue, limits);
        let history = History::read_from(earlier, on, model, sets, check_ins);
        let followed = followed(store, &lifter.name)?;
        let changes = plan_changes_in_force(store, &lifter.name)?;
        let schedule = followed.map(|followed| Schedule::new(followed, &changes, &catalogue));
        Ok(Person { lifter, history, schedule, n_sets })
    }
}

/// A lifter's newest settings, without the record; a name that isn't on record is answered with near ones.
pub(crate) fn lifter(store: &Store, name: &LifterName) -> Result<Lifter, ServiceError> {
    match store.lifter(name)? {
        Some(lifter) => Ok(lifter),
        None => Err(no_such_lifter(store, name)?),
    }
}

/// The built-in catalogue with the coach's lift files laid over it.
///
/// # Errors
/// The store has trouble, or a lift file on record can't be read.
pub fn catalogue(store: &Store) -> Result<Catalogue, ServiceError> {
    catalogue_or(store)
}

/// [`catalogue`], with the errors of whoever asks.
pub(crate) fn catalogue_or<E>(store: &Store) -> Result<Catalogue, E>
where
    E: From<StoreError> + From<CatalogueError>,
{
    let mut catalogue = Catalogue::built_in();
    for text in store.lift_files()? {
        catalogue = catalogue.with_file(&text)?;
    }
    Ok(catalogue)
}

fn no_such_lifter(store: &Store, name: &LifterName) -> Result<ServiceError, ServiceError> {
    let names: Vec<String> =
        store.lifters()?.into_iter().map(|summary| summary.lifter.name.to_string()).collect();
    // A first name alone is nowhere near the whole one in letters, but it is what people type.
    let part = name.key();
    let mut near: Vec<String> = names
        .iter()
        .filter(|known| known.to_lowercase().contains(&part))
        .take(3)
        .cloned()
        .collect();
    if near.is_empty() {
        near = nearest(name.as_str(), names.iter().map(String::as_str));
    }
    Ok(ServiceError::NoSuchLifter { name: name.to_string(), near })
}
