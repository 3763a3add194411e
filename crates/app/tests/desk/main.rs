//! How the desk looks and answers: charts, pages over the real router, and the card on paper, all on
//! an invented squad. One program, so that the fixture is built once.

mod changing;
mod charts;
mod fixture;
#[path = "../browser/fonts.rs"]
mod fonts;
mod pages;
mod pdf;
mod print;
#[path = "../../../domain/tests/support/properties.rs"]
mod properties;
mod sheets;
