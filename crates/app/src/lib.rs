//! The pictures and pages of Bellwether, apart from the program that serves and writes them.
//!
//! [`chart`] draws, [`web`] makes pages of the drawings, [`wording`] writes numbers for people. None
//! of them reads the clock, the environment or a file.

pub mod chart;
pub mod web;
pub mod wording;
