//! Dose: each muscle's hard sets by weeks, and what the programme has to come.

pub mod record;
pub(crate) mod to_come;
