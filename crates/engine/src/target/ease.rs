//! What replaces the remaining work sets of an eased lift: speed work, or leaving them out.
//!
//! Light and fast: 60–70 % of today's 1RM, 1–5 repetitions, few sets, stopped when the bar slows. The
//! band is the design's; it lies at and above the upper end of the published power loads (0–60 % for
//! the legs and 30–60 % for the upper body, 3–6 repetitions, 1–3 sets, not to failure: ACSM position
//! stand 2009, Med Sci Sports Exerc 41:687, from memory), so it keeps the feel of the work load at a
//! fraction of the work. After long sets the band reaches up to the work load itself, so a ceiling below
//! that load holds as well (common practice, no source). Doesn't decide whether to ease.

use domain::{Load, Reps};

use super::{Today, reps_of};

/// The band of speed work, as shares of today's 1RM.
pub const BAND: (f64, f64) = (0.60, 0.70);

/// The most that speed work moves, as a share of what the lead set just moved: the heaviest load at or below
/// it is plainly lighter than the one that fell short, whatever the repetitions were. That what follows a
/// set that fell short is lighter is common practice, no source; the share is our choice. It leaves sets of
/// six and fewer to the band, and brings a set of twelve to about 58 % of today's 1RM.
pub const CEILING: f64 = 0.85;

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

/// The lead set after which a lift is eased.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct EasedLead {
    /// The mass that it moved, in kilograms.
    pub moved_kg: f64,
    /// Today's 1RM as mass moved in kilograms: as this set has just shown it, and not the best ever.
    pub one_rm_kg: f64,
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

/// What replaces `remaining` work sets after `lead`.
///
/// Sets: half of the remaining, at least 2 and at most 3. The load is the one nearest to 65 % that
/// lies in [`BAND`] and not above [`CEILING`]; if none does, the next lighter one, with its percentage. The sets are left out
/// if the coach prefers so, if at most one remains, if the lift isn't one for light fast repetitions
/// or is explosive anyway, if today's 1RM can't be told as a load, or if the lightest load is heavier
/// than the band or the ceiling.
#[must_use]
pub fn ease(today: &Today<'_>, lead: EasedLead, remaining: u8, choice: EaseChoice) -> Ease {
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
    match load_in_band(today, lead) {
        Band::Load(load, share) => Ease::Speed(speed_work(load, share, remaining)),
        Band::Unknown => leave("today's 1RM is not known as a load".to_owned()),
        Band::NearWork(load) => {
            leave(format!("the lightest load, {load}, is too near the work load for speed work"))
        }
        Band::TooHeavy(load, share) => leave(format!(
            "the lightest load, {load}, is {:.0}\u{a0}% of today's 1RM and too heavy for speed work",
            share * 100.0
        )),
    }
}

enum Band {
    Load(Load, f64),
    TooHeavy(Load, f64),
    NearWork(Load),
    Unknown,
}

fn load_in_band(today: &Today<'_>, lead: EasedLead) -> Band {
    let one_rm = lead.one_rm_kg;
    let kg_of = |moved: f64| today.load_kg(Some(moved).filter(|kg| kg.is_finite() && *kg > 0.0)?);
    let (Some(lower), Some(middle), Some(top), Some(ceiling)) = (
        kg_of(one_rm * BAND.0),
        kg_of(one_rm * (BAND.0 + BAND.1) / 2.0),
        kg_of(one_rm * BAND.1),
        kg_of(lead.moved_kg * CEILING),
    ) else {
        return Band::Unknown;
    };
    let upper = top.min(ceiling);
    let Some(below) = today.ladder.at_or_below(upper) else {
        let lightest = today.ladder.lowest();
        return match today.moved_kg(lightest) {
            Some(_) if ceiling < top => Band::NearWork(lightest),
            Some(moved) => Band::TooHeavy(lightest, moved / one_rm),
            None => Band::Unknown,
        };
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
        ", the nearest below 60–70\u{a0}% that can be loaded and is well below the work load"
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
