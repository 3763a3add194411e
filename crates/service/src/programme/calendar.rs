//! The sessions that a lifter's programme plans, day by day, for a calendar.
//!
//! How a calendar is written down isn't decided here.

use domain::LifterName;
use domain::programme::weekday_name;
use jiff::Timestamp;
use jiff::civil::Date;

use crate::programme::{
    Followed, NextSession, Schedule, day_in_words, followed, monday_of, plan_changes_in_force,
};
use crate::record::person;
use crate::{Desk, ServiceError};

/// How many weeks ahead a calendar looks, the present one among them.
const WEEKS: i64 = 9;

/// A lifter's calendar.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CalendarView {
    /// Whose it is.
    pub lifter: String,
    /// When the programme was set.
    pub set: Timestamp,
    /// The sessions in order; one that says what is missing if there is no programme.
    pub sessions: Vec<CalendarSession>,
}

/// One session in a calendar: a whole day, since a programme knows no time of day.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CalendarSession {
    /// Names it: the same day of the same lifter has the same id, whatever is planned on it.
    pub id: String,
    /// The day.
    pub date: Date,
    /// What it is, in a few words.
    pub summary: String,
    /// The lifts, one a line.
    pub description: String,
}

impl Desk {
    /// The sessions planned for a lifter from the week of `today` on.
    ///
    /// # Errors
    /// There is nobody of that name, the programme can't be read any more, or the store has trouble.
    pub fn calendar(&self, name: &LifterName, today: Date) -> Result<CalendarView, ServiceError> {
        let lifter = person::lifter(self.store(), name)?;
        let versions = self.store().programmes_of(&lifter.name)?;
        let set = versions.last().map_or(Timestamp::UNIX_EPOCH, |version| version.recording.at);
        let sessions = match followed(self.store(), &lifter.name)? {
            None => vec![no_programme(&lifter.name, today)],
            Some(followed) => {
                let lifts = person::catalogue(self.store())?;
                let changes = plan_changes_in_force(self.store(), &lifter.name)?;
                let schedule = Schedule::new(followed, &changes, &lifts);
                let session = |session: NextSession<'_>| {
                    let words = day_in_words(session.day(), session.week(), lifter.unit);
                    let lifts =
                        words.lifts.iter().map(|lift| format!("{}: {}", lift.lift, lift.sets));
                    let lines = session.changes().iter().cloned().chain(lifts);
                    CalendarSession {
                        id: id(&lifter.name, session.date()),
                        date: session.date(),
                        summary: summary(&schedule.followed, &session),
                        description: lines.collect::<Vec<_>>().join("\n"),
                    }
                };
                planned(&schedule, today).map(session).collect()
            }
        };
        Ok(CalendarView { lifter: lifter.name.to_string(), set, sessions })
    }
}

/// The planned sessions from the week of a day on, or from the begin of the programme.
fn planned(schedule: &Schedule, today: Date) -> impl Iterator<Item = NextSession<'_>> {
    let monday = monday_of(today);
    let end = monday.saturating_add(jiff::Span::new().weeks(WEEKS));
    let from = monday.max(schedule.followed.begins);
    schedule
        .all_sessions()
        .skip_while(move |session| session.date() < from)
        .take_while(move |session| session.date() < end)
}

fn summary(followed: &Followed, session: &NextSession<'_>) -> String {
    let (name, day) = (&followed.programme.name, weekday_name(session.day().weekday()));
    let minutes =
        session.day().minutes().map_or(String::new(), |minutes| format!(", {minutes} min"));
    match followed.programme.weeks() {
        1 => format!("{name}: {day}{minutes}"),
        weeks => format!("{name}: {day}, week {} of {weeks}{minutes}", session.week() % weeks + 1),
    }
}

fn no_programme(lifter: &LifterName, today: Date) -> CalendarSession {
    CalendarSession {
        id: id(lifter, today),
        date: today,
        summary: "No programme is set".to_owned(),
        description: format!("Sessions appear here once {lifter} follows a programme."),
    }
}

fn id(lifter: &LifterName, date: Date) -> String {
    let text = format!("{}\n{date}", lifter.key());
    uuid::Uuid::new_v5(&uuid::Uuid::NAMESPACE_OID, text.as_bytes()).to_string()
}
