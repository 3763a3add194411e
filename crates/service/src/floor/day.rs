//! What a phone's page carries for one session: the card, the numbers for working on without a signal,
//! and what was logged so far.
//!
//! The card is made from what was on record before that day, so that it stays the same while the
//! session is done; what is logged comes as messages, which the page puts together by itself.

use std::collections::BTreeMap;
use std::sync::Arc;

use domain::{Catalogue, CheckInId, Joint, Lift, LifterName, Load, Unit};
use engine::complaint::{Rating, is_above, newest, standing};
use engine::loading::Ladder;
use engine::programme::joints::{PLAIN, weight};
use engine::programme::swap::likeness;
use engine::strength::LoadRepCurve;
use engine::target::{self, Ease, EaseChoice, EasedLead, Today};
use jiff::civil::Date;
use jiff::tz::TimeZone;
use serde::Serialize;
use store::Outcome;

use super::line::FloorLine;
use crate::joints::stops::{StopView, Stops};
use crate::record::history::{ASSUMED_BODY_MASS_KG, LiftHistory, ratings};
use crate::record::person::{Person, catalogue};
use crate::session::card::{Shown, Swap, card_showing, session_with_swaps};
use crate::session::next_lead::NextLead;
use crate::view::{CardLift, SessionView};
use crate::words;
use crate::{Desk, ServiceError};

/// Loads looked at on each side of the target.
const MOST_RUNGS: usize = 60;
/// The lightest load that a page needs, as a share of the mass that the target moves: speed work lies
/// above it.
const LIGHTEST: f64 = 0.45;
/// The most lifts offered in the place of one.
const MOST_ALTERNATIVES: usize = 6;
/// How alike two lifts' muscles must be for one to take the other's place.
const ALIKE: f64 = 0.4;

/// One session for one phone.
#[derive(Clone, Debug, Serialize)]
pub struct FloorDay {
    /// The lifter.
    pub lifter: String,
    /// The day of the session.
    pub date: String,
    /// The unit of every load here.
    pub unit: &'static str,
    /// How many kilograms one of this unit is.
    pub unit_kg: f64,
    /// Where the list of lifts comes from, as a sentence.
    pub basis: String,
    /// What to heed before starting.
    pub notes: Vec<String>,
    /// The usual cautions.
    pub cautions: String,
    /// The pain rating above which a lift stops.
    pub pain_limit: u8,
    /// The shortfall that counts, in %.
    pub shortfall_pct: f64,
    /// The lifts in order.
    pub lifts: Vec<FloorLift>,
    /// Lifts that can take the place of others, by name.
    pub alternatives: BTreeMap<String, Alternative>,
    /// What is believed of the lifts before the session, those that can be swapped in among them.
    pub session: Option<SessionView>,
    /// All joints, in the order in which they are shown.
    pub joints: Vec<FloorJoint>,
    /// The newest rating of each joint that was reported elsewhere than in this session: those above the limit,
    /// and those of the session's day, which may answer what the session reports.
    pub ratings: Vec<FloorRating>,
    /// What was logged for this session so far, in the order in which it reached the desk.
    pub messages: Vec<FloorLine>,
}

/// One lift of the session.
#[derive(Clone, Debug, Serialize)]
pub struct FloorLift {
    /// As on the card.
    #[serde(flatten)]
    pub card: CardLift,
    /// The target's load, in the lifter's unit; where none is known, the lightest to start looking from.
    pub load: f64,
    /// The same load in kg.
    pub load_kg: f64,
    /// Why the lift isn't done, by what the desk has; the page judges for itself by [`FloorDay::ratings`] and by
    /// what is told in the session.
    #[serde(skip)]
    pub stop: Option<StopView>,
    /// Work sets in all.
    pub sets: u8,
    /// The joints that it loads, the heaviest first.
    pub joints: Vec<&'static str>,
    /// Of those, the ones that it plainly loads: pain in them stops it.
    pub plain_joints: Vec<&'static str>,
    /// The body mass that it moves besides the load, in kg.
    pub body_kg: f64,
    /// Whether the record is long enough for a chance.
    pub has_chance: bool,
    /// Loads from the lightest that matters to well above the target.
    pub rungs: Vec<Rung>,
    /// b of the lift's own load–rep curve, by which speed work is loaded.
    pub own_curve_b: f64,
    /// Why there is no speed work of this lift; none if there is.
    pub no_speed: Option<String>,
    /// Lifts that can take its place, the most alike first.
    pub instead: Vec<String>,
    /// Of those with a record, the place among the quantities of [`FloorDay::session`] on which each stands if
    /// it comes here.
    pub places: BTreeMap<String, usize>,
}

/// A load that exists.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Rung {
    /// In the lifter's unit.
    pub load: f64,
    /// In kg.
    pub kg: f64,
    /// Plates on each side, in words.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub plates: Option<String>,
}

