//! What a programme comes to: dose, minutes, joints, and what a coach would remark on it.
//!
//! Works on a [`Week`]: the lifts of a programme with what the catalogue knows of them. Sets no target and
//! reads no record; what is known of the lifter (hours of recovery, gauge lifts) is an argument.

pub mod check;
pub mod dose;
pub mod draft;
pub mod hours;
pub mod joints;
pub mod mend;
pub mod minutes;
pub mod proposal;
pub mod ranges;
pub mod swap;
pub mod week;

pub use check::{Ground, Urgency, check};
pub use dose::{Counting, Dose, WeekDose};
pub use hours::RecoveryHours;
pub use mend::{Mend, mend};
pub use week::{Slot, Week, WeekDay};
