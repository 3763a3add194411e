//! A [`Model`] as columns and rows: a mixed-integer program whose best value is the best week's points.
//!
//! Any solver can be given it. The search doesn't use it; the bound does, and so do the tests, which ask a
//! second solver. Doses are hard sets here and points are thousands, so that numbers are of one size.
//!
//! Two ways to write the same program. Tight: for each muscle the days that load it are chosen as a whole,
//! one column for each set of days that isn't worse than another, which is the convex hull of what recovery
//! allows; lifts that can't share a day make one row for all of them. Plain: a column for each day that says
//! whether it loads the muscle, with a constant large enough to switch each limit off, and a row for each
//! pair. Kept for comparison.

use super::model::{MUSCLES, Model, PARTS};
use super::worth::{GAUGE_DAY, LOADED, Milli, ONE_SIDED, RAISED, RAISED_LEAST, SESSION_MUCH};

/// How the limits of recovery and of pairs are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Form {
    /// By whole muscles and whole cliques.
    Tight,
    /// By single days and pairs.
    Plain,
}

/// How a row's sum is held against its number.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Held {
    /// At most the number.
    AtMost,
    /// At least the number.
    AtLeast,
    /// Equal to it.
    Equal,
}

/// One column.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Column {
    /// Thousands of points for each unit.
    pub worth: f64,
    /// The highest value; the lowest is 0.
    pub most: f64,
    /// Whether it must be a whole number.
    pub whole: bool,
}

/// One row: terms of column and factor, and what their sum is held against.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// Column and factor.
    pub terms: Vec<(usize, f64)>,
    /// How.
    pub held: Held,
    /// Against what.
    pub number: f64,
}

/// A mixed-integer program to be made as great as can be.
#[derive(Clone, Debug, PartialEq)]
pub struct Rows {
    /// The columns.
    pub columns: Vec<Column>,
    /// The rows.
    pub rows: Vec<Row>,
    /// Thousands of points besides the columns'.
    pub constant: f64,
    /// For each place (candidate by candidate, day by day) the column that says whether the lift is there, that
    /// of its sets beyond the least, and the least; none where it can't be.
    pub places: Vec<Option<(usize, usize, u8)>>,
}

impl Rows {
    /// Writes a model as columns and rows.
    #[must_use]
    pub fn of(model: &Model<'_>, form: Form) -> Rows {
        let mut writer = Writer::new(model);
        writer.cells();
        writer.days(form);
        writer.candidates();
        writer.muscles(form);
        writer.balance();
        let places = writer.on.iter().zip(&model.cells);
        writer.rows.places =
            places.map(|(on, cell)| on.map(|(on, more)| (on, more, cell.least))).collect();
        writer.rows
    }
}

/// A sum of columns with a constant.
#[derive(Clone, Debug, Default)]
struct Sum {
    terms: Vec<(usize, f64)>,
    constant: f64,
}

struct Writer<'m, 'a> {
    model: &'m Model<'a>,
    rows: Rows,
    /// For each cell the column that says whether the lift is there, and that of its sets beyond the least.
    on: Vec<Option<(usize, usize)>>,
    /// Groups of candidates of which one at most is on a day; each candidate in one.
    cliques: Vec<Vec<usize>>,
}

impl<'m, 'a> Writer<'m, 'a> {
    fn new(model: &'m Model<'a>) -> Writer<'m, 'a> {
        let rows =
            Rows { columns: Vec::new(), rows: Vec::new(), constant: 0.0, places: Vec::new() };
        Writer { model, rows, on: Vec::new(), cliques: cliques(model) }
    }

    fn column(&mut self, worth: f64, most: f64, whole: bool) -> usize {
        self.rows.columns.push(Column { worth, most, whole });
        self.rows.columns.len() - 1
    }

    fn row(&mut self, terms: Vec<(usize, f64)>, held: Held, number: f64) {
        if !terms.is_empty() || !matches!((held, number >= 0.0), (Held::AtMost, true)) {
            self.rows.rows.push(Row { terms, held, number });
        }
    }

