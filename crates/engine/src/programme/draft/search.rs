//! Looking for a good week: a seeded search that changes a plan step by step.
//!
//! Annealing on [`State`], whose small steps (a set more or less, a lift taken, dropped, exchanged or moved)
//! are joined by large ones that pull down and build up again a whole day or a whole muscle, as no sequence
//! of small steps leads from one split of the week to another. Every round cools from warm to cold; every
//! other one begins with the best week so far. No clock and no chance of its own: as many steps with one seed
//! give the same week on every machine.

use rand::rngs::ChaCha8Rng;
use rand::{RngExt, SeedableRng};

use super::model::{Model, Plan};
use super::state::State;

/// Steps for each candidate and day in which a round cools down, and the fewest of a round.
const ROUND: (u64, u64) = (400, 2_000);
/// How often in a round tolls are made heavier or lighter, and the heaviest.
const WEIGHINGS: u64 = 25;
const HEAVIEST: i64 = 64;
/// Points that a step down may cost when a round is warm, and when it is cold.
const WARM: f64 = 40_000.0;
const LUKEWARM: f64 = 12_000.0;
const COLD: f64 = 250.0;

/// A search that can be gone on with.
#[derive(Debug)]
pub struct Search<'m, 'a> {
    model: &'m Model<'a>,
    rng: ChaCha8Rng,
    state: State<'m, 'a>,
    best: Option<(i64, Plan)>,
    steps: u64,
    /// Steps in a round.
    round: u64,
    /// Whether it began with a week that the lifter does now.
    has_present: bool,
}

impl<'m, 'a> Search<'m, 'a> {
    /// Begins with what the present week has, if anything.
    #[must_use]
    pub fn new(model: &'m Model<'a>, seed: u64) -> Search<'m, 'a> {
        let state = State::new(model, &model.present_plan());
        let rng = ChaCha8Rng::seed_from_u64(seed);
        let (n_candidates, n_days) = model.size();
        let round = (ROUND.0 * (n_candidates * n_days) as u64).max(ROUND.1);
        let has_present = model.wishes.present.is_some();
        let mut search = Search { model, rng, state, best: None, steps: 0, round, has_present };
        search.note();
        search.state.be_strict(HEAVIEST);
        for day in 0..model.days.len() {
            search.trim_day(day);
        }
        for day in 0..model.days.len() {
            search.fill(&[day], None);
        }
        search.note();
        search.state.be_strict(1);
        search
    }

    /// Takes a week to begin with, if none was found that is as good.
    pub fn offer(&mut self, plan: &Plan) {
        let offered = State::new(self.model, plan);
        if self.best.as_ref().is_none_or(|(best, _)| offered.points() > *best)
            && offered.is_possible()
        {
            self.best = Some((offered.points(), plan.clone()));
            self.state = offered;
        }
    }

    /// The best week found that keeps to every limit, with its points.
    #[must_use]
    pub fn best(&self) -> Option<(i64, &Plan)> {
        self.best.as_ref().map(|(points, plan)| (*points, plan))
    }

    /// Steps gone so far.
    #[must_use]
    pub fn steps(&self) -> u64 {
        self.steps
    }

    /// Goes on for so many steps.
    pub fn go_on(&mut self, steps: u64) {
        if self.model.candidates.is_empty() || self.model.days.is_empty() {
            self.steps += steps;
            return;
        }
        for _ in 0..steps {
            let (round, at) = (self.steps / self.round, self.steps % self.round);
            if at == 0 && round > 0 {
                self.begin_round(round);
            }
            if at % (self.round / WEIGHINGS) == 0 {
                self.weigh();
            }
            // What the lifter does now is not to be melted down before it was tried to be bettered.
            let hot = round.is_multiple_of(3) && (round > 0 || !self.has_present);
            let warm = if hot { WARM } else { LUKEWARM };
            let done = at as f64 / self.round as f64;
            self.step(warm * libm::pow(COLD / warm, done));
            self.steps += 1;
        }
    }

    /// Makes tolls heavier while the week can't be, and lighter while it can: the best weeks lie at their
    /// limits, and are found from both sides.
    fn weigh(&mut self) {
        let times = self.state.strictness();
        self.state.be_strict(if self.state.is_possible() {
            (times / 2).max(1)
        } else {
            (2 * times).min(HEAVIEST)
        });
    }

    /// Two of three rounds begin with the best week, the others go on from where the last one ended.
    fn begin_round(&mut self, round: u64) {
        if !round.is_multiple_of(3)
            && let Some((_, plan)) = &self.best
        {
            let times = self.state.strictness();
            self.state = State::new(self.model, plan);
            self.state.be_strict(times);
        }
    }

