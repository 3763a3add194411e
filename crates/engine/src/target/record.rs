//! The record of one lift as targets need it: sessions of work sets, lead set first.

use std::borrow::Cow;

use domain::{Load, LoggedSet, Reps, Rir, SetKind};

use crate::loading::plates::TOLERANCE_G;

/// A work set as it was done.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct DoneSet {
    /// The load.
    pub load: Load,
    /// The repetitions.
    pub reps: Reps,
    /// The reserve, if it was told.
    pub rir: Option<Rir>,
}

/// The work sets of one lift on one day, or its tests if there was nothing else; at least one.
#[derive(Clone, Debug, PartialEq)]
pub struct Exposure {
    days: f64,
    lead: DoneSet,
    after: Vec<DoneSet>,
    is_test: bool,
}

impl Exposure {
    /// Takes the day (days since 1970-01-01), the lead set and the work sets after it.
    #[must_use]
    pub fn new(days: f64, lead: DoneSet, after: Vec<DoneSet>) -> Exposure {
        Exposure { days, lead, after, is_test: false }
    }

    /// The same as a day of tests alone.
    #[must_use]
    pub fn as_test(self) -> Exposure {
        Exposure { is_test: true, ..self }
    }

    /// Whether nothing but tests was done: no base for progression.
    #[must_use]
    pub fn is_test(&self) -> bool {
        self.is_test
    }

    /// Days since 1970-01-01.
    #[must_use]
    pub fn days(&self) -> f64 {
        self.days
    }

    /// The lead set.
    #[must_use]
    pub fn lead(&self) -> DoneSet {
        self.lead
    }

    /// All work sets, the lead set first.
    pub fn sets(&self) -> impl Iterator<Item = DoneSet> + '_ {
        std::iter::once(self.lead).chain(self.after.iter().copied())
    }

    /// The work sets with the lead set's load.
    pub fn at_lead_load(&self) -> impl Iterator<Item = DoneSet> + '_ {
        self.sets().filter(|set| same_load(set.load, self.lead.load))
    }

    /// How many work sets there were.
    #[must_use]
    pub fn count(&self) -> usize {
        1 + self.after.len()
    }
}

/// Whether two loads are one to within the tolerance of [`crate::loading::plates`].
#[must_use]
pub fn same_load(a: Load, b: Load) -> bool {
    (i64::from(a.grams()) - i64::from(b.grams())).abs() <= TOLERANCE_G
}

/// Sorts the sets of **one lift** into exposures, by date; warm-ups and speed work are left out, and so are
/// tests on a day with work sets. A test has a reserve of 0 if none was told. Sets come in any order.
#[must_use]
pub fn exposures(sets: &[LoggedSet]) -> Vec<Exposure> {
    let mut leads: Vec<&LoggedSet> = sets.iter().filter(|set| set.kind.can_lead()).collect();
    leads.sort_by_key(|set| (set.when.date(), set.when.time(), set.number));
    leads
        .chunk_by(|a, b| a.when.date() == b.when.date())
        .filter_map(|day| {
            let of_kind = |tests: bool| {
                day.iter()
                    .filter(move |set| (set.kind == SetKind::Test) == tests)
                    .map(|set| done(set))
            };
            let is_test = of_kind(false).next().is_none();
            let mut sets = of_kind(is_test);
            let exposure = Exposure::new(day.first()?.when.days(), sets.next()?, sets.collect());
            Some(if is_test { exposure.as_test() } else { exposure })
        })
        .collect()
}

/// What progression goes by: the record without days of tests alone, or all of it if there is nothing else.
/// A test says what a lifter can do once, and nothing about the load of the work.
#[must_use]
pub fn without_tests(record: &[Exposure]) -> Cow<'_, [Exposure]> {
    let tests = record.iter().filter(|exposure| exposure.is_test).count();
    if tests == 0 || tests == record.len() {
        return Cow::Borrowed(record);
    }
    record.iter().filter(|exposure| !exposure.is_test).cloned().collect()
}

fn done(set: &LoggedSet) -> DoneSet {
    let untold = (set.kind == SetKind::Test).then_some(Rir::ZERO);
    DoneSet { load: set.load, reps: set.reps, rir: set.rir.or(untold) }
}
