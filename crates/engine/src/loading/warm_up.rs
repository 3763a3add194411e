//! The warm-up ramp to a work load: rising loads, falling reps, few plate changes.
//!
//! Common practice, no source: the fractions, the reps and the limits below are what coaches write
//! on a card, put in numbers by us. Doesn't warm anybody up in general: five minutes of easy movement
//! come before it, and a lifter who feels stiff does more.

use domain::{Lift, Load, Reps};

use super::{Ladder, Loaded};

/// Whether the muscles of the lift have already worked in this session.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Warmth {
    /// Nothing that trains them came before.
    Cold,
    /// A lift with the same prime movers came before: the ramp is cut short.
    Warm,
}

/// One warm-up set.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WarmUpSet {
    /// The load, which can be loaded.
    pub load: Load,
    /// The repetitions.
    pub reps: Reps,
    /// The plates, if the load is made of any.
    pub plates: Option<Loaded>,
}

/// A rung of the ramp before it is rounded: the share of the work load and the repetitions.
type Stage = (f64, u16);

/// The share that stands for the bare bar.
const BARE: f64 = 0.0;
/// The share of the work load in the place of [`BARE`] on a machine that has no bar: its lightest load is a
/// pair of the smallest plates, which warms nobody up for a leg press.
const WITHOUT_BAR: f64 = 0.3;

/// The bare bar first, then about half, 70 % and 85 %.
const COLD: &[Stage] = &[(BARE, 8), (0.5, 5), (0.7, 3), (0.85, 2)];
/// For sets of three or fewer: a single at about 92 % on top.
const COLD_HEAVY: &[Stage] = &[(BARE, 8), (0.5, 5), (0.7, 3), (0.84, 2), (0.92, 1)];
/// For lifts without plates, or with little more than the bar.
const SHORT: &[Stage] = &[(0.5, 8), (0.75, 4)];
/// When the muscles are warm.
const WARM: &[Stage] = &[(0.65, 4), (0.85, 2)];
/// For light loads when the muscles are warm, and for loads that are hardly a load.
const ONE: &[Stage] = &[(0.65, 5)];

/// Below this mass in kilograms a load is very light, and goes without a warm-up.
const VERY_LIGHT_KG: f64 = 8.0;
/// Below this mass in kilograms a load is light.
const LIGHT_KG: f64 = 25.0;
/// No warm-up above this share of the work load.
const TOP_SHARE: f64 = 0.94;
/// How far a warm-up may lie from its share to save plates, as a share of the work load.
const LEEWAY: f64 = 0.06;
/// The deviation, as a share of the work load, that is worth one plate handled.
const PLATE_WORTH: f64 = 0.02;

/// The warm-up sets that lead to `work`, a set of `work_reps`: strictly rising, all lighter than
/// `work`, all loadable; none for a very light load, for the bare bar, or for a bodyweight lift
/// with nothing added.
///
/// Among the loads within 6 % of the work load around each stage it picks those that together,
/// from the bare bar (or, on a machine without one, from about 30 %) up to the work load, keep near their stages and handle few plates, where one
/// plate put on or taken off a side counts as much as lying 2 % beside the stage. The plates of a
/// side lie in a stack: to change an inner one the outer ones come off.
#[must_use]
pub fn warm_up(
    ladder: &Ladder,
    lift: &Lift,
    work: Load,
    work_reps: Reps,
    warmth: Warmth,
) -> Vec<WarmUpSet> {
    if lift.body_mass_share.is_some() {
        return with_body_mass(ladder, work, warmth);
    }
    let stages = stages_of(ladder, work, work_reps, warmth);
    let candidates: Vec<Vec<Candidate>> =
        stages.iter().map(|stage| candidates_of(ladder, work, *stage)).collect();
    best_path(&candidates, &Candidate::at(ladder, work, work_reps.get(), 0.0))
}

/// One load that a stage may take.
#[derive(Clone, Debug)]
struct Candidate {
    load: Load,
    reps: u16,
    beside: f64,
    plates: Option<Loaded>,
}

impl Candidate {
    fn at(ladder: &Ladder, load: Load, reps: u16, beside: f64) -> Candidate {
        Candidate { load, reps, beside, plates: ladder.plates(load) }
    }

    fn set(&self) -> Option<WarmUpSet> {
        let reps = Reps::new(self.reps).ok()?;
        Some(WarmUpSet { load: self.load, reps, plates: self.plates.clone() })
    }
}

