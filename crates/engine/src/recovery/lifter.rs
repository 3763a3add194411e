//! One lifter's record as the recovery model reads it, event by event.
//!
//! Parameters are estimated anew whenever the record has grown by half; in between the filter takes
//! each event as it comes. A forecast uses only what came before.

pub mod kept;

use std::sync::OnceLock;

use super::filter::{Dynamics, Event};
use super::fit::{self, RecoveryFit};
use super::forecast::{Noise, Sums, forecast};
use super::parameters::{Parameters, Pooled};
use super::shape::{ABSENCE, Shape};
use super::state::State;
use super::work_sets::WorkSets;
use crate::strength::{LoadRepCurve, Reserve, SetMeasurement};
use crate::trend::expectation::Z_80;
use crate::trend::{self, Expectation, LeadSet, Scatter, TodayEstimate};

/// The fewest lead sets from which a lifter's own parameters are estimated.
const FEWEST_LEAD_SETS: usize = 20;

/// How far the load of a later set may be from the lead set's for both to be taken together, in ln kg.
const FARTHEST_LOAD: f64 = 0.1;

/// How many of the latest sets say what is usual for a lift now.
const USUAL_SETS: usize = 8;

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
    /// How many of the events the newest fit read.
    fitted_events: usize,
    state: State,
    told: [(f64, f64); 3],
    latest: Vec<WorkSets>,
    begun: Option<Begun>,
    /// Whether the day that is being trained has to be read again before `state` is true.
    is_behind: bool,
    /// The day read again, once somebody asks.
    caught_up: OnceLock<State>,
}

/// The day that is being trained: what was believed before its first lead set, and its events since.
#[derive(Clone, Debug)]
struct Begun {
    day: f64,
    before: State,
    from: usize,
}

