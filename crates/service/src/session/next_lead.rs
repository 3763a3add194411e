//! The next session of a lift: target, chance, warm-ups, and what each outcome will mean.
//!
//! The rule that moves a lift on is the programme's, and is taken from the log where there is none.

use std::fmt;

use domain::{Lift, Lifter, Load, LoggedSet, Note, Reps, Rir, SetKind, SetNumber, When};
use engine::loading::{self, Ladder, Warmth};
use engine::reading::{self, Absence, Call, Circumstances, Gauge, Reading};
use engine::recovery::{SessionBelief, dose::hard_sets};
use engine::strength::Reserve;
use engine::target::{self, Course, Ease, EaseChoice, Exposure, Forecast, Target, Today};
use engine::trend::{Expectation, LeadSet};
use jiff::civil::Date;

use crate::programme::Slot;
use crate::record::history::{ASSUMED_BODY_MASS_KG, LiftBy, LiftHistory, Point, Standing};
use crate::record::person::Person;
use crate::session::prescription;
use crate::view::{CallWord, CardSet, OutcomeRow, SessionLift, TargetView};
use crate::words;

mod overtaken;

use overtaken::told_reserve;

/// How many of the latest forecasts say how often the rules are right.
const LATEST_FORECASTS: usize = 40;
/// Below this chance a target is said to be more than the record lets expect: our choice.
const UNLIKELY: f64 = 0.15;
/// The most repetitions whose outcome a card looks at; longer sets aren't read.
const MOST_REPS: u16 = 20;
/// What follows if nothing is cut.
const AS_PLANNED: &str = "the remaining sets as planned";
/// What follows if nothing is cut and so few repetitions need another reason than scatter.
const FAR_BELOW: &str = "so far below, look for another reason before going on: the load on the bar, technique, pain, health";

/// How a row of a card begins whose repetitions are so few that another reason comes first, though the lift is eased.
const LOOK_FIRST: &str = "so far below, look for another reason first";

/// The next lead set of a lift and what it is held against.
pub(crate) struct NextLead<'a> {
    lift: &'a Lift,
    lifter: &'a Lifter,
    ladder: Ladder,
    model: LiftBy<'a>,
    absence: Option<Absence>,
    /// What the sets planned before it in the session do to it, and its place there.
    session: Option<(SessionBelief, usize)>,
    /// What other slots of the lift in the same session ask for.
    then: Vec<Target>,
    body_mass_kg: f64,
    when: When,
    days: f64,
    /// The target.
    pub(crate) target: Target,
    /// What the lead set is expected to show at the target's load and reserve.
    pub(crate) expected: Option<Expectation>,
    /// Whether the lift is read.
    pub(crate) gauge: Gauge,
}