    fn note(&mut self) {
        let points = self.state.points();
        if self.state.is_possible() && self.best.as_ref().is_none_or(|(best, _)| points > *best) {
            self.best = Some((points, self.state.plan()));
        }
    }

    fn below(&mut self, end: usize) -> usize {
        self.rng.random_range(0..end)
    }

    fn step(&mut self, heat: f64) {
        let before = self.state.height();
        let mut undo = Changes::default();
        match self.below(1000) {
            0..300 => self.more_or_less(&mut undo),
            300..450 => self.take(&mut undo),
            450..540 => self.drop(&mut undo),
            540..790 => self.exchange(&mut undo),
            790..920 => self.move_to_other_day(&mut undo),
            920..990 => self.swap_days_of_two(&mut undo),
            990..993 => self.swap_days(&mut undo),
            993..997 => self.rebuild_day(&mut undo),
            _ => self.rebuild_muscle(&mut undo),
        }
        let gained = self.state.height() - before;
        let accepted = gained >= 0 || {
            let draw: f64 = self.rng.random();
            draw < libm::exp(gained as f64 / heat)
        };
        if !accepted {
            for (candidate, day, sets) in undo.0.into_iter().rev() {
                self.state.set(candidate, day, sets);
            }
        } else if gained != 0 {
            self.note();
        }
    }

    fn put(&mut self, undo: &mut Changes, candidate: usize, day: usize, sets: u8) {
        undo.0.push((candidate, day, self.state.sets(candidate, day)));
        self.state.set(candidate, day, sets);
    }

    /// A random day, and a random candidate on it if there is one.
    fn some_on(&mut self) -> (usize, Option<usize>) {
        let day = self.below(self.model.days.len());
        let n = self.state.on(day).len();
        if n == 0 {
            return (day, None);
        }
        let at = self.below(n);
        (day, Some(usize::from(self.state.on(day)[at])))
    }

    /// A random candidate that may stand on a day, with a number of sets.
    fn some_for(&mut self, day: usize) -> Option<(usize, u8)> {
        let candidate = self.below(self.model.candidates.len());
        let cell = self.model.cell(candidate, day);
        if !cell.allowed || self.state.sets(candidate, day) > 0 {
            return None;
        }
        let more = self.below(usize::from(cell.most - cell.least) + 1) as u8;
        Some((candidate, cell.least + more))
    }

    fn more_or_less(&mut self, undo: &mut Changes) {
        let (day, Some(candidate)) = self.some_on() else { return };
        let cell = self.model.cell(candidate, day);
        let sets = self.state.sets(candidate, day);
        let next = if self.below(2) == 0 { sets + 1 } else { sets - 1 };
        if (cell.least..=cell.most).contains(&next) {
            self.put(undo, candidate, day, next);
        }
    }

    fn take(&mut self, undo: &mut Changes) {
        let day = self.below(self.model.days.len());
        if let Some((candidate, sets)) = self.some_for(day) {
            self.put(undo, candidate, day, sets);
        }
    }

    fn drop(&mut self, undo: &mut Changes) {
        if let (day, Some(candidate)) = self.some_on() {
            self.put(undo, candidate, day, 0);
        }
    }

    fn exchange(&mut self, undo: &mut Changes) {
        let (day, Some(candidate)) = self.some_on() else { return };
        let Some((other, drawn)) = self.some_for(day) else { return };
        let sets = self.state.sets(candidate, day);
        let cell = self.model.cell(other, day);
        let same = sets.clamp(cell.least, cell.most);
        self.put(undo, candidate, day, 0);
        let next = if self.below(3) == 0 { drawn } else { same };
        self.put(undo, other, day, next);
    }

    fn move_to_other_day(&mut self, undo: &mut Changes) {
        let (from, Some(candidate)) = self.some_on() else { return };
        let to = self.below(self.model.days.len());
        self.carry(undo, candidate, from, to);
    }

    fn swap_days_of_two(&mut self, undo: &mut Changes) {
        let ((a, Some(one)), (b, Some(other))) = (self.some_on(), self.some_on()) else { return };
        if a != b && one != other {
            self.carry(undo, one, a, b);
            self.carry(undo, other, b, a);
        }
    }

    /// Carries a candidate's sets to another day if it may stand there and doesn't yet.
    fn carry(&mut self, undo: &mut Changes, candidate: usize, from: usize, to: usize) {
        let cell = self.model.cell(candidate, to);
        if from != to && cell.allowed && self.state.sets(candidate, to) == 0 {
            let sets = self.state.sets(candidate, from).clamp(cell.least, cell.most);
            self.put(undo, candidate, from, 0);
            self.put(undo, candidate, to, sets);
        }
    }

