//! Why something could not be done, in the reader's words.

use domain::CatalogueError;
use engine::recovery::PooledError;
use store::StoreError;

/// Why something could not be done. Exhaustive: commands and pages answer each one.
#[derive(Debug, thiserror::Error)]
pub enum ServiceError {
    /// The store has trouble.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// A lift file on record can't be read any more.
    #[error("a lift file on record can't be read: {0}; import a corrected one")]
    LiftFile(#[from] CatalogueError),
    /// There is nobody of that name.
    #[error("there is no lifter `{name}` on record{}", nearest(near))]
    NoSuchLifter {
        /// The name asked for.
        name: String,
        /// Names on record that are like it.
        near: Vec<String>,
    },
    /// The lifter hasn't done that lift.
    #[error("`{lifter}` has no lift `{lift}` on record{}", nearest(near))]
    NoSuchLift {
        /// The lifter.
        lifter: String,
        /// The lift asked for.
        lift: String,
        /// Lifts on record that are like it.
        near: Vec<String>,
    },
    /// There is nothing to make a card from.
    #[error("`{lifter}` has no session on record to take the lifts from: import a log first")]
    NoSession {
        /// The lifter.
        lifter: String,
    },
    /// The lifter has no programme.
    #[error(
        "`{lifter}` has no programme: set one with `bellwether programme set`, or on the lifter's page"
    )]
    NoProgramme {
        /// The lifter.
        lifter: String,
    },
    /// The programme on record can't be read any more.
    #[error("the programme of `{lifter}` can't be read: {reason}; set a corrected one")]
    Programme {
        /// The lifter.
        lifter: String,
        /// What is wrong with it.
        reason: String,
    },
    /// A change of plan that can't be made.
    #[error("the plan of `{lifter}` can't be changed so: {reason}")]
    PlanChange {
        /// The lifter.
        lifter: String,
        /// Why not, with the cure.
        reason: String,
    },
    /// The lifter has no such private link.
    #[error("`{lifter}` has no such link: look at the links on the lifter's page again")]
    NoSuchLink {
        /// The lifter.
        lifter: String,
    },
    /// What a phone sent can't be read.
    #[error("what the phone sent can't be read: {reason}")]
    Floor {
        /// What is wrong with it.
        reason: String,
    },
    /// Pooled values on record that can't be used any more.
    #[error(
        "the values of lifters in general that are in force can't be used: {0}; go back to those \
         that come with the program with `bellwether pool --shipped`"
    )]
    Pooled(#[from] PooledError),
    /// A value was refused.
    #[error(transparent)]
    Refused(#[from] domain::Refused),
}

fn nearest(near: &[String]) -> String {
    match near {
        [] => String::new(),
        near => format!("; did you mean {}?", near.join(", ")),
    }
}