impl Lifter {
    /// A lifter of whom nothing is known, who does these lifts.
    #[must_use]
    pub fn new(shape: Shape, pooled: Pooled) -> Lifter {
        let parameters = fit::middle(&shape, &pooled);
        let n_lifts = shape.n_lifts();
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
            fitted_events: 0,
            state,
            told: [(0.0, 0.0); 3],
            latest: vec![WorkSets::default(); n_lifts],
            begun: None,
            is_behind: false,
            caught_up: OnceLock::new(),
        }
    }

    pub(super) fn dynamics(&self) -> Dynamics<'_> {
        Dynamics { shape: &self.shape, pooled: &self.pooled, parameters: &self.parameters }
    }

    /// Takes a check-in: hours slept, stress and soreness, as told. One that tells nothing is none.
    pub fn check_in(&mut self, days: f64, items: [Option<f64>; 3]) {
        let is_empty = items.iter().all(Option::is_none);
        if is_empty || !(Event::CheckIn { days, items }).is_possible() {
            return;
        }
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

    /// Takes a lead set; false if it can't be read: too long, or with numbers that can't be.
    pub fn lead(&mut self, lift: usize, set: LeadSet) -> bool {
        let event = Event::Lead { lift, set };
        let Ok(seen) = set.measure(self.pooled.curve()) else { return false };
        if !event.is_possible() {
            return false;
        }
        self.catch_up();
        let day = set.days.floor();
        if self.begun.as_ref().is_none_or(|begun| begun.day != day) {
            self.begun = Some(Begun { day, before: self.state.clone(), from: self.events.len() });
        }
        self.latest[lift].begin(seen);
        self.n_leads += 1;
        self.take(event);
        true
    }

    /// Takes a work set after the lead set of a lift on the same day, and learns from both together. It has no
    /// part in the reading of the lead set, which was made before. Its dose is a matter of [`Lifter::work`].
    pub fn later(&mut self, lift: usize, set: LeadSet) {
        let Some(begun) = &self.begun else { return };
        let from = begun.from;
        let same_lift = |event: &Event| match event {
            Event::Lead { lift: other, set } | Event::WorkSets { lift: other, set, .. } => {
                (*other == lift).then_some(*set)
            }
            Event::Work { .. } | Event::CheckIn { .. } => None,
        };
        let lead = self.events[from..]
            .iter()
            .enumerate()
            .rev()
            .find_map(|(idx, event)| Some((from + idx, same_lift(event)?)));
        let Some((idx, lead)) = lead.filter(|_| begun.day == set.days.floor()) else { return };
        // Much lighter or heavier sets are another thing.
        if ((set.moved_kg / lead.moved_kg).ln().abs()) > FARTHEST_LOAD {
            return;
        }
        let Ok(seen) = set.measure(self.pooled.curve()) else { return };
        let share = self.pooled.reserve_share.middle;
        if let Some(seen) = self.latest[lift].go_on(seen, share) {
            self.events[idx] = Event::WorkSets { lift, set: lead, seen };
            self.fall_behind();
        }
    }

    fn take(&mut self, event: Event) {
        if !event.is_possible() {
            return;
        }
        // Sets in a row of one lift are one dose.
        if let (
            Event::Work { lift, days, hard_sets },
            Some(Event::Work { lift: same, days: then, hard_sets: sum }),
        ) = (event, self.events.last_mut())
            && lift == *same
            && days == *then
        {
            *sum += hard_sets;
            if self.begun.is_some() {
                self.fall_behind();
                return;
            }
        } else {
            self.events.push(event);
        }
        if self.is_behind {
            self.fall_behind();
            return;
        }
        let Lifter { shape, pooled, parameters, state, .. } = self;
        Dynamics { shape, pooled, parameters }.take(state, &event);
    }

    /// What is believed now has to be read from the day's beginning, once it is asked for: a day of many sets
    /// is then read for each lead set again, and not for each set.
    fn fall_behind(&mut self) {
        self.is_behind = true;
        self.caught_up.take();
    }

    fn catch_up(&mut self) {
        if self.is_behind {
            self.state = self.caught_up.take().unwrap_or_else(|| self.day_read_again());
            self.is_behind = false;
        }
    }

    /// The day that is being trained once more from its beginning.
    fn day_read_again(&self) -> State {
        let Some(begun) = &self.begun else { return self.state.clone() };
        let mut state = begun.before.clone();
        let dynamics = self.dynamics();
        self.events[begun.from..].iter().for_each(|event| {
            dynamics.take(&mut state, event);
        });
        state
    }

    /// Estimates the parameters anew if that is due ([`Lifter::is_due`]).
    pub fn settle(&mut self) {
        if self.is_due() {
            self.refit();
        }
    }

    /// Estimates the parameters anew and reads the whole record with them.
    pub fn refit(&mut self) {
        let (at, report) = fit::fit(&self.shape, &self.pooled, &self.events, &self.at);
        let (parameters, state) = self.read_again(&at);
        self.stand_at(at, report, parameters, state);
    }

    /// The whole record read with the parameters at `at`.
    fn read_again(&self, at: &[f64]) -> (Parameters, State) {
        let (shape, pooled) = (&self.shape, &self.pooled);
        let parameters = fit::unpack(shape, pooled, at);
        let dynamics = Dynamics { shape, pooled, parameters: &parameters };
        let mut state = dynamics.start();
        for event in &self.events {
            dynamics.take(&mut state, event);
        }
        (parameters, state)
    }

    fn stand_at(&mut self, at: Vec<f64>, fit: RecoveryFit, parameters: Parameters, state: State) {
        self.begun = None;
        self.is_behind = false;
        self.caught_up.take();
        self.at = at;
        self.fit = fit;
        self.parameters = parameters;
        self.state = state;
        self.fitted_at = self.n_leads;
        self.fitted_events = self.events.len();
    }

    /// The forecast of a lead set with this time, mass and reserve; none before the lift's first.
    #[must_use]
    pub fn expect(&self, lift: usize, next: &LeadSet) -> Option<Expectation> {
        if self.exposures(lift) == 0 {
            return None;
        }
        let dynamics = self.dynamics();
        let ahead = dynamics.ahead(self.state(), lift, next.days);
        let (level, usual) = (self.shape.level(lift), self.shape.usual(lift));
        let mut against = dynamics.capacity(lift);
        against.push((usual, -1.0));
        let of_lift = ahead.account.lift(lift);
        let lean = of_lift.lean_for(&self.pooled, next.moved_kg, next.reps_to_failure());
        let inner = |sum: &[(usize, f64)]| ahead.frame.inner(sum);
        let sums = Sums {
            shown: &inner(&dynamics.shown(lift, lean)),
            shown_as_usual: &inner(&dynamics.shown(lift, of_lift.lean)),
            against_usual: &inner(&against),
            level: &inner(&[(level, 1.0)]),
        };
        let noise = Noise::of(&dynamics, lift);
        forecast(&ahead.belief, &sums, noise, self.pooled.curve(), next)
    }

    /// What a set shows of ln 1RM with the curve in force; none if it is too long to be read.
    #[must_use]
    pub fn shown_by(&self, set: &LeadSet) -> Option<f64> {
        set.measure(self.pooled.curve()).ok().map(|seen| seen.log_one_rm)
    }

    /// The reserve to assume for a set whose reserve was not told: the median of the latest that
    /// were, else 1 (common practice, no source).
    #[must_use]
    pub fn usual_reserve(&self, lift: usize) -> Reserve {
        let mut told: Vec<f64> = self
            .lead_sets(lift)
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

    /// The lead sets read of a lift, in order of time.
    pub fn lead_sets(&self, lift: usize) -> impl DoubleEndedIterator<Item = LeadSet> + '_ {
        self.events.iter().filter_map(move |event| match event {
            Event::Lead { lift: other, set } | Event::WorkSets { lift: other, set, .. }
                if *other == lift =>
            {
                Some(*set)
            }
            _ => None,
        })
    }

    /// How many lead sets of a lift have been read.
    #[must_use]
    pub fn exposures(&self, lift: usize) -> usize {
        self.state().account.lift(lift).exposures as usize
    }

    /// The level and slope of a lift on a day not before the last event; none before its first set.
    #[must_use]
    pub fn today(&self, lift: usize, days: f64) -> Option<TodayEstimate> {
        if self.exposures(lift) == 0 {
            return None;
        }
        let dynamics = self.dynamics();
        let mut state = self.state().clone();
        dynamics.pass(&mut state, days);
        dynamics.doubt_if_left_out(&mut state, lift);
        let (level, slope) = (self.shape.level(lift), self.shape.slope(lift));
        // On a usual day: rested strength with what is usually missing at this lift.
        let usual: f64 = self
            .shape
            .lift(lift)
            .shares()
            .map(|(place, share)| share * state.muscle_usual[place].1)
            .sum();
        let sd = |row: usize| state.variance_of(&[(row, 1.0)]).sqrt();
        let muscles = self.shape.lift(lift).shares();
        let mut on_a_usual_day = vec![(level, 1.0)];
        on_a_usual_day.extend(muscles.map(|(place, share)| (self.shape.muscle_row(place), share)));
        Some(TodayEstimate {
            log_one_rm: state.mean(level) + usual,
            log_one_rm_sd: state.variance_of(&on_a_usual_day).sqrt(),
            slope: state.mean(slope),
            slope_sd: sd(slope),
        })
    }

    /// The scatter of a usual lead set of a lift: σ², and the usual counting and reserve errors.
    #[must_use]
    pub fn scatter(&self, lift: usize) -> Scatter {
        let own = self.parameters.scatter[lift].powi(2);
        let latest: Vec<f64> = self
            .lead_sets(lift)
            .rev()
            .take(USUAL_SETS)
            .filter_map(|set| set.measure(self.pooled.curve()).ok())
            .map(|seen| self.known_noise(&seen))
            .collect();
        let known = latest.iter().sum::<f64>() / latest.len().max(1) as f64;
        let total = own + known;
        // Information on ln(total sd): the prior's, and two per degree of freedom of the record.
        let freedom = self.exposures(lift).saturating_sub(2) as f64;
        let prior_sd = self.pooled.lift_scatter_sd.hypot(self.pooled.unsteadiness.sd) * own / total;
        let log_sd = (1.0 / (prior_sd * prior_sd).max(1e-6) + 2.0 * freedom).sqrt().recip();
        let at = |z: f64| 100.0 * (total.sqrt() * (z * log_sd).exp()).exp_m1();
        Scatter { low_pct: at(-Z_80), pct: at(0.0), high_pct: at(Z_80) }
    }

    /// The lift as a trend by itself: what muscles and form do from day to day is scatter to it.
    #[must_use]
    pub fn alone(&self, lift: usize) -> trend::Parameters {
        let parameters = &self.parameters;
        let shares = self.shape.lift(lift).shares();
        let of_muscles: f64 = shares.map(|(_, share)| (share * parameters.muscle_sd).powi(2)).sum();
        let of_day = of_muscles + parameters.form_sd.powi(2);
        trend::Parameters {
            scatter: (parameters.scatter[lift].powi(2) + of_day).sqrt(),
            drift: parameters.drift,
            curve: self.curve(lift),
            reserve_share: parameters.reserve_share,
        }
    }

    /// Mean and sd, in ln 1RM, of what an absence took and has not yet come back: below 0 if missing.
    #[must_use]
    pub fn absence(&self, days: f64) -> (f64, f64) {
        let dynamics = self.dynamics();
        let mut state = self.state().clone();
        dynamics.enter(&mut state, days);
        let row = [(ABSENCE, 1.0)];
        (state.mean_of(&row), state.variance_of(&row).sqrt())
    }

    /// The load–rep curve of a lift as it looks now; none if outside what is taken for a curve.
    #[must_use]
    pub fn curve(&self, lift: usize) -> LoadRepCurve {
        let bend = self.state().mean(self.shape.bend(lift));
        LoadRepCurve::new(self.pooled.curve_b.middle * bend.exp()).unwrap_or(self.pooled.curve())
    }

    /// The variance of a set that counting, reserve and curve explain.
    #[must_use]
    pub fn known_noise(&self, seen: &SetMeasurement) -> f64 {
        seen.rounding_variance
            + self.parameters.reserve_share * seen.reserve_variance
            + seen.curve_variance
    }

    /// Lifts and muscles.
    #[must_use]
    pub fn shape(&self) -> &Shape {
        &self.shape
    }

    /// What is believed of lifters in general.
    #[must_use]
    pub fn pooled(&self) -> &Pooled {
        &self.pooled
    }

    pub(super) fn state(&self) -> &State {
        match self.is_behind {
            true => self.caught_up.get_or_init(|| self.day_read_again()),
            false => &self.state,
        }
    }

    /// The parameters in force.
    #[must_use]
    pub fn parameters(&self) -> &Parameters {
        &self.parameters
    }

    /// How many lead sets have been read.
    #[must_use]
    pub fn n_lead_sets(&self) -> usize {
        self.n_leads
    }

    /// How they came about.
    #[must_use]
    pub fn fit(&self) -> &RecoveryFit {
        &self.fit
    }

    /// Log-likelihood of the record with the parameters in force.
    #[must_use]
    pub fn log_likelihood(&self) -> f64 {
        self.state().log_likelihood
    }

    /// Everything taken so far.
    #[must_use]
    pub fn events(&self) -> &[Event] {
        &self.events
    }
}
