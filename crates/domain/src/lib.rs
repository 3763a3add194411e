//! Lifters, lifts, sets and units, and the rules that keep them from holding nonsense.
//!
//! Every type here is valid by construction: a value that exists may be used without a second
//! look. There is no arithmetic of training here (that is the engine's), and nothing knows how it
//! is stored or shown.

#![cfg_attr(not(test), warn(clippy::unwrap_used, clippy::expect_used, clippy::panic))]

pub mod body;
pub mod bounds;
pub mod catalogue;
pub mod effort;
pub mod equipment;
pub mod lift;
pub mod lifter;
pub mod mass;
pub mod moment;
pub mod names;
pub mod programme;
pub mod record;

pub use body::{Joint, Muscle};
pub use bounds::Refused;
pub use catalogue::{Catalogue, CatalogueError};
pub use effort::{Reps, Rir, SetKind};
pub use equipment::{Bar, EquipmentClass, PlateStock};
pub use lift::{BodyMassShare, Lift, MuscleWeight};
pub use lifter::{Lifter, Limits};
pub use mass::{Load, Mass, Unit};
pub use moment::When;
pub use names::{LiftName, LifterName, Note, ProgrammeName};
pub use programme::{
    DoseRange, Drafting, PlannedLift, Priority, Programme, ProgrammeDay, ProgrammeError,
    Progression, Purpose, RepRange,
};
pub use record::{CheckIn, CheckInId, LoggedSet, Pain, SetId, SetNumber};
