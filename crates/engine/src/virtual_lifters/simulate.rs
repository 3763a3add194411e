//! A virtual lifter's life, day by day: nights, check-ins and sessions by the plan.
//!
//! Lifters train by double progression and by nothing else, and nobody here cuts back because of
//! fatigue. One lift of a session is done in [`super::exercise`]. A [`Simulation`] lives one day at a
//! time, so that what a lifter does next may depend on what was logged so far.

use domain::{
    Catalogue, CheckIn, EquipmentClass, Joint, Lift, LiftName, Lifter, LifterName, LoggedSet, Pain,
    When,
};
use jiff::ToSpan;
use jiff::civil::{Date, Time};

use super::body::Body;
use super::dice::{Dice, rounded};
use super::person::{Event, Person};
use super::rack::Rack;
use super::world::World;
use super::{DrawError, Hidden, HiddenDay, HiddenLift, Truth, VirtualLifter};

/// Days without training after which what follows counts as a way back.
const LAYOFF_DAYS: i32 = 14;

/// One lift as this lifter does it.
#[derive(Clone, Debug)]
pub(super) struct Skill<'a> {
    pub(super) lift: &'a Lift,
    pub(super) log_max: f64,
    pub(super) gained: f64,
    pub(super) gain_factor: f64,
    pub(super) wander: f64,
    pub(super) rep_cost: f64,
    pub(super) scatter_sd: f64,
    pub(super) last_day: Option<i32>,
    pub(super) capacities: Vec<f64>,
}

/// Where the progression of one lift on one weekday stands.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Progress {
    pub(super) skill_idx: usize,
    pub(super) load: Option<i64>,
    pub(super) at_top: u8,
    pub(super) below: u8,
    pub(super) last_lead: Option<(i64, u16)>,
    pub(super) exposures: u16,
}

/// A virtual lifter's life so far.
#[derive(Debug)]
pub struct Simulation<'a> {
    pub(super) world: &'a World,
    pub(super) person: &'a Person,
    pub(super) name: LifterName,
    end: Date,
    pub(super) dice: Dice,
    pub(super) body: Body,
    pub(super) skills: Vec<Skill<'a>>,
    pub(super) progress: Vec<Vec<Progress>>,
    next_days_back: i32,
    first_session: Option<i32>,
    last_session: Option<i32>,
    back_since: Option<i32>,
    pub(super) sets: Vec<LoggedSet>,
    check_ins: Vec<CheckIn>,
    pub(super) truths: Vec<Truth>,
    pub(super) days: Vec<HiddenDay>,
}

/// What of one session every lift of it needs to know.
#[derive(Clone, Copy)]
pub(super) struct Session {
    pub(super) day_idx: usize,
    pub(super) days_back: i32,
    pub(super) when: When,
    pub(super) record_day: i32,
    pub(super) days_since_layoff: Option<i32>,
}

