//! Scatter, drift, curve and reserve error of one lift, estimated from its lead sets.
//!
//! Maximum a posteriori with the priors of [`super::prior`]. The likelihood is that of the
//! repetitions, so each set carries the log-Jacobian ln(b/(1 + b·n)); without it b would collapse.

use domain::Limits;
use nalgebra::{Matrix2, SMatrix, Vector2};

use super::lead_set::LeadSet;
use super::prior::Prior;
use crate::statespace::{
    Convention, LocalLinearTrend, MaximiseOptions, Model, Observation, Parameter, Start,
    StateSpaceError, Verdict, log_likelihood, maximise,
};
use crate::strength::{LoadRepCurve, SetMeasurement};

/// The fewest lead sets from which anything is estimated; before that the prior stands.
pub(super) const FEWEST_SETS: usize = 4;

/// Where a lift's parameters stand.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Parameters {
    /// σ: sd of ln 1RM.
    pub scatter: f64,
    /// √q: sd of ln 1RM per √day.
    pub drift: f64,
    /// The load–rep curve.
    pub curve: LoadRepCurve,
    /// λ.
    pub reserve_share: f64,
}

/// How the parameters came about.
#[derive(Clone, Debug, PartialEq)]
pub enum FitReport {
    /// Too few sets: the values of the lift's class stand.
    ClassValues,
    /// Estimated, and how the search ended.
    Fitted(Verdict),
    /// The search could not start; the values of the lift's class stand.
    Failed(String),
}

impl FitReport {
    /// What to tell the reader, as a sentence.
    #[must_use]
    pub fn words(&self) -> String {
        match self {
            FitReport::ClassValues => {
                "Too few lead sets to estimate anything: the values of its class stand.".to_owned()
            }
            FitReport::Fitted(Verdict::Converged) => "The estimates converged.".to_owned(),
            FitReport::Fitted(Verdict::FlatAlong(names)) => {
                format!(
                    "The estimates converged, but the record hardly tells the {}.",
                    names.join(" and the ")
                )
            }
            FitReport::Fitted(Verdict::Stalled | Verdict::OutOfIterations) => {
                "The estimates did not converge: take the scatter and the calls with doubt."
                    .to_owned()
            }
            FitReport::Failed(reason) => {
                format!("Nothing could be estimated ({reason}): the values of its class stand.")
            }
        }
    }
}

impl Parameters {
    /// The middles of the prior.
    pub(super) fn of_class(prior: &Prior) -> Parameters {
        Parameters {
            scatter: prior.scatter.middle,
            drift: prior.drift.middle,
            curve: LoadRepCurve::new(prior.curve_b.middle).unwrap_or(LoadRepCurve::EPLEY),
            reserve_share: prior.reserve_share.middle,
        }
    }

    /// The trend's model.
    ///
    /// # Errors
    /// A drift or slope variance that isn't finite.
    pub(super) fn model(&self, prior: &Prior) -> Result<LiftTrend, StateSpaceError> {
        let trend =
            LocalLinearTrend::try_new(self.drift * self.drift, prior.slope_variance_per_day)?;
        Ok(LiftTrend { trend })
    }

    /// The set as an observation of the trend; none if it is too long to be read.
    pub(super) fn observe(&self, set: &LeadSet) -> Option<Observation> {
        let seen = set.measure(self.curve).ok()?;
        let variance = self.scatter * self.scatter + self.known_variance(&seen);
        Some(
            Observation::new(set.days, seen.log_one_rm, variance)
                .with_log_jacobian(seen.log_jacobian),
        )
    }

    /// The variance of a set that counting, reserve and curve explain.
    pub(super) fn known_variance(&self, seen: &SetMeasurement) -> f64 {
        seen.rounding_variance + self.reserve_share * seen.reserve_variance + seen.curve_variance
    }
}

