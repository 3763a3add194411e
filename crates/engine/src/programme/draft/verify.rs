//! A finished week added up again, in whole numbers, by code that doesn't know how it was found.
//!
//! It takes the programme as it would be written to a file, looks the lifts up in the catalogue, and adds up
//! sets, seconds and doses from there. It shares the wishes, the table of points and the estimate of minutes
//! with whoever drafted the week, and nothing else.

use std::collections::BTreeMap;

use domain::{Lift, LiftName, Muscle, PlannedLift, Programme};
use jiff::civil::Weekday;

use super::model::{ALIKE, HINGE_MOST_DAYS, MOST_DAYS};
use super::slots::slot_of;
use super::wishes::{DayWish, Wishes};
use super::worth::{
    GAUGE_DAY, Kept, LIFT_DAY, LOADED, Milli, ONE_SIDED, PREFERRED, RAISED_LEAST, SESSION_MOST,
    UNUSUAL_DAY, Worth, milli, of_raised,
};
use crate::programme::check::Ground;
use crate::programme::check::order::{is_heavy_hinge, is_heavy_on_back};
use crate::programme::dose::is_hard;
use crate::programme::joints::{PLAIN, weight};
use crate::programme::minutes::session_seconds;
use crate::programme::swap::{is_at_hand, likeness};
use crate::programme::week::Slot;

/// A wish or a limit that a week doesn't keep to, in words.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Breach {
    /// What it is.
    pub words: String,
}

/// A week added up.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Reckoning {
    /// What it doesn't keep to; a drafted week has none.
    pub breaches: Vec<Breach>,
    /// Its worth in points, for comparison with other weeks for the same wishes.
    pub points: i64,
}

/// Adds a week up against the wishes.
#[must_use]
pub fn verify(programme: &Programme, wishes: &Wishes, ground: &Ground<'_>) -> Reckoning {
    Verifier::new(wishes, *ground).reckon(programme)
}

/// Wishes with the lifts that they name looked up, to add up several weeks against them.
#[derive(Clone, Debug)]
pub struct Verifier<'a> {
    wishes: &'a Wishes,
    ground: Ground<'a>,
    raised: Vec<&'a Lift>,
    preferred: Vec<&'a Lift>,
    refused: Vec<&'a Lift>,
    /// Weekday, lift and sets of the present week.
    present: Vec<(Weekday, &'a Lift, u8)>,
    worth: Vec<Worth>,
}

impl<'a> Verifier<'a> {
    /// Looks the lifts of the wishes up; leaves out those that the catalogue doesn't know.
    #[must_use]
    pub fn new(wishes: &'a Wishes, ground: Ground<'a>) -> Verifier<'a> {
        let catalogue = ground.catalogue;
        let find = |names: &[LiftName]| -> Vec<&'a Lift> {
            names.iter().filter_map(|name| catalogue.find(name)).collect()
        };
        let mut present = Vec::new();
        for day in wishes.present.iter().flat_map(Programme::days) {
            for planned in day.lifts() {
                let lift = catalogue.find(planned.lift());
                present.extend(lift.map(|lift| (day.weekday(), lift, planned.sets())));
            }
        }
        let mut raised = find(&wishes.purpose.raise);
        raised.sort_by_key(|lift| lift.name.clone());
        raised.dedup_by_key(|lift| lift.name.clone());
        let (preferred, refused) = (find(&wishes.prefer), find(&wishes.purpose.refuse));
        let worth = |m: &Muscle| Worth::of(wishes.range(*m), wishes.priority(*m));
        let worth = Muscle::ALL.iter().map(worth).collect();
        Verifier { wishes, ground, raised, preferred, refused, present, worth }
    }

    /// Adds a week up.
    #[must_use]
    pub fn reckon(&self, programme: &Programme) -> Reckoning {
        let days = look_up(programme, self.wishes, &self.ground);
        let mut sum = Reckoning { breaches: Vec::new(), points: 0 };
        let (got, wanted) = (programme.days().len(), self.wishes.days.len());
        if days.len() != wanted || got != wanted {
            sum.breach(format!("{got} days, and {wanted} are wanted"));
        }
        for day in &days {
            self.add_day(day, &mut sum);
        }
        self.add_lifts(&days, &mut sum);
        let doses = Doses::of(&days);
        for muscle in Muscle::ALL {
            self.add_muscle(*muscle, &days, &doses, &mut sum);
        }
        sum.add_balance(&doses);
        sum
    }

    fn is_raised(&self, lift: &Lift) -> bool {
        has(&self.raised, lift)
    }

    /// On how many days of the present week a lift stands.
    fn days_now(&self, lift: &Lift) -> i64 {
        let stands = self.present.iter().filter(|(_, other, _)| other.name == lift.name);
        let mut days: Vec<Weekday> = stands.map(|(day, ..)| *day).collect();
        days.dedup();
        days.len() as i64 // at most seven
    }

    fn is_present(&self, lift: &Lift) -> bool {
        self.present.iter().any(|(_, other, _)| other.name == lift.name)
    }
}

