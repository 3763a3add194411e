//! What a set counts as a dose: parts of a hard set.

use domain::{LoggedSet, SetKind};

/// The hardest reserve that still counts as a hard set (design choice; Robinson 2024: for strength the
/// distance to failure hardly matters).
pub(crate) const HARD_UP_TO: f64 = 4.0;

/// How much of a hard set a logged set is: 1 near failure and a little less with more in reserve,
/// falling to a quarter beyond 4 in reserve; speed work a fifth, a heavy single four fifths, a warm-up
/// nothing. A reserve that nobody told counts as 1 (common practice, no source).
#[must_use]
pub fn hard_sets(set: &LoggedSet) -> f64 {
    match set.kind {
        SetKind::WarmUp => 0.0,
        SetKind::Speed => 0.2,
        SetKind::Test => 0.8,
        SetKind::Work => {
            let reserve = set.rir.map_or(1.0, domain::Rir::get);
            if reserve > HARD_UP_TO { 0.25 } else { 1.1 - 0.1 * reserve }
        }
    }
}
