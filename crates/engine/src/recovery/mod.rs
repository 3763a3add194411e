//! Local recovery: one model of all of a lifter's lifts and muscles.

pub mod account;
pub mod belief;
pub mod dose;
pub mod filter;
pub mod fit;
mod forecast;
mod frame;
pub mod freak;
mod gradient;
mod lanes;
pub mod lifter;
pub mod muscles;
pub mod numbers;
pub mod parameters;
mod pending;
pub mod population;
pub mod session;
mod shape;
pub mod state;
pub mod why;
mod work_sets;

pub use account::Prepared;
pub use filter::{Dynamics, Event};
pub use fit::RecoveryFit;
pub use freak::Freak;
pub use lifter::Lifter;
pub use lifter::kept::{MODEL_VERSION, ParameterFit};
pub use muscles::MuscleState;
pub use numbers::PooledError;
pub use parameters::{Parameters, Pooled, Spread};
pub use population::{LifterEstimate, regrow, repool};
pub use session::{SessionBelief, SessionLift};
pub use shape::Shape;
pub use state::State;
pub use why::{Cause, Weighed, Why};
