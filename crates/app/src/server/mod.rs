//! Serving over the network: connections with their limits, and what the system allows of them.
//!
//! Which pages there are and who may see them is [`crate::web`]'s; here it only matters that nobody can keep
//! others from being answered.

mod connections;
mod descriptors;
mod priority;

pub use connections::{Limits, serve};
pub use descriptors::raise_descriptor_limit;
pub use priority::{step_back, threads_for_pages};
