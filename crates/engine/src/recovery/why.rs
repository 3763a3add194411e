//! Why a lift is flat or falling: odds between causes, from the same model.
//!
//! After a lead set, what is missing against the lifter's usual and the expected trend is a sum of
//! parts, about which the filter holds a joint normal belief: muscles not recovered, an absence, sleep,
//! stress and form, luck in the set, and a trend too slow for want of dose. The odds of a cause are the
//! probability that its part is the largest and of note, over a fixed set of evenly spread points of that
//! belief. Largest alone wouldn't do: a part of which little is known is often the largest of five, however
//! little it probably is. Where nothing is of note, what is left is ordinary scatter.
//! That a trend is slow is the model's; that low dose is why is weighed by the dose itself (our choice),
//! and the sentence says the dose.

use std::sync::OnceLock;

use domain::Muscle;
use nalgebra::{DMatrix, DVector};

use super::filter::Event;
use super::lifter::Lifter;
use super::shape::{ABSENCE, CHECK_IN, FORM};
use super::state::State;
use crate::trend::expectation::{Z_80, normal_quantile};

/// A reason for missing progress.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Cause {
    /// The muscles have not recovered.
    UnderRecovered,
    /// Too little training to grow on.
    UnderDosed,
    /// Strength lost in an absence is not yet back.
    BackFromAbsence,
    /// Short sleep, stress, or the day's form.
    SleepOrStress,
    /// The set's own luck.
    OrdinaryScatter,
}

impl Cause {
    /// All, in the order of the parts.
    pub const ALL: [Cause; 5] = [
        Cause::UnderRecovered,
        Cause::UnderDosed,
        Cause::BackFromAbsence,
        Cause::SleepOrStress,
        Cause::OrdinaryScatter,
    ];

    /// As it is written everywhere.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Cause::UnderRecovered => "under-recovered",
            Cause::UnderDosed => "under-dosed",
            Cause::BackFromAbsence => "back from absence",
            Cause::SleepOrStress => "short sleep or stress",
            Cause::OrdinaryScatter => "ordinary scatter",
        }
    }
}

/// One cause with its odds and what moved them.
#[derive(Clone, Debug, PartialEq)]
pub struct Weighed {
    /// The cause.
    pub cause: Cause,
    /// The probability that it is the largest part of what is missing and takes at least 1 % off; of
    /// ordinary scatter, that it is the largest or that nothing takes that much.
    pub odds: f64,
    /// What moved it, as a sentence that a lifter understands.
    pub evidence: String,
}

/// What is known of why a lift stands where it stands.
#[derive(Clone, Debug, PartialEq)]
pub struct Why {
    /// Whether the lift is flat or falling: its last four lead sets showed no more than 0.2 % above the
    /// four before.
    pub flat: bool,
    /// Mean of the last four shown less that of the four before, in %.
    pub change_pct: f64,
    /// Causes, the likeliest first.
    pub causes: Vec<Weighed>,
}

/// Exposures that are compared.
const COMPARED: usize = 4;
/// Days before the last event in which dose counts, and over which a slow trend is missing progress.
pub const TREND_DAYS: f64 = 28.0;
/// Hard sets a week of the prime movers at and above which dose is no excuse, and those at and below
/// which it is a full one (check-values: Ralston 2017 compares up to 5 with 10 or more; Schoenfeld 2017
/// below 5, 5–9 and 10 or more).
const ENOUGH_SETS: f64 = 10.0;
const FEW_SETS: f64 = 4.0;
/// The least part, in ln 1RM, that counts as a cause: half of the δ that a lifter starts with, like what may
/// still be missing from an absence. Our choice.
const OF_NOTE: f64 = 0.01;
/// The odds from which a cause stands out: likelier than all the rest. Our choice.
const STANDS_OUT: f64 = 0.5;
/// Points over which the odds are counted.
const POINTS: usize = 2048;

