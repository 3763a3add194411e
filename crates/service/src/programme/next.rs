//! Which session of a programme comes next, and which sessions on record were which.
//!
//! The rule, in `docs/programme-format.md` in plain words: a day of the programme on its weekday, unless that
//! session was done earlier in the week; else the earliest session of the week that its day has passed
//! without; else the next one to come. A session on record is the day of the programme with which it shares
//! most lifts. Changes of plan move sessions, leave some out, and change what is in them.

use std::collections::BTreeMap;

use domain::programme::weekday_name;
use domain::{Catalogue, Lift, LiftName, Muscle, PlannedLift, ProgrammeDay};
use jiff::civil::Date;

use super::sessions::{At, Changed, changed, planned_date};
use super::{Followed, PlanChange, monday_of};
use crate::record::history::TrainingDay;

/// Cycles of the programme in which the next slot of a lift is looked for: it may be away for some weeks.
const CYCLES: usize = 10;

/// A programme with its lifts looked up, for one lifter, and what changes of plan have made of some sessions.
#[derive(Clone, Debug)]
pub(crate) struct Schedule {
    pub(crate) followed: Followed,
    /// The lifts of each day, in the programme's order; none where the catalogue lacks one.
    lifts: Vec<Vec<Option<Lift>>>,
    changed: BTreeMap<At, Changed>,
    changes: Vec<PlanChange>,
}

/// One session of a programme on a day.
#[derive(Clone, Copy, Debug)]
pub(crate) struct NextSession<'a> {
    schedule: &'a Schedule,
    /// Its place among the programme's days, from 0.
    place: usize,
    /// The week of the programme, from 0, counted on for ever.
    week: usize,
    why: Why,
}

/// Why a session is next.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Why {
    /// It is its day.
    ItsDay,
    /// Its day has passed without it.
    NotDone,
    /// Nothing is planned for the day, and it comes next.
    ToCome,
}

/// A planned lift with all that says what its record is.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Slot<'a> {
    /// What is planned.
    pub(crate) planned: &'a PlannedLift,
    /// The lift; none if the catalogue lacks it.
    pub(crate) lift: Option<&'a Lift>,
    /// The week of the programme, from 0.
    pub(crate) week: usize,
    /// Its day's place among the programme's days.
    pub(crate) day: usize,
}

impl Schedule {
    /// Looks the lifts up, and applies changes of plan in the order in which they were recorded.
    pub(crate) fn new(
        followed: Followed,
        changes: &[PlanChange],
        catalogue: &Catalogue,
    ) -> Schedule {
        let of_day = |day: &ProgrammeDay| {
            day.lifts().iter().map(|planned| catalogue.find(planned.lift()).cloned()).collect()
        };
        let lifts: Vec<Vec<Option<Lift>>> = followed.programme.days().iter().map(of_day).collect();
        let changed = changed(&followed, &lifts, changes, catalogue);
        Schedule { followed, lifts, changed, changes: changes.to_vec() }
    }

    /// Whether sets of a muscle are left out by plan between two days.
    pub(crate) fn leaves_out(&self, muscle: Muscle, (from, until): (Date, Date)) -> bool {
        self.changes.iter().filter(|change| change.lessens(muscle)).any(|change| {
            let (first, last) = change.days();
            first <= until && from <= last
        })
    }

    /// The places of a week's sessions that aren't left out, in the order of their days.
    fn places(&self, week: usize) -> Vec<usize> {
        let is_done = |place: &usize| {
            self.changed.get(&(week, *place)).is_none_or(|changed| changed.day.is_some())
        };
        let mut places: Vec<usize> = (0..self.lifts.len()).filter(is_done).collect();
        places.sort_by_key(|place| self.date_of((week, *place))); // stable
        places
    }

    /// The day of the calendar on which a session is planned.
    fn date_of(&self, at: At) -> Date {
        let changed = self.changed.get(&at).map(|changed| changed.date);
        changed.unwrap_or_else(|| planned_date(&self.followed, at))
    }

    /// The lifts of a session.
    fn lifts_of(&self, at: At) -> &[Option<Lift>] {
        self.changed.get(&at).map_or(&self.lifts[at.1], |changed| &changed.lifts)
    }

    /// Whether a lift had fewer sets than usual by plan on a day of training.
    pub(crate) fn was_light(&self, lift: &Lift, date: Date) -> bool {
        let key = lift.name.key();
        self.changed.values().any(|one| one.date == date && one.light.contains(&key))
    }