/// A lift in the place of another.
#[derive(Clone, Debug, Serialize)]
pub struct Alternative {
    /// What it is done with.
    pub equipment: &'static str,
    /// Its prime movers, in words.
    pub prime_movers: String,
    /// What a load means, if it needs saying.
    pub load_meaning: Option<&'static str>,
    /// Whether a spotter or safety bars belong to it.
    pub spotter: bool,
    /// The joints that it loads.
    pub joints: Vec<&'static str>,
    /// Of those, the ones that it plainly loads.
    pub plain_joints: Vec<&'static str>,
    /// The body mass that it moves besides the load, in kg.
    pub body_kg: f64,
    /// What was done last, in words; none if never.
    pub last: Option<String>,
    /// The load to start from, in the lifter's unit.
    pub load: f64,
    /// The loads that exist, in the lifter's unit; empty where `plan` has them.
    pub loads: Vec<f64>,
    /// What it would be on the card, by its own record: its lead set is read like any other. None without a
    /// record, which then starts with the set that is logged.
    pub plan: Option<FloorLift>,
}

/// A joint.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct FloorJoint {
    /// As messages name it.
    pub key: &'static str,
    /// As people name it.
    pub label: &'static str,
}

/// A rating of a joint.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct FloorRating {
    /// The joint, as messages name it.
    pub joint: &'static str,
    /// Of 10.
    pub rating: u8,
    /// When it was reported, local, as ISO 8601.
    pub at: String,
    /// The day in words.
    pub day: String,
}

impl Desk {
    /// The session of a lifter on a day, for a phone.
    ///
    /// # Errors
    /// Nobody has that name, there is no session on record, or the store has trouble.
    pub fn floor_day(
        &self,
        name: &LifterName,
        date: Date,
        zone: &TimeZone,
    ) -> Result<FloorDay, ServiceError> {
        let person = person_before(self, name, date)?;
        let lifts = catalogue(self.store())?;
        let ratings = self.ratings_elsewhere(name, date)?;
        let standing = standing(ratings.iter().copied(), person.lifter.limits.pain());
        let stops = Stops::of(self, &person, standing, date)?;
        let unit = person.lifter.unit;
        let mut planned: Vec<FloorLift> = Vec::new();
        let begin = |person: &Person, lift: &Lift, aim| self.where_to_begin(person, lift, aim);
        let card = card_showing(&person, date, &stops, &begin, &mut |shown| {
            planned.push(match shown {
                Shown::Known(record, next, line) => floor_lift(record, next, line.clone(), unit),
                Shown::New(lift, line) => new_floor_lift(lift, line.clone(), &person),
            });
        })?;
        for lift in &mut planned {
            let stopped = card.stopped.iter().find(|stopped| stopped.name == lift.card.name);
            lift.stop = stopped.map(|stopped| stopped.stop.clone());
        }
        let on_card: Vec<String> = planned.iter().map(|lift| lift.card.name.clone()).collect();
        let mut alternatives: BTreeMap<String, Alternative> = BTreeMap::new();
        let mut swaps = Vec::new();
        for (line, lift) in planned.iter_mut().enumerate() {
            for other in instead_of(&lift.card.name, &on_card, &person, &lifts) {
                lift.instead.push(other.name.to_string());
                let known = alternatives.entry(other.name.to_string());
                known.or_insert_with(|| alternative(other, &person, date));
                let record = person.history.lift(&other.name);
                swaps.extend(record.map(|record| Swap { line, record }));
            }
        }
        let session = session_with_swaps(&person, date, &stops, &swaps, &mut |swap, next, line| {
            let (place, name) = (next.place(), swap.record.lift.name.as_str());
            planned[swap.line].places.extend(place.map(|place| (name.to_owned(), place)));
            let shown = alternatives.get_mut(name).filter(|shown| shown.plan.is_none());
            if let Some(shown) = shown {
                let line = CardLift { outcomes: Vec::new(), remaining: Vec::new(), ..line };
                let plan = floor_lift(swap.record, next, line, unit);
                (shown.load, shown.loads) = (plan.load, Vec::new());
                shown.plan = Some(plan);
            }
        });
        Ok(FloorDay {
            lifter: card.lifter,
            date: date.to_string(),
            unit: unit.as_str(),
            unit_kg: unit.kg(),
            basis: card.basis,
            notes: card.notes,
            cautions: card.cautions,
            pain_limit: person.lifter.limits.pain(),
            shortfall_pct: person.lifter.limits.shortfall_pct(),
            lifts: planned,
            alternatives,
            session,
            joints: Joint::ALL
                .iter()
                .map(|joint| FloorJoint { key: joint.key(), label: joint.label() })
                .collect(),
            ratings: floor_ratings(&ratings, &person, date),
            messages: self.floor_lines(name, date, zone)?,
        })
    }

