//! The card: one session for one lifter, with what each outcome of a lead set will mean.
//!
//! The list of lifts is the programme's next session. Without a programme it comes from the log: the session
//! of the same weekday if there was one in the last fortnight, else the kind of session that is longest ago.

use domain::{EquipmentClass, Lift, LiftName, Limits, Load};
use engine::loading::Warmth;
use jiff::civil::Date;

use crate::ServiceError;
use crate::joints::stops::{StoppedLift, Stops};
use crate::programme::Slot;
use crate::record::history::{ASSUMED_BODY_MASS_KG, LiftHistory, Standing, TrainingDay};
use crate::record::person::Person;
use crate::session::first_load::Beginning;
use crate::session::next_lead::NextLead;
use crate::view::{CardLift, CardSet, CardView, SessionView};
use crate::words;

/// The usual cautions, in one line.
fn cautions(limits: &Limits) -> String {
    format!(
        "Pain above {} of 10, sharp or growing: stop that lift and see a licensed professional. Chest \
         pain, faintness or sudden breathlessness: stop and get help. Use a spotter or safety bars \
         where marked. New to hard training, or ill: be screened by a doctor first. This card advises; \
         it clears nobody to train.",
        limits.pain()
    )
}

/// The least reserve with which the load of a lift is looked for, in repetitions.
const FINDING_RESERVE: f64 = 3.0;
/// How far back the kinds of session are looked for, in days before the last session.
const RECENT_DAYS: i32 = 28;
/// Says where to begin a lift that was never done, with so many repetitions and so many left.
pub(crate) type Begin<'a> =
    dyn Fn(&Person, &Lift, (u16, f64)) -> Result<Option<Beginning>, ServiceError> + 'a;

/// Makes the card of `person` for `date`, without targets of the lifts that are stopped.
pub(crate) fn card(
    person: &Person,
    date: Date,
    stops: &Stops,
    begin: &Begin<'_>,
) -> Result<CardView, ServiceError> {
    let mut lifts: Vec<Lift> = Vec::new();
    let mut view = card_showing(person, date, stops, begin, &mut |shown| {
        lifts.push(shown.lift().clone());
    })?;
    let asked = stops.complaints(lifts.iter()).into_iter().map(|complaint| complaint.words);
    view.notes.splice(0..0, asked);
    Ok(view)
}

/// A line of a card with what it is made from.
pub(crate) enum Shown<'a> {
    /// A lift with a record.
    Known(&'a LiftHistory, &'a NextLead<'a>, &'a CardLift),
    /// A lift of the programme of which nothing is on record.
    New(&'a Lift, &'a CardLift),
}

impl Shown<'_> {
    fn lift(&self) -> &Lift {
        match self {
            Shown::Known(record, ..) => &record.lift,
            Shown::New(lift, _) => lift,
        }
    }
}

/// [`card`] without the questions about complaints, showing what each line is made from, those of stopped lifts
/// among them: a phone opens such a line once the lifter's own answer does.
pub(crate) fn card_showing(
    person: &Person,
    date: Date,
    stops: &Stops,
    begin: &Begin<'_>,
    show: &mut dyn FnMut(Shown<'_>),
) -> Result<CardView, ServiceError> {
    let (lifter, history) = (&person.lifter, &person.history);
    let Some(session) = session_on(person, date) else {
        return Err(ServiceError::NoSession { lifter: lifter.name.to_string() });
    };
    let mut view = CardView {
        lifter: lifter.name.to_string(),
        date,
        unit: lifter.unit,
        basis: session.basis,
        notes: session.notes,
        stopped: Vec::new(),
        lifts: Vec::new(),
        session: None,
        cautions: cautions(&lifter.limits),
    };
    let standing = history.on(date);
    let mut lines = lines_of(&session.lifts, person, &standing, date);
    let is_done = |line: &&mut Line<'_>| !stops.is_stopped(line.lift());
    let order = lines.iter_mut().filter(is_done).filter_map(planned).collect();
    view.session = plan_session(&standing, order, &lifter.limits);
    let on_card: Vec<LiftName> = lines.iter().map(|line| line.lift().name.clone()).collect();
    let mut trained: Vec<domain::Muscle> = Vec::new();
    for line in &lines {
        let lift = line.lift();
        let primes = lift.muscles.iter().filter(|m| m.is_prime()).map(|m| m.muscle);
        let warm = primes.clone().any(|muscle| trained.contains(&muscle));
        let stopped = stops.view(lift, &|other| on_card.contains(&other.name));
        if stopped.is_none() {
            trained.extend(primes);
        }
        let warmth = if warm { Warmth::Warm } else { Warmth::Cold };
        let drawn = match line {
            Line::Known(record, next) => {
                let drawn = card_lift(record, next, warmth);
                show(Shown::Known(record, next, &drawn));
                drawn
            }
            Line::New(lift, sets) => {
                let mut drawn = new_lift(lift, sets);
                if let Some((_, reps, reserve)) = sets.first()
                    && let Some(told) = begin(person, lift, (*reps, *reserve))?
                {
                    drawn.why = format!(
                        "No set of it is on record, so this load is a careful guess. {}",
                        told.words
                    );
                    for set in std::iter::once(&mut drawn.lead).chain(&mut drawn.remaining) {
                        set.load = Some(told.load);
                    }
                }
                show(Shown::New(lift, &drawn));
                drawn
            }
        };
        match stopped {
            None => view.lifts.push(drawn),
            Some(stop) => view.stopped.push(StoppedLift {
                name: drawn.name,
                prime_movers: drawn.prime_movers,
                stop,
            }),
        }
    }
    view.notes.extend(general_notes(person, &view, date));
    Ok(view)
}

/// A lift with a record that may take the place of one of a card.
pub(crate) struct Swap<'a> {
    /// The place on the card.
    pub(crate) line: usize,
    /// The lift that may come there.
    pub(crate) record: &'a LiftHistory,
}

