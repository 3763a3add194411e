//! The one-lift model at work: read lead sets in order, forecast the next.
//!
//! Parameters are estimated anew while the record is short and then whenever it has grown by a
//! seventh; in between the filter takes each set as it comes. A forecast uses only what came before.

use super::expectation::{AgainstUsual, Expectation, Z_80};
use super::fit::{self, FEWEST_SETS, FitReport, LiftTrend, Parameters};
use super::lead_set::LeadSet;
use super::prior::Prior;
use crate::recovery::freak::Freak;
use crate::statespace::{self, Filter, StateSpaceError};
use crate::strength::{Reserve, StrengthError};

/// How many of the latest sets say what is usual for the lift now.
const USUAL_SETS: usize = 8;

/// A lift's scatter: the sd of ln 1RM from one lead set to the next, its trend taken out, as a CV
/// in %, with the 80 % interval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scatter {
    /// Lower bound, %.
    pub low_pct: f64,
    /// Estimate, shrunk towards the lift's class, %.
    pub pct: f64,
    /// Upper bound, %.
    pub high_pct: f64,
}

/// Today's 1RM and trend.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TodayEstimate {
    /// Mean of ln 1RM (the level), the 1RM being mass moved in kilograms.
    pub log_one_rm: f64,
    /// Its standard deviation.
    pub log_one_rm_sd: f64,
    /// Slope of ln 1RM per day.
    pub slope: f64,
    /// Its standard deviation.
    pub slope_sd: f64,
}

/// The level as it looks from the whole record, for charts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SmoothedLevel {
    /// When, in days.
    pub days: f64,
    /// Mean of ln 1RM.
    pub log_one_rm: f64,
}