impl<'a> NextLead<'a> {
    /// Plans the next lead set on `date`, as the programme has it next or else as the log goes on; none if
    /// the lift has no work set on record.
    pub(crate) fn plan(
        person: &'a Person,
        standing: &'a Standing<'_>,
        record: &'a LiftHistory,
        date: Date,
    ) -> Option<NextLead<'a>> {
        let slot = person.next_slot(&record.lift.name, date);
        NextLead::plan_slot(person, standing, record, slot.as_ref(), date)
    }

    /// Plans the lead set of a slot on `date`; without one as the log goes on.
    pub(crate) fn plan_slot(
        person: &'a Person,
        standing: &'a Standing<'_>,
        record: &'a LiftHistory,
        slot: Option<&Slot<'_>>,
        date: Date,
    ) -> Option<NextLead<'a>> {
        let (lifter, history) = (&person.lifter, &person.history);
        let lift = &record.lift;
        let model = standing.lift(record)?;
        let logged: Vec<Load> = record.sets.iter().map(|set| set.load).collect();
        let ladder = Ladder::for_record(lift, lifter, &logged);
        let exposures = target::exposures(&record.sets);
        let when = When::new(date, None).ok()?;
        let days = when.days().max(exposures.last()?.days());
        let body_mass_kg = history.body_mass_kg(date).unwrap_or(ASSUMED_BODY_MASS_KG);
        let worked = target::without_tests(&exposures);
        let forecast = forecast(lift, &model, worked.last()?, body_mass_kg, days);
        let today =
            Today { lift, ladder: &ladder, days, body_mass_kg: Some(body_mass_kg), forecast };
        let target = match slot {
            None => {
                let rule = target::infer(&exposures, ladder.usual_step()).ok()?;
                target::target(&rule, &exposures, &today).ok()?
            }
            Some(slot) => prescription::target(slot, person, &exposures, &today)?,
        };
        let gauge = reading::gauge(lift, &*model);
        let absence = standing.absence(days);
        let mut next = NextLead {
            lift,
            lifter,
            ladder,
            model,
            absence,
            session: None,
            then: Vec::new(),
            body_mass_kg,
            when,
            days,
            target,
            expected: None,
            gauge,
        };
        next.expected = next.expected_of(next.target.reps);
        Some(next)
    }

    /// Puts the lead set on its place in a session, after what is planned before it.
    pub(crate) fn place_in(&mut self, session: &SessionBelief, place: usize) {
        self.session = Some((session.clone(), place));
        self.expected = self.expected_of(self.target.reps);
    }

    /// Adds what another slot of the lift asks for later in the same session, by today's 1RM.
    pub(crate) fn add_slot(&mut self, slot: &Slot<'_>) {
        let like_last = self.lead_set(self.target.reps);
        let today = Today {
            lift: self.lift,
            ladder: &self.ladder,
            days: self.days,
            body_mass_kg: Some(self.body_mass_kg),
            forecast: self.expected.and_then(|expected| {
                let one_rm = expected.mean + self.model.to_own_curve(&like_last);
                Forecast::new(one_rm, self.model.curve()).ok()
            }),
        };
        self.then.extend(prescription::by_one_rm(slot, &today));
    }

    /// Its place among the quantities of the session, if it has one there.
    pub(crate) fn place(&self) -> Option<usize> {
        self.session.as_ref().map(|(_, place)| *place)
    }

    /// What the sets of the target count as hard sets, with those of the lift's other slots.
    pub(crate) fn planned_dose(&self) -> Option<f64> {
        let dose_of = |target: &Target| {
            let set = LoggedSet {
                lifter: self.lifter.name.clone(),
                when: self.when,
                lift: self.lift.name.clone(),
                number: SetNumber::new(1).ok()?,
                kind: SetKind::Work,
                load: target.load,
                reps: target.reps,
                rir: target.rir,
                note: Note::default(),
            };
            Some(hard_sets(&set) * f64::from(target.sets))
        };
        std::iter::once(&self.target).chain(&self.then).map(dose_of).sum()
    }

    /// Work sets in all, those of the lift's other slots among them.
    pub(crate) fn sets(&self) -> u8 {
        self.then.iter().fold(self.target.sets, |sets, then| sets.saturating_add(then.sets))
    }

    /// The loads that the lift can have.
    pub(crate) fn ladder(&self) -> &Ladder {
        &self.ladder
    }

    /// Whether a chance of making the target can be told. By a share of today's 1RM the reserve of the target
    /// is what is expected, so that the chance would say nothing.
    pub(crate) fn has_chance(&self) -> bool {
        self.why_no_chance().is_none()
    }

    /// Whether the reserve of the target is itself what is expected at its load, with a share of today's 1RM.
    fn is_by_one_rm(&self) -> bool {
        self.target.course == Course::OfToday && self.target.rir.is_some_and(|rir| rir.get() > 0.0)
    }

    /// Why no chance is told, as a sentence.
    pub(crate) fn why_no_chance(&self) -> Option<&'static str> {
        if self.is_by_one_rm() {
            return Some(
                "By today's 1RM that leaves about this reserve; a chance would say no more.",
            );
        }
        (self.model.exposures() < 3).then_some("The record is too short to give a chance.")
    }

    /// The body mass that the lift moves besides its load, in kg.
    pub(crate) fn body_moved_kg(&self) -> f64 {
        self.lift.moved_kg(0.0, self.body_mass_kg)
    }

    /// b of the lift's own load–rep curve.
    pub(crate) fn own_curve_b(&self) -> f64 {
        self.model.curve().b()
    }

    /// The mass moved with the target's load, in kg.
    pub(crate) fn moved_kg(&self) -> f64 {
        self.lift.moved_kg(self.target.load.kg(), self.body_mass_kg)
    }

    /// When the lead set is thought to be done, in days.
    pub(crate) fn days(&self) -> f64 {
        self.days
    }

    /// The chance of making the target.
    pub(crate) fn chance(&self) -> Option<f64> {
        let expected = self.expected.filter(|_| self.has_chance())?;
        Some(expected.chance_of_at_least(self.target.reps.get()))
    }

    /// The target in the reader's words.
    pub(crate) fn target_view(&self) -> TargetView {
        TargetView {
            load: self.target.load,
            reps: self.target.reps.get(),
            rir: self.target.rir.map(Rir::get),
            sets: self.target.sets,
            chance: self.chance(),
            why_no_chance: self.why_no_chance(),
            why: self.why(),
        }
    }

    /// Why this target, as a sentence.
    pub(crate) fn why(&self) -> String {
        let why = words::sentence(&self.target.why);
        match (self.chance(), self.expected) {
            (Some(chance), Some(expected)) if chance < UNLIKELY => {
                let (_, likely, _) = expected.reps_interval();
                format!(
                    "{why} The rule asks for more than the record lets expect today, {likely:.0} being \
                     likelier; to fall short of it is no sign of a shortfall by itself."
                )
            }
            _ => why,
        }
    }

    /// How often each rule would be right and wrong on this lift at a threshold, by the forecasts that its
    /// latest lead sets had; none without a gauge.
    pub(crate) fn chances(&self, record: &LiftHistory, threshold: f64) -> Option<reading::Chances> {
        let shortfall = self.lifter.limits.shortfall_pct() / 100.0;
        let asked = (self.when.date(), [threshold.to_bits(), shortfall.to_bits()]);
        record.chances.get_or_make(asked, || {
            let points = &record.points;
            let latest = &points[points.len().saturating_sub(LATEST_FORECASTS)..];
            let forecasts: Vec<Expectation> =
                latest.iter().filter_map(|point| Some(point.reading?.expected)).collect();
            let gap_days = self.usual_gap_days();
            reading::chances(&*self.model, &forecasts, shortfall, threshold, gap_days)
                .filter(|_| self.gauge.is_gauge)
        })
    }

    /// Why the lead set isn't read on that day, or not with that load, as a sentence; none if it is.
    pub(crate) fn why_unread(&self) -> Option<String> {
        let by_load = || self.expected.as_ref().and_then(reading::why_load_unread);
        self.why_lift_unread().or_else(by_load)
    }

    /// Why no lead set of the lift is read on that day, whatever its load.
    fn why_lift_unread(&self) -> Option<String> {
        reading::why_unread(&self.circumstances(None, self.target.reps.get()))
    }

    /// The median time between the latest lead sets, in days; 7 if there was only one.
    fn usual_gap_days(&self) -> f64 {
        let latest = self.model.latest(9);
        let mut gaps: Vec<f64> = latest.windows(2).map(|two| two[1].days - two[0].days).collect();
        gaps.sort_by(f64::total_cmp);
        gaps.get(gaps.len() / 2).copied().unwrap_or(7.0)
    }

    /// The warm-up sets.
    pub(crate) fn warm_ups(&self, warmth: Warmth) -> Vec<CardSet> {
        loading::warm_up(&self.ladder, self.lift, self.target.load, self.target.reps, warmth)
            .into_iter()
            .map(|set| CardSet {
                load: Some(set.load),
                reps: set.reps.get(),
                plates: set.plates.map(|loaded| words::plates(&loaded, self.lifter.unit)),
            })
            .collect()
    }

    /// The lead set as a line of a card.
    pub(crate) fn lead(&self) -> CardSet {
        self.card_set(self.target.load, self.target.reps)
    }

    /// The remaining work sets as planned.
    pub(crate) fn remaining(&self) -> Vec<CardSet> {
        let set = self.card_set(self.target.load, self.target.reps);
        let mut sets = vec![set; usize::from(self.target.sets).saturating_sub(1)];
        for then in &self.then {
            let set = self.card_set(then.load, then.reps);
            sets.extend(vec![set; usize::from(then.sets)]);
        }
        sets
    }

    /// What the lead set is likely to show, as a phrase.
    pub(crate) fn expected_words(&self) -> Option<String> {
        let (low, likely, high) = self.expected.filter(|_| !self.is_by_one_rm())?.reps_interval();
        Some(format!("{likely:.0} likely, {low:.0} to {high:.0} eight times in ten"))
    }

    /// What a page needs to read this lead set by itself; none if it has no place in a session.
    pub(crate) fn session_lift(&self) -> Option<SessionLift> {
        let (expected, (session, place)) = (self.expected?, self.session.as_ref()?);
        let known = session.lifts.get(*place)?;
        Some(SessionLift {
            name: self.lift.name.to_string(),
            place: *place,
            moved_kg: expected.moved_kg,
            reserve: expected.reserve,
            luck_variance: known.scatter_variance,
            usual_shown: known.usual_shown,
            usual_lean: known.usual_lean,
            is_read: self.why_lift_unread().is_none(),
        })
    }

    /// What each number of repetitions will mean; empty if the lift won't be read that day.
    pub(crate) fn outcomes(&self) -> Vec<OutcomeRow> {
        if self.expected.is_none() || self.why_unread().is_some() {
            return Vec::new();
        }
        let target = self.target.reps.get();
        let last_eased = (1..=MOST_REPS).rev().find(|reps| self.call(*reps) == Call::Ease);
        let first_go = last_eased.map_or(1, |reps| reps + 1);
        if self.call(first_go) != Call::GoOn {
            // The muscles are so likely short already that no lead set outweighs it.
            let then = self.ease_words(target).to_string();
            return vec![self.row("any number".to_owned(), (1, target), then)];
        }
        let mut rows = Vec::new();
        if first_go <= target {
            let reps = format!("{target} or more");
            rows.push(self.row(reps, (target, target), AS_PLANNED.to_owned()));
        }
        if first_go < target {
            // Of these, the ones for which scatter is no explanation either.
            let far = (first_go..target).take_while(|reps| self.is_far_below(*reps)).last();
            let first_near = far.map_or(first_go, |reps| reps + 1);
            if first_near < target {
                let why = match last_eased {
                    Some(_) => "this is ordinary scatter",
                    None => "what came before speaks against a shortfall",
                };
                let then = format!("{AS_PLANNED}: {why}");
                let reps = span(first_near, target - 1);
                rows.push(self.row(reps, (first_near, target - 1), then));
            }
            if let Some(far) = far {
                let then = format!("{FAR_BELOW}{}", self.held_words(first_go, far));
                rows.push(self.row(span(first_go, far), (first_go, far), then));
            }
        } else if first_go > target {
            let reps = format!("{first_go} or more");
            rows.push(self.row(reps, (first_go, first_go), AS_PLANNED.to_owned()));
        }
        if let Some(most) = last_eased {
            rows.extend(self.eased_rows(most));
        }
        rows
    }

    /// The rows of a lift that is eased after so many repetitions or fewer: one of its own for those so few that
    /// another reason is to be looked for.
    fn eased_rows(&self, most: u16) -> Vec<OutcomeRow> {
        let far = (1..=most).take_while(|reps| self.is_far_below(*reps)).last().unwrap_or(0);
        let mut rows = Vec::new();
        let row = |(fewest, most): (u16, u16), then| {
            let reps = match (fewest, most) {
                (1, 1) => "1".to_owned(),
                (1, most) => format!("{most} or fewer"),
                (fewest, most) => span(fewest, most),
            };
            self.row(reps, (most.saturating_sub(1).max(fewest), most), then)
        };
        if far < most {
            rows.push(row((far + 1, most), self.ease_words(most).to_string()));
        }
        if far > 0 {
            let instead = self.ease_words(far);
            let link = if instead.is_speed_work() { "; only if nothing is wrong, " } else { "; " };
            let then = format!("{LOOK_FIRST}{link}{instead}");
            rows.push(row((1, far), then));
        }
        rows
    }

    fn row(&self, reps: String, ends: (u16, u16), then: String) -> OutcomeRow {
        let (worst, best) = (self.p_shortfall(ends.0), self.p_shortfall(ends.1));
        let call = call_word(self.call(ends.1));
        OutcomeRow { reps, call, p_shortfall: (best.min(worst), best.max(worst)), then }
    }

    fn call(&self, reps: u16) -> Call {
        let reading = self.reading(reps);
        reading::rule(&self.circumstances(reading.as_ref(), reps)).call
    }

    fn is_far_below(&self, reps: u16) -> bool {
        let reps = Reps::new(reps).unwrap_or(self.target.reps);
        self.expected_of(reps).is_some_and(|expected| expected.is_far_below(reps.get()))
    }

    fn p_shortfall(&self, reps: u16) -> f64 {
        self.reading(reps).map_or(0.0, |reading| reading.p_shortfall)
    }

    /// What a lead set of `reps` repetitions would say.
    fn reading(&self, reps: u16) -> Option<Reading> {
        let reps = Reps::new(reps).unwrap_or(self.target.reps);
        let shown = self.model.shown_by(&self.lead_set(reps))?;
        let shortfall = self.lifter.limits.shortfall_pct() / 100.0;
        Some(reading::hold_against(self.expected_of(reps)?, shown, shortfall))
    }

    /// What a lead set of the target's load and reserve is expected to show.
    fn expected_of(&self, reps: Reps) -> Option<Expectation> {
        let next = self.lead_set(reps);
        match &self.session {
            None => self.model.expect(&next),
            Some((session, place)) => session.expectation(*place, &next),
        }
    }

    fn circumstances<'b>(&'b self, reading: Option<&'b Reading>, reps: u16) -> Circumstances<'b> {
        Circumstances {
            lift: self.lift,
            limits: &self.lifter.limits,
            gauge: &self.gauge,
            days_since: self.model.last().map(|last| self.days - last.days),
            absence: self.absence,
            // A lift that pain stops has no card line; see `stops`.
            complaints: &[],
            reading,
            reps,
        }
    }

    /// What follows a lead set that was read.
    pub(crate) fn after(&self, point: &Point) -> String {
        match (point.ruling.call, point.reading) {
            (Call::Ease, Some(reading)) => {
                let lead = self.eased(Some(&reading), &point.lead, told_reserve(point));
                let instead = self.instead(lead);
                if reading.expected.is_far_below(point.lead.reps) && instead.is_speed_work() {
                    return words::sentence(&format!("only if nothing is wrong: {instead}"));
                }
                words::sentence(&format!("then {instead}"))
            }
            (Call::Stop, _) => "Leave the rest of this lift out today.".to_owned(),
            _ if self.is_collapse(point) => self.after_collapse(point),
            _ => "Then the remaining sets as planned.".to_owned(),
        }
    }

    fn today(&self) -> Today<'_> {
        Today {
            lift: self.lift,
            ladder: &self.ladder,
            days: self.days,
            body_mass_kg: Some(self.body_mass_kg),
            forecast: None,
        }
    }

    /// What follows if the lead set is eased after `reps` repetitions.
    fn ease_words(&self, reps: u16) -> Instead {
        let set = self.lead_set(Reps::new(reps).unwrap_or(self.target.reps));
        // A card knows of no reserve; of sets far below, none is taken to have been left.
        self.instead(self.eased(self.reading(reps).as_ref(), &set, 0.0))
    }

    /// A lead set and today's 1RM in its light; no 1RM without a reading.
    fn eased(&self, reading: Option<&Reading>, set: &LeadSet, reserve: f64) -> target::EasedLead {
        let one_rm_kg = reading.map_or(0.0, |reading| self.one_rm_after(reading, set, reserve));
        target::EasedLead { moved_kg: set.moved_kg, one_rm_kg }
    }

    /// What takes the place of the remaining work sets after a lead set.
    fn instead(&self, lead: target::EasedLead) -> Instead {
        let remaining = self.sets().saturating_sub(1);
        Instead(target::ease(&self.today(), lead, remaining, EaseChoice::SpeedWork))
    }

    fn lead_set(&self, reps: Reps) -> LeadSet {
        let reserve = match self.target.rir {
            Some(rir) => Reserve::Reported(rir.get()),
            None => self.model.usual_reserve(),
        };
        LeadSet { days: self.days, moved_kg: self.moved_kg(), reps: reps.get(), reserve }
    }

    fn card_set(&self, load: Load, reps: Reps) -> CardSet {
        let plates = self.ladder.plates(load).map(|p| words::plates(&p, self.lifter.unit));
        CardSet { load: Some(load), reps: reps.get(), plates }
    }
}

