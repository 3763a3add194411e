//! The rules by which a lift moves on, with parameters that can't hold nonsense.
//!
//! Applying them is [`super::progression`]'s; which lift has which rule is the programme's.

use domain::{Mass, Reps, Rir};

use super::{TargetError, within};

/// How a lift moves on.
#[derive(Clone, Debug, PartialEq)]
pub enum Rule {
    /// Repetitions first, within a range, then load.
    DoubleProgression(DoubleProgression),
    /// Load at every success.
    LoadStep(LoadStep),
    /// A fixed percentage of today's 1RM.
    PercentOfToday(PercentOfToday),
    /// A number of repetitions over all sets, then load.
    RepGoal(RepGoal),
}

impl Rule {
    /// Work sets in a session.
    #[must_use]
    pub fn sets(&self) -> u8 {
        match self {
            Rule::DoubleProgression(rule) => rule.sets,
            Rule::LoadStep(rule) => rule.sets,
            Rule::PercentOfToday(rule) => rule.sets,
            Rule::RepGoal(rule) => rule.sets,
        }
    }

    /// The fewest and the most repetitions that the rule asks of a lead set.
    #[must_use]
    pub fn range(&self) -> (Reps, Reps) {
        match self {
            Rule::DoubleProgression(rule) => (rule.low, rule.high),
            Rule::LoadStep(rule) => (rule.reps, rule.reps),
            Rule::PercentOfToday(rule) => (rule.reps, rule.reps),
            Rule::RepGoal(rule) => (rule.share(), rule.share()),
        }
    }

    /// The reserve that the rule asks for, if it does.
    #[must_use]
    pub fn rir(&self) -> Option<Rir> {
        match self {
            Rule::DoubleProgression(rule) => rule.rir,
            Rule::LoadStep(rule) => rule.rir,
            Rule::PercentOfToday(_) => None,
            Rule::RepGoal(rule) => rule.rir,
        }
    }
}

/// Double progression: when every work set at the lead load reaches the top of the range with the
/// wanted reserve, the load goes up by a step and the repetitions go back to the bottom.
#[derive(Clone, Debug, PartialEq)]
pub struct DoubleProgression {
    pub(super) low: Reps,
    pub(super) high: Reps,
    pub(super) sets: u8,
    pub(super) rir: Option<Rir>,
    pub(super) step: Mass,
}

impl DoubleProgression {
    /// Takes the range in repetitions (1 to 50, lowest first; the two may be equal), sets (1 to 20),
    /// the reserve if one is asked for, and the step (1 g to 100 kg).
    pub fn new(
        low: u16,
        high: u16,
        sets: u8,
        rir: Option<Rir>,
        step: Mass,
    ) -> Result<DoubleProgression, TargetError> {
        let low = reps("lowest reps", low)?;
        within("highest reps", high.into(), low.get().into(), MOST_REPS, "reps")?;
        let high = reps("highest reps", high)?;
        Ok(DoubleProgression {
            low,
            high,
            sets: checked_sets(sets)?,
            rir,
            step: checked_step(step)?,
        })
    }
}

/// Load steps: every successful session adds a step; a miss repeats the load; so many misses in a
/// row at one load go back by a percentage.
#[derive(Clone, Debug, PartialEq)]
pub struct LoadStep {
    pub(super) reps: Reps,
    pub(super) sets: u8,
    pub(super) rir: Option<Rir>,
    pub(super) step: Mass,
    pub(super) misses: u8,
    pub(super) back_pct: f64,
}

impl LoadStep {
    /// Takes repetitions (1 to 50), sets (1 to 20), the reserve if one is asked for, the step (1 g to
    /// 100 kg), the misses in a row that go back (1 to 10) and by how much (1 to 30 %).
    pub fn new(
        count: u16,
        sets: u8,
        rir: Option<Rir>,
        step: Mass,
        misses: u8,
        back_pct: f64,
    ) -> Result<LoadStep, TargetError> {
        within("misses", misses.into(), 1.0, 10.0, "in a row")?;
        Ok(LoadStep {
            reps: reps("reps", count)?,
            sets: checked_sets(sets)?,
            rir,
            step: checked_step(step)?,
            misses,
            back_pct: within("step back", back_pct, 1.0, 30.0, "%")?,
        })
    }
}

/// A percentage of today's 1RM, and less where that would leave less in reserve than is asked for.
#[derive(Clone, Debug, PartialEq)]
pub struct PercentOfToday {
    pub(super) pct: f64,
    pub(super) reps: Reps,
    pub(super) sets: u8,
    pub(super) rir: Option<Rir>,
}

impl PercentOfToday {
    /// Takes the percentage (20 to 105), repetitions (1 to 50), sets (1 to 20), and the least reserve if one is
    /// asked for.
    pub fn new(
        pct: f64,
        count: u16,
        sets: u8,
        rir: Option<Rir>,
    ) -> Result<PercentOfToday, TargetError> {
        Ok(PercentOfToday {
            pct: within("share of today's 1RM", pct, 20.0, 105.0, "%")?,
            reps: reps("reps", count)?,
            sets: checked_sets(sets)?,
            rir,
        })
    }
}

/// A number of repetitions over all sets at one load: when it is reached within the sets allowed,
/// the load goes up by a step.
#[derive(Clone, Debug, PartialEq)]
pub struct RepGoal {
    pub(super) total: u16,
    pub(super) sets: u8,
    pub(super) rir: Option<Rir>,
    pub(super) step: Mass,
}

impl RepGoal {
    /// Takes the repetitions in all (1 to 500, at most 50 a set), the most sets (1 to 20), the
    /// reserve if one is asked for, and the step (1 g to 100 kg).
    pub fn new(total: u16, sets: u8, rir: Option<Rir>, step: Mass) -> Result<RepGoal, TargetError> {
        let sets = checked_sets(sets)?;
        let most = (f64::from(sets) * MOST_REPS).min(500.0);
        within("reps over all sets", total.into(), 1.0, most, "reps")?;
        Ok(RepGoal { total, sets, rir, step: checked_step(step)? })
    }

    /// An even share of the repetitions for one set, rounded up.
    pub(super) fn share(&self) -> Reps {
        super::reps_of(f64::from(self.total.div_ceil(u16::from(self.sets))))
    }
}

/// The most repetitions that a rule may ask of a set.
const MOST_REPS: f64 = 50.0;

fn reps(what: &'static str, count: u16) -> Result<Reps, TargetError> {
    within(what, count.into(), 1.0, MOST_REPS, "reps").map(super::reps_of)
}

fn checked_sets(sets: u8) -> Result<u8, TargetError> {
    within("sets", sets.into(), 1.0, 20.0, "sets").map(|_| sets)
}

fn checked_step(step: Mass) -> Result<Mass, TargetError> {
    within("step", step.kg(), 0.001, 100.0, "kg").map(|_| step)
}
