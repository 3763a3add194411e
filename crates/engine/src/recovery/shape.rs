//! Which rows of the state belong to what: lifts, muscles, and what all lifts share.

use std::collections::BTreeMap;

use domain::{Lift, Muscle};

/// The rows before those of muscles and lifts.
pub(super) const FORM: usize = 0;
pub(super) const ABSENCE: usize = 1;
pub(super) const COST: usize = 2;
pub(super) const CHECK_IN: usize = 3;
const N_SHARED: usize = 6;

/// The lifts of one lifter, and the muscles that they train.
#[derive(Clone, Debug, PartialEq)]
pub struct Shape {
    muscles: Vec<Muscle>,
    lifts: Vec<LiftShape>,
}

/// One lift as the model sees it.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct LiftShape {
    /// (place among the muscles, weight).
    pub(super) muscles: Vec<(usize, f64)>,
    /// The class's scatter, a CV in %.
    pub(super) class_scatter_pct: f64,
}

impl Shape {
    /// The shape for these lifts, in this order.
    #[must_use]
    pub fn of<'a>(lifts: impl IntoIterator<Item = &'a Lift> + Clone) -> Shape {
        let trained: BTreeMap<usize, Muscle> = lifts
            .clone()
            .into_iter()
            .flat_map(|lift| &lift.muscles)
            .map(|share| (share.muscle as usize, share.muscle))
            .collect();
        let muscles: Vec<Muscle> = trained.into_values().collect();
        let place = |muscle: Muscle| muscles.iter().position(|other| *other == muscle);
        let lifts = lifts
            .into_iter()
            .map(|lift| LiftShape {
                muscles: lift
                    .muscles
                    .iter()
                    .filter_map(|share| Some((place(share.muscle)?, share.get())))
                    .collect(),
                class_scatter_pct: lift.starting_scatter_pct,
            })
            .collect();
        Shape { muscles, lifts }
    }

    /// The muscles, in the order of [`Muscle::ALL`].
    #[must_use]
    pub fn muscles(&self) -> &[Muscle] {
        &self.muscles
    }

    /// How many lifts.
    #[must_use]
    pub fn n_lifts(&self) -> usize {
        self.lifts.len()
    }

    /// How many quantities the state has.
    #[must_use]
    pub fn n_states(&self) -> usize {
        self.n_states_without_usual() + self.lifts.len()
    }

    /// How many come before what is usual, which no observation depends on.
    pub(super) fn n_states_without_usual(&self) -> usize {
        N_SHARED + self.muscles.len() + 3 * self.lifts.len()
    }

    pub(super) fn lift(&self, lift: usize) -> &LiftShape {
        &self.lifts[lift]
    }

    pub(super) fn muscle_row(&self, place: usize) -> usize {
        N_SHARED + place
    }

    pub(super) fn level(&self, lift: usize) -> usize {
        N_SHARED + self.muscles.len() + 3 * lift
    }

    pub(super) fn slope(&self, lift: usize) -> usize {
        self.level(lift) + 1
    }

    /// ln b of the lift's load–rep curve, less ln b of the common one.
    pub(super) fn bend(&self, lift: usize) -> usize {
        self.level(lift) + 2
    }

    pub(super) fn usual(&self, lift: usize) -> usize {
        self.n_states_without_usual() + lift
    }
}

impl LiftShape {
    /// The lift's muscles with weights that add up to 1: w_lm/W_l.
    pub(super) fn shares(&self) -> impl Iterator<Item = (usize, f64)> + '_ {
        let whole: f64 = self.muscles.iter().map(|(_, weight)| weight).sum();
        self.muscles.iter().map(move |&(place, weight)| (place, weight / whole))
    }
}
