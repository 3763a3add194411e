//! The pictures, pages and commands of Bellwether.
//!
//! [`chart`] draws, [`web`] makes pages of the drawings, [`print`] makes sheets of paper, [`wording`] writes
//! numbers for people. None of these reads the clock, the environment or a file: that is [`cli`]'s, the command line.
//! [`server`] brings pages to the network.

pub mod chart;
pub mod cli;
pub mod print;
pub mod server;
pub mod web;
pub mod wording;