impl Lifter {
    /// Why `lift` stands where it stands; none with fewer than eight lead sets.
    #[must_use]
    pub fn why(&self, lift: usize) -> Option<Why> {
        let change = self.change(lift)?;
        let upto = self.after_last_lead(lift);
        let state = self.states_at([upto]).pop()?;
        Some(self.why_from(&state, lift, change))
    }

    /// [`Lifter::why`] of every lift that is flat or falling, in the order of the lifts; none of the others.
    /// Reads the record once, however many there are.
    #[must_use]
    pub fn why_flat(&self) -> Vec<Option<Why>> {
        let n = self.shape().n_lifts();
        let flat = (0..n).filter_map(|lift| {
            let change = self.change(lift).filter(|change| change.is_flat())?;
            Some((self.after_last_lead(lift), lift, change))
        });
        let mut flat: Vec<_> = flat.collect();
        flat.sort_by_key(|(upto, ..)| *upto);
        let states = self.states_at(flat.iter().map(|(upto, ..)| *upto));
        let mut whys = vec![None; n];
        for ((_, lift, change), state) in flat.into_iter().zip(&states) {
            whys[lift] = Some(self.why_from(state, lift, change));
        }
        whys
    }

    /// What the last lead sets of a lift showed against those before; none with fewer than eight.
    fn change(&self, lift: usize) -> Option<Change> {
        let shown: Vec<f64> = self.lead_sets(lift).filter_map(|set| self.shown_by(&set)).collect();
        if shown.len() < 2 * COMPARED {
            return None;
        }
        let mean = |values: &[f64]| values.iter().sum::<f64>() / values.len() as f64;
        let (before, last) = shown[shown.len() - 2 * COMPARED..].split_at(COMPARED);
        Some(Change { pct: 100.0 * (mean(last) - mean(before)), last_shown: *shown.last()? })
    }

    /// The causes, from what was believed right after the latest lead set.
    fn why_from(&self, state: &State, lift: usize, change: Change) -> Why {
        let weekly = self.weekly_dose(lift);
        let (parts, means) = self.parts(state, lift, change.last_shown, weekly);
        let odds = largest(&parts, &means);
        let mut causes: Vec<Weighed> = Cause::ALL
            .iter()
            .enumerate()
            .map(|(place, &cause)| {
                let (pct, sd_pct) =
                    (100.0 * means[place], 100.0 * parts[(place, place)].max(0.0).sqrt());
                let part = Part { pct, give_or_take: Z_80 * sd_pct };
                Weighed {
                    cause,
                    odds: odds[place],
                    evidence: self.evidence(state, cause, lift, part, weekly),
                }
            })
            .collect();
        let scatter = Cause::ALL.len() - 1;
        if odds[..scatter].iter().all(|odds| *odds < STANDS_OUT) {
            let evidence = &mut causes[scatter].evidence;
            *evidence = format!("Nothing else stands out. {evidence}");
        }
        causes.sort_by(|a, b| b.odds.total_cmp(&a.odds));
        Why { flat: change.is_flat(), change_pct: change.pct, causes }
    }

    /// How many events there are up to the latest lead set of a lift.
    fn after_last_lead(&self, lift: usize) -> usize {
        let is_its_lead = |event: &Event| matches!(event, Event::Lead { lift: other, .. } | Event::WorkSets { lift: other, .. } if *other == lift);
        self.events().iter().rposition(is_its_lead).map_or(0, |place| place + 1)
    }

    /// What was believed after so many events, for each of some ascending numbers: read again from the start,
    /// because what the work after a lead set cost is no reason for what the set showed.
    pub(super) fn states_at(&self, numbers: impl IntoIterator<Item = usize>) -> Vec<State> {
        let dynamics = self.dynamics();
        let mut state = dynamics.start();
        let mut taken = 0;
        let after = |number: usize| {
            for event in &self.events()[taken..number] {
                dynamics.take(&mut state, event);
            }
            taken = number;
            state.clone()
        };
        numbers.into_iter().map(after).collect()
    }

