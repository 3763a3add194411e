//! Local recovery: one model of all of a lifter's lifts and muscles.

pub mod belief;
pub mod dose;
pub mod filter;
pub mod fit;
pub mod freak;
mod gradient;
pub mod lifter;
pub mod parameters;
mod shape;

pub use filter::{Dynamics, Event, State};
pub use fit::RecoveryFit;
pub use freak::Freak;
pub use lifter::Lifter;
pub use parameters::{LiftParameters, Parameters, Pooled, Spread};
pub use shape::Shape;
