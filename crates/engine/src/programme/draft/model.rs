//! Wishes in whole numbers: which lifts may stand on which day with how many sets, what limits them, and
//! what they are worth.
//!
//! A plan is a number of sets for each candidate on each day. Doses are thousandths of a hard set, times are
//! seconds, worth is points; nothing is rounded while a plan is looked for.

use std::collections::{BTreeMap, BTreeSet};

use domain::programme::ProgrammeError;
use domain::{Lift, LiftName, Muscle, Note, PlannedLift, Programme, ProgrammeDay, ProgrammeName};

use super::order::{Entry, order};
use super::slots::{Manner, is_big, slot_of};
use super::wishes::Wishes;
use super::worth::{
    Kept, LIFT_DAY, LOADED, Milli, PREFERRED, SESSION_MOST, UNUSUAL_DAY, Worth, milli,
};
use crate::programme::check::Ground;
use crate::programme::check::order::{is_heavy_hinge, is_heavy_on_back};
use crate::programme::dose::is_hard;
use crate::programme::minutes::{
    GENERAL_WARM_UP_SECONDS, Part, first_warm_up_seconds, lift_seconds, seconds_per_set,
};
use crate::programme::swap::{is_at_hand, likeness, loads_spared};

/// Lifts that train this much alike don't stand on one day. Our choice.
pub const ALIKE: f64 = 0.85;
/// The most days a week for a lift, and for one that is to go up. Common practice, no source.
pub const MOST_DAYS: (i64, i64) = (2, 3);
/// The most days a week for a heavy hinge that is to go up, unless it stands on more now: it tires the back for
/// everything else. Common practice, no source.
pub const HINGE_MOST_DAYS: i64 = 1;
/// With fewer usual lifts than this for a muscle others are taken besides, up to so many.
const FEW: usize = 1;
const STAND_INS: usize = 6;

/// How many muscles there are.
pub(super) const MUSCLES: usize = Muscle::ALL.len();
/// How many parts of the body are warmed up.
pub(super) const PARTS: usize = Part::ALL.len();

/// A lift that may be taken.
#[derive(Clone, Debug)]
pub(super) struct Candidate<'a> {
    pub(super) lift: &'a Lift,
    pub(super) raised: bool,
    pub(super) gauge: bool,
    /// Muscle, thousandths of a set, and whether it is a prime mover.
    pub(super) weights: Vec<(usize, Milli, bool)>,
    pub(super) part: usize,
    pub(super) first_warm_up: i64,
    pub(super) most_days: i64,
    /// Points for each day that it stands on.
    pub(super) points_day: i64,
    /// Points for standing anywhere.
    pub(super) points_week: i64,
    /// Days and sets that fixed parts give it.
    pub(super) pinned_days: i64,
    pub(super) pinned_sets: i64,
    /// Candidates that it can't share a day with.
    pub(super) clashes: Vec<bool>,
}

/// A candidate on a day.
#[derive(Clone, Debug)]
pub(super) struct Cell {
    pub(super) allowed: bool,
    pub(super) least: u8,
    pub(super) most: u8,
    /// Seconds however many the sets.
    pub(super) fixed: i64,
    pub(super) per_set: i64,
    /// Whether its sets are hard.
    pub(super) hard: bool,
    /// Sets that the present week has there; 0 if none.
    pub(super) kept_sets: u8,
    manner: Manner,
}

/// A day with what is fixed on it.
#[derive(Clone, Debug)]
pub(super) struct Day {
    /// Days from Monday.
    pub(super) offset: i64,
    pub(super) allowed_seconds: i64,
    /// Seconds of the fixed lifts and of general warming up, without warming up the parts.
    pub(super) seconds: i64,
    /// What each part's warm-up costs for the fixed lifts.
    pub(super) part_seconds: [i64; PARTS],
    pub(super) lifts: i64,
    pub(super) dose: [Milli; MUSCLES],
    pub(super) direct: [Milli; MUSCLES],
    pub(super) gauge: bool,
    /// The most thousandths of a set for each muscle.
    pub(super) most_dose: [Milli; MUSCLES],
}

/// A lift that is to go up, and the candidate that it is; none if it can't be done.
#[derive(Clone, Debug)]
pub(super) struct Raised {
    pub(super) candidate: Option<usize>,
    pub(super) pinned_sets: i64,
}

