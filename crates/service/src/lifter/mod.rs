//! One lifter: being put on record, and the muscles as they are shown.

pub mod intake;
pub(crate) mod muscles;
