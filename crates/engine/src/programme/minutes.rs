//! How long a session takes: sets, rest, warm-ups and the way from lift to lift.
//!
//! An estimate in whole seconds. All figures are common practice, no source, but for the numbers of
//! warm-up sets, which are those that [`crate::loading::warm_up`] makes.

use domain::{EquipmentClass, Lift, Muscle, RepRange};

use super::week::Slot;

/// Easy movement before the first lift.
pub const GENERAL_WARM_UP_SECONDS: u32 = 300;
/// One warm-up set with changing plates and a short rest.
const WARM_UP_SET_SECONDS: u32 = 60;
/// From one lift to the next.
const CHANGE_SECONDS: u32 = 90;
/// One repetition.
const REP_SECONDS: u32 = 3;
/// Getting ready for a set.
const READY_SECONDS: u32 = 6;

/// A part of the body that is warmed up together. Common practice, no source.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Part {
    /// Legs, hips and lower back.
    Legs,
    /// What presses: chest, front and side of the shoulder, triceps.
    Pressing,
    /// What pulls: back, rear of the shoulder, front of the upper arm, forearm.
    Pulling,
    /// Belly, hip flexors and neck.
    Trunk,
}

impl Part {
    /// All of them.
    pub const ALL: &'static [Part] = &[Part::Legs, Part::Pressing, Part::Pulling, Part::Trunk];

    /// The part of the muscle that a lift trains most, the first in order if there are several.
    #[must_use]
    pub fn of(lift: &Lift) -> Part {
        use Muscle as M;
        match lift.muscles.first().map(|first| first.muscle) {
            Some(M::Abdominals | M::Obliques | M::HipFlexors | M::Neck) | None => Part::Trunk,
            Some(M::Chest | M::FrontDelts | M::SideDelts | M::Triceps | M::Serratus) => {
                Part::Pressing
            }
            Some(
                M::Lats
                | M::UpperBack
                | M::Trapezius
                | M::RearDelts
                | M::RotatorCuff
                | M::Biceps
                | M::Brachialis
                | M::Forearms,
            ) => Part::Pulling,
            Some(_) => Part::Legs,
        }
    }
}

/// Whole seconds that a session takes. Each part of the body is warmed up once, by as many sets as the lift
/// of it that asks for most, so that the order of lifts doesn't matter.
#[must_use]
pub fn session_seconds(slots: &[Slot<'_>]) -> u32 {
    let lifts: u32 = slots.iter().map(lift_seconds).sum();
    let parts = Part::ALL.iter().map(|part| {
        let of_part = slots.iter().filter(|slot| Part::of(slot.lift) == *part);
        of_part.map(|slot| first_warm_up_seconds(slot.lift)).max().unwrap_or(0)
    });
    GENERAL_WARM_UP_SECONDS + lifts + parts.sum::<u32>()
}

/// Whole seconds that a lift takes once its part of the body is warm, its own warm-ups and the way to it
/// among them.
#[must_use]
pub fn lift_seconds(slot: &Slot<'_>) -> u32 {
    let sets = u32::from(slot.sets);
    let warm_ups = own_warm_up_sets(slot.lift) * WARM_UP_SET_SECONDS;
    CHANGE_SECONDS + warm_ups + sets * set_seconds(slot) + sets.saturating_sub(1) * rest(slot)
}

/// Whole seconds that a lift asks for besides while its part of the body is cold.
#[must_use]
pub fn first_warm_up_seconds(lift: &Lift) -> u32 {
    let sets = if has_plates(lift.equipment) { 2 } else { 1 };
    sets * WARM_UP_SET_SECONDS
}

/// Whole seconds that one set more of a lift takes.
#[must_use]
pub fn seconds_per_set(slot: &Slot<'_>) -> u32 {
    set_seconds(slot) + rest(slot)
}

/// Rest between sets in seconds if none is told: long for few repetitions and many muscles.
#[must_use]
pub fn usual_rest_seconds(lift: &Lift, reps: RepRange) -> u16 {
    let is_big = lift.muscles.len() >= 3;
    match (is_big, reps.high()) {
        (true, ..=6) => 180,
        (true, _) => 150,
        (false, ..=6) => 120,
        (false, _) => 90,
    }
}

/// Warm-up sets of a lift whose part of the body is warm: fewer without plates.
fn own_warm_up_sets(lift: &Lift) -> u32 {
    match lift.equipment {
        plates if has_plates(plates) => 2,
        EquipmentClass::Bodyweight => 0,
        _ => 1,
    }
}

fn has_plates(equipment: EquipmentClass) -> bool {
    use EquipmentClass as E;
    matches!(equipment, E::Barbell | E::GuidedBarbell | E::PlateMachine)
}

fn set_seconds(slot: &Slot<'_>) -> u32 {
    let reps = u32::from(slot.reps.low() + slot.reps.high()).div_ceil(2);
    READY_SECONDS + reps * REP_SECONDS
}

fn rest(slot: &Slot<'_>) -> u32 {
    slot.rest_seconds.unwrap_or_else(|| usual_rest_seconds(slot.lift, slot.reps)).into()
}

/// Whether two lifts have a prime mover in common.
#[must_use]
pub fn share_prime_mover(a: &Lift, b: &Lift) -> bool {
    a.muscles.iter().any(|m| m.is_prime() && b.has_prime_mover(m.muscle))
}
