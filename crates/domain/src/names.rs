//! Names and notes: short texts that people write.

use std::sync::Arc;

use crate::Refused;
use crate::bounds::{folded, shortened};

macro_rules! name_type {
    ($(#[$doc:meta])* $name:ident, $what:literal, $max:literal, $key:path) => {
        $(#[$doc])*
        #[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub struct $name(Arc<str>);

        impl $name {
            /// The longest name, in characters.
            pub const MAX: usize = $max;

            /// Reads a name; trims it and folds runs of white space. Refuses empty text, control
            /// characters, names with no letter or digit, and names longer than [`Self::MAX`].
            pub fn new(text: &str) -> Result<Self, Refused> {
                let tidy = text.split_whitespace().collect::<Vec<_>>().join(" ");
                let refuse = |needed: &str| {
                    Err(Refused::Text {
                        what: $what,
                        got: shortened(text),
                        needed: needed.to_owned(),
                    })
                };
                if folded(&tidy).is_empty() {
                    return refuse("write a name with at least one letter or digit");
                }
                if tidy.chars().any(char::is_control) {
                    return refuse("take out the control characters");
                }
                if tidy.chars().count() > Self::MAX {
                    return refuse(concat!("use at most ", $max, " characters"));
                }
                Ok(Self(tidy.into()))
            }

            /// The name as it was written.
            #[must_use]
            pub fn as_str(&self) -> &str {
                &self.0
            }

            /// The form in which two spellings of one name are equal.
            #[must_use]
            pub fn key(&self) -> String {
                $key(&self.0)
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.pad(&self.0)
            }
        }
    };
}

name_type! {
    /// A lifter's name or code, as the coach writes it. Two names are one if they differ in case
    /// only: `P-11` and `P11` are two people.
    LifterName, "lifter", 80, str::to_lowercase
}
name_type! {
    /// A lift's name, as the trade or the coach writes it. Two names are one if they differ in
    /// case, spaces and hyphens only: `Chin-Up` and `chin up` are one lift.
    LiftName, "lift", 80, folded
}
name_type! {
    /// A programme's name, as the coach writes it.
    ProgrammeName, "programme", 80, str::to_lowercase
}

/// A free remark on a set or a check-in; may be empty, at most [`Note::MAX`] characters.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Note(String);

impl Note {
    /// The longest note, in characters.
    pub const MAX: usize = 2_000;

    /// Reads a note; trims it. Line breaks and tabs stay; other control characters are refused.
    pub fn new(text: &str) -> Result<Self, Refused> {
        let tidy = text.trim();
        let refuse = |needed: &str| {
            Err(Refused::Text { what: "note", got: shortened(text), needed: needed.to_owned() })
        };
        if tidy.chars().any(|c| c.is_control() && !matches!(c, '\n' | '\r' | '\t')) {
            return refuse("take out the control characters");
        }
        if tidy.chars().count() > Self::MAX {
            return refuse("use at most 2000 characters");
        }
        Ok(Self(tidy.to_owned()))
    }

    /// The note's text.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// Whether nothing was written.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
}
