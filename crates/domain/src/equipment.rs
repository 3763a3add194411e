//! Equipment: what holds a load, and what loads it can hold.

use crate::bounds::word;
use crate::{Mass, Refused, Unit};

/// What a lift is done with; lifts of one class scatter alike.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum EquipmentClass {
    /// A free bar with plates.
    Barbell,
    /// One or two dumbbells.
    Dumbbell,
    /// A kettlebell.
    Kettlebell,
    /// A bar on rails.
    GuidedBarbell,
    /// A machine loaded with plates.
    PlateMachine,
    /// A machine with a weight stack and a fixed path.
    Stack,
    /// A cable and pulleys with a weight stack.
    Cable,
    /// The body, with load added or assistance taken off.
    Bodyweight,
}

impl EquipmentClass {
    const WORDS: &'static [(&'static str, EquipmentClass)] = &[
        ("barbell", EquipmentClass::Barbell),
        ("dumbbell", EquipmentClass::Dumbbell),
        ("kettlebell", EquipmentClass::Kettlebell),
        ("guided_barbell", EquipmentClass::GuidedBarbell),
        ("plate_machine", EquipmentClass::PlateMachine),
        ("stack", EquipmentClass::Stack),
        ("cable", EquipmentClass::Cable),
        ("bodyweight", EquipmentClass::Bodyweight),
    ];

    /// All classes, in the order in which they are shown.
    pub const ALL: &'static [EquipmentClass] = &[
        EquipmentClass::Barbell,
        EquipmentClass::Dumbbell,
        EquipmentClass::Kettlebell,
        EquipmentClass::GuidedBarbell,
        EquipmentClass::PlateMachine,
        EquipmentClass::Stack,
        EquipmentClass::Cable,
        EquipmentClass::Bodyweight,
    ];

    /// Reads the snake_case key, ignoring case, spaces and hyphens.
    pub fn parse(text: &str) -> Result<EquipmentClass, Refused> {
        word("equipment", text, Self::WORDS)
    }

    /// The snake_case key used in files.
    #[must_use]
    pub fn key(self) -> &'static str {
        match self {
            EquipmentClass::Barbell => "barbell",
            EquipmentClass::Dumbbell => "dumbbell",
            EquipmentClass::Kettlebell => "kettlebell",
            EquipmentClass::GuidedBarbell => "guided_barbell",
            EquipmentClass::PlateMachine => "plate_machine",
            EquipmentClass::Stack => "stack",
            EquipmentClass::Cable => "cable",
            EquipmentClass::Bodyweight => "bodyweight",
        }
    }

    /// The name used in sentences.
    #[must_use]
    pub fn label(self) -> &'static str {
        match self {
            EquipmentClass::GuidedBarbell => "guided barbell",
            EquipmentClass::PlateMachine => "plate-loaded machine",
            EquipmentClass::Stack => "stack machine",
            other => other.key(),
        }
    }
}

/// A bar with its collars.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Bar {
    /// The bar's own mass.
    pub mass: Mass,
    /// Both collars together; zero if they aren't counted.
    pub collars: Mass,
}

impl Bar {
    /// A 20 kg bar, its collars not counted, as most gyms log it (common practice, no source).
    #[must_use]
    pub fn usual(unit: Unit) -> Bar {
        let mass = match unit {
            Unit::Kg => mass_of(20_000),
            Unit::Lb => mass_of(20_412), // 45 lb
        };
        Bar { mass, collars: Mass::ZERO }
    }

    /// Bar and collars together.
    #[must_use]
    pub fn empty(self) -> Mass {
        Mass::try_from_grams(self.mass.grams() + self.collars.grams()).unwrap_or(Mass::MAX)
    }
}

/// The plates that are there: a mass and how many pairs of it. Heaviest first, no mass twice, no
/// mass of zero.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PlateStock {
    pairs: Vec<(Mass, u8)>,
}

impl PlateStock {
    /// Sorts the plates; refuses a mass of zero and a mass named twice.
    pub fn new(mut pairs: Vec<(Mass, u8)>) -> Result<PlateStock, Refused> {
        pairs.sort_unstable_by(|a, b| b.cmp(a));
        let refuse = |mass: Mass, needed: &str| {
            Err(Refused::Text {
                what: "plate",
                got: format!("{} kg", mass.kg()),
                needed: needed.to_owned(),
            })
        };
        if pairs.iter().any(|(mass, _)| *mass == Mass::ZERO) {
            return refuse(Mass::ZERO, "a plate must weigh something");
        }
        if let Some(twice) = pairs.windows(2).find(|two| two[0].0 == two[1].0) {
            return refuse(twice[0].0, "name each mass once, with the number of its pairs");
        }
        Ok(PlateStock { pairs })
    }

    /// The plates of an ordinary gym: in kilograms ten pairs of 20 and two each of 15, 10, 5, 2.5
    /// and 1.25; in pounds ten pairs of 45 and two each of 35, 25, 10, 5 and 2.5 (common practice,
    /// no source).
    #[must_use]
    pub fn usual(unit: Unit) -> PlateStock {
        let kilograms =
            [(20_000, 10), (15_000, 2), (10_000, 2), (5_000, 2), (2_500, 2), (1_250, 2)];
        let pounds = [(20_412, 10), (15_876, 2), (11_340, 2), (4_536, 2), (2_268, 2), (1_134, 2)];
        let grams = match unit {
            Unit::Kg => kilograms,
            Unit::Lb => pounds,
        };
        PlateStock { pairs: grams.map(|(grams, pairs)| (mass_of(grams), pairs)).to_vec() }
    }

    /// The plates with the number of their pairs, heaviest first.
    #[must_use]
    pub fn pairs(&self) -> &[(Mass, u8)] {
        &self.pairs
    }
}

/// A mass that is known to be in range.
fn mass_of(grams: u32) -> Mass {
    Mass::try_from_grams(grams).unwrap_or(Mass::MAX)
}