    /// Covariance and means of the parts of what is missing, in the order of [`Cause::ALL`].
    fn parts(
        &self,
        state: &State,
        lift: usize,
        shown: f64,
        weekly: f64,
    ) -> (DMatrix<f64>, DVector<f64>) {
        let shape = self.shape();
        let excuse = ((ENOUGH_SETS - weekly) / (ENOUGH_SETS - FEW_SETS)).clamp(0.1, 1.0);
        let muscles: Vec<(usize, f64)> = shape
            .lift(lift)
            .shares()
            .map(|(place, share)| (shape.muscle_row(place), -share))
            .collect();
        let usual: f64 = shape
            .lift(lift)
            .shares()
            .map(|(place, share)| share * state.muscle_usual[place].1)
            .sum();
        let form = std::iter::once((FORM, -1.0)).chain(
            self.parameters()
                .check_in_effects
                .iter()
                .enumerate()
                .map(|(item, effect)| (CHECK_IN + item, -effect)),
        );
        let last = self.lead_sets(lift).next_back().map_or(1.0, |set| set.moved_kg);
        let lean = state.account.lift(lift).lean_for(self.pooled(), last, 0.0);
        let capacity = self.dynamics().shown(lift, lean);
        let sums: [(Vec<(usize, f64)>, f64); 5] = [
            (muscles, usual),
            (
                vec![(shape.slope(lift), -TREND_DAYS * excuse)],
                self.pooled().slope.middle * TREND_DAYS * excuse,
            ),
            (vec![(ABSENCE, -1.0)], 0.0),
            (form.collect(), 0.0),
            (capacity, -shown),
        ];
        let means = DVector::from_iterator(
            5,
            sums.iter().map(|(sum, constant)| constant + state.mean_of(sum)),
        );
        let covariance = DMatrix::from_fn(5, 5, |row, column| {
            state.covariance_of(&sums[row].0, &sums[column].0)
        });
        (covariance, means)
    }

    /// Hard sets a week of the lift's prime movers (the mean of them) over the last four weeks.
    fn weekly_dose(&self, lift: usize) -> f64 {
        let shape = self.shape();
        let Some(now) = self.events().last().map(Event::days) else { return 0.0 };
        let heaviest = shape.lift(lift).muscles.iter().map(|m| m.1).fold(0.0, f64::max);
        let prime: Vec<usize> = shape
            .lift(lift)
            .muscles
            .iter()
            .filter(|(_, weight)| *weight >= heaviest)
            .map(|(place, _)| *place)
            .collect();
        let mut sum = 0.0;
        for event in self.events().iter().rev().take_while(|e| now - e.days() < TREND_DAYS) {
            if let Event::Work { lift: other, hard_sets, .. } = event {
                sum += hard_sets
                    * shape
                        .lift(*other)
                        .muscles
                        .iter()
                        .filter(|(place, _)| prime.contains(place))
                        .map(|(_, weight)| weight)
                        .sum::<f64>();
            }
        }
        sum / prime.len().max(1) as f64 / (TREND_DAYS / 7.0)
    }

    fn evidence(
        &self,
        state: &State,
        cause: Cause,
        lift: usize,
        part: Part,
        weekly: f64,
    ) -> String {
        match cause {
            Cause::UnderRecovered => {
                let muscles = part.words("The muscles of this lift, against their usual,");
                match self.worst_muscle(state, lift).filter(|_| part.is_missing()) {
                    Some(worst) => format!("{muscles}, most of it in the {}.", worst.label()),
                    None => format!("{muscles}."),
                }
            }
            Cause::UnderDosed => {
                let slope = [(self.shape().slope(lift), 700.0)];
                format!(
                    "Its prime movers got {weekly:.1} hard sets a week over four weeks, and the trend is \
                     {:+.2}\u{a0}% a week, give or take {:.2}.",
                    state.mean_of(&slope),
                    Z_80 * state.variance_of(&slope).sqrt()
                )
            }
            Cause::BackFromAbsence if part.is_missing() => format!(
                "After the time away about {:.1}\u{a0}% is probably still missing, give or take {:.1}.",
                part.pct, part.give_or_take
            ),
            Cause::BackFromAbsence => "No recent absence that would matter.".to_owned(),
            Cause::SleepOrStress => {
                format!(
                    "{}.",
                    part.words("Sleep, stress and the day's form, as told and as all lifts show,")
                )
            }
            Cause::OrdinaryScatter => format!(
                "Beyond what the rest explains this lift scatters by {:.1}\u{a0}%, and its last lead set was \
                 {:.1}\u{a0}% {}.",
                100.0 * self.parameters().scatter[lift].exp_m1(),
                part.pct.abs(),
                if part.pct > 0.0 { "under" } else { "above" }
            ),
        }
    }

