//! One lifter's record as the recovery model reads it, event by event.
//!
//! Parameters are estimated anew whenever the record has grown by half; in between the filter takes
//! each event as it comes. A forecast uses only what came before.

use super::filter::{Dynamics, Event, State};
use super::fit::{self, RecoveryFit};
use super::parameters::{Parameters, Pooled};
use super::shape::Shape;
use crate::strength::Reserve;
use crate::trend::{AgainstUsual, Expectation, LeadSet};

/// The fewest lead sets from which a lifter's own parameters are estimated.
const FEWEST_LEAD_SETS: usize = 20;

/// How strongly the usual of a check-in item is held to most people's: in check-ins.
const USUAL_WEIGHT: f64 = 4.0;

/// One lifter.
#[derive(Clone, Debug)]
pub struct Lifter {
    shape: Shape,
    pooled: Pooled,
    parameters: Parameters,
    at: Vec<f64>,
    fit: RecoveryFit,
    events: Vec<Event>,
    n_leads: usize,
    fitted_at: usize,
    state: State,
    told: [(f64, f64); 3],
}

impl Lifter {
    /// A lifter of whom nothing is known, who does these lifts.
    #[must_use]
    pub fn new(shape: Shape, pooled: Pooled) -> Lifter {
        let parameters = fit::middle(&shape, &pooled);
        let at = vec![0.0; fit::n_parameters(&shape)];
        let state = Dynamics { shape: &shape, pooled: &pooled, parameters: &parameters }.start();
        Lifter {
            shape,
            pooled,
            parameters,
            at,
            fit: RecoveryFit::PooledValues,
            events: Vec::new(),
            n_leads: 0,
            fitted_at: 0,
            state,
            told: [(0.0, 0.0); 3],
        }
    }

