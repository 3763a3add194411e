//! The invented squad that the demonstration opens.
//!
//! Everybody here is invented, and so are the club and its town. The log comes from the engine's
//! virtual lifters, whose body is not the engine's model; what it knew is kept beside the log as
//! [`Truth`] and never stored. The same seed and day give the same log, to the byte, on every
//! machine.

mod squad;

use domain::{Catalogue, CatalogueError, CheckIn, Lifter, LoggedSet, Refused};
pub use engine::virtual_lifters::Truth;
use engine::virtual_lifters::{DrawError, World, live};
use jiff::Timestamp;
use jiff::civil::Date;
use store::{OnDifference, Store, StoreError};

/// The seed for which tests check that the squad holds everything that the scenario promises; with
/// another, a rare thing such as a lead set that turns into speed work may be missing.
pub const SEED: u64 = 7;

/// An invented squad: everything that a store would hold, and the truth behind it.
#[derive(Clone, Debug)]
pub struct Squad {
    /// The lifters with their settings.
    pub lifters: Vec<Lifter>,
    /// All sets, by date; within a session in the order in which they were done.
    pub sets: Vec<LoggedSet>,
    /// All check-ins, by date.
    pub check_ins: Vec<CheckIn>,
    /// The coach's own lift file.
    pub lift_file: String,
    /// What each lead set hid, by date.
    pub truths: Vec<Truth>,
    /// Each lifter in one line, in the order of `lifters`.
    pub about: Vec<String>,
}

/// Why there is no squad.
#[derive(Debug, thiserror::Error)]
pub enum DemoError {
    /// A value was out of range, such as a day before 1950.
    #[error("the invented squad can't be made: {0}")]
    Refused(#[from] Refused),
    /// The invented coach's lift file doesn't fit the catalogue.
    #[error("the invented coach's lift file can't be read: {0}")]
    Catalogue(#[from] CatalogueError),
    /// A lift of an invented programme isn't in the catalogue.
    #[error("the invented programme holds `{0}`, which is not in the catalogue")]
    UnknownLift(String),
    /// The store already holds somebody.
    #[error("the store already holds {0} lifters: open the invented squad in a new file")]
    NotEmpty(usize),
    /// The store refused.
    #[error(transparent)]
    Store(#[from] StoreError),
}

impl From<DrawError> for DemoError {
    fn from(error: DrawError) -> DemoError {
        match error {
            DrawError::Refused(refused) => DemoError::Refused(refused),
            DrawError::UnknownLift(lift) => DemoError::UnknownLift(lift),
        }
    }
}

/// The invented squad of the Quillhaven Boat and Barbell Club, with records that end at `today`.
///
/// # Errors
/// [`DemoError::Refused`] when a record would begin before dates do (1950).
pub fn squad(seed: u64, today: Date) -> Result<Squad, DemoError> {
    let catalogue = Catalogue::built_in().with_file(squad::LIFT_FILE)?;
    let world = World::brisk();
    let mut squad = Squad {
        lifters: Vec::new(),
        sets: Vec::new(),
        check_ins: Vec::new(),
        lift_file: squad::LIFT_FILE.to_owned(),
        truths: Vec::new(),
        about: Vec::new(),
    };
    for (stream, one) in (0..).zip(squad::everybody()) {
        let lived = live(&world, &one.person, &catalogue, today, seed, stream)?;
        squad.lifters.push(lived.lifter);
        squad.sets.extend(lived.sets);
        squad.check_ins.extend(lived.check_ins);
        squad.truths.extend(lived.truths);
        squad.about.push(one.about.to_owned());
    }
    squad.sets.sort_by_key(|set| set.when); // stable: the order within a session stays
    squad.check_ins.sort_by_key(|check_in| check_in.when);
    squad.truths.sort_by_key(|truth| truth.when);
    Ok(squad)
}

/// Fills an empty store with the invented squad, in one transaction: all of it or nothing.
pub fn open_demo(
    store: &Store,
    seed: u64,
    today: Date,
    now: Timestamp,
) -> Result<Squad, DemoError> {
    let already = store.lifters()?.len();
    if already > 0 {
        return Err(DemoError::NotEmpty(already));
    }
    let squad = squad(seed, today)?;
    let mut import = store.begin_import("the invented squad of the demonstration", now)?;
    import.add_lift_file(&squad.lift_file)?;
    for lifter in &squad.lifters {
        import.add_lifter_if_missing(lifter)?;
    }
    for set in &squad.sets {
        import.add_set(set, OnDifference::Keep)?;
    }
    for check_in in &squad.check_ins {
        import.add_check_in(check_in, OnDifference::Keep)?;
    }
    import.commit()?;
    Ok(squad)
}

/// What must be said of a record that holds the invented squad; nothing of any other.
pub(crate) fn remark(lift_files: &[String]) -> Option<&'static str> {
    lift_files
        .iter()
        .any(|text| text == squad::LIFT_FILE)
        .then_some("An invented squad: people, club and numbers are made up.")
}
