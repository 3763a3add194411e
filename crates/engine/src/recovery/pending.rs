//! Noise that has come over a lifter's muscles and lifts since, and isn't in the covariance yet.
//!
//! Every passing of time disturbs every muscle, pairs of muscles of one region, and every lift, but a set shows
//! few of them. What comes over all muscles of one pace, and over all lifts, is the same; so it is added up once,
//! looked up for the few rows that an observation needs, and put into the covariance when that is written anyway.
//! Nothing is approximated.

use std::sync::Arc;

/// How many paces muscles have.
pub(super) const PACES: usize = 3;

/// Noise by now, and where it belongs. Without places it is none.
#[derive(Clone, Debug, Default)]
pub(super) struct Pending {
    places: Arc<Places>,
    /// Covariance of muscles of two paces.
    by_pace: [[f64; PACES]; PACES],
    /// How far levels and slopes have moved.
    shifts: [f64; 2],
    /// Variances of level, slope and bend.
    lift: [f64; 3],
    /// Covariance of level and slope.
    level_slope: f64,
}

/// Where noise belongs: muscles from one row on, and after them triples of level, slope and bend.
#[derive(Debug, Default)]
struct Places {
    first_muscle: usize,
    muscles: Vec<Kind>,
    /// Of each muscle, the others of its region: (row, pace).
    partners: Vec<Vec<(usize, usize)>>,
    /// ρ: the correlation of two of one region.
    together: f64,
    n_lifts: usize,
}

/// What matters of one muscle.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Kind {
    /// Below [`PACES`].
    pub(super) pace: usize,
    /// By number; two of one are pushed down together.
    pub(super) region: Option<usize>,
}

/// What a row belongs to.
enum Owner {
    Muscle(usize),
    /// 0 for a level, 1 for a slope, 2 for a bend.
    Lift(usize),
    Nothing,
}

impl Pending {
    /// For muscles from one row on, those of one region being correlated by `together`, and so many lifts.
    pub(super) fn of(
        first_muscle: usize,
        muscles: Vec<Kind>,
        together: f64,
        n_lifts: usize,
    ) -> Pending {
        let partners_of = |place: usize| {
            let region = muscles[place].region;
            let alike = move |(other, kind): &(usize, &Kind)| {
                region.is_some() && kind.region == region && *other != place
            };
            let of_region = muscles.iter().enumerate().filter(alike);
            of_region.map(|(other, kind)| (first_muscle + other, kind.pace)).collect()
        };
        let partners = (0..muscles.len()).map(partners_of).collect();
        let places = Places { first_muscle, muscles, partners, together, n_lifts };
        Pending { places: Arc::new(places), ..Pending::default() }
    }

    /// Comes over all muscles, with one sd for each pace.
    pub(super) fn over_muscles(&mut self, sds: [f64; PACES]) {
        for (row, one) in self.by_pace.iter_mut().zip(sds) {
            for (covariance, other) in row.iter_mut().zip(sds) {
                *covariance += one * other;
            }
        }
    }

    /// Comes over all lifts: shifts of level and slope, variances of level, slope and bend, and the covariance of
    /// the first two.
    pub(super) fn over_lifts(&mut self, shifts: [f64; 2], variances: [f64; 3], level_slope: f64) {
        for (sum, shift) in self.shifts.iter_mut().zip(shifts) {
            *sum += shift;
        }
        for (sum, variance) in self.lift.iter_mut().zip(variances) {
            *sum += variance;
        }
        self.level_slope += level_slope;
    }

    /// How far a row has moved.
    pub(super) fn shift(&self, row: usize) -> f64 {
        match self.places.owner(row) {
            Owner::Lift(0) => self.shifts[0],
            Owner::Lift(1) => self.shifts[1],
            _ => 0.0,
        }
    }

    /// Its covariance of two rows.
    pub(super) fn between(&self, one: usize, other: usize) -> f64 {
        match (self.places.owner(one), self.places.owner(other)) {
            (Owner::Muscle(one), Owner::Muscle(other)) => self.of_muscles(one, other),
            (Owner::Lift(part), Owner::Lift(_)) if one == other => self.lift[part],
            (Owner::Lift(0), Owner::Lift(1)) if one + 1 == other => self.level_slope,
            (Owner::Lift(1), Owner::Lift(0)) if other + 1 == one => self.level_slope,
            _ => 0.0,
        }
    }

    /// Adds its covariance of every row with a sum; returns how far it has moved the sum.
    pub(super) fn add_to(&self, along: &mut [f64], sum: &[(usize, f64)]) -> f64 {
        let Places { muscles, together, partners, .. } = &*self.places;
        let mut moved = 0.0;
        for &(row, weight) in sum {
            match self.places.owner(row) {
                Owner::Muscle(place) => {
                    let pace = muscles[place].pace;
                    let (covariances, shared) = (self.by_pace[pace], together * weight);
                    along[row] += covariances[pace] * weight;
                    for &(other, pace) in &partners[place] {
                        along[other] += covariances[pace] * shared;
                    }
                }
                Owner::Lift(part) => {
                    along[row] += self.lift[part] * weight;
                    if part < 2 {
                        moved += self.shifts[part] * weight;
                        along[row + 1 - 2 * part] += self.level_slope * weight;
                    }
                }
                Owner::Nothing => {}
            }
        }
        moved
    }