    /// The cells: on or not, and sets beyond the least.
    fn cells(&mut self) {
        let model = self.model;
        let n_days = model.days.len();
        for (at, cell) in model.cells.iter().enumerate() {
            let one = &model.candidates[at / n_days];
            if !cell.allowed {
                self.on.push(None);
                continue;
            }
            let kept = cell.kept_sets > 0;
            let points = one.points_day + if kept { model.kept.day } else { 0 };
            let on = self.column(thousands(points), 1.0, true);
            let spread = f64::from(cell.most - cell.least);
            let more = self.column(0.0, spread, true);
            self.row(vec![(more, 1.0), (on, -spread)], Held::AtMost, 0.0);
            if kept {
                let most = f64::from(cell.kept_sets);
                let same = self.column(thousands(model.kept.set), most, false);
                self.row(vec![(same, 1.0), (on, -most)], Held::AtMost, 0.0);
                let least = f64::from(cell.least);
                self.row(vec![(same, 1.0), (on, -least), (more, -1.0)], Held::AtMost, 0.0);
            }
            self.on.push(Some((on, more)));
        }
    }

    /// Whether candidates are on a day, as terms.
    fn ons(
        &self,
        candidates: impl Iterator<Item = usize>,
        day: usize,
        factor: f64,
    ) -> Vec<(usize, f64)> {
        let n_days = self.model.days.len();
        candidates
            .filter_map(|one| self.on[one * n_days + day])
            .map(|(on, _)| (on, factor))
            .collect()
    }

    /// A candidate's sets on a day, times a factor.
    fn sets(&self, candidate: usize, day: usize, factor: f64) -> Vec<(usize, f64)> {
        let at = candidate * self.model.days.len() + day;
        self.on[at].map_or(Vec::new(), |(on, more)| {
            vec![(on, factor * f64::from(self.model.cells[at].least)), (more, factor)]
        })
    }

    fn days(&mut self, form: Form) {
        let n = self.model.candidates.len();
        for (day, fixed) in self.model.days.iter().enumerate() {
            let mut time: Vec<(usize, f64)> = Vec::new();
            for one in 0..n {
                let cell = self.model.cell(one, day);
                let mut sets = self.sets(one, day, cell.per_set as f64);
                if let Some((_, factor)) = sets.first_mut() {
                    *factor += cell.fixed as f64;
                }
                time.extend(sets);
            }
            for part in 0..PARTS {
                let warm_up = self.warm_up(part, day, form);
                time.push((warm_up, 60.0));
            }
            let there = (fixed.allowed_seconds - fixed.seconds) as f64;
            self.row(scaled(time, 1.0 / 60.0), Held::AtMost, there / 60.0);
            let most = i64::from(self.model.wishes.most_lifts()) - fixed.lifts;
            let all = self.ons(0..n, day, 1.0);
            if fixed.lifts == 0 {
                self.row(all.clone(), Held::AtLeast, 1.0);
            }
            self.row(all, Held::AtMost, most as f64);
            self.clashes(day, form);
            if fixed.gauge {
                self.rows.constant += thousands(GAUGE_DAY);
            } else {
                let gauge = self.column(thousands(GAUGE_DAY), 1.0, false);
                let gauges = (0..n).filter(|one| self.model.candidates[*one].gauge);
                let mut terms = self.ons(gauges, day, -1.0);
                terms.push((gauge, 1.0));
                self.row(terms, Held::AtMost, 0.0);
            }
        }
    }

    /// Minutes to warm up a part on a day, beyond none: as the most demanding lift asks.
    fn warm_up(&mut self, part: usize, day: usize, form: Form) -> usize {
        let model = self.model;
        let minutes = |seconds: i64| seconds as f64 / 60.0;
        let column = self.column(0.0, 10.0, false);
        self.row(vec![(column, 1.0)], Held::AtLeast, minutes(model.days[day].part_seconds[part]));
        let of_part = |one: &usize| model.candidates[*one].part == part;
        let groups: Vec<Vec<usize>> = match form {
            Form::Tight => self.cliques.clone(),
            Form::Plain => (0..model.candidates.len()).map(|one| vec![one]).collect(),
        };
        for group in groups {
            let mut terms: Vec<(usize, f64)> = Vec::new();
            for one in group.into_iter().filter(of_part) {
                let factor = -minutes(model.candidates[one].first_warm_up);
                terms.extend(self.ons(std::iter::once(one), day, factor));
            }
            if !terms.is_empty() {
                terms.push((column, 1.0));
                self.row(terms, Held::AtLeast, 0.0);
            }
        }
        column
    }

