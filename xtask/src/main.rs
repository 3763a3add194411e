//! Housekeeping.
fn main() {}