/// What takes the place of the remaining work sets of an eased lift, as a phrase.
struct Instead(Ease);

impl Instead {
    fn is_speed_work(&self) -> bool {
        matches!(self.0, Ease::Speed(_))
    }
}

impl fmt::Display for Instead {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.0 {
            Ease::Speed(speed) => {
                let sets = words::sets(usize::from(speed.sets), speed.reps.get(), speed.load);
                write!(f, "speed work instead: {sets}, fast; stop a set when the reps slow")
            }
            Ease::LeaveOut { words } => f.write_str(words),
        }
    }
}

/// The engine's call as the word shown.
pub(crate) fn call_word(call: Call) -> CallWord {
    match call {
        Call::GoOn => CallWord::GoOn,
        Call::Ease => CallWord::Ease,
        Call::Stop => CallWord::Stop,
        Call::NoReading => CallWord::NoReading,
    }
}

/// Today's 1RM for the target's rule, at the load of the last exposure.
fn forecast(
    lift: &Lift,
    model: &LiftBy<'_>,
    last: &Exposure,
    body_mass_kg: f64,
    days: f64,
) -> Option<Forecast> {
    let like_last = LeadSet {
        days,
        moved_kg: lift.moved_kg(last.lead().load.kg(), body_mass_kg),
        reps: last.lead().reps.get(),
        reserve: last.lead().rir.map_or(model.usual_reserve(), |rir| Reserve::Reported(rir.get())),
    };
    let expected = model.expect(&like_last)?;
    let curve = model.curve();
    Forecast::new(expected.mean + model.to_own_curve(&like_last), curve).ok()
}

/// `6 or 7`, `4 to 7`, `5`.
fn span(from: u16, to: u16) -> String {
    match to - from {
        0 => format!("{from}"),
        1 => format!("{from} or {to}"),
        _ => format!("{from} to {to}"),
    }
}
