//! The order of the lifts of a day: fast ones, those to go up, large ones, small ones, belly and calves.
//!
//! Common practice, no source, but for explosive lifts first (also ACSM 2009, from memory).

use domain::{EquipmentClass, Lift, Muscle};

use crate::programme::check::order::{EARLY, is_heavy_on_back};
use crate::programme::minutes::{Part, share_prime_mover};

/// One lift of a day to be put in order.
#[derive(Clone, Copy, Debug)]
pub(super) struct Entry<'a> {
    pub(super) lift: &'a Lift,
    /// Whether it is to go up.
    pub(super) raised: bool,
    /// Whether its lead set can be read.
    pub(super) gauge: bool,
}

/// The places of `entries` in the order in which they are done.
pub(super) fn order(entries: &[Entry<'_>]) -> Vec<usize> {
    let mut places: Vec<usize> = (0..entries.len()).collect();
    places.sort_by_key(|place| rank(&entries[*place]));
    early_gauge(entries, &mut places);
    apart(entries, &mut places);
    places
}

fn rank(entry: &Entry<'_>) -> (bool, bool, u8, bool, u8) {
    let lift = entry.lift;
    let first = lift.muscles.first().map(|m| m.muscle);
    let last = Part::of(lift) == Part::Trunk
        || matches!(first, Some(Muscle::Calves | Muscle::Tibialis | Muscle::Forearms));
    let size = match (last, lift.muscles.len()) {
        (true, _) => 3,
        (false, 4..) => 0,
        (false, 3) => 1,
        (false, _) => 2,
    };
    let with_bar = lift.equipment == EquipmentClass::Barbell;
    let part = match Part::of(lift) {
        Part::Legs => 0,
        Part::Pressing => 1,
        Part::Pulling => 2,
        Part::Trunk => 3,
    };
    (!lift.explosive, !entry.raised, size.max(u8::from(!with_bar)), !is_heavy_on_back(lift), part)
}

/// Brings the first lift that can be read among the first few, behind those that must come before it.
fn early_gauge(entries: &[Entry<'_>], places: &mut [usize]) {
    let Some(at) = places.iter().position(|place| entries[*place].gauge) else { return };
    if at >= EARLY {
        places[EARLY - 1..=at].rotate_right(1);
    }
}

/// Puts another lift between two that load the lower back heavily, if there is one.
fn apart(entries: &[Entry<'_>], places: &mut [usize]) {
    let heavy = |place: usize| is_heavy_on_back(entries[place].lift);
    for second in 1..places.len() {
        if heavy(places[second - 1]) && heavy(places[second]) {
            // Not one that tires the muscles of the second.
            let tires =
                |place: usize| share_prime_mover(entries[place].lift, entries[places[second]].lift);
            let other = (second + 1..places.len())
                .find(|later| !heavy(places[*later]) && !tires(places[*later]));
            if let Some(other) = other {
                places[second..=other].rotate_right(1);
            }
        }
    }
}