fn has(lifts: &[&Lift], lift: &Lift) -> bool {
    lifts.iter().any(|other| other.name == lift.name)
}

/// One day with its lifts looked up.
struct DayLook<'a> {
    wish: &'a DayWish,
    lifts: Vec<(&'a Lift, &'a PlannedLift, bool)>,
}

impl DayLook<'_> {
    fn slots(&self) -> Vec<Slot<'_>> {
        self.lifts.iter().map(|(lift, planned, _)| slot_of(lift, planned)).collect()
    }
}

/// The days as wished and found; the last of each three says whether the lift is fixed.
fn look_up<'a>(
    programme: &'a Programme,
    wishes: &'a Wishes,
    ground: &Ground<'a>,
) -> Vec<DayLook<'a>> {
    let mut looks = Vec::new();
    for day in programme.days() {
        let Some(wish) = wishes.days.iter().find(|wish| wish.weekday == day.weekday()) else {
            continue;
        };
        let mut pinned: Vec<&PlannedLift> = wish.pinned.iter().collect();
        let mut lifts = Vec::new();
        for planned in day.lifts() {
            let fixed = pinned.iter().position(|pin| *pin == planned);
            fixed.map(|at| pinned.remove(at));
            if let Some(lift) = ground.catalogue.find(planned.lift()) {
                lifts.push((lift, planned, fixed.is_some()));
            }
        }
        looks.push(DayLook { wish, lifts });
    }
    looks
}

/// Thousandths of a hard set by day and muscle, and those of prime movers in the week.
struct Doses {
    days: Vec<[Milli; Muscle::ALL.len()]>,
    direct: [Milli; Muscle::ALL.len()],
}

impl Doses {
    fn of(days: &[DayLook<'_>]) -> Doses {
        let none = [0; Muscle::ALL.len()];
        let mut doses = Doses { days: vec![none; days.len()], direct: none };
        for (day, dose) in days.iter().zip(&mut doses.days) {
            for (lift, planned, _) in
                day.lifts.iter().filter(|(_, planned, _)| is_hard(planned.rir()))
            {
                for part in &lift.muscles {
                    let more = milli(part.get()) * Milli::from(planned.sets());
                    dose[part.muscle as usize] += more;
                    doses.direct[part.muscle as usize] += if part.is_prime() { more } else { 0 };
                }
            }
        }
        doses
    }

    fn on(&self, day: usize, muscle: Muscle) -> Milli {
        self.days[day][muscle as usize]
    }

    fn week(&self, muscle: Muscle) -> Milli {
        (0..self.days.len()).map(|day| self.on(day, muscle)).sum()
    }
}

impl Reckoning {
    fn breach(&mut self, words: String) {
        self.breaches.push(Breach { words });
    }

    fn add_balance(&mut self, doses: &Doses) {
        use Muscle as M;
        let sides: [(&[M], &[M]); 2] = [
            (&[M::Chest, M::FrontDelts], &[M::Lats, M::UpperBack]),
            (&[M::Quadriceps], &[M::Hamstrings]),
        ];
        let total = |muscles: &[M]| muscles.iter().map(|m| doses.week(*m)).sum::<Milli>();
        for (one, other) in sides.map(|(one, other)| (total(one), total(other))) {
            self.points += ONE_SIDED * ((one - 2 * other).max(0) + (other - 2 * one).max(0));
        }
    }
}

impl Verifier<'_> {
    fn add_day(&self, day: &DayLook<'_>, sum: &mut Reckoning) {
        let name = day.wish.name();
        let seconds = session_seconds(&day.slots());
        if seconds > day.wish.seconds() {
            sum.breach(format!("{name}: {seconds} seconds, and there are {}", day.wish.seconds()));
        }
        if day.lifts.len() > usize::from(self.wishes.most_lifts()) {
            sum.breach(format!("{name}: {} lifts", day.lifts.len()));
        }
        let fixed = day.lifts.iter().filter(|(.., pinned)| *pinned).count();
        if fixed < day.wish.pinned.len() {
            sum.breach(format!("{name}: not all fixed lifts are there"));
        }
        for (at, (lift, planned, pinned)) in day.lifts.iter().enumerate() {
            self.add_lift(name, lift, sum);
            for (other, _, also_pinned) in &day.lifts[..at] {
                let both_raised = self.is_raised(lift) && self.is_raised(other);
                let heavy = is_heavy_on_back(lift) && is_heavy_on_back(other);
                let twice = lift.name == other.name;
                let alike = twice || !both_raised && (heavy || likeness(lift, other) >= ALIKE);
                if alike && !(*pinned && *also_pinned) {
                    sum.breach(format!("{name}: `{}` beside `{}`", lift.name, other.name));
                }
            }
            if !pinned {
                sum.points += LIFT_DAY + self.points_on(day, lift, planned);
            }
        }
        if day.lifts.iter().any(|(lift, ..)| self.ground.is_gauge(lift)) {
            sum.points += GAUGE_DAY;
        }
    }

