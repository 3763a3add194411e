//! How much a week loads each joint: work sets times the catalogue's weights.
//!
//! A way to compare days and lifts, and no measure of force: the weights are common practice, no source.

use domain::{Joint, Lift};

use super::week::{Slot, Week};

/// From this weight on a lift plainly loads a joint.
pub const PLAIN: f64 = 0.5;

/// Work sets weighted by how much they load a joint, by day and in the week.
#[derive(Clone, Debug, PartialEq)]
pub struct JointWeek {
    /// The joint.
    pub joint: Joint,
    /// Each day's, in the order of the week's days.
    pub days: Vec<f64>,
    /// All days together.
    pub week: f64,
}

/// Every joint's load, in the order in which joints are shown.
#[must_use]
pub fn joint_loads(week: &Week<'_>) -> Vec<JointWeek> {
    let of_day = |slots: &[Slot<'_>], joint| {
        slots.iter().map(|slot| f64::from(slot.sets) * weight(slot.lift, joint)).sum()
    };
    Joint::ALL
        .iter()
        .map(|&joint| {
            let days: Vec<f64> = week.days.iter().map(|day| of_day(&day.slots, joint)).collect();
            JointWeek { joint, week: days.iter().sum(), days }
        })
        .collect()
}

/// How much a lift loads a joint, from 0 to 1.
#[must_use]
pub fn weight(lift: &Lift, joint: Joint) -> f64 {
    lift.joints.iter().find(|load| load.joint == joint).map_or(0.0, |load| load.get())
}
