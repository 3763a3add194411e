//! Published general load–velocity equations: % 1RM from the speed of the bar, and back.
//!
//! They describe groups of trained men, mostly on fixed-path machines, lifting as fast as they can. A
//! free bar differs, and powerlifters are slower at their 1RM, so a lifter's own line is better where
//! there is one; fitting one is not done here. Coefficients of the first three are from memory of the
//! papers named at each variant, those of the parallel squat were read in its abstract.
//!
//! Letters: v concentric velocity in m/s, p % of 1RM, p = a·v² + b·v + c.

use super::{MAX_LOAD, StrengthError, positive, within};

/// The lightest load, in % of 1RM, that the equations are used for (from memory of the papers).
const LIGHTEST_PERCENT: f64 = 30.0;

/// A lift with a published general load–velocity equation.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum VelocityLift {
    /// González-Badillo & Sánchez-Medina 2010, Int J Sports Med 31:347: 120 trained men, Smith
    /// machine; p = 8.4326·v² − 73.501·v + 112.33, R² 0.98; 1RM at 0.16 ± 0.04 m/s.
    BenchPress,
    /// Sánchez-Medina et al. 2017, Sports Med Int Open 1:E80: 80 trained men;
    /// p = −5.961·v² − 50.71·v + 117.0, R² 0.96; 1RM at 0.32 ± 0.03 m/s.
    FullSquat,
    /// Sánchez-Medina et al. 2014, Int J Sports Med 35:209: 75 trained men;
    /// p = 18.5797·v² − 104.182·v + 147.94; 1RM near 0.52 m/s, 0.506 by the equation.
    ProneBenchPull,
    /// Naclerio & Larumbe-Zabala 2017, J Strength Cond Res 31:1585: 290 athletes;
    /// p = 120.15 − 83.54·v with average velocity, 79 % of the variance.
    ParallelSquat,
}

/// Which velocity of the concentric phase an equation takes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SpeedMeasure {
    /// Mean over the propulsive part, up to where the bar slows by more than gravity would.
    MeanPropulsive,
    /// Mean over the whole concentric phase.
    Mean,
}

/// The speeds for which an equation is used, both ends included.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct VelocityRange {
    /// m/s; the slowest: about the published speed at 1RM.
    pub slowest: f64,
    /// m/s; the fastest: the equation's speed at 30 % of 1RM, rounded up to 0.01.
    pub fastest: f64,
}

impl VelocityLift {
    /// All four, in the order in which they are shown.
    pub const ALL: [VelocityLift; 4] = [
        VelocityLift::BenchPress,
        VelocityLift::FullSquat,
        VelocityLift::ProneBenchPull,
        VelocityLift::ParallelSquat,
    ];

    /// The lift's name.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            VelocityLift::BenchPress => "bench press",
            VelocityLift::FullSquat => "full squat",
            VelocityLift::ProneBenchPull => "prone bench pull",
            VelocityLift::ParallelSquat => "parallel squat",
        }
    }

    /// Who published the equation, and when.
    #[must_use]
    pub fn source(self) -> &'static str {
        match self {
            VelocityLift::BenchPress => "González-Badillo & Sánchez-Medina 2010",
            VelocityLift::FullSquat => "Sánchez-Medina et al. 2017",
            VelocityLift::ProneBenchPull => "Sánchez-Medina et al. 2014",
            VelocityLift::ParallelSquat => "Naclerio & Larumbe-Zabala 2017",
        }
    }

    /// Which velocity the equation takes.
    #[must_use]
    pub fn speed_measure(self) -> SpeedMeasure {
        match self {
            VelocityLift::ParallelSquat => SpeedMeasure::Mean,
            VelocityLift::BenchPress | VelocityLift::FullSquat | VelocityLift::ProneBenchPull => {
                SpeedMeasure::MeanPropulsive
            }
        }
    }

    /// The speeds that the equation is used for, about 100 down to 30 % of 1RM: bench press 0.16–1.33,
    /// full squat 0.32–1.47, prone bench pull 0.50–1.58, parallel squat 0.24–1.08 m/s. Slower than at
    /// its 1RM the equation says nothing.
    #[must_use]
    pub fn range(self) -> VelocityRange {
        let (slowest, fastest) = match self {
            VelocityLift::BenchPress => (0.16, 1.33),
            VelocityLift::FullSquat => (0.32, 1.47),
            VelocityLift::ProneBenchPull => (0.50, 1.58),
            VelocityLift::ParallelSquat => (0.24, 1.08),
        };
        VelocityRange { slowest, fastest }
    }

    /// % of 1RM at a velocity in m/s. At the slowest end it may read up to 1 % above 100: the
    /// published speed at 1RM and the equation don't agree to the last digit.
    ///
    /// # Errors
    /// [`StrengthError::OutOfRange`] outside [`VelocityLift::range`] and for NaN.
    pub fn percent_one_rm(self, velocity: f64) -> Result<f64, StrengthError> {
        let VelocityRange { slowest, fastest } = self.range();
        let v = within("velocity", velocity, slowest, fastest, " m/s")?;
        let [a, b, c] = self.coefficients();
        Ok((a * v + b) * v + c)
    }

    /// The velocity in m/s at a % of 1RM: the slower root, on the branch that falls with load.
    ///
    /// # Errors
    /// [`StrengthError::OutOfRange`] outside 30 to 100 % and for NaN.
    pub fn velocity_at(self, percent_one_rm: f64) -> Result<f64, StrengthError> {
        let percent = within("load", percent_one_rm, LIGHTEST_PERCENT, 100.0, " % of 1RM")?;
        Ok(self.solve(percent))
    }

    /// The 1RM, in the unit of `load`, from a load and the fastest repetition's velocity in m/s.
    ///
    /// # Errors
    /// As [`VelocityLift::percent_one_rm`], and for a load that isn't above 0 and at most
    /// [`MAX_LOAD`].
    pub fn one_rm(self, load: f64, velocity: f64) -> Result<f64, StrengthError> {
        let load = positive("load", load, MAX_LOAD, "")?;
        Ok(100.0 * load / self.percent_one_rm(velocity)?)
    }

    /// a, b, c of p = a·v² + b·v + c.
    fn coefficients(self) -> [f64; 3] {
        match self {
            VelocityLift::BenchPress => [8.4326, -73.501, 112.33],
            VelocityLift::FullSquat => [-5.961, -50.71, 117.0],
            VelocityLift::ProneBenchPull => [18.5797, -104.182, 147.94],
            VelocityLift::ParallelSquat => [0.0, -83.54, 120.15],
        }
    }

    /// The root 2(c − p)/(−b + √(b² − 4a(c − p))), which also serves a = 0 and a < 0. The root exists
    /// for every load from 30 % up: the bench press parabola bottoms out at −48 %, the pull's at 2 %.
    fn solve(self, percent: f64) -> f64 {
        let [a, b, c] = self.coefficients();
        let rest = c - percent;
        2.0 * rest / (-b + (b * b - 4.0 * a * rest).sqrt())
    }
}
