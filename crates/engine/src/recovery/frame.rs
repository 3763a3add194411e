//! Coordinates in which time leaves a belief alone.
//!
//! Between sessions muscles recover, form and check-ins fade, slopes flatten and levels follow them:
//! every quantity would change, and with them n² covariances. All of it is known beforehand, so the
//! belief is kept of other quantities z, which stay as they are, and what changes is how the model's
//! quantities x follow from them:
//!
//! * x = s·z for whatever fades, s being the product of all factors so far, common to all that fade
//!   equally fast ([`Pace`]);
//! * a muscle is s·z − D·(cost of a set), D being the dose that is still in it;
//! * a slope is s·z; and with slopes that fade within S days, level + S·slope stays: that is a level's z.
//!
//! Only new uncertainty is left to add, and that lies on the diagonal but for a few pairs. It is a change
//! of variables and nothing is approximated.

use super::belief::Sum;
use super::shape::{ABSENCE, CHECK_IN, COST, FORM, Pace, Row, Shape};

/// Below this a scale is folded into the belief ([`Frame::fold`]).
const LEAST_SCALE: f64 = 1e-60;
/// The farthest that anything fades at once, as an exponent: 10⁻³⁵ is gone.
const FARTHEST_FADE: f64 = 80.0;

/// How the model's quantities follow from those of the belief.
#[derive(Clone, Debug)]
pub(super) struct Frame {
    rows: Vec<(Row, Pace)>,
    scale: [f64; Pace::COUNT],
    /// 1/s.
    per_scale: [f64; Pace::COUNT],
    /// By place among the muscles.
    paces: Vec<Pace>,
    /// D of each muscle, divided by its scale.
    dose: Vec<f64>,
    slope_days: f64,
}

/// The factor by which something fades in a time, given the days in which it fades to a third.
pub(super) fn fading(gap: f64, days: f64) -> f64 {
    (-(gap / days).min(FARTHEST_FADE)).exp()
}

impl Frame {
    /// For a belief about `n` quantities, of the first that `shape` has.
    pub(super) fn new(shape: &Shape, n: usize, slope_days: f64) -> Frame {
        Frame {
            rows: (0..n).map(|row| shape.row(row)).collect(),
            scale: [1.0; Pace::COUNT],
            per_scale: [1.0; Pace::COUNT],
            paces: (0..shape.muscles().len()).map(|place| shape.pace(place)).collect(),
            dose: vec![0.0; shape.muscles().len()],
            slope_days,
        }
    }

    /// Makes room for `more` quantities that never fade.
    pub(super) fn widen(&mut self, more: usize) {
        self.rows.extend(std::iter::repeat_n((Row::Other, Pace::Never), more));
    }

    /// s of one quantity.
    pub(super) fn scale(&self, row: usize) -> f64 {
        self.scale[self.rows[row].1 as usize]
    }

    /// D of one muscle.
    pub(super) fn dose(&self, place: usize) -> f64 {
        self.dose[place] * self.scale[self.paces[place] as usize]
    }

    /// All quantities of one pace fade by a factor; 1/s of them after that.
    pub(super) fn fade(&mut self, pace: Pace, factor: f64) -> f64 {
        self.scale[pace as usize] *= factor;
        self.per_scale[pace as usize] = self.scale[pace as usize].recip();
        self.per_scale[pace as usize]
    }

    /// Work falls on one muscle; the dose divided by its scale.
    pub(super) fn add_dose(&mut self, place: usize, dose: f64) -> f64 {
        let scaled = dose * self.per_scale[self.paces[place] as usize];
        self.dose[place] += scaled;
        scaled
    }

    /// Whether a scale is too small to go on with.
    pub(super) fn must_fold(&self) -> bool {
        self.scale.iter().copied().fold(1.0, f64::min) < LEAST_SCALE
    }

    /// The paces whose scale is too small to go on with: each with the power of two by which the z of its
    /// quantities have to be multiplied instead, its scale having been divided by that.
    pub(super) fn fold(&mut self) -> impl Iterator<Item = (Pace, f64)> + use<> {
        let mut folded = [1.0; Pace::COUNT];
        let scales = self.scale.iter_mut().zip(&mut self.per_scale);
        for ((scale, per_scale), factor) in scales.zip(&mut folded) {
            if *scale < LEAST_SCALE {
                *factor = 2.0_f64.powi(scale.log2().floor() as i32); // −316 to −200
                *scale /= *factor;
                *per_scale *= *factor;
            }
        }
        for (dose, pace) in self.dose.iter_mut().zip(&self.paces) {
            *dose *= folded[*pace as usize];
        }
        Pace::ALL.into_iter().zip(folded).filter(|(_, factor)| *factor != 1.0)
    }

