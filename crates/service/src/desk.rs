//! The desk: all lifters, one lifter, a card, one reading.
//!
//! Reading a lifter's whole record takes a moment, so the last reading of each lifter is held in memory
//! ([`People`]). Fits that were made for it are kept in the store, for the next start.

use std::convert::Infallible;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use domain::{Lift, Lifter, LifterName, Limits};
use engine::complaint::{PainVerdict, verdict};
use engine::recovery::MODEL_VERSION;
use jiff::Timestamp;
use jiff::civil::Date;
use store::Store;

use crate::ServiceError;
use crate::demo;
use crate::dose::to_come::{dose_lines, next_sessions};
use crate::floor::Allowance;
use crate::joints::stops::Stops;
use crate::lift::view::{Extent, lift_view};
use crate::lifter::muscles::muscles_view;
use crate::parallel::at_once;
use crate::record::history::{History, LiftHistory};
use crate::record::inputs::to_keep;
use crate::record::person::Person;
use crate::session::card;
use crate::session::next_lead::call_word;
use crate::squad::readings::People;
use crate::view::{CallWord, CardView, CheckInLine, LifterLine, LifterView, SquadView};
use crate::words;

/// Everything that a coach can look at, on one store.
pub struct Desk {
    store: Store,
    people: People,
    threads: usize,
    clock: Option<fn() -> Timestamp>,
    /// What phones have sent today.
    pub(crate) allowance: Allowance,
    reads_nobody_more: AtomicBool,
}

impl Desk {
    /// A desk on `store`.
    #[must_use]
    pub fn new(store: Store) -> Desk {
        Desk {
            store,
            people: People::default(),
            threads: 1,
            clock: None,
            allowance: Allowance::default(),
            reads_nobody_more: AtomicBool::new(false),
        }
    }

    /// The same desk, reading this many lifters at once where many are asked for.
    #[must_use]
    pub fn with_threads(self, threads: usize) -> Desk {
        Desk { threads: threads.max(1), ..self }
    }

    /// The same desk, keeping in the store what fits it makes; `clock` tells the moment to write beside
    /// them. Where nothing can be written, nothing is kept.
    #[must_use]
    pub fn keeping_fits(self, clock: fn() -> Timestamp) -> Desk {
        Desk { clock: Some(clock), ..self }
    }

    /// The store under the desk.
    #[must_use]
    pub fn store(&self) -> &Store {
        &self.store
    }

    /// All lifters, most urgent first.
    ///
    /// # Errors
    /// The store has trouble, or a lift file on record can't be read.
    pub fn squad(&self, today: Date) -> Result<SquadView, ServiceError> {
        self.squad_telling(today, &mut |_, _| {})
    }

    /// [`Desk::squad`], telling how many lifters have been read, of how many.
    ///
    /// # Errors
    /// As [`Desk::squad`].
    pub fn squad_telling(
        &self,
        today: Date,
        progress: &mut dyn FnMut(usize, usize),
    ) -> Result<SquadView, ServiceError> {
        self.read_everybody(self.threads, progress)?;
        self.squad_of(today, true)
    }

    /// All lifters as [`Desk::squad`] has them, as far as they have been read: whoever hasn't been since
    /// the desk was opened, or since something changed on which all readings rest, is named in
    /// [`SquadView::unread`]. Reads on from earlier readings, a few at most, and no other record, so it takes a
    /// moment however many there are; [`Desk::read_everybody`] reads them.
    ///
    /// # Errors
    /// As [`Desk::squad`].
    pub fn squad_so_far(&self, today: Date) -> Result<SquadView, ServiceError> {
        self.squad_of(today, false)
    }

    /// Ends [`Desk::read_everybody`] wherever it goes on: whoever is being read is read to the end, and nobody
    /// after that. For a desk that is about to be closed.
    pub fn read_nobody_more(&self) {
        self.reads_nobody_more.store(true, Ordering::Relaxed);
    }

