//! Small sums on numbers given by hand: a 1RM from one set or from bar speed, how well a table of
//! trials repeats, and what a week of sessions weighs.
//!
//! Nothing here knows a lifter or a record, and no call rests on it: readings are [`crate::session::by_hand`]'s.
//! Formulas and their sources are the engine's (`engine::strength`, `engine::repeatability`).

mod trials;

pub use trials::{Reliability, RepeatError, Repeatability, Span, TrialTable, repeatability};

use domain::{Load, Reps, Rir, Unit};
use engine::strength::{
    Equation, LoadRepCurve, Reserve, SpeedMeasure, StandardDeviation, StrengthError, VelocityLift,
    WeekLoad, session_load,
};
use serde::Serialize;

use crate::view::Interval;

/// The standard score that leaves one in ten above it.
const ONE_IN_TEN: f64 = 1.281_551_565_544_6;

/// A 1RM from one set.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SetEstimate {
    /// The unit of every load here.
    pub unit: &'static str,
    /// The load.
    pub load: f64,
    /// Repetitions done.
    pub reps: u16,
    /// Repetitions in reserve, if told.
    pub rir: Option<f64>,
    /// The 1RM by the working curve, with the bounds between which it lies eight times in ten.
    pub one_rm: Interval,
    /// Where the width comes from, each as a standard deviation in % of the 1RM.
    pub sources_pct: Vec<(&'static str, f64)>,
    /// What to bear in mind, one sentence each.
    pub notes: Vec<String>,
    /// The published equations, all taking repetitions done plus reserve.
    pub equations: Vec<EquationLine>,
}

/// One published equation.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct EquationLine {
    /// Who, and when.
    pub name: String,
    /// The equation, with w the load and r the repetitions to failure.
    pub formula: &'static str,
    /// The 1RM, if it gives one.
    pub one_rm: Option<f64>,
    /// Why it gives none.
    pub refused: Option<String>,
}

/// A 1RM from the speed of the bar.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SpeedEstimate {
    /// The lift of the published line.
    pub line: &'static str,
    /// Who published it, and when.
    pub source: &'static str,
    /// Which speed the line takes, in words.
    pub speed_measure: &'static str,
    /// The speed, m/s.
    pub speed: f64,
    /// The load in % of 1RM at this speed.
    pub percent: f64,
    /// The load, if given.
    pub load: Option<f64>,
    /// The 1RM, if a load was given.
    pub one_rm: Option<f64>,
    /// The unit of load and 1RM.
    pub unit: &'static str,
}

/// What seven days weighed.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct WeekEstimate {
    /// The load of each day.
    pub days: [f64; 7],
    /// Their sum.
    pub total: f64,
    /// Mean of a day.
    pub daily_mean: f64,
    /// By the sample standard deviation (sum of squares over 6).
    pub sample: Option<Evenness>,
    /// By the population standard deviation (sum of squares over 7).
    pub population: Option<Evenness>,
    /// Why there is neither monotony nor strain.
    pub undefined: Option<String>,
}

/// Monotony and strain by one kind of standard deviation.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Evenness {
    /// The standard deviation of the days.
    pub standard_deviation: f64,
    /// Mean over standard deviation.
    pub monotony: f64,
    /// Total times monotony.
    pub strain: f64,
}

