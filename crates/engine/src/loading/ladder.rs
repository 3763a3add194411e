//! The loads that exist for one lift of one lifter, lightest to heaviest.
//!
//! Bars and plate-loaded machines take what plates there are; everything else goes by the lift's
//! increment. Doesn't know which load is wanted or why.

use domain::{EquipmentClass, Lift, Lifter, Load, Mass, Unit};

use super::plates::{Loaded, PlateLoading, TOLERANCE_G};

/// The smallest step of the catalogue, in grams.
const LEAST_STEP_G: f64 = 50.0;

/// The loads of a lift, as rungs. There is always at least one. Loads come out in the lifter's unit.
///
/// * Barbells and guided barbells start at the lifter's bar with its collars. A plate-loaded
///   machine counts its plates only, because what its carriage weighs is rarely known (common
///   practice, no source).
/// * Dumbbells, kettlebells, stacks and cables go by the lift's increment from one increment up.
/// * A lift that moves body mass also has 0 and, below it, assistance.
#[derive(Clone, Debug)]
pub struct Ladder {
    rungs: Rungs,
    unit: Unit,
    usual_step: Mass,
}

#[derive(Clone, Debug)]
enum Rungs {
    Plates(PlateLoading),
    Steps(Steps),
}

/// Equal steps: rung `k` is `offset + k·step`, rounded to the gram once, so pounds don't drift.
#[derive(Clone, Copy, Debug)]
struct Steps {
    step: f64,
    offset: f64,
    lowest: i64,
    highest: i64,
}

impl Ladder {
    /// The loads of `lift` with the equipment of `lifter`.
    #[must_use]
    pub fn new(lift: &Lift, lifter: &Lifter) -> Ladder {
        Ladder::for_record(lift, lifter, &[])
    }

    /// The loads of `lift`, put right by loads that were logged for it: what has been lifted can be
    /// loaded, whatever the catalogue says.
    ///
    /// * Logged loads lighter than the lifter's bar mean another bar, such as a curl bar, whose mass
    ///   isn't known: the lift then goes by its increment, and no plates are shown.
    /// * If most logged loads of an increment lift lie beside its steps by the same amount (a stack
    ///   of 7, 12, 17 kg), the steps are moved by that amount.
    #[must_use]
    pub fn for_record(lift: &Lift, lifter: &Lifter, logged: &[Load]) -> Ladder {
        let (step, usual_step) = step_of(lift.increment, lifter.unit);
        let rungs = plates_of(lift, lifter, logged)
            .map_or_else(|| Rungs::Steps(Steps::new(step, lift, logged)), Rungs::Plates);
        Ladder { rungs, unit: lifter.unit, usual_step }
    }

    /// The usual step of the lift in the lifter's unit: its increment, or the pound step that gyms
    /// have in its place. The plates at hand may allow less or not as little.
    #[must_use]
    pub fn usual_step(&self) -> Mass {
        self.usual_step
    }

    /// The unit of every load here.
    #[must_use]
    pub fn unit(&self) -> Unit {
        self.unit
    }

    /// The lightest load: the bare bar, one increment, or the most assistance.
    #[must_use]
    pub fn lowest(&self) -> Load {
        self.load(match &self.rungs {
            Rungs::Plates(plates) => {
                plates.total_over(0).unwrap_or_else(|| plates.empty().grams().into())
            }
            Rungs::Steps(steps) => steps.rung(steps.lowest),
        })
    }

    /// The bare bar, where loads are made of plates on one; none for a machine whose plates alone count.
    #[must_use]
    pub fn bare_bar(&self) -> Option<Load> {
        match &self.rungs {
            Rungs::Plates(plates) if plates.empty() > Mass::ZERO => Some(self.lowest()),
            Rungs::Plates(_) | Rungs::Steps(_) => None,
        }
    }

    /// The heaviest load.
    #[must_use]
    pub fn highest(&self) -> Load {
        self.load(match &self.rungs {
            Rungs::Plates(plates) => plates.heaviest().grams().into(),
            Rungs::Steps(steps) => steps.rung(steps.highest),
        })
    }

