//! What replaces the remaining work sets of an eased lift: speed work, or leaving them out.
//!
//! Light and fast: 60–70 % of today's 1RM, 1–5 repetitions, few sets, stopped when the bar slows. The
//! band is the design's; it lies at and above the upper end of the published power loads (0–60 % for
//! the legs and 30–60 % for the upper body, 3–6 repetitions, 1–3 sets, not to failure: ACSM position
//! stand 2009, Med Sci Sports Exerc 41:687, from memory), so it keeps the feel of the work load at a
//! fraction of the work. Doesn't decide whether to ease.

use domain::{Load, Reps};

use super::{Today, reps_of};

/// The band of speed work, as shares of today's 1RM.
pub const BAND: (f64, f64) = (0.60, 0.70);

/// Repetitions of a set of speed work: the middle of 1–5.
const REPS: f64 = 3.0;

/// The velocity loss at which a set of speed work stops, in %.
pub const VELOCITY_LOSS_PCT: f64 = 10.0;

/// What the coach prefers for an eased lift.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum EaseChoice {
    /// Speed work where it makes sense.
    #[default]
    SpeedWork,
    /// Leave the remaining sets out.
    LeaveOut,
}

/// What to do with the rest of an eased lift.
#[derive(Clone, Debug, PartialEq)]
pub enum Ease {
    /// Light, fast sets in place of the remaining work sets.
    Speed(SpeedWork),
    /// No more sets of this lift today.
    LeaveOut {
        /// Why not speed work, and what that means, as a sentence.
        words: String,
    },
}

impl Ease {
    /// What to do, as a sentence.
    #[must_use]
    pub fn words(&self) -> &str {
        match self {
            Ease::Speed(speed) => &speed.words,
            Ease::LeaveOut { words } => words,
        }
    }
}

/// Speed work with loads.
#[derive(Clone, Debug, PartialEq)]
pub struct SpeedWork {
    /// The load, which can be loaded.
    pub load: Load,
    /// What it moves, in % of today's 1RM.
    pub pct_of_today: f64,
    /// How many sets.
    pub sets: u8,
    /// Repetitions of each.
    pub reps: Reps,
    /// What to do, as a sentence.
    pub words: String,
}

/// What replaces `remaining` work sets, given today's 1RM as mass moved in kilograms: today's, as the
/// lead set has just shown it, and not the best ever.
///
/// Sets: half of the remaining, at least 2 and at most 3. The load is the one nearest to 65 % that
/// lies in [`BAND`]; if none does, the next lighter one, with its percentage. The sets are left out
/// if the coach prefers so, if at most one remains, if the lift isn't one for light fast repetitions
/// or is explosive anyway, if today's 1RM can't be told as a load, or if the lightest load is heavier
/// than the band.
#[must_use]
pub fn ease(today: &Today<'_>, one_rm_moved_kg: f64, remaining: u8, choice: EaseChoice) -> Ease {
    let name = today.lift.name.as_str();
    let leave = |why: String| Ease::LeaveOut {
        words: format!("leave out the remaining sets of {name}: {why}"),
    };
    if remaining == 0 {
        return Ease::LeaveOut { words: format!("no sets of {name} remain") };
    }
    if choice == EaseChoice::LeaveOut {
        return leave("the coach prefers that to speed work".to_owned());
    }
    if today.lift.explosive {
        return leave("it is done at full speed or not at all".to_owned());
    }
    if !today.lift.speed_ok {
        return leave("light, fast reps make no sense for it".to_owned());
    }
    if remaining == 1 {
        return leave("only one is left".to_owned());
    }
    match load_in_band(today, one_rm_moved_kg) {
        Band::Load(load, share) => Ease::Speed(speed_work(load, share, remaining)),
        Band::Unknown => leave("today's 1RM is not known as a load".to_owned()),
        Band::TooHeavy(load, share) => leave(format!(
            "the lightest load, {load}, is {:.0}\u{a0}% of today's 1RM and too heavy for speed work",
            share * 100.0
        )),
    }
}

enum Band {
    Load(Load, f64),
    TooHeavy(Load, f64),
    Unknown,
}

fn load_in_band(today: &Today<'_>, one_rm: f64) -> Band {
    let kg_at = |share: f64| {
        let moved = Some(one_rm * share).filter(|kg| kg.is_finite() && *kg > 0.0)?;
        today.load_kg(moved)
    };
    let (Some(lower), Some(middle), Some(upper)) =
        (kg_at(BAND.0), kg_at((BAND.0 + BAND.1) / 2.0), kg_at(BAND.1))
    else {
        return Band::Unknown;
    };
    let Some(below) = today.ladder.at_or_below(upper) else {
        let lightest = today.ladder.lowest();
        return today
            .moved_kg(lightest)
            .map_or(Band::Unknown, |moved| Band::TooHeavy(lightest, moved / one_rm));
    };
    let nearest = today.ladder.nearest(middle);
    let load = if (lower..=upper).contains(&nearest.kg()) { nearest } else { below };
    today.moved_kg(load).map_or(Band::Unknown, |moved| Band::Load(load, moved / one_rm))
}

fn speed_work(load: Load, share: f64, remaining: u8) -> SpeedWork {
    let sets = remaining.div_ceil(2).clamp(2, 3);
    let reps = reps_of(REPS);
    let pct_of_today = share * 100.0;
    let beside = if pct_of_today < BAND.0 * 100.0 - 0.5 {
        ", the nearest below 60–70\u{a0}% that can be loaded"
    } else {
        ""
    };
    let words = format!(
        "in place of the {remaining} remaining sets: {sets} sets of {reps} fast reps with {load} \
         ({pct_of_today:.0}\u{a0}% of today's 1RM{beside}); end a set when the bar slows \
         ({VELOCITY_LOSS_PCT:.0}\u{a0}% velocity loss where it is measured)"
    );
    SpeedWork { load, pct_of_today, sets, reps, words }
}