/// Why a lead set was not read.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum TrendError {
    /// The set itself can't be read.
    #[error(transparent)]
    Set(#[from] StrengthError),
    /// The series can't be followed.
    #[error(transparent)]
    Series(#[from] StateSpaceError),
}

/// One lift of one lifter.
#[derive(Clone, Debug)]
pub struct OneLift {
    prior: Prior,
    sets: Vec<LeadSet>,
    parameters: Parameters,
    report: FitReport,
    filter: Option<Filter<LiftTrend, 2>>,
    fitted_at: usize,
}

impl OneLift {
    /// A lift with nothing on record.
    #[must_use]
    pub fn new(prior: Prior) -> OneLift {
        let parameters = Parameters::of_class(&prior);
        OneLift {
            prior,
            sets: Vec::new(),
            parameters,
            report: FitReport::ClassValues,
            filter: None,
            fitted_at: 0,
        }
    }

    /// Reads one more lead set.
    ///
    /// # Errors
    /// The set has more than 20 repetitions to failure, moves no mass, or is earlier than the last
    /// one; it is then left out, and the lift stays as it was.
    pub fn read(&mut self, set: LeadSet) -> Result<(), TrendError> {
        set.measure(self.parameters.curve)?;
        if let Some(last) = self.sets.last().filter(|last| set.days < last.days) {
            return Err(StateSpaceError::TimeBackwards { from: last.days, to: set.days }.into());
        }
        self.sets.push(set);
        if self.is_fit_due() {
            let (parameters, report) = fit::fit(&self.prior, &self.sets, self.parameters);
            (self.parameters, self.report) = (parameters, report);
            self.fitted_at = self.sets.len();
            self.filter = None;
        }
        self.follow()
    }

    /// How many lead sets have been read.
    #[must_use]
    pub fn exposures(&self) -> usize {
        self.sets.len()
    }

    /// The sets read, in order of time.
    #[must_use]
    pub fn sets(&self) -> &[LeadSet] {
        &self.sets
    }

    /// The estimates in force.
    #[must_use]
    pub fn parameters(&self) -> &Parameters {
        &self.parameters
    }

    /// How the estimates came about.
    #[must_use]
    pub fn fit_report(&self) -> &FitReport {
        &self.report
    }

    /// The forecast of a lead set with this time, mass and reserve; none before the first set. The
    /// repetitions of `next` matter only in that a single with nothing left is read as one.
    #[must_use]
    pub fn expect(&self, next: &LeadSet) -> Option<Expectation> {
        let today = self.today(next.days)?;
        let curve = self.parameters.curve;
        let scatter = self.parameters.scatter * self.parameters.scatter;
        let day = self.prior.acute_share * scatter;
        let shown = Expectation {
            mean: today.log_one_rm,
            level_variance: today.log_one_rm_sd * today.log_one_rm_sd,
            acute_variance: day,
            luck_variance: (1.0 - self.prior.acute_share) * scatter,
            error_variance: 0.0,
            rounding_variance: 0.0,
            curve,
            moved_kg: next.moved_kg,
            reserve: next.reserve.reps(),
            single: next.is_single(),
            curve_doubt: 0.0,
            // Only capacity on the day can be a shortfall; that the level isn't known exactly is no
            // sign of one.
            against_usual: AgainstUsual { mean: 0.0, variance: day, covariance: day },
            freak: Freak::NONE,
        };
        let likely = shown.reps_showing(shown.mean).round().clamp(1.0, 20.0);
        let likely = LeadSet {
            reps: (likely.min((20.0 - shown.reserve).max(1.0))) as u16, // 1 to 20
            ..*next
        };
        let seen = likely.measure(curve).ok()?;
        let curve_doubt = self.curve_doubt(likely.reps_to_failure());
        Some(Expectation {
            error_variance: self.parameters.reserve_share * seen.reserve_variance
                + seen.curve_variance,
            rounding_variance: seen.rounding_variance,
            luck_variance: shown.luck_variance + curve_doubt,
            curve_doubt,
            ..shown
        })
    }

    /// The level and slope on a day not before the last set; none before the first set.
    #[must_use]
    pub fn today(&self, days: f64) -> Option<TodayEstimate> {
        let mut filter = self.filter.clone()?;
        filter.predict_to(days).ok()?;
        let state = filter.state();
        let sd = |row: usize| state.covariance[(row, row)].max(0.0).sqrt();
        (state.n_diffuse() == 0).then(|| TodayEstimate {
            log_one_rm: state.mean[0],
            log_one_rm_sd: sd(0),
            slope: state.mean[1],
            slope_sd: sd(1),
        })
    }

    /// What a set shows of ln 1RM with the curve in force; none if it is too long to be read.
    #[must_use]
    pub fn shown_by(&self, set: &LeadSet) -> Option<f64> {
        set.measure(self.parameters.curve).ok().map(|seen| seen.log_one_rm)
    }

    /// The scatter of a usual lead set: σ² and the usual counting and reserve errors.
    #[must_use]
    pub fn scatter(&self) -> Scatter {
        let usual = self.usual_known_variance();
        let own = self.parameters.scatter * self.parameters.scatter;
        let total = own + usual;
        // Information on ln(total sd): the prior's, and two per degree of freedom of the record.
        let freedom = self.sets.len().saturating_sub(2) as f64;
        let prior_sd = self.prior.scatter.log_sd * own / total;
        let log_sd = (1.0 / (prior_sd * prior_sd).max(1e-6) + 2.0 * freedom).sqrt().recip();
        let pct = |sd: f64| 100.0 * sd.exp_m1();
        let at = |z: f64| pct(total.sqrt() * (z * log_sd).exp());
        Scatter { low_pct: at(-Z_80), pct: at(0.0), high_pct: at(Z_80) }
    }

    /// The reserve to assume for a set whose reserve was not told: the median of the latest that
    /// were, else 1 (common practice, no source).
    #[must_use]
    pub fn usual_reserve(&self) -> Reserve {
        let mut told: Vec<f64> = self
            .sets
            .iter()
            .rev()
            .filter_map(|set| match set.reserve {
                Reserve::Reported(reps) => Some(reps),
                Reserve::Assumed { .. } => None,
            })
            .take(USUAL_SETS)
            .collect();
        told.sort_by(f64::total_cmp);
        Reserve::unreported(told.get(told.len() / 2).copied().unwrap_or(1.0))
    }

    fn is_fit_due(&self) -> bool {
        let (now, then) = (self.sets.len(), self.fitted_at);
        now >= FEWEST_SETS && (now <= 12 || now * 7 >= then * 8)
    }

    /// Brings the filter up to the last set: from the start after a fit, else by one step.
    fn follow(&mut self) -> Result<(), TrendError> {
        let unread = if self.filter.is_some() { self.sets.len() - 1 } else { 0 };
        let mut filter = match self.filter.take() {
            Some(filter) => filter,
            None => Filter::new(self.parameters.model(&self.prior)?, &fit::start(&self.prior))?,
        };
        for set in &self.sets[unread..] {
            if let Some(observation) = self.parameters.observe(set) {
                filter.update(&observation)?;
            }
        }
        self.filter = Some(filter);
        Ok(())
    }

    /// Variance from b being uncertain, at n repetitions to failure: nothing at the repetitions that
    /// the record has, more the further away. ∂y/∂ln b = b·n/(1 + b·n).
    fn curve_doubt(&self, reps_to_failure: f64) -> f64 {
        let b = self.parameters.curve.b();
        let lean = |n: f64| b * n / (1.0 + b * n);
        let latest = self.latest();
        let leans: Vec<f64> = latest.iter().map(|set| lean(set.reps_to_failure())).collect();
        let usual = mean(&leans).unwrap_or_else(|| lean(reps_to_failure));
        let noise = self.parameters.scatter.powi(2) + self.usual_known_variance();
        let told: f64 =
            self.sets.iter().map(|set| (lean(set.reps_to_failure()) - usual).powi(2) / noise).sum();
        let log_b_variance = (self.prior.curve_b.log_sd.powi(-2) + told).recip();
        log_b_variance * (lean(reps_to_failure) - usual).powi(2)
    }

    fn usual_known_variance(&self) -> f64 {
        let known: Vec<f64> = self
            .latest()
            .iter()
            .filter_map(|set| set.measure(self.parameters.curve).ok())
            .map(|seen| self.parameters.known_variance(&seen))
            .collect();
        mean(&known).unwrap_or(0.0)
    }

    fn latest(&self) -> &[LeadSet] {
        &self.sets[self.sets.len().saturating_sub(USUAL_SETS)..]
    }
}

/// The level at every set of a record that can be read, as it looks from all of them, with these parameters
/// and on their curve.
///
/// # Errors
/// The series can't be filtered: its times go backwards.
pub fn smoothed(
    parameters: &Parameters,
    prior: &Prior,
    record: impl IntoIterator<Item = LeadSet>,
) -> Result<Vec<SmoothedLevel>, StateSpaceError> {
    let observations: Vec<_> =
        record.into_iter().filter_map(|set| parameters.observe(&set)).collect();
    let model = parameters.model(prior)?;
    let filtered = statespace::filter_series(&model, &fit::start(prior), &observations)?;
    let smoothed = statespace::smooth(&model, &filtered);
    let levels = observations.iter().zip(&smoothed.states);
    Ok(levels
        .map(|(observation, state)| SmoothedLevel {
            days: observation.time_days,
            log_one_rm: state.mean[0],
        })
        .collect())
}

fn mean(values: &[f64]) -> Option<f64> {
    (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64)
}
