//! A lift to take in another's place: the same muscles, what is at hand and isn't refused, and no load on spared
//! joints.

use domain::{Catalogue, EquipmentClass, Joint, Lift, PlannedLift, Progression, Purpose};

use super::check::lifts::is_named;
use super::draft::slots::{begins_with, is_big};
use super::joints::{PLAIN, weight};

/// The lift that trains most nearly the same muscles with the equipment at hand and without plainly loading
/// a joint to be spared; none if nothing trains even half of the same.
#[must_use]
pub fn substitute<'a>(
    lift: &Lift,
    purpose: &Purpose,
    catalogue: &'a Catalogue,
) -> Option<&'a Lift> {
    substitute_but(lift, purpose, catalogue, &|_| false)
}

/// [`substitute`], without those that are `taken` already.
#[must_use]
pub fn substitute_but<'a>(
    lift: &Lift,
    purpose: &Purpose,
    catalogue: &'a Catalogue,
    taken: &dyn Fn(&Lift) -> bool,
) -> Option<&'a Lift> {
    best_like(lift, purpose, catalogue, |alike, other| {
        (!loads_spared(other, purpose) && !taken(other)).then_some(alike)
    })
}

/// The lift that best trains the same muscles with less load on one joint, with the equipment at hand and without
/// plainly loading another joint to be spared: the likeness times the part of the load that is saved counts. None
/// if nothing that loads the joint less, and that isn't `refused`, trains even half of the same.
#[must_use]
pub fn gentler<'a>(
    lift: &Lift,
    joint: Joint,
    purpose: &Purpose,
    catalogue: &'a Catalogue,
    refused: &dyn Fn(&Lift) -> bool,
) -> Option<&'a Lift> {
    let load = weight(lift, joint);
    let spares = |other: &Lift| {
        let is_plain = |spared: &Joint| *spared != joint && weight(other, *spared) >= PLAIN;
        !purpose.spare.iter().any(is_plain)
    };
    best_like(lift, purpose, catalogue, |alike, other| {
        let less = weight(other, joint);
        (less < load && spares(other) && !refused(other)).then(|| alike * (load - less) / load)
    })
}

/// The lift at hand with the most points of those that train at least half of the same muscles: `points` is asked with
/// how alike another lift is, and refuses it by none.
fn best_like<'a>(
    lift: &Lift,
    purpose: &Purpose,
    catalogue: &'a Catalogue,
    points: impl Fn(f64, &Lift) -> Option<f64>,
) -> Option<&'a Lift> {
    catalogue
        .lifts()
        .iter()
        .filter(|other| other.name != lift.name && other.explosive == lift.explosive)
        .filter(|other| is_at_hand(other, purpose) && !is_refused(other, purpose))
        .map(|other| (likeness(lift, other), other))
        .filter(|(alike, _)| *alike >= 0.5)
        .filter_map(|(alike, other)| Some((points(alike, other)?, other)))
        // The first of equals: the catalogue begins with what most people do.
        .fold(None, |best: Option<(f64, &Lift)>, next| match best {
            Some(best) if best.0 >= next.0 => Some(best),
            _ => Some(next),
        })
        .map(|(_, other)| other)
}

/// Whether the equipment for a lift is at hand; a body always is.
#[must_use]
pub fn is_at_hand(lift: &Lift, purpose: &Purpose) -> bool {
    let is_body = lift.equipment == domain::EquipmentClass::Bodyweight;
    is_body || purpose.equipment.as_ref().is_none_or(|at_hand| at_hand.contains(&lift.equipment))
}

/// Whether a lift is not to be taken.
#[must_use]
pub fn is_refused(lift: &Lift, purpose: &Purpose) -> bool {
    purpose.refuse.iter().any(|name| is_named(lift, name))
}

/// Whether a lift may be taken: it is at hand, it isn't refused, and it plainly loads no joint to be spared.
#[must_use]
pub fn may_be_taken(lift: &Lift, purpose: &Purpose) -> bool {
    is_at_hand(lift, purpose) && !is_refused(lift, purpose) && !loads_spared(lift, purpose)
}

/// Whether a lift plainly loads a joint to be spared.
#[must_use]
pub fn loads_spared(lift: &Lift, purpose: &Purpose) -> bool {
    purpose.spare.iter().any(|joint| weight(lift, *joint) >= PLAIN)
}

/// How alike two lifts train: shared muscle weight over all muscle weight, from 0 to 1.
#[must_use]
pub fn likeness(a: &Lift, b: &Lift) -> f64 {
    let (mut shared, mut all) = (0.0, 0.0);
    for muscle in domain::Muscle::ALL {
        let (in_a, in_b) = (a.weight_of(*muscle), b.weight_of(*muscle));
        shared += in_a.min(in_b);
        all += in_a.max(in_b);
    }
    if all > 0.0 { shared / all } else { 0.0 }
}

/// Sets of fewer repetitions than this want a load that is set down safely and stepped finely: a bar, or a machine
/// with plates. Common practice, no source.
const FEW_REPS: u16 = 5;

/// Another lift in the place of a planned one: with as many sets, and with its repetitions if both lifts are
/// large or both small, and the other one takes so few. It moves on by double progression.
#[must_use]
pub fn in_the_place_of(planned: &PlannedLift, lift: &Lift, other: &Lift) -> PlannedLift {
    use EquipmentClass::{Barbell, GuidedBarbell, PlateMachine};
    let begins = begins_with(other, false, planned.sets());
    let takes_few = matches!(other.equipment, Barbell | GuidedBarbell | PlateMachine);
    let is_few = planned.reps().low() < FEW_REPS;
    if is_big(lift) != is_big(other) || (is_few && !takes_few) {
        return begins;
    }
    let (rir, rest) = (planned.rir(), planned.rest_seconds());
    let double = Progression::Double { step: None };
    PlannedLift::new(other.name.clone(), planned.sets(), planned.reps(), rir, rest, double)
        .unwrap_or(begins)
}

#[cfg(test)]
mod tests {
    use domain::{LiftName, RepRange};

    use super::*;

    #[test]
    fn sets_of_few_repetitions_are_kept_for_bars_and_plates_alone() {
        let catalogue = Catalogue::built_in();
        let lift = |name: &str| catalogue.find(&LiftName::new(name).unwrap()).unwrap();
        let double = || Progression::Double { step: None };
        let squat = |low: u16, high: u16| {
            let reps = RepRange::new(low, high).unwrap();
            let name = lift("back squat").name.clone();
            PlannedLift::new(name, 4, reps, None, None, double()).unwrap()
        };
        let reps = |planned: &PlannedLift, other: &str| {
            let reps = in_the_place_of(planned, lift("back squat"), lift(other)).reps();
            (reps.low(), reps.high())
        };
        assert_eq!(reps(&squat(3, 5), "front squat"), (3, 5));
        assert_eq!(reps(&squat(3, 5), "goblet squat"), (6, 10));
        assert_eq!(reps(&squat(5, 8), "goblet squat"), (5, 8));
    }
}
