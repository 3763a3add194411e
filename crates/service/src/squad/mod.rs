//! All lifters: their readings, held until something changes.

pub(crate) mod readings;
