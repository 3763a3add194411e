//! Cures made: a change of a programme after which a finding is gone and nothing worse has come.
//!
//! Small changes are tried in the order in which a coach would think of them, and each is held against the
//! whole check again. A cure that only moves the trouble elsewhere is none.

use domain::programme::WaveWeek;
use domain::{Lift, LiftName, Muscle, PlannedLift, Programme, ProgrammeDay, Progression};
use jiff::civil::Weekday;

use super::check::{About, Finding, Ground, check};
use super::draft::slots::begins_with;
use super::swap::{in_the_place_of, likeness, may_be_taken};
use super::week::Week;
use crate::programme::check::lifts::is_named;
use crate::programme::check::order::is_heavy_on_back;

/// The most sets that a cure gives a lift on a day, and adds or takes in all. Our choice.
const MOST_SETS: u8 = 6;
const MOST_STEPS: usize = 12;
/// How many lifts are tried in another's place, and how alike they must train. Our choice.
const STAND_INS: usize = 6;
const LIKE_ENOUGH: f64 = 0.3;

/// A change that cures a finding.
#[derive(Clone, Debug, PartialEq)]
pub struct Mend {
    /// The programme after it.
    pub programme: Programme,
    /// What is changed, in words.
    pub words: String,
}

/// A change of the programme after which a finding of its week (the first being 0) is gone, and none has come that
/// asks as much for a change; none if no small change does it. One that brings no finding at all comes first.
#[must_use]
pub fn mend(
    programme: &Programme,
    week: usize,
    finding: &Finding,
    ground: &Ground<'_>,
) -> Option<Mend> {
    let before = Week::of(programme, ground.catalogue, week).ok()?;
    let before = check(&before, ground);
    let tried = Tried { programme, ground, day: day_of(programme, finding) };
    let mut second: Option<(super::Urgency, Programme)> = None;
    for candidate in tried.candidates(&finding.about) {
        let Some(changed) = candidate.programme(programme) else { continue };
        let Ok(after) = Week::of(&changed, ground.catalogue, week) else { continue };
        let after = check(&after, ground);
        if after.iter().any(|one| one.is_like(finding)) {
            continue;
        }
        // One that was there and asks more for a change now, or is plainly further off, counts as new.
        let was_there = |one: &Finding| {
            let no_worse = |old: &Finding| old.urgency <= one.urgency && one.size < 1.05 * old.size;
            before.iter().any(|old| old.is_like(one) && no_worse(old))
        };
        let new: Vec<&Finding> = after.iter().filter(|one| !was_there(one)).collect();
        if new.is_empty() {
            return Some(Mend { words: difference(programme, &changed), programme: changed });
        }
        // Then the one whose worst new finding asks least for a change, and less than what it cures.
        let worst = new.iter().map(|one| one.urgency).min().unwrap_or(finding.urgency);
        if worst > finding.urgency && second.as_ref().is_none_or(|(least, _)| worst > *least) {
            second = Some((worst, changed));
        }
    }
    second.map(|(_, changed)| Mend { words: difference(programme, &changed), programme: changed })
}

fn day_of(programme: &Programme, finding: &Finding) -> Option<usize> {
    let name = |day: &ProgrammeDay| domain::programme::weekday_name(day.weekday());
    programme.days().iter().position(|day| name(day) == finding.place)
}

/// The days of a programme while they are changed.
#[derive(Clone, Debug)]
struct Days(Vec<(Weekday, Option<u16>, Vec<PlannedLift>)>);

impl Days {
    fn of(programme: &Programme) -> Days {
        let day = |day: &ProgrammeDay| (day.weekday(), day.minutes(), day.lifts().to_vec());
        Days(programme.days().iter().map(day).collect())
    }

    /// The programme with these days; none if it can't be, such as with an empty day.
    fn programme(self, of: &Programme) -> Option<Programme> {
        let days =
            self.0.into_iter().map(|(day, minutes, lifts)| ProgrammeDay::new(day, minutes, lifts));
        let days = days.collect::<Result<_, _>>().ok()?;
        Programme::new(of.name.clone(), of.note.clone(), of.purpose.clone(), days).ok()
    }

    /// A set more or less; a lift without sets is dropped. Nothing if that can't be.
    fn change_sets(&mut self, (day, place): (usize, usize), by: i8) -> Option<()> {
        let lifts = &mut self.0[day].2;
        let sets = lifts[place].sets().checked_add_signed(by)?;
        if sets == 0 {
            lifts.remove(place);
        } else {
            lifts[place] = with_sets(&lifts[place], by)?;
        }
        Some(())
    }

