//! A lifter's record, read event by event in order of time.
//!
//! Each lead set is held against what came before it, and only that: replaying a record gives on
//! every day what would have been said on that day. Check-ins of a day count before its sets, lead
//! sets in the order in which they were done, a set's dose once it is done; estimates are renewed
//! between sessions, never inside one. Pages, commands and cards are made from this.

mod onward;

use std::borrow::Cow;
use std::collections::BTreeMap;
use std::sync::OnceLock;

use domain::{Catalogue, CheckIn, Lift, LiftName, Limits, LoggedSet, SetKind, SetNumber, When};
use engine::complaint::{self, Rating};
use engine::reading::{
    self, Absence, Chances, Circumstances, Gauge, LiftModel, PlainRecord, Reading, Ruling,
};
use engine::recovery;
use engine::trend::{LeadSet, Scatter, TodayEstimate};
use jiff::civil::Date;

use crate::cache::Memo;
use crate::record::inputs::{Grounds, UsedFit};
use crate::record::tracker::{Follower, Known};
pub use crate::record::tracker::{LiftBy, Model};
use onward::BeforeLastDay;

/// The body mass in kilograms that stands in where a lift moves body mass and nobody told any (our
/// choice). It moves every set of the lift alike, so it shifts the level and hardly the readings.
pub const ASSUMED_BODY_MASS_KG: f64 = 75.0;

/// One lead set with everything that was known and said about it.
#[derive(Clone, Debug)]
pub struct Point {
    /// The set as it was logged.
    pub set: LoggedSet,
    /// The set as the model reads it.
    pub lead: LeadSet,
    /// The reading; none at the first lead set, for sets too long to be read, and by the plain rule.
    pub reading: Option<Reading>,
    /// P(capacity more than δ under usual). By the plain rule 1 or 0, for it knows no more.
    pub p_shortfall: Option<f64>,
    /// The ln 1RM shown, if the set can be read at all.
    pub log_shown: Option<f64>,
    /// Whether the plain rule would have cut back.
    pub plain_rule: Option<bool>,
    /// Whether the lift was a gauge before this set.
    pub is_gauge: bool,
    /// The lift's scatter before this set; none by the plain rule.
    pub scatter: Option<Scatter>,
    /// 1RM and trend with this set read; none by the plain rule, and for a set that is only asked about.
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
    /// All its sets, in order.
    pub sets: Vec<LoggedSet>,
    /// Its place in the model.
    place: usize,
    /// How often each rule would be right and wrong, by day, threshold and shortfall.
    pub(crate) chances: Memo<(Date, [u64; 2]), Option<Chances>>,
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
    /// Pain as it was reported, in order of time.
    ratings: Vec<Rating>,
    /// The model after the last set, its session not yet settled.
    follower: Follower,
    /// The model with the last session settled, once it is asked for and if that changes anything.
    settled: OnceLock<Follower>,
    /// Why lifts are flat, by the model in `follower` and by that in `settled`.
    why: [OnceLock<Vec<Option<recovery::Why>>>; 2],
    session: LastSession,
    grounds: Grounds,
    limits: Limits,
    /// The places of the sets' lifts in the model, in the order in which the sets were done.
    order: Vec<usize>,
    before_last_day: Option<Box<BeforeLastDay>>,
}

/// When the lifter last trained, and how long the last absence was.
#[derive(Clone, Copy, Debug, Default)]
struct LastSession {
    days: Option<f64>,
    away: Option<f64>,
}

impl LastSession {
    /// The last absence as a session on `days` sees it.
    fn away_on(self, days: f64) -> Option<f64> {
        let gap = self.days.map(|last| days - last).filter(|gap| *gap > Limits::AWAY_DAYS);
        gap.or(self.away)
    }
}

impl History {
    /// Reads a lifter's sets (all of one lifter; within a day in the order in which they were done)
    /// with the check-ins and limits, by `model`. Sets of lifts that the catalogue lacks are left out;
    /// [`unknown_lifts`] names them. The recovery model reads with the pooled values that come with the
    /// program.
    #[must_use]
    pub fn read(
        catalogue: &Catalogue,
        limits: &Limits,
        model: Model,
        sets: Vec<LoggedSet>,
        check_ins: Vec<CheckIn>,
    ) -> History {
        History::read_on(Grounds::shipped(), catalogue, limits, model, sets, check_ins)
    }

    /// [`History::read`] on other grounds. What is kept of a record saves time and changes nothing.
    #[must_use]
    pub fn read_on(
        grounds: Grounds,
        catalogue: &Catalogue,
        limits: &Limits,
        model: Model,
        sets: Vec<LoggedSet>,
        check_ins: Vec<CheckIn>,
    ) -> History {
        History::read_from(None, (grounds, catalogue, limits), model, sets, check_ins)
    }

