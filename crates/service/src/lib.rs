//! What a coach or a lifter can do, one function each: load, compute, hand back plain data.
//!
//! Takes `now`, `today` and seeds as arguments and returns data in the reader's words ([`view`]).
//! There is no HTML, no SQL and no command line here.

#![cfg_attr(not(test), warn(clippy::unwrap_used, clippy::expect_used, clippy::panic))]

pub mod backup;
mod cache;
pub mod demo;
pub mod desk;
pub mod dose;
mod error;
pub mod export;
pub mod floor;
pub mod forms;
pub mod import;
pub mod joints;
mod lift;
pub mod lifter;
pub mod measure;
mod parallel;
pub mod population;
pub mod programme;
pub mod record;
pub mod replay;
pub mod session;
mod settings;
mod squad;
pub mod view;
mod words;

pub use desk::Desk;
pub use error::ServiceError;
pub use record::person::catalogue;
pub use store::{Closer, Finding, Findings, Severity, Store, StoreError, examine, private};

#[cfg(test)]
#[path = "../../domain/tests/support/properties.rs"]
mod properties;