/// The belief about the session of a card, with the lifts that may be swapped in: each stands right before the
/// lift whose place it would take, so that what is planned before both is in its numbers and neither's own sets
/// are. `show` gets each with what its lead set is held against there, and the line that it would be.
pub(crate) fn session_with_swaps<'a>(
    person: &'a Person,
    date: Date,
    stops: &Stops,
    swaps: &[Swap<'a>],
    show: &mut dyn FnMut(&Swap<'a>, &NextLead<'_>, CardLift),
) -> Option<SessionView> {
    let standing = person.history.on(date);
    let session = session_on(person, date)?;
    let mut lines = lines_of(&session.lifts, person, &standing, date);
    let mut aside: Vec<(&Swap<'a>, NextLead<'_>)> = swaps
        .iter()
        .filter_map(|swap| {
            Some((swap, NextLead::plan_slot(person, &standing, swap.record, None, date)?))
        })
        .collect();
    let mut order = Vec::new();
    let mut waiting = aside.iter_mut().peekable();
    for (place, line) in lines.iter_mut().enumerate() {
        while let Some((swap, next)) = waiting.next_if(|(swap, _)| swap.line <= place) {
            order.push((swap.record, next, 0.0));
        }
        // What is stopped does nothing to the lifts after it.
        let is_stopped = stops.is_stopped(line.lift());
        order.extend(
            planned(line)
                .map(|(record, next, dose)| (record, next, if is_stopped { 0.0 } else { dose })),
        );
    }
    let view = plan_session(&standing, order, &person.lifter.limits);
    for (swap, next) in &aside {
        show(swap, next, card_lift(swap.record, next, Warmth::Warm));
    }
    view
}

/// The lifts of a session, each with its slot in the programme if there is one.
struct Session<'a> {
    basis: String,
    notes: Vec<String>,
    lifts: Vec<(&'a Lift, Option<Slot<'a>>)>,
}

/// The session that is next on a day: the programme's, or else one like those on record.
fn session_on(person: &Person, date: Date) -> Option<Session<'_>> {
    let history = &person.history;
    let next = person.schedule.as_ref().and_then(|schedule| schedule.on(date, &history.days));
    if let Some(next) = next {
        let (known, unknown): (Vec<Slot<'_>>, Vec<Slot<'_>>) =
            next.slots().partition(|slot| slot.lift.is_some());
        let lost = |slot: &Slot<'_>| {
            format!(
                "`{}` is planned, and no lift is called that at this desk any more: mend the programme, \
                 or add it with a lift file.",
                slot.planned.lift()
            )
        };
        return Some(Session {
            basis: next.basis(),
            notes: unknown.iter().map(lost).collect(),
            lifts: known.into_iter().filter_map(|slot| Some((slot.lift?, Some(slot)))).collect(),
        });
    }
    let basis = basis_session(&history.days, date)?;
    Some(Session {
        basis: format!("The lifts of {}.", words::day(basis.date, date)),
        notes: Vec::new(),
        lifts: basis
            .lifts
            .iter()
            .filter_map(|name| Some((&history.lift(name)?.lift, None)))
            .collect(),
    })
}