    /// Reads whoever hasn't been read, so many at once, and tells how many are read by now, of how many.
    ///
    /// # Errors
    /// The store has trouble, or somebody's record can't be read; everybody else's is read all the same.
    pub fn read_everybody(
        &self,
        threads: usize,
        progress: &mut dyn FnMut(usize, usize),
    ) -> Result<(), ServiceError> {
        let names = self.store.lifter_names()?;
        self.people.up_to_date(&self.store)?;
        let (whole, mut n_read, mut outcome) = (names.len(), 0, Ok(()));
        progress(n_read, whole);
        let Ok(()) = at_once(
            threads,
            names.iter().collect(),
            |name| match self.reads_nobody_more.load(Ordering::Relaxed) {
                true => Ok(()),
                false => self.held_or_read(name).map(drop),
            },
            |read| {
                n_read += 1;
                progress(n_read, whole);
                if outcome.is_ok() {
                    outcome = read;
                }
                Ok::<_, Infallible>(())
            },
        );
        outcome
    }

    /// All lifters; whoever hasn't been read is read now if `reads`, and named as such otherwise.
    fn squad_of(&self, today: Date, reads: bool) -> Result<SquadView, ServiceError> {
        let names = self.store.lifter_names()?;
        let as_of = self.people.up_to_date(&self.store)?;
        let (mut lines, mut unread) = (Vec::new(), Vec::new());
        let phones = self.store.newest_floor_messages(today.saturating_sub(LOOKED_BACK))?;
        let mut left = if reads { usize::MAX } else { READ_ON };
        for name in &names {
            let held = self.people.get(name);
            let known = match held.is_none() && left > 0 && (reads || self.people.was_read(name)) {
                true => {
                    left -= 1;
                    Some(self.held_or_read(name)?)
                }
                false => held,
            };
            let Some(person) = known else {
                unread.push(name.to_string());
                continue;
            };
            let (urgency, line) =
                self.people.line(name, as_of, today, || squad_line(&person, today));
            // Beside what is kept: a message alone touches nobody's record.
            let concern = Concern { urgency, reason: line.reason };
            let concern = with_phone(concern, phones.get(&name.key()), today);
            lines.push((concern.urgency, LifterLine { reason: concern.reason, ..line }));
        }
        lines.sort_by(|a, b| b.0.cmp(&a.0).then_with(|| a.1.name.cmp(&b.1.name)));
        let lifters = lines.into_iter().map(|(_, line)| line).collect();
        Ok(SquadView { today, remark: self.remark()?, lifters, unread })
    }

    /// One lifter with every lift.
    ///
    /// # Errors
    /// As [`Desk::squad`], and nobody has that name.
    pub fn lifter(&self, name: &LifterName, today: Date) -> Result<LifterView, ServiceError> {
        self.lifter_to(name, today, Extent::Whole)
    }

    /// One lifter with so much of every lift.
    ///
    /// # Errors
    /// As [`Desk::lifter`].
    pub fn lifter_to(
        &self,
        name: &LifterName,
        today: Date,
        extent: Extent,
    ) -> Result<LifterView, ServiceError> {
        let person = self.person(name)?;
        let (lifter, history) = (&person.lifter, &person.history);
        let phones = self.store.newest_floor_messages(today.saturating_sub(LOOKED_BACK))?;
        let concern = with_phone(concern(&person, today), phones.get(&name.key()), today);
        let standing = history.on(today);
        let stops = Stops::on(self, &person, today)?;
        let shown = |lift| lift_view(&person, &standing, lift, &stops, (today, extent));
        Ok(LifterView {
            name: lifter.name.to_string(),
            unit: lifter.unit,
            today,
            remark: self.remark()?,
            reason: concern.reason,
            complaints: stops.complaints(history.lifts.iter().map(|record| &record.lift)),
            body_mass: history.body_mass_kg(today).map(|kg| words::load(kg, lifter.unit)),
            programme: person.schedule.as_ref().map(|s| s.followed.programme.name.to_string()),
            next: next_sessions(&person, today),
            dose: dose_lines(&person, today),
            muscles: muscles_view(&person, &standing, today),
            lifts: history.lifts.iter().filter_map(shown).collect(),
            fit: standing
                .recovery()
                .map(|model| history.grounds().fit_words(model))
                .unwrap_or_default(),
            check_ins: check_in_lines(history, lifter),
        })
    }