    /// [`History::read_on`], going on from the last day of an `earlier` reading where the record says the same up
    /// to there. Reads the same to the bit as without one.
    pub(crate) fn read_from(
        earlier: Option<&History>,
        (grounds, catalogue, limits): (Grounds, &Catalogue, &Limits),
        model: Model,
        sets: Vec<LoggedSet>,
        mut check_ins: Vec<CheckIn>,
    ) -> History {
        check_ins.sort_by_key(|check_in| check_in.when);
        let ratings = ratings(&check_ins);
        let (lifts, sets) = in_order(catalogue, sets);
        let begun = earlier
            .filter(|earlier| earlier.is_read_by(model, limits, &grounds))
            .and_then(|earlier| earlier.before_last_day((&lifts, &sets), &check_ins))
            .map(|begun| begun.on_grounds(grounds.clone(), check_ins.clone()));
        let mut history = begun.unwrap_or_else(|| {
            let known: Vec<&Lift> = lifts.iter().map(|lift| &lift.lift).collect();
            let follower = Follower::new(model, &known, grounds.pooled());
            History {
                lifts,
                days: Vec::new(),
                check_ins,
                ratings,
                follower,
                settled: OnceLock::new(),
                why: Default::default(),
                session: LastSession::default(),
                grounds,
                limits: *limits,
                order: Vec::new(),
                before_last_day: None,
            }
        });
        let unread = &sets[history.order.len()..];
        let days: Vec<_> = unread.chunk_by(|a, b| a.1.when.date() == b.1.when.date()).collect();
        for (nth, day) in days.iter().enumerate() {
            if nth + 1 == days.len() {
                let (follower, session) = (history.follower.clone(), history.session);
                history.before_last_day = Some(Box::new(BeforeLastDay { follower, session }));
            }
            // The last session stays unsettled: another set of it may be asked about.
            history.follower.settle(&history.grounds);
            history.take_day(day);
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
        let upto = self.told_by(date);
        self.check_ins[..upto].iter().rev().find_map(|c| c.body_mass).map(domain::Mass::kg)
    }

    /// The complaints that stand at a moment by what was reported up to then; for a moment without a time of
    /// day, up to the end of that day.
    #[must_use]
    pub fn complaints(&self, at: When, limits: &Limits) -> Vec<Rating> {
        let on_record = |rating: &&Rating| complaint::is_on_record(rating.when, at);
        complaint::standing(self.ratings.iter().filter(on_record).copied(), limits.pain())
    }

    /// Pain as it was reported, in order of time.
    #[must_use]
    pub fn ratings(&self) -> &[Rating] {
        &self.ratings
    }

    /// What the model knows on a day, from the whole record and the check-ins up to that day. A day
    /// before the last session counts as that session's.
    #[must_use]
    pub fn on(&self, date: Date) -> Standing<'_> {
        let last = self.days.last().map(|day| day.date);
        let is_over = last.is_some_and(|last| last < date);
        let follower = if is_over { self.settled() } else { &self.follower };
        let mut why = Cow::Borrowed(&self.why[usize::from(is_over)]);
        let mut follower = Cow::Borrowed(follower);
        let told = last.map_or(0, |last| self.told_by(last))..self.told_by(date);
        for check_in in self.check_ins.get(told).unwrap_or_default() {
            follower.to_mut().check_in(check_in, f64::INFINITY);
            why = Cow::Owned(OnceLock::new());
        }
        Standing { follower, session: self.session, why }
    }

    /// What would be said of a lead set done after everything on record of `lift`.
    #[must_use]
    pub fn point(&self, lift: &LiftHistory, limits: &Limits, set: &LoggedSet) -> Point {
        self.held_against(&self.on(set.when.date()), lift, limits, set)
    }

    /// The mass that a set moves, with the body mass known on its day.
    fn moved_kg(&self, lift: &LiftHistory, set: &LoggedSet) -> f64 {
        let body_mass = self.body_mass_kg(set.when.date()).unwrap_or(ASSUMED_BODY_MASS_KG);
        lift.lift.moved_kg(set.load.kg(), body_mass)
    }

    /// What is said of a lead set before the model takes it.
    fn held_against(
        &self,
        standing: &Standing<'_>,
        lift: &LiftHistory,
        limits: &Limits,
        set: &LoggedSet,
    ) -> Point {
        let moved_kg = self.moved_kg(lift, set);
        let lead = standing.follower.lead_set(lift.place, set, moved_kg);
        let asked = Asked {
            lift: &lift.lift,
            limits,
            set,
            lead,
            complaints: &self.complaints(set.when, limits),
            absence: standing.absence(lead.days),
        };
        match &standing.follower.knows(lift.place) {
            Known::Model(model) => asked.answered_by(&**model),
            Known::Plain(record) => asked.answered_plainly(record),
        }
    }