    fn move_lift(&mut self, day: usize, from: usize, to: usize) {
        let lift = self.0[day].2.remove(from);
        self.0[day].2.insert(to, lift);
    }
}

struct Tried<'a> {
    programme: &'a Programme,
    ground: &'a Ground<'a>,
    /// The place of the finding's day.
    day: Option<usize>,
}

impl<'a> Tried<'a> {
    fn candidates(&self, about: &About) -> Vec<Days> {
        match about {
            About::TooLittle(muscle) => {
                let mut all = self.more_sets(&[*muscle]);
                all.extend(self.another_lift(*muscle));
                all
            }
            About::TooMuch(muscle) => self.fewer_sets(&[*muscle], None),
            About::TooMuchAtOnce(muscle) => self.fewer_sets(&[*muscle], self.day),
            About::TooLong => self.shorter(),
            About::OneSided(more, less) => {
                let mut all = self.more_sets(less);
                all.extend(less.iter().flat_map(|muscle| self.another_lift(*muscle)));
                all.extend(self.fewer_sets(more, None));
                all
            }
            About::NotAtHand(name) | About::Refused(name) | About::Spared(name, _) => {
                self.stand_ins(name)
            }
            About::Untrained(name) => self.first_on_a_day(name),
            About::HardlyTrained(name) => {
                let is_it = |lift: &Lift| is_named(lift, name);
                self.step_by_step(1, |days| self.least_of(days, &is_it))
            }
            About::NoEarlyGauge => self.moved(|lift| self.ground.is_gauge(lift), 0),
            About::LateExplosive => self.moved(|lift| lift.explosive, 0),
            About::BackAfterBack => self.kept_apart(),
            About::LateRaised => self.raised_earlier(),
            About::TooSoon(muscle) => self.fewer_sets(&[*muscle], self.day),
        }
    }