    fn add_lift(&self, day: &str, lift: &Lift, sum: &mut Reckoning) {
        let purpose = &self.wishes.purpose;
        if !is_at_hand(lift, purpose) {
            sum.breach(format!("{day}: nothing to do `{}` with", lift.name));
        }
        for joint in purpose.spare.iter().filter(|joint| weight(lift, **joint) >= PLAIN) {
            sum.breach(format!("{day}: `{}` loads the {}", lift.name, joint.label()));
        }
        if has(&self.refused, lift) {
            sum.breach(format!("{day}: `{}` is refused", lift.name));
        }
    }

    /// Points for a lift on its day: kept from the present week, preferred, or unusual.
    fn points_on(&self, day: &DayLook<'_>, lift: &Lift, planned: &PlannedLift) -> i64 {
        let kept = Kept::of(self.wishes.keep);
        let preferred = has(&self.preferred, lift);
        let asked = preferred || self.is_raised(lift) || self.is_present(lift);
        let mut points = if preferred { PREFERRED.1 } else { 0 };
        points += if lift.staple || asked { 0 } else { UNUSUAL_DAY };
        let that_day = self
            .present
            .iter()
            .find(|(weekday, other, _)| *weekday == day.wish.weekday && other.name == lift.name);
        if let Some((.., sets)) = that_day {
            points += kept.day + kept.set * i64::from(planned.sets().min(*sets));
        }
        points
    }

    /// Days and sets of each lift over the week.
    fn add_lifts(&self, days: &[DayLook<'_>], sum: &mut Reckoning) {
        let kept = Kept::of(self.wishes.keep);
        let mut lifts: BTreeMap<&str, Over<'_>> = BTreeMap::new();
        for day in days {
            let mut on_day: Vec<&str> = Vec::new();
            for (lift, planned, pinned) in &day.lifts {
                let name = lift.name.as_str();
                let over =
                    lifts.entry(name).or_insert(Over { lift, days: 0, sets: 0, fixed: true });
                over.days += i64::from(!on_day.contains(&name));
                over.sets += i64::from(planned.sets());
                over.fixed &= pinned;
                on_day.push(name);
            }
        }
        for (name, over) in lifts.iter().filter(|(_, over)| !over.fixed) {
            let most = match (self.is_raised(over.lift), is_heavy_hinge(over.lift)) {
                (true, true) => HINGE_MOST_DAYS.max(self.days_now(over.lift).min(MOST_DAYS.1)),
                (true, false) => MOST_DAYS.1,
                (false, _) => MOST_DAYS.0,
            };
            if over.days > most {
                sum.breach(format!("`{name}` on {} days", over.days));
            }
            sum.points += if has(&self.preferred, over.lift) { PREFERRED.0 } else { 0 };
            sum.points += if self.is_present(over.lift) { kept.lift } else { 0 };
        }
        for lift in &self.raised {
            let sets = lifts.get(lift.name.as_str()).map_or(0, |over| over.sets);
            sum.points += of_raised(sets);
            if sets < RAISED_LEAST {
                sum.breach(format!("`{}` is to go up and has {sets} sets", lift.name));
            }
        }
    }

    fn add_muscle(&self, muscle: Muscle, days: &[DayLook<'_>], doses: &Doses, sum: &mut Reckoning) {
        let sessions = || (0..days.len()).map(|day| doses.on(day, muscle));
        let direct = doses.direct[muscle as usize];
        sum.points += self.worth[muscle as usize].value(doses.week(muscle), direct, sessions());
        for (from, day) in days.iter().enumerate() {
            let dose = doses.on(from, muscle);
            let name = day.wish.name();
            let mut free = day.lifts.iter().filter(|(.., pinned)| !pinned);
            if dose > SESSION_MOST && free.any(|(lift, ..)| lift.weight_of(muscle) > 0.0) {
                sum.breach(format!("{name}: {dose} thousandths for {}", muscle.label()));
            }
            let later = (0..days.len()).filter(|to| *to != from && doses.on(*to, muscle) >= LOADED);
            for to in later.filter(|_| self.wishes.mind_hours() && dose >= LOADED) {
                let offset = |at: usize| i32::from(days[at].wish.weekday.to_monday_zero_offset());
                let hours = 24 * (offset(to) - offset(from)).rem_euclid(7);
                let needed = self.ground.hours.needed(muscle, dose as f64 / 1000.0);
                if needed > f64::from(hours) {
                    let (muscle, next) = (muscle.label(), days[to].wish.name());
                    sum.breach(format!(
                        "{name}: {muscle} needs {needed:.0} hours, and {next} follows after {hours}"
                    ));
                }
            }
        }
    }
}

/// A lift over the week.
struct Over<'a> {
    lift: &'a Lift,
    days: i64,
    sets: i64,
    /// Whether it stands only where it is fixed.
    fixed: bool,
}
