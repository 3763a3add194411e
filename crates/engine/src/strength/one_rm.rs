//! The nine published equations from a set to failure to the one-repetition maximum, and back.
//!
//! They are offered side by side for estimates; readings use [`super::LoadRepCurve`] alone. None is
//! fitted to a lifter or a lift, and none was validated for sets that stop short of failure: a
//! reserve may be added to the repetitions, and then brings its own error. Only Brzycki's two forms
//! and Lombardi give the load itself at one repetition; the others put a true single 1 to 9 % higher,
//! so a tested single should be used as it is.
//!
//! Letters: w load, r repetitions to failure. The equations are from memory of the old coaching texts
//! named at each variant; the numbers that they give are pinned in `tests/strength_reference.rs`.

use super::{MAX_LOAD, MAX_REPS, StrengthError, positive, within};

/// Repetitions up to which linear equations hold well: authors' conclusion in Reynolds et al. 2006,
/// J Strength Cond Res 20:584. The equations lie about 7–8 % apart up to here and 13 % at 12.
pub const FAMILIAR_REPS: f64 = 10.0;

/// Slack for the rounding of a there-and-back computation at exactly one repetition.
const ROUNDING_SLACK: f64 = 1e-9;

/// A published 1RM equation.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Equation {
    /// Epley 1985: w·(1 + r/30).
    Epley,
    /// Brzycki 1993, J Phys Educ Recreat Dance 64:88: w·36/(37 − r).
    Brzycki,
    /// The same equation with its constants rounded: w/(1.0278 − 0.0278·r).
    BrzyckiDecimal,
    /// Lombardi 1989: w·r^0.10.
    Lombardi,
    /// Mayhew et al. 1992: 100w/(52.2 + 41.9·e^(−0.055r)); fitted to long bench press sets.
    Mayhew,
    /// O'Conner et al. 1989: w·(1 + 0.025r).
    OConner,
    /// Wathan 1994: 100w/(48.8 + 53.8·e^(−0.075r)).
    Wathan,
    /// Lander 1985: 100w/(101.3 − 2.67123r).
    Lander,
    /// Adams 1994: w/(1 − 0.02r).
    Adams,
}

/// The repetitions to failure for which an equation gives a 1RM.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RepDomain {
    /// The fewest repetitions, included: a set has at least one.
    pub from: f64,
    /// The repetitions at which the equation breaks down, left out; `None` where it never does
    /// (repetitions are then taken up to [`MAX_REPS`], included).
    pub below: Option<f64>,
}

impl Equation {
    /// All nine, in the order in which they are shown.
    pub const ALL: [Equation; 9] = [
        Equation::Epley,
        Equation::Brzycki,
        Equation::BrzyckiDecimal,
        Equation::Lombardi,
        Equation::Mayhew,
        Equation::OConner,
        Equation::Wathan,
        Equation::Lander,
        Equation::Adams,
    ];

