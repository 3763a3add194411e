//! What the pages ask for: the seam between the router and whatever knows the lifters.
//!
//! Calls may take their time and read files; the router calls them away from its own threads. Who
//! implements this reads the clock; the pages only show the day that a view was made for.

use domain::LifterName;
use jiff::civil::Date;
use service::view::{CardView, LifterView, SquadView};

use super::floor::Floor;

/// Answers what the desk's pages ask.
pub trait Desk: Floor {
    /// Everybody, most urgent first.
    fn squad(&self) -> Result<SquadView, DeskError>;

    /// One lifter with every lift.
    fn lifter(&self, name: &LifterName) -> Result<LifterView, DeskError>;

    /// One lifter's card for a day; without a day, for today.
    fn card(&self, name: &LifterName, date: Option<Date>) -> Result<CardView, DeskError>;
}

/// Why a page can't be shown. The texts are shown to the coach as they are.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum DeskError {
    /// Nobody has this name.
    #[error("nobody on record is called `{0}`")]
    UnknownLifter(LifterName),
    /// What was asked for makes no sense, and why, with the cure.
    #[error("{0}")]
    Refused(String),
    /// The store or the computation failed: what happened, with the cure if there is one.
    #[error("{0}")]
    Failed(String),
}
