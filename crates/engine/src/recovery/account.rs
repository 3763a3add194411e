//! What a record says that hangs on no parameter of the lifter, kept beside what is believed.
//!
//! When something happened, what each lift showed lately, what work falls on which muscle: it is worked out once
//! for each event ([`Told`]), and the filter goes on with that. An estimate, which runs the filter over the same
//! record again and again, does this part once ([`Prepared`]).

use domain::Limits;

use super::filter::{Event, MOST_DAYS, REGAIN_DAYS};
use super::frame::fading;
use super::freak::Freak;
use super::parameters::Pooled;
use super::shape::Shape;
use crate::strength::{MAX_REPS_TO_FAILURE_READ, SetMeasurement};
use crate::trend::LeadSet;

/// Weight of the latest set in the running mean of the lean.
const LEAN_PART: f64 = 1.0 / 3.0;

/// The latest sets whose mean, without the highest and the lowest, is what a lift shows now. A freak hardly
/// moves it, and unlike a weight by the probability of a freak it depends on no parameter, so slopes stay exact.
const SHOWN_SETS: usize = 5;

/// What is known of a record so far.
#[derive(Clone, Debug)]
pub(super) struct Account {
    days: Option<f64>,
    last_session: Option<f64>,
    lifts: Vec<LiftAccount>,
    done_today: Vec<f64>,
    done_on: f64,
}

/// What is known of one lift.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct LiftAccount {
    /// Lead sets read.
    pub(super) exposures: u32,
    /// When it was last read.
    last: Option<f64>,
    /// What its latest sets showed, in no order, and the mean of it without the extremes.
    latest: [f64; SHOWN_SETS],
    pub(super) shown: f64,
    /// Running mean of b·n/(1 + b·n) at what was to be expected.
    pub(super) lean: f64,
}

/// Time that has passed since whatever happened last, and the factors by which things have faded in it that fade as
/// fast in everybody.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Passing {
    pub(super) days: f64,
    pub(super) form: f64,
    pub(super) absence: f64,
    pub(super) check_in: [f64; 3],
}

/// A coming to train, and the days away beyond what costs nothing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Entry {
    pub(super) passing: Passing,
    pub(super) away: f64,
}

/// An event, with all that hangs on no parameter worked out.
#[derive(Clone, Debug)]
pub(super) enum Told {
    /// A check-in, so many days after whatever happened last.
    CheckIn {
        passing: Passing,
        items: [Option<f64>; 3],
    },
    /// The dose that falls on muscles, by their places.
    Work {
        entry: Entry,
        doses: Box<[(usize, f64)]>,
    },
    Lead(LeadTold),
}

/// A lead set.
#[derive(Clone, Copy, Debug)]
pub(super) struct LeadTold {
    pub(super) entry: Entry,
    pub(super) lift: usize,
    /// Days the lift was left out, beyond what makes no difference.
    pub(super) left_out: f64,
    /// How many lead sets of the lift there are now.
    pub(super) exposures: u32,
    /// By how much less it shows for each unit of ln b that its curve is steeper.
    pub(super) lean: f64,
    pub(super) seen: SetMeasurement,
    pub(super) freak: Freak,
}

/// A record prepared for being filtered, with whatever parameters.
#[derive(Clone, Debug)]
pub struct Prepared(Vec<Told>);

impl Prepared {
    /// Of `pooled` curve, freak sets, and the days of form and check-ins count, and nothing else. What can't have
    /// happened is left out.
    #[must_use]
    pub fn new(shape: &Shape, pooled: &Pooled, events: &[Event]) -> Prepared {
        let mut account = Account::new(shape);
        Prepared(events.iter().filter_map(|event| account.hear(shape, pooled, event)).collect())
    }

    pub(super) fn told(&self) -> &[Told] {
        &self.0
    }
}

impl Account {
    /// Of an empty record.
    pub(super) fn new(shape: &Shape) -> Account {
        Account {
            days: None,
            last_session: None,
            lifts: vec![LiftAccount::default(); shape.n_lifts()],
            done_today: vec![0.0; shape.muscles().len()],
            done_on: f64::NEG_INFINITY,
        }
    }

    pub(super) fn lift(&self, lift: usize) -> &LiftAccount {
        &self.lifts[lift]
    }

    /// Takes one event; none if it tells nothing: it can't have happened, the set can't be read, or the
    /// check-in is empty.
    pub(super) fn hear(&mut self, shape: &Shape, pooled: &Pooled, event: &Event) -> Option<Told> {
        if !event.is_possible() {
            return None;
        }
        match *event {
            Event::Lead { lift, set } => {
                let seen = set.measure(pooled.curve()).ok()?;
                Some(Told::Lead(self.lead(pooled, lift, &set, seen)))
            }
            Event::WorkSets { lift, set, seen } => {
                Some(Told::Lead(self.lead(pooled, lift, &set, seen)))
            }
            Event::Work { lift, days, hard_sets } => {
                Some(self.work((shape, pooled), lift, days, hard_sets))
            }
            Event::CheckIn { items, .. } if items.iter().all(Option::is_none) => None,
            Event::CheckIn { days, items } => {
                Some(Told::CheckIn { passing: self.advance(pooled, days), items })
            }
        }
    }

