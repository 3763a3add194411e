//! Sheets of paper: what is printed, as PDF, made by the program itself.
//!
//! A print depends on nothing of the machine: the typefaces come with the program, there is no clock and no
//! setting, and the same view gives the same bytes. [`faces`] turns letters into glyphs, [`text`] breaks lines,
//! [`block`] sets paragraphs and tables, [`document`] writes tagged PDF (PDF/UA-1), and each kind of print has a
//! module that says what stands where: [`card`] is the first. Lengths are in points (1/72 inch) and run from the
//! top left corner.

mod block;
pub mod card;
mod card_lift;
mod document;
mod faces;
mod text;

pub use document::PrintError;

use domain::Unit;

/// A size of paper, upright.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Paper {
    /// ISO 216 A4: 210 × 297 mm.
    A4,
    /// US Letter: 8½ × 11 inches.
    Letter,
}

impl Paper {
    /// All sizes, for lists of choices.
    pub const ALL: [Paper; 2] = [Paper::A4, Paper::Letter];

    /// The size for somebody who lifts in `unit`: Letter for pounds, A4 for kilograms.
    #[must_use]
    pub fn usual_for(unit: Unit) -> Paper {
        match unit {
            Unit::Kg => Paper::A4,
            Unit::Lb => Paper::Letter,
        }
    }

    /// Its name in commands and addresses.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Paper::A4 => "a4",
            Paper::Letter => "letter",
        }
    }

    /// Its name for people.
    #[must_use]
    pub fn label(self) -> &'static str {
        match self {
            Paper::A4 => "A4",
            Paper::Letter => "US Letter",
        }
    }

    /// Width and height in points.
    #[must_use]
    pub fn size(self) -> (f32, f32) {
        match self {
            Paper::A4 => (595.276, 841.89),
            Paper::Letter => (612.0, 792.0),
        }
    }
}

impl std::str::FromStr for Paper {
    type Err = String;

    fn from_str(text: &str) -> Result<Paper, String> {
        let found = Paper::ALL.into_iter().find(|paper| paper.as_str() == text.to_lowercase());
        found.ok_or_else(|| format!("`{text}` is no size of paper here: write `a4` or `letter`"))
    }
}