    /// The session planned for a day of the calendar, if one is.
    pub(crate) fn planned_on(&self, date: Date) -> Option<NextSession<'_>> {
        let week = self.followed.week_on(date)?;
        let place =
            self.places(week).into_iter().find(|place| self.date_of((week, *place)) == date)?;
        Some(NextSession { schedule: self, place, week, why: Why::ItsDay })
    }

    /// The session that is next on a day, given what was trained before it; none before the programme begins.
    pub(crate) fn on(&self, date: Date, trained: &[TrainingDay]) -> Option<NextSession<'_>> {
        if date < self.followed.begins {
            return None;
        }
        let session = |place, week, why| NextSession { schedule: self, place, week, why };
        let Some(week) = self.followed.week_on(date) else {
            return self
                .sessions_since(0)
                .next()
                .map(|first| NextSession { why: Why::ToCome, ..first });
        };
        let monday = monday_of(date);
        let this_week = trained.iter().filter(|day| day.date >= monday && day.date < date);
        let done: Vec<usize> = self.sorted_out(this_week).into_values().collect();
        let open: Vec<usize> =
            self.places(week).into_iter().filter(|place| !done.contains(place)).collect();
        let day_of = |place: usize| self.date_of((week, place));
        if let Some(place) = open.iter().copied().find(|place| day_of(*place) == date) {
            return Some(session(place, week, Why::ItsDay));
        }
        let has_passed = |place: &usize| (self.followed.begins..date).contains(&day_of(*place));
        if let Some(place) = open.iter().copied().find(has_passed) {
            return Some(session(place, week, Why::NotDone));
        }
        match open.iter().copied().find(|place| day_of(*place) > date) {
            Some(place) => Some(session(place, week, Why::ToCome)),
            None => {
                let next = self.sessions_since(week + 1).next();
                next.map(|next| NextSession { why: Why::ToCome, ..next })
            }
        }
    }

    /// All sessions from the first week on, in order, without end.
    pub(crate) fn all_sessions(&self) -> impl Iterator<Item = NextSession<'_>> {
        self.sessions_since(0)
    }

    /// All sessions from a week on, in order, without end.
    fn sessions_since(&self, week: usize) -> impl Iterator<Item = NextSession<'_>> {
        (week..).flat_map(move |week| self.week(week))
    }

    /// The sessions of one week, the first being 0.
    pub(crate) fn week(&self, week: usize) -> impl Iterator<Item = NextSession<'_>> {
        self.places(week).into_iter().map(move |place| NextSession {
            schedule: self,
            place,
            week,
            why: Why::ItsDay,
        })
    }

    /// The sessions after one, in order, without end.
    pub(crate) fn after<'a>(
        &'a self,
        session: &NextSession<'_>,
    ) -> impl Iterator<Item = NextSession<'a>> + use<'a> {
        let (place, week) = (session.place, session.week);
        let of_week = self.sessions_since(week);
        of_week.skip_while(move |one| (one.week, one.place) != (week, place)).skip(1)
    }

    /// The next planned slot of a lift from a day on; none if the programme hasn't got the lift.
    pub(crate) fn next_slot(
        &self,
        lift: &LiftName,
        date: Date,
        trained: &[TrainingDay],
    ) -> Option<Slot<'_>> {
        let first = self.on(date, trained)?;
        std::iter::once(first)
            .chain(self.after(&first).take(CYCLES * self.lifts.len()))
            .flat_map(|session| session.slots())
            .find(|slot| slot.lift.is_some_and(|known| known.name.key() == lift.key()))
    }

    /// The days of training since the programme began that were this day of it, for a lift that other days
    /// plan otherwise; none if all its days are alike and every day of training counts.
    pub(crate) fn days_of(&self, slot: &Slot<'_>, trained: &[TrainingDay]) -> Option<Vec<Date>> {
        let lift = slot.lift?;
        let days = self.followed.programme.days();
        let differs = |(place, day): (usize, &ProgrammeDay)| {
            let planned = day.lifts().iter().zip(&self.lifts[place]);
            planned.filter(|(_, known)| known.as_ref().is_some_and(|l| l.name == lift.name)).any(
                |(planned, _)| {
                    (planned.reps(), planned.progression())
                        != (slot.planned.reps(), slot.planned.progression())
                },
            )
        };
        if !days.iter().enumerate().any(differs) {
            return None;
        }
        let since = trained.iter().filter(|day| day.date >= self.followed.begins);
        let by_week = chunks_by_week(since);
        let sorted = by_week.into_iter().flat_map(|week| self.sorted_out(week.into_iter()));
        Some(sorted.filter(|(_, place)| *place == slot.day).map(|(date, _)| date).collect())
    }

    /// Which day of the programme each training day of one week was.
    fn sorted_out<'a>(&self, week: impl Iterator<Item = &'a TrainingDay>) -> BTreeMap<Date, usize> {
        let mut sorted = BTreeMap::new();
        for day in week.filter(|day| day.date >= self.followed.begins) {
            let taken: Vec<usize> = sorted.values().copied().collect();
            let Some(week) = self.followed.week_on(day.date) else { continue };
            let open = self.places(week).into_iter().filter(|place| !taken.contains(place));
            // The last of equals is taken by `max_by_key`, so the week is gone through backwards.
            let best = open
                .rev()
                .map(|place| (self.likeness((week, place), day), place))
                .max_by_key(|b| b.0);
            if let Some(((shared, _), place)) = best
                && shared > 0
                && 2 * shared >= day.lifts.len().min(self.lifts_of((week, place)).len())
            {
                sorted.insert(day.date, place);
            }
        }
        sorted
    }

    /// How many lifts a training day shares with a session, and whether it was its day.
    fn likeness(&self, at: At, day: &TrainingDay) -> (usize, bool) {
        let planned = self.lifts_of(at).iter().flatten();
        let shared = planned.filter(|lift| day.lifts.contains(&lift.name)).count();
        (shared, self.date_of(at) == day.date)
    }
}

