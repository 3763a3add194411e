//! What remains of a lift when its lead set lies so far below what was likely that the plan is overtaken.

use domain::{Load, Reps, Rir};
use engine::reading::Reading;
use engine::target::collapse::{self, DoneLead, is_half_missing};
use engine::trend::LeadSet;

use super::{FAR_BELOW, NextLead};
use crate::record::history::Point;
use crate::words;

impl NextLead<'_> {
    /// Whether a lead set lies so far below what was likely, or planned where nothing else is known, that the plan
    /// has been overtaken.
    pub(super) fn is_collapse(&self, point: &Point) -> bool {
        let reps = point.set.reps.get();
        match point.reading {
            Some(reading) => reading.expected.is_far_below(reps),
            None => {
                let as_planned = point.set.load.kg() >= self.target.load.kg();
                as_planned && is_half_missing(reps, f64::from(self.target.reps.get()))
            }
        }
    }

    /// The remaining sets after a lead set that is taken at its word: repetitions and reserve.
    pub(super) fn held(&self, moved_kg: f64, (reps, reserve): (u16, f64)) -> Vec<(Load, Reps)> {
        let lead = DoneLead { moved_kg, reps, reserve, curve_b: self.own_curve_b() };
        let planned: Vec<(Load, Reps)> = std::iter::once(&self.target)
            .chain(&self.then)
            .flat_map(|target| vec![(target.load, target.reps); usize::from(target.sets)])
            .skip(1)
            .collect();
        collapse::remaining(&self.today(), lead, &planned)
    }

    /// What remains after a lead set far below, as a phrase with `link` before sets that may be done; none if nothing
    /// was left to do.
    fn held_in_words(&self, link: &str, held: &[(Load, Reps)]) -> Option<String> {
        if self.sets() <= 1 {
            return None;
        }
        let alike = held.chunk_by(|a, b| a == b);
        let sets: Vec<String> =
            alike.map(|same| words::sets(same.len(), same[0].1.get(), same[0].0)).collect();
        Some(match sets.as_slice() {
            [] => "leave out the remaining sets".to_owned(),
            sets => format!("{link}at most {}", words::list(sets)),
        })
    }

    /// What follows a lead set far below of which nothing is cut, as sentences. That another reason is to be looked
    /// for stands in the reason of a call that has a reading.
    pub(super) fn after_collapse(&self, point: &Point) -> String {
        let held = self.held(point.lead.moved_kg, (point.lead.reps, told_reserve(point)));
        let then = self.held_in_words("only if nothing is wrong, ", &held);
        let then = words::sentence(then.as_deref().unwrap_or("no sets of it remain"));
        match point.reading {
            Some(_) => then,
            None => format!("{} {then}", words::sentence(FAR_BELOW)),
        }
    }

    /// Today's 1RM in the light of a lead set, as mass moved in kg by the lift's own curve: no more than the set
    /// alone shows where it lies far below, so that worse sets are followed by lighter ones.
    pub(super) fn one_rm_after(&self, reading: &Reading, set: &LeadSet, reserve: f64) -> f64 {
        let shown = reading.expected.capacity_given(reading.log_shown);
        let one_rm = (shown + self.model.to_own_curve(set)).exp();
        if !reading.expected.is_far_below(set.reps) {
            return one_rm;
        }
        let curve_b = self.own_curve_b();
        let lead = DoneLead { moved_kg: set.moved_kg, reps: set.reps, reserve, curve_b };
        one_rm.min(lead.one_rm_kg())
    }

    /// [`NextLead::held_in_words`] after the fewest of some repetitions with the target's load and nothing left, and
    /// after the most of them if that is something else.
    pub(super) fn held_words(&self, fewest: u16, most: u16) -> String {
        let after = |reps| {
            let held = self.held(self.moved_kg(), (reps, 0.0));
            self.held_in_words("then ", &held).map_or(String::new(), |held| format!("; {held}"))
        };
        let (low, high) = (after(fewest), after(most));
        if low == high { low } else { format!("{low} (after {fewest})") }
    }

    /// That the plan is overtaken by so few repetitions, for a lift whose lead set isn't read; nothing if no number
    /// of repetitions lies so far below.
    fn far_below_unread(&self) -> Option<String> {
        let target = self.target.reps.get();
        let is_far = |reps: &u16| match self.expected_of(Reps::new(*reps).ok()?) {
            Some(expected) => Some(expected.is_far_below(*reps)),
            None => Some(is_half_missing(*reps, f64::from(target))),
        };
        let far = (1..target).take_while(|reps| is_far(reps) == Some(true)).last()?;
        let reps = if far == 1 { "1 repetition".to_owned() } else { format!("{far} or fewer") };
        Some(format!("With {reps}: {FAR_BELOW}{}.", self.held_words(1, far)))
    }

    /// Whether the lead set is read, and why.
    pub(crate) fn why_read_or_not(&self) -> String {
        self.why_unread().unwrap_or_else(|| self.gauge.reason.clone())
    }

    /// [`NextLead::why_read_or_not`]; for one that isn't, also what so few repetitions mean.
    pub(crate) fn gauge_words(&self) -> String {
        let why = self.why_read_or_not();
        match self.why_unread().and_then(|_| self.far_below_unread()) {
            Some(far_below) => format!("{why} {far_below}"),
            None => why,
        }
    }
}

/// The reserve of a lead set as it was told; 0 where it wasn't, for somebody who fell so far short.
pub(super) fn told_reserve(point: &Point) -> f64 {
    point.set.rir.map_or(0.0, Rir::get)
}
