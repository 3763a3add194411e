//! How well a measurement repeats.
