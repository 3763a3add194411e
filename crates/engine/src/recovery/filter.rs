//! The recovery model's filter: what is believed of one lifter, carried through time and sets.
//!
//! Takes events in order of time and only ever looks back. Parameters are given; estimating them is
//! [`super::fit`]'s job. Letters and equations are those of `docs/model.md`.

use super::account::{Account, Entry, LeadTold, Passing, Prepared, Told};
use super::belief::{Belief, Sum, Surprise};
use super::frame::{Frame, fading};
use super::freak::Freak;
use super::gradient::{Faded, Observed, Pushed, RowBefore, Step};
use super::parameters::{Parameters, Pooled, SLEEP_AS_STRESS, days_of};
use super::shape::{ABSENCE, CHECK_IN, COST, FORM, MUSCLE_PACES, Pace, Shape};
use super::state::State;
use crate::strength::SetMeasurement;
use crate::trend::LeadSet;

/// Exposures over which "usual" is meant; their mean is followed by a running one whose weights have
/// the same mean age (4.5 exposures).
const USUAL_EXPOSURES: f64 = 8.0;
const USUAL_PART: f64 = 2.0 / (USUAL_EXPOSURES + 1.0);

/// Ln 1RM lost per day away beyond two weeks, and the doubt about it, as its own sd. Strength holds
/// for about three weeks and then falls over 5 to 16 (McMaster 2013, from memory; Bosquet 2013: SMD
/// −0.46 over all lengths of cessation); the rate is our choice.
const LOST_PER_DAY_AWAY: f64 = 0.0015;
const DOUBT_PER_DAY_AWAY: f64 = 0.0015;
/// Days in which what an absence took comes back to a third, once trained again. Halonen 2024: ten
/// weeks off were made good in about five.
pub(super) const REGAIN_DAYS: f64 = 14.0;
/// Doubt about a level while its lift alone is left out, as a standard deviation that grows by so much a day
/// beyond two weeks: 1 % a week. Our choice.
const LEFT_OUT_PER_DAY: f64 = 0.01 / 7.0;

/// The farthest day from the origin, and the most hard sets or points of a check-in item, that are taken
/// for what they say.
pub(super) const MOST_DAYS: f64 = 1e6;
const MOST: f64 = 1e3;
/// The masses in kg that a lead set is taken to have moved: a gram to a thousand tonnes.
const MASSES: std::ops::RangeInclusive<f64> = 1e-3..=1e6;

/// Something that happened to a lifter. Days count from any fixed origin.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Event {
    /// The lead set of a lift.
    Lead {
        /// Which lift.
        lift: usize,
        /// The set.
        set: LeadSet,
    },
    /// A lead set together with the sets after it, once they are done.
    WorkSets {
        /// Which lift.
        lift: usize,
        /// The lead set.
        set: LeadSet,
        /// What all of them show.
        seen: SetMeasurement,
    },
    /// Sets done of a lift: their dose.
    Work {
        /// Which lift.
        lift: usize,
        /// When.
        days: f64,
        /// Hard sets, or parts of one.
        hard_sets: f64,
    },
    /// A check-in: departures from the lifter's own usual, where told.
    CheckIn {
        /// When.
        days: f64,
        /// Hours slept, stress and soreness, less their usual.
        items: [Option<f64>; 3],
    },
}

impl Event {
    /// When it happened.
    #[must_use]
    pub fn days(&self) -> f64 {
        match self {
            Event::Lead { set, .. } | Event::WorkSets { set, .. } => set.days,
            Event::Work { days, .. } | Event::CheckIn { days, .. } => *days,
        }
    }

    /// Whether its numbers are numbers, and such as can happen: a day within a million of the origin, 0 to
    /// 1,000 hard sets, items within 1,000 of usual, a mass of a gram to a thousand tonnes. A lead set's
    /// repetitions and reserve are judged where it is measured.
    #[must_use]
    pub fn is_possible(&self) -> bool {
        let can_happen = match self {
            Event::Lead { set, .. } | Event::WorkSets { set, .. } => MASSES.contains(&set.moved_kg),
            Event::Work { hard_sets, .. } => (0.0..=MOST).contains(hard_sets),
            Event::CheckIn { items, .. } => items.iter().flatten().all(|told| told.abs() <= MOST),
        };
        can_happen && self.days().abs() <= MOST_DAYS
    }
}

/// The model with one lifter's parameters.
#[derive(Clone, Debug)]
pub struct Dynamics<'a> {
    /// Lifts and muscles.
    pub shape: &'a Shape,
    /// What isn't estimated.
    pub pooled: &'a Pooled,
    /// What is.
    pub parameters: &'a Parameters,
}

