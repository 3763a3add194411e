//! What goes into the record: logged sets and check-ins, and the ids that make resending harmless.
//!
//! An id is made from what names a thing (whose, when, which lift, which set), so the same line
//! read twice is the same set, on every machine.

use uuid::Uuid;

use crate::bounds::{number, within};
use crate::{Joint, LiftName, LifterName, Load, Mass, Note, Refused, Reps, Rir, SetKind, When};

/// The name space of all ids here: a random UUID made once for this project.
const NAMESPACE: Uuid = Uuid::from_u128(0x7c0e_3b52_9d1f_4e6a_8b77_21f0_5a6c_93d4);

macro_rules! id_type {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub struct $name(Uuid);

        impl $name {
            /// The id's sixteen bytes.
            #[must_use]
            pub fn as_bytes(&self) -> &[u8; 16] {
                self.0.as_bytes()
            }

            /// Takes sixteen bytes back.
            #[must_use]
            pub fn from_bytes(bytes: [u8; 16]) -> Self {
                Self(Uuid::from_bytes(bytes))
            }

            /// Reads the usual text form with hyphens.
            pub fn parse(text: &str) -> Result<Self, Refused> {
                Uuid::try_parse(text.trim()).map(Self).map_err(|_| Refused::Text {
                    what: "id",
                    got: crate::bounds::shortened(text),
                    needed: "write it as it was shown: 32 hexadecimal digits with hyphens".into(),
                })
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                self.0.hyphenated().fmt(f)
            }
        }
    };
}

id_type! {
    /// Names one set of one session; a correction keeps it.
    SetId
}
id_type! {
    /// Names one check-in; a correction keeps it.
    CheckInId
}

/// The place of a set within its lift and session, from 1 to [`SetNumber::MAX`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct SetNumber(u8);

impl SetNumber {
    /// The last place.
    pub const MAX: u8 = 99;

    /// Takes a place from 1 on.
    pub fn new(place: u8) -> Result<SetNumber, Refused> {
        within("set", f64::from(place), 1.0, f64::from(SetNumber::MAX), "in the session")?;
        Ok(SetNumber(place))
    }

    /// Reads a place from text.
    pub fn parse(text: &str) -> Result<SetNumber, Refused> {
        let value =
            within("set", number("set", text)?, 1.0, f64::from(SetNumber::MAX), "in the session")?;
        if value.fract() != 0.0 {
            return Err(Refused::OffScale {
                what: "set",
                got: text.trim().to_owned(),
                needed: "whole numbers, counting from 1",
            });
        }
        SetNumber::new(value as u8) // whole and in range, as checked
    }

    /// The place.
    #[must_use]
    pub fn get(self) -> u8 {
        self.0
    }
}

/// One set as it was done.
#[derive(Clone, Debug, PartialEq)]
pub struct LoggedSet {
    /// Who.
    pub lifter: LifterName,
    /// When.
    pub when: When,
    /// Which lift, by its name in the catalogue.
    pub lift: LiftName,
    /// Its place within the lift and session.
    pub number: SetNumber,
    /// What it was for.
    pub kind: SetKind,
    /// With what.
    pub load: Load,
    /// How many repetitions.
    pub reps: Reps,
    /// How many would still have gone, if it was said.
    pub rir: Option<Rir>,
    /// A remark.
    pub note: Note,
}

impl LoggedSet {
    /// The id that this set has on every machine: made from lifter, time, lift and set number.
    #[must_use]
    pub fn id(&self) -> SetId {
        let key = format!(
            "set\n{}\n{}\n{}\n{}",
            self.lifter.key(),
            self.when,
            self.lift.key(),
            self.number.get()
        );
        SetId(Uuid::new_v5(&NAMESPACE, key.as_bytes()))
    }
}

/// Pain in one joint, as rated by the lifter.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Pain {
    /// Where.
    pub joint: Joint,
    rating: u8,
}

impl Pain {
    /// Takes a rating from 0 (none) to 10 (worst imaginable): the numeric rating scale.
    pub fn new(joint: Joint, rating: u8) -> Result<Pain, Refused> {
        within("pain", f64::from(rating), 0.0, 10.0, "of 10")?;
        Ok(Pain { joint, rating })
    }

    /// The rating.
    #[must_use]
    pub fn rating(self) -> u8 {
        self.rating
    }
}

/// How the lifter came in: every item may be missing, and missing is not average.
#[derive(Clone, Debug, PartialEq)]
pub struct CheckIn {
    /// Who.
    pub lifter: LifterName,
    /// When.
    pub when: When,
    /// Hours slept, 0 to 24.
    pub sleep_h: Option<f64>,
    /// Stress, 1 (best) to 7 (worst): item of Hooper & Mackinnon 1995, from memory.
    pub stress: Option<f64>,
    /// Muscle soreness, 1 (best) to 7 (worst): the same scale.
    pub soreness: Option<f64>,
    /// Body mass.
    pub body_mass: Option<Mass>,
    /// Pain in one joint; a second joint is a second check-in of the same day.
    pub pain: Option<Pain>,
}

impl CheckIn {
    /// A check-in in which nothing is told yet.
    #[must_use]
    pub fn empty(lifter: LifterName, when: When) -> CheckIn {
        CheckIn {
            lifter,
            when,
            sleep_h: None,
            stress: None,
            soreness: None,
            body_mass: None,
            pain: None,
        }
    }

    /// Checks hours of sleep.
    pub fn sleep(hours: f64) -> Result<f64, Refused> {
        within("sleep_h", hours, 0.0, 24.0, "hours")
    }

    /// Checks a rating of stress or soreness.
    pub fn rating(what: &'static str, value: f64) -> Result<f64, Refused> {
        within(what, value, 1.0, 7.0, "(1 best, 7 worst)")
    }

    /// Checks a body mass in kilograms: 20 to 400 kg.
    pub fn body_mass(kg: f64) -> Result<Mass, Refused> {
        within("body_mass", kg, 20.0, 400.0, "kg").and_then(Mass::try_from_kg)
    }

    /// The id that this check-in has on every machine: made from lifter, time and painful joint.
    #[must_use]
    pub fn id(&self) -> CheckInId {
        let joint = self.pain.map_or("", |pain| pain.joint.key());
        let key = format!("check-in\n{}\n{}\n{joint}", self.lifter.key(), self.when);
        CheckInId(Uuid::new_v5(&NAMESPACE, key.as_bytes()))
    }
}
