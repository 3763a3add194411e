//! The oracle's walk through a record: nights, sessions, lifts, sets.

use domain::{LoggedSet, SetKind};
use nalgebra::{DMatrix, DVector};
use statrs::distribution::{ContinuousCDF, Gamma};

use super::super::body::{N_MUSCLES, PerMuscle, kept_overnight, night_cost};
use super::super::exercise::{SET_SD, SPEED_EFFORT, TEST_EFFORT, TIRED_A_SET, aim, effort_of};
use super::super::rack::Rack;
use super::super::simulate::{WANDER_KEPT, WANDER_NEWS_SD};
use super::super::{
    Event, Hidden, HiddenDay, HiddenExercise, HiddenLift, Night, REGIONS, Tail, VirtualLifter,
};
use super::belief::{Belief, Grid, Linear, Measured, Question, Spread, Width, merged};
use super::layout::Layout;
use super::line::Line;
use super::shown::Shown;
use super::strain::Pending;
use super::{OracleReading, Told};

/// Exposures from which a usual is known.
const LEAST_EXPOSURES: usize = 3;
/// How far a level that isn't told may be from its line at first.
const START_SD: f64 = 0.05;
/// Hypotheses less probable than this are dropped.
const NEGLIGIBLE: f64 = 1e-5;

/// The oracle at work.
pub(super) struct Filter<'a> {
    lifter: &'a VirtualLifter,
    hidden: &'a Hidden,
    limit: f64,
    told: Told,
    /// What each lift's level is taken for, if it isn't told.
    lines: Vec<Line>,
    layout: Layout,
    beliefs: Vec<Belief>,
    pending: Vec<Pending>,
    widths: Vec<(f64, f64)>,
    done_today: PerMuscle,
    night_cost: f64,
    exposures: Vec<usize>,
    pub(super) readings: Vec<OracleReading>,
}

