//! Pure computation: strength curves, repeatability, trends, readings, calls and targets.
//!
//! Data in, result and problems out. Nothing here opens a file, reads a clock, draws from a global
//! generator or knows that a database or a page exists.

#![cfg_attr(not(test), warn(clippy::unwrap_used, clippy::expect_used, clippy::panic))]

pub mod complaint;
pub mod loading;
pub mod pain;
pub mod pooling;
pub mod programme;
pub mod reading;
pub mod recovery;
pub mod repeatability;
pub mod statespace;
pub mod strength;
pub mod target;
pub mod trend;
pub mod virtual_lifters;

#[cfg(test)]
#[path = "../../domain/tests/support/properties.rs"]
mod properties;