    pub(super) fn dynamics(&self) -> Dynamics<'_> {
        Dynamics { shape: &self.shape, pooled: &self.pooled, parameters: &self.parameters }
    }

    /// Takes a check-in: hours slept, stress and soreness, as told.
    pub fn check_in(&mut self, days: f64, items: [Option<f64>; 3]) {
        let mut centred = [None; 3];
        for (idx, told) in items.iter().enumerate() {
            if let Some(value) = told {
                let (n, sum) = &mut self.told[idx];
                let usual =
                    (USUAL_WEIGHT * self.pooled.check_in_usual[idx] + *sum) / (USUAL_WEIGHT + *n);
                centred[idx] = Some(value - usual);
                *n += 1.0;
                *sum += value;
            }
        }
        self.take(Event::CheckIn { days, items: centred });
    }

    /// Takes a set's dose.
    pub fn work(&mut self, lift: usize, days: f64, hard_sets: f64) {
        self.take(Event::Work { lift, days, hard_sets });
    }

    /// Takes a lead set; false if it is too long to be read.
    pub fn lead(&mut self, lift: usize, set: LeadSet) -> bool {
        if set.measure(self.parameters.lifts[lift].curve).is_err() {
            return false;
        }
        self.n_leads += 1;
        self.take(Event::Lead { lift, set });
        true
    }

    fn take(&mut self, event: Event) {
        let Lifter { shape, pooled, parameters, state, .. } = self;
        Dynamics { shape, pooled, parameters }.take(state, &event);
        // Sets in a row of one lift are one dose: the sum is the same and quicker to read again.
        if let (
            Event::Work { lift, days, hard_sets },
            Some(Event::Work { lift: same, days: then, hard_sets: sum }),
        ) = (event, self.events.last_mut())
            && lift == *same
            && days == *then
        {
            *sum += hard_sets;
            return;
        }
        self.events.push(event);
    }

    /// Estimates the parameters anew if the record has grown enough since the last time.
    pub fn settle(&mut self) {
        if self.n_leads >= FEWEST_LEAD_SETS && self.n_leads * 2 >= self.fitted_at * 3 {
            self.refit();
        }
    }

    /// Estimates the parameters anew and reads the whole record with them.
    pub fn refit(&mut self) {
        let (at, report) = fit::fit(&self.shape, &self.pooled, &self.events, &self.at);
        self.parameters = fit::unpack(&self.shape, &self.pooled, &at);
        self.at = at;
        self.fit = report;
        self.fitted_at = self.n_leads;
        let dynamics = self.dynamics();
        let mut state = dynamics.start();
        for event in &self.events {
            dynamics.take(&mut state, event);
        }
        self.state = state;
    }

    /// The forecast of a lead set with this time, mass and reserve; none before the lift's first.
    #[must_use]
    pub fn expect(&self, lift: usize, next: &LeadSet) -> Option<Expectation> {
        if self.state.lifts[lift].exposures == 0 {
            return None;
        }
        let dynamics = self.dynamics();
        let ahead = dynamics.ahead(&self.state, lift, next.days);
        let own = self.parameters.lifts[lift];
        let (level, usual) = (self.shape.level(lift), self.shape.usual(lift));
        let capacity = dynamics.capacity(lift);
        let mut against = capacity.clone();
        against.push((usual, -1.0));
        let belief = &ahead.belief;
        let level_variance = belief.variance_of(&[(level, 1.0)]);
        let shown = Expectation {
            mean: belief.mean_of(&capacity),
            level_variance,
            acute_variance: belief.variance_of(&capacity) - level_variance,
            luck_variance: own.scatter * own.scatter,
            error_variance: 0.0,
            rounding_variance: 0.0,
            curve: own.curve,
            moved_kg: next.moved_kg,
            reserve: next.reserve.reps(),
            single: next.is_single(),
            curve_doubt: 0.0,
            against_usual: AgainstUsual {
                mean: belief.mean_of(&against),
                variance: belief.variance_of(&against),
                covariance: belief.covariance_of(&against, &capacity),
            },
            freak: self.pooled.freak,
        };
        let likely = shown.reps_showing(shown.mean).round().clamp(1.0, 20.0);
        let reps = likely.min((20.0 - shown.reserve).max(1.0)) as u16; // 1 to 20
        let seen = LeadSet { reps, ..*next }.measure(own.curve).ok()?;
        Some(Expectation {
            error_variance: self.parameters.reserve_share * seen.reserve_variance
                + seen.curve_variance,
            rounding_variance: seen.rounding_variance,
            ..shown
        })
    }

    /// What a set shows of ln 1RM with the curve in force; none if it is too long to be read.
    #[must_use]
    pub fn shown_by(&self, lift: usize, set: &LeadSet) -> Option<f64> {
        set.measure(self.parameters.lifts[lift].curve).ok().map(|seen| seen.log_one_rm)
    }

    /// The reserve to assume for a set whose reserve was not told.
    #[must_use]
    pub fn usual_reserve(&self, lift: usize) -> Reserve {
        let mut told: Vec<f64> = self
            .events
            .iter()
            .rev()
            .filter_map(|event| match event {
                Event::Lead { lift: other, set } if *other == lift => match set.reserve {
                    Reserve::Reported(reps) => Some(reps),
                    Reserve::Assumed { .. } => None,
                },
                _ => None,
            })
            .take(8)
            .collect();
        told.sort_by(f64::total_cmp);
        Reserve::unreported(told.get(told.len() / 2).copied().unwrap_or(1.0))
    }

    /// The parameters in force.
    #[must_use]
    pub fn parameters(&self) -> &Parameters {
        &self.parameters
    }

    /// How they came about.
    #[must_use]
    pub fn fit(&self) -> &RecoveryFit {
        &self.fit
    }

    /// Log-likelihood of the record with the parameters in force.
    #[must_use]
    pub fn log_likelihood(&self) -> f64 {
        self.state.log_likelihood
    }

    /// Everything taken so far.
    #[must_use]
    pub fn events(&self) -> &[Event] {
        &self.events
    }
}
