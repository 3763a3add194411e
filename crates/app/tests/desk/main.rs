//! How the desk looks and answers: charts, pages over the real router, and the card on paper, all on
//! an invented squad. One program, so that the fixture is built once.

mod changing;
mod charts;
mod fixture;
mod pages;
mod print;
#[path = "../../../domain/tests/support/properties.rs"]
mod properties;