impl<'a> NextSession<'a> {
    /// The day of the programme, with its lifts as changes of plan leave them.
    pub(crate) fn day(&self) -> &'a ProgrammeDay {
        let own = &self.schedule.followed.programme.days()[self.place];
        self.changed().and_then(|changed| changed.day.as_ref()).unwrap_or(own)
    }

    fn changed(&self) -> Option<&'a Changed> {
        self.schedule.changed.get(&(self.week, self.place))
    }

    /// What a change of plan has made of it, as sentences; empty if nothing.
    pub(crate) fn changes(&self) -> &'a [String] {
        self.changed().map_or(&[], |changed| &changed.why)
    }

    /// The week of the programme, from 0, counted on for ever.
    pub(crate) fn week(&self) -> usize {
        self.week
    }

    /// The day of the calendar on which it is planned.
    pub(crate) fn date(&self) -> Date {
        self.schedule.date_of((self.week, self.place))
    }

    /// Its lifts in order.
    pub(crate) fn slots(self) -> impl Iterator<Item = Slot<'a>> {
        let known = self.schedule.lifts_of((self.week, self.place));
        self.day().lifts().iter().zip(known).map(move |(planned, lift)| Slot {
            planned,
            lift: lift.as_ref(),
            week: self.week,
            day: self.place,
        })
    }

    /// Where the lifts come from, as a sentence.
    pub(crate) fn basis(&self) -> String {
        let programme = &self.schedule.followed.programme;
        let weeks = programme.weeks();
        let week = match weeks {
            1 => String::new(),
            weeks => format!(", week {} of {weeks}", self.week % weeks + 1),
        };
        let (day, name) = (weekday_name(self.day().weekday()), &programme.name);
        let mut sentences = vec![match self.why {
            Why::ItsDay => format!("{day} of “{name}”{week}."),
            Why::NotDone => format!("{day} of “{name}”{week}, which wasn't done on its day."),
            Why::ToCome => {
                format!("{day} of “{name}”{week}: nothing is planned before it, so it comes next.")
            }
        }];
        sentences.extend(self.changes().iter().cloned());
        sentences.join(" ")
    }
}

fn chunks_by_week<'a>(days: impl Iterator<Item = &'a TrainingDay>) -> Vec<Vec<&'a TrainingDay>> {
    let mut weeks: Vec<Vec<&TrainingDay>> = Vec::new();
    for day in days {
        match weeks.last_mut().filter(|week| monday_of(week[0].date) == monday_of(day.date)) {
            Some(week) => week.push(day),
            None => weeks.push(vec![day]),
        }
    }
    weeks
}
