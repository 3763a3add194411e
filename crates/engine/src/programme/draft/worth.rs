//! What a week is worth, in whole points: the weights by which one drafted week is better than another.
//!
//! Doses are whole thousandths of a hard set. Diminishing returns are published (Pelland et al. 2024), where
//! they bend is the range of dose, and the points themselves are our choice. A point has no meaning outside
//! the comparison of two weeks for the same wishes.

use domain::{DoseRange, Priority};

use super::wishes::Keep;
use crate::programme::check::amount::MOST_AT_ONCE;

/// Thousandths of a hard set.
pub type Milli = i64;

/// The most hard sets for one muscle in one session, in thousandths, unless fixed parts have more: what
/// the check lets pass.
pub const SESSION_MOST: Milli = (1_000.0 * MOST_AT_ONCE) as Milli;
/// From here on a session's dose of one muscle is better shared with another day. Common practice, no source.
pub const SESSION_MUCH: Milli = 6_000;
/// From here on a session loads a muscle, as the check counts it.
pub const LOADED: Milli = 1_500;
/// The fewest work sets a week of a lift that is to go up, as the check asks for.
pub const RAISED_LEAST: i64 = 3;

/// Points for having a lift that can be read, and so early, on a day.
pub const GAUGE_DAY: i64 = 5_000;
/// What one lift more on a day costs: equipment to set up, and one thing more to think of.
pub const LIFT_DAY: i64 = -8_000;
/// What a lift costs on a day, besides, that is no staple and that nobody asked for.
pub const UNUSUAL_DAY: i64 = -6_000;
/// Points for a preferred lift, once, and on each day.
pub const PREFERRED: (i64, i64) = (12_000, 2_000);
/// What each thousandth of a set costs by which one side has more than twice the other's dose.
pub const ONE_SIDED: i64 = -4;
/// Direct sets up to this many thousandths a week are worth more than assisting ones.
const DIRECT_UP_TO: Milli = 4_000;

/// Points for keeping what the present week has.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Kept {
    /// For a lift that stays in the week.
    pub lift: i64,
    /// For a lift that stays on its day.
    pub day: i64,
    /// For each set that stays with a lift on its day.
    pub set: i64,
}

impl Kept {
    /// The points for so much keeping.
    #[must_use]
    pub fn of(keep: Keep) -> Kept {
        match keep {
            Keep::Habits => Kept { lift: 5_000, day: 4_000, set: 500 },
            Keep::All => Kept { lift: 20_000, day: 30_000, set: 10_000 },
        }
    }
}

/// Points for the work sets a week of a lift that is to go up: strength follows the lift that is trained,
/// with returns that diminish sharply (Pelland et al. 2024; the numbers are our choice).
#[must_use]
pub fn of_raised(sets: i64) -> i64 {
    RAISED.iter().map(|(up_to, slope)| slope * sets.clamp(0, *up_to)).sum()
}

/// Sets up to which each slope applies, counted from none; the slopes add up.
pub const RAISED: [(i64, i64); 2] = [(6, 7_000), (10, 3_000)];

/// What the dose of one muscle is worth.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Worth {
    /// Where each stretch of the weekly dose ends, and what a thousandth of a set is worth in it; the last
    /// goes on for ever. Slopes fall, so that the whole is concave.
    pub stretches: Vec<(Milli, i64)>,
    /// Where the extra worth of direct sets ends, and what a thousandth is worth up to there.
    pub direct: (Milli, i64),
    /// What a thousandth of a session's dose beyond [`SESSION_MUCH`] costs.
    pub session: i64,
}

impl Worth {
    /// The worth of a muscle by its range and priority; none of those that nobody asked for.
    #[must_use]
    pub fn of(range: DoseRange, priority: Option<Priority>) -> Worth {
        let factor = match priority {
            None => 1,
            Some(Priority::Low) => 2,
            Some(Priority::Usual) => 4,
            Some(Priority::High) => 8,
        };
        let (least, aim, most) = (milli(range.least()), milli(range.aim()), milli(range.most()));
        let stretches = vec![
            (least, 6 * factor),
            (aim, 3 * factor),
            ((aim + most) / 2, factor),
            (most, 0),
            (Milli::MAX, -6 * factor),
        ];
        let direct = if priority.is_some() { factor } else { 0 };
        Worth { stretches, direct: (DIRECT_UP_TO.min(aim), direct), session: -2 * factor }
    }

    /// Points for a week's dose, the direct part of it, and its sessions' doses.
    #[must_use]
    pub fn value(&self, total: Milli, direct: Milli, sessions: impl Iterator<Item = Milli>) -> i64 {
        let mut from = 0;
        let mut points = 0;
        for &(to, slope) in &self.stretches {
            points += slope * (total.min(to) - from).max(0);
            from = to;
        }
        points += self.direct.1 * direct.min(self.direct.0);
        points + self.session * sessions.map(|dose| (dose - SESSION_MUCH).max(0)).sum::<i64>()
    }
}

/// Hard sets as whole thousandths.
#[must_use]
pub fn milli(sets: f64) -> Milli {
    (1000.0 * sets).round() as Milli
}
