//! What a set was: repetitions, repetitions in reserve, and its kind.

use crate::Refused;
use crate::bounds::{number, within, word};

/// Repetitions done in one set: a whole number from 1 to [`Reps::MAX`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Reps(u16);

impl Reps {
    /// The most repetitions in a set.
    pub const MAX: u16 = 200;

    /// Takes a count; refuses 0 (an attempt that failed is a note, not a set) and above the maximum.
    pub fn new(count: u16) -> Result<Reps, Refused> {
        within("reps", f64::from(count), 1.0, f64::from(Reps::MAX), "reps")?;
        Ok(Reps(count))
    }

    /// Reads a count from text; `8` and `8.0` are read, `8.5` is refused.
    pub fn parse(text: &str) -> Result<Reps, Refused> {
        let value = within("reps", number("reps", text)?, 1.0, f64::from(Reps::MAX), "reps")?;
        if value.fract() != 0.0 {
            return Err(Refused::OffScale {
                what: "reps",
                got: text.trim().to_owned(),
                needed: "whole repetitions",
            });
        }
        Reps::new(value as u16) // whole and in range, as checked
    }

    /// The count.
    #[must_use]
    pub fn get(self) -> u16 {
        self.0
    }
}

impl std::fmt::Display for Reps {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}", self.0)
    }
}

/// Repetitions in reserve as reported: 0 to 10 in half steps. RPE = 10 − RIR on the scale of
/// Zourdos 2016.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Rir(u8);

impl Rir {
    /// Nothing left.
    pub const ZERO: Rir = Rir(0);

    /// Takes a reserve in half steps from 0 to 10.
    pub fn new(reserve: f64) -> Result<Rir, Refused> {
        let halves = within("rir", reserve, 0.0, 10.0, "reps in reserve")? * 2.0;
        if halves.fract() != 0.0 {
            return Err(Refused::OffScale {
                what: "rir",
                got: reserve.to_string(),
                needed: "whole or half repetitions",
            });
        }
        Ok(Rir(halves as u8)) // at most 20, as checked
    }

    /// Reads a reserve from text; empty text is an unknown reserve.
    pub fn parse(text: &str) -> Result<Option<Rir>, Refused> {
        if text.trim().is_empty() {
            return Ok(None);
        }
        Rir::new(number("rir", text)?).map(Some)
    }

    /// The reserve in repetitions.
    #[must_use]
    pub fn get(self) -> f64 {
        f64::from(self.0) / 2.0
    }
}

impl std::fmt::Display for Rir {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}", self.get())
    }
}

/// What a set was for.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum SetKind {
    /// A set before the work sets, too light to count.
    WarmUp,
    /// A set that counts; the first of a lift in a session is its lead set.
    #[default]
    Work,
    /// Light and fast, in place of work sets.
    Speed,
    /// A set to find a maximum; counts as a lead set, and an unknown reserve means none.
    Test,
}

impl SetKind {
    const WORDS: &'static [(&'static str, SetKind)] = &[
        ("warm-up", SetKind::WarmUp),
        ("work", SetKind::Work),
        ("speed", SetKind::Speed),
        ("test", SetKind::Test),
    ];

    /// Reads `warm-up`, `work`, `speed` or `test`; empty text is work.
    pub fn parse(text: &str) -> Result<SetKind, Refused> {
        if text.trim().is_empty() {
            return Ok(SetKind::Work);
        }
        word("kind", text, Self::WORDS)
    }

    /// The word for this kind.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            SetKind::WarmUp => "warm-up",
            SetKind::Work => "work",
            SetKind::Speed => "speed",
            SetKind::Test => "test",
        }
    }

    /// Whether the first set of this kind in a session is a lead set.
    #[must_use]
    pub fn can_lead(self) -> bool {
        matches!(self, SetKind::Work | SetKind::Test)
    }
}
