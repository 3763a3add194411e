//! Which session of a programme comes next, and which sessions on record were which.
//!
//! The rule, in `docs/programme-format.md` in plain words: a day of the programme on its weekday, unless that
//! session was done earlier in the week; else the earliest session of the week that its day has passed
//! without; else the next one to come. A session on record is the day of the programme with which it shares
//! most lifts.

use std::collections::BTreeMap;

use domain::programme::weekday_name;
use domain::{Catalogue, Lift, LiftName, PlannedLift, ProgrammeDay};
use jiff::civil::Date;

use super::{Followed, monday_of};
use crate::history::TrainingDay;

/// A programme with its lifts looked up, for one lifter.
#[derive(Clone, Debug)]
pub(crate) struct Schedule {
    pub(crate) followed: Followed,
    /// The lifts of each day, in the programme's order; none where the catalogue lacks one.
    lifts: Vec<Vec<Option<Lift>>>,
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
    /// Looks the lifts up.
    pub(crate) fn new(followed: Followed, catalogue: &Catalogue) -> Schedule {
        let of_day = |day: &ProgrammeDay| {
            day.lifts().iter().map(|planned| catalogue.find(planned.lift()).cloned()).collect()
        };
        let lifts = followed.programme.days().iter().map(of_day).collect();
        Schedule { followed, lifts }
    }

    /// The session that is next on a day, given what was trained before it; none before the programme begins.
    pub(crate) fn on(&self, date: Date, trained: &[TrainingDay]) -> Option<NextSession<'_>> {
        if date < self.followed.begins {
            return None;
        }
        let session = |place, week, why| NextSession { schedule: self, place, week, why };
        let Some(week) = self.followed.week_on(date) else {
            return Some(session(0, 0, Why::ToCome));
        };
        let days = self.followed.programme.days();
        let monday = monday_of(date);
        let this_week = trained.iter().filter(|day| day.date >= monday && day.date < date);
        let done: Vec<usize> = self.sorted_out(this_week).into_values().collect();
        let is_open = |place: &usize| !done.contains(place);
        let day_of = |place: usize| on_weekday(monday, &days[place]);
        let places = || (0..days.len()).filter(is_open);
        if let Some(place) = places().find(|place| day_of(*place) == date) {
            return Some(session(place, week, Why::ItsDay));
        }
        let has_passed = |place: &usize| (self.followed.begins..date).contains(&day_of(*place));
        if let Some(place) = places().find(has_passed) {
            return Some(session(place, week, Why::NotDone));
        }
        let comes = places().find(|place| day_of(*place) > date);
        Some(comes.map_or_else(
            || session(0, week + 1, Why::ToCome),
            |place| session(place, week, Why::ToCome),
        ))
    }

    /// All sessions from the first week on, in order, without end.
    pub(crate) fn all_sessions(&self) -> impl Iterator<Item = NextSession<'_>> {
        let first = NextSession { schedule: self, place: 0, week: 0, why: Why::ItsDay };
        std::iter::once(first).chain(self.after(&first))
    }

    /// The sessions of one week, the first being 0.
    pub(crate) fn week(&self, week: usize) -> impl Iterator<Item = NextSession<'_>> {
        (0..self.lifts.len()).map(move |place| NextSession {
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
        let n_days = self.lifts.len();
        let (first, week) = (session.place, session.week);
        (1..).map(move |step| {
            let place = (first + step) % n_days;
            let week = week + (first + step) / n_days;
            NextSession { schedule: self, place, week, why: Why::ItsDay }
        })
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
            .chain(self.after(&first).take(self.lifts.len()))
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
            let open = (0..self.lifts.len()).filter(|place| !taken.contains(place));
            // The last of equals is taken by `max_by_key`, so the week is gone through backwards.
            let best =
                open.rev().map(|place| (self.likeness(place, day), place)).max_by_key(|b| b.0);
            if let Some(((shared, _), place)) = best
                && shared > 0
                && 2 * shared >= day.lifts.len().min(self.lifts[place].len())
            {
                sorted.insert(day.date, place);
            }
        }
        sorted
    }

    /// How many lifts a training day shares with a day of the programme, and whether it was its weekday.
    fn likeness(&self, place: usize, day: &TrainingDay) -> (usize, bool) {
        let planned = self.lifts[place].iter().flatten();
        let shared = planned.filter(|lift| day.lifts.contains(&lift.name)).count();
        let weekday = self.followed.programme.days()[place].weekday();
        (shared, weekday == day.date.weekday())
    }
}

impl<'a> NextSession<'a> {
    /// The day of the programme.
    pub(crate) fn day(&self) -> &'a ProgrammeDay {
        &self.schedule.followed.programme.days()[self.place]
    }

    /// The week of the programme, from 0, counted on for ever.
    pub(crate) fn week(&self) -> usize {
        self.week
    }

    /// The day of the calendar on which it is planned.
    pub(crate) fn date(&self) -> Date {
        let first = self.schedule.followed.first_monday();
        let weeks = i64::try_from(self.week).unwrap_or(i64::MAX);
        let monday =
            first.saturating_add(jiff::Span::new().days(weeks.saturating_mul(7).min(100_000)));
        on_weekday(monday, self.day())
    }

    /// Its lifts in order.
    pub(crate) fn slots(self) -> impl Iterator<Item = Slot<'a>> {
        let known = &self.schedule.lifts[self.place];
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
        match self.why {
            Why::ItsDay => format!("{day} of “{name}”{week}."),
            Why::NotDone => format!("{day} of “{name}”{week}, which wasn't done on its day."),
            Why::ToCome => {
                format!("{day} of “{name}”{week}: nothing is planned before it, so it comes next.")
            }
        }
    }
}

/// The day of a programme in the week that begins on a Monday.
fn on_weekday(monday: Date, day: &ProgrammeDay) -> Date {
    monday.saturating_add(jiff::Span::new().days(day.weekday().to_monday_zero_offset()))
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
