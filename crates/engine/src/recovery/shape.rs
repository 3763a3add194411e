//! Which rows of the state belong to what: lifts, muscles, and what all lifts share.

use std::collections::BTreeMap;

use domain::{Lift, Muscle};

use super::parameters::{pace, region};
use super::pending::{Kind, PACES, Pending};

/// The rows before those of muscles and lifts.
pub(super) const FORM: usize = 0;
pub(super) const ABSENCE: usize = 1;
pub(super) const COST: usize = 2;
pub(super) const CHECK_IN: usize = 3;
const SLEEP: usize = CHECK_IN;
const STRESS: usize = CHECK_IN + 1;
const SORENESS: usize = CHECK_IN + 2;
const N_SHARED: usize = 6;

/// The lifts of one lifter, and the muscles that they train.
#[derive(Clone, Debug, PartialEq)]
pub struct Shape {
    muscles: Vec<Muscle>,
    lifts: Vec<LiftShape>,
    /// Pace and region of each muscle.
    kinds: Vec<Kind>,
    /// Places of two muscles of one region, the later first.
    pairs: Vec<(usize, usize)>,
}

/// What kind of quantity a row holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Row {
    /// What a set costs.
    Cost,
    /// A muscle, by its place.
    Muscle(usize),
    /// A lift's level; its slope is the next row.
    Level,
    /// A lift's slope.
    Slope,
    /// Anything else: it fades by itself or not at all.
    Other,
}

/// How fast a quantity fades; all of one pace fade by the same factors.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Pace {
    Never,
    Form,
    Absence,
    Sleep,
    Stress,
    Soreness,
    Slope,
    SlowMuscle,
    MiddlingMuscle,
    QuickMuscle,
}

/// The paces of muscles, in order.
pub(super) const MUSCLE_PACES: [Pace; PACES] =
    [Pace::SlowMuscle, Pace::MiddlingMuscle, Pace::QuickMuscle];

impl Pace {
    pub(super) const COUNT: usize = 10;
    pub(super) const ALL: [Pace; Pace::COUNT] = [
        Pace::Never,
        Pace::Form,
        Pace::Absence,
        Pace::Sleep,
        Pace::Stress,
        Pace::Soreness,
        Pace::Slope,
        Pace::SlowMuscle,
        Pace::MiddlingMuscle,
        Pace::QuickMuscle,
    ];
}

/// One lift as the model sees it.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct LiftShape {
    /// (place among the muscles, weight).
    pub(super) muscles: Vec<(usize, f64)>,
    shares: Vec<(usize, f64)>,
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
            .map(|lift| {
                let muscles: Vec<(usize, f64)> = lift
                    .muscles
                    .iter()
                    .filter_map(|share| Some((place(share.muscle)?, share.get())))
                    .collect();
                let whole: f64 = muscles.iter().map(|(_, weight)| weight).sum();
                let shares =
                    muscles.iter().map(|&(place, weight)| (place, weight / whole)).collect();
                LiftShape { muscles, shares, class_scatter_pct: lift.starting_scatter_pct }
            })
            .collect();
        let regions: Vec<Option<usize>> = muscles.iter().map(|muscle| region(*muscle)).collect();
        let together =
            |one: usize, other: usize| regions[one].is_some() && regions[one] == regions[other];
        let pairs = (0..muscles.len())
            .flat_map(|one| (0..one).map(move |other| (one, other)))
            .filter(|&(one, other)| together(one, other))
            .collect();
        let kind = |(muscle, &region): (&Muscle, &Option<usize>)| {
            let pace = MUSCLE_PACES.iter().position(|one| *one == pace(*muscle));
            Kind { pace: pace.unwrap_or(0), region }
        };
        let kinds = muscles.iter().zip(&regions).map(kind).collect();
        Shape { muscles, lifts, kinds, pairs }
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

    /// What comes over these muscles and lifts, none of it yet; `together` for muscles of one region.
    pub(super) fn pending(&self, together: f64) -> Pending {
        Pending::of(self.muscle_row(0), self.kinds.clone(), together, self.n_lifts())
    }

    /// Muscles that belong to one region, as pairs of places.
    pub(super) fn pairs(&self) -> &[(usize, usize)] {
        &self.pairs
    }

    /// What a row holds, and how fast it fades.
    pub(super) fn row(&self, row: usize) -> (Row, Pace) {
        let first_level = N_SHARED + self.muscles.len();
        match row {
            FORM => (Row::Other, Pace::Form),
            ABSENCE => (Row::Other, Pace::Absence),
            COST => (Row::Cost, Pace::Never),
            SLEEP => (Row::Other, Pace::Sleep),
            STRESS => (Row::Other, Pace::Stress),
            SORENESS => (Row::Other, Pace::Soreness),
            _ if row < first_level => {
                let place = row - N_SHARED;
                (Row::Muscle(place), self.pace(place))
            }
            _ if row < self.n_states_without_usual() => match (row - first_level) % 3 {
                0 => (Row::Level, Pace::Never),
                1 => (Row::Slope, Pace::Slope),
                _ => (Row::Other, Pace::Never),
            },
            _ => (Row::Other, Pace::Never),
        }
    }

    pub(super) fn lift(&self, lift: usize) -> &LiftShape {
        &self.lifts[lift]
    }

    /// How fast a muscle recovers.
    pub(super) fn pace(&self, place: usize) -> Pace {
        MUSCLE_PACES[self.kinds[place].pace]
    }

    /// The same as a number, and its region.
    pub(super) fn kind(&self, place: usize) -> Kind {
        self.kinds[place]
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
        self.shares.iter().copied()
    }
}