/// A week to differ from.
#[derive(Clone, Debug)]
pub(super) struct Apart {
    pub(super) on: Vec<bool>,
    /// Candidates that it has anywhere.
    pub(super) has: Vec<bool>,
    /// The most places (a lift on a day) and the most lifts in common.
    pub(super) most: (i64, i64),
}

/// The wishes in whole numbers.
#[derive(Clone, Debug)]
pub struct Model<'a> {
    pub(super) wishes: &'a Wishes,
    ground: Ground<'a>,
    pub(super) candidates: Vec<Candidate<'a>>,
    pub(super) cells: Vec<Cell>,
    pub(super) days: Vec<Day>,
    pub(super) raised: Vec<Raised>,
    pub(super) worth: Vec<Worth>,
    /// The most thousandths after which a muscle is back in so many days, from 1 to 7 at places 0 to 6.
    pub(super) back_within: Vec<[Milli; 7]>,
    pub(super) kept: Kept,
    /// Weeks that a plan has to differ from: their places, and how many of them it may share.
    pub(super) apart: Vec<Apart>,
    /// Fixed lifts that go against the wishes: not at hand, loading a joint to be spared, or refused.
    pub(super) fixed_wrongly: i64,
}

/// Sets for each candidate on each day of a [`Model`].
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Plan {
    pub(super) sets: Vec<u8>,
}

