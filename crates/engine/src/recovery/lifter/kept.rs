//! Fits that are kept: taking one back instead of computing it again.
//!
//! A fit is a function of what it rests on, its *ground*: the version of the model, pooled values,
//! lifts, the events read, and where the climb began. So a fit that was kept may stand in for one that
//! is due exactly where the grounds are the same, and readings are then those of a record of which
//! nothing was kept. Where fits are kept and how grounds are compared is not decided here.

use super::Lifter;
use crate::recovery::filter::Event;
use crate::recovery::fit::{self, RecoveryFit};
use crate::recovery::population::LifterEstimate;
use crate::recovery::shape::Shape;
use crate::strength::Reserve;
use crate::trend::LeadSet;

/// The version of the model. It is raised whenever the same record and pooled values give other
/// parameters than before; a fit of another version counts as none. (A fit whose log-posterior isn't
/// found again is refused too, see [`Lifter::take_fit`], but that is no reason to forget this.)
pub const MODEL_VERSION: u32 = 4;

/// How far the log-posterior of a kept fit may be from what the record gives with its parameters,
/// relatively: rounding on another machine is far below it, a change of the model far above.
const SAME_POSTERIOR: f64 = 1e-6;

/// A lifter's own parameters as they were estimated from the first lead sets of a record.
#[derive(Clone, Debug, PartialEq)]
pub struct ParameterFit {
    /// How many lead sets it read.
    pub n_lead_sets: usize,
    /// The parameters, in sds over lifters from the middles: the lifter's own, then one for each lift.
    pub at: Vec<f64>,
    /// How the climb ended.
    pub report: RecoveryFit,
}

impl Lifter {
    /// Whether the parameters are to be estimated anew: from the twentieth lead set on, whenever the
    /// record has grown by half.
    #[must_use]
    pub fn is_due(&self) -> bool {
        self.n_leads >= super::FEWEST_LEAD_SETS && self.n_leads * 2 >= self.fitted_at * 3
    }

    /// The newest fit; none before the first, and none if no climb was possible.
    #[must_use]
    pub fn last_fit(&self) -> Option<ParameterFit> {
        matches!(self.fit, RecoveryFit::Fitted(_)).then(|| ParameterFit {
            n_lead_sets: self.fitted_at,
            at: self.at.clone(),
            report: self.fit,
        })
    }

    /// Takes a kept fit as if it had just been computed, and reads the whole record with it. False, and
    /// nothing has changed, if it can't be a fit of this record: another number of lead sets, parameters
    /// of other lifts, or a log-posterior that the record doesn't have with them.
    pub fn take_fit(&mut self, kept: &ParameterFit) -> bool {
        let RecoveryFit::Fitted(climb) = kept.report else { return false };
        let n = fit::n_parameters(&self.shape);
        let known = kept.at.len() <= n && kept.at.len() >= fit::N_SHARED;
        if kept.n_lead_sets != self.n_leads || !known || kept.at.iter().any(|u| !u.is_finite()) {
            return false;
        }
        // Lifts that came later have no part in the record so far: they stand at their middles.
        let mut at = kept.at.clone();
        at.resize(n, 0.0);
        let (parameters, state) = self.read_again(&at);
        let prior: f64 = at.iter().map(|u| 0.5 * u * u).sum();
        let apart = (state.log_likelihood - prior - climb.log_posterior).abs();
        let is_same = apart <= SAME_POSTERIOR * (1.0 + climb.log_posterior.abs());
        if is_same {
            self.stand_at(at, kept.report, parameters, state);
        }
        is_same
    }

    /// Everything on which a fit made now would rest, as bytes: the same bytes, the same fit. Lifts
    /// count from the first that was done up to the last one read so far, so that a lift that joins later
    /// leaves earlier fits as they are.
    #[must_use]
    pub fn ground(&self) -> Vec<u8> {
        let mut bytes = Bytes(Vec::with_capacity(64 * self.events.len()));
        bytes.count(MODEL_VERSION as usize);
        for (_, number) in self.pooled.to_numbers() {
            bytes.number(number);
        }
        let n_lifts = self.events.iter().filter_map(lift_of).max().map_or(0, |last| last + 1);
        bytes.count(n_lifts);
        for lift in 0..n_lifts {
            bytes.lift(&self.shape, lift);
        }
        self.at[..fit::N_SHARED + n_lifts].iter().for_each(|u| bytes.number(*u));
        bytes.count(self.events.len());
        self.events.iter().for_each(|event| bytes.event(event));
        bytes.0
    }

    /// What the record up to the newest fit says of the lifter's own parameters; none before they are
    /// estimated.
    #[must_use]
    pub fn estimate(&self) -> Option<LifterEstimate> {
        let read = &self.events[..self.fitted_events];
        let fitted = matches!(self.fit, RecoveryFit::Fitted(_));
        let (mean, precision) =
            fitted.then(|| fit::posterior(&self.shape, &self.pooled, read, &self.at))?;
        LifterEstimate::of_posterior(&mean, &precision)
    }
}

/// Which lift an event is of.
fn lift_of(event: &Event) -> Option<usize> {
    match event {
        Event::Lead { lift, .. } | Event::WorkSets { lift, .. } | Event::Work { lift, .. } => {
            Some(*lift)
        }
        Event::CheckIn { .. } => None,
    }
}

/// Bytes in the making; every part has its length or its kind before it.
struct Bytes(Vec<u8>);

impl Bytes {
    fn number(&mut self, number: f64) {
        self.0.extend(number.to_bits().to_le_bytes());
    }

    fn count(&mut self, count: usize) {
        self.0.extend((count as u64).to_le_bytes());
    }

    fn lift(&mut self, shape: &Shape, lift: usize) {
        let of_lift = shape.lift(lift);
        self.number(of_lift.class_scatter_pct);
        self.count(of_lift.muscles.len());
        for &(place, weight) in &of_lift.muscles {
            // By name of the muscle: its place shifts when a new lift trains another.
            self.count(shape.muscles()[place] as usize);
            self.number(weight);
        }
    }

    fn event(&mut self, event: &Event) {
        match *event {
            Event::Lead { lift, set } => {
                self.count(0);
                self.lead(lift, &set);
            }
            Event::WorkSets { lift, set, seen } => {
                self.count(3);
                self.lead(lift, &set);
                let variances =
                    [seen.rounding_variance, seen.reserve_variance, seen.curve_variance];
                self.number(seen.log_one_rm);
                variances.into_iter().for_each(|variance| self.number(variance));
            }
            Event::Work { lift, days, hard_sets } => {
                self.count(1);
                self.count(lift);
                self.number(days);
                self.number(hard_sets);
            }
            Event::CheckIn { days, items } => {
                self.count(2);
                self.number(days);
                items.iter().for_each(|item| self.number(item.unwrap_or(f64::NAN)));
            }
        }
    }

    fn lead(&mut self, lift: usize, set: &LeadSet) {
        self.count(lift);
        self.number(set.days);
        self.number(set.moved_kg);
        self.count(usize::from(set.reps));
        self.reserve(set.reserve);
    }

    fn reserve(&mut self, reserve: Reserve) {
        match reserve {
            Reserve::Reported(reps) => {
                self.count(0);
                self.number(reps);
            }
            Reserve::Assumed { reps, extra_sd } => {
                self.count(1);
                self.number(reps);
                self.number(extra_sd);
            }
        }
    }
}
