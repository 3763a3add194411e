//! Virtual lifters: logs whose truth is known, to judge readings by.
//!
//! No real log tells on which days a muscle had not recovered. These do, because they are made up: a
//! hidden body trains, and what it could do is kept beside what was written down. On purpose the body
//! is not the engine's own model: dose saturates or grows like a root, every muscle recovers by itself
//! and more slowly under stress, scatter has heavy tails, reserve is told with a bias, loads come in
//! plates, sessions are missed, people carry furniture without writing it down, and go away. There
//! are several [`World`]s, which differ in structure, so that no rule is tuned to one.
//!
//! Pure and seeded: the same world, seed and last day give the same log, to the byte, on every
//! machine. Everything is simulated, ours, and no better than that; `docs/virtual-lifters.md` says
//! what it is good for.

mod body;
mod dice;
mod exercise;
pub mod oracle;
mod person;
mod programme;
mod rack;
pub mod score;
mod simulate;
mod world;

use std::ops::Range;

use domain::{
    Catalogue, CheckIn, Lift, LiftName, Lifter, LifterName, LoggedSet, Refused, SetId, When,
};
use jiff::civil::Date;

pub use body::Night;
pub use person::{Event, Habits, Person, RirHabit, Slot, TrainingDay};
pub use simulate::Simulation;
pub use world::{
    DayForm, DoseCurve, People, REGIONS, RepCurve, SlowPart, Strains, Tail, World, recovery_days,
};

/// Exposures whose mean capacity is a lifter's own usual.
pub const USUAL_EXPOSURES: usize = 8;

/// Virtual lifters of one world.
#[derive(Clone, Debug)]
pub struct Cohort {
    /// The lifters.
    pub lifters: Vec<VirtualLifter>,
}

/// One virtual lifter: what a store would hold, and the truth behind it.
#[derive(Clone, Debug)]
pub struct VirtualLifter {
    /// The lifter with usual settings.
    pub lifter: Lifter,
    /// All sets in the order in which they were done.
    pub sets: Vec<LoggedSet>,
    /// All check-ins by date.
    pub check_ins: Vec<CheckIn>,
    /// What each lead set hid, in the order of `sets`.
    pub truths: Vec<Truth>,
    /// Everything else that no coach could know.
    pub hidden: Hidden,
}

/// What the generator knows of one lead set and no coach could.
#[derive(Clone, Debug, PartialEq)]
pub struct Truth {
    /// Who.
    pub lifter: LifterName,
    /// When.
    pub when: When,
    /// Which lift.
    pub lift: LiftName,
    /// The lead set in the log.
    pub set: SetId,
    /// Days since the lifter's first session.
    pub record_day: i32,
    /// Days since the first session after more than 14 days away; none if that never happened.
    pub days_since_layoff: Option<i32>,
    /// Exposures of this lift before this one.
    pub exposures_before: usize,
    /// How far the true log capacity lay below the lifter's own usual, times 100: the mean over up to
    /// [`USUAL_EXPOSURES`] exposures of this lift before. None with fewer than three.
    pub shortfall_pct: Option<f64>,
    /// The strength that was missing on the day, in %, however usual that is: in the muscles, in the
    /// whole body, and for guarding a joint that complains.
    pub acute_pct: f64,
    /// The part of `acute_pct` that is the lift's muscles not having recovered.
    pub in_muscles_pct: f64,
    /// The part of `acute_pct` that is the whole body's form, sleep and stress; below 0 on a good day.
    pub in_whole_body_pct: f64,
    /// The true ln 1RM at that moment without scatter, the 1RM in kg moved.
    pub log_capacity: f64,
    /// The same as a 1RM in kg moved (with the share of body mass, if any), rounded to a gram.
    pub moved_max_kg: f64,
}

/// The parameters of a virtual lifter, and what happened day by day: what an oracle is told.
#[derive(Clone, Debug, PartialEq)]
pub struct Hidden {
    /// The world.
    pub world: World,
    /// The person.
    pub person: Person,
    /// Sleep and stress as they usually are.
    pub usual: Night,
    /// The lifts with their own parameters.
    pub lifts: Vec<HiddenLift>,
    /// Every day of the record in order.
    pub days: Vec<HiddenDay>,
}

/// One lift as one virtual lifter does it.
#[derive(Clone, Debug, PartialEq)]
pub struct HiddenLift {
    /// The lift.
    pub lift: Lift,
    /// ln 1RM in kg moved, rested, when the record begins.
    pub start_log_max: f64,
    /// Gains relative to the lifter's other lifts.
    pub gain_factor: f64,
    /// The cost of a repetition relative to most people's.
    pub rep_cost: f64,
    /// Standard deviation of scatter, as log load.
    pub scatter_sd: f64,
}

/// One day of a virtual lifter.
#[derive(Clone, Debug, PartialEq)]
pub struct HiddenDay {
    /// Days before the end of the record.
    pub days_back: i32,
    /// How the night and the day were.
    pub night: Night,
    /// How much more a set costs today for want of habit, as a fraction.
    pub unaccustomed: f64,
    /// The lifts of the session in order; none without one.
    pub exercises: Vec<HiddenExercise>,
}

/// One lift of one session.
#[derive(Clone, Debug, PartialEq)]
pub struct HiddenExercise {
    /// Which of [`Hidden::lifts`].
    pub lift_idx: usize,
    /// The sets in [`VirtualLifter::sets`]; none if every attempt failed.
    pub sets: Range<usize>,
    /// Work sets planned.
    pub planned_sets: u8,
    /// The repetitions at which a work set stops.
    pub high: u16,
    /// Log strength gained since the record began, less what a layoff and a complaining joint took.
    pub told_level: f64,
    /// How hard each of the sets was: 1 near failure, 0 for a warm-up.
    pub efforts: Vec<f64>,
}

/// Why there are no virtual lifters.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum DrawError {
    /// A value was out of range, such as a day before 1950.
    #[error("the virtual lifters can't be made: {0}")]
    Refused(#[from] Refused),
    /// A lift of a programme isn't in the catalogue, or has no strength to start from.
    #[error(
        "a virtual lifter's programme holds `{0}`, which needs to be in the catalogue and among the lifter's strengths: use another lift or add it there"
    )]
    UnknownLift(String),
}

/// Draws `n` lifters of `world`, each with a record of `weeks` weeks that ends at `end`. Lifter number
/// k is the same whatever `n` is.
///
/// # Errors
/// [`DrawError::Refused`] when the record would begin before dates do (1950).
pub fn draw(
    world: &World,
    seed: u64,
    n: usize,
    weeks: u16,
    end: Date,
) -> Result<Cohort, DrawError> {
    let catalogue = Catalogue::built_in();
    let lifters = (0..n)
        .map(|number| {
            let person = programme::anybody(world, seed, number as u64, weeks);
            live(world, &person, &catalogue, end, seed, number as u64)
        })
        .collect::<Result<_, _>>()?;
    Ok(Cohort { lifters })
}

/// Lives the whole record of one person; `stream` tells persons of one seed apart.
///
/// # Errors
/// As [`Simulation::new`] and [`Simulation::live_a_day`].
pub fn live(
    world: &World,
    person: &Person,
    catalogue: &Catalogue,
    end: Date,
    seed: u64,
    stream: u64,
) -> Result<VirtualLifter, DrawError> {
    let mut simulation = Simulation::new(world, person, catalogue, end, seed, stream)?;
    while simulation.live_a_day()? {}
    Ok(simulation.finish())
}
