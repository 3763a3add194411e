//! A lifter: the name, the unit and equipment, and the limits that the coach has set.

use crate::bounds::within;
use crate::{Bar, LifterName, PlateStock, Refused, Unit};

/// What the coach decided for a lifter: when pain stops a lift, what counts as a shortfall, and how
/// bad each of the two mistakes is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limits {
    pain: u8,
    shortfall_pct: f64,
    cut_for_nothing: f64,
    trained_through: f64,
}

impl Limits {
    /// Days away after which a lift isn't read but started again (McMaster 2013, from memory:
    /// strength holds for about three weeks; design value 14).
    pub const AWAY_DAYS: f64 = 14.0;

    /// Sets the pain rating (0–10) above which a lift stops, the shortfall in % that matters, and
    /// the two costs on any common scale.
    pub fn new(
        pain: u8,
        shortfall_pct: f64,
        cut_for_nothing: f64,
        trained_through: f64,
    ) -> Result<Limits, Refused> {
        within("pain limit", f64::from(pain), 0.0, 10.0, "of 10")?;
        within("shortfall", shortfall_pct, 0.5, 15.0, "%")?;
        within("cost", cut_for_nothing, 0.01, 100.0, "")?;
        within("cost", trained_through, 0.01, 100.0, "")?;
        Ok(Limits { pain, shortfall_pct, cut_for_nothing, trained_through })
    }

    /// The rating above which a lift stops.
    #[must_use]
    pub fn pain(&self) -> u8 {
        self.pain
    }

    /// The shortfall that matters, in %.
    #[must_use]
    pub fn shortfall_pct(&self) -> f64 {
        self.shortfall_pct
    }

    /// The cost of losing a session's sets for nothing.
    #[must_use]
    pub fn cut_for_nothing(&self) -> f64 {
        self.cut_for_nothing
    }

    /// The cost of training on top of a shortfall.
    #[must_use]
    pub fn trained_through(&self) -> f64 {
        self.trained_through
    }

    /// The probability of a shortfall at which cutting back and going on cost the same: ease above.
    #[must_use]
    pub fn threshold(&self) -> f64 {
        self.cut_for_nothing / (self.cut_for_nothing + self.trained_through)
    }
}

impl Default for Limits {
    /// Stop above 5 of 10 (pain scale of tendon rehabilitation work, Thomeé and Silbernagel, from
    /// memory), a shortfall of 2 %, and training on top of a shortfall three times as bad as
    /// losing a session's sets for nothing (our choice): ease above one chance in four.
    fn default() -> Self {
        Limits { pain: 5, shortfall_pct: 2.0, cut_for_nothing: 1.0, trained_through: 3.0 }
    }
}

/// A person who trains.
#[derive(Clone, Debug, PartialEq)]
pub struct Lifter {
    /// The name.
    pub name: LifterName,
    /// The unit in which loads are shown.
    pub unit: Unit,
    /// The bar at hand.
    pub bar: Bar,
    /// The plates at hand.
    pub plates: PlateStock,
    /// The coach's limits.
    pub limits: Limits,
}

impl Lifter {
    /// A lifter of whom nothing but the name and unit is known: usual equipment, usual limits.
    #[must_use]
    pub fn usual(name: LifterName, unit: Unit) -> Lifter {
        Lifter {
            name,
            unit,
            bar: Bar::usual(unit),
            plates: PlateStock::usual(unit),
            limits: Limits::default(),
        }
    }
}