impl<'a> Simulation<'a> {
    /// A lifter on the morning of the first day of a record that ends at `end`; `stream` tells
    /// lifters of one seed apart.
    ///
    /// # Errors
    /// [`DrawError`] for a name that can't be one, and for lifts of the week that the catalogue
    /// doesn't know or that have no strength.
    pub fn new(
        world: &'a World,
        person: &'a Person,
        catalogue: &'a Catalogue,
        end: Date,
        seed: u64,
        stream: u64,
    ) -> Result<Simulation<'a>, DrawError> {
        let mut dice = Dice::new(seed, stream);
        let body = Body::new(&mut dice, person.accustomed);
        let mut skills = Vec::new();
        for (name, max) in &person.strengths {
            let lift = LiftName::new(name)?;
            let lift = catalogue.find(&lift).ok_or_else(|| DrawError::UnknownLift(name.clone()))?;
            skills.push(skill(world, person, lift, *max, &mut dice));
        }
        Ok(Simulation {
            world,
            person,
            name: LifterName::new(&person.name)?,
            end,
            dice,
            body,
            progress: progress(person, &skills)?,
            skills,
            next_days_back: person.days - 1,
            first_session: None,
            last_session: None,
            back_since: None,
            sets: Vec::new(),
            check_ins: Vec::new(),
            truths: Vec::new(),
            days: Vec::new(),
        })
    }

    /// Lives one day more: the night, the check-in, and the session if there is one. False once the
    /// record has ended.
    ///
    /// # Errors
    /// [`DrawError::Refused`] for a day or a load that no log could hold.
    pub fn live_a_day(&mut self) -> Result<bool, DrawError> {
        let days_back = self.next_days_back;
        if days_back < 0 {
            return Ok(false);
        }
        self.next_days_back -= 1;
        let date = self.end.saturating_sub(days_back.days());
        self.body.wake(self.world, self.person, days_back, &mut self.dice);
        for skill in &mut self.skills {
            skill.wander = WANDER_KEPT * skill.wander + WANDER_NEWS_SD * self.dice.normal();
        }
        let (night, unaccustomed) = (self.body.day, 0.0);
        self.days.push(HiddenDay { days_back, night, unaccustomed, exercises: Vec::new() });
        if self.person.is_away(days_back) {
            return Ok(true);
        }
        let worst = self.person.is_worst_day(days_back);
        if self.dice.happens(self.person.habits.check_ins) || worst {
            self.check_in(days_back, date)?;
        }
        let planned = self.person.week.iter().position(|day| day.days_back == days_back % 7);
        let missed = self.dice.happens(self.person.habits.missed) && days_back > 3;
        if let Some(day_idx) = planned
            && !missed
        {
            self.session(day_idx, days_back, date)?;
        }
        Ok(true)
    }

    /// The sets logged so far, in the order in which they were done.
    #[must_use]
    pub fn sets(&self) -> &[LoggedSet] {
        &self.sets
    }

    /// What was logged, with the truth beside it.
    #[must_use]
    pub fn finish(self) -> VirtualLifter {
        let lifts = self.skills.iter().map(|skill| HiddenLift {
            lift: skill.lift.clone(),
            start_log_max: skill.log_max,
            gain_factor: skill.gain_factor,
            rep_cost: skill.rep_cost,
            scatter_sd: skill.scatter_sd,
        });
        VirtualLifter {
            lifter: Lifter::usual(self.name, self.person.unit),
            sets: self.sets,
            check_ins: self.check_ins,
            truths: self.truths,
            hidden: Hidden {
                world: self.world.clone(),
                person: self.person.clone(),
                usual: self.body.usual(),
                lifts: lifts.collect(),
                days: self.days,
            },
        }
    }

    fn check_in(&mut self, days_back: i32, date: Date) -> Result<(), DrawError> {
        let time = self.person.habits.time.map(|_| Time::constant(6, 30, 0, 0));
        let weighs = self.dice.happens(0.4);
        let scale = self.person.body_mass_kg + 0.5 * self.dice.normal();
        let pain = match self.pain(days_back) {
            Some((joint, rating)) => Some(Pain::new(joint, rating)?),
            None => None,
        };
        let soreness = self.body.soreness() + 0.6 * self.dice.normal();
        self.check_ins.push(CheckIn {
            lifter: self.name.clone(),
            when: When::new(date, time)?,
            sleep_h: Some(CheckIn::sleep(rounded(self.body.day.sleep_h, 4.0))?),
            stress: Some(CheckIn::rating("stress", self.body.day.stress.round())?),
            soreness: Some(CheckIn::rating("soreness", soreness.clamp(1.0, 7.0).round())?),
            body_mass: if weighs { Some(CheckIn::body_mass(rounded(scale, 10.0))?) } else { None },
            pain,
        });
        Ok(())
    }

    /// How the complaining joint would be rated today; above 5 on its worst day only.
    fn pain(&mut self, days_back: i32) -> Option<(Joint, u8)> {
        let wobble = 0.7 * self.dice.normal();
        self.person.events.iter().find_map(|event| match event {
            Event::Complaint { joint, worst, .. } if days_back == *worst => Some((*joint, 6)),
            Event::Complaint { joint, .. } => {
                let complaint = self.person.complaint(*joint, days_back);
                let rating = (complaint + wobble).round().clamp(0.0, 5.0);
                (rating > 0.0).then_some((*joint, rating as u8)) // 1 to 5
            }
            _ => None,
        })
    }

    fn session(&mut self, day_idx: usize, days_back: i32, date: Date) -> Result<(), DrawError> {
        let when = When::new(date, self.session_time(days_back))?;
        let gap = self.last_session.map_or(0, |last| last - days_back);
        self.last_session = Some(days_back);
        let first = *self.first_session.get_or_insert(days_back);
        self.body.begin_session(self.world, &mut self.dice);
        if let Some(day) = self.days.last_mut() {
            day.unaccustomed = self.body.unaccustomed();
        }
        let away = gap > LAYOFF_DAYS;
        if away {
            self.re_enter();
            self.back_since = Some(days_back);
        }
        let session = Session {
            day_idx,
            days_back,
            when,
            record_day: first - days_back,
            days_since_layoff: self.back_since.map(|since| since - days_back),
        };
        for slot_idx in 0..self.progress[day_idx].len() {
            self.grow(self.progress[day_idx][slot_idx].skill_idx, days_back);
            self.exercise(session, slot_idx, away && slot_idx == 0)?;
        }
        Ok(())
    }

    /// Usually as planned, or some minutes later; on the last day early, so that it is past.
    fn session_time(&mut self, days_back: i32) -> Option<Time> {
        let later = self.dice.below(10) as i8 * 5;
        let (hour, minute) = self.person.habits.time?;
        if days_back == 0 {
            return Some(Time::constant(5, 45, 0, 0));
        }
        let minutes = minute + later;
        Some(Time::constant(hour + minutes / 60, minutes % 60, 0, 0))
    }

    /// After a layoff every load starts a tenth lower.
    fn re_enter(&mut self) {
        for state in self.progress.iter_mut().flatten() {
            let lift = self.skills[state.skill_idx].lift;
            if let Some(steps) = state.load {
                let rack = Rack::of(lift, self.person.unit);
                let body = lift.moved_kg(0.0, self.person.body_mass_kg);
                let less = (rack.kg(steps) + body) * 0.9 - body;
                state.load = Some(rack.at_most(less));
            }
            state.at_top = 0;
            state.below = 0;
            state.last_lead = None;
        }
    }

    /// What training since the last exposure has added.
    fn grow(&mut self, skill_idx: usize, days_back: i32) {
        let skill = &mut self.skills[skill_idx];
        let days = skill.last_day.map_or(0, |last| (last - days_back).min(10));
        skill.last_day = Some(days_back);
        let fading = 1.0 / (1.0 + skill.gained / self.person.half_gain);
        let weekly = self.person.weekly_gain * skill.gain_factor * fading;
        skill.gained += weekly * f64::from(days) / 7.0 * self.body.drive(skill.lift);
    }
}

