//! What a lifter's programme has in store: the next sessions, and this week's dose against the plan.

use domain::Muscle;
use jiff::civil::Date;

use crate::dose::record::{done_between, planned_in_week};
use crate::programme::{NextSession, monday_of};
use crate::record::person::Person;
use crate::view::{DoseLine, NextSessionView};

/// How many sessions are shown.
const SHOWN: usize = 3;

/// The next sessions of the programme, the first of them for `today`; none without a programme.
pub(crate) fn next_sessions(person: &Person, today: Date) -> Vec<NextSessionView> {
    let Some(schedule) = &person.schedule else { return Vec::new() };
    let Some(first) = schedule.on(today, &person.history.days) else { return Vec::new() };
    let later = schedule.after(&first).filter(|session| session.date() > today);
    let line = |session: NextSession<'_>, date: Date| NextSessionView {
        date,
        basis: session.basis(),
        lifts: session.slots().map(|slot| slot.planned.lift().to_string()).collect(),
    };
    // One that comes next on a later day isn't today's.
    let on = first.date().max(today);
    let mut sessions = vec![line(first, on)];
    sessions.extend(later.take(SHOWN - 1).map(|session| line(session, session.date())));
    sessions
}

/// The dose of each muscle this week against the programme's; none without a programme.
pub(crate) fn dose_lines(person: &Person, today: Date) -> Vec<DoseLine> {
    let Some(schedule) = &person.schedule else { return Vec::new() };
    if schedule.followed.week_on(today).is_none() {
        return Vec::new();
    }
    let monday = monday_of(today);
    let before = monday.saturating_sub(jiff::Span::new().weeks(1));
    let Some(planned) = planned_in_week(schedule, monday) else { return Vec::new() };
    let so_far = done_between(person, monday, today);
    let last_week = done_between(person, before, monday.saturating_sub(jiff::Span::new().days(1)));
    let line = |muscle: &Muscle| DoseLine {
        muscle: muscle.label(),
        last_week: last_week.of(*muscle).total(),
        so_far: so_far.of(*muscle).total(),
        planned: planned.of(*muscle).total(),
    };
    let is_told = |line: &DoseLine| line.last_week + line.so_far + line.planned > 0.0;
    Muscle::ALL.iter().map(line).filter(is_told).collect()
}