    /// The card of one lifter for one day.
    ///
    /// # Errors
    /// As [`Desk::lifter`], and there is no session on record.
    pub fn card(&self, name: &LifterName, date: Date) -> Result<CardView, ServiceError> {
        let begin = |person: &Person, lift: &Lift, aim| self.where_to_begin(person, lift, aim);
        let person = self.person(name)?;
        let stops = Stops::on(self, &person, date)?;
        let mut view = card::card(&person, date, &stops, &begin)?;
        view.notes.extend(self.remark()?.map(str::to_owned));
        Ok(view)
    }

    pub(crate) fn remark(&self) -> Result<Option<&'static str>, ServiceError> {
        Ok(demo::remark(&self.store.lift_files()?))
    }

    /// The lifter as read from the record, from memory if nothing has changed since.
    pub(crate) fn person(&self, name: &LifterName) -> Result<Arc<Person>, ServiceError> {
        self.people.up_to_date(&self.store)?;
        self.held_or_read(name)
    }

    /// The lifter from memory, where what is stale was forgotten just now, or read.
    fn held_or_read(&self, name: &LifterName) -> Result<Arc<Person>, ServiceError> {
        if let Some(person) = self.people.get(name) {
            return Ok(person);
        }
        // Whoever asks for the same lifter meanwhile waits, and finds what this one has read.
        let turn = self.people.turn(name);
        let _mine = turn.wait();
        if let Some(person) = self.people.get(name) {
            return Ok(person);
        }
        // Facts that came while this one waited need no further reading.
        let as_of = self.people.up_to_date(&self.store)?;
        let earlier = self.people.earlier(name);
        let person = Arc::new(self.load(name, as_of.newest_fact, earlier.as_deref())?);
        self.people.put(name, as_of, &person);
        Ok(person)
    }

    /// Reads the lifter's record, from where an earlier reading holds, and keeps the fits that had to be made for
    /// it.
    fn load(
        &self,
        name: &LifterName,
        newest_fact: u64,
        earlier: Option<&Person>,
    ) -> Result<Person, ServiceError> {
        let kept = self.store.kept_fits(name, MODEL_VERSION)?;
        let person = Person::load_with(&self.store, name, &kept, earlier)?;
        let Some(clock) = self.clock else { return Ok(person) };
        let used = person.history.used_fits();
        if used.iter().any(|one| !one.was_kept) {
            let (fits, pooled) =
                (to_keep(used, &kept, newest_fact, clock()), person.history.grounds().pooled_id());
            // A fit that can't be kept, say in a store for reading only, is made again next time.
            self.store.keep_fits(&person.lifter.name, pooled, &fits).ok();
        }
        Ok(person)
    }
}

/// The lifter's line among all, and its urgency.
fn squad_line(person: &Person, today: Date) -> (u8, LifterLine) {
    let history = &person.history;
    let concern = concern(person, today);
    let line = LifterLine {
        name: person.lifter.name.to_string(),
        sets: person.n_sets as u64,
        lifts: history.lifts.len(),
        last: history.days.last().map(|day| day.date),
        reason: concern.reason,
        last_calls: calls_today(person, today),
    };
    (concern.urgency, line)
}

/// How many lifters are read on for the page of all lifters before it says whom it hasn't. With every set that
/// somebody does the reading goes on from that day, which takes some milliseconds.
const READ_ON: usize = 40;

