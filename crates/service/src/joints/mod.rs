//! Joints: complaints that stand, the lifts that they stop, and pain over time.

pub mod record;
pub(crate) mod stops;
