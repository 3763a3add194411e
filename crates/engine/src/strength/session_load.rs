//! What sessions weigh: session load, monotony and strain of a week, and the two-component
//! impulse–response model.
//!
//! These describe training; no call is built on them. The model's constants are ill-determined from
//! sparse data, differ widely between athletes and were mostly fitted to endurance work, so it
//! illustrates and does not forecast. Formulas: Foster 1998 (Med Sci Sports Exerc 30:1164) and 2001
//! (J Strength Cond Res 15:109), from memory; Banister 1975.

use super::{StrengthError, positive, within};

/// Minutes in a day: no session is longer.
const MAX_MINUTES: f64 = 1_440.0;

/// The top of the session RPE scale.
const MAX_RPE: f64 = 10.0;

/// The largest load of one day that is taken: the top of the scale all day long.
const MAX_DAILY_LOAD: f64 = MAX_RPE * MAX_MINUTES;

/// The largest magnitude of the model's gains and baseline, and of its time constants in days.
const MAX_CONSTANT: f64 = 1e6;

/// Session load in arbitrary units: the session's RPE (0–10, asked about half an hour afterwards)
/// times its minutes (Foster 2001).
///
/// # Errors
/// [`StrengthError`] for an RPE outside 0–10, for minutes that aren't above 0 and at most 1440, and
/// for NaN.
pub fn session_load(session_rpe: f64, minutes: f64) -> Result<f64, StrengthError> {
    let rpe = within("session RPE", session_rpe, 0.0, MAX_RPE, "")?;
    Ok(rpe * positive("session length", minutes, MAX_MINUTES, " minutes")?)
}

/// Which standard deviation of the seven days divides the mean. Monotony is 8 % higher with the
/// population one, so figures made with different ones can't be compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum StandardDeviation {
    /// Sum of squares over 6.
    Sample,
    /// Sum of squares over 7.
    Population,
}

/// The loads of seven days in a row; a rest day counts as 0.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WeekLoad {
    days: [f64; 7],
}

impl WeekLoad {
    /// Takes the load of each day, sessions of one day added up.
    ///
    /// # Errors
    /// [`StrengthError::OutOfRange`] for a load below 0, above 14 400 (RPE 10 all day) or NaN.
    pub fn new(days: [f64; 7]) -> Result<WeekLoad, StrengthError> {
        for load in days {
            within("daily load", load, 0.0, MAX_DAILY_LOAD, "")?;
        }
        Ok(WeekLoad { days })
    }

    /// The week's load: the sum of its days.
    #[must_use]
    pub fn total(&self) -> f64 {
        self.days.iter().sum()
    }

    /// The mean load of a day.
    #[must_use]
    pub fn daily_mean(&self) -> f64 {
        self.total() / 7.0
    }

    /// The standard deviation of the daily load; exactly 0 for a week of equal days.
    #[must_use]
    pub fn standard_deviation(&self, kind: StandardDeviation) -> f64 {
        if self.is_equal() {
            return 0.0;
        }
        let mean = self.daily_mean();
        let squares: f64 = self.days.iter().map(|load| (load - mean).powi(2)).sum();
        let divisor = match kind {
            StandardDeviation::Sample => 6.0,
            StandardDeviation::Population => 7.0,
        };
        (squares / divisor).sqrt()
    }

    /// Monotony: mean daily load over its standard deviation (Foster 1998).
    ///
    /// # Errors
    /// [`StrengthError::EqualWeek`] where every day carried the same load, a week of rest included.
    pub fn monotony(&self, kind: StandardDeviation) -> Result<f64, StrengthError> {
        if self.is_equal() {
            return Err(StrengthError::EqualWeek { daily: self.days[0] });
        }
        Ok(self.daily_mean() / self.standard_deviation(kind))
    }

    /// Strain: the week's load times its monotony (Foster 1998).
    ///
    /// # Errors
    /// As [`WeekLoad::monotony`].
    pub fn strain(&self, kind: StandardDeviation) -> Result<f64, StrengthError> {
        Ok(self.total() * self.monotony(kind)?)
    }

    fn is_equal(&self) -> bool {
        self.days.iter().all(|load| *load == self.days[0])
    }
}

