//! A plan with everything that depends on it kept up to date, so that a small change costs little.
//!
//! Points are kept in parts: for each muscle, each day and each candidate, and for the balance of the whole.
//! What goes beyond a limit is kept beside them as a toll, so that a search may pass through weeks that can't
//! be. A plan without toll keeps to every limit of its [`Model`].

use domain::Muscle;

use super::model::{MUSCLES, Model, Plan};
use super::worth::{GAUGE_DAY, LOADED, Milli, ONE_SIDED, RAISED_LEAST, of_raised};

/// Toll for each second too long, each thousandth of a set too much, and for each other breach.
const TOLL_SECOND: i64 = 150;
const TOLL_MILLI: i64 = 20;
const TOLL_BREACH: i64 = 60_000;

/// The two sides of each balance.
pub(super) const SIDES: [(&[Muscle], &[Muscle]); 2] = [
    (&[Muscle::Chest, Muscle::FrontDelts], &[Muscle::Lats, Muscle::UpperBack]),
    (&[Muscle::Quadriceps], &[Muscle::Hamstrings]),
];

/// What stands in the way of one set or lift more.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Limit {
    Minutes,
    Lifts,
    Session,
    Hours,
    Clash,
    Days,
}

impl Limit {
    pub(super) const ALL: &'static [Limit] =
        &[Limit::Minutes, Limit::Lifts, Limit::Session, Limit::Hours, Limit::Clash, Limit::Days];

    pub(super) fn words(self) -> &'static str {
        match self {
            Limit::Minutes => "no time left",
            Limit::Lifts => "no lift left",
            Limit::Session => "it has enough for one session",
            Limit::Hours => "something would not be back in time",
            Limit::Clash => "only lifts are left that don't go with others of the day",
            Limit::Days => "its lifts stand on as many days as they may",
        }
    }
}

/// Worth and toll of a part of a plan.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
struct Score {
    points: i64,
    toll: i64,
}

#[derive(Clone, Debug, Default)]
struct DayState {
    seconds: i64,
    lifts: i64,
    gauges: i64,
    clashes: i64,
    /// The candidates on the day.
    on: Vec<u16>,
    dose: [Milli; MUSCLES],
}

/// A plan and what it comes to.
#[derive(Clone, Debug)]
pub(super) struct State<'m, 'a> {
    pub(super) model: &'m Model<'a>,
    sets: Vec<u8>,
    days: Vec<DayState>,
    total: [Milli; MUSCLES],
    direct: [Milli; MUSCLES],
    candidate_days: Vec<i64>,
    candidate_sets: Vec<i64>,
    of_muscle: [Score; MUSCLES],
    of_day: Vec<Score>,
    of_candidate: Vec<Score>,
    balance: i64,
    /// For each week to differ from, places and lifts in common.
    shared: Vec<(i64, i64)>,
    sum: Score,
    /// How much a toll counts beside points.
    strictness: i64,
}

impl<'m, 'a> State<'m, 'a> {
    pub(super) fn new(model: &'m Model<'a>, plan: &Plan) -> State<'m, 'a> {
        let n_days = model.days.len();
        let mut state = State {
            model,
            sets: vec![0; plan.sets.len()],
            days: model
                .days
                .iter()
                .map(|day| DayState { dose: day.dose, ..DayState::default() })
                .collect(),
            total: [0; MUSCLES],
            direct: [0; MUSCLES],
            candidate_days: vec![0; model.candidates.len()],
            candidate_sets: vec![0; model.candidates.len()],
            of_muscle: [Score::default(); MUSCLES],
            of_day: vec![Score::default(); n_days],
            of_candidate: vec![Score::default(); model.candidates.len()],
            balance: 0,
            shared: vec![(0, 0); model.apart.len()],
            sum: Score::default(),
            strictness: 1,
        };
        for muscle in 0..MUSCLES {
            state.total[muscle] = model.days.iter().map(|day| day.dose[muscle]).sum();
            state.direct[muscle] = model.days.iter().map(|day| day.direct[muscle]).sum();
        }
        (0..MUSCLES).for_each(|muscle| state.rescore_muscle(muscle));
        (0..n_days).for_each(|day| state.rescore_day(day));
        (0..model.candidates.len()).for_each(|candidate| state.rescore_candidate(candidate));
        // A lift to go up that can't be taken has only what is fixed.
        for raised in model.raised.iter().filter(|raised| raised.candidate.is_none()) {
            state.sum.points += of_raised(raised.pinned_sets);
            state.sum.toll += TOLL_BREACH * (RAISED_LEAST - raised.pinned_sets).max(0);
        }
        state.sum.toll += TOLL_BREACH * model.fixed_wrongly;
        state.rebalance();
        for (cell, sets) in plan.sets.iter().enumerate() {
            state.set(cell / n_days, cell % n_days, *sets);
        }
        state
    }

