//! What a coach or a lifter can do, one function each: load, compute, hand back plain data.
//!
//! Takes `now`, `today` and seeds as arguments and returns data in the reader's words ([`view`]).
//! There is no HTML, no SQL and no command line here.

#![cfg_attr(not(test), warn(clippy::unwrap_used, clippy::expect_used, clippy::panic))]

pub mod backup;
pub mod calendar;
pub mod demo;
pub mod desk;
pub mod dose_record;
pub mod export;
pub mod floor;
pub mod forecasts;
pub mod forms;
pub mod grounds;
pub mod history;
pub mod import;
pub mod intake;
pub mod joint_record;
pub mod measure;
mod memo;
pub mod pool;
pub mod programme;
pub mod read;
pub mod refit;
pub mod replay;
pub mod table_form;
pub mod view;

mod amend;
mod at_once;
mod card;
mod cell_text;
mod error;
mod first_load;
mod lift_page;
mod lift_view;
mod model;
mod muscle_view;
mod people;
mod person;
mod plan;
mod prescribed;
mod settings;
mod stops;
mod to_come;
mod words;

pub use desk::Desk;
pub use error::ServiceError;
pub use person::catalogue;
pub use store::{Closer, Finding, Findings, Severity, Store, StoreError, examine, private};

#[cfg(test)]
#[path = "../../domain/tests/support/properties.rs"]
mod properties;