    fn find(&self, planned: &PlannedLift) -> Option<&'a Lift> {
        self.ground.catalogue.find(planned.lift())
    }

    fn is_raised(&self, lift: &Lift) -> bool {
        self.programme.purpose.raise.iter().any(|name| is_named(lift, name))
    }

    fn may_be_taken(&self, lift: &Lift) -> bool {
        may_be_taken(lift, &self.programme.purpose) && !lift.explosive
    }

    /// Every place with its lift and sets.
    fn places(&self, days: &Days) -> Vec<((usize, usize), &'a Lift, u8)> {
        let all = days.0.iter().enumerate().flat_map(|(day, (_, _, lifts))| {
            lifts.iter().enumerate().map(move |(place, lift)| ((day, place), lift))
        });
        all.filter_map(|(at, planned)| Some((at, self.find(planned)?, planned.sets()))).collect()
    }

    /// Sets added or taken one by one, at the place that `pick` names each time.
    fn step_by_step(&self, by: i8, pick: impl Fn(&Days) -> Option<(usize, usize)>) -> Vec<Days> {
        let mut days = Days::of(self.programme);
        let mut all = Vec::new();
        while all.len() < MOST_STEPS
            && let Some(at) = pick(&days)
            && days.change_sets(at, by).is_some()
        {
            all.push(days.clone());
        }
        all
    }

    /// The place with the fewest sets of such a lift, of those that may have one more.
    fn least_of(&self, days: &Days, is_it: &dyn Fn(&Lift) -> bool) -> Option<(usize, usize)> {
        let places = self.places(days).into_iter();
        let fit = places.filter(|(_, lift, sets)| is_it(lift) && *sets < MOST_SETS);
        fit.min_by_key(|(at, _, sets)| (*sets, *at)).map(|(at, ..)| at)
    }

    fn more_sets(&self, muscles: &[Muscle]) -> Vec<Days> {
        let trains = |lift: &Lift| {
            muscles.iter().any(|muscle| lift.has_prime_mover(*muscle)) && self.may_be_taken(lift)
        };
        self.step_by_step(1, |days| self.least_of(days, &trains))
    }

    /// Sets taken from lifts that train these muscles, those last that are to go up; on one day if one is named. At
    /// least half of them stay: a change that takes most of a day away is no small one.
    fn fewer_sets(&self, muscles: &[Muscle], only: Option<usize>) -> Vec<Days> {
        let trains = |lift: &Lift| muscles.iter().any(|m| lift.has_prime_mover(*m));
        let fit = |days: &Days| {
            let mut places = self.places(days);
            places
                .retain(|((day, _), lift, _)| trains(lift) && only.is_none_or(|only| only == *day));
            places
        };
        let before: usize =
            fit(&Days::of(self.programme)).iter().map(|(.., sets)| usize::from(*sets)).sum();
        let mut all = self.step_by_step(-1, |days| {
            let most = fit(days)
                .into_iter()
                .max_by_key(|(at, lift, sets)| (!self.is_raised(lift), *sets, *at));
            most.map(|(at, ..)| at)
        });
        all.truncate(before / 2);
        all
    }

    /// A lift more for a muscle, on each day: the ones that do little else first.
    fn another_lift(&self, muscle: Muscle) -> Vec<Days> {
        let known = self.ground.catalogue.lifts().iter();
        let mut lifts: Vec<&Lift> = known
            .filter(|lift| lift.has_prime_mover(muscle) && lift.staple && self.may_be_taken(lift))
            .collect();
        lifts.sort_by_key(|lift| {
            (lift.muscles.iter().filter(|m| m.is_prime()).count(), lift.muscles.len())
        });
        let mut all = Vec::new();
        for lift in lifts.into_iter().take(STAND_INS) {
            for sets in [3, 5] {
                for day in 0..self.programme.days().len() {
                    let mut days = Days::of(self.programme);
                    days.0[day].2.push(begins_with(lift, false, sets));
                    all.push(days);
                }
            }
        }
        all
    }

    /// A day made shorter: sets taken from its last lifts, then whole lifts.
    fn shorter(&self) -> Vec<Days> {
        let Some(day) = self.day else { return Vec::new() };
        self.step_by_step(-1, |days| {
            let places = self.places(days);
            let here = || places.iter().rev().filter(|((on, _), ..)| *on == day);
            let plain = |lift: &Lift| !self.is_raised(lift);
            let long = here().find(|(_, lift, sets)| plain(lift) && *sets > 2);
            let short = || here().find(|(_, lift, _)| plain(lift));
            long.or_else(short).map(|(at, ..)| *at)
        })
    }

    /// Other lifts in the place of one, the most alike first; and then without it.
    fn stand_ins(&self, name: &LiftName) -> Vec<Days> {
        let (Some(day), Some(lift)) = (self.day, self.ground.catalogue.find(name)) else {
            return Vec::new();
        };
        let there = self.programme.days()[day].lifts();
        let is_there = |other: &Lift| there.iter().any(|one| is_named(other, one.lift()));
        let purpose = &self.programme.purpose;
        let known = self.ground.catalogue.lifts().iter();
        let mut others: Vec<(f64, &Lift)> = known
            .filter(|other| other.explosive == lift.explosive && !is_there(other))
            .filter(|other| may_be_taken(other, purpose))
            .map(|other| (likeness(lift, other), other))
            .filter(|(alike, _)| *alike >= LIKE_ENOUGH)
            .collect();
        others.sort_by(|a, b| b.0.total_cmp(&a.0)); // stable: the catalogue's order of equals
        let mut all = Vec::new();
        for other in others.into_iter().take(STAND_INS).map(|(_, other)| Some(other)).chain([None])
        {
            let mut days = Days::of(self.programme);
            let lifts = &mut days.0[day].2;
            for planned in lifts.iter_mut().filter(|planned| is_named(lift, planned.lift())) {
                if let Some(other) = other {
                    *planned = in_the_place_of(planned, lift, other);
                }
            }
            if other.is_none() {
                lifts.retain(|planned| !is_named(lift, planned.lift()));
            }
            all.push(days);
        }
        all
    }

    fn first_on_a_day(&self, name: &LiftName) -> Vec<Days> {
        let Some(lift) = self.ground.catalogue.find(name) else { return Vec::new() };
        let put = |day: usize| {
            let mut days = Days::of(self.programme);
            days.0[day].2.insert(0, begins_with(lift, true, 3));
            days
        };
        (0..self.programme.days().len()).map(put).collect()
    }

    /// Such a lift of the finding's day, from behind its place to `to`.
    fn moved(&self, is_it: impl Fn(&Lift) -> bool, to: usize) -> Vec<Days> {
        let Some(day) = self.day else { return Vec::new() };
        let lifts = self.programme.days()[day].lifts();
        let places =
            (to + 1..lifts.len()).filter(|place| self.find(&lifts[*place]).is_some_and(&is_it));
        let moved = |place: usize| {
            let mut days = Days::of(self.programme);
            days.move_lift(day, place, to);
            days
        };
        places.map(moved).collect()
    }

    /// Every way to move one lift of the day that loads the back heavily, or to put another between.
    fn kept_apart(&self) -> Vec<Days> {
        let Some(day) = self.day else { return Vec::new() };
        let lifts = self.programme.days()[day].lifts();
        let heavy: Vec<bool> =
            lifts.iter().map(|one| self.find(one).is_some_and(is_heavy_on_back)).collect();
        let mut all = Vec::new();
        for (from, to) in (0..lifts.len()).flat_map(|a| (0..lifts.len()).map(move |b| (a, b))) {
            // A light lift moved up between them is a smaller change than a heavy one moved away.
            if from != to {
                let mut days = Days::of(self.programme);
                days.move_lift(day, from, to);
                all.push((heavy[from], from.abs_diff(to), days));
            }
        }
        all.sort_by_key(|(is_heavy, far, _)| (*is_heavy, *far));
        all.into_iter().map(|(.., days)| days).collect()
    }

    fn raised_earlier(&self) -> Vec<Days> {
        let Some(day) = self.day else { return Vec::new() };
        let lifts = self.programme.days()[day].lifts();
        let is_raised = |one: &PlannedLift| self.find(one).is_some_and(|lift| self.is_raised(lift));
        let Some(from) = lifts.iter().position(is_raised) else { return Vec::new() };
        let moved = |to: usize| {
            let mut days = Days::of(self.programme);
            days.move_lift(day, from, to);
            days
        };
        (0..from).rev().map(moved).collect()
    }
}

