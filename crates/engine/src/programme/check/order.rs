//! The order of lifts within a session. Common practice, no source, unless said otherwise.

use domain::{Joint, Lift, Muscle};

use super::{About, Finding, Ground, Urgency};
use crate::programme::joints::{PLAIN, weight};
use crate::programme::minutes::share_prime_mover;
use crate::programme::week::{Week, WeekDay};

/// Lifts after which a lead set says less about recovery from earlier days than about this one. Our choice.
pub(in crate::programme) const EARLY: usize = 3;

pub(super) fn check(week: &Week<'_>, ground: &Ground<'_>, findings: &mut Vec<Finding>) {
    for day in &week.days {
        findings.extend(no_early_gauge(day, ground));
        findings.extend(late_explosive(day));
        findings.extend(back_after_back(day));
        findings.extend(late_raised(week, day));
    }
}

fn no_early_gauge(day: &WeekDay<'_>, ground: &Ground<'_>) -> Option<Finding> {
    let lifts: Vec<&Lift> = day.slots.iter().map(|slot| slot.lift).collect();
    if lifts.iter().take(EARLY).any(|lift| ground.is_gauge(lift)) {
        return None;
    }
    let later = lifts.iter().skip(EARLY).find(|lift| ground.is_gauge(lift));
    Some(Finding {
        urgency: Urgency::Consider,
        place: day.name(),
        words: "none of the first three lifts repeats well enough for its lead set to be read"
            .to_owned(),
        cure: Some(match later {
            Some(lift) => format!("do `{}` earlier", lift.name),
            None => "begin with a lift on a bar or a machine".to_owned(),
        }),
        about: About::NoEarlyGauge,
        size: 0.6,
    })
}

/// Explosive lifts go first, while the lifter is fresh (also ACSM 2009, from memory).
fn late_explosive(day: &WeekDay<'_>) -> Option<Finding> {
    let late = day.slots.iter().skip(1).zip(&day.slots);
    let (slot, before) = late.into_iter().find(|(b, a)| b.lift.explosive && !a.lift.explosive)?;
    Some(Finding {
        urgency: Urgency::Change,
        place: day.name(),
        words: format!(
            "`{}` is done at full speed and comes after `{}`",
            slot.lift.name, before.lift.name
        ),
        cure: Some(format!("do `{}` first", slot.lift.name)),
        about: About::LateExplosive,
        size: 1.0,
    })
}

/// A heavy hinge right after a heavy squat, or the other way round.
fn back_after_back(day: &WeekDay<'_>) -> Option<Finding> {
    let (first, second) = day.slots.iter().zip(day.slots.iter().skip(1)).find(|(a, b)| {
        is_heavy_on_back(a.lift) && is_heavy_on_back(b.lift) && bends(a.lift) != bends(b.lift)
    })?;
    Some(Finding {
        urgency: Urgency::Consider,
        place: day.name(),
        words: format!(
            "`{}` comes right after `{}`, and both load the lower back heavily",
            second.lift.name, first.lift.name
        ),
        cure: Some("put another lift between them, or one of them on another day".to_owned()),
        about: About::BackAfterBack,
        size: 0.7,
    })
}

/// Whether a lift with a bar loads hip and lower back: squats, hinges and their like.
pub(in crate::programme) fn is_heavy_on_back(lift: &Lift) -> bool {
    lift.equipment == domain::EquipmentClass::Barbell
        && weight(lift, Joint::LowerBack) >= PLAIN
        && weight(lift, Joint::Hip) >= 1.0
        && lift.muscles.iter().any(|m| m.muscle == Muscle::SpinalErectors)
}

/// Whether such a lift is a hinge, such as a deadlift.
pub(in crate::programme) fn is_heavy_hinge(lift: &Lift) -> bool {
    is_heavy_on_back(lift) && bends(lift)
}

fn bends(lift: &Lift) -> bool {
    lift.muscles.iter().any(|m| m.muscle == Muscle::Hamstrings)
}

/// A lift to be raised that comes after others have tired its prime movers.
fn late_raised(week: &Week<'_>, day: &WeekDay<'_>) -> Option<Finding> {
    let is_raised = |lift: &Lift| super::lifts::is_raised(week, lift);
    let (place, slot) = day.slots.iter().enumerate().find(|(_, slot)| is_raised(slot.lift))?;
    let before = day.slots[..place].iter().find(|before| {
        !is_raised(before.lift)
            && !before.lift.explosive
            && share_prime_mover(before.lift, slot.lift)
    })?;
    Some(Finding {
        urgency: Urgency::Change,
        place: day.name(),
        words: format!(
            "`{}` is to go up, and comes after `{}` has tired its muscles",
            slot.lift.name, before.lift.name
        ),
        cure: Some(format!("do `{}` before it", slot.lift.name)),
        about: About::LateRaised,
        size: 1.1,
    })
}