impl<'a> Model<'a> {
    /// Puts wishes into whole numbers.
    ///
    /// # Errors
    /// The lifts named that the catalogue doesn't know.
    pub fn new(wishes: &'a Wishes, ground: Ground<'a>) -> Result<Model<'a>, Vec<LiftName>> {
        let unknown = wishes.unknown(ground.catalogue);
        if !unknown.is_empty() {
            return Err(unknown);
        }
        let asked = Asked::of(wishes, &ground);
        let kept = Kept::of(wishes.keep);
        let lifts = chosen(wishes, &ground, &asked);
        let mut candidates: Vec<Candidate<'a>> =
            lifts.iter().map(|lift| candidate(lift, &asked, &ground, kept)).collect();
        for one in 0..candidates.len() {
            candidates[one].clashes = (0..lifts.len())
                .map(|other| other != one && clash(lifts[one], lifts[other], &asked))
                .collect();
        }
        let days: Vec<Day> =
            (0..wishes.days.len()).map(|day| fixed(wishes, day, &ground)).collect();
        let cells = candidates
            .iter()
            .flat_map(|one| (0..days.len()).map(|day| cell(one, day, wishes, &asked)))
            .collect();
        let raised = asked.raised.iter().map(|lift| raised(lift, &candidates, &asked)).collect();
        let range = |m: &Muscle| Worth::of(wishes.range(*m), wishes.priority(*m));
        let back = |m: &Muscle| {
            std::array::from_fn(|days| {
                let hours = 24.0 * (days + 1) as f64;
                let most = (1000.0 * ground.hours.most_sets(*m, hours)).floor();
                if wishes.mind_hours() { most.min(1e9) as Milli } else { Milli::MAX }
            })
        };
        let wrong = |lift: &Lift| {
            let possible =
                is_at_hand(lift, &wishes.purpose) && !loads_spared(lift, &wishes.purpose);
            !possible || has(&asked.refused, lift)
        };
        let fixed_wrongly = asked.pinned.iter().filter(|(lift, ..)| wrong(lift)).count() as i64;
        Ok(Model {
            fixed_wrongly,
            apart: Vec::new(),
            wishes,
            ground,
            cells,
            days,
            raised,
            worth: Muscle::ALL.iter().map(range).collect(),
            back_within: Muscle::ALL.iter().map(back).collect(),
            candidates,
            kept,
        })
    }

    /// How many lifts may be taken, and on how many days.
    #[must_use]
    pub fn size(&self) -> (usize, usize) {
        (self.candidates.len(), self.days.len())
    }

    /// The plan with nothing but the fixed parts.
    #[must_use]
    pub fn empty_plan(&self) -> Plan {
        Plan { sets: vec![0; self.cells.len()] }
    }

    /// What the present week has of the candidates, within the sets allowed: where a search begins.
    #[must_use]
    pub fn present_plan(&self) -> Plan {
        let sets = |cell: &Cell| match cell.kept_sets {
            sets if sets > 0 && cell.allowed => sets.clamp(cell.least, cell.most),
            _ => 0,
        };
        Plan { sets: self.cells.iter().map(sets).collect() }
    }

    /// The same wishes for a week that differs from this one: at most half of its places (a lift on a day) in
    /// common, and at most seven of ten of its lifts, those to go up left out.
    #[must_use]
    pub fn apart_from(mut self, plan: &Plan) -> Model<'a> {
        let n_days = self.days.len();
        let on: Vec<bool> = plan.sets.iter().map(|sets| *sets > 0).collect();
        let has: Vec<bool> = self
            .candidates
            .iter()
            .enumerate()
            .map(|(idx, one)| !one.raised && on[idx * n_days..(idx + 1) * n_days].contains(&true))
            .collect();
        let count = |all: &[bool]| all.iter().filter(|it| **it).count() as i64;
        let most = (count(&on) / 2, 7 * count(&has) / 10);
        self.apart.push(Apart { on, has, most });
        self
    }

    /// The lift that a name means.
    pub(super) fn find(&self, name: &LiftName) -> Option<&'a Lift> {
        self.ground.catalogue.find(name)
    }

    pub(super) fn cell(&self, candidate: usize, day: usize) -> &Cell {
        &self.cells[candidate * self.days.len() + day]
    }

    /// Days from one day to the next other, or to itself in a week.
    pub(super) fn days_between(&self, from: usize, to: usize) -> usize {
        let days = (self.days[to].offset - self.days[from].offset).rem_euclid(7);
        if days == 0 { 7 } else { days as usize }
    }

    /// The most thousandths that a muscle may get on day `from` if day `to` loads it too.
    pub(super) fn most_before(&self, muscle: usize, from: usize, to: usize) -> Milli {
        self.back_within[muscle][self.days_between(from, to) - 1].max(LOADED - 1)
    }

    /// The plan as a programme, the lifts of each day in the order in which they are done.
    ///
    /// # Errors
    /// A day has no lift, or more than a programme may have.
    pub fn programme(
        &self,
        plan: &Plan,
        name: ProgrammeName,
        note: Note,
    ) -> Result<Programme, ProgrammeError> {
        let days = (0..self.days.len()).map(|day| self.programme_day(plan, day));
        Programme::new(name, note, self.wishes.purpose.clone(), days.collect::<Result<_, _>>()?)
    }

    fn programme_day(&self, plan: &Plan, day: usize) -> Result<ProgrammeDay, ProgrammeError> {
        let wish = &self.wishes.days[day];
        let mut lifts: Vec<PlannedLift> = wish.pinned.clone();
        for (idx, candidate) in self.candidates.iter().enumerate() {
            let sets = plan.sets[idx * self.days.len() + day];
            if sets > 0 {
                lifts.push(self.cell(idx, day).manner.planned(candidate.lift, sets));
            }
        }
        let is_raised = |lift: &Lift| {
            let mut raised = self.candidates.iter().filter(|candidate| candidate.raised);
            raised.any(|candidate| candidate.lift.name == lift.name)
        };
        let entries: Vec<Entry<'_>> = lifts
            .iter()
            .filter_map(|planned| self.ground.catalogue.find(planned.lift()))
            .map(|lift| Entry { lift, raised: is_raised(lift), gauge: self.ground.is_gauge(lift) })
            .collect();
        let lifts = order(&entries).into_iter().map(|place| lifts[place].clone()).collect();
        ProgrammeDay::new(wish.weekday, wish.minutes, lifts)
    }
}

/// The lifts that the wishes name, looked up.
struct Asked<'a> {
    raised: Vec<&'a Lift>,
    preferred: Vec<&'a Lift>,
    refused: Vec<&'a Lift>,
    present: Vec<&'a Lift>,
    /// On how many days each lift stands now.
    days_now: BTreeMap<LiftName, i64>,
    /// With day and sets.
    pinned: Vec<(&'a Lift, usize, u8)>,
}