    /// Lifts that can't share a day.
    fn clashes(&mut self, day: usize, form: Form) {
        let candidates = &self.model.candidates;
        let n = candidates.len();
        let mut covered = vec![false; n * n];
        if form == Form::Tight {
            for clique in self.cliques.clone().iter().filter(|clique| clique.len() > 1) {
                for one in clique {
                    clique.iter().for_each(|other| covered[one * n + other] = true);
                }
                let terms = self.ons(clique.iter().copied(), day, 1.0);
                self.row(terms, Held::AtMost, 1.0);
            }
        }
        for one in 0..n {
            for other in one + 1..n {
                if candidates[one].clashes[other] && !covered[one * n + other] {
                    let terms = self.ons([one, other].into_iter(), day, 1.0);
                    if terms.len() == 2 {
                        self.row(terms, Held::AtMost, 1.0);
                    }
                }
            }
        }
    }

    fn candidates(&mut self) {
        let n_days = self.model.days.len();
        for (idx, one) in self.model.candidates.iter().enumerate() {
            let ons = |writer: &Self, factor: f64| -> Vec<(usize, f64)> {
                (0..n_days).flat_map(|day| writer.ons(std::iter::once(idx), day, factor)).collect()
            };
            let days = ons(self, 1.0);
            self.row(days, Held::AtMost, (one.most_days - one.pinned_days) as f64);
            if one.points_week != 0 {
                let anywhere = self.column(thousands(one.points_week), 1.0, false);
                let mut terms = ons(self, -1.0);
                terms.push((anywhere, 1.0));
                self.row(terms, Held::AtMost, 0.0);
            }
        }
        for raised in self.model.raised.clone() {
            let sets: Vec<(usize, f64)> = raised.candidate.map_or(Vec::new(), |one| {
                (0..n_days).flat_map(|day| self.sets(one, day, 1.0)).collect()
            });
            let pinned = raised.pinned_sets as f64;
            self.row(sets.clone(), Held::AtLeast, RAISED_LEAST as f64 - pinned);
            for (up_to, points) in RAISED {
                let column = self.column(thousands(points), up_to as f64, false);
                let mut terms = scaled(sets.clone(), -1.0);
                terms.push((column, 1.0));
                self.row(terms, Held::AtMost, pinned);
            }
        }
    }

    /// A muscle's dose on a day in hard sets; only direct ones if asked so.
    fn dose(&self, muscle: usize, day: usize, direct_only: bool) -> Sum {
        let fixed = &self.model.days[day];
        let base = if direct_only { fixed.direct[muscle] } else { fixed.dose[muscle] };
        let mut sum = Sum { terms: Vec::new(), constant: thousands(base) };
        for (idx, one) in self.model.candidates.iter().enumerate() {
            if !self.model.cell(idx, day).hard {
                continue;
            }
            for &(other, weight, prime) in &one.weights {
                if other == muscle && (prime || !direct_only) {
                    sum.terms.extend(self.sets(idx, day, thousands(weight)));
                }
            }
        }
        sum
    }

    fn muscles(&mut self, form: Form) {
        let n_days = self.model.days.len();
        for muscle in 0..MUSCLES {
            let worth = &self.model.worth[muscle];
            let doses: Vec<Sum> = (0..n_days).map(|day| self.dose(muscle, day, false)).collect();
            let mut week = scaled(doses.iter().flat_map(|day| day.terms.clone()).collect(), -1.0);
            let fixed: f64 = doses.iter().map(|day| day.constant).sum();
            let mut from = 0;
            for &(to, slope) in &worth.stretches {
                let length = if to == Milli::MAX { 1000.0 } else { thousands((to - from).max(0)) };
                let column = self.column(slope as f64, length, false);
                week.push((column, 1.0));
                from = to;
            }
            self.row(week, Held::Equal, fixed);
            let direct: Vec<Sum> = (0..n_days).map(|day| self.dose(muscle, day, true)).collect();
            let column = self.column(worth.direct.1 as f64, thousands(worth.direct.0), false);
            let mut terms = scaled(direct.iter().flat_map(|day| day.terms.clone()).collect(), -1.0);
            terms.push((column, 1.0));
            self.row(terms, Held::AtMost, direct.iter().map(|day| day.constant).sum());
            for (day, dose) in doses.iter().enumerate() {
                if self.greatest(muscle, day) > SESSION_MUCH {
                    let over = self.column(worth.session as f64, 1000.0, false);
                    let mut terms = dose.terms.clone();
                    terms.push((over, -1.0));
                    self.row(terms, Held::AtMost, thousands(SESSION_MUCH) - dose.constant);
                }
            }
            match form {
                Form::Tight => self.whole_muscle(muscle, &doses),
                Form::Plain => self.single_days(muscle, &doses),
            }
        }
    }