/// Bodyweight lifts: the body alone, then about half of what is added if that is much. A set with
/// assistance or nothing added is its own warm-up with fewer reps, which no load can say.
fn with_body_mass(ladder: &Ladder, work: Load, warmth: Warmth) -> Vec<WarmUpSet> {
    let added = work.kg();
    let mut wanted = Vec::new();
    if added > 0.0 && warmth == Warmth::Cold {
        wanted.push((0.0, 5));
    }
    if added >= 15.0 {
        wanted.push((added * 0.55, 3));
    }
    let mut sets: Vec<WarmUpSet> = Vec::new();
    for (kg, reps) in wanted {
        let load = ladder.nearest(kg);
        let rises = sets.last().is_none_or(|last| last.load.grams() < load.grams());
        if rises && load.grams() < work.grams() {
            sets.extend(Candidate::at(ladder, load, reps, 0.0).set());
        }
    }
    sets
}

fn stages_of(ladder: &Ladder, work: Load, work_reps: Reps, warmth: Warmth) -> &'static [Stage] {
    let (kg, lowest) = (work.kg(), ladder.lowest().kg());
    let near_lowest = ladder.has_plates() && kg < 1.15 * lowest;
    if kg < VERY_LIGHT_KG || near_lowest {
        return &[];
    }
    let light = kg < LIGHT_KG || (ladder.has_plates() && kg < 1.5 * lowest);
    match (warmth, light) {
        (Warmth::Warm, true) => ONE,
        (Warmth::Warm, false) => WARM,
        (Warmth::Cold, true) if ladder.bare_bar().is_some() => &COLD[..1],
        (Warmth::Cold, true) => ONE,
        (Warmth::Cold, false) if !ladder.has_plates() => SHORT,
        (Warmth::Cold, false) if work_reps.get() <= 3 => COLD_HEAVY,
        (Warmth::Cold, false) => COLD,
    }
}

/// The loads near a stage; the nearest one if none is near.
fn candidates_of(ladder: &Ladder, work: Load, (share, reps): Stage) -> Vec<Candidate> {
    let kg = work.kg();
    let share = match ladder.bare_bar() {
        Some(bar) if share == BARE => return vec![Candidate::at(ladder, bar, reps, 0.0)],
        None if share == BARE => WITHOUT_BAR,
        _ => share,
    };
    let candidate = |load: Load| Candidate::at(ladder, load, reps, (load.kg() / kg - share).abs());
    let mut found = Vec::new();
    let mut next = ladder.at_or_above(kg * (share - LEEWAY));
    // Sixty loads are more than any gym has in 12 % of a load; the limit is for steps of grams.
    while let Some(load) = next.filter(|load| load.kg() <= kg * (share + LEEWAY)) {
        found.push(candidate(load));
        next = ladder.next_above(load).filter(|_| found.len() < 60);
    }
    if found.is_empty() {
        found.push(candidate(ladder.nearest(kg * share)));
    }
    found.retain(|c| c.load.kg() <= kg * TOP_SHARE);
    found
}

/// The cheapest rising way through the stages to the work load; a stage without a load that rises
/// is left out. Exact: the cost of a way to a load doesn't depend on what comes after it.
fn best_path(stages: &[Vec<Candidate>], work: &Candidate) -> Vec<WarmUpSet> {
    // Each way: its cost so far and its loads, ending in the last one.
    let mut ways: Vec<(f64, Vec<&Candidate>)> = vec![(0.0, Vec::new())];
    for stage in stages {
        let reached: Vec<_> =
            stage.iter().filter_map(|candidate| cheapest_to(&ways, candidate)).collect();
        if !reached.is_empty() {
            ways = reached;
        }
    }
    let best = cheapest_to(&ways, work).map_or_else(Vec::new, |(_, way)| way);
    best.iter().filter(|c| !std::ptr::eq(**c, work)).filter_map(|c| c.set()).collect()
}

fn cheapest_to<'a>(
    ways: &[(f64, Vec<&'a Candidate>)],
    to: &'a Candidate,
) -> Option<(f64, Vec<&'a Candidate>)> {
    let cost_of = |(cost, way): &(f64, Vec<&'a Candidate>)| {
        let last = way.last().and_then(|c| c.plates.as_ref());
        cost + to.beside / PLATE_WORTH + plates_handled(last, to.plates.as_ref()) as f64
    };
    let rising =
        ways.iter().filter(|(_, way)| way.last().is_none_or(|c| c.load.grams() < to.load.grams()));
    let best = rising.min_by(|a, b| cost_of(a).total_cmp(&cost_of(b)))?;
    let mut way = best.1.clone();
    way.push(to);
    Some((cost_of(best), way))
}

/// How many plates of a side come off and go on between two loadings.
fn plates_handled(from: Option<&Loaded>, to: Option<&Loaded>) -> usize {
    let from: Vec<_> = from.into_iter().flat_map(Loaded::each).collect();
    let to: Vec<_> = to.into_iter().flat_map(Loaded::each).collect();
    let kept = from.iter().zip(&to).take_while(|(a, b)| a == b).count();
    from.len() + to.len() - 2 * kept
}