    /// The heaviest load at or below `kg` (to within [`TOLERANCE_G`]); none if even the lightest is
    /// more, or if `kg` is not a number.
    #[must_use]
    pub fn at_or_below(&self, kg: f64) -> Option<Load> {
        let wanted = grams_of(kg)?;
        match &self.rungs {
            Rungs::Plates(plates) => plates.total_at_or_below(wanted).filter(|total| *total > 0),
            Rungs::Steps(steps) => steps.rung_if_any(steps.place_at_or_below(wanted)),
        }
        .map(|grams| self.load(grams))
    }

    /// The lightest load at or above `kg` (to within [`TOLERANCE_G`]); none if even the heaviest is
    /// less, or if `kg` is not a number.
    #[must_use]
    pub fn at_or_above(&self, kg: f64) -> Option<Load> {
        let wanted = grams_of(kg)?;
        let below = self.at_or_below(kg);
        below
            .filter(|load| (i64::from(load.grams()) - wanted).abs() <= TOLERANCE_G)
            .or_else(|| self.rung_over(wanted - TOLERANCE_G).map(|grams| self.load(grams)))
    }

    /// The load nearest to `kg`, the lighter of two equally near; the lightest if `kg` is not a
    /// number.
    #[must_use]
    pub fn nearest(&self, kg: f64) -> Load {
        match (self.at_or_below(kg), self.at_or_above(kg)) {
            (Some(below), Some(above)) if above.kg() - kg < kg - below.kg() => above,
            (Some(below), _) => below,
            (None, Some(above)) => above,
            (None, None) => self.lowest(),
        }
    }

    /// The next heavier load, from any load, a rung or not; none above the heaviest.
    #[must_use]
    pub fn next_above(&self, load: Load) -> Option<Load> {
        self.rung_over(load.grams().into()).map(|grams| self.load(grams))
    }

    /// The next lighter load, from any load, a rung or not; none below the lightest.
    #[must_use]
    pub fn next_below(&self, load: Load) -> Option<Load> {
        let under = i64::from(load.grams()) - TOLERANCE_G;
        match &self.rungs {
            Rungs::Plates(plates) => plates.total_under(under).filter(|total| *total > 0),
            Rungs::Steps(steps) => steps.rung_if_any(steps.place_at_or_below(under - TOLERANCE_G)),
        }
        .map(|grams| self.load(grams))
    }

    /// The plates for `load`, or for the next lighter load that exists; none for what isn't loaded
    /// with plates, or below the bare bar.
    #[must_use]
    pub fn plates(&self, load: Load) -> Option<Loaded> {
        match &self.rungs {
            Rungs::Plates(plates) => plates.at_or_below(load),
            Rungs::Steps(_) => None,
        }
    }

    /// Whether loads are made up of plates that are known.
    #[must_use]
    pub fn has_plates(&self) -> bool {
        matches!(self.rungs, Rungs::Plates(_))
    }

    fn rung_over(&self, grams: i64) -> Option<i64> {
        match &self.rungs {
            Rungs::Plates(plates) => plates.total_over((grams + TOLERANCE_G).max(0)),
            Rungs::Steps(steps) => {
                steps.rung_if_any((steps.place_at_or_below(grams) + 1).max(steps.lowest))
            }
        }
    }

    /// A rung as a load. In pounds a total within the tolerance of a quarter pound is that quarter
    /// pound, so that a target of 225 lb and a logged 225 lb are one load.
    fn load(&self, grams: i64) -> Load {
        let written = match self.unit {
            Unit::Kg => grams,
            Unit::Lb => {
                let quarter = Unit::Lb.kg() * 250.0;
                let snapped = ((grams as f64 / quarter).round() * quarter).round() as i64;
                if (snapped - grams).abs() <= TOLERANCE_G { snapped } else { grams }
            }
        };
        let least = (-Load::MAX_ASSISTANCE_KG * 1000.0) as i64;
        let most = (Load::MAX_KG * 1000.0) as i64;
        let zero = Load::from_grams(0, self.unit);
        Load::from_grams(written.clamp(least, most) as i32, self.unit)
            .or(zero)
            .unwrap_or_else(|_| unreachable!("0 g is a load"))
    }
}

