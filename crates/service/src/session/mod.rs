//! One session: its card, the next lead set of each lift, what a programme asks for, and a lead set read by hand.

pub mod by_hand;
pub(crate) mod card;
pub(crate) mod first_load;
pub(crate) mod next_lead;
pub(crate) mod prescription;