    pub(super) fn plan(&self) -> Plan {
        Plan { sets: self.sets.clone() }
    }

    /// Points of the plan; they count only if it has no toll.
    pub(super) fn points(&self) -> i64 {
        self.sum.points
    }

    pub(super) fn is_possible(&self) -> bool {
        self.sum.toll == 0
    }

    /// What a search climbs.
    pub(super) fn height(&self) -> i64 {
        self.sum.points - self.strictness * self.sum.toll
    }

    pub(super) fn toll(&self) -> i64 {
        self.sum.toll
    }

    /// Whether a day has no lift at all.
    pub(super) fn is_bare(&self, day: usize) -> bool {
        self.model.days[day].lifts + self.days[day].lifts == 0
    }

    /// Whether something is broken that more lifts can't mend: anything but missing lifts and sets.
    pub(super) fn goes_too_far(&self) -> bool {
        let bare = (0..self.days.len()).filter(|day| self.is_bare(*day)).count() as i64;
        let missing = self.model.raised.iter().map(|raised| {
            let placed = raised.candidate.map_or(0, |one| self.candidate_sets[one]);
            (RAISED_LEAST - raised.pinned_sets - placed).max(0)
        });
        self.sum.toll > TOLL_BREACH * (bare + missing.sum::<i64>())
    }

    /// The limits that are broken on a day or by what stands on it.
    pub(super) fn limits(&self, day: usize) -> Vec<Limit> {
        let mut limits = Vec::new();
        let state = &self.days[day];
        let fixed = &self.model.days[day];
        if self.seconds(day) > fixed.allowed_seconds {
            limits.push(Limit::Minutes);
        }
        if fixed.lifts + state.lifts > i64::from(self.model.wishes.most_lifts()) {
            limits.push(Limit::Lifts);
        }
        let over = |muscle: usize| state.dose[muscle] > fixed.most_dose[muscle];
        if (0..MUSCLES).any(over) {
            limits.push(Limit::Session);
        }
        if self.of_muscle.iter().any(|score| score.toll > 0)
            && limits.last() != Some(&Limit::Session)
        {
            limits.push(Limit::Hours);
        }
        if state.clashes > 0 {
            limits.push(Limit::Clash);
        }
        if state.on.iter().any(|one| self.of_candidate[usize::from(*one)].toll > 0) {
            limits.push(Limit::Days);
        }
        limits
    }

    fn seconds(&self, day: usize) -> i64 {
        let (fixed, state) = (&self.model.days[day], &self.days[day]);
        let mut parts = fixed.part_seconds;
        for candidate in &state.on {
            let one = &self.model.candidates[usize::from(*candidate)];
            parts[one.part] = parts[one.part].max(one.first_warm_up);
        }
        fixed.seconds + state.seconds + parts.iter().sum::<i64>()
    }

    pub(super) fn strictness(&self) -> i64 {
        self.strictness
    }

    /// Makes tolls count so many times.
    pub(super) fn be_strict(&mut self, times: i64) {
        self.strictness = times;
    }

    pub(super) fn sets(&self, candidate: usize, day: usize) -> u8 {
        self.sets[candidate * self.days.len() + day]
    }

    /// The candidates on a day, in no order.
    pub(super) fn on(&self, day: usize) -> &[u16] {
        &self.days[day].on
    }

    /// Gives a candidate so many sets on a day.
    pub(super) fn set(&mut self, candidate: usize, day: usize, sets: u8) {
        let at = candidate * self.days.len() + day;
        let before = self.sets[at];
        if before == sets {
            return;
        }
        self.sets[at] = sets;
        let model = self.model;
        let (one, cell) = (&model.candidates[candidate], &model.cells[at]);
        let more = i64::from(sets) - i64::from(before);
        let (comes, goes) = (before == 0, sets == 0);
        let state = &mut self.days[day];
        state.seconds += more * cell.per_set;
        if comes || goes {
            let sign = if comes { 1 } else { -1 };
            state.seconds += sign * cell.fixed;
            state.lifts += sign;
            state.gauges += sign * i64::from(one.gauge);
            if goes {
                state.on.retain(|other| usize::from(*other) != candidate);
            }
            let clashes = state.on.iter().filter(|other| one.clashes[usize::from(**other)]).count();
            state.clashes += sign * clashes as i64;
            if comes {
                state.on.push(candidate as u16);
            }
            self.candidate_days[candidate] += sign;
            self.share(candidate, at, sign);
        }
        self.candidate_sets[candidate] += more;
        if cell.hard {
            for &(muscle, weight, prime) in &one.weights {
                let dose = weight * more;
                self.days[day].dose[muscle] += dose;
                self.total[muscle] += dose;
                self.direct[muscle] += if prime { dose } else { 0 };
                self.rescore_muscle(muscle);
            }
            self.rebalance();
        }
        self.rescore_day(day);
        self.rescore_candidate(candidate);
    }