    /// Goes on to a day; no time passes if it isn't later or can't be.
    pub(super) fn advance(&mut self, pooled: &Pooled, days: f64) -> Passing {
        if days.is_nan() || days.abs() > MOST_DAYS {
            return Passing::NONE;
        }
        let then = self.days.unwrap_or(days);
        self.days = Some(then.max(days));
        if days > then { Passing::of(pooled, days - then) } else { Passing::NONE }
    }

    /// A session on a day: on a new one, what was done before is past.
    pub(super) fn enter(&mut self, pooled: &Pooled, days: f64) -> Entry {
        let passing = self.advance(pooled, days);
        let Some(days) = self.days else { return Entry { passing, away: 0.0 } };
        if days.floor() > self.done_on {
            self.done_on = days.floor();
            self.done_today.fill(0.0);
        }
        let away = self.last_session.map_or(0.0, |last| days - last) - Limits::AWAY_DAYS;
        self.last_session = Some(days);
        Entry { passing, away: away.max(0.0) }
    }

    /// Days a lift has been left out, beyond what makes no difference.
    pub(super) fn left_out(&self, lift: usize) -> f64 {
        let last = self.lifts[lift].last.zip(self.days);
        last.map_or(0.0, |(then, now)| (now - then - Limits::AWAY_DAYS).max(0.0))
    }

    pub(super) fn work(
        &mut self,
        (shape, pooled): (&Shape, &Pooled),
        lift: usize,
        days: f64,
        hard_sets: f64,
    ) -> Told {
        let entry = self.enter(pooled, days);
        let dose = |&(place, weight): &(usize, f64)| {
            let before = self.done_today[place];
            let after = before + weight * hard_sets;
            self.done_today[place] = after;
            (place, if before > 0.0 { push(after) - push(before) } else { push(after) })
        };
        Told::Work { entry, doses: shape.lift(lift).muscles.iter().map(dose).collect() }
    }

    fn lead(
        &mut self,
        pooled: &Pooled,
        lift: usize,
        set: &LeadSet,
        seen: SetMeasurement,
    ) -> LeadTold {
        let entry = self.enter(pooled, set.days);
        let left_out = self.left_out(lift);
        let days = self.days;
        let of_lift = &mut self.lifts[lift];
        let lean = of_lift.lean_for(pooled, set.moved_kg, seen.reps_to_failure);
        of_lift.note_shown(seen.log_one_rm);
        of_lift.last = days;
        let part = f64::from(of_lift.exposures).recip().max(LEAN_PART);
        of_lift.lean += part * (lean - of_lift.lean);
        let exposures = of_lift.exposures;
        LeadTold { entry, lift, left_out, exposures, lean, seen, freak: pooled.freak_of(set) }
    }
}

impl Passing {
    /// No time.
    const NONE: Passing = Passing { days: 0.0, form: 1.0, absence: 1.0, check_in: [1.0; 3] };

    fn of(pooled: &Pooled, days: f64) -> Passing {
        Passing {
            days,
            form: fading(days, pooled.form_days),
            absence: fading(days, REGAIN_DAYS),
            check_in: pooled.check_in_days.map(|of_item| fading(days, of_item)),
        }
    }
}

impl LiftAccount {
    /// b·ñ/(1 + b·ñ) at a mass moved, ñ being what was to be expected at this load and not what was done, so
    /// that luck in repetitions can't pass for a curve; for the first set `first` repetitions to failure.
    pub(super) fn lean_for(&self, pooled: &Pooled, moved_kg: f64, first: f64) -> f64 {
        let b = pooled.curve_b.middle;
        match self.exposures {
            0 => lean_after(b, first),
            _ => lean_at(b, self.shown, moved_kg),
        }
    }

    /// Takes what one more set showed.
    fn note_shown(&mut self, log_one_rm: f64) {
        self.latest[self.exposures as usize % SHOWN_SETS] = log_one_rm;
        self.exposures += 1;
        let known = &self.latest[..SHOWN_SETS.min(self.exposures as usize)];
        let (mut n, mut sum) = (known.len(), known.iter().sum::<f64>());
        if n >= 3 {
            let lowest = known.iter().copied().fold(f64::INFINITY, f64::min);
            sum -= lowest + known.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            n -= 2;
        }
        self.shown = sum / n as f64;
    }
}

/// b·ñ/(1 + b·ñ) at a mass moved, ñ being the repetitions to failure that were to be expected of a lift
/// whose sets showed this ln 1RM.
pub(super) fn lean_at(b: f64, usual_shown: f64, moved_kg: f64) -> f64 {
    lean_after(b, (usual_shown.exp() / moved_kg - 1.0) / b)
}

/// b·n/(1 + b·n), for as many repetitions as can be read.
fn lean_after(b: f64, reps_to_failure: f64) -> f64 {
    let n = reps_to_failure.clamp(0.0, MAX_REPS_TO_FAILURE_READ);
    b * n / (1.0 + b * n)
}

/// f: what hard sets of a muscle on one day push it down by, the first set counting 1. Concave:
/// log(1 + n)/log 2.
fn push(hard_sets: f64) -> f64 {
    hard_sets.ln_1p() / std::f64::consts::LN_2
}
