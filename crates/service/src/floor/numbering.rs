//! The place of a set within its lift and session, settled when it reaches the desk.
//!
//! Phones may be hours late and two may serve one lifter, so a set can arrive after one that was done
//! later. Numbers follow the time at which sets were done; a set that has to make way is corrected,
//! and keeps its id.

use domain::{LoggedSet, SetId, SetNumber, When};
use store::{Added, ImportInto, OnDifference, StoreError};

/// A pause after which sets of a lift belong to another session of the day.
const OTHER_SESSION_H: f64 = 3.0;

/// Adds a set at its place in time; none if the lift has as many sets that day as can be numbered.
pub(super) fn add_in_time(
    into: &mut ImportInto<'_>,
    mut set: LoggedSet,
) -> Result<Option<SetId>, StoreError> {
    let mut of_lift = into.sets_on(&set.lifter, set.when.date())?;
    of_lift.retain(|(_, other)| other.lift.key() == set.lift.key());
    of_lift.sort_by_key(|(_, other)| (other.when, other.number));
    let later = of_lift.split_off(of_lift.partition_point(|(_, other)| other.when <= set.when));
    let before = of_lift.last().map(|(_, other)| (other.when, other.number));
    let Some(number) = number_after(before, set.when) else { return Ok(None) };
    set.number = number;
    // Undone and done again within a second: ids have whole seconds, and the first stays withdrawn. The set
    // stands a second later, or where that is another's or no more today, has the next number.
    let before_later = |when: &When| later.iter().all(|(_, other)| *when < other.when);
    while into.is_place_taken(&set)? {
        match set.when.a_second_later().filter(before_later) {
            Some(when) => set.when = when,
            None => match next_number(set.number) {
                Some(next) => set.number = next,
                None => return Ok(None),
            },
        }
    }
    let id = set.id();
    if into.add_set(&set, OnDifference::Keep)? != Added::New {
        return Ok(None);
    }
    make_way(into, (set.when, set.number), later)?;
    Ok(Some(id))
}

/// Moves up the numbers of sets that were done after `previous` and no longer count upwards.
fn make_way(
    into: &mut ImportInto<'_>,
    mut previous: (When, SetNumber),
    later: Vec<(SetId, LoggedSet)>,
) -> Result<(), StoreError> {
    for (id, mut set) in later {
        if set.number > previous.1 || is_other_session(previous.0, set.when) {
            break;
        }
        let Some(mut number) = next_number(previous.1) else { break };
        set.number = number;
        while into.is_place_taken(&set)? {
            let Some(next) = next_number(number) else { return Ok(()) };
            number = next;
            set.number = number;
        }
        into.correct_set(id, &set, "an earlier set of the lift arrived after it")?;
        previous = (set.when, set.number);
    }
    Ok(())
}

fn number_after(before: Option<(When, SetNumber)>, when: When) -> Option<SetNumber> {
    match before {
        Some((last, number)) if !is_other_session(last, when) => next_number(number),
        _ => SetNumber::new(1).ok(),
    }
}

fn is_other_session(earlier: When, later: When) -> bool {
    // Without a time of day nothing tells two sessions apart.
    let both = earlier.time().and(later.time());
    both.is_some() && (later.days() - earlier.days()) * 24.0 > OTHER_SESSION_H
}

fn next_number(number: SetNumber) -> Option<SetNumber> {
    SetNumber::new(number.get() + 1).ok()
}