/// A local linear trend that also doubts its level after an absence: beyond two weeks away, 1 % for
/// each further week. (Bosquet 2013: maximal force falls with time away, SMD −0.46; McMaster 2013,
/// from memory: strength holds for about three weeks. The rate is our choice.)
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct LiftTrend {
    trend: LocalLinearTrend,
}

const DOUBT_PER_DAY_AWAY: f64 = 0.01 / 7.0;

impl Model<2> for LiftTrend {
    fn transition(&self, gap_days: f64) -> SMatrix<f64, 2, 2> {
        self.trend.transition(gap_days)
    }

    fn process_noise(&self, gap_days: f64) -> SMatrix<f64, 2, 2> {
        let away = (gap_days - Limits::AWAY_DAYS).max(0.0);
        let mut noise = self.trend.process_noise(gap_days);
        noise[(0, 0)] += (DOUBT_PER_DAY_AWAY * away).powi(2);
        noise
    }
}

/// The start: nothing is known of the level, and the slope is what lifters' slopes are.
pub(super) fn start(prior: &Prior) -> Start<2> {
    Start {
        mean: Vector2::new(0.0, prior.slope_mean),
        covariance: Matrix2::new(0.0, 0.0, 0.0, prior.slope_sd * prior.slope_sd),
        diffuse: [true, false],
        time_days: None,
    }
}

/// Estimates the parameters, starting from `from`.
pub(super) fn fit(prior: &Prior, sets: &[LeadSet], from: Parameters) -> (Parameters, FitReport) {
    if sets.len() < FEWEST_SETS {
        return (Parameters::of_class(prior), FitReport::ClassValues);
    }
    let objective = |logs: &[f64]| {
        let Some(parameters) = unpack(logs) else { return f64::NEG_INFINITY };
        posterior(prior, sets, &parameters, logs)
    };
    match maximise(objective, &parameters_around(&from), &MaximiseOptions::default()) {
        Ok(maximum) => match unpack(&maximum.log_values) {
            Some(parameters) => (parameters, FitReport::Fitted(maximum.verdict)),
            None => (Parameters::of_class(prior), FitReport::Failed("out of bounds".to_owned())),
        },
        Err(error) => (Parameters::of_class(prior), FitReport::Failed(error.to_string())),
    }
}

/// The log-posterior, up to a constant.
fn posterior(prior: &Prior, sets: &[LeadSet], parameters: &Parameters, logs: &[f64]) -> f64 {
    let observations = sets.iter().filter_map(|set| parameters.observe(set));
    let likelihood = parameters
        .model(prior)
        .and_then(|model| log_likelihood(&model, &start(prior), observations))
        .map_or(f64::NEG_INFINITY, |total| total.total(Convention::EveryObservation));
    let [scatter, drift, b, share] = [logs[0], logs[1], logs[2], logs[3]];
    likelihood
        + prior.scatter.log_density(scatter)
        + prior.drift.log_density(drift)
        + prior.curve_b.log_density(b)
        + prior.reserve_share.log_density(share)
}

fn unpack(logs: &[f64]) -> Option<Parameters> {
    let curve = LoadRepCurve::new(logs[2].exp()).ok()?;
    Some(Parameters {
        scatter: logs[0].exp(),
        drift: logs[1].exp(),
        curve,
        reserve_share: logs[3].exp(),
    })
}

fn parameters_around(from: &Parameters) -> [Parameter; 4] {
    let bounded = |name, start: f64, lower: f64, upper: f64| Parameter {
        name,
        start: start.clamp(lower, upper),
        lower,
        upper,
    };
    [
        bounded("scatter", from.scatter, 0.002, 0.3),
        bounded("drift", from.drift, 1e-5, 0.05),
        bounded(
            "load–rep curve",
            from.curve.b(),
            LoadRepCurve::MIN_B * 1.001,
            LoadRepCurve::MAX_B * 0.999,
        ),
        bounded("reserve error", from.reserve_share, 0.01, 4.0),
    ]
}
