//! What loads exist for a lift, how they are put together, and the warm-up that leads to one.
//!
//! [`Ladder`] answers which loads can be loaded; [`plates`] finds the plates of a side; [`warm_up`]
//! makes the ramp. Knows nothing of targets or of the record beyond the loads in it. Usual steps,
//! stocks and ramps are common practice without a source, and say so where they are set.

pub mod ladder;
pub mod plates;
pub mod warm_up;

pub use ladder::Ladder;
pub use plates::{Fit, Loaded, PlateCount, PlateLoading};
pub use warm_up::{WarmUpSet, Warmth, warm_up};

#[cfg(test)]
mod tests;