    /// Adds it to a mean and to a covariance, given by rows as long as that; then there is none.
    pub(super) fn put_into(&mut self, mean: &mut [f64], covariance: &mut [f64]) {
        let stride = mean.len();
        let Places { first_muscle, muscles, partners, together, n_lifts } = &*self.places;
        let shared = self.by_pace.map(|row| row.map(|covariance| together * covariance));
        let rows = covariance.chunks_exact_mut(stride).enumerate().skip(*first_muscle);
        for ((row, covariances), (kind, partners)) in rows.zip(muscles.iter().zip(partners)) {
            covariances[row] += self.by_pace[kind.pace][kind.pace];
            for &(other, pace) in partners {
                covariances[other] += shared[kind.pace][pace];
            }
        }
        let first_level = first_muscle + muscles.len();
        let block = &mut covariance[first_level * (stride + 1)..];
        let levels = mean[first_level..].chunks_exact_mut(3).take(*n_lifts);
        for lift in levels {
            lift[0] += self.shifts[0];
            lift[1] += self.shifts[1];
        }
        for level in (0..*n_lifts).map(|lift| 3 * lift * (stride + 1)) {
            for (part, variance) in self.lift.iter().enumerate() {
                block[level + part * (stride + 1)] += variance;
            }
            block[level + 1] += self.level_slope;
            block[level + stride] += self.level_slope;
        }
        (self.by_pace, self.shifts, self.lift, self.level_slope) = Default::default();
    }

    /// Its covariance of two muscles.
    fn of_muscles(&self, one: usize, other: usize) -> f64 {
        let (first, second) = (self.places.muscles[one], self.places.muscles[other]);
        let alike = match first.region {
            _ if one == other => 1.0,
            Some(region) if second.region == Some(region) => self.places.together,
            _ => 0.0,
        };
        alike * self.by_pace[first.pace][second.pace]
    }
}

impl Places {
    fn owner(&self, row: usize) -> Owner {
        let n = self.muscles.len();
        match row.checked_sub(self.first_muscle) {
            Some(at) if at < n => Owner::Muscle(at),
            Some(at) if at < n + 3 * self.n_lifts => Owner::Lift((at - n) % 3),
            _ => Owner::Nothing,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Looked up for a sum, row by row, or put into a covariance, it is the same noise; and afterwards there is none.
    #[test]
    fn it_is_the_same_looked_up_and_put_in() {
        let kind = |pace, region| Kind { pace, region };
        let muscles = vec![kind(0, Some(0)), kind(2, None), kind(1, Some(0)), kind(2, Some(2))];
        let mut pending = Pending::of(2, muscles, 0.5, 2);
        pending.over_muscles([0.3, 0.2, 0.7]);
        pending.over_muscles([0.1, 0.4, 0.2]);
        pending.over_lifts([0.01, -0.02], [0.5, 0.3, 0.2], 0.1);
        pending.over_lifts([0.01, 0.05], [0.1, 0.1, 0.1], 0.05);
        let n = 12;
        let sum = [(0, 9.0), (2, 0.5), (3, 2.0), (4, -1.0), (6, 1.0), (7, -3.0), (11, 0.25)];
        let mut along = vec![0.0; n];
        let moved = pending.add_to(&mut along, &sum);
        let between: Vec<f64> = (0..n)
            .map(|row| {
                sum.iter().map(|&(other, weight)| weight * pending.between(row, other)).sum()
            })
            .collect();
        let shifts: f64 = sum.iter().map(|&(row, weight)| weight * pending.shift(row)).sum();
        let (mut mean, mut covariance) = (vec![0.0; n], vec![0.0; n * n]);
        pending.put_into(&mut mean, &mut covariance);
        for row in 0..n {
            let put: f64 =
                sum.iter().map(|&(other, weight)| weight * covariance[row * n + other]).sum();
            assert!((along[row] - put).abs() < 1e-15, "{row}: {} and {put}", along[row]);
            assert!((between[row] - put).abs() < 1e-15, "{row}: {} and {put}", between[row]);
            assert_eq!(pending.between(row, row), 0.0);
        }
        let put: f64 = sum.iter().map(|&(row, weight)| weight * mean[row]).sum();
        assert!((moved - put).abs() < 1e-15 && (shifts - put).abs() < 1e-15);
        // Two muscles of one region: 0.5·(0.3·0.2 + 0.1·0.4); of none, and of two regions: nothing.
        assert!((covariance[2 * n + 4] - 0.05).abs() < 1e-15);
        assert_eq!((covariance[2 * n + 3], covariance[2 * n + 5]), (0.0, 0.0));
        // Level and slope of the second lift.
        assert!((covariance[9 * n + 10] - 0.15).abs() < 1e-15 && (mean[10] - 0.03).abs() < 1e-15);
    }
}
