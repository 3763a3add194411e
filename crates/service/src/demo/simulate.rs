//! Writes an invented lifter's diary, day by day: sessions by the plan, check-ins, and the truth.
//!
//! Lifters train by double progression and by nothing else: a set stops at the top of its range or
//! at the reserve aimed at, whichever comes first; a lead set at the top, with no later set more than
//! one repetition short of it, raises the load; two lead sets in a row below the range lower it. Nobody here cuts back because of fatigue.

use domain::{
    Catalogue, CheckIn, EquipmentClass, Joint, Lift, LiftName, LifterName, Load, LoggedSet, Mass,
    Note, Pain, Refused, Reps, Rir, SetKind, SetNumber, Unit, When,
};
use jiff::ToSpan;
use jiff::civil::{Date, Time};

use super::body::{Body, Dice, log_share_at, reps_to_failure, rounded};
use super::person::{Event, Person, RirHabit, Slot};
use super::{DemoError, Truth};

/// Log load that one repetition costs most people.
const REP_COST: f64 = 0.033;
/// Exposures that make up what is usual.
const USUAL_EXPOSURES: usize = 8;
/// A load rises only when its set can be done; a step above this share of it waits for a second
/// good session.
const COARSE_STEP: f64 = 0.06;

/// What one lifter wrote down, and what was so.
#[derive(Default)]
pub(super) struct Diary {
    /// Sets in the order in which they were done.
    pub(super) sets: Vec<LoggedSet>,
    /// Check-ins by date.
    pub(super) check_ins: Vec<CheckIn>,
    /// One entry for each lead set.
    pub(super) truths: Vec<Truth>,
}

/// Simulates `person` up to `today`.
pub(super) fn diary(
    person: &Person,
    catalogue: &Catalogue,
    today: Date,
    seed: u64,
    stream: u64,
) -> Result<Diary, DemoError> {
    let mut simulation = Simulation::new(person, catalogue, seed, stream)?;
    for days_back in (0..person.days).rev() {
        let date = today.saturating_sub(days_back.days());
        simulation.live(days_back, date)?;
    }
    Ok(simulation.diary)
}

/// One lift as this lifter does it.
struct Skill<'a> {
    lift: &'a Lift,
    log_max: f64,
    gained: f64,
    gain_factor: f64,
    wander: f64,
    rep_cost: f64,
    last_day: Option<i32>,
    capacities: Vec<f64>,
}

/// Where the progression of one lift on one weekday stands.
#[derive(Clone, Copy, Default)]
struct Progress {
    load: Option<i64>,
    at_top: u8,
    below: u8,
    last_lead: Option<(i64, u16)>,
    exposures: u16,
}

/// One set about to be written down.
struct Entry {
    kind: SetKind,
    steps: i64,
    reps: u16,
    rir: Option<f64>,
    note: &'static str,
}

struct Simulation<'a> {
    person: &'a Person,
    name: LifterName,
    dice: Dice,
    body: Body,
    skills: Vec<Skill<'a>>,
    progress: Vec<Vec<Progress>>,
    last_session: Option<i32>,
    diary: Diary,
}

