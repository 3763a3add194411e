//! A lifter's record as it is read: what was logged, every lead set held against its forecast, and what the reading rests on.

pub mod history;
pub mod inputs;
pub(crate) mod person;
pub(crate) mod tracker;