impl Steps {
    fn new(step: f64, lift: &Lift, logged: &[Load]) -> Steps {
        let offset = common_offset(step, logged);
        let least = -Load::MAX_ASSISTANCE_KG * 1000.0;
        let lowest = if lift.body_mass_share.is_some() {
            ((least - offset) / step).ceil()
        } else if offset > 0.0 {
            0.0
        } else {
            1.0
        };
        let highest = ((Load::MAX_KG * 1000.0 - offset) / step).floor();
        Steps { step, offset, lowest: lowest as i64, highest: highest as i64 }
    }

    fn rung(&self, place: i64) -> i64 {
        (self.offset + place as f64 * self.step).round() as i64
    }

    fn place_at_or_below(&self, grams: i64) -> i64 {
        let place = ((grams + TOLERANCE_G) as f64 - self.offset) / self.step;
        (place.floor() as i64).min(self.highest)
    }

    fn rung_if_any(&self, place: i64) -> Option<i64> {
        (self.lowest..=self.highest).contains(&place).then(|| self.rung(place))
    }
}

/// The plates of a lift, if it has any that its record doesn't speak against.
fn plates_of(lift: &Lift, lifter: &Lifter, logged: &[Load]) -> Option<PlateLoading> {
    let plates = match lift.equipment {
        EquipmentClass::Barbell | EquipmentClass::GuidedBarbell => {
            PlateLoading::of_bar(lifter.bar, &lifter.plates)
        }
        EquipmentClass::PlateMachine => PlateLoading::new(Mass::ZERO, &lifter.plates),
        _ => return None,
    };
    let empty = i64::from(plates.empty().grams());
    let lighter = logged.iter().any(|load| i64::from(load.grams()) < empty - TOLERANCE_G);
    (!lighter && plates.heaviest() > Mass::ZERO).then_some(plates)
}

/// The exact step in grams and the same as a mass. For a lifter in pounds the metric steps become
/// the steps that gyms have in their place: 1 and 1.25 kg ↔ 2.5 lb, 2 and 2.5 ↔ 5, 4 and 5 ↔ 10,
/// any other two pounds for each kilogram to a tenth (common practice, no source). An increment
/// that is a half pound multiple to within 2 g was meant in pounds and is taken so.
fn step_of(increment: Mass, unit: Unit) -> (f64, Mass) {
    let grams = f64::from(increment.grams()).max(LEAST_STEP_G);
    let step = match unit {
        Unit::Kg => grams,
        Unit::Lb => {
            let pound = Unit::Lb.kg() * 1000.0;
            let halves = (grams / pound * 2.0).round() / 2.0;
            let pounds = match increment.grams() {
                _ if halves > 0.0 && (halves * pound - grams).abs() <= 2.0 => halves,
                1_000 | 1_250 => 2.5,
                2_000 | 2_500 => 5.0,
                4_000 | 5_000 => 10.0,
                _ => ((grams / 500.0 * 10.0).round() / 10.0).max(0.2),
            };
            pounds * pound
        }
    };
    let mass = Mass::try_from_grams(step.round() as u32).unwrap_or(Mass::MAX);
    (step, mass)
}

/// How far beside the steps more than half of the logged loads lie, all by the same amount; 0 if
/// there is no such amount.
fn common_offset(step: f64, logged: &[Load]) -> f64 {
    let beside: Vec<f64> =
        logged.iter().map(|load| f64::from(load.grams()).rem_euclid(step)).collect();
    let tolerance = TOLERANCE_G as f64;
    let gap = |a: f64, b: f64| {
        let apart = (a - b).abs();
        apart.min(step - apart)
    };
    beside
        .iter()
        .find(|a| beside.iter().filter(|b| gap(**a, **b) <= tolerance).count() * 2 > beside.len())
        .copied()
        .filter(|offset| gap(*offset, 0.0) > tolerance)
        .unwrap_or(0.0)
}

/// Kilograms as whole grams, held within ten tonnes; none for what isn't finite.
fn grams_of(kg: f64) -> Option<i64> {
    kg.is_finite().then(|| (kg.clamp(-1e4, 1e4) * 1000.0).round() as i64)
}