impl<'a> Simulation<'a> {
    fn new(
        person: &'a Person,
        catalogue: &'a Catalogue,
        seed: u64,
        stream: u64,
    ) -> Result<Simulation<'a>, DemoError> {
        let mut dice = Dice::new(seed, stream);
        let body = Body::new(&mut dice, person.half_gain < 0.1);
        let mut skills = Vec::new();
        for (name, max) in person.strengths {
            let lift = LiftName::new(name)?;
            let lift = catalogue
                .find(&lift)
                .ok_or_else(|| DemoError::UnknownLift(lift.as_str().to_owned()))?;
            let moved = lift.moved_kg(max * person.strength_scale, person.body_mass_kg);
            skills.push(Skill {
                lift,
                log_max: libm::log(moved.max(1.0)),
                gained: 0.0,
                gain_factor: libm::exp(0.25 * dice.normal()),
                wander: 0.0,
                rep_cost: REP_COST * libm::exp(0.1 * dice.normal()),
                last_day: None,
                capacities: Vec::new(),
            });
        }
        let progress =
            person.week.iter().map(|day| vec![Progress::default(); day.lifts.len()]).collect();
        Ok(Simulation {
            person,
            name: LifterName::new(&person.name)?,
            dice,
            body,
            skills,
            progress,
            last_session: None,
            diary: Diary::default(),
        })
    }

    /// One day: the night, the check-in, and the session if there is one.
    fn live(&mut self, days_back: i32, date: Date) -> Result<(), DemoError> {
        self.body.wake(self.person, days_back, &mut self.dice);
        for skill in &mut self.skills {
            skill.wander = 0.94 * skill.wander + 0.0017 * self.dice.normal();
        }
        let away =
            self.person.events.iter().any(
                |e| matches!(e, Event::Away { from, to } if (*to..=*from).contains(&days_back)),
            );
        if away {
            return Ok(());
        }
        let worst = self
            .person
            .events
            .iter()
            .any(|e| matches!(e, Event::Complaint { worst, .. } if *worst == days_back));
        if self.dice.happens(self.person.habits.check_ins) || worst {
            self.check_in(days_back, date)?;
        }
        let planned = self.person.week.iter().position(|day| day.days_back == days_back % 7);
        let missed = self.dice.happens(self.person.habits.missed) && days_back > 3;
        match planned {
            Some(day_idx) if !missed => self.session(day_idx, days_back, date),
            _ => Ok(()),
        }
    }

    fn check_in(&mut self, days_back: i32, date: Date) -> Result<(), DemoError> {
        let time = self.person.habits.time.map(|_| Time::constant(6, 30, 0, 0));
        let weighs = self.dice.happens(0.4);
        let scale = self.person.body_mass_kg + 0.5 * self.dice.normal();
        let pain = match self.pain(days_back) {
            Some((joint, rating)) => Some(Pain::new(joint, rating)?),
            None => None,
        };
        let soreness = self.body.soreness() + 0.6 * self.dice.normal();
        self.diary.check_ins.push(CheckIn {
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
                let rating = (self.complaint(*joint, days_back) + wobble).round().clamp(0.0, 5.0);
                (rating > 0.0).then_some((*joint, rating as u8)) // 1 to 5
            }
            _ => None,
        })
    }

    /// How much `joint` complains, 0 to 4.5, on its way up to the worst day.
    fn complaint(&self, joint: Joint, days_back: i32) -> f64 {
        self.person
            .events
            .iter()
            .map(|event| match event {
                Event::Complaint { joint: which, from, worst } if *which == joint => {
                    let share = f64::from(from - days_back) / f64::from((from - worst).max(1));
                    4.5 * share.clamp(0.0, 1.0)
                }
                _ => 0.0,
            })
            .fold(0.0, f64::max)
    }

    fn session(&mut self, day_idx: usize, days_back: i32, date: Date) -> Result<(), DemoError> {
        let when = When::new(date, self.session_time(days_back))?;
        let gap = self.last_session.map_or(0, |last| last - days_back);
        self.last_session = Some(days_back);
        self.body.begin_session(&mut self.dice);
        if gap > 14 {
            self.re_enter();
        }
        for (slot_idx, slot) in self.person.week[day_idx].lifts.iter().enumerate() {
            let Some(skill_idx) = self.skill_of(slot) else {
                return Err(DemoError::UnknownLift(slot.lift.to_owned()));
            };
            let first_back = gap > 14 && slot_idx == 0;
            self.grow(skill_idx, days_back);
            let lift =
                Exercise { day_idx, slot_idx, skill_idx, slot: *slot, days_back, first_back };
            self.exercise(&lift, when)?;
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
        for (day, progress) in self.person.week.iter().zip(&mut self.progress) {
            for (slot, state) in day.lifts.iter().zip(progress) {
                let skill = self.skills.iter().find(|s| named(s.lift, slot.lift));
                if let (Some(skill), Some(steps)) = (skill, state.load) {
                    let rack = Rack::of(skill.lift, self.person.unit);
                    let body = skill.lift.moved_kg(0.0, self.person.body_mass_kg);
                    let less = (rack.kg(steps) + body) * 0.9 - body;
                    state.load = Some(rack.at_most(less));
                }
                state.at_top = 0;
                state.below = 0;
                state.last_lead = None;
            }
        }
    }

    fn skill_of(&self, slot: &Slot) -> Option<usize> {
        self.skills.iter().position(|skill| named(skill.lift, slot.lift))
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

    /// Log capacity now, without scatter, and the part of it that is missing for want of recovery.
    fn capacity(&self, skill_idx: usize, days_back: i32) -> (f64, f64) {
        let skill = &self.skills[skill_idx];
        let guarding: f64 = skill
            .lift
            .joints
            .iter()
            .map(|j| j.get() * 0.004 * (self.complaint(j.joint, days_back) - 3.0).max(0.0))
            .sum();
        let acute = self.body.acute(skill.lift) + guarding;
        let lasting = skill.log_max + skill.gained + skill.wander - self.body.lost(skill.lift);
        (lasting - acute, acute)
    }

    fn moved_kg(&self, skill_idx: usize, rack: &Rack, steps: i64) -> f64 {
        self.skills[skill_idx].lift.moved_kg(rack.kg(steps), self.person.body_mass_kg)
    }

    /// One lift of the session: warm-ups, perhaps a test, the work sets, and what follows from them.
    fn exercise(&mut self, at: &Exercise, when: When) -> Result<(), DemoError> {
        let lift = self.skills[at.skill_idx].lift;
        let rack = Rack::of(lift, self.person.unit);
        let (capacity, acute) = self.capacity(at.skill_idx, at.days_back);
        let spread = scatter(lift.equipment) * self.person.unsteadiness;
        let today = capacity + spread * self.dice.heavy();
        let steps = self.planned_load(at, &rack, capacity);
        let mut entries = Vec::new();
        if self.person.habits.warm_ups && lift.equipment == EquipmentClass::Barbell {
            warm_up(&rack, steps, &mut entries);
        }
        let test_day = self.progress[at.day_idx][at.slot_idx].exposures % 9 == 8;
        if self.person.habits.tests && at.slot_idx == 0 && test_day {
            self.test(at, &rack, today, &mut entries);
        }
        let n_before = entries.len();
        self.work_sets(at, &rack, steps, today - capacity, &mut entries);
        if at.first_back
            && let Some(first) = entries.get_mut(n_before)
        {
            first.note = "first session back";
        }
        self.write(at, when, &rack, &entries, (capacity, acute))
    }

    /// The load of the plan; at first one that suits the range, as the lifter judges it.
    fn planned_load(&mut self, at: &Exercise, rack: &Rack, capacity: f64) -> i64 {
        let guess = capacity + 0.02 * self.dice.normal();
        let skill = &self.skills[at.skill_idx];
        let state = &mut self.progress[at.day_idx][at.slot_idx];
        state.exposures += 1;
        if let Some(steps) = state.load {
            return steps;
        }
        let reps = f64::from(at.slot.low) + 1.0 + self.person.reserve;
        let moved = libm::exp(guess + log_share_at(reps, skill.rep_cost));
        let steps = rack.at_most(skill.lift.load_kg(moved, self.person.body_mass_kg));
        state.load = Some(steps);
        steps
    }

    /// A single as heavy as goes: the heaviest loadable load that the day allows.
    fn test(&mut self, at: &Exercise, rack: &Rack, today: f64, entries: &mut Vec<Entry>) {
        let lift = self.skills[at.skill_idx].lift;
        let steps = rack.at_most(lift.load_kg(libm::exp(today), self.person.body_mass_kg));
        let rir = (self.person.habits.rir != RirHabit::Never).then_some(0.0);
        entries.push(Entry { kind: SetKind::Test, steps, reps: 1, rir, note: "single, no more" });
        self.body.work(lift, 0.8);
    }

    fn work_sets(
        &mut self,
        at: &Exercise,
        rack: &Rack,
        planned: i64,
        scatter: f64,
        entries: &mut Vec<Entry>,
    ) {
        let lift = self.skills[at.skill_idx].lift;
        let cost = self.skills[at.skill_idx].rep_cost;
        let mut steps = planned;
        let mut done = Vec::new();
        for set in 0..at.slot.sets {
            let tired = 0.008 * f64::from(set);
            let (capacity, _) = self.capacity(at.skill_idx, at.days_back);
            let now = capacity + scatter - tired + 0.004 * self.dice.normal();
            let mut possible = reps_to_failure(now, self.moved_kg(at.skill_idx, rack, steps), cost);
            while possible < 2.0 && rack.down(steps) < steps {
                steps = rack.down(steps);
                possible = reps_to_failure(now, self.moved_kg(at.skill_idx, rack, steps), cost);
            }
            if possible < 1.0 {
                break; // a failed attempt is no set
            }
            let last = set + 1 == at.slot.sets;
            let (reps, rir) = self.stop(possible, at.slot.high, last);
            entries.push(Entry { kind: SetKind::Work, steps, reps, rir, note: "" });
            done.push(reps);
            let reserve = possible.floor() - f64::from(reps);
            self.body.work(lift, (1.15 - 0.1 * reserve).clamp(0.5, 1.15));
            if set == 0 && self.turns_to_speed(at, steps, reps) {
                self.speed(at, rack, now, entries);
                break;
            }
        }
        self.progress_from(at, rack, steps, &done);
    }

    /// When the set ends, and what reserve is reported. Effort is felt, not known: the reserve is
    /// misjudged by more the larger it is (Zourdos 2021, Hackett 2017), and always in one direction
    /// by some.
    fn stop(&mut self, possible: f64, high: u16, last: bool) -> (u16, Option<f64>) {
        let most = possible.floor().clamp(1.0, f64::from(Reps::MAX)) as u16; // in range
        let aim = (self.person.reserve - if last { 0.7 } else { 0.0 }).max(0.0);
        let stops = (possible - aim + 0.5 * self.dice.normal()).floor().max(1.0) as u16;
        let reps = stops.min(high).min(most);
        let reserve = f64::from(most - reps);
        let spread = 0.35 + 0.25 * reserve;
        let bias = if reserve > 0.0 { self.person.habits.rir_bias } else { 0.0 };
        let felt = (reserve + bias + spread * self.dice.normal()).clamp(0.0, 6.0);
        let rir = match self.person.habits.rir {
            RirHabit::Never => None,
            RirHabit::Whole => Some(felt.round()),
            RirHabit::Halves => Some(rounded(felt, 2.0)),
        };
        (reps, rir)
    }

    /// In the last weeks one lifter tries it: a lead set below its range, or two repetitions short
    /// of the last one with the same load, ends the work sets.
    fn turns_to_speed(&self, at: &Exercise, steps: i64, reps: u16) -> bool {
        let lift = self.skills[at.skill_idx].lift;
        let last = self.progress[at.day_idx][at.slot_idx].last_lead;
        self.person.habits.speed_work
            && at.days_back < 21
            && lift.speed_ok
            && lift.equipment == EquipmentClass::Barbell
            && (reps < at.slot.low
                || last.is_some_and(|(load, before)| load == steps && reps + 2 <= before))
    }

    fn speed(&mut self, at: &Exercise, rack: &Rack, now: f64, entries: &mut Vec<Entry>) {
        let lift = self.skills[at.skill_idx].lift;
        let steps = rack.at_most(0.65 * libm::exp(now));
        for _ in 0..3 {
            entries.push(Entry { kind: SetKind::Speed, steps, reps: 3, rir: None, note: "" });
            self.body.work(lift, 0.2);
        }
    }

    /// Double progression, from what was done.
    fn progress_from(&mut self, at: &Exercise, rack: &Rack, steps: i64, done: &[u16]) {
        let state = &mut self.progress[at.day_idx][at.slot_idx];
        state.load = Some(steps);
        let Some(lead) = done.first() else { return };
        state.last_lead = Some((steps, *lead));
        let nearly = done.iter().all(|reps| reps + 1 >= at.slot.high);
        let at_top = done.len() == usize::from(at.slot.sets) && *lead == at.slot.high && nearly;
        state.at_top = if at_top { state.at_top + 1 } else { 0 };
        state.below = if *lead < at.slot.low { state.below + 1 } else { 0 };
        let lift = self.skills[at.skill_idx].lift;
        let moved = lift.moved_kg(rack.kg(steps), self.person.body_mass_kg);
        let coarse = rack.kg(rack.up(steps)) - rack.kg(steps) > COARSE_STEP * moved;
        if state.at_top >= if coarse { 2 } else { 1 } {
            state.load = Some(rack.up(steps));
            state.at_top = 0;
        } else if state.below >= 2 {
            let less = lift.load_kg(moved * 0.95, self.person.body_mass_kg);
            state.load = Some(rack.at_most(less).min(rack.down(steps)));
            state.below = 0;
        }
    }

    fn write(
        &mut self,
        at: &Exercise,
        when: When,
        rack: &Rack,
        entries: &[Entry],
        (capacity, acute): (f64, f64),
    ) -> Result<(), DemoError> {
        let skill = &mut self.skills[at.skill_idx];
        let mut lead = None;
        for (place, entry) in (1..).zip(entries) {
            let set = LoggedSet {
                lifter: self.name.clone(),
                when,
                lift: skill.lift.name.clone(),
                number: SetNumber::new(place)?,
                kind: entry.kind,
                load: rack.load(entry.steps)?,
                reps: Reps::new(entry.reps)?,
                rir: entry.rir.map(Rir::new).transpose()?,
                note: Note::new(entry.note)?,
            };
            if lead.is_none() && entry.kind.can_lead() {
                lead = Some(set.id());
            }
            self.diary.sets.push(set);
        }
        let before = &skill.capacities[skill.capacities.len().saturating_sub(USUAL_EXPOSURES)..];
        let usual = before.iter().sum::<f64>() / before.len().max(1) as f64;
        if let Some(set) = lead {
            self.diary.truths.push(Truth {
                lifter: self.name.clone(),
                when,
                lift: skill.lift.name.clone(),
                set,
                shortfall_pct: (before.len() >= 3)
                    .then(|| rounded(100.0 * (usual - capacity), 1e6)),
                acute_pct: rounded(100.0 * acute, 1e6),
                moved_max_kg: rounded(libm::exp(capacity), 1e3),
            });
        }
        skill.capacities.push(capacity);
        Ok(())
    }
}

/// One lift of one session.
struct Exercise {
    day_idx: usize,
    slot_idx: usize,
    skill_idx: usize,
    slot: Slot,
    days_back: i32,
    first_back: bool,
}

/// The loads that there are: whole steps above what can't be taken off.
struct Rack {
    unit: Unit,
    step: f64,
    least: i64,
}

impl Rack {
    /// The usual steps: in kilograms the catalogue's, in pounds those of a gym with pound plates
    /// (common practice, no source).
    fn of(lift: &Lift, unit: Unit) -> Rack {
        let small = lift.increment <= Mass::try_from_grams(1_000).unwrap_or(Mass::ZERO);
        let step = match (unit, lift.equipment) {
            (Unit::Kg, _) => lift.increment.kg(),
            (Unit::Lb, EquipmentClass::Stack | EquipmentClass::PlateMachine) => 10.0,
            (Unit::Lb, EquipmentClass::Dumbbell) if small => 2.5,
            (Unit::Lb, EquipmentClass::Bodyweight) => 2.5,
            (Unit::Lb, _) => 5.0,
        };
        let bar = if unit == Unit::Kg { 20.0 } else { 45.0 };
        let least = match lift.equipment {
            EquipmentClass::Barbell | EquipmentClass::GuidedBarbell => (bar / step) as i64, // whole
            EquipmentClass::Bodyweight if lift.name.key().starts_with("assisted") => -20,
            EquipmentClass::Bodyweight => 0,
            _ => 1,
        };
        Rack { unit, step, least }
    }

    fn kg(&self, steps: i64) -> f64 {
        steps as f64 * self.step * self.unit.kg()
    }

    fn load(&self, steps: i64) -> Result<Load, Refused> {
        Load::new(steps as f64 * self.step, self.unit)
    }

    /// The heaviest load of at most `kg`, or the lightest that there is.
    fn at_most(&self, kg: f64) -> i64 {
        ((kg / self.unit.kg() / self.step + 1e-9).floor() as i64).max(self.least)
    }

    fn up(&self, steps: i64) -> i64 {
        steps + 1
    }

    fn down(&self, steps: i64) -> i64 {
        (steps - 1).max(self.least)
    }
}

fn named(lift: &Lift, name: &str) -> bool {
    lift.name.as_str() == name
}

/// Three sets on the way up to a bar's work load; none when the bar alone is nearly that.
fn warm_up(rack: &Rack, steps: i64, entries: &mut Vec<Entry>) {
    for (share, reps) in [(0.4, 8), (0.6, 5), (0.8, 3)] {
        let lighter = rack.at_most(rack.kg(steps) * share);
        let repeated = entries.last().is_some_and(|entry| entry.steps >= lighter);
        if lighter < steps && !repeated {
            entries.push(Entry {
                kind: SetKind::WarmUp,
                steps: lighter,
                reps,
                rir: None,
                note: "",
            });
        }
    }
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