    /// The name by which the field knows it.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Equation::Epley => "Epley",
            Equation::Brzycki => "Brzycki",
            Equation::BrzyckiDecimal => "Brzycki, decimal form",
            Equation::Lombardi => "Lombardi",
            Equation::Mayhew => "Mayhew et al.",
            Equation::OConner => "O'Conner et al.",
            Equation::Wathan => "Wathan",
            Equation::Lander => "Lander",
            Equation::Adams => "Adams",
        }
    }

    /// The year of publication.
    #[must_use]
    pub fn year(self) -> u16 {
        match self {
            Equation::Epley | Equation::Lander => 1985,
            Equation::Lombardi | Equation::OConner => 1989,
            Equation::Mayhew => 1992,
            Equation::Brzycki | Equation::BrzyckiDecimal => 1993,
            Equation::Wathan | Equation::Adams => 1994,
        }
    }

    /// The equation as text for display, with w the load and r the repetitions to failure.
    #[must_use]
    pub fn formula(self) -> &'static str {
        match self {
            Equation::Epley => "w·(1 + r/30)",
            Equation::Brzycki => "w·36/(37 − r)",
            Equation::BrzyckiDecimal => "w/(1.0278 − 0.0278·r)",
            Equation::Lombardi => "w·r^0.10",
            Equation::Mayhew => "100·w/(52.2 + 41.9·e^(−0.055·r))",
            Equation::OConner => "w·(1 + 0.025·r)",
            Equation::Wathan => "100·w/(48.8 + 53.8·e^(−0.075·r))",
            Equation::Lander => "100·w/(101.3 − 2.67123·r)",
            Equation::Adams => "w/(1 − 0.02·r)",
        }
    }

    /// The repetitions for which it gives a 1RM.
    #[must_use]
    pub fn domain(self) -> RepDomain {
        let below = match self {
            Equation::Brzycki => Some(37.0),
            Equation::BrzyckiDecimal => Some(1.0278 / 0.0278),
            Equation::Lander => Some(101.3 / 2.67123),
            Equation::Adams => Some(50.0),
            Equation::Epley
            | Equation::Lombardi
            | Equation::Mayhew
            | Equation::OConner
            | Equation::Wathan => None,
        };
        RepDomain { from: 1.0, below }
    }

    /// The share of 1RM, 0 to 1, that the equation never falls to however many the repetitions: 0.522
    /// for Mayhew and 0.488 for Wathan. `None` for the others, which go down to nothing.
    #[must_use]
    pub fn lightest_share(self) -> Option<f64> {
        match self {
            Equation::Mayhew => Some(0.522),
            Equation::Wathan => Some(0.488),
            Equation::Epley
            | Equation::Brzycki
            | Equation::BrzyckiDecimal
            | Equation::Lombardi
            | Equation::OConner
            | Equation::Lander
            | Equation::Adams => None,
        }
    }

    /// Whether the equation gives the load itself at one repetition.
    #[must_use]
    pub fn returns_load_at_single(self) -> bool {
        matches!(self, Equation::Brzycki | Equation::BrzyckiDecimal | Equation::Lombardi)
    }

    /// The 1RM, in the unit of `load`, from a load and repetitions to failure (repetitions done plus
    /// reserve; they may be fractional).
    ///
    /// # Errors
    /// [`StrengthError`] for a load that isn't above 0 and at most [`MAX_LOAD`], repetitions below 1,
    /// above [`MAX_REPS`] or at or past the equation's singular point, and NaN.
    pub fn one_rm(self, load: f64, reps: f64) -> Result<f64, StrengthError> {
        let load = positive("load", load, MAX_LOAD, "")?;
        Ok(load * self.ratio(self.checked_reps(reps)?))
    }

    /// The load, in the unit of `one_rm`, that can be lifted for `reps` repetitions to failure.
    ///
    /// # Errors
    /// As [`Equation::one_rm`], with the 1RM in the place of the load.
    pub fn load_for_reps(self, one_rm: f64, reps: f64) -> Result<f64, StrengthError> {
        let one_rm = positive("1RM", one_rm, MAX_LOAD, "")?;
        Ok(one_rm / self.ratio(self.checked_reps(reps)?))
    }

    /// The repetitions to failure, fractional, with `load` for a lifter with this 1RM (same unit): the
    /// equation solved for r.
    ///
    /// # Errors
    /// [`StrengthError::LoadTooHeavy`] where the equation gives less than one repetition,
    /// [`StrengthError::LoadTooLight`] where it gives none or more than [`MAX_REPS`], and a range
    /// error for a load or 1RM that isn't above 0 and at most [`MAX_LOAD`].
    pub fn reps_at_load(self, one_rm: f64, load: f64) -> Result<f64, StrengthError> {
        let one_rm = positive("1RM", one_rm, MAX_LOAD, "")?;
        let share = positive("load", load, MAX_LOAD, "")? / one_rm;
        let lightest = self.lightest_share().unwrap_or(0.0);
        let reps = if share > lightest { self.solve(share) } else { f64::INFINITY };
        if reps < 1.0 - ROUNDING_SLACK {
            return Err(StrengthError::LoadTooHeavy {
                equation: self.name(),
                got_percent: 100.0 * share,
                most_percent: 100.0 / self.ratio(1.0),
            });
        }
        if reps > MAX_REPS {
            return Err(StrengthError::LoadTooLight {
                equation: self.name(),
                got_percent: 100.0 * share,
                above_percent: 100.0 * lightest.max(1.0 / self.ratio(MAX_REPS)),
            });
        }
        Ok(reps.max(1.0))
    }

    /// d ln(1RM)/dr: the relative change of the estimate per extra repetition (0.03 is 3 %). What one
    /// repetition of error in the count or in the reserve is worth.
    ///
    /// # Errors
    /// As [`Equation::one_rm`] for the repetitions.
    pub fn log_slope(self, reps: f64) -> Result<f64, StrengthError> {
        let r = self.checked_reps(reps)?;
        Ok(match self {
            Equation::Epley => 1.0 / (30.0 + r),
            Equation::Brzycki => 1.0 / (37.0 - r),
            Equation::BrzyckiDecimal => 0.0278 / (1.0278 - 0.0278 * r),
            Equation::Lombardi => 0.10 / r,
            Equation::Mayhew => decay_slope(52.2, 41.9, 0.055, r),
            Equation::OConner => 0.025 / (1.0 + 0.025 * r),
            Equation::Wathan => decay_slope(48.8, 53.8, 0.075, r),
            Equation::Lander => 2.67123 / (101.3 - 2.67123 * r),
            Equation::Adams => 0.02 / (1.0 - 0.02 * r),
        })
    }

    fn checked_reps(self, reps: f64) -> Result<f64, StrengthError> {
        if let Some(below) = self.domain().below
            && reps >= below
        {
            return Err(StrengthError::TooManyReps { equation: self.name(), got: reps, below });
        }
        within("reps to failure", reps, 1.0, MAX_REPS, " reps")
    }

    /// 1RM over load at r repetitions.
    fn ratio(self, r: f64) -> f64 {
        match self {
            Equation::Epley => 1.0 + r / 30.0,
            Equation::Brzycki => 36.0 / (37.0 - r),
            Equation::BrzyckiDecimal => 1.0 / (1.0278 - 0.0278 * r),
            Equation::Lombardi => r.powf(0.10),
            Equation::Mayhew => 100.0 / (52.2 + 41.9 * (-0.055 * r).exp()),
            Equation::OConner => 1.0 + 0.025 * r,
            Equation::Wathan => 100.0 / (48.8 + 53.8 * (-0.075 * r).exp()),
            Equation::Lander => 100.0 / (101.3 - 2.67123 * r),
            Equation::Adams => 1.0 / (1.0 - 0.02 * r),
        }
    }

    /// Repetitions at a share of 1RM above the asymptote; may come out below 1.
    fn solve(self, share: f64) -> f64 {
        match self {
            Equation::Epley => 30.0 * (1.0 / share - 1.0),
            Equation::Brzycki => 37.0 - 36.0 * share,
            Equation::BrzyckiDecimal => (1.0278 - share) / 0.0278,
            Equation::Lombardi => share.powi(-10),
            Equation::Mayhew => -((100.0 * share - 52.2) / 41.9).ln() / 0.055,
            Equation::OConner => (1.0 / share - 1.0) / 0.025,
            Equation::Wathan => -((100.0 * share - 48.8) / 53.8).ln() / 0.075,
            Equation::Lander => (101.3 - 100.0 * share) / 2.67123,
            Equation::Adams => (1.0 - share) / 0.02,
        }
    }
}

/// −d ln(floor + height·e^(−rate·r))/dr.
fn decay_slope(floor: f64, height: f64, rate: f64, r: f64) -> f64 {
    let decay = height * (-rate * r).exp();
    rate * decay / (floor + decay)
}