/// How far back a session that a phone never finished is asked after.
const LOOKED_BACK: jiff::SignedDuration = jiff::SignedDuration::from_hours(7 * 24);

/// A session that a phone began and never finished may have sets that are still on the phone: a reason to
/// look, if there is none that is more urgent. `newest` is the day and the kind of the newest message.
fn with_phone(concern: Concern, newest: Option<&(Date, String)>, today: Date) -> Concern {
    const URGENCY: u8 = 3;
    let open = newest.filter(|(day, kind)| kind != "finish" && *day < today);
    match open {
        Some((day, _)) if concern.urgency < URGENCY => Concern {
            urgency: URGENCY,
            reason: format!(
                "The session of {} was begun on a phone and not finished there: sets may still be on it, \
                 unsent.",
                words::day(*day, today)
            ),
        },
        _ => concern,
    }
}

/// Why to look at a lifter, and how soon: a higher urgency comes first.
struct Concern {
    urgency: u8,
    reason: String,
}

fn concern(person: &Person, today: Date) -> Concern {
    let history = &person.history;
    let Some(last) = history.days.last() else {
        return Concern { urgency: 1, reason: "No sets on record yet.".to_owned() };
    };
    let last_day = words::day(last.date, today);
    if let Some(reason) = pain_reason(person, today) {
        return Concern { urgency: 9, reason };
    }
    let away = today.duration_since(last.date).as_hours() / 24;
    if away as f64 > Limits::AWAY_DAYS {
        let reason = format!("Away for {away} days: last trained on {last_day}.");
        return Concern { urgency: 8, reason };
    }
    let eased = eased_lifts(history);
    if !eased.is_empty() {
        let urgency = if eased.len() > 1 { 7 } else { 6 };
        let reason = words::sentence(&format!(
            "{} may have fallen short on {last_day}",
            words::list(&eased)
        ));
        return Concern { urgency, reason };
    }
    if let Some(reason) = complaint(history, today) {
        return Concern { urgency: 5, reason };
    }
    let flat = flat_lifts(history);
    if !flat.is_empty() {
        let verb = if flat.len() == 1 { "isn't" } else { "aren't" };
        let reason = words::sentence(&format!(
            "{} {verb} moving up, and no shortfall was read on {last_day}",
            words::list(&flat)
        ));
        return Concern { urgency: 4, reason };
    }
    let reason = format!("No shortfall was read on {last_day}.");
    Concern { urgency: 2, reason }
}

/// The worst complaint that stands, however old.
fn pain_reason(person: &Person, today: Date) -> Option<String> {
    let complaint = person.complaints(today).ok()?.into_iter().next()?;
    Some(format!(
        "Pain of {} in the {} on {}, above the limit of {}: ask about it, leave lifts that load it, and see a \
         licensed professional.",
        complaint.pain.rating(),
        complaint.pain.joint.label(),
        words::day(complaint.when.date(), today),
        person.lifter.limits.pain()
    ))
}

/// A joint that complained in the last fortnight, at or above the rating from which it is worth a
/// word, and was told of in the last week: the worst of them.
fn complaint(history: &History, today: Date) -> Option<String> {
    const WORTH_A_WORD: u8 = 3;
    let since = |days: i32| today.saturating_sub(jiff::Span::new().days(days));
    let told: Vec<(Date, domain::Pain)> = history
        .check_ins()
        .iter()
        .filter(|check_in| (since(14)..=today).contains(&check_in.when.date()))
        .filter_map(|check_in| check_in.pain.map(|pain| (check_in.when.date(), pain)))
        .filter(|(_, pain)| pain.rating() >= WORTH_A_WORD)
        .collect();
    let (_, worst) = told.iter().max_by_key(|(date, pain)| (pain.rating(), *date))?;
    let of_joint: Vec<_> = told.iter().filter(|(_, pain)| pain.joint == worst.joint).collect();
    let (last, newest) = of_joint.last().filter(|(date, _)| *date >= since(7))?;
    Some(format!(
        "Pain in the {} told {} in a fortnight, up to {} of 10, last {} of 10 on {}.",
        worst.joint.label(),
        match of_joint.len() {
            1 => "once".to_owned(),
            2 => "twice".to_owned(),
            times => format!("{times} times"),
        },
        worst.rating(),
        newest.rating(),
        words::day(*last, today)
    ))
}