impl Dynamics<'_> {
    /// Before anything is known.
    #[must_use]
    pub fn start(&self) -> State {
        self.start_with(self.shape.n_states())
    }

    /// Without what is usual, and ready to note what is done.
    pub(super) fn start_taped(&self) -> State {
        let mut state = self.start_with(self.shape.n_states_without_usual());
        state.tape = Some(Vec::new());
        state
    }

    fn start_with(&self, n_states: usize) -> State {
        let shape = self.shape;
        let mut belief = Belief::with_places(n_states, shape.pending(self.pooled.together));
        belief.disturb(FORM, 0.0, self.parameters.form_sd.powi(2));
        belief.disturb(COST, self.pooled.cost.middle, self.pooled.cost.sd.powi(2));
        for (item, sd) in self.pooled.check_in_sd.iter().enumerate() {
            belief.disturb(CHECK_IN + item, 0.0, sd * sd);
        }
        for place in 0..shape.muscles().len() {
            belief.disturb(shape.muscle_row(place), 0.0, self.parameters.muscle_sd.powi(2));
        }
        for lift in 0..shape.n_lifts() {
            let slope = self.pooled.slope;
            let (level, days, variance) =
                (shape.level(lift), self.pooled.slope_days, slope.sd * slope.sd);
            belief.disturb(shape.slope(lift), slope.middle, variance);
            belief.disturb(level, days * slope.middle, days * days * variance);
            belief.correlate(level, shape.slope(lift), days * variance);
            belief.disturb(shape.bend(lift), 0.0, self.pooled.curve_b.sd.powi(2));
        }
        State {
            belief,
            frame: Frame::new(shape, n_states, self.pooled.slope_days),
            account: Account::new(shape),
            sum: Sum::new(),
            muscle_usual: vec![(0.0, 0.0); shape.muscles().len()],
            log_likelihood: 0.0,
            tape: None,
        }
    }

    /// Log-likelihood of a record: of the repetitions of every lead set but each lift's first.
    #[must_use]
    pub fn log_likelihood(&self, record: &Prepared) -> f64 {
        let mut state = self.start_with(self.shape.n_states_without_usual());
        for told in record.told() {
            self.learn(&mut state, told);
        }
        state.log_likelihood
    }

    /// Takes one event, as of the latest day so far if its own is earlier. An event that can't have
    /// happened ([`Event::is_possible`]) and a check-in that tells nothing change nothing.
    pub fn take(&self, state: &mut State, event: &Event) -> Option<Surprise> {
        let told = state.account.hear(self.shape, self.pooled, event)?;
        self.learn(state, &told)
    }

    pub(super) fn learn(&self, state: &mut State, told: &Told) -> Option<Surprise> {
        match told {
            Told::Lead(told) => return self.learn_lead(state, told),
            Told::Work { entry, doses } => self.learn_work(state, *entry, doses),
            Told::CheckIn { passing, items } => self.learn_check_in(state, *passing, items),
        }
        None
    }

    /// The sum that a lead set of `lift` shows: its capacity.
    #[must_use]
    pub(super) fn capacity(&self, lift: usize) -> Sum {
        let shape = self.shape;
        let mut sum = vec![(FORM, 1.0), (ABSENCE, 1.0)];
        let effects = self.parameters.check_in_effects.iter().enumerate();
        sum.extend(effects.map(|(item, effect)| (CHECK_IN + item, *effect)));
        let shares = shape.lift(lift).shares();
        sum.extend(shares.map(|(place, share)| (shape.muscle_row(place), share)));
        sum.push((shape.level(lift), 1.0));
        sum
    }

    /// The sum that a lead set of `lift` shows on the common curve. With another b the same capacity
    /// shows as less by b·n/(1 + b·n), the lean, for each unit of ln b.
    pub(super) fn shown(&self, lift: usize, lean: f64) -> Sum {
        let mut sum = self.capacity(lift);
        sum.push((self.shape.bend(lift), -lean));
        sum
    }

    /// Carries the belief to a later time; an earlier one, or one that can't be, changes nothing.
    pub fn pass(&self, state: &mut State, days: f64) {
        let passing = state.account.advance(self.pooled, days);
        self.fade(state, passing);
    }

    /// Time passes.
    fn fade(&self, state: &mut State, passing: Passing) {
        let Passing { days: gap, form, absence, check_in } = passing;
        if gap <= 0.0 {
            return;
        }
        let (shape, pooled) = (self.shape, self.pooled);
        // How much slower it goes, and how that hangs on what the check-ins told.
        let mut told = [0.0; 2];
        let mut stress = 0.0;
        for (item, worth) in [(0, -SLEEP_AS_STRESS), (1, 1.0)] {
            let row = CHECK_IN + item;
            let by_mean = worth * state.frame.scale(row);
            let points = by_mean * state.belief.mean(row);
            if points > 0.0 {
                told[item] = by_mean;
                stress += points;
            }
        }
        let slower = self.parameters.slowness * (1.0 + self.parameters.stress_slows * stress);
        let form = (1.0 - form * form) * state.frame.fade(Pace::Form, form).powi(2);
        state.belief.disturb(FORM, 0.0, form * self.parameters.form_sd.powi(2));
        state.frame.fade(Pace::Absence, absence);
        for (item, pace) in [Pace::Sleep, Pace::Stress, Pace::Soreness].into_iter().enumerate() {
            let factor = check_in[item];
            let sd = pooled.check_in_sd[item] * state.frame.fade(pace, factor);
            state.belief.disturb(CHECK_IN + item, 0.0, sd * sd * (1.0 - factor * factor));
        }
        let factors = self.fade_muscles(state, gap / slower);
        self.move_lifts(state, gap);
        if let Some(tape) = &mut state.tape {
            let muscles = factors.iter().enumerate().map(|(place, &factor)| {
                [factor, state.frame.scale(shape.muscle_row(place)), state.frame.dose(place)]
            });
            tape.push(Step::Fade(Box::new(Faded {
                gap,
                muscles: muscles.collect(),
                form,
                stress,
                told,
            })));
        }
        state.fold();
    }

    /// Muscles recover for so many days of most people's; the factors, by place.
    fn fade_muscles(&self, state: &mut State, gap: f64) -> Vec<f64> {
        let (shape, sd) = (self.shape, self.parameters.muscle_sd);
        let State { belief, frame, .. } = state;
        // Of each pace: the factor, and the sd of what is new, in the belief's unit.
        let by_pace = MUSCLE_PACES.map(|pace| {
            let factor = fading(gap, days_of(pace));
            let per_scale = frame.fade(pace, factor);
            (factor, sd * (1.0 - factor * factor).max(0.0).sqrt() * per_scale)
        });
        belief.pending().over_muscles(by_pace.map(|(_, sd)| sd));
        let of = |place: usize| by_pace[shape.kind(place).pace];
        let taped = if state.tape.is_some() { shape.muscles().len() } else { 0 };
        (0..taped).map(|place| of(place).0).collect()
    }

    /// Levels follow their slopes and drift, slopes flatten, curves drift.
    fn move_lifts(&self, state: &mut State, gap: f64) {
        let pooled = self.pooled;
        let (drift, tilt) = (self.parameters.drift.powi(2), pooled.slope_variance_per_day);
        let days = pooled.slope_days;
        let factor = fading(gap, days);
        let per_scale = state.frame.fade(Pace::Slope, factor);
        // Noise of level and slope; what the belief holds is level + days·slope, and slope/scale.
        let (level, both, slope) =
            (drift * gap + tilt * gap * gap * gap / 3.0, tilt * gap * gap / 2.0, tilt * gap);
        let variances = [
            level + days * (2.0 * both + days * slope),
            slope * per_scale * per_scale,
            pooled.curve_drift.powi(2) * gap,
        ];
        let shifts =
            [pooled.lasting_slope * gap, pooled.lasting_slope * (1.0 - factor) * per_scale];
        state.belief.pending().over_lifts(shifts, variances, (both + days * slope) * per_scale);
    }

    /// A session: an absence before it has cost what it has.
    pub(super) fn enter(&self, state: &mut State, days: f64) {
        let entry = state.account.enter(self.pooled, days);
        self.learn_entry(state, entry);
    }

    fn learn_entry(&self, state: &mut State, Entry { passing, away }: Entry) {
        self.fade(state, passing);
        if away > 0.0 {
            state.disturb(ABSENCE, -LOST_PER_DAY_AWAY * away, (DOUBT_PER_DAY_AWAY * away).powi(2));
        }
    }

    pub(super) fn work(&self, state: &mut State, lift: usize, days: f64, hard_sets: f64) {
        let told = state.account.work((self.shape, self.pooled), lift, days, hard_sets);
        self.learn(state, &told);
    }

    fn learn_work(&self, state: &mut State, entry: Entry, doses: &[(usize, f64)]) {
        self.learn_entry(state, entry);
        let cost = state.belief.mean(COST);
        for &(place, dose) in doses {
            let row = self.shape.muscle_row(place);
            let dose = state.frame.add_dose(place, dose);
            let toll = (self.pooled.toll_sd * dose).powi(2);
            state.belief.disturb(row, 0.0, toll * cost * cost);
            if let Some(tape) = &mut state.tape {
                tape.push(Step::Work(Pushed { place, toll, cost }));
            }
        }
    }

    fn learn_check_in(&self, state: &mut State, passing: Passing, items: &[Option<f64>; 3]) {
        self.fade(state, passing);
        for (item, told) in items.iter().enumerate() {
            if let Some(value) = told {
                // Whole points and quarter hours: counting error of a twelfth of a step squared.
                let noise = if item == 0 { 0.02 } else { 0.1 };
                let row = CHECK_IN + item;
                let sum = [(row, state.frame.scale(row))];
                let surprise = state.belief.observe(&sum, *value, noise, Freak::NONE);
                if let Some(tape) = &mut state.tape {
                    tape.push(Step::Observed(Box::new(Observed {
                        sum: sum.to_vec(),
                        along: state.belief.along().to_vec(),
                        innovation: surprise.innovation,
                        spread: surprise.variance - noise,
                        noise,
                        freak: Freak::NONE,
                        lead: None,
                    })));
                }
            }
        }
    }

    fn learn_lead(&self, state: &mut State, told: &LeadTold) -> Option<Surprise> {
        let LeadTold { entry, lift, left_out, exposures, lean, seen, freak } = *told;
        let scatter = self.parameters.scatter[lift];
        self.learn_entry(state, entry);
        self.doubt(state, lift, left_out);
        let noise = scatter * scatter
            + seen.rounding_variance
            + self.parameters.reserve_share * seen.reserve_variance
            + seen.curve_variance;
        let first = exposures == 1;
        let level = self.shape.level(lift);
        let mut sum = std::mem::take(&mut state.sum);
        let effects = &self.parameters.check_in_effects;
        state.frame.put_shown(self.shape, effects, lift, lean, &mut sum);
        let rows = state.tape.is_some().then(|| self.rows_before(state, lift));
        let surprise = if first {
            sum.retain(|(row, _)| *row != level);
            state.belief.found(level, &sum, seen.log_one_rm, noise);
            None
        } else {
            let surprise = state.belief.observe(&sum, seen.log_one_rm, noise, freak);
            state.log_likelihood += surprise.log_density + seen.log_jacobian;
            Some(surprise)
        };
        if let (Some(tape), Some(rows)) = (&mut state.tape, rows) {
            let observed = Box::new(Observed {
                sum: sum.clone(),
                along: state.belief.along().to_vec(),
                innovation: surprise.map_or(0.0, |one| one.innovation),
                spread: surprise.map_or(0.0, |one| one.variance - noise),
                noise,
                freak,
                lead: Some((lift, seen, rows)),
            });
            tape.push(if first { Step::Found(observed) } else { Step::Observed(observed) });
        }
        state.sum = sum;
        if state.belief.len() == self.shape.n_states() {
            let part = f64::from(exposures).recip().max(USUAL_PART);
            state.approach(self.shape.usual(lift), part, &self.capacity(lift));
            let muscles = &self.shape.lift(lift).muscles;
            let now: Vec<f64> = muscles
                .iter()
                .map(|&(place, _)| state.mean(self.shape.muscle_row(place)))
                .collect();
            for (&(place, _), now) in muscles.iter().zip(now) {
                let (n, usual) = &mut state.muscle_usual[place];
                *n += 1.0;
                *usual += n.recip().max(USUAL_PART) * (now - *usual);
            }
        }
        surprise
    }

    /// The rows of the belief on which what a lead set shows hangs by a parameter.
    fn rows_before(&self, state: &State, lift: usize) -> Vec<RowBefore> {
        let muscles = self.shape.lift(lift).muscles.iter();
        [COST, CHECK_IN, CHECK_IN + 1, CHECK_IN + 2]
            .into_iter()
            .chain(muscles.map(|&(place, _)| self.shape.muscle_row(place)))
            .map(|row| {
                let (mean, covariances) = state.belief.row(row);
                RowBefore { row, scale: state.frame.scale(row), mean, covariances }
            })
            .collect()
    }

    /// A lift alone that was left out for long: its level is less sure.
    pub(super) fn doubt_if_left_out(&self, state: &mut State, lift: usize) {
        self.doubt(state, lift, state.account.left_out(lift));
    }

    fn doubt(&self, state: &mut State, lift: usize, left_out: f64) {
        if left_out > 0.0 {
            let doubt = (LEFT_OUT_PER_DAY * left_out).powi(2);
            state.disturb(self.shape.level(lift), 0.0, doubt);
        }
    }

    /// Prepares a copy of the state for a lead set of `lift` on `days`, before it is done.
    #[must_use]
    pub(super) fn ahead(&self, state: &State, lift: usize, days: f64) -> State {
        let mut ahead = state.clone();
        self.enter(&mut ahead, days);
        self.doubt_if_left_out(&mut ahead, lift);
        ahead
    }
}
