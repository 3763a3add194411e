//! What a lifter's programme has in store: the next sessions, and this week's dose against the plan.

use domain::{LoggedSet, Muscle, SetKind};
use engine::programme::dose::{MuscleDoses, is_hard};
use jiff::civil::Date;

use crate::person::Person;
use crate::programme::{NextSession, monday_of};
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
    let Some(week) = schedule.followed.week_on(today) else { return Vec::new() };
    let mut planned = MuscleDoses::default();
    for slot in schedule.week(week).flat_map(NextSession::slots) {
        if let Some(lift) = slot.lift.filter(|_| is_hard(slot.planned.rir())) {
            planned.add(lift, f64::from(slot.planned.sets_in(week)));
        }
    }
    let monday = monday_of(today);
    let before = monday.saturating_sub(jiff::Span::new().weeks(1));
    let so_far = done(person, |set| (monday..=today).contains(&set.when.date()));
    let last_week = done(person, |set| (before..monday).contains(&set.when.date()));
    let line = |muscle: &Muscle| DoseLine {
        muscle: muscle.label(),
        last_week: last_week.of(*muscle).total(),
        so_far: so_far.of(*muscle).total(),
        planned: planned.of(*muscle).total(),
    };
    let is_told = |line: &DoseLine| line.last_week + line.so_far + line.planned > 0.0;
    Muscle::ALL.iter().map(line).filter(is_told).collect()
}

fn done(person: &Person, counts: impl Fn(&LoggedSet) -> bool) -> MuscleDoses {
    let mut doses = MuscleDoses::default();
    for record in &person.history.lifts {
        // Counted as a programme's sets are, so that both can stand side by side.
        let is_hard_set = |set: &&LoggedSet| set.kind == SetKind::Work && is_hard(set.rir);
        let sets = record.sets.iter().filter(|set| counts(set)).filter(is_hard_set).count();
        if sets > 0 {
            doses.add(&record.lift, sets as f64);
        }
    }
    doses
}
