//! How well a measurement repeats: typical error, intraclass correlation, agreement, thresholds.
//!
//! Everything starts from [`Trials`], a complete table of people by trials. Nothing here reads a
//! lifter's record over time (trials are taken to be repeats of the same thing) or decides a call.
//! Each file names the papers of its formulas.

mod agreement;
mod coverage;
mod mean_squares;
mod reliability;
mod threshold;
mod trials;
mod typical_error;

pub use agreement::{Agreement, limits_of_agreement};
pub use coverage::{Confidence, CoverageFactor, Interval};
pub use mean_squares::MeanSquares;
pub use reliability::{IntraclassCorrelation, Reliability, intraclass_correlation};
pub use threshold::{
    EarlierReadings, chance_of_true_drop, drop_limit, minimal_detectable_change, new_reading_factor,
};
pub use trials::Trials;
pub use typical_error::{
    between_person_sd, coefficient_of_variation, repeatability_coefficient, sem_from_reliability,
    smallest_worthwhile_change, typical_error, typical_error_interval, within_person_sd,
};

/// Why a question of repeatability can't be answered.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum RepeatabilityError {
    /// Too few people, or too few trials of each.
    #[error("`{what}` are {got}, but at least {need} are needed: add more to the table")]
    TooFew {
        /// What there is too little of.
        what: &'static str,
        /// How many were found.
        got: usize,
        /// How many are needed.
        need: usize,
    },
    /// A person with another number of trials than the first.
    #[error(
        "person {person} has `{got}` trials, but person 1 has {need}: fill in the missing ones or leave the person out"
    )]
    Ragged {
        /// The person's place in the table, from 1.
        person: usize,
        /// How many trials were found.
        got: usize,
        /// How many the first person has.
        need: usize,
    },
    /// A value that isn't a number within the limits.
    #[error(
        "trial {trial} of person {person} is `{got}`: it must be a number from −{max} to {max}, so correct it or leave the person out"
    )]
    Value {
        /// The person's place in the table, from 1.
        person: usize,
        /// The trial's place, from 1.
        trial: usize,
        /// The value found.
        got: f64,
        /// The largest magnitude taken.
        max: f64,
    },
    /// A value of zero or less where logarithms are needed.
    #[error(
        "trial {trial} of person {person} is `{got}`: a typical error in % needs values above 0, so use the one in raw units"
    )]
    NotAboveZero {
        /// The person's place in the table, from 1.
        person: usize,
        /// The trial's place, from 1.
        trial: usize,
        /// The value found.
        got: f64,
    },
    /// Agreement asked of a table that hasn't two columns.
    #[error("`trials` are {got}, but limits of agreement compare exactly 2: choose two of them")]
    NotAPair {
        /// How many trials were found.
        got: usize,
    },
    /// People whose means are all the same.
    #[error(
        "`people` have all the same mean of {mean}, so an intraclass correlation isn't defined: add people who differ, or use the typical error"
    )]
    PeopleAlike {
        /// The mean that they share.
        mean: f64,
    },
    /// A number outside the range of its kind.
    #[error("{what} `{got}` is out of range: it must be {needed}")]
    OutOfRange {
        /// The quantity, in the reader's words.
        what: &'static str,
        /// The number found.
        got: f64,
        /// What would work.
        needed: &'static str,
    },
}
