//! Programmes: reading and writing their files without loss, checking them, counting their dose.
//!
//! The files are described in `docs/programme-format.md`. What a programme comes to is computed in the engine.

pub mod calendar;

pub mod view;

mod desk_pages;
mod draft;
mod form;
mod in_words;
mod lately;
mod next;
mod of_lifter;
mod plan_change;
mod plan_changes;
mod read;
mod report;
mod sessions;
mod table;
mod wishes;
mod wishes_form;
mod write;

pub use desk_pages::{ProgrammeFormView, ProgrammePageView};
pub use draft::{
    ContraryWish, DraftOf, DraftProgress, DraftView, DraftWatch, DraftedWeek, FromLift, MuscleLine,
    draft_programme,
};
pub use form::{RULES, days_in};
pub use in_words::{DayWords, LiftWords, day_in_words, days_in_words};
pub use of_lifter::{Followed, FollowedView, ProgrammeSet, ProgrammeVersionLine};
pub use plan_change::PlanChange;
pub use plan_changes::{PlanChangeLine, PlanChangesView};
pub use read::read_programme;
pub use report::{
    Planning, ProgrammeError, Remark, UnknownLift, check_programme, mend_programme, programme_dose,
};
pub use wishes::{WishFile, read_wishes};
pub use wishes_form::{DraftOrder, JointChoice, PresentView, WishesFormView};
pub use write::{write_programme, write_wishes};

pub(crate) use next::{NextSession, Schedule, Slot};
pub(crate) use of_lifter::{followed, monday_of};
pub(crate) use plan_changes::plan_changes_in_force;
use plan_changes::plan_changes_in_words;
use report::unknown_lifts;

/// Why a file of a programme was not taken. Nothing of such a file is used.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum FileError {
    /// The file isn't TOML.
    #[error("line {line}: this is not TOML: {reason}")]
    NotToml {
        /// The line, from 1.
        line: usize,
        /// What the reader stumbled over.
        reason: String,
    },
    /// Something is missing, unknown or out of range.
    #[error("line {line}, {place}: {reason}")]
    Entry {
        /// The line, from 1.
        line: usize,
        /// The day and the lift, or the key.
        place: String,
        /// What is wrong and what would do.
        reason: String,
    },
}
