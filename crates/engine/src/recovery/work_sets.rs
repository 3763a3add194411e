//! What the work sets after a lead set add to it.
//!
//! A reading is of the lead set alone, but when it has been made the sets that follow say more of the same
//! day: they share its capacity and its scatter, and differ by their own errors of counting and reserve. So
//! the model learns from their mean instead. Later sets fall off, by how much is this lifter's and this
//! lift's own: a set is put back by what the sets at its place have fallen off so far. Doesn't decide when
//! the model learns; that is [`super::lifter`]'s.

use crate::strength::SetMeasurement;

/// Sets of one lift on one day that are told apart.
const MOST_SETS: usize = 10;
/// Exposures from which it is known how far a set at some place falls off, and over how many of the latest
/// that is followed.
const FEWEST_EXPOSURES: f64 = 3.0;
const LATEST_EXPOSURES: f64 = 10.0;
/// A set that falls off by more says nothing of what others will, in ln 1RM.
const FARTHEST_OFF: f64 = 0.15;
/// What sets of one lift on one day differ by besides counting and reserve: an sd, our choice.
const SET_SD: f64 = 0.006;
/// Where there are three sets or more, one farther than this from their median is left out.
const OUT_OF_LINE: f64 = 0.04;

/// One lift's latest work sets, and how they fall off.
#[derive(Clone, Debug, Default)]
pub(super) struct WorkSets {
    sets: Vec<SetMeasurement>,
    /// By place: exposures so far, and the mean of lead set less set.
    falls_off: [(f64, f64); MOST_SETS],
}

impl WorkSets {
    /// Begins with a lead set, and learns from those before how sets fall off.
    pub(super) fn begin(&mut self, lead: SetMeasurement) {
        if let Some((first, rest)) = self.sets.split_first() {
            for (set, (n, mean)) in rest.iter().zip(&mut self.falls_off[1..]) {
                let off = first.log_one_rm - set.log_one_rm;
                if off.abs() < FARTHEST_OFF {
                    *n += 1.0;
                    *mean += (off - *mean) / n.min(LATEST_EXPOSURES);
                }
            }
        }
        self.sets.clear();
        self.sets.push(lead);
    }

    /// Goes on with a later set. What all sets show together, `reserve_share` being the part of a reserve's
    /// error that varies from set to set; none while the lead set says all that is known.
    pub(super) fn go_on(
        &mut self,
        set: SetMeasurement,
        reserve_share: f64,
    ) -> Option<SetMeasurement> {
        if self.sets.is_empty() || self.sets.len() == MOST_SETS {
            return None;
        }
        self.sets.push(set);
        self.together(reserve_share)
    }

    fn together(&self, reserve_share: f64) -> Option<SetMeasurement> {
        let lead = self.sets.first()?;
        // What each shows, put back, and its own variance besides counting and reserve.
        let mut shown: Vec<(f64, f64, &SetMeasurement)> = vec![(lead.log_one_rm, 0.0, lead)];
        let known = self.sets.iter().zip(&self.falls_off).skip(1);
        shown.extend(
            known
                .filter(|(_, (n, _))| *n >= FEWEST_EXPOSURES)
                .map(|(set, (_, off))| (set.log_one_rm + off, SET_SD * SET_SD, set)),
        );
        if shown.len() > 2 {
            let mut sorted: Vec<f64> = shown.iter().map(|one| one.0).collect();
            sorted.sort_by(f64::total_cmp);
            let median = sorted[sorted.len() / 2];
            shown.retain(|one| (one.0 - median).abs() <= OUT_OF_LINE);
        }
        if shown.len() < 2 {
            return None;
        }
        let weight = |(_, own, set): &(f64, f64, &SetMeasurement)| {
            let errors = set.rounding_variance + reserve_share * set.reserve_variance;
            (own + errors + set.curve_variance).max(LEAST_VARIANCE).recip()
        };
        let whole: f64 = shown.iter().map(weight).sum();
        let mut all = SetMeasurement {
            log_one_rm: 0.0,
            rounding_variance: 0.0,
            reserve_variance: 0.0,
            curve_variance: 0.0,
            ..*lead
        };
        for one in &shown {
            let part = weight(one) / whole;
            let (y, own, set) = one;
            all.log_one_rm += part * y;
            all.rounding_variance += part * part * (set.rounding_variance + own);
            all.reserve_variance += part * part * set.reserve_variance;
            // The curve errs in the same direction for all sets.
            all.curve_variance += part * set.curve_variance;
        }
        Some(all)
    }
}

/// A set is never taken to be surer than (0.1 %)².
const LEAST_VARIANCE: f64 = 1e-6;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::strength::{LoadRepCurve, Reserve};

    fn set(reps: u16) -> SetMeasurement {
        LoadRepCurve::EPLEY.measure(100.0, f64::from(reps), Reserve::Reported(1.0)).unwrap()
    }

    /// Four exposures whose second and third sets fall off by one and two repetitions.
    fn known() -> WorkSets {
        let mut sets = WorkSets::default();
        for _ in 0..4 {
            sets.begin(set(8));
            sets.go_on(set(7), 0.25);
            sets.go_on(set(6), 0.25);
        }
        sets
    }

    #[test]
    fn sets_that_fall_off_as_always_confirm_the_lead_set() {
        let mut sets = known();
        sets.begin(set(6));
        assert!((sets.go_on(set(5), 0.25).unwrap().log_one_rm - set(6).log_one_rm).abs() < 2e-3);
        let all = sets.go_on(set(4), 0.25).unwrap();
        assert!((all.log_one_rm - set(6).log_one_rm).abs() < 3e-3, "{all:?}");
        assert!(all.reserve_variance < 0.5 * set(6).reserve_variance, "{all:?}");
    }

    #[test]
    fn nothing_is_put_back_before_it_is_known_how_sets_fall_off() {
        let mut sets = WorkSets::default();
        for _ in 0..3 {
            sets.begin(set(8));
            assert!(sets.go_on(set(7), 0.25).is_none());
        }
        sets.begin(set(8));
        assert!(sets.go_on(set(7), 0.25).is_some());
        assert!(WorkSets::default().go_on(set(7), 0.25).is_none());
    }

    #[test]
    fn a_lead_set_cut_short_is_put_right_by_those_after_it() {
        let mut sets = known();
        sets.begin(set(4));
        sets.go_on(set(7), 0.25);
        let all = sets.go_on(set(6), 0.25).unwrap();
        assert!((all.log_one_rm - set(8).log_one_rm).abs() < 1e-9, "{all:?}");
    }
}