    /// The most thousandths that candidates and fixed parts could give a muscle on a day.
    fn greatest(&self, muscle: usize, day: usize) -> Milli {
        let fixed = self.model.days[day].dose[muscle];
        let candidates = self.model.candidates.iter().enumerate();
        let of = |(idx, one): (usize, &super::model::Candidate<'_>)| {
            let cell = self.model.cell(idx, day);
            let weight = one.weights.iter().find(|(other, ..)| *other == muscle);
            let weight = weight.filter(|_| cell.allowed && cell.hard).map_or(0, |(_, w, _)| *w);
            weight * i64::from(cell.most)
        };
        (fixed + candidates.map(of).sum::<Milli>())
            .min(self.model.days[day].most_dose[muscle].max(fixed))
    }

    /// The largest dose up to `most` that sets of these lifts can come to: all are multiples of one number.
    fn rounded_down(&self, muscle: usize, most: Milli) -> Milli {
        let weights = self.model.candidates.iter().flat_map(|one| &one.weights);
        let of_muscle =
            weights.filter(|(other, ..)| *other == muscle).map(|(_, weight, _)| *weight);
        let fixed = self.model.days.iter().map(|day| day.dose[muscle]);
        let step = of_muscle.chain(fixed).fold(0, divisor);
        if step > 0 { most / step * step } else { most }
    }

    /// The days that load a muscle, chosen as a whole.
    fn whole_muscle(&mut self, muscle: usize, doses: &[Sum]) {
        let mut patterns = self.patterns(muscle);
        if patterns.len() == 1 {
            let limits = patterns.remove(0);
            for (day, dose) in doses.iter().enumerate().filter(|(_, dose)| !dose.terms.is_empty()) {
                self.row(dose.terms.clone(), Held::AtMost, thousands(limits[day]) - dose.constant);
            }
            return;
        }
        let columns: Vec<usize> = patterns.iter().map(|_| self.column(0.0, 1.0, true)).collect();
        self.row(columns.iter().map(|column| (*column, 1.0)).collect(), Held::Equal, 1.0);
        for (day, dose) in doses.iter().enumerate() {
            let limits = columns.iter().zip(&patterns);
            let limit = limits.map(|(column, limits)| (*column, -thousands(limits[day])));
            let terms = dose.terms.iter().copied().chain(limit).collect();
            self.row(terms, Held::AtMost, -dose.constant);
            self.linked(muscle, day, &columns, &patterns);
        }
    }

    /// A lift that gives a muscle more at its fewest sets than a choice of days allows needs another choice.
    fn linked(&mut self, muscle: usize, day: usize, columns: &[usize], patterns: &[Vec<Milli>]) {
        for clique in self.cliques.clone() {
            // One row for those of a clique that need the same choices.
            let mut needs: Vec<(Milli, Vec<usize>)> = Vec::new();
            for one in clique {
                let cell = self.model.cell(one, day);
                let weights = &self.model.candidates[one].weights;
                let weight = weights.iter().find(|(other, ..)| *other == muscle);
                let Some((_, weight, _)) = weight.filter(|_| cell.hard && cell.allowed) else {
                    continue;
                };
                needs.push((weight * i64::from(cell.least), vec![one]));
            }
            let Some(least) = needs.iter().map(|(need, _)| *need).min() else { continue };
            let least = least + self.model.days[day].dose[muscle];
            if patterns.iter().all(|limits| limits[day] >= least) {
                continue;
            }
            let all: Vec<usize> = needs.into_iter().flat_map(|(_, ones)| ones).collect();
            let mut terms = self.ons(all.into_iter(), day, 1.0);
            for (column, limits) in columns.iter().zip(patterns) {
                if limits[day] >= least {
                    terms.push((*column, -1.0));
                }
            }
            self.row(terms, Held::AtMost, 0.0);
        }
    }