    fn take_day(&mut self, day: &[(usize, LoggedSet)]) {
        let Some((_, first)) = day.first() else { return };
        let date = first.when.date();
        let told = self.days.last().map_or(0, |last| self.told_by(last.date))..self.told_by(date);
        for check_in in &self.check_ins[told] {
            self.follower.check_in(check_in, first.when.days());
        }
        self.days.push(TrainingDay { date, lifts: Vec::new() });
        let mut exposures: BTreeMap<usize, (SetNumber, bool)> = BTreeMap::new();
        for (place, set) in day {
            self.note_session(set.when);
            // Set numbers that start again are a second session on that day.
            let (number, led) = exposures.get(place).copied().unwrap_or((set.number, false));
            let led = led && number < set.number;
            if !led && set.kind.can_lead() {
                self.take_lead(*place, set);
            } else if set.kind == SetKind::Work {
                let moved_kg = self.moved_kg(&self.lifts[*place], set);
                self.follower.later(*place, set, moved_kg);
            }
            exposures.insert(*place, (set.number, led || set.kind.can_lead()));
            self.follower.work(*place, set);
            self.note_set(*place, set);
        }
    }

    fn take_lead(&mut self, place: usize, set: &LoggedSet) {
        let standing = Standing {
            follower: Cow::Borrowed(&self.follower),
            session: self.session,
            why: Cow::Owned(OnceLock::new()),
        };
        let mut point = self.held_against(&standing, &self.lifts[place], &self.limits, set);
        point.today = self.follower.lead(place, point.lead);
        self.lifts[place].points.push(point);
    }

    fn note_session(&mut self, when: When) {
        let days = when.days();
        self.session = LastSession { days: Some(days), away: self.session.away_on(days) };
    }

    fn note_set(&mut self, place: usize, set: &LoggedSet) {
        self.order.push(place);
        let lift = &mut self.lifts[place];
        lift.sets.push(set.clone());
        if let Some(today) = self.days.last_mut()
            && !today.lifts.contains(&lift.lift.name)
        {
            today.lifts.push(lift.lift.name.clone());
        }
    }

    fn settled(&self) -> &Follower {
        if !self.follower.is_due() {
            return &self.follower;
        }
        self.settled.get_or_init(|| {
            let mut follower = self.follower.clone();
            follower.settle(&self.grounds);
            follower
        })
    }

    /// The fits used to read the record, the last session settled; those of the fewest lead sets first.
    #[must_use]
    pub fn used_fits(&self) -> &[UsedFit] {
        self.settled().used_fits()
    }

    /// The recovery model with the last session settled, if it is the one chosen.
    pub(crate) fn settled_recovery(&self) -> Option<&recovery::Lifter> {
        self.settled().recovery()
    }

    /// What the record was read on.
    #[must_use]
    pub fn grounds(&self) -> &Grounds {
        &self.grounds
    }

    /// How many check-ins were told on or before a day.
    fn told_by(&self, date: Date) -> usize {
        self.check_ins.partition_point(|check_in| check_in.when.date() <= date)
    }
}

/// What the model knows of a lifter on one day.
#[derive(Clone, Debug)]
pub struct Standing<'a> {
    follower: Cow<'a, Follower>,
    session: LastSession,
    /// Made once for all that stand on the same model.
    why: Cow<'a, OnceLock<Vec<Option<recovery::Why>>>>,
}

impl Standing<'_> {
    /// One lift as the model knows it; none by the plain rule.
    #[must_use]
    pub fn lift(&self, lift: &LiftHistory) -> Option<LiftBy<'_>> {
        match self.follower.knows(lift.place) {
            Known::Model(model) => Some(model),
            Known::Plain(_) => None,
        }
    }

    /// What is still missing on a day from the last absence, if there was one.
    #[must_use]
    pub fn absence(&self, days: f64) -> Option<Absence> {
        self.follower.absence(days, self.session.away_on(days)?)
    }

    /// The recovery model, if it is the one chosen.
    #[must_use]
    pub fn recovery(&self) -> Option<&recovery::Lifter> {
        self.follower.recovery()
    }

    /// Why a lift is flat or falling, if it is. The first lift that is asked about answers for all.
    #[must_use]
    pub fn why_flat(&self, lift: &LiftHistory) -> Option<&recovery::Why> {
        let model = self.recovery()?;
        self.why.get_or_init(|| model.why_flat()).get(lift.place)?.as_ref()
    }

    /// The place of a lift in the recovery model.
    #[must_use]
    pub fn place(&self, lift: &LiftHistory) -> usize {
        lift.place
    }
}