    fn swap_days(&mut self, undo: &mut Changes) {
        let (a, b) = (self.below(self.model.days.len()), self.below(self.model.days.len()));
        if a == b {
            return;
        }
        let take = |state: &State<'_, '_>, day: usize| -> Vec<(usize, u8)> {
            let on = state.on(day).iter().map(|one| usize::from(*one));
            on.map(|one| (one, state.sets(one, day))).collect()
        };
        let (of_a, of_b) = (take(&self.state, a), take(&self.state, b));
        for (day, lifts) in [(a, &of_a), (b, &of_b)] {
            for (candidate, _) in lifts {
                self.put(undo, *candidate, day, 0);
            }
        }
        for (day, lifts) in [(b, &of_a), (a, &of_b)] {
            for (candidate, sets) in lifts {
                let cell = self.model.cell(*candidate, day);
                if cell.allowed {
                    self.put(undo, *candidate, day, (*sets).clamp(cell.least, cell.most));
                }
            }
        }
    }

    /// Clears a day, or half of it, and fills it again.
    fn rebuild_day(&mut self, undo: &mut Changes) {
        let day = self.below(self.model.days.len());
        let half = self.below(2) == 0;
        for candidate in self.state.on(day).to_vec() {
            if !half || self.below(2) == 0 {
                self.put(undo, candidate.into(), day, 0);
            }
        }
        self.fill(&[day], Some(undo));
    }

    /// Takes out every lift of which a muscle is a prime mover, and fills all days again.
    fn rebuild_muscle(&mut self, undo: &mut Changes) {
        let candidate = self.below(self.model.candidates.len());
        let Some(&(muscle, ..)) = self.model.candidates[candidate].weights.first() else { return };
        let days: Vec<usize> = (0..self.model.days.len()).collect();
        for &day in &days {
            for candidate in self.state.on(day).to_vec() {
                let one = &self.model.candidates[usize::from(candidate)];
                if one.weights.iter().any(|(other, _, prime)| *other == muscle && *prime) {
                    self.put(undo, candidate.into(), day, 0);
                }
            }
        }
        self.fill(&days, Some(undo));
    }

    /// Drops what costs least until the day has no toll of its own, or no lift.
    fn trim_day(&mut self, day: usize) {
        while !self.state.is_possible() && !self.state.on(day).is_empty() {
            let mut best: Option<(i64, usize)> = None;
            let before = self.state.height();
            for candidate in self.state.on(day).to_vec() {
                let candidate = usize::from(candidate);
                let sets = self.state.sets(candidate, day);
                self.state.set(candidate, day, 0);
                let gained = self.state.height() - before;
                self.state.set(candidate, day, sets);
                if best.is_none_or(|(most, _)| gained > most) {
                    best = Some((gained, candidate));
                }
            }
            match best {
                Some((gained, candidate)) if gained > 0 => self.state.set(candidate, day, 0),
                _ => return,
            }
        }
    }

    /// Adds to these days, step by step, what gains most for its time, with a little chance.
    fn fill(&mut self, days: &[usize], mut undo: Option<&mut Changes>) {
        loop {
            let before = self.state.height();
            let mut best: Option<(f64, usize, usize, u8)> = None;
            for &day in days {
                for candidate in 0..self.model.candidates.len() {
                    let Some((sets, seconds)) = self.one_more(candidate, day) else { continue };
                    let now = self.state.sets(candidate, day);
                    self.state.set(candidate, day, sets);
                    let gained = self.state.height() - before;
                    self.state.set(candidate, day, now);
                    if gained <= 0 {
                        continue;
                    }
                    let chance: f64 = 0.7 + 0.6 * self.rng.random::<f64>();
                    let rate = chance * gained as f64 / seconds.max(30) as f64;
                    if best.is_none_or(|(most, ..)| rate > most) {
                        best = Some((rate, candidate, day, sets));
                    }
                }
            }
            let Some((_, candidate, day, sets)) = best else { return };
            if let Some(undo) = undo.as_deref_mut() {
                undo.0.push((candidate, day, self.state.sets(candidate, day)));
            }
            self.state.set(candidate, day, sets);
        }
    }

    /// The sets that a candidate would have with one step more on a day, and the seconds of the step.
    fn one_more(&self, candidate: usize, day: usize) -> Option<(u8, i64)> {
        let cell = self.model.cell(candidate, day);
        match self.state.sets(candidate, day) {
            _ if !cell.allowed => None,
            0 => Some((cell.least, cell.fixed + i64::from(cell.least) * cell.per_set)),
            sets if sets < cell.most => Some((sets + 1, cell.per_set)),
            _ => None,
        }
    }
}

/// What a step changed: candidate, day, and the sets before, in order.
#[derive(Debug, Default)]
struct Changes(Vec<(usize, usize, u8)>);