/// The share of a lift's own wandering that is left after a day.
pub(super) const WANDER_KEPT: f64 = 0.94;
/// Standard deviation of what a day adds to it, as log strength.
pub(super) const WANDER_NEWS_SD: f64 = 0.0017;
/// How much the cost of a repetition differs between lifts: sd of the logarithm.
const REP_COST_LOG_SD: f64 = 0.1;

fn skill<'a>(
    world: &World,
    person: &Person,
    lift: &'a Lift,
    max: f64,
    dice: &mut Dice,
) -> Skill<'a> {
    let moved = lift.moved_kg(max * person.strength_scale, person.body_mass_kg);
    Skill {
        lift,
        log_max: libm::log(moved.max(1.0)),
        gained: 0.0,
        gain_factor: libm::exp(0.25 * dice.normal()),
        wander: 0.0,
        rep_cost: libm::exp(REP_COST_LOG_SD * dice.normal()),
        scatter_sd: scatter(lift.equipment) * world.scatter_scale * person.unsteadiness,
        last_day: None,
        capacities: Vec::new(),
    }
}

fn progress(person: &Person, skills: &[Skill]) -> Result<Vec<Vec<Progress>>, DrawError> {
    let of = |name: &String| {
        skills
            .iter()
            .position(|skill| skill.lift.name.as_str() == name)
            .map(|skill_idx| Progress { skill_idx, ..Progress::default() })
            .ok_or_else(|| DrawError::UnknownLift(name.clone()))
    };
    person.week.iter().map(|day| day.lifts.iter().map(|slot| of(&slot.lift)).collect()).collect()
}

/// Scatter of a class from session to session, as a standard deviation of log load: trained lifters
/// on familiar lifts 2–3 %, cables more (see the catalogue's starting scatter for sources).
fn scatter(class: EquipmentClass) -> f64 {
    match class {
        EquipmentClass::Barbell | EquipmentClass::GuidedBarbell => 0.016,
        EquipmentClass::Bodyweight => 0.018,
        EquipmentClass::Dumbbell | EquipmentClass::Kettlebell => 0.022,
        EquipmentClass::PlateMachine => 0.022,
        EquipmentClass::Stack => 0.028,
        EquipmentClass::Cable => 0.045,
    }
}
