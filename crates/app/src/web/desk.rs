//! What the pages ask for: the seam between the router and whatever knows the lifters.
//!
//! Calls may take their time and read files; the router calls them away from its own threads. Who
//! implements this reads the clock; the pages only show the day that a view was made for.

use domain::{LiftName, LifterName, SetId};
use jiff::civil::Date;
use service::backup::BackupView;
use service::forms::{Fields, Problems};
use service::import::form::TableView;
use service::lifter::intake::IntakeView;
use service::view::{CardView, Extent, LiftPageView, LifterView, SetPageView, SquadView};

use super::calendar::Calendars;
use super::drafts::Drafts;
use super::floor::Floor;
use super::plan_changes::PlanChanges;
use super::programme::Programmes;
use super::records::Records;

/// Answers what the desk's pages ask.
pub trait Desk: Floor + Changes + Programmes + PlanChanges + Drafts + Calendars + Records {
    /// Everybody, most urgent first.
    fn squad(&self) -> Result<SquadView, DeskError>;

    /// What is known of the record's backups; `None` if it is a record that needs none.
    fn backups(&self) -> Option<BackupView> {
        None
    }

    /// One lifter with so much of every lift.
    fn lifter(&self, name: &LifterName, extent: Extent) -> Result<LifterView, DeskError>;

    /// One lift of a lifter, with the costs that are being tried, if any.
    fn lift(
        &self,
        name: &LifterName,
        lift: &LiftName,
        costs: &Fields,
    ) -> Result<LiftPageView, DeskError>;

    /// One lifter's card for a day; without a day, for today.
    fn card(&self, name: &LifterName, date: Option<Date>) -> Result<CardView, DeskError>;
}

/// What became of a form.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum FormTaken<T> {
    /// It was taken, and what it says is on record.
    Done(T),
    /// Something in it can't be taken; nothing was changed.
    Not(Problems),
}

/// Does what the desk's forms ask.
pub trait Changes {
    /// One set with its history and the form that corrects it.
    fn set(&self, name: &LifterName, id: SetId) -> Result<SetPageView, DeskError>;

    /// Corrects a set or puts it back; gives the lift under which it now stands.
    fn correct_set(
        &self,
        name: &LifterName,
        id: SetId,
        fields: &Fields,
    ) -> Result<FormTaken<LiftName>, DeskError>;

    /// Takes a set back; gives the lift under which it stood.
    fn withdraw_set(
        &self,
        name: &LifterName,
        id: SetId,
        fields: &Fields,
    ) -> Result<FormTaken<LiftName>, DeskError>;

    /// A lifter's name as it was written, and the settings as a form.
    fn settings(&self, name: &LifterName) -> Result<(LifterName, Fields), DeskError>;

    /// Puts settings into force.
    fn set_settings(&self, name: &LifterName, fields: &Fields) -> Result<FormTaken<()>, DeskError>;

    /// The form for a new lifter.
    fn intake(&self) -> Result<IntakeView, DeskError>;

    /// Takes on a new lifter; gives the name.
    fn take_on(&self, fields: &Fields) -> Result<FormTaken<LifterName>, DeskError>;

    /// Lets a table wait for its import; gives the name by which it is found.
    fn keep_table(&self, name: &str, bytes: Vec<u8>) -> String;

    /// How a table that waits would be read, and what an import would do.
    fn look_at_table(&self, id: &str, fields: &Fields) -> Result<TableView, DeskError>;

    /// Imports a table that waits; without a report in it, nothing was imported.
    fn import_table(&self, id: &str, fields: &Fields) -> Result<TableView, DeskError>;

    /// Puts two costs into force.
    fn set_costs(&self, name: &LifterName, costs: &Fields) -> Result<FormTaken<()>, DeskError>;

    /// Records how a joint feels now.
    fn rate_joint(&self, name: &LifterName, fields: &Fields) -> Result<FormTaken<()>, DeskError>;
}

/// Why a page can't be shown. The texts are shown to the coach as they are.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum DeskError {
    /// Nobody has this name.
    #[error("nobody on record is called `{0}`")]
    UnknownLifter(LifterName),
    /// Something else that was asked for isn't on record: what, with the cure.
    #[error("{0}")]
    NotThere(String),
    /// What was asked for makes no sense, and why, with the cure.
    #[error("{0}")]
    Refused(String),
    /// The store or the computation failed: what happened, with the cure if there is one.
    #[error("{0}")]
    Failed(String),
}
