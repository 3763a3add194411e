//! The record on disk: one SQLite file, one writer, nothing destroyed.
//!
//! Facts are only ever added. A correction is a new version that supersedes the old one, and so is
//! a withdrawal; every version stays readable. A commit is on the disk when it returns
//! (write-ahead log, synchronous=FULL), and a process killed at any moment leaves a whole store. A store that is
//! closed, or dropped, is one whole file with nothing beside it. Each fact carries a checksum.
//! Beside the facts lie computed things that are kept to save time ([`KeptFit`], [`PooledValues`]);
//! they are no facts and may be replaced. There are no formulas here, no clock (`now` is an argument)
//! and no opinion on where the file lies. Ids made from content make resending harmless: the same line
//! twice is the same set.

#![cfg_attr(not(test), warn(clippy::unwrap_used, clippy::expect_used, clippy::panic))]

mod backup;
mod checksum;
mod connections;
mod doctor;
mod error;
mod facts;
mod fits;
mod floor;
mod history;
mod log;
mod migrate;
mod open;
mod place;
mod plan_change;
pub mod private;
mod programme;
mod read;
mod rows;
mod verify;
mod writer;

pub use backup::{
    BackedUp, BackupError, Before, Contents, Difference, LifterDifference, Mode, Origin, Over, Put,
    PutInPlace, Watch, origin_of, put_in_place,
};
pub use connections::{Closer, Store};
pub use doctor::{Finding, Findings, Severity, examine};
pub use error::StoreError;
pub use facts::{Fact, Recording, Thing, Touched};
pub use fits::{KeptFit, PooledId, PooledValues};
pub use floor::{FloorMessage, LinkOnRecord, MessageOnRecord, Opens, Outcome, PhoneLink};
pub use history::{CheckInVersion, SetVersion, Standing, Version};
pub use open::Settings;
pub use place::Lost;
pub use plan_change::{PlanChange, PlanChangeVersion};
pub use programme::{LifterProgramme, ProgrammeVersion};
pub use read::LifterSummary;
pub use writer::{Added, ImportId, ImportInto, OnDifference};
