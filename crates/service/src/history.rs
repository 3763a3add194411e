//! A lifter's record, read lead set by lead set in order of time.
//!
//! Each lead set is held against what came before it, and only that: replaying a record gives on
//! every day what would have been said on that day. Pages, commands and cards are made from this.

use std::collections::BTreeMap;

use domain::{Catalogue, CheckIn, Lift, LiftName, Limits, LoggedSet, Pain, SetKind};
use engine::reading::{self, Circumstances, Gauge, Reading, Ruling};
use engine::strength::Reserve;
use engine::trend::{LeadSet, OneLift, Prior, Scatter, TodayEstimate};
use jiff::civil::Date;

/// The body mass in kilograms that stands in where a lift moves body mass and nobody told any (our
/// choice). It moves every set of the lift alike, so it shifts the level and hardly the readings.
pub const ASSUMED_BODY_MASS_KG: f64 = 75.0;

/// One lead set with everything that was known and said about it.
#[derive(Clone, Debug)]
pub struct Point {
    /// The set as it was logged.
    pub set: LoggedSet,
    /// The set as the trend reads it.
    pub lead: LeadSet,
    /// The reading; none at the first lead set and for sets too long to be read.
    pub reading: Option<Reading>,
    /// The ln 1RM shown, if the set can be read at all.
    pub log_shown: Option<f64>,
    /// Whether the plain rule would have cut back.
    pub plain_rule: Option<bool>,
    /// Whether the lift was a gauge before this set.
    pub gauge: Gauge,
    /// The lift's scatter before this set.
    pub scatter: Scatter,
    /// Today's 1RM and trend with this set read.
    pub today: Option<TodayEstimate>,
    /// The call and its reason.
    pub ruling: Ruling,
}

/// One lift of one lifter, up to date.
#[derive(Clone, Debug)]
pub struct LiftHistory {
    /// The lift.
    pub lift: Lift,
    /// Its lead sets in order of time.
    pub points: Vec<Point>,
    /// The trend after the last of them.
    pub record: OneLift,
    /// All its sets, in order.
    pub sets: Vec<LoggedSet>,
}

/// The lifts of one day, in the order in which they were done.
#[derive(Clone, Debug)]
pub struct TrainingDay {
    /// The day.
    pub date: Date,
    /// The lifts, by their names in the catalogue.
    pub lifts: Vec<LiftName>,
}

/// Everything about one lifter, read.
#[derive(Clone, Debug)]
pub struct History {
    /// The lifts, the one done last first.
    pub lifts: Vec<LiftHistory>,
    /// The days with sets, in order of time.
    pub days: Vec<TrainingDay>,
    check_ins: Vec<CheckIn>,
}

impl History {
    /// Reads a lifter's sets (all of one lifter; within a day in the order in which they were done)
    /// with the check-ins and limits. Sets of lifts that the catalogue lacks are left out;
    /// [`unknown_lifts`] names them.
    #[must_use]
    pub fn read(
        catalogue: &Catalogue,
        limits: &Limits,
        sets: Vec<LoggedSet>,
        mut check_ins: Vec<CheckIn>,
    ) -> History {
        check_ins.sort_by_key(|check_in| check_in.when);
        let mut by_lift: BTreeMap<String, (Lift, Vec<LoggedSet>)> = BTreeMap::new();
        let mut days: BTreeMap<Date, Vec<LiftName>> = BTreeMap::new();
        for set in sets {
            if let Some(lift) = catalogue.find(&set.lift) {
                let of_day = days.entry(set.when.date()).or_default();
                if !of_day.contains(&lift.name) {
                    of_day.push(lift.name.clone());
                }
                let entry = by_lift.entry(lift.name.key());
                entry.or_insert_with(|| (lift.clone(), Vec::new())).1.push(set);
            }
        }
        let days = days.into_iter().map(|(date, lifts)| TrainingDay { date, lifts }).collect();
        let mut history = History { lifts: Vec::new(), days, check_ins };
        for (lift, sets) in by_lift.into_values() {
            let read = history.read_lift(lift, limits, sets);
            history.lifts.push(read);
        }
        history.lifts.sort_by(|a, b| last_days(b).total_cmp(&last_days(a)));
        history
    }

    /// The lift with this name, if the lifter has done it.
    #[must_use]
    pub fn lift(&self, name: &LiftName) -> Option<&LiftHistory> {
        self.lifts.iter().find(|history| history.lift.name.key() == name.key())
    }