impl<'a> Filter<'a> {
    pub(super) fn new(lifter: &'a VirtualLifter, limit: f64, told: Told) -> Filter<'a> {
        let hidden = &lifter.hidden;
        let layout = Layout::of(hidden);
        let n = layout.len();
        let mut cov = DMatrix::zeros(n, n);
        cov[(layout.form(), layout.form())] = hidden.world.form.sd.powi(2);
        let lines = if told.levels { Vec::new() } else { Line::of_lifts(hidden) };
        if !told.levels {
            for lift_idx in layout.lifts() {
                cov[(layout.stray(lift_idx), layout.stray(lift_idx))] = START_SD * START_SD;
            }
        }
        let belief = Belief { weight: 1.0, mean: DVector::zeros(n), cov };
        Filter {
            lifter,
            hidden,
            limit,
            told,
            lines,
            beliefs: vec![belief],
            pending: pending(hidden, &layout),
            layout,
            widths: widths(hidden.world.tail),
            done_today: [0.0; N_MUSCLES],
            night_cost: 0.0,
            exposures: vec![0; hidden.lifts.len()],
            readings: Vec::new(),
        }
    }

    /// One day: the night, and the session if there is one.
    pub(super) fn live(&mut self, day: &HiddenDay, night: Night) {
        let (factors, news) = self.night(night);
        self.beliefs.iter_mut().for_each(|belief| belief.pass(&factors, &news));
        self.pending.iter_mut().for_each(|strain| strain.pass(&factors));
        self.done_today = [0.0; N_MUSCLES];
        self.night_cost = night_cost(&self.hidden.world, self.hidden.usual, night);
        if day.exercises.is_empty() {
            return;
        }
        self.draw_tolls();
        self.suppose_strains(day);
        for exercise in &day.exercises {
            self.exercise(day, exercise);
        }
        self.beliefs = merged(&self.beliefs).into_iter().collect();
    }

    /// The factor of every state over a night, and the variance that it gains.
    fn night(&self, night: Night) -> (DVector<f64>, DVector<f64>) {
        let world = &self.hidden.world;
        let mut factors = DVector::from_element(self.layout.len(), 1.0);
        let mut news = DVector::zeros(self.layout.len());
        for muscle in self.layout.muscles() {
            let kept = kept_overnight(world, self.hidden.person.slowness, night, muscle);
            if let Some(idx) = self.layout.quick(muscle) {
                factors[idx] = kept.quick;
            }
            if let Some(idx) = self.layout.slow(muscle) {
                factors[idx] = kept.slow;
            }
        }
        let form = world.form;
        factors[self.layout.form()] = form.kept;
        news[self.layout.form()] = form.sd * form.sd * (1.0 - form.kept * form.kept);
        for lift_idx in self.layout.lifts() {
            factors[self.layout.wander(lift_idx)] = WANDER_KEPT;
            news[self.layout.wander(lift_idx)] = WANDER_NEWS_SD * WANDER_NEWS_SD;
            news[self.layout.stray(lift_idx)] =
                self.lines.get(lift_idx).map_or(0.0, |line| line.variance_a_day);
        }
        (factors, news)
    }

    /// A session's toll on every muscle is log-normal around 1 in the median.
    fn draw_tolls(&mut self) {
        let variance = self.hidden.world.toll_log_sd.powi(2);
        let mean = (0.5 * variance).exp();
        for muscle in self.layout.muscles() {
            if let Some(idx) = self.layout.toll(muscle) {
                for belief in &mut self.beliefs {
                    belief.renew(idx, mean, mean * mean * variance.exp_m1());
                }
            }
        }
    }

    /// Turns each strain that may have fallen upon what is trained today into a hypothesis.
    fn suppose_strains(&mut self, day: &HiddenDay) {
        let trained: Vec<usize> = day
            .exercises
            .iter()
            .flat_map(|exercise| &self.hidden.lifts[exercise.lift_idx].lift.muscles)
            .filter_map(|share| self.layout.quick(share.muscle))
            .collect();
        let mut supposed = self.beliefs.clone();
        for strain in &mut self.pending {
            if !strain.falls_on.iter().any(|(idx, _)| trained.contains(idx)) {
                continue;
            }
            let p = strain.probability();
            for belief in &self.beliefs {
                let weight = belief.weight * p / (1.0 - p).max(1e-9);
                supposed.push(Belief { weight, ..strain.happened(belief) });
            }
            strain.settle();
        }
        self.beliefs = supposed;
        self.weigh();
    }

    /// Weights that add up to 1, without hypotheses that no longer matter.
    fn weigh(&mut self) {
        let total: f64 = self.beliefs.iter().map(|belief| belief.weight).sum();
        if total <= 0.0 || !total.is_finite() {
            let equal = 1.0 / self.beliefs.len().max(1) as f64;
            self.beliefs.iter_mut().for_each(|belief| belief.weight = equal);
            return;
        }
        self.beliefs.iter_mut().for_each(|belief| belief.weight /= total);
        self.beliefs.retain(|belief| belief.weight > NEGLIGIBLE);
    }

    fn exercise(&mut self, day: &HiddenDay, exercise: &HiddenExercise) {
        let lift_idx = exercise.lift_idx;
        let lift = &self.hidden.lifts[lift_idx];
        let level = self.lines.get(lift_idx).map(|line| line.at(day.days_back));
        let level = level.unwrap_or(exercise.told_level);
        let constant = lift.start_log_max + level - self.night_cost;
        let capacity = self.layout.capacity(lift_idx, &lift.lift, constant);
        let logged = &self.lifter.sets[exercise.sets.clone()];
        if !logged.iter().any(|set| set.kind.can_lead()) {
            self.remember(lift_idx, &capacity); // every attempt failed
        }
        let (mut waiting, mut work_sets) = (true, 0);
        for (set, effort) in logged.iter().zip(&exercise.efforts) {
            let mut now = capacity.clone();
            now.constant -= TIRED_A_SET * f64::from(work_sets);
            if set.kind.can_lead() && waiting {
                self.lead(lift, exercise, set, &now);
                self.remember(lift_idx, &capacity);
                waiting = false;
            } else if set.kind.can_lead() {
                now.terms.push((self.layout.scatter(), 1.0));
                let same_scatter = [Width { share: 1.0, variance: 0.0 }];
                self.set(lift, exercise, set, (&now, work_sets), &same_scatter, None);
            }
            let effort = if self.told.efforts {
                *effort
            } else {
                self.effort_by_log(set, work_sets + 1 == exercise.planned_sets)
            };
            work_sets += u8::from(set.kind == SetKind::Work);
            self.work(day, lift, effort);
        }
        let scatter = self.layout.scatter();
        self.beliefs.iter_mut().for_each(|belief| belief.renew(scatter, 0.0, 0.0));
        self.exposures[lift_idx] += 1;
    }

    /// How hard a set was as the log tells it.
    fn effort_by_log(&self, set: &LoggedSet, last: bool) -> f64 {
        let person = &self.hidden.person;
        match set.kind {
            SetKind::Work => {
                let told = set.rir.map(|rir| rir.get() - person.habits.rir_bias);
                effort_of(told.unwrap_or_else(|| aim(person.reserve, last)).max(0.0))
            }
            SetKind::Test => TEST_EFFORT,
            SetKind::Speed => SPEED_EFFORT,
            SetKind::WarmUp => 0.0,
        }
    }

    /// Keeps today's capacity among the last ones of the lift.
    fn remember(&mut self, lift_idx: usize, capacity: &Linear) {
        let place = self.layout.past(lift_idx, self.exposures[lift_idx]);
        self.beliefs.iter_mut().for_each(|belief| belief.assign(place, capacity));
    }

    /// Reads the lead set, after saying what was expected of it.
    fn lead(
        &mut self,
        lift: &HiddenLift,
        exercise: &HiddenExercise,
        set: &LoggedSet,
        capacity: &Linear,
    ) {
        let before = self.exposures[exercise.lift_idx];
        let shortfall = self.layout.shortfall(exercise.lift_idx, capacity, before);
        let question = Question { shortfall: &shortfall, limit: self.limit };
        let forecast = Spread::of(&self.beliefs, capacity);
        let width = |(share, times): &(f64, f64)| Width {
            share: *share,
            variance: (lift.scatter_sd * times).powi(2),
        };
        let widths: Vec<Width> = self.widths.iter().map(width).collect();
        let known = (before >= LEAST_EXPOSURES).then_some(&question);
        let p_shortfall = self.set(lift, exercise, set, (capacity, 0), &widths, known);
        self.readings.push(reading(set, &forecast, p_shortfall));
    }

    /// Reads one set, and answers the question about a shortfall if there is one.
    fn set(
        &mut self,
        lift: &HiddenLift,
        exercise: &HiddenExercise,
        set: &LoggedSet,
        (now, work_sets): (&Linear, u8),
        widths: &[Width],
        question: Option<&Question>,
    ) -> Option<f64> {
        let noise = if set.kind == SetKind::Test { 1e-8 } else { SET_SD * SET_SD };
        let scatter = (widths, self.layout.scatter());
        let measured = Measured { capacity: now, noise, scatter };
        let grid = self.grid(lift, exercise, set, work_sets, &measured);
        let (mut p_short, mut weights) = (0.0, 0.0);
        for belief in &mut self.beliefs {
            let p = belief.read(&measured, &grid, question);
            p_short += belief.weight * p.unwrap_or(0.0);
            weights += belief.weight;
        }
        self.weigh();
        (question.is_some() && weights > 0.0).then(|| p_short / weights)
    }

    fn grid(
        &self,
        lift: &HiddenLift,
        exercise: &HiddenExercise,
        set: &LoggedSet,
        work_sets: u8,
        measured: &Measured,
    ) -> Grid {
        let person = &self.hidden.person;
        let load_kg = set.load.kg();
        let log_moved = lift.lift.moved_kg(load_kg, person.body_mass_kg).ln();
        if set.kind == SetKind::Test {
            let rack = Rack::of(&lift.lift, person.unit);
            let next = rack.kg(rack.up(rack.at_most(load_kg + 0.002))); // grams are rounded
            let log_next = lift.lift.moved_kg(next, person.body_mass_kg).ln();
            return Grid::over(&self.beliefs, measured, |x| {
                if (log_moved..log_next).contains(&x) { 1.0 } else { 1e-9 }
            });
        }
        let shown = Shown {
            reps: set.reps.get(),
            rir: set.rir.map(domain::Rir::get),
            aim: aim(person.reserve, work_sets + 1 == exercise.planned_sets),
            high: exercise.high,
            habit: person.habits.rir,
            bias: person.habits.rir_bias,
        };
        let curve = self.hidden.world.curve;
        Grid::over(&self.beliefs, measured, |x| {
            shown.likelihood(curve.reps(x - log_moved, lift.rep_cost))
        })
    }

    /// A set takes its toll: fatigue grows by a known cost times the unknown toll.
    fn work(&mut self, day: &HiddenDay, lift: &HiddenLift, effort: f64) {
        let world = &self.hidden.world;
        for share in &lift.lift.muscles {
            let (idx, amount) = (share.muscle as usize, share.get() * effort);
            let cost = world.set_cost * (1.0 + day.unaccustomed);
            let cost = cost * world.dose.added(self.done_today[idx], amount);
            self.done_today[idx] += amount;
            let Some(toll) = self.layout.toll(share.muscle) else { continue };
            let slow = world.slow_part.share;
            let parts = [
                (self.layout.quick(share.muscle), 1.0 - slow),
                (self.layout.slow(share.muscle), slow),
            ];
            for (state, part) in parts {
                let Some(state) = state else { continue };
                let terms = vec![(state, 1.0), (toll, cost * part)];
                let tired = Linear { constant: 0.0, terms };
                self.beliefs.iter_mut().for_each(|belief| belief.assign(state, &tired));
            }
        }
    }
}

fn reading(set: &LoggedSet, forecast: &Spread, p_shortfall: Option<f64>) -> OracleReading {
    let (mean, sd) = forecast.moments();
    let interval_80 = (forecast.quantile(0.1), forecast.quantile(0.9));
    OracleReading { set: set.id(), mean, sd, interval_80, p_shortfall }
}

/// The strains that this lifter may suffer: the world's, and those of the lifter's own story, whose
/// days aren't told.
fn pending(hidden: &Hidden, layout: &Layout) -> Vec<Pending> {
    let slow = hidden.world.slow_part.share;
    let falls_on = |muscles: &[domain::Muscle]| {
        let parts = |m: &domain::Muscle| {
            [(layout.quick(*m), 1.0 - slow), (layout.slow(*m), slow)]
                .into_iter()
                .filter_map(|(idx, part)| idx.map(|idx| (idx, part)))
        };
        muscles.iter().flat_map(parts).collect::<Vec<_>>()
    };
    let strains = hidden.world.strains;
    let variance = strains.size_log_sd.powi(2);
    let size = (
        strains.size * (0.5 * variance).exp(),
        strains.size * strains.size * (2.0 * variance).exp(),
    );
    let chance = strains.daily_chance / REGIONS.len() as f64;
    let mut all: Vec<Pending> =
        REGIONS.iter().map(|region| Pending::new(chance, size, falls_on(region))).collect();
    for event in &hidden.person.events {
        if let Event::Strain { muscles, size_pct, .. } = event {
            let size = size_pct / 100.0;
            let chance = 1.0 / f64::from(hidden.person.days.max(1));
            all.push(Pending::new(chance, (size, size * size), falls_on(muscles)));
        }
    }
    all
}

/// A tail as a mixture of normal distributions: (share, standard deviation), with variance 1 in all.
fn widths(tail: Tail) -> Vec<(f64, f64)> {
    let mut widths: Vec<(f64, f64)> = match tail {
        Tail::TwoScale { share, times } => vec![(1.0 - share, 1.0), (share, times)],
        Tail::Student { freedom } => student_widths(freedom),
    };
    let variance: f64 = widths.iter().map(|(share, sd)| share * sd * sd).sum();
    widths.iter_mut().for_each(|(_, sd)| *sd /= variance.sqrt());
    widths
}

/// Student's t is a normal distribution whose precision is gamma distributed: cut into slices, the
/// thinnest where the precision is lowest.
fn student_widths(freedom: f64) -> Vec<(f64, f64)> {
    const SLICES: [f64; 7] = [0.005, 0.015, 0.04, 0.09, 0.2, 0.3, 0.35];
    let Ok(precision) = Gamma::new(freedom / 2.0, freedom / 2.0) else {
        return vec![(1.0, 1.0)];
    };
    let mut below = 0.0;
    SLICES
        .iter()
        .map(|share| {
            let middle = precision.inverse_cdf(below + share / 2.0);
            below += share;
            (*share, middle.max(1e-6).sqrt().recip())
        })
        .collect()
}
