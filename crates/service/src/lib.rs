//! What a coach or a lifter can do.

pub mod view;
