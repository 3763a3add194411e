//! Values of lifters in general and of each lifter: estimated, proposed, adopted.

pub mod pool;
pub mod refit;