    /// The quantities of one pace.
    pub(super) fn rows_of(&self, pace: Pace) -> impl Iterator<Item = usize> + '_ {
        self.rows.iter().enumerate().filter(move |(_, row)| row.1 == pace).map(|(row, _)| row)
    }

    /// The same sum of the model's quantities as a sum of the belief's.
    pub(super) fn inner(&self, sum: &[(usize, f64)]) -> Sum {
        let mut inner = Sum::with_capacity(sum.len() + 3);
        self.put_inner(sum, &mut inner);
        inner
    }

    /// [`Frame::inner`], into a sum that is there already.
    pub(super) fn put_inner(&self, sum: &[(usize, f64)], inner: &mut Sum) {
        inner.clear();
        let mut cost = 0.0;
        for &(row, weight) in sum {
            let (kind, pace) = self.rows[row];
            let scaled = weight * self.scale[pace as usize];
            match kind {
                Row::Muscle(place) => {
                    inner.push((row, scaled));
                    cost -= scaled * self.dose[place];
                }
                Row::Level => {
                    inner.push((row, weight));
                    let slope = self.slope_days * self.scale[Pace::Slope as usize];
                    add(inner, row + 1, -weight * slope);
                }
                Row::Slope | Row::Cost => add(inner, row, scaled),
                Row::Other => inner.push((row, scaled)),
            }
        }
        if cost != 0.0 {
            add(inner, COST, cost);
        }
    }

    /// [`Frame::put_inner`] of what a lead set of a lift shows: its capacity, less the lean for its curve
    /// (`super::filter::Dynamics::shown`). Made straight away, because every lead set of a record needs it.
    pub(super) fn put_shown(
        &self,
        shape: &Shape,
        effects: &[f64; 3],
        lift: usize,
        lean: f64,
        inner: &mut Sum,
    ) {
        let scale = |pace: Pace| self.scale[pace as usize];
        inner.clear();
        let item = |item: usize, pace| (CHECK_IN + item, effects[item] * scale(pace));
        inner.extend_from_slice(&[
            (FORM, scale(Pace::Form)),
            (ABSENCE, scale(Pace::Absence)),
            item(0, Pace::Sleep),
            item(1, Pace::Stress),
            item(2, Pace::Soreness),
        ]);
        let mut cost = 0.0;
        for (place, share) in shape.lift(lift).shares() {
            let scaled = share * scale(self.paces[place]);
            cost -= scaled * self.dose[place];
            inner.push((shape.muscle_row(place), scaled));
        }
        let slope = -self.slope_days * scale(Pace::Slope);
        inner.extend_from_slice(&[
            (COST, cost),
            (shape.level(lift), 1.0),
            (shape.slope(lift), slope),
            (shape.bend(lift), -lean),
        ]);
    }
}

fn add(sum: &mut Sum, row: usize, weight: f64) {
    match sum.iter_mut().find(|(other, _)| *other == row) {
        Some((_, sum)) => *sum += weight,
        None => sum.push((row, weight)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use domain::{Catalogue, LiftName};

    use crate::recovery::{Dynamics, Lifter, Pooled};

    /// What a lead set shows, made straight away, is what the general way makes of the same sum.
    #[test]
    fn what_a_lead_set_shows_is_the_same_either_way() {
        let catalogue = Catalogue::built_in();
        let lifts = ["back squat", "leg press", "bench press"]
            .map(|name| catalogue.find(&LiftName::new(name).unwrap()).unwrap());
        let (shape, pooled) = (Shape::of(lifts), Pooled::shipped());
        let parameters = Lifter::new(shape.clone(), pooled.clone()).parameters().clone();
        let dynamics = Dynamics { shape: &shape, pooled: &pooled, parameters: &parameters };
        let mut frame = Frame::new(&shape, shape.n_states(), pooled.slope_days);
        for (idx, pace) in Pace::ALL.into_iter().enumerate() {
            frame.fade(pace, 1.0 - 0.07 * idx as f64);
        }
        for place in 0..shape.muscles().len() {
            frame.add_dose(place, 0.3 + place as f64);
        }
        for lift in 0..shape.n_lifts() {
            let mut shown = Sum::new();
            frame.put_shown(&shape, &parameters.check_in_effects, lift, 0.2, &mut shown);
            let mut wanted = frame.inner(&dynamics.shown(lift, 0.2));
            shown.sort_by_key(|(row, _)| *row);
            wanted.sort_by_key(|(row, _)| *row);
            assert_eq!(shown.len(), wanted.len());
            for (one, other) in shown.iter().zip(&wanted) {
                assert_eq!(one.0, other.0);
                assert!((one.1 - other.1).abs() < 1e-14, "{one:?} and {other:?}");
            }
        }
    }
}