    /// The check-ins in order of time.
    #[must_use]
    pub fn check_ins(&self) -> &[CheckIn] {
        &self.check_ins
    }

    /// Body mass in kilograms as last told on or before a day; none if never.
    #[must_use]
    pub fn body_mass_kg(&self, date: Date) -> Option<f64> {
        let upto = self.check_ins.partition_point(|check_in| check_in.when.date() <= date);
        self.check_ins[..upto].iter().rev().find_map(|c| c.body_mass).map(domain::Mass::kg)
    }

    /// Pain told on a day.
    #[must_use]
    pub fn pains_on(&self, date: Date) -> Vec<Pain> {
        let from = self.check_ins.partition_point(|check_in| check_in.when.date() < date);
        self.check_ins[from..]
            .iter()
            .take_while(|check_in| check_in.when.date() == date)
            .filter_map(|check_in| check_in.pain)
            .collect()
    }

    /// The set as the trend of `record` reads it: mass moved, and the reserve told or usual.
    #[must_use]
    pub fn lead_set(&self, lift: &Lift, record: &OneLift, set: &LoggedSet) -> LeadSet {
        let body_mass = self.body_mass_kg(set.when.date()).unwrap_or(ASSUMED_BODY_MASS_KG);
        let reserve = match (set.rir, set.kind) {
            (Some(rir), _) => Reserve::Reported(rir.get()),
            (None, SetKind::Test) => Reserve::Reported(0.0),
            (None, _) => record.usual_reserve(),
        };
        LeadSet {
            days: set.when.days(),
            moved_kg: lift.moved_kg(set.load.kg(), body_mass),
            reps: set.reps.get(),
            reserve,
        }
    }

    /// What would be said of a lead set done after everything on record of `lift`.
    #[must_use]
    pub fn point(&self, lift: &LiftHistory, limits: &Limits, set: &LoggedSet) -> Point {
        self.read_point(&lift.lift, limits, &mut lift.record.clone(), set)
    }

    fn read_lift(&self, lift: Lift, limits: &Limits, mut sets: Vec<LoggedSet>) -> LiftHistory {
        sets.sort_by_key(|set| (set.when, set.number));
        let mut record = OneLift::new(Prior::starting_at(lift.starting_scatter_pct));
        let mut points = Vec::new();
        for set in lead_sets(&sets) {
            points.push(self.read_point(&lift, limits, &mut record, set));
        }
        LiftHistory { lift, points, record, sets }
    }

    fn read_point(
        &self,
        lift: &Lift,
        limits: &Limits,
        record: &mut OneLift,
        set: &LoggedSet,
    ) -> Point {
        let lead = self.lead_set(lift, record, set);
        let reading = reading::read(record, &lead, limits.shortfall_pct() / 100.0);
        let gauge = reading::gauge(lift, record);
        let ruling = reading::rule(&Circumstances {
            lift,
            limits,
            gauge: &gauge,
            days_since: record.sets().last().map(|last| lead.days - last.days),
            pains: &self.pains_on(set.when.date()),
            reading: reading.as_ref(),
            reps: lead.reps,
        });
        let plain_rule = reading::plain_rule(record, &lead);
        let scatter = record.scatter();
        let log_shown = record.shown_by(&lead);
        // A set that can't be read leaves the trend as it was; the ruling has said so.
        let today = record.read(lead).ok().and_then(|()| record.today(lead.days));
        Point {
            set: set.clone(),
            lead,
            reading,
            log_shown,
            plain_rule,
            gauge,
            scatter,
            today,
            ruling,
        }
    }
}

/// The lifts among `sets` that the catalogue lacks, with the number of their sets.
#[must_use]
pub fn unknown_lifts(catalogue: &Catalogue, sets: &[LoggedSet]) -> BTreeMap<String, usize> {
    let mut unknown = BTreeMap::new();
    for set in sets {
        if catalogue.find(&set.lift).is_none() {
            *unknown.entry(set.lift.to_string()).or_insert(0) += 1;
        }
    }
    unknown
}

/// The lead set of every exposure, given one lift's sets in order: the first work set or test of a
/// day, or of a second session on that day (set numbers start again).
fn lead_sets(sets: &[LoggedSet]) -> impl Iterator<Item = &LoggedSet> {
    sets.chunk_by(|a, b| a.when.date() == b.when.date() && a.number < b.number)
        .filter_map(|exposure| exposure.iter().find(|set| set.kind.can_lead()))
}

fn last_days(history: &LiftHistory) -> f64 {
    history.sets.last().map_or(f64::NEG_INFINITY, |set| set.when.days())
}
