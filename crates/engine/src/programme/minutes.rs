//! How long a session takes: sets, rest, warm-ups and the way from lift to lift.
//!
//! An estimate in whole seconds. All figures are common practice, no source, but for the numbers of
//! warm-up sets, which are those that [`crate::loading::warm_up`] makes.

use domain::{EquipmentClass, Lift, RepRange};

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

/// Whole seconds that a session takes.
#[must_use]
pub fn session_seconds(slots: &[Slot<'_>]) -> u32 {
    let mut seconds = GENERAL_WARM_UP_SECONDS;
    for (place, slot) in slots.iter().enumerate() {
        let is_warm = slots[..place].iter().any(|before| share_prime_mover(before.lift, slot.lift));
        seconds += lift_seconds(slot, is_warm);
    }
    seconds
}

/// Whole seconds that a lift takes, warm-ups and the way to it among them.
#[must_use]
pub fn lift_seconds(slot: &Slot<'_>, is_warm: bool) -> u32 {
    let sets = u32::from(slot.sets);
    let warm_ups = warm_up_sets(slot.lift, is_warm) * WARM_UP_SET_SECONDS;
    CHANGE_SECONDS + warm_ups + sets * set_seconds(slot) + sets.saturating_sub(1) * rest(slot)
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

/// Warm-up sets of a lift: fewer once a prime mover is warm, and fewer without plates.
fn warm_up_sets(lift: &Lift, is_warm: bool) -> u32 {
    use EquipmentClass as E;
    match (lift.equipment, is_warm) {
        (E::Barbell | E::GuidedBarbell | E::PlateMachine, false) => 4,
        (E::Barbell | E::GuidedBarbell | E::PlateMachine, true) => 2,
        (E::Dumbbell | E::Kettlebell | E::Stack | E::Cable, false) => 2,
        (E::Bodyweight, false) | (E::Dumbbell | E::Kettlebell | E::Stack | E::Cable, true) => 1,
        (E::Bodyweight, true) => 0,
    }
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
