//! The one rule about pain: which complaint of a joint stands, and what it means for a lift.
//!
//! A rating above the lifter's limit is a complaint. It stands, however long ago it was given, until a newer rating
//! of that joint lies at or below the limit; a newer rating always takes the place of an older one, whether it is
//! higher or lower. While it stands, a lift that plainly loads the joint ([`PLAIN`]) has no target, no chance and
//! no call but *stop*; one that loads it lightly asks for care. Every page, card, command and the day of a phone
//! go by this rule. It knows no cause, diagnoses nothing and clears nobody to train: a low rating says that the
//! lifter reported a low rating.
//!
//! [`PLAIN`]: crate::programme::joints::PLAIN

use domain::{Joint, Lift, Pain, When};

use crate::programme::joints::{PLAIN, weight};

/// A rating of one joint with the moment at which it was reported.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Rating {
    /// The joint and how much it hurts.
    pub pain: Pain,
    /// When that was reported.
    pub when: When,
}

/// What standing complaints mean for one lift.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PainVerdict {
    /// It loads no joint with a standing complaint.
    Unaffected,
    /// It loads such a joint lightly: done with care, and left if it hurts.
    Lightly(Rating),
    /// It plainly loads such a joint: not done.
    Stop(Rating),
}

/// The newest rating of each joint, in the order in which joints are shown. Of two of one moment the one that was
/// given later in the list counts.
#[must_use]
pub fn newest(ratings: impl IntoIterator<Item = Rating>) -> Vec<Rating> {
    let mut newest: Vec<Rating> = Vec::new();
    for rating in ratings {
        match newest.iter_mut().find(|known| known.pain.joint == rating.pain.joint) {
            Some(known) if known.when > rating.when => {}
            Some(known) => *known = rating,
            None => newest.push(rating),
        }
    }
    let place = |rating: &Rating| Joint::ALL.iter().position(|joint| *joint == rating.pain.joint);
    newest.sort_by_key(place);
    newest
}

/// Whether a rating stops lifts, the limit being the highest rating that doesn't.
#[must_use]
pub fn is_above(rating: u8, limit: u8) -> bool {
    rating > limit
}

/// The complaints that stand after all these ratings, the worst first.
#[must_use]
pub fn standing(ratings: impl IntoIterator<Item = Rating>, limit: u8) -> Vec<Rating> {
    let mut standing = newest(ratings);
    standing.retain(|rating| is_above(rating.pain.rating(), limit));
    standing.sort_by_key(|rating| std::cmp::Reverse(rating.pain.rating()));
    standing
}

/// What standing complaints mean for a lift; of several the first that stops it, or else the first that it loads.
#[must_use]
pub fn verdict(lift: &Lift, standing: &[Rating]) -> PainVerdict {
    let load = |rating: &Rating| weight(lift, rating.pain.joint);
    if let Some(plain) = standing.iter().find(|rating| load(rating) >= PLAIN) {
        return PainVerdict::Stop(*plain);
    }
    match standing.iter().find(|rating| load(rating) > 0.0) {
        Some(light) => PainVerdict::Lightly(*light),
        None => PainVerdict::Unaffected,
    }
}

/// Whether something reported at a moment was on record when a set was done. Where the day is the same and one of
/// the two has no time of day, it was.
#[must_use]
pub fn is_on_record(reported: When, done: When) -> bool {
    match (reported.time(), done.time()) {
        (Some(reported_at), Some(done_at)) if reported.date() == done.date() => {
            reported_at <= done_at
        }
        _ => reported.date() <= done.date(),
    }
}