/// The model p(n) = p0 + k1·Σ w_s·e^(−(n−s)/τ1) − k2·Σ w_s·e^(−(n−s)/τ2) over days s < n, with
/// τ1 > τ2 and k2 > k1: every load helps for long and hinders more strongly, but not for as long.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ImpulseResponse {
    baseline: f64,
    fitness_gain: f64,
    fatigue_gain: f64,
    fitness_days: f64,
    fatigue_days: f64,
}

impl ImpulseResponse {
    /// Takes p0, the gains k1 and k2 (performance per unit of load) and the time constants τ1 and τ2
    /// in days. Morton 1990 (J Appl Physiol 69:1171; from memory) used k 1 and 2, τ 45 and 15 days.
    ///
    /// # Errors
    /// [`StrengthError`] for a baseline outside ±10⁶, for a gain or time constant that isn't above 0
    /// and at most 10⁶, and where fitness isn't slower or fatigue isn't stronger than the other.
    pub fn new(
        baseline: f64,
        (fitness_gain, fatigue_gain): (f64, f64),
        (fitness_days, fatigue_days): (f64, f64),
    ) -> Result<ImpulseResponse, StrengthError> {
        within("baseline", baseline, -MAX_CONSTANT, MAX_CONSTANT, "")?;
        positive("fitness gain", fitness_gain, MAX_CONSTANT, "")?;
        positive("fatigue gain", fatigue_gain, MAX_CONSTANT, "")?;
        positive("fitness time constant", fitness_days, MAX_CONSTANT, " days")?;
        positive("fatigue time constant", fatigue_days, MAX_CONSTANT, " days")?;
        in_order("fitness time constant", fitness_days, "fatigue time constant", fatigue_days)?;
        in_order("fatigue gain", fatigue_gain, "fitness gain", fitness_gain)?;
        Ok(ImpulseResponse { baseline, fitness_gain, fatigue_gain, fitness_days, fatigue_days })
    }

    /// Performance on day 1, 2, … up to the day after the last load: `loads[0]` is day 1's, and the
    /// first value, on which no load has acted yet, is the baseline. Always `loads.len() + 1` values.
    ///
    /// # Errors
    /// [`StrengthError::OutOfRange`] for a load below 0, above 14 400 or NaN.
    pub fn performance(&self, loads: &[f64]) -> Result<Vec<f64>, StrengthError> {
        let keep_fitness = (-1.0 / self.fitness_days).exp();
        let keep_fatigue = (-1.0 / self.fatigue_days).exp();
        let (mut fitness, mut fatigue) = (0.0, 0.0);
        let mut performance = Vec::with_capacity(loads.len() + 1);
        performance.push(self.baseline);
        for load in loads {
            let load = within("daily load", *load, 0.0, MAX_DAILY_LOAD, "")?;
            fitness = (fitness + load) * keep_fitness;
            fatigue = (fatigue + load) * keep_fatigue;
            performance
                .push(self.baseline + self.fitness_gain * fitness - self.fatigue_gain * fatigue);
        }
        Ok(performance)
    }

    /// Days after a single load until its effect turns from harm to help:
    /// τ1τ2/(τ1 − τ2)·ln(k2/k1).
    #[must_use]
    pub fn crossing_day(&self) -> f64 {
        self.shared_factor() * (self.fatigue_gain / self.fitness_gain).ln()
    }

    /// Days after a single load until its help is greatest: τ1τ2/(τ1 − τ2)·ln(k2τ1/(k1τ2)).
    #[must_use]
    pub fn peak_day(&self) -> f64 {
        let gains = self.fatigue_gain / self.fitness_gain;
        self.shared_factor() * (gains * self.fitness_days / self.fatigue_days).ln()
    }

    fn shared_factor(&self) -> f64 {
        self.fitness_days * self.fatigue_days / (self.fitness_days - self.fatigue_days)
    }
}

fn in_order(
    larger: &'static str,
    larger_got: f64,
    smaller: &'static str,
    smaller_got: f64,
) -> Result<(), StrengthError> {
    if larger_got > smaller_got {
        Ok(())
    } else {
        Err(StrengthError::WrongOrder { larger, smaller, larger_got, smaller_got })
    }
}
