//! One lift's trend: what its lead sets have shown, and what the next one is expected to show.
//!
//! Capacity c = ln 1RM follows a local linear trend in continuous time; a lead set shows
//! y = ln(w·(1 + b·n)) = c + ε. [`OneLift`] reads lead sets in order of time, estimates the lift's
//! own scatter, drift and curve from them (maximum a posteriori, [`prior`]), and says what the next
//! set should show ([`Expectation`]). Other lifts, dose, sleep and muscles are not seen here, and
//! whether a set means anything is decided in [`crate::reading`].
//!
//! Letters: ℓ level, s slope per day, σ scatter, q drift of the level per day, b the load–rep
//! curve, λ the share of the published reserve error that varies from set to set.

pub mod expectation;
pub mod lead_set;
pub mod one_lift;
pub mod prior;
pub mod smoothing;

mod fit;

pub use expectation::{AgainstUsual, Expectation};
pub use fit::{FitReport, Parameters};
pub use lead_set::LeadSet;
pub use one_lift::{OneLift, Scatter, SmoothedLevel, TodayEstimate, smoothed};
pub use prior::Prior;
pub use smoothing::{Smoothed, Smoothing};
