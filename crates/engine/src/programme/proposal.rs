//! More or fewer sets for a muscle, proposed from the lifter's own record of eight weeks, with odds.
//!
//! Three states of affairs are weighed by how well each explains the record: the dose is too much for this
//! lifter, it is about right, or it is too little. What speaks is where the dose lies in its range, how large a
//! share of the lead sets of its lifts fell short, and how fast those lifts grow. Too much goes with many
//! shortfalls and no growth, too little with few shortfalls and no growth: repeated easing of one muscle is
//! evidence of too much dose, a flat trend without shortfalls at a low dose is evidence of too little. That more
//! sets do more, with diminishing returns, is published (Pelland 2024); all numbers here are our choice. The
//! odds follow from them and were held against no lifter whose best dose is known, because no such data are
//! open.

use domain::DoseRange;
use statrs::function::beta::ln_beta;

/// Full weeks of record before anything is proposed.
pub const WEEKS: usize = 8;
/// Lead sets read in that time before anything is proposed.
pub const FEWEST_READINGS: usize = 8;
/// A shift is proposed from this probability on.
pub const PROPOSED_FROM: f64 = 0.6;
/// The part of the dose by which a proposal shifts it; common practice, no source.
const STEP: f64 = 0.2;

/// Before anything is known: too much, about right, too little.
const PRIOR: [f64; 3] = [0.15, 0.6, 0.25];
/// Shares of shortfalls under each state, as the two numbers of a beta distribution.
const SHORTFALLS: [(f64, f64); 3] = [(4.0, 14.0), (1.5, 14.0), (1.0, 19.0)];
/// Growth in % a week where the dose is about right, and by how much lifters differ in it (sd).
const GROWTH: (f64, f64) = (0.20, 0.15);
/// Growth in % a week where it isn't, and by how much that differs (sd).
const NO_GROWTH: (f64, f64) = (0.0, 0.10);

/// What eight weeks say of one muscle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MuscleRecord {
    /// Hard sets a week, on average.
    pub dose: f64,
    /// The range that holds for the lifter.
    pub range: DoseRange,
    /// Growth of the lifts that train it as a prime mover, in % a week, with its sd.
    pub growth: (f64, f64),
    /// Lead sets of those lifts that were read, and the sum of their probabilities of a shortfall.
    pub readings: usize,
    /// See [`MuscleRecord::readings`].
    pub shortfalls: f64,
}

/// Where the dose of a muscle should go.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shift {
    /// Fewer sets.
    Fewer,
    /// As it is.
    Keep,
    /// More sets.
    More,
}

/// What is proposed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Proposal {
    /// The direction.
    pub shift: Shift,
    /// The dose proposed, in whole hard sets a week; the present one, rounded, if it is to be kept.
    pub dose: f64,
    /// Probabilities that the dose is too much, about right, too little.
    pub p: [f64; 3],
}

/// Weighs the three states; none with too little on record.
#[must_use]
pub fn propose(record: &MuscleRecord) -> Option<Proposal> {
    if record.readings < FEWEST_READINGS || record.dose <= 0.0 {
        return None;
    }
    let place = by_place(record.dose, record.range);
    let (k, n) = (record.shortfalls.max(0.0), record.readings as f64);
    let weights: [f64; 3] = std::array::from_fn(|state| {
        let (a, b) = SHORTFALLS[state];
        let shortfalls = ln_beta(a + k, b + (n - k).max(0.0)) - ln_beta(a, b);
        let (middle, differs) = if state == 1 { GROWTH } else { NO_GROWTH };
        let variance = differs * differs + record.growth.1 * record.growth.1;
        let growth = -0.5 * ((record.growth.0 - middle).powi(2) / variance + variance.ln());
        (PRIOR[state] * place[state]).ln() + shortfalls + growth
    });
    let best = weights.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let weights = weights.map(|weight| (weight - best).exp());
    let all: f64 = weights.iter().sum();
    let p = weights.map(|weight| weight / all);
    let now = record.dose.round();
    let step = (STEP * record.dose).round().max(1.0);
    let (shift, dose) = if p[0] >= PROPOSED_FROM {
        (Shift::Fewer, (now - step).max(0.0))
    } else if p[2] >= PROPOSED_FROM {
        (Shift::More, now + step)
    } else {
        (Shift::Keep, now)
    };
    Some(Proposal { shift, dose, p })
}

/// How much likelier each state is for where the dose lies in its range.
fn by_place(dose: f64, range: DoseRange) -> [f64; 3] {
    if dose < range.least() {
        [0.2, 0.6, 3.0]
    } else if dose < range.aim() {
        [0.6, 1.0, 1.5]
    } else if dose <= range.most() {
        [1.2, 1.0, 0.7]
    } else {
        [3.0, 0.8, 0.2]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn record() -> MuscleRecord {
        let range = DoseRange::new(5.0, 10.0, 20.0).unwrap();
        MuscleRecord { dose: 10.0, range, growth: (0.2, 0.1), readings: 16, shortfalls: 1.2 }
    }

    #[test]
    fn what_grows_is_kept() {
        let told = propose(&record()).unwrap();
        assert_eq!(told.shift, Shift::Keep);
        assert!((told.p.iter().sum::<f64>() - 1.0).abs() < 1e-12 && told.dose == 10.0);
    }

    #[test]
    fn many_shortfalls_without_growth_speak_for_fewer_sets() {
        let told = propose(&MuscleRecord { growth: (-0.05, 0.1), shortfalls: 5.0, ..record() });
        let told = told.unwrap();
        assert_eq!((told.shift, told.dose), (Shift::Fewer, 8.0), "{told:?}");
    }

    #[test]
    fn a_flat_trend_without_shortfalls_at_a_low_dose_speaks_for_more() {
        let flat = MuscleRecord { dose: 4.0, growth: (0.0, 0.1), shortfalls: 0.3, ..record() };
        let told = propose(&flat).unwrap();
        assert_eq!((told.shift, told.dose), (Shift::More, 5.0), "{told:?}");
        let high = propose(&MuscleRecord { dose: 22.0, ..flat }).unwrap();
        assert!(high.p[2] < 0.5 * told.p[2], "at a high dose it says less: {high:?}");
    }

    #[test]
    fn each_piece_of_evidence_moves_the_odds_its_way() {
        let p = |change: fn(&mut MuscleRecord)| {
            let mut record = record();
            change(&mut record);
            propose(&record).unwrap().p
        };
        let as_is = p(|_| {});
        assert!(p(|r| r.shortfalls = 4.0)[0] > as_is[0]);
        assert!(p(|r| r.growth.0 = 0.0)[1] < as_is[1]);
        assert!(p(|r| r.growth = (0.0, 5.0))[1] > p(|r| r.growth = (0.0, 0.05))[1]);
        assert!(p(|r| r.dose = 3.0)[2] > as_is[2]);
    }

    #[test]
    fn too_few_readings_propose_nothing() {
        assert!(propose(&MuscleRecord { readings: 7, ..record() }).is_none());
    }
}
