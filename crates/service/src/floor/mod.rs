//! The gym floor: what a phone's page needs of a session, and what becomes of what phones send.
//!
//! A phone works by itself: [`FloorDay`] carries everything that it needs for a session, and what it
//! logs comes back as messages, whenever there is a signal, in [`take`]. A message has an id from the
//! phone and is recorded once, however often it is sent. [`bounds`] says how much may be sent, [`time`] when
//! something was. Tokens are made elsewhere; here they are only known by their hash.

mod allowance;
pub mod bounds;
mod day;
mod line;
mod link;
mod message;
mod numbering;
mod remarks;
mod take;
mod time;

pub(crate) use allowance::Allowance;
pub use day::{Alternative, FloorDay, FloorJoint, FloorLift, FloorRating, Rung};
pub use line::FloorLine;
pub use link::{LinkLine, NewLink, Opened, token_hash};
pub use remarks::FloorRemark;
pub use store::PhoneLink;
pub use take::{Confirmed, Held, Taken};
