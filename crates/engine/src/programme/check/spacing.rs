//! Hours between sessions that load a muscle, against the hours that it needs.

use domain::Muscle;

use super::{About, Finding, Ground, Urgency, hard_sets};
use crate::programme::dose::WeekDose;
use crate::programme::week::Week;

/// A session with less than this many hard sets for a muscle doesn't load it. Our choice.
const LOADED: f64 = 1.5;

pub(super) fn check(
    week: &Week<'_>,
    dose: &WeekDose,
    ground: &Ground<'_>,
    findings: &mut Vec<Finding>,
) {
    for &muscle in Muscle::ALL {
        let doses: Vec<f64> = dose.days.iter().map(|day| day.of(muscle).total()).collect();
        for (from, to, hours) in gaps(week, &doses) {
            let needed = ground.hours.needed(muscle, doses[from]);
            if needed <= hours {
                continue;
            }
            let fits = (2.0 * ground.hours.most_sets(muscle, hours)).floor() / 2.0;
            let (first, second) = (week.days[from].name(), week.days[to].name());
            findings.push(Finding {
                urgency: if needed > 1.5 * hours { Urgency::Change } else { Urgency::Consider },
                place: first,
                words: format!(
                    "{}: {} on {first} and trained again on {second}, {hours} hours later; that much \
                     needs about {} hours",
                    muscle.label(),
                    hard_sets(doses[from]),
                    needed.ceil()
                ),
                cure: Some(format!(
                    "move them to another day, or keep to {} on {first}",
                    hard_sets(fits)
                )),
                about: About::TooSoon(muscle),
                size: needed / hours,
            });
        }
    }
}

/// Each day that loads a muscle, the next one that does, and the hours between them, around the week.
fn gaps(week: &Week<'_>, doses: &[f64]) -> Vec<(usize, usize, f64)> {
    let loaded: Vec<usize> = (0..doses.len()).filter(|day| doses[*day] >= LOADED).collect();
    let offset = |day: usize| i32::from(week.days[day].weekday.to_monday_zero_offset());
    (0..loaded.len())
        .map(|place| {
            let (from, to) = (loaded[place], loaded[(place + 1) % loaded.len()]);
            let days = (offset(to) - offset(from)).rem_euclid(7);
            (from, to, f64::from(if days == 0 { 168 } else { 24 * days }))
        })
        .collect()
}