    /// Pain as it was reported up to the end of a day, without what phones reported in that day's session: their
    /// pages know that by its messages, and know what of it was taken back.
    fn ratings_elsewhere(
        &self,
        name: &LifterName,
        date: Date,
    ) -> Result<Vec<Rating>, ServiceError> {
        let messages = self.store().floor_messages_on(name, date)?;
        let here: Vec<CheckInId> = messages
            .into_iter()
            .filter_map(|record| match record.message.outcome {
                Outcome::CheckIn(id) => Some(id),
                Outcome::Set(_) | Outcome::Kept | Outcome::Refused(_) => None,
            })
            .collect();
        let mut check_ins = self.store().check_ins_of(name)?;
        check_ins.retain(|told| told.when.date() <= date && !here.contains(&told.id()));
        Ok(ratings(&check_ins))
    }
}

fn floor_ratings(ratings: &[Rating], person: &Person, date: Date) -> Vec<FloorRating> {
    let limit = person.lifter.limits.pain();
    newest(ratings.iter().copied())
        .into_iter()
        .filter(|one| is_above(one.pain.rating(), limit) || one.when.date() == date)
        .map(|one| FloorRating {
            joint: one.pain.joint.key(),
            rating: one.pain.rating(),
            at: one.when.to_string(),
            day: words::day(one.when.date(), date),
        })
        .collect()
}

/// The lifter as they stood before a day, but with that morning's check-in.
fn person_before(desk: &Desk, name: &LifterName, date: Date) -> Result<Arc<Person>, ServiceError> {
    let person = desk.person(name)?;
    let history = &person.history;
    if history.days.iter().all(|day| day.date < date) {
        return Ok(person);
    }
    if let Some(before) = person.before(date) {
        return Ok(Arc::new(before));
    }
    Ok(Arc::new(Person::load_before(desk.store(), name, date)?))
}

fn floor_lift(record: &LiftHistory, next: &NextLead<'_>, card: CardLift, unit: Unit) -> FloorLift {
    let lift = &record.lift;
    let load = next.target.load;
    // What far too few repetitions mean, the page says once they are there.
    let card = CardLift { gauge_reason: next.why_read_or_not(), ..card };
    FloorLift {
        card,
        load: load.shown_in(unit).value(),
        load_kg: load.kg(),
        stop: None,
        sets: next.sets(),
        joints: joints(lift),
        plain_joints: plain_joints(lift),
        body_kg: next.body_moved_kg(),
        has_chance: next.has_chance(),
        rungs: rungs(next, unit),
        own_curve_b: next.own_curve_b(),
        no_speed: no_speed(lift, next),
        instead: Vec::new(),
        places: BTreeMap::new(),
    }
}

/// A lift of which nothing is on record: all its loads from the lightest, and no target.
fn new_floor_lift(lift: &Lift, card: CardLift, person: &Person) -> FloorLift {
    let unit = person.lifter.unit;
    let ladder = Ladder::new(lift, &person.lifter);
    let start = ladder.nearest(0.0_f64.max(ladder.lowest().kg()));
    let loads = std::iter::once(start).chain(above(&ladder, start).take(2 * MOST_RUNGS));
    let body_mass = person.history.body_mass_kg(Date::MAX).unwrap_or(ASSUMED_BODY_MASS_KG);
    let begin = card.lead.load.unwrap_or(start);
    FloorLift {
        load: begin.shown_in(unit).value(),
        load_kg: begin.kg(),
        stop: None,
        sets: u8::try_from(1 + card.remaining.len()).unwrap_or(u8::MAX),
        card,
        joints: joints(lift),
        plain_joints: plain_joints(lift),
        body_kg: lift.moved_kg(0.0, body_mass),
        has_chance: false,
        rungs: loads.map(|load| rung(&ladder, load, unit)).collect(),
        own_curve_b: LoadRepCurve::EPLEY.b(),
        no_speed: None,
        instead: Vec::new(),
        places: BTreeMap::new(),
    }
}

fn rung(ladder: &Ladder, load: Load, unit: Unit) -> Rung {
    Rung {
        load: load.shown_in(unit).value(),
        kg: load.kg(),
        plates: ladder.plates(load).map(|plates| words::plates(&plates, unit)),
    }
}

/// The loads around the target, with their plates.
fn rungs(next: &NextLead<'_>, unit: Unit) -> Vec<Rung> {
    let (ladder, target) = (next.ladder(), next.target.load);
    let lightest = LIGHTEST * next.moved_kg() - next.body_moved_kg();
    let mut loads = vec![target];
    let mut below = target;
    while let Some(load) = ladder.next_below(below) {
        // One below the lightest that matters, so that the page sees where the loads end.
        if loads.len() > MOST_RUNGS || below.kg() < lightest {
            break;
        }
        loads.insert(0, load);
        below = load;
    }
    loads.extend(above(ladder, target).take(MOST_RUNGS / 2));
    loads.into_iter().map(|load| rung(ladder, load, unit)).collect()
}