    /// The muscle that takes most off a lift.
    fn worst_muscle(&self, state: &State, lift: usize) -> Option<Muscle> {
        let shape = self.shape();
        let takes = |(place, share): &(usize, f64)| {
            share * (state.muscle_usual[*place].1 - state.mean(shape.muscle_row(*place)))
        };
        let worst = shape.lift(lift).shares().max_by(|a, b| takes(a).total_cmp(&takes(b)));
        worst.map(|(place, _)| shape.muscles()[place])
    }
}

/// How the last lead sets of a lift stand against those before.
#[derive(Clone, Copy)]
struct Change {
    /// Their mean less that of the four before, in %.
    pct: f64,
    /// The ln 1RM that the latest showed.
    last_shown: f64,
}

impl Change {
    fn is_flat(self) -> bool {
        self.pct <= 0.2
    }
}

/// What a cause takes off, in %, and half the width of its 80 % interval.
#[derive(Clone, Copy)]
struct Part {
    pct: f64,
    give_or_take: f64,
}

impl Part {
    fn is_missing(self) -> bool {
        self.pct > 0.1
    }

    fn words(self, what: &str) -> String {
        let give_or_take = format!("give or take {:.1}", self.give_or_take);
        match self.pct {
            pct if pct.abs() < 0.1 => {
                format!("{what} make no difference of note, {give_or_take}\u{a0}%")
            }
            pct if pct > 0.0 => format!("{what} take about {pct:.1}\u{a0}% off, {give_or_take}"),
            pct => format!("{what} add about {:.1}\u{a0}%, {give_or_take}", -pct),
        }
    }
}

/// The probability that each of five jointly normal parts is the largest and of note, what is left going to
/// the last; over a Halton sequence in bases 2, 3, 5, 7 and 11 (Halton 1960).
fn largest(covariance: &DMatrix<f64>, means: &DVector<f64>) -> [f64; 5] {
    let root = {
        let eigen = covariance.clone().symmetric_eigen();
        let roots = eigen.eigenvalues.map(|value| value.max(0.0).sqrt());
        &eigen.eigenvectors * DMatrix::from_diagonal(&roots)
    };
    let mut counts = [0.0; 5];
    for normal in spread_normals() {
        let parts = means + &root * DVector::from_column_slice(normal);
        let largest = parts.imax();
        let cause = if parts[largest] < OF_NOTE { counts.len() - 1 } else { largest };
        counts[cause] += 1.0 / POINTS as f64;
    }
    counts
}

/// Evenly spread points of five independent standard normal numbers; the same ones always.
fn spread_normals() -> &'static [[f64; 5]] {
    static NORMALS: OnceLock<Vec<[f64; 5]>> = OnceLock::new();
    NORMALS.get_or_init(|| {
        let normal = |point| [2, 3, 5, 7, 11].map(|base| normal_quantile(halton(point, base)));
        (1..=POINTS).map(normal).collect()
    })
}

/// The point's digits in `base`, mirrored behind the point.
fn halton(mut point: usize, base: usize) -> f64 {
    let (mut value, mut digit) = (0.0, 1.0);
    while point > 0 {
        digit /= base as f64;
        value += digit * (point % base) as f64;
        point /= base;
    }
    value
}