impl<'a> Asked<'a> {
    fn of(wishes: &Wishes, ground: &Ground<'a>) -> Asked<'a> {
        let catalogue = ground.catalogue;
        let find = |names: &[LiftName]| {
            let mut lifts: Vec<&'a Lift> = Vec::new();
            for lift in names.iter().filter_map(|name| catalogue.find(name)) {
                if !has(&lifts, lift) {
                    lifts.push(lift);
                }
            }
            lifts
        };
        let mut days_now = BTreeMap::new();
        for day in wishes.present.iter().flat_map(Programme::days) {
            // By their own names, whatever spelling the programme has.
            let known = day.lifts().iter().filter_map(|planned| catalogue.find(planned.lift()));
            let lifts: BTreeSet<&LiftName> = known.map(|lift| &lift.name).collect();
            for lift in lifts {
                *days_now.entry(lift.clone()).or_insert(0) += 1;
            }
        }
        let present: Vec<LiftName> = days_now.keys().cloned().collect();
        let pinned = wishes.days.iter().enumerate().flat_map(|(day, wish)| {
            let look_up = move |planned: &PlannedLift| {
                catalogue.find(planned.lift()).map(|lift| (lift, day, planned.sets()))
            };
            wish.pinned.iter().filter_map(look_up)
        });
        Asked {
            raised: find(&wishes.purpose.raise),
            preferred: find(&wishes.prefer),
            refused: find(&wishes.purpose.refuse),
            present: find(&present),
            days_now,
            pinned: pinned.collect(),
        }
    }

    fn is_raised(&self, lift: &Lift) -> bool {
        has(&self.raised, lift)
    }

    fn names(&self, lift: &Lift) -> bool {
        [&self.raised, &self.preferred, &self.present].into_iter().any(|lifts| has(lifts, lift))
    }
}

fn has(lifts: &[&Lift], lift: &Lift) -> bool {
    lifts.iter().any(|other| other.name == lift.name)
}

/// The lifts that may be taken: those named, the staples, and a few for muscles that none of these trains.
fn chosen<'a>(wishes: &Wishes, ground: &Ground<'a>, asked: &Asked<'a>) -> Vec<&'a Lift> {
    let purpose = &wishes.purpose;
    let possible: Vec<&Lift> = ground
        .catalogue
        .lifts()
        .iter()
        .filter(|lift| is_at_hand(lift, purpose) && !loads_spared(lift, purpose))
        .filter(|lift| !has(&asked.refused, lift))
        .collect();
    let mut taken: Vec<bool> =
        possible.iter().map(|lift| asked.names(lift) || (lift.staple && !lift.explosive)).collect();
    for muscle in Muscle::ALL.iter().filter(|m| wishes.priority(**m).is_some()) {
        let trains = |lift: &Lift| lift.has_prime_mover(*muscle);
        let usual =
            possible.iter().zip(&taken).filter(|(lift, taken)| **taken && trains(lift)).count();
        if usual < FEW && wishes.range(*muscle).aim() > 0.0 {
            let fits = |lift: &Lift| trains(lift) && !lift.explosive && !lift.asked_only;
            let stand_ins = (0..possible.len()).filter(|i| fits(possible[*i]) && !taken[*i]);
            let stand_ins: Vec<usize> = stand_ins.take(STAND_INS).collect();
            for idx in stand_ins {
                taken[idx] = true;
            }
        }
    }
    possible.into_iter().zip(taken).filter(|(_, taken)| *taken).map(|(lift, _)| lift).collect()
}

fn candidate<'a>(
    lift: &'a Lift,
    asked: &Asked<'a>,
    ground: &Ground<'a>,
    kept: Kept,
) -> Candidate<'a> {
    let raised = asked.is_raised(lift);
    let preferred = has(&asked.preferred, lift);
    let present = has(&asked.present, lift);
    let pinned = || asked.pinned.iter().filter(|(other, ..)| other.name == lift.name);
    let mut pinned_days: Vec<usize> = pinned().map(|(_, day, _)| *day).collect();
    pinned_days.dedup();
    let pinned_days = pinned_days.len() as i64;
    let unusual = !lift.staple && !asked.names(lift);
    Candidate {
        lift,
        raised,
        gauge: ground.is_gauge(lift),
        weights: weights(lift),
        part: Part::of(lift) as usize,
        first_warm_up: first_warm_up_seconds(lift).into(),
        most_days: most_days(lift, raised, asked.days_now.get(&lift.name).copied().unwrap_or(0))
            .max(pinned_days),
        points_day: LIFT_DAY
            + if unusual { UNUSUAL_DAY } else { 0 }
            + if preferred { PREFERRED.1 } else { 0 },
        points_week: if preferred { PREFERRED.0 } else { 0 } + if present { kept.lift } else { 0 },
        pinned_days,
        pinned_sets: pinned().map(|(.., sets)| i64::from(*sets)).sum(),
        clashes: Vec::new(),
    }
}

