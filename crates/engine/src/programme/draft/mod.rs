//! Drafting a week: which lifts, on which days, with how many sets.
//!
//! [`Wishes`] say what the coach wants; [`Model`] puts them into whole numbers; [`verify`](verify::verify)
//! adds a finished week up again without knowing how it was found.

pub mod account;
pub mod bound;
#[cfg(feature = "highs")]
pub mod branch;
pub mod conflict;
pub mod model;
pub mod rows;
pub mod search;
pub mod verify;
pub mod wishes;
pub mod worth;

mod order;
pub(super) mod slots;
mod state;

pub use account::{MuscleAccount, Source, accounts};
pub use bound::{Bound, bound};
#[cfg(feature = "highs")]
pub use branch::{Branched, branch};
pub use conflict::{InTheWay, Verdict, Wish, settle};
pub use model::{Model, Plan};
pub use search::Search;
pub use verify::{Breach, Reckoning, Verifier, verify};
pub use wishes::{DayWish, Keep, Wishes};

#[cfg(test)]
mod tests;
