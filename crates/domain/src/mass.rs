//! Masses and loads: whole grams inside, kilograms or pounds outside.
//!
//! One pound is 0.453 592 37 kg exactly (international avoirdupois pound, 1959 agreement; NIST
//! Special Publication 811, appendix B).

use crate::Refused;
use crate::bounds::{number, within};

/// Kilograms in a pound, exactly.
pub const KG_PER_LB: f64 = 0.453_592_37;

/// The unit in which a mass is written and shown.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Unit {
    /// Kilograms.
    #[default]
    Kg,
    /// Pounds.
    Lb,
}

impl Unit {
    const WORDS: &'static [(&'static str, Unit)] = &[
        ("kg", Unit::Kg),
        ("lb", Unit::Lb),
        ("kgs", Unit::Kg),
        ("kilograms", Unit::Kg),
        ("lbs", Unit::Lb),
        ("pounds", Unit::Lb),
    ];

    /// Reads `kg` or `lb`; empty text is kg.
    pub fn parse(text: &str) -> Result<Unit, Refused> {
        if text.trim().is_empty() {
            return Ok(Unit::Kg);
        }
        crate::bounds::word("unit", text, Self::WORDS)
    }

    /// The abbreviation: `kg` or `lb`.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Unit::Kg => "kg",
            Unit::Lb => "lb",
        }
    }

    /// How many kilograms one of this unit is.
    #[must_use]
    pub fn kg(self) -> f64 {
        match self {
            Unit::Kg => 1.0,
            Unit::Lb => KG_PER_LB,
        }
    }
}

/// A mass in whole grams, so that sums and trips through a file are exact; at most [`Mass::MAX`].
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Mass(u32);

impl Mass {
    /// Two tonnes: above any load a person has moved for repetitions.
    pub const MAX: Mass = Mass(2_000_000);
    /// Nothing.
    pub const ZERO: Mass = Mass(0);

    /// Reads kilograms to the nearest gram; refuses NaN, negatives and anything above the maximum.
    pub fn try_from_kg(kg: f64) -> Result<Mass, Refused> {
        let kg = within("mass", kg, 0.0, Mass::MAX.kg(), "kg")?;
        Ok(Mass((kg * 1000.0).round() as u32)) // in range by the check above
    }

    /// Takes whole grams; refuses more than the maximum.
    pub fn try_from_grams(grams: u32) -> Result<Mass, Refused> {
        Mass::try_from_kg(f64::from(grams) / 1000.0)
    }

    /// The mass in kilograms.
    #[must_use]
    pub fn kg(self) -> f64 {
        f64::from(self.0) / 1000.0
    }

    /// The mass in whole grams.
    #[must_use]
    pub fn grams(self) -> u32 {
        self.0
    }
}

/// A load as it was written down: a mass with its unit. For a bodyweight lift it is what was added,
/// and less than zero for assistance.
///
/// A dumbbell lift's load is what one hand held when the lift is per hand. Kept in whole grams, so a
/// load in pounds comes back to within 0.002 lb of what was written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Load {
    grams: i32,
    unit: Unit,
}

impl Load {
    /// The most that a load can be, and the most that assistance can take off, in kilograms.
    pub const MAX_KG: f64 = 2_000.0;
    /// The most that assistance can take off, in kilograms.
    pub const MAX_ASSISTANCE_KG: f64 = 300.0;

    /// Takes a load in `unit`. Less than zero is assistance; whether a lift may have any is the
    /// lift's rule ([`crate::Lift::accepts_load`]).
    pub fn new(value: f64, unit: Unit) -> Result<Load, Refused> {
        let (low, high) = (-Load::MAX_ASSISTANCE_KG / unit.kg(), Load::MAX_KG / unit.kg());
        let value = within("load", value, low.ceil(), high.floor(), unit.as_str())?;
        Ok(Load { grams: (value * unit.kg() * 1000.0).round() as i32, unit }) // in range, as checked
    }

    /// Reads a load from text, in `unit`.
    pub fn parse(text: &str, unit: Unit) -> Result<Load, Refused> {
        Load::new(number("load", text)?, unit)
    }

    /// A load of kilograms.
    pub fn from_kg(kg: f64) -> Result<Load, Refused> {
        Load::new(kg, Unit::Kg)
    }

    /// Takes whole grams and the unit in which they are to be shown.
    pub fn from_grams(grams: i32, unit: Unit) -> Result<Load, Refused> {
        let kg = f64::from(grams) / 1000.0;
        within("load", kg, -Load::MAX_ASSISTANCE_KG, Load::MAX_KG, "kg")?;
        Ok(Load { grams, unit })
    }

    /// The load in kilograms.
    #[must_use]
    pub fn kg(self) -> f64 {
        f64::from(self.grams) / 1000.0
    }

    /// The load in whole grams.
    #[must_use]
    pub fn grams(self) -> i32 {
        self.grams
    }

    /// The unit in which it was written.
    #[must_use]
    pub fn unit(self) -> Unit {
        self.unit
    }

    /// The load's value in its own unit, rounded to a thousandth.
    #[must_use]
    pub fn value(self) -> f64 {
        (self.kg() / self.unit.kg() * 1000.0).round() / 1000.0
    }

    /// The same load, to be shown in `unit`.
    #[must_use]
    pub fn shown_in(self, unit: Unit) -> Load {
        Load { unit, ..self }
    }
}

impl std::fmt::Display for Load {
    /// The value in its own unit to at most two decimals, with the unit: `102.5 kg`, `225 lb`.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let rounded = (self.value() * 100.0).round() / 100.0;
        write!(f, "{} {}", if rounded == 0.0 { 0.0 } else { rounded }, self.unit.as_str())
    }
}
