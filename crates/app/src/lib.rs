//! The pictures, pages and commands of Bellwether.
//!
//! [`chart`] draws, [`web`] makes pages of the drawings, [`print`] makes sheets of paper, [`wording`] writes
//! numbers for people. None of these reads the clock, the environment or a file: that is [`cli`]'s, the command line.

pub mod chart;
pub mod cli;
pub mod print;
pub mod web;
pub mod wording;