/// The calls of the last day on record, in the order in which the lifts were done.
fn last_calls(history: &History) -> Vec<(String, CallWord)> {
    let Some(last) = history.days.last() else { return Vec::new() };
    last.lifts
        .iter()
        .filter_map(|name| {
            let lift = history.lift(name)?;
            let point = lift.points.last().filter(|point| point.set.when.date() == last.date)?;
            Some((lift.lift.name.to_string(), call_word(point.ruling.call)))
        })
        .collect()
}

/// The calls of the last day; *stop* for the lifts that a complaint stops today.
fn calls_today(person: &Person, today: Date) -> Vec<(String, CallWord)> {
    let standing = person.complaints(today).unwrap_or_default();
    let is_stopped = |name: &str| {
        let of_name = person.history.lifts.iter().find(|one| one.lift.name.as_str() == name);
        of_name.is_some_and(|one| matches!(verdict(&one.lift, &standing), PainVerdict::Stop(_)))
    };
    let now = |(name, call): (String, CallWord)| match is_stopped(&name) {
        true => (name, CallWord::Stop),
        false => (name, call),
    };
    last_calls(&person.history).into_iter().map(now).collect()
}

fn eased_lifts(history: &History) -> Vec<String> {
    last_calls(history)
        .into_iter()
        .filter(|(_, call)| *call == CallWord::Ease)
        .map(|(name, _)| name)
        .collect()
}

/// Gauge lifts in use whose trend is probably not upwards: nine chances in ten that it gains less
/// than 0.1 % a week.
fn flat_lifts(history: &History) -> Vec<String> {
    let Some(last) = history.days.last() else { return Vec::new() };
    let in_use = |lift: &&LiftHistory| {
        lift.points.last().is_some_and(|point| {
            let idle = last.date.duration_since(point.set.when.date()).as_hours() / 24;
            idle as f64 <= Limits::AWAY_DAYS && point.is_gauge
        })
    };
    history
        .lifts
        .iter()
        .filter(in_use)
        .filter(|lift| {
            lift.points.iter().filter(|point| point.today.is_some()).count() >= 12
                && lift.points.last().and_then(|point| point.today).is_some_and(|today| {
                    700.0 * (today.slope + engine::trend::expectation::Z_80 * today.slope_sd) < 0.1
                })
        })
        .map(|lift| lift.lift.name.to_string())
        .collect()
}

fn check_in_lines(history: &History, lifter: &Lifter) -> Vec<CheckInLine> {
    const SHOWN: usize = 14;
    let line = |check_in: &domain::CheckIn| {
        let mut items = Vec::new();
        items.extend(check_in.sleep_h.map(|hours| format!("slept {hours} h")));
        items.extend(check_in.stress.map(|stress| format!("stress {stress} of 7")));
        items.extend(check_in.soreness.map(|soreness| format!("soreness {soreness} of 7")));
        items.extend(check_in.body_mass.map(|mass| {
            format!("body mass {} {}", words::load(mass.kg(), lifter.unit), lifter.unit.as_str())
        }));
        items.extend(
            check_in
                .pain
                .map(|pain| format!("pain in the {} {} of 10", pain.joint.label(), pain.rating())),
        );
        let over_limit = check_in.pain.is_some_and(|pain| pain.rating() > lifter.limits.pain());
        CheckInLine { when: check_in.when.to_string(), items, over_limit }
    };
    history.check_ins().iter().rev().take(SHOWN).map(line).collect()
}