    /// The most thousandths on each day for every choice of days to load that isn't worse than another.
    fn patterns(&self, muscle: usize) -> Vec<Vec<Milli>> {
        let n_days = self.model.days.len();
        let mut patterns: Vec<Vec<Milli>> = Vec::new();
        for chosen in 0_u32..1 << n_days {
            let loads = |day: usize| chosen >> day & 1 == 1;
            let limit = |day: usize| {
                let greatest = self.greatest(muscle, day);
                if !loads(day) {
                    return greatest.min(self.rounded_down(muscle, LOADED - 1));
                }
                let others = (0..n_days).filter(|to| *to != day && loads(*to));
                let back = others.map(|to| self.model.most_before(muscle, day, to)).min();
                greatest.min(self.rounded_down(muscle, back.unwrap_or(greatest)))
            };
            patterns.push((0..n_days).map(limit).collect());
        }
        let worse = |one: &[Milli], other: &[Milli]| one.iter().zip(other).all(|(a, b)| a <= b);
        let kept: Vec<Vec<Milli>> = (0..patterns.len())
            .filter(|at| {
                let mine = &patterns[*at];
                !patterns.iter().enumerate().any(|(other, theirs)| {
                    other != *at && worse(mine, theirs) && (mine != theirs || other < *at)
                })
            })
            .map(|at| patterns[at].clone())
            .collect();
        kept
    }

    /// A column for each day that loads a muscle, and constants that switch limits off.
    fn single_days(&mut self, muscle: usize, doses: &[Sum]) {
        let n_days = doses.len();
        let greatest: Vec<f64> =
            (0..n_days).map(|day| thousands(self.greatest(muscle, day))).collect();
        let loads: Vec<usize> = (0..n_days).map(|_| self.column(0.0, 1.0, true)).collect();
        let light = thousands(LOADED - 1);
        for from in 0..n_days {
            let dose = doses[from].clone();
            let held = |mut terms: Vec<(usize, f64)>, column, factor| {
                terms.push((column, factor));
                terms
            };
            self.row(dose.terms.clone(), Held::AtMost, greatest[from] - dose.constant);
            let excess = (greatest[from] - light).max(0.0);
            let terms = held(dose.terms.clone(), loads[from], -excess);
            self.row(terms, Held::AtMost, light - dose.constant);
            for to in (0..n_days).filter(|to| *to != from) {
                let most = self.model.most_before(muscle, from, to);
                let most = thousands(most.min(1_000_000));
                if most < greatest[from] {
                    let excess = greatest[from] - most;
                    let terms = held(dose.terms.clone(), loads[to], excess);
                    self.row(terms, Held::AtMost, greatest[from] - dose.constant);
                }
            }
        }
    }

    fn balance(&mut self) {
        let n_days = self.model.days.len();
        for (one, other) in super::state::SIDES {
            let side = |writer: &Self, muscles: &[domain::Muscle], factor: f64| -> Sum {
                let mut sum = Sum::default();
                for muscle in muscles {
                    for day in 0..n_days {
                        let dose = writer.dose(*muscle as usize, day, false);
                        sum.terms.extend(scaled(dose.terms, factor));
                        sum.constant += factor * dose.constant;
                    }
                }
                sum
            };
            for (more, less) in [(one, other), (other, one)] {
                let over = self.column(ONE_SIDED as f64, 1000.0, false);
                let (more, less) = (side(self, more, 1.0), side(self, less, -2.0));
                let mut terms: Vec<(usize, f64)> =
                    more.terms.into_iter().chain(less.terms).collect();
                terms.push((over, -1.0));
                self.row(joined(terms), Held::AtMost, -(more.constant + less.constant));
            }
        }
    }
}

/// Groups of candidates each two of which can't share a day; each candidate in one, greedily.
fn cliques(model: &Model<'_>) -> Vec<Vec<usize>> {
    let mut groups: Vec<Vec<usize>> = Vec::new();
    for (idx, one) in model.candidates.iter().enumerate() {
        match groups.iter_mut().find(|group| group.iter().all(|other| one.clashes[*other])) {
            Some(group) => group.push(idx),
            None => groups.push(vec![idx]),
        }
    }
    groups
}

/// Terms with those of one column added up.
fn joined(mut terms: Vec<(usize, f64)>) -> Vec<(usize, f64)> {
    terms.sort_by_key(|(column, _)| *column);
    terms.dedup_by(|next, kept| {
        let same = next.0 == kept.0;
        if same {
            kept.1 += next.1;
        }
        same
    });
    terms
}

fn scaled(terms: Vec<(usize, f64)>, factor: f64) -> Vec<(usize, f64)> {
    joined(terms.into_iter().map(|(column, of)| (column, of * factor)).collect())
}

fn thousands(number: i64) -> f64 {
    number as f64 / 1000.0
}

/// The greatest common divisor, where 0 leaves the other as it is.
fn divisor(a: Milli, b: Milli) -> Milli {
    if b == 0 { a } else { divisor(b, a % b) }
}