fn above(ladder: &Ladder, from: Load) -> impl Iterator<Item = Load> + '_ {
    std::iter::successors(ladder.next_above(from), |load| ladder.next_above(*load))
}

/// Why there is no speed work of a lift, whatever its lead set shows.
fn no_speed(lift: &Lift, next: &NextLead<'_>) -> Option<String> {
    if lift.speed_ok && !lift.explosive {
        return None;
    }
    let today = Today {
        lift,
        ladder: next.ladder(),
        days: next.days(),
        body_mass_kg: None,
        forecast: None,
    };
    let lead = EasedLead { moved_kg: next.moved_kg(), one_rm_kg: next.moved_kg() };
    match target::ease(&today, lead, 2, EaseChoice::SpeedWork) {
        Ease::LeaveOut { words } => Some(words),
        Ease::Speed(_) => None,
    }
}

/// Lifts for the same muscles that aren't on the card: those that the lifter has done first, then the
/// most alike.
fn instead_of<'a>(
    name: &str,
    on_card: &[String],
    person: &Person,
    lifts: &'a Catalogue,
) -> Vec<&'a Lift> {
    let Some(lift) = lifts.lifts().iter().find(|lift| lift.name.as_str() == name) else {
        return Vec::new();
    };
    let mut alike: Vec<(bool, f64, &Lift)> = lifts
        .lifts()
        .iter()
        .filter(|other| !on_card.contains(&other.name.to_string()))
        .map(|other| (person.history.lift(&other.name).is_some(), likeness(lift, other), other))
        .filter(|(_, likeness, _)| *likeness >= ALIKE)
        .collect();
    alike.sort_by(|a, b| b.0.cmp(&a.0).then(b.1.total_cmp(&a.1)));
    let alike: Vec<&Lift> = alike.into_iter().map(|(_, _, other)| other).collect();
    let mut offered: Vec<&Lift> = alike.iter().take(MOST_ALTERNATIVES).copied().collect();
    // Whichever joint complains in the session, something that spares it is among them, if there is anything.
    for joint in lift.joints.iter().filter(|loaded| loaded.get() >= PLAIN) {
        let spares = |other: &&Lift| weight(other, joint.joint) < PLAIN;
        if !offered.iter().any(&spares) {
            offered.extend(alike.iter().find(|other| spares(other)).copied());
        }
    }
    offered
}

fn alternative(lift: &Lift, person: &Person, date: Date) -> Alternative {
    let unit = person.lifter.unit;
    let record = person.history.lift(&lift.name);
    let last = record.and_then(|record| record.sets.iter().rev().find(|set| set.kind.can_lead()));
    let logged: Vec<Load> =
        record.map_or_else(Vec::new, |record| record.sets.iter().map(|set| set.load).collect());
    let ladder = Ladder::for_record(lift, &person.lifter, &logged);
    let start = match last {
        Some(set) => set.load,
        None => ladder.nearest(0.0_f64.max(ladder.lowest().kg())),
    };
    let body_mass = person.history.body_mass_kg(date).unwrap_or(ASSUMED_BODY_MASS_KG);
    let mut loads = vec![start];
    let mut below = start;
    while let Some(load) = ladder.next_below(below).filter(|_| loads.len() < MOST_RUNGS / 2) {
        loads.insert(0, load);
        below = load;
    }
    loads.extend(above(&ladder, start).take(MOST_RUNGS));
    Alternative {
        equipment: lift.equipment.label(),
        prime_movers: lift.prime_movers(),
        load_meaning: words::load_meaning(lift),
        spotter: lift.spotter,
        joints: joints(lift),
        plain_joints: plain_joints(lift),
        body_kg: lift.moved_kg(0.0, body_mass),
        last: last.map(|set| {
            format!("{} × {} on {}", set.load, set.reps, words::day(set.when.date(), date))
        }),
        load: start.shown_in(unit).value(),
        loads: loads.into_iter().map(|load| load.shown_in(unit).value()).collect(),
        plan: None,
    }
}

fn joints(lift: &Lift) -> Vec<&'static str> {
    lift.joints.iter().map(|loaded| loaded.joint.key()).collect()
}

/// The joints whose pain stops a lift.
fn plain_joints(lift: &Lift) -> Vec<&'static str> {
    let plain = lift.joints.iter().filter(|loaded| loaded.get() >= PLAIN);
    plain.map(|loaded| loaded.joint.key()).collect()
}