/// The 1RM that one set shows. A reserve that wasn't told is taken as none, with the doubt that it
/// brings. The load–rep curve is the published mean: a single set says nothing of the lifter's own.
///
/// # Errors
/// [`StrengthError`] for a load that isn't above 0 and for a set of more than 20 repetitions to
/// failure.
pub fn estimate_from_set(
    load: Load,
    reps: Reps,
    rir: Option<Rir>,
) -> Result<SetEstimate, StrengthError> {
    let (value, unit) = (shown(load), load.unit());
    let reserve = rir.map_or(Reserve::unreported(0.0), |rir| Reserve::Reported(rir.get()));
    let curve = LoadRepCurve::EPLEY;
    let measured = curve.measure(value, f64::from(reps.get()), reserve)?;
    let to_failure = measured.reps_to_failure;
    // ln M = ln w + ln(1 + b·n), so that d ln M/d ln b = b·n/(1 + b·n).
    let curve_sd = measured.slope * to_failure * LoadRepCurve::BETWEEN_LIFTS.log_sd;
    let is_single = reps.get() == 1 && rir == Some(Rir::ZERO);
    let sources = [
        ("which curve this lifter and lift follow", curve_sd),
        ("the reserve", measured.reserve_variance.sqrt()),
        ("whole repetitions", measured.rounding_variance.sqrt()),
        ("the curve beyond 15 repetitions", measured.curve_variance.sqrt()),
    ];
    let sd = (measured.variance() + curve_sd * curve_sd).sqrt();
    let one_rm = if is_single {
        Interval { low: value, mid: value, high: value }
    } else {
        let at = |score: f64| (measured.log_one_rm + score * sd).exp();
        Interval { low: at(-ONE_IN_TEN), mid: at(0.0), high: at(ONE_IN_TEN) }
    };
    let in_pct = |(words, sd): &(&'static str, f64)| (*words, 100.0 * sd);
    let sources_pct = if is_single {
        Vec::new()
    } else {
        sources.iter().filter(|(_, sd)| *sd > 0.0).map(in_pct).collect()
    };
    Ok(SetEstimate {
        unit: unit.as_str(),
        load: value,
        reps: reps.get(),
        rir: rir.map(Rir::get),
        one_rm,
        sources_pct,
        notes: notes(is_single, rir, to_failure),
        equations: Equation::ALL.iter().map(|e| equation_line(*e, value, to_failure)).collect(),
    })
}

/// The share of 1RM that a bar speed means by a published line, and with a load the 1RM itself.
///
/// # Errors
/// [`StrengthError`] for a speed outside the line's range and for a load that isn't above 0.
pub fn estimate_from_speed(
    line: VelocityLift,
    speed: f64,
    load: Option<Load>,
) -> Result<SpeedEstimate, StrengthError> {
    let one_rm = load.map(|load| line.one_rm(shown(load), speed)).transpose()?;
    Ok(SpeedEstimate {
        line: line.name(),
        source: line.source(),
        speed_measure: match line.speed_measure() {
            SpeedMeasure::MeanPropulsive => "mean propulsive speed",
            SpeedMeasure::Mean => "mean speed of the whole lifting phase",
        },
        speed,
        percent: line.percent_one_rm(speed)?,
        load: load.map(shown),
        one_rm,
        unit: load.map_or(Unit::Kg, Load::unit).as_str(),
    })
}

/// The published lines by which a speed can be read: name, slowest and fastest speed in m/s.
#[must_use]
pub fn speed_lines() -> Vec<(&'static str, f64, f64)> {
    let line = |line: &VelocityLift| (line.name(), line.range().slowest, line.range().fastest);
    VelocityLift::ALL.iter().map(line).collect()
}

/// The published line of this name, in any case, with spaces or hyphens.
#[must_use]
pub fn speed_line(name: &str) -> Option<VelocityLift> {
    let wanted = domain::bounds::folded(name);
    VelocityLift::ALL.into_iter().find(|line| domain::bounds::folded(line.name()) == wanted)
}

/// The load of one session: its RPE (0 to 10) times its minutes, in arbitrary units.
///
/// # Errors
/// [`StrengthError`] for an RPE or a length out of range.
pub fn load_of_session(session_rpe: f64, minutes: f64) -> Result<f64, StrengthError> {
    session_load(session_rpe, minutes)
}

/// Total, monotony and strain of seven days.
///
/// # Errors
/// [`StrengthError`] for a daily load out of range.
pub fn week_load(days: [f64; 7]) -> Result<WeekEstimate, StrengthError> {
    let week = WeekLoad::new(days)?;
    let evenness = |kind: StandardDeviation| {
        Some(Evenness {
            standard_deviation: week.standard_deviation(kind),
            monotony: week.monotony(kind).ok()?,
            strain: week.strain(kind).ok()?,
        })
    };
    Ok(WeekEstimate {
        days,
        total: week.total(),
        daily_mean: week.daily_mean(),
        sample: evenness(StandardDeviation::Sample),
        population: evenness(StandardDeviation::Population),
        undefined: week.monotony(StandardDeviation::Sample).err().map(|error| error.to_string()),
    })
}

/// The load in its own unit to two decimals, as it is shown.
fn shown(load: Load) -> f64 {
    (load.value() * 100.0).round() / 100.0
}

fn notes(is_single: bool, rir: Option<Rir>, to_failure: f64) -> Vec<String> {
    let mut notes = Vec::new();
    if is_single {
        notes.push(
            "A single with nothing in reserve is the 1RM of that day itself: take it as it is."
                .to_owned(),
        );
    }
    if rir.is_none() {
        notes.push(
            "The reserve was not given, so the set was taken as one to failure: with anything left, \
             the 1RM is higher."
                .to_owned(),
        );
    }
    if !is_single && to_failure > engine::strength::FAMILIAR_REPS {
        notes.push(
            "More than 10 repetitions to failure: the equations drift apart here, and a heavier set \
             says more."
                .to_owned(),
        );
    }
    notes
}

fn equation_line(equation: Equation, load: f64, to_failure: f64) -> EquationLine {
    let estimated = equation.one_rm(load, to_failure);
    EquationLine {
        name: format!("{} {}", equation.name(), equation.year()),
        formula: equation.formula(),
        one_rm: estimated.as_ref().ok().copied(),
        refused: estimated.err().map(|error| error.to_string()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 100 kg × 5 at a reserve of 2: Epley's curve at 7 repetitions, 100·(1 + 7/30).
    #[test]
    fn a_set_is_read_by_the_curve_with_its_doubt() {
        let (load, reps) = (Load::from_kg(100.0).unwrap(), Reps::new(5).unwrap());
        let told = estimate_from_set(load, reps, Some(Rir::new(2.0).unwrap())).unwrap();
        assert!((told.one_rm.mid - 100.0 * (1.0 + 7.0 / 30.0)).abs() < 1e-9);
        assert!(told.one_rm.low < told.one_rm.mid && told.one_rm.mid < told.one_rm.high);
        assert_eq!(told.equations.len(), 9);
        let untold = estimate_from_set(load, reps, None).unwrap();
        let width = |e: &SetEstimate| e.one_rm.high / e.one_rm.low;
        let failure = estimate_from_set(load, reps, Some(Rir::ZERO)).unwrap();
        assert!(width(&untold) > width(&failure), "not knowing the reserve is worse than none");
        assert!((untold.one_rm.mid - failure.one_rm.mid).abs() < 1e-9);
    }

    #[test]
    fn a_single_to_failure_is_its_own_answer() {
        let (load, reps) = (Load::new(225.0, Unit::Lb).unwrap(), Reps::new(1).unwrap());
        let told = estimate_from_set(load, reps, Some(Rir::ZERO)).unwrap();
        assert_eq!(told.one_rm, Interval { low: 225.0, mid: 225.0, high: 225.0 });
        assert_eq!(told.unit, "lb");
    }

    /// Foster 1998's definitions on a week whose mean and deviations are whole: loads 0 and 700 once
    /// each and five days of 350 have mean 350 and a sum of squares of 2·350².
    #[test]
    fn a_week_has_its_monotony_by_either_deviation() {
        let told = week_load([0.0, 350.0, 350.0, 700.0, 350.0, 350.0, 350.0]).unwrap();
        assert_eq!((told.total, told.daily_mean), (2450.0, 350.0));
        let (sample, population) = (told.sample.unwrap(), told.population.unwrap());
        assert!((sample.monotony - 3.0_f64.sqrt()).abs() < 1e-12); // 350/(350·√(2/6))
        assert!((population.monotony - 3.5_f64.sqrt()).abs() < 1e-12);
        assert!((sample.strain - 2450.0 * 3.0_f64.sqrt()).abs() < 1e-9);
        assert!(week_load([300.0; 7]).unwrap().undefined.is_some());
    }

    #[test]
    fn a_speed_needs_a_line() {
        let line = speed_line("Bench-Press").unwrap();
        let told = estimate_from_speed(line, 0.45, Load::from_kg(80.0).ok()).unwrap();
        assert!((told.one_rm.unwrap() - 8000.0 / told.percent).abs() < 1e-9);
        assert!(estimate_from_speed(line, 2.0, None).is_err());
        assert_eq!(speed_line("curl"), None);
    }
}
