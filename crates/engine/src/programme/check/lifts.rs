//! Lifts that can't be done here, are refused, load a joint to be spared, or are missing although they are to go up.

use domain::Lift;

use super::{About, Finding, Ground, Urgency, WEEK};
use crate::programme::joints::{PLAIN, weight};
use crate::programme::swap::{is_at_hand, is_refused, substitute};
use crate::programme::week::Week;

pub(super) fn check(week: &Week<'_>, ground: &Ground<'_>, findings: &mut Vec<Finding>) {
    for day in &week.days {
        for slot in &day.slots {
            let lift = slot.lift;
            let mut remark = |words: String, about: About, size: f64| {
                findings.push(Finding {
                    urgency: Urgency::PutRight,
                    place: day.name(),
                    words,
                    cure: Some(swap_words(lift, week, ground)),
                    about,
                    size,
                });
            };
            if !is_at_hand(lift, week.purpose) {
                let needed = lift.equipment.label();
                let words = format!("`{}` needs a {needed}, which is not at hand", lift.name);
                remark(words, About::NotAtHand(lift.name.clone()), 3.0);
            }
            if is_refused(lift, week.purpose) {
                let words = format!("`{}` is one of the lifts not to be taken", lift.name);
                remark(words, About::Refused(lift.name.clone()), 1.5);
            }
            for joint in &week.purpose.spare {
                let load = weight(lift, *joint);
                if load >= PLAIN {
                    let sets = f64::from(slot.sets);
                    let how = if load >= 1.0 { "loads it as much as lifts do" } else { "loads it" };
                    let about = About::Spared(lift.name.clone(), *joint);
                    let joint = joint.label();
                    let words = format!("the {joint} is to be spared, and `{}` {how}", lift.name);
                    remark(words, about, 2.0 + load * sets / 10.0);
                }
            }
        }
    }
    untrained(week, ground, findings);
}

fn swap_words(lift: &Lift, week: &Week<'_>, ground: &Ground<'_>) -> String {
    match substitute(lift, week.purpose, ground.catalogue) {
        Some(other) => format!("take `{}` in its place: nearly the same muscles", other.name),
        None => format!(
            "leave it out: nothing at hand trains nearly the same muscles{}",
            without_spared(week.purpose)
        ),
    }
}

/// The rest of a sentence on what can't be done, if joints are to be spared.
pub(super) fn without_spared(purpose: &domain::Purpose) -> &'static str {
    if purpose.spare.is_empty() { "" } else { " without loading a joint to be spared" }
}

/// Lifts to be raised that the week doesn't train, or hardly: strength follows the lift that is trained
/// (specificity; common practice, no source for the number of sets).
fn untrained(week: &Week<'_>, ground: &Ground<'_>, findings: &mut Vec<Finding>) {
    for name in &week.purpose.raise {
        let lift = ground.catalogue.find(name);
        if lift.is_some_and(|lift| is_refused(lift, week.purpose)) {
            findings.push(Finding {
                urgency: Urgency::PutRight,
                place: WEEK,
                words: format!("`{name}` is to go up, and is one of the lifts not to be taken"),
                cure: Some("decide for one of the two".to_owned()),
                about: About::Refused(name.clone()),
                size: 4.0,
            });
            continue;
        }
        let slots = week.days.iter().flat_map(|day| &day.slots);
        let sets: u32 =
            slots.filter(|slot| is_named(slot.lift, name)).map(|slot| u32::from(slot.sets)).sum();
        if sets == 0 {
            findings.push(Finding {
                urgency: Urgency::PutRight,
                place: WEEK,
                words: format!("`{name}` is to go up, and no day trains it"),
                cure: Some(format!("put 3 sets of `{name}` first on one day")),
                about: About::Untrained(name.clone()),
                size: 4.0,
            });
        } else if sets < 3 {
            findings.push(Finding {
                urgency: Urgency::Consider,
                place: WEEK,
                words: format!("`{name}` is to go up, and has {sets} work sets in the whole week"),
                cure: Some("give it 3 or more".to_owned()),
                about: About::HardlyTrained(name.clone()),
                size: 0.8,
            });
        }
    }
}

/// Whether a lift is one that is to go up.
pub(super) fn is_raised(week: &Week<'_>, lift: &Lift) -> bool {
    week.purpose.raise.iter().any(|name| is_named(lift, name))
}

/// Whether a name or spelling means this lift.
pub(in crate::programme) fn is_named(lift: &Lift, name: &domain::LiftName) -> bool {
    let key = name.key();
    lift.name.key() == key || lift.also.iter().any(|also| also.key() == key)
}