/// A line of a card in the making.
enum Line<'a> {
    Known(&'a LiftHistory, Box<NextLead<'a>>),
    New(&'a Lift, Vec<(u8, u16, f64)>),
}

impl Line<'_> {
    fn lift(&self) -> &Lift {
        match self {
            Line::Known(record, _) => &record.lift,
            Line::New(lift, _) => lift,
        }
    }
}

/// The lines of a card.
fn lines_of<'a>(
    lifts: &'a [(&'a Lift, Option<Slot<'a>>)],
    person: &'a Person,
    standing: &'a Standing<'_>,
    date: Date,
) -> Vec<Line<'a>> {
    let mut lines = Vec::new();
    for (lift, slot) in lifts {
        add_line(&mut lines, person, standing, (lift, slot.as_ref()), date);
    }
    lines
}

/// Adds a lift, or further sets of it if it is there already.
fn add_line<'a>(
    lines: &mut Vec<Line<'a>>,
    person: &'a Person,
    standing: &'a Standing<'_>,
    (lift, slot): (&'a Lift, Option<&Slot<'a>>),
    date: Date,
) {
    let there = lines.iter_mut().find(|line| line.lift().name == lift.name);
    match (there, slot) {
        (Some(Line::Known(_, next)), Some(slot)) => next.add_slot(slot),
        (Some(Line::New(_, sets)), Some(slot)) => sets.push(sets_of(slot)),
        (Some(_), None) => {}
        (None, slot) => {
            let planned = person.history.lift(&lift.name).and_then(|record| {
                Some((record, NextLead::plan_slot(person, standing, record, slot, date)?))
            });
            match (planned, slot) {
                (Some((record, next)), _) => lines.push(Line::Known(record, Box::new(next))),
                (None, Some(slot)) => lines.push(Line::New(lift, vec![sets_of(slot)])),
                (None, None) => {}
            }
        }
    }
}

/// Sets, repetitions and reserve of a slot for a lift whose load has to be found.
fn sets_of(slot: &Slot<'_>) -> (u8, u16, f64) {
    let planned = slot.planned;
    let reserve = planned.rir().map_or(0.0, domain::Rir::get).max(FINDING_RESERVE);
    (planned.sets_in(slot.week), planned.reps_in(slot.week).low(), reserve)
}

/// A lift of which nothing is on record: what is planned, and no load.
fn new_lift(lift: &Lift, sets: &[(u8, u16, f64)]) -> CardLift {
    // What moves nothing but the body begins with it.
    let body = lift.equipment == EquipmentClass::Bodyweight;
    let load = if body { Load::from_kg(0.0).ok() } else { None };
    let set = |reps: u16| CardSet { load, reps, plates: None };
    let mut all = sets.iter().flat_map(|(count, reps, _)| vec![set(*reps); usize::from(*count)]);
    let (lead, remaining) = (all.next().unwrap_or_else(|| set(1)), all.collect());
    CardLift {
        name: lift.name.to_string(),
        prime_movers: lift.prime_movers(),
        load_meaning: words::load_meaning(lift),
        spotter: lift.spotter,
        warm_ups: Vec::new(),
        lead,
        lead_rir: sets.first().map(|(_, _, reserve)| *reserve),
        chance: None,
        why_no_chance: None,
        expected: None,
        gauge_reason: "Nothing of it is on record, so its lead set can't be held against anything."
            .to_owned(),
        outcomes: Vec::new(),
        remaining,
        why: if body {
            format!(
                "No set of it is on record: begin with the body alone, leave {FINDING_RESERVE} or more \
                 repetitions in reserve, and log what goes. If so many don't go, do what goes."
            )
        } else {
            format!(
                "No set of it is on record, so no load is known: work up to one that leaves \
                 {FINDING_RESERVE} or more repetitions in reserve, and log it."
            )
        },
    }
}