/// On how many days of a week a lift may stand that now stands on so many.
fn most_days(lift: &Lift, raised: bool, now: i64) -> i64 {
    match raised {
        true if is_heavy_hinge(lift) => HINGE_MOST_DAYS.max(now.min(MOST_DAYS.1)),
        true => MOST_DAYS.1,
        false => MOST_DAYS.0,
    }
}

/// What a hard set gives each muscle.
fn weights(lift: &Lift) -> Vec<(usize, Milli, bool)> {
    lift.muscles.iter().map(|m| (m.muscle as usize, milli(m.get()), m.is_prime())).collect()
}

/// Whether two lifts can't share a day: they train alike, or both load the lower back heavily and not both
/// are to go up.
fn clash(one: &Lift, other: &Lift, asked: &Asked<'_>) -> bool {
    let heavy = is_heavy_on_back(one) && is_heavy_on_back(other);
    let both_raised = asked.is_raised(one) && asked.is_raised(other);
    !both_raised && (heavy || likeness(one, other) >= ALIKE)
}

fn cell(candidate: &Candidate<'_>, day: usize, wishes: &Wishes, asked: &Asked<'_>) -> Cell {
    let lift = candidate.lift;
    let on_day = asked.pinned.iter().filter(|(_, pinned_day, _)| *pinned_day == day);
    let mut beside = on_day.map(|(other, ..)| *other);
    let allowed = beside.all(|other| other.name != lift.name && !clash(lift, other, asked));
    let manner =
        Manner::of(lift, candidate.raised, wishes.days[day].weekday, wishes.present.as_ref());
    let kept_sets = manner.present.as_ref().map_or(0, PlannedLift::sets);
    let (least, most) = match (candidate.raised, is_big(lift), is_heavy_on_back(lift)) {
        (true, _, false) => (2, 6),
        (true, _, true) | (false, true, false) => (2, 5),
        (false, ..) => (2, 4),
    };
    let one = manner.slot(lift, 1);
    Cell {
        allowed,
        least: if kept_sets > 0 { least.min(kept_sets) } else { least },
        most: most.max(kept_sets),
        fixed: i64::from(lift_seconds(&one)) - i64::from(seconds_per_set(&one)),
        per_set: seconds_per_set(&one).into(),
        hard: is_hard(one.rir),
        kept_sets,
        manner,
    }
}

/// A day with its fixed parts counted.
fn fixed(wishes: &Wishes, day: usize, ground: &Ground<'_>) -> Day {
    let wish = &wishes.days[day];
    let mut fixed = Day {
        offset: i64::from(wish.weekday.to_monday_zero_offset()),
        allowed_seconds: wish.seconds().into(),
        seconds: GENERAL_WARM_UP_SECONDS.into(),
        part_seconds: [0; PARTS],
        lifts: 0,
        dose: [0; MUSCLES],
        direct: [0; MUSCLES],
        gauge: false,
        most_dose: [SESSION_MOST; MUSCLES],
    };
    for planned in &wish.pinned {
        let Some(lift) = ground.catalogue.find(planned.lift()) else { continue };
        let slot = slot_of(lift, planned);
        fixed.lifts += 1;
        fixed.seconds += i64::from(lift_seconds(&slot));
        let part = &mut fixed.part_seconds[Part::of(lift) as usize];
        *part = (*part).max(first_warm_up_seconds(lift).into());
        fixed.gauge |= ground.is_gauge(lift);
        for (muscle, weight, prime) in weights(lift) {
            let dose = weight * i64::from(if is_hard(slot.rir) { slot.sets } else { 0 });
            fixed.dose[muscle] += dose;
            fixed.direct[muscle] += if prime { dose } else { 0 };
        }
    }
    for (most, dose) in fixed.most_dose.iter_mut().zip(fixed.dose) {
        *most = (*most).max(dose);
    }
    fixed
}

fn raised(lift: &Lift, candidates: &[Candidate<'_>], asked: &Asked<'_>) -> Raised {
    let pinned = asked.pinned.iter().filter(|(other, ..)| other.name == lift.name);
    Raised {
        candidate: candidates.iter().position(|candidate| candidate.lift.name == lift.name),
        pinned_sets: pinned.map(|(.., sets)| i64::from(*sets)).sum(),
    }
}