/// A lead set about which a model is asked.
struct Asked<'a> {
    lift: &'a Lift,
    limits: &'a Limits,
    set: &'a LoggedSet,
    lead: LeadSet,
    complaints: &'a [Rating],
    absence: Option<Absence>,
}

impl Asked<'_> {
    fn answered_by(&self, model: &dyn LiftModel) -> Point {
        let reading = reading::read(model, &self.lead, self.limits.shortfall_pct() / 100.0);
        let gauge = reading::gauge(self.lift, model);
        let ruling = reading::rule(&self.circumstances(&gauge, model.last(), reading.as_ref()));
        Point {
            set: self.set.clone(),
            lead: self.lead,
            p_shortfall: reading.map(|reading| reading.p_shortfall),
            reading,
            log_shown: model.shown_by(&self.lead),
            plain_rule: reading::plain_rule(model, &self.lead),
            is_gauge: gauge.is_gauge,
            scatter: Some(model.scatter()),
            today: None,
            ruling,
        }
    }

    fn answered_plainly(&self, record: &PlainRecord) -> Point {
        let fires = record.fires(&self.lead);
        let gauge = Gauge {
            is_gauge: record.last().is_some(),
            reason: "The plain rule reads every lift from its second lead set on.".to_owned(),
        };
        let now = self.circumstances(&gauge, record.last(), None);
        Point {
            set: self.set.clone(),
            lead: self.lead,
            reading: None,
            p_shortfall: fires.map(|fires| if fires { 1.0 } else { 0.0 }),
            log_shown: record.shown_by(&self.lead),
            plain_rule: fires,
            ruling: reading::rule_plainly(&now, fires),
            is_gauge: gauge.is_gauge,
            scatter: None,
            today: None,
        }
    }

    fn circumstances<'b>(
        &'b self,
        gauge: &'b Gauge,
        last: Option<LeadSet>,
        reading: Option<&'b Reading>,
    ) -> Circumstances<'b> {
        Circumstances {
            lift: self.lift,
            limits: self.limits,
            gauge,
            days_since: last.map(|last| self.lead.days - last.days),
            absence: self.absence,
            complaints: self.complaints,
            reading,
            reps: self.lead.reps,
        }
    }
}

/// Pain as check-ins report it, in their order.
pub(crate) fn ratings(check_ins: &[CheckIn]) -> Vec<Rating> {
    let rating = |told: &CheckIn| Some(Rating { pain: told.pain?, when: told.when });
    check_ins.iter().filter_map(rating).collect()
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

/// The lifts in the order in which they were first done, and the sets in order of time, each with the
/// place of its lift. Sets of one moment stay in the order given, but for those of one lift that came
/// against their numbers.
fn in_order(
    catalogue: &Catalogue,
    mut sets: Vec<LoggedSet>,
) -> (Vec<LiftHistory>, Vec<(usize, LoggedSet)>) {
    sets.sort_by_key(|set| set.when);
    let mut lifts: Vec<LiftHistory> = Vec::new();
    let mut places: BTreeMap<String, usize> = BTreeMap::new();
    let mut placed: Vec<(usize, LoggedSet)> = Vec::new();
    for set in sets {
        let Some(lift) = catalogue.find(&set.lift) else { continue };
        let place = *places.entry(lift.name.key()).or_insert_with(|| {
            lifts.push(LiftHistory {
                lift: lift.clone(),
                points: Vec::new(),
                sets: Vec::new(),
                place: lifts.len(),
                chances: Memo::default(),
            });
            lifts.len() - 1
        });
        placed.push((place, set));
    }
    for moment in placed.chunk_by_mut(|a, b| a.1.when == b.1.when) {
        by_number(moment);
    }
    (lifts, placed)
}

/// Puts the sets of each lift in the order of their numbers, on the places that they hold.
fn by_number(moment: &mut [(usize, LoggedSet)]) {
    for end in 1..moment.len() {
        let mut idx = end;
        for before in (0..end).rev() {
            if moment[before].0 != moment[idx].0 {
                continue;
            }
            if moment[before].1.number <= moment[idx].1.number {
                break;
            }
            moment.swap(before, idx);
            idx = before;
        }
    }
}

fn last_days(history: &LiftHistory) -> f64 {
    history.sets.last().map_or(f64::NEG_INFINITY, |set| set.when.days())
}
