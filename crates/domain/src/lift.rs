//! A lift: what it is done with, which muscles it trains, which joints it loads.

use crate::bounds::within;
use crate::{EquipmentClass, Joint, LiftName, Load, Mass, Muscle, Refused};

/// How much of a set counts for one muscle: above 0, at most 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MuscleWeight {
    /// The muscle.
    pub muscle: Muscle,
    weight: f64,
}

impl MuscleWeight {
    /// Takes a weight above 0 and at most 1: 1 for a prime mover, 0.5 for an assisting muscle
    /// (fractional counting, Pelland 2024; which muscle gets which is common practice, no source).
    pub fn new(muscle: Muscle, weight: f64) -> Result<MuscleWeight, Refused> {
        share("muscle weight", weight).map(|weight| MuscleWeight { muscle, weight })
    }

    /// The weight.
    #[must_use]
    pub fn get(self) -> f64 {
        self.weight
    }

    /// Whether the muscle is a prime mover of the lift.
    #[must_use]
    pub fn is_prime(self) -> bool {
        self.weight >= 1.0
    }
}

/// How much a lift loads one joint: above 0, at most 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct JointLoad {
    /// The joint.
    pub joint: Joint,
    weight: f64,
}

impl JointLoad {
    /// Takes a weight above 0 and at most 1.
    pub fn new(joint: Joint, weight: f64) -> Result<JointLoad, Refused> {
        share("joint load", weight).map(|weight| JointLoad { joint, weight })
    }

    /// The weight.
    #[must_use]
    pub fn get(self) -> f64 {
        self.weight
    }
}

/// The share of body mass that a lift moves besides its load, with where the figure comes from.
#[derive(Clone, Debug, PartialEq)]
pub struct BodyMassShare {
    share: f64,
    /// The published source, or `common practice, no source`.
    pub source: String,
}

impl BodyMassShare {
    /// Takes a share above 0 and at most 1.2.
    pub fn new(value: f64, source: &str) -> Result<BodyMassShare, Refused> {
        let value = within("body mass share", value, 0.01, 1.2, "of body mass")?;
        Ok(BodyMassShare { share: value, source: source.trim().to_owned() })
    }

    /// The share of body mass.
    #[must_use]
    pub fn get(&self) -> f64 {
        self.share
    }
}

/// One lift of the catalogue or of the coach's own lift file. Built by
/// [`crate::catalogue::Catalogue`], which checks what lies between the fields.
#[derive(Clone, Debug, PartialEq)]
pub struct Lift {
    /// The name under which it is shown and stored.
    pub name: LiftName,
    /// Other spellings that mean this lift.
    pub also: Vec<LiftName>,
    /// What it is done with.
    pub equipment: EquipmentClass,
    /// The smallest usual step of the load, as logged.
    pub increment: Mass,
    /// The muscles trained, heaviest weight first; at least one.
    pub muscles: Vec<MuscleWeight>,
    /// The joints loaded, heaviest first.
    pub joints: Vec<JointLoad>,
    /// Whether the logged load is what one hand holds.
    pub per_hand: bool,
    /// The share of body mass moved, if any.
    pub body_mass_share: Option<BodyMassShare>,
    /// Where an ordinary log starts: the lift's scatter before anything is known of it, a CV in %.
    pub starting_scatter_pct: f64,
    /// Whether a spotter or safety bars belong to it.
    pub spotter: bool,
    /// Whether light, fast repetitions make sense for it.
    pub speed_ok: bool,
    /// Whether most programmes are made of lifts like this one, so that a draft takes it unasked.
    pub staple: bool,
    /// Whether a draft takes it only if it is named: it takes practice, or isn't counted in repetitions.
    pub asked_only: bool,
    /// Whether it is a weightlifting-type lift, whose sets don't follow the load–rep curve.
    pub explosive: bool,
}

impl Lift {
    /// Whether `load` can be a load of this lift: assistance needs a lift that moves body mass, and
    /// only such a lift can be done with nothing in the hands.
    pub fn accepts_load(&self, load: Load) -> Result<(), Refused> {
        if self.body_mass_share.is_some() || load.grams() > 0 {
            return Ok(());
        }
        Err(Refused::Text {
            what: "load",
            got: load.to_string(),
            needed: format!(
                "`{}` moves no body mass, so its load must be above 0; only a lift that \
                 does can have none or assistance",
                self.name
            ),
        })
    }

    /// The mass that a set moves, in kilograms: the load, and the share of body mass if any.
    #[must_use]
    pub fn moved_kg(&self, load_kg: f64, body_mass_kg: f64) -> f64 {
        load_kg + self.body_mass_share.as_ref().map_or(0.0, |share| share.get() * body_mass_kg)
    }

    /// The load, in kilograms, that makes a set move `moved_kg`.
    #[must_use]
    pub fn load_kg(&self, moved_kg: f64, body_mass_kg: f64) -> f64 {
        moved_kg - self.moved_kg(0.0, body_mass_kg)
    }

    /// How much the lift trains a muscle: its weight in the catalogue, 0 if it has none.
    #[must_use]
    pub fn weight_of(&self, muscle: Muscle) -> f64 {
        self.muscles.iter().find(|m| m.muscle == muscle).map_or(0.0, |m| m.get())
    }

    /// Whether a muscle is a prime mover of the lift.
    #[must_use]
    pub fn has_prime_mover(&self, muscle: Muscle) -> bool {
        self.muscles.iter().any(|m| m.muscle == muscle && m.is_prime())
    }

    /// The prime movers' names, joined for a sentence: `quadriceps and glutes`.
    #[must_use]
    pub fn prime_movers(&self) -> String {
        let names: Vec<_> =
            self.muscles.iter().filter(|m| m.is_prime()).map(|m| m.muscle.label()).collect();
        match names.as_slice() {
            [] => self.muscles.first().map_or("", |m| m.muscle.label()).to_owned(),
            [one] => (*one).to_owned(),
            [most @ .., last] => format!("{} and {last}", most.join(", ")),
        }
    }
}

fn share(what: &'static str, value: f64) -> Result<f64, Refused> {
    if value > 0.0 && value <= 1.0 {
        Ok(value)
    } else {
        Err(Refused::OutOfRange { what, got: value.to_string(), min: 0.01, max: 1.0, unit: "" })
    }
}