    /// Counts what is in common with weeks to differ from, after a candidate came to a day or went.
    fn share(&mut self, candidate: usize, at: usize, sign: i64) {
        let days = self.candidate_days[candidate];
        let anywhere = i64::from(days == i64::from(sign > 0)) * sign;
        for (apart, shared) in self.model.apart.iter().zip(&mut self.shared) {
            let over = |shared: (i64, i64)| {
                (shared.0 - apart.most.0).max(0) + (shared.1 - apart.most.1).max(0)
            };
            let before = over(*shared);
            shared.0 += sign * i64::from(apart.on[at]);
            shared.1 += anywhere * i64::from(apart.has[candidate]);
            self.sum.toll += TOLL_BREACH * (over(*shared) - before);
        }
    }

    fn rescore_muscle(&mut self, muscle: usize) {
        let model = self.model;
        let doses = self.days.iter().map(|day| day.dose[muscle]);
        let points = model.worth[muscle].value(self.total[muscle], self.direct[muscle], doses);
        let mut over = 0;
        for (from, day) in self.days.iter().enumerate() {
            let dose = day.dose[muscle];
            over += (dose - model.days[from].most_dose[muscle]).max(0);
            if dose < LOADED {
                continue;
            }
            for (to, next) in self.days.iter().enumerate() {
                if next.dose[muscle] >= LOADED && to != from {
                    over += (dose - model.most_before(muscle, from, to)).max(0);
                }
            }
        }
        self.put(|state| &mut state.of_muscle[muscle], Score { points, toll: TOLL_MILLI * over });
    }

    fn rescore_day(&mut self, day: usize) {
        let (fixed, state) = (&self.model.days[day], &self.days[day]);
        let mut points = 0;
        for &candidate in &state.on {
            let at = usize::from(candidate);
            points += self.model.candidates[at].points_day;
            let cell = self.model.cell(at, day);
            if cell.kept_sets > 0 {
                let same = cell.kept_sets.min(self.sets[at * self.days.len() + day]);
                points += self.model.kept.day + self.model.kept.set * i64::from(same);
            }
        }
        let seconds = self.seconds(day);
        let lifts = fixed.lifts + state.lifts;
        let gauge = fixed.gauge || state.gauges > 0;
        points += if gauge { GAUGE_DAY } else { 0 };
        let breaches = (lifts - i64::from(self.model.wishes.most_lifts())).max(0)
            + i64::from(lifts == 0)
            + state.clashes;
        let late = (seconds - fixed.allowed_seconds).max(0);
        let toll = TOLL_SECOND * late + TOLL_BREACH * breaches;
        self.put(|state| &mut state.of_day[day], Score { points, toll });
    }

    fn rescore_candidate(&mut self, candidate: usize) {
        let one = &self.model.candidates[candidate];
        let days = self.candidate_days[candidate];
        let mut points = if days > 0 { one.points_week } else { 0 };
        let mut breaches = (days + one.pinned_days - one.most_days).max(0);
        if one.raised {
            let sets = self.candidate_sets[candidate] + one.pinned_sets;
            points += of_raised(sets);
            breaches += (RAISED_LEAST - sets).max(0);
        }
        let toll = TOLL_BREACH * breaches;
        self.put(|state| &mut state.of_candidate[candidate], Score { points, toll });
    }

    fn rebalance(&mut self) {
        let sum = |muscles: &[Muscle]| muscles.iter().map(|m| self.total[*m as usize]).sum::<i64>();
        let mut points = 0;
        for (one, other) in SIDES {
            let (one, other) = (sum(one), sum(other));
            points += ONE_SIDED * ((one - 2 * other).max(0) + (other - 2 * one).max(0));
        }
        self.sum.points += points - self.balance;
        self.balance = points;
    }

    /// Puts a new score in the place of one part, in the sum too.
    fn put(&mut self, place: impl Fn(&mut Self) -> &mut Score, score: Score) {
        let old = std::mem::replace(place(self), score);
        self.sum.points += score.points - old.points;
        self.sum.toll += score.toll - old.toll;
    }
}