/// The same lift with more or fewer sets; a wave has them in every week, but never fewer than one.
fn with_sets(planned: &PlannedLift, by: i8) -> Option<PlannedLift> {
    let (lift, rir, rest) = (planned.lift().clone(), planned.rir(), planned.rest_seconds());
    let changed = |sets: u8| sets.checked_add_signed(by).filter(|sets| *sets > 0);
    match planned.progression() {
        Progression::Wave { weeks } => {
            let week = |week: &WaveWeek| {
                let sets = changed(week.sets()).unwrap_or(1);
                WaveWeek::new(sets, week.reps(), week.share()).ok()
            };
            let weeks = weeks.iter().map(week).collect::<Option<Vec<_>>>()?;
            PlannedLift::wave(lift, weeks, rir, rest).ok()
        }
        progression => {
            let progression = match progression {
                Progression::RepGoal { total, step } => {
                    let sets = u32::from(planned.sets());
                    let now = sets.checked_add_signed(by.into())?;
                    let total = (u32::from(*total) * now).div_ceil(sets);
                    Progression::RepGoal { total: u16::try_from(total).ok()?, step: *step }
                }
                other => other.clone(),
            };
            let sets = changed(planned.sets())?;
            PlannedLift::new(lift, sets, planned.reps(), rir, rest, progression).ok()
        }
    }
}

/// What differs between two programmes with the same days, in words.
fn difference(before: &Programme, after: &Programme) -> String {
    let mut all: Vec<String> = Vec::new();
    for (old, new) in before.days().iter().zip(after.days()) {
        let words = day_difference(old.lifts(), new.lifts());
        if !words.is_empty() {
            let day = domain::programme::weekday_name(old.weekday());
            all.push(format!("{day}: {}", words.join(", ")));
        }
    }
    all.join("; ")
}

fn day_difference(old: &[PlannedLift], new: &[PlannedLift]) -> Vec<String> {
    let there =
        |one: &PlannedLift, list: &[PlannedLift]| list.iter().any(|p| p.lift() == one.lift());
    let mut words = Vec::new();
    let gone: Vec<&PlannedLift> = old.iter().filter(|one| !there(one, new)).collect();
    let come: Vec<&PlannedLift> = new.iter().filter(|one| !there(one, old)).collect();
    for (idx, one) in come.iter().enumerate() {
        words.push(match gone.get(idx) {
            Some(other) => format!("`{}` in the place of `{}`", one.lift(), other.lift()),
            None if new.first() == Some(one) => {
                format!("{} of `{}` first", sets(one.sets()), one.lift())
            }
            None => format!("{} of `{}` more", sets(one.sets()), one.lift()),
        });
    }
    words.extend(gone.iter().skip(come.len()).map(|one| format!("without `{}`", one.lift())));
    for one in new {
        let Some(before) = old.iter().find(|other| other.lift() == one.lift()) else { continue };
        if before.sets() != one.sets() {
            words.push(format!(
                "{} of `{}` instead of {}",
                sets(one.sets()),
                one.lift(),
                before.sets()
            ));
        }
    }
    if words.is_empty() && old != new {
        let order: Vec<String> = new.iter().map(|one| format!("`{}`", one.lift())).collect();
        words.push(format!("in this order: {}", order.join(", ")));
    }
    words
}

fn sets(sets: u8) -> String {
    if sets == 1 { "1 set".to_owned() } else { format!("{sets} sets") }
}
