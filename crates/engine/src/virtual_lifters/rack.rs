//! The loads that a virtual lifter's gym has: whole steps above what can't be taken off.

use domain::{EquipmentClass, Lift, Load, Mass, Refused, Unit};

/// The loads of one lift.
pub(super) struct Rack {
    unit: Unit,
    step: f64,
    least: i64,
}

impl Rack {
    /// The usual steps: in kilograms the catalogue's, in pounds those of a gym with pound plates
    /// (common practice, no source).
    pub(super) fn of(lift: &Lift, unit: Unit) -> Rack {
        let small = lift.increment <= Mass::try_from_grams(1_000).unwrap_or(Mass::ZERO);
        let step = match (unit, lift.equipment) {
            (Unit::Kg, _) => lift.increment.kg(),
            (Unit::Lb, EquipmentClass::Stack | EquipmentClass::PlateMachine) => 10.0,
            (Unit::Lb, EquipmentClass::Dumbbell) if small => 2.5,
            (Unit::Lb, EquipmentClass::Bodyweight) => 2.5,
            (Unit::Lb, _) => 5.0,
        };
        let bar = if unit == Unit::Kg { 20.0 } else { 45.0 };
        let least = match lift.equipment {
            EquipmentClass::Barbell | EquipmentClass::GuidedBarbell => (bar / step) as i64, // whole
            EquipmentClass::Bodyweight if lift.name.key().starts_with("assisted") => -20,
            EquipmentClass::Bodyweight => 0,
            _ => 1,
        };
        Rack { unit, step, least }
    }

    /// The load of so many steps, in kg.
    pub(super) fn kg(&self, steps: i64) -> f64 {
        steps as f64 * self.step * self.unit.kg()
    }

    /// The load of so many steps, as it is logged.
    pub(super) fn load(&self, steps: i64) -> Result<Load, Refused> {
        Load::new(steps as f64 * self.step, self.unit)
    }

    /// The heaviest load of at most `kg`, or the lightest that there is.
    pub(super) fn at_most(&self, kg: f64) -> i64 {
        ((kg / self.unit.kg() / self.step + 1e-9).floor() as i64).max(self.least)
    }

    /// One step more.
    pub(super) fn up(&self, steps: i64) -> i64 {
        steps + 1
    }

    /// One step less, if there is one.
    pub(super) fn down(&self, steps: i64) -> i64 {
        (steps - 1).max(self.least)
    }
}
