//! Starting ranges for the weekly dose of a muscle, with where they come from.
//!
//! Starting points and no prescription: the studies are of groups, mostly of young men, over weeks, and
//! counted sets in several ways. A coach overrides them by programme.

use domain::{DoseRange, Muscle};

/// The usual range of a muscle, with its source.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct UsualRange {
    /// The range.
    pub range: DoseRange,
    /// Where it comes from.
    pub source: &'static str,
}

/// Where the range of muscles that are trained for their own sake comes from.
pub const TRAINED: &str = "least 5: at most 5 weekly sets an exercise was the low group of Ralston 2017, which \
    still grew stronger (ES 0.82, 0.47 to 1.17); aim 10: at least 10 was its high group (ES 1.01, 0.70 to \
    1.32; difference 0.18, 0.06 to 0.30); most 20: Baz-Valle 2022 suggests 12 to 20 for trained young men, \
    and more did no better for quadriceps (p 0.19) and biceps (p 0.59), but did for triceps (p 0.01)";

/// Where the range of muscles that other lifts train along comes from.
pub const TRAINED_ALONG: &str = "no least dose, as other lifts train it along: common practice, no source; most \
    20 as for the others";

/// What isn't known of all ranges.
pub const UNCERTAINTY: &str = "More sets go with more growth and strength, with diminishing returns, much sharper \
    for strength (Pelland 2024); one set one to three times a week already raises a 1RM (Androulakis-Korakakis \
    2020). Where a lifter's own best dose lies isn't known beforehand: a range is where to start.";

/// The usual range of a muscle.
#[must_use]
pub fn usual(muscle: Muscle) -> UsualRange {
    let (range, source) = if is_trained_for_itself(muscle) {
        (DoseRange::new(5.0, 10.0, 20.0), TRAINED)
    } else {
        (DoseRange::new(0.0, 4.0, 20.0), TRAINED_ALONG)
    };
    #[expect(clippy::expect_used, reason = "both ranges are constants in order")]
    UsualRange { range: range.expect("ranges are in order"), source }
}

/// Whether a programme is expected to train the muscle; the others come along with other lifts. Common
/// practice, no source.
#[must_use]
pub fn is_trained_for_itself(muscle: Muscle) -> bool {
    use Muscle as M;
    matches!(
        muscle,
        M::Quadriceps
            | M::Hamstrings
            | M::Glutes
            | M::Chest
            | M::Lats
            | M::UpperBack
            | M::FrontDelts
            | M::SideDelts
            | M::Biceps
            | M::Triceps
            | M::Calves
            | M::Abdominals
    )
}
