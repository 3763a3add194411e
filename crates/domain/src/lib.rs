//! Lifters, lifts, sets and units.