/// What stands on a place of a session: a lift's record, its lead set, and the hard sets planned.
type Planned<'a, 'b> = (&'a LiftHistory, &'b mut NextLead<'a>, f64);

fn planned<'a, 'b>(line: &'b mut Line<'a>) -> Option<Planned<'a, 'b>> {
    match line {
        Line::Known(record, next) => {
            let dose = next.planned_dose().unwrap_or(0.0);
            Some((record, next, dose))
        }
        Line::New(..) => None,
    }
}

/// Puts each lift after what is planned before it, and hands back what is believed of them all.
fn plan_session(
    standing: &Standing<'_>,
    mut order: Vec<Planned<'_, '_>>,
    limits: &Limits,
) -> Option<SessionView> {
    let recovery = standing.recovery()?;
    let days = order.iter().map(|(_, next, _)| next.days()).reduce(f64::max)?;
    let doses: Vec<(usize, f64)> =
        order.iter().map(|(record, _, dose)| (standing.place(record), *dose)).collect();
    let belief = recovery.session(&doses, days);
    let mut lifts = Vec::new();
    let mut place = 0;
    for (record, next, _) in &mut order {
        // Lifts that were never read have no place in it.
        if belief.lifts.get(place).is_none_or(|known| known.lift != standing.place(record)) {
            continue;
        }
        next.place_in(&belief, place);
        lifts.extend(next.session_lift());
        place += 1;
    }
    Some(SessionView {
        mean: belief.mean,
        covariance: belief.covariance,
        shortfall: limits.shortfall_pct() / 100.0,
        threshold: limits.threshold(),
        reserve_share: belief.reserve_share,
        curve_b: belief.curve.b(),
        freak_share: belief.freak.share,
        freak_widening: belief.freak.widening,
        freak_of_day: belief.freak.of_day,
        lifts,
    })
}

fn card_lift(record: &LiftHistory, next: &NextLead<'_>, warmth: Warmth) -> CardLift {
    let lift = &record.lift;
    CardLift {
        name: lift.name.to_string(),
        prime_movers: lift.prime_movers(),
        load_meaning: words::load_meaning(lift),
        spotter: lift.spotter,
        warm_ups: next.warm_ups(warmth),
        lead: next.lead(),
        lead_rir: next.target.rir.map(domain::Rir::get),
        chance: next.chance(),
        why_no_chance: next.why_no_chance(),
        expected: next.expected_words(),
        gauge_reason: next.gauge_words(),
        outcomes: next.outcomes(),
        remaining: next.remaining(),
        why: next.why(),
    }
}

/// The session whose lifts come next.
fn basis_session(days: &[TrainingDay], date: Date) -> Option<&TrainingDay> {
    let before: Vec<&TrainingDay> = days.iter().filter(|day| day.date < date).collect();
    let last = before.last().copied()?;
    let ago = |day: &TrainingDay| days_between(day.date, date);
    let same_weekday = before.iter().rev().find(|day| matches!(ago(day), 7 | 14)).copied();
    if same_weekday.is_some() {
        return same_weekday;
    }
    let recent = before.iter().filter(|day| days_between(day.date, last.date) <= RECENT_DAYS);
    // The newest session of each kind; of these the oldest is next.
    let mut kinds: Vec<&TrainingDay> = Vec::new();
    for day in recent.rev() {
        if !kinds.iter().any(|kind| alike(kind, day)) {
            kinds.push(day);
        }
    }
    kinds.last().copied()
}

/// Whether two sessions are of one kind: more than half of all their lifts are in both.
fn alike(a: &TrainingDay, b: &TrainingDay) -> bool {
    let shared = a.lifts.iter().filter(|lift| b.lifts.contains(lift)).count();
    2 * shared > a.lifts.len() + b.lifts.len() - shared
}

fn general_notes(person: &Person, view: &CardView, date: Date) -> Vec<String> {
    let mut notes = Vec::new();
    let last = person.history.days.iter().map(|day| day.date).rfind(|day| *day < date);
    let away = last.map_or(0, |last| days_between(last, date));
    if f64::from(away) > Limits::AWAY_DAYS {
        notes.push(format!(
            "Back after {away} days: lighter targets today, nothing is read, and no set goes near \
             failure."
        ));
    }
    let moves_body = |name: &String| {
        let name = LiftName::new(name).ok()?;
        person.history.lift(&name)?.lift.body_mass_share.as_ref().map(|_| name.to_string())
    };
    let guessed: Vec<String> =
        view.lifts.iter().filter_map(|lift| moves_body(&lift.name)).collect();
    if !guessed.is_empty() && person.history.body_mass_kg(date).is_none() {
        notes.push(format!(
            "Body mass was never told: {ASSUMED_BODY_MASS_KG:.0} kg is assumed for {}.",
            words::list(&guessed)
        ));
    }
    notes
}

/// Whole days from `from` to `to`.
fn days_between(from: Date, to: Date) -> i32 {
    (to.duration_since(from).as_hours() / 24) as i32 // at most 92,000 between 1950 and 2200
}
