//! One lift of one session of a virtual lifter: warm-ups, perhaps a test, the work sets, what follows
//! for the next time, and what is written down.
//!
//! Double progression: a set stops at the top of its range or at the reserve aimed at, whichever
//! comes first; a lead set at the top, with no later set more than one repetition short of it, raises
//! the load; two lead sets in a row below the range lower it.

use domain::{
    EquipmentClass, Lift, LoggedSet, Note, Refused, Reps, Rir, SetId, SetKind, SetNumber,
};

use super::dice::rounded;
use super::person::{RirHabit, Slot};
use super::rack::Rack;
use super::simulate::{Session, Simulation};
use super::{DrawError, HiddenExercise, Truth, USUAL_EXPOSURES};

/// A load rises only when its set can be done; a step above this share of it waits for a second
/// good session.
const COARSE_STEP: f64 = 0.06;
/// Log capacity that each work set after the first lacks, besides what muscles lose.
pub(super) const TIRED_A_SET: f64 = 0.008;
/// Standard deviation of log capacity from set to set.
pub(super) const SET_SD: f64 = 0.004;
/// Repetitions by which a set stops early or late: standard deviation.
pub(super) const STOP_SD: f64 = 0.5;
/// What a single as heavy as goes, and a speed set, cost next to a hard set.
pub(super) const TEST_EFFORT: f64 = 0.8;
pub(super) const SPEED_EFFORT: f64 = 0.2;
/// Repetitions less that the last set of a lift leaves in reserve.
pub(super) const LAST_SET_CLOSER: f64 = 0.7;

/// One set about to be written down.
struct Entry {
    kind: SetKind,
    steps: i64,
    reps: u16,
    rir: Option<f64>,
    effort: f64,
    note: &'static str,
}

/// One lift of one session.
struct Exercise<'a> {
    session: Session,
    slot_idx: usize,
    slot: &'a Slot,
    skill_idx: usize,
    lift: &'a Lift,
    rack: Rack,
}

/// Log capacity without scatter, and what is missing in it today.
#[derive(Clone, Copy)]
struct Capacity {
    log: f64,
    in_muscles: f64,
    in_whole_body: f64,
    guarding: f64,
}

impl<'a> Simulation<'a> {
    /// Does one lift of a session and writes it down.
    pub(super) fn exercise(
        &mut self,
        session: Session,
        slot_idx: usize,
        first_back: bool,
    ) -> Result<(), DrawError> {
        let skill_idx = self.progress[session.day_idx][slot_idx].skill_idx;
        let lift = self.skills[skill_idx].lift;
        let slot = &self.person.week[session.day_idx].lifts[slot_idx];
        let rack = Rack::of(lift, self.person.unit);
        let at = Exercise { session, slot_idx, slot, skill_idx, lift, rack };
        let capacity = self.capacity(&at);
        let today =
            capacity.log + self.skills[skill_idx].scatter_sd * self.dice.unusual(self.world.tail);
        let steps = self.planned_load(&at, capacity.log);
        let mut entries = Vec::new();
        if self.person.habits.warm_ups && lift.equipment == EquipmentClass::Barbell {
            warm_up(&at.rack, steps, &mut entries);
        }
        let test_day = self.progress[session.day_idx][slot_idx].exposures % 9 == 8;
        if self.person.habits.tests && slot_idx == 0 && test_day {
            self.test(&at, today, &mut entries);
        }
        let n_before = entries.len();
        self.work_sets(&at, steps, today - capacity.log, &mut entries);
        if first_back && let Some(first) = entries.get_mut(n_before) {
            first.note = "first session back";
        }
        self.write(&at, &entries, capacity)
    }

    fn capacity(&self, at: &Exercise) -> Capacity {
        let skill = &self.skills[at.skill_idx];
        let complaint = |joint| self.person.complaint(joint, at.session.days_back);
        let guarding: f64 = at
            .lift
            .joints
            .iter()
            .map(|j| j.get() * 0.004 * (complaint(j.joint) - 3.0).max(0.0))
            .sum();
        let in_muscles = self.body.in_muscles(at.lift);
        let in_whole_body = self.body.in_whole_body();
        let lasting = skill.log_max + skill.gained + skill.wander - self.body.lost(at.lift);
        let log = lasting - (in_muscles + in_whole_body + guarding);
        Capacity { log, in_muscles, in_whole_body, guarding }
    }

    fn moved_kg(&self, at: &Exercise, steps: i64) -> f64 {
        at.lift.moved_kg(at.rack.kg(steps), self.person.body_mass_kg)
    }

    /// Repetitions to failure with so many steps, fractional.
    fn possible(&self, at: &Exercise, steps: i64, log_capacity: f64) -> f64 {
        let spare = log_capacity - libm::log(self.moved_kg(at, steps));
        self.world.curve.reps(spare, self.skills[at.skill_idx].rep_cost)
    }

    /// The load of the plan; at first one that suits the range, as the lifter judges it.
    fn planned_load(&mut self, at: &Exercise, log_capacity: f64) -> i64 {
        let guess = log_capacity + 0.02 * self.dice.normal();
        let skill = &self.skills[at.skill_idx];
        let state = &mut self.progress[at.session.day_idx][at.slot_idx];
        state.exposures += 1;
        if let Some(steps) = state.load {
            return steps;
        }
        let reps = f64::from(at.slot.low) + 1.0 + self.person.reserve;
        let moved = libm::exp(guess + self.world.curve.log_share(reps, skill.rep_cost));
        let steps = at.rack.at_most(at.lift.load_kg(moved, self.person.body_mass_kg));
        state.load = Some(steps);
        steps
    }

    /// A single as heavy as goes: the heaviest loadable load that the day allows.
    fn test(&mut self, at: &Exercise, today: f64, entries: &mut Vec<Entry>) {
        let most = at.lift.load_kg(libm::exp(today), self.person.body_mass_kg);
        let steps = at.rack.at_most(most);
        let rir = (self.person.habits.rir != RirHabit::Never).then_some(0.0);
        let note = "single, no more";
        let effort = TEST_EFFORT;
        entries.push(Entry { kind: SetKind::Test, steps, reps: 1, rir, effort, note });
        self.body.work(self.world, at.lift, effort);
    }

    fn work_sets(&mut self, at: &Exercise, planned: i64, scatter: f64, entries: &mut Vec<Entry>) {
        let mut steps = planned;
        let mut done = Vec::new();
        for set in 0..at.slot.sets {
            let tired = TIRED_A_SET * f64::from(set);
            let capacity = self.capacity(at).log;
            let now = capacity + scatter - tired + SET_SD * self.dice.normal();
            let mut possible = self.possible(at, steps, now);
            while possible < 2.0 && at.rack.down(steps) < steps {
                steps = at.rack.down(steps);
                possible = self.possible(at, steps, now);
            }
            if possible < 1.0 {
                break; // a failed attempt is no set
            }
            let last = set + 1 == at.slot.sets;
            let (reps, rir) = self.stop(possible, at.slot.high, last);
            let reserve = possible.floor() - f64::from(reps);
            let effort = effort_of(reserve);
            entries.push(Entry { kind: SetKind::Work, steps, reps, rir, effort, note: "" });
            done.push(reps);
            self.body.work(self.world, at.lift, effort);
            if set == 0 && self.turns_to_speed(at, steps, reps) {
                self.speed(at, now, entries);
                break;
            }
        }
        self.progress_from(at, steps, &done);
    }

    /// When the set ends, and what reserve is reported. Effort is felt, not known: the reserve is
    /// misjudged by more the larger it is (Zourdos 2021, Hackett 2017), and always in one direction
    /// by some.
    fn stop(&mut self, possible: f64, high: u16, last: bool) -> (u16, Option<f64>) {
        let most = possible.floor().clamp(1.0, f64::from(Reps::MAX)) as u16; // in range
        let aim = aim(self.person.reserve, last);
        let stops = (possible - aim + STOP_SD * self.dice.normal()).floor().max(1.0) as u16;
        let reps = stops.min(high).min(most);
        let reserve = f64::from(most - reps);
        let (bias, spread) = felt_reserve(reserve, self.person.habits.rir_bias);
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
        let last = self.progress[at.session.day_idx][at.slot_idx].last_lead;
        self.person.habits.speed_work
            && at.session.days_back < 21
            && at.lift.speed_ok
            && at.lift.equipment == EquipmentClass::Barbell
            && (reps < at.slot.low
                || last.is_some_and(|(load, before)| load == steps && reps + 2 <= before))
    }

    fn speed(&mut self, at: &Exercise, now: f64, entries: &mut Vec<Entry>) {
        let steps = at.rack.at_most(0.65 * libm::exp(now));
        for _ in 0..3 {
            let (kind, effort) = (SetKind::Speed, SPEED_EFFORT);
            entries.push(Entry { kind, steps, reps: 3, rir: None, effort, note: "" });
            self.body.work(self.world, at.lift, effort);
        }
    }

    /// Double progression, from what was done.
    fn progress_from(&mut self, at: &Exercise, steps: i64, done: &[u16]) {
        let state = &mut self.progress[at.session.day_idx][at.slot_idx];
        state.load = Some(steps);
        let Some(lead) = done.first() else { return };
        state.last_lead = Some((steps, *lead));
        let nearly = done.iter().all(|reps| reps + 1 >= at.slot.high);
        let at_top = done.len() == usize::from(at.slot.sets) && *lead == at.slot.high && nearly;
        state.at_top = if at_top { state.at_top + 1 } else { 0 };
        state.below = if *lead < at.slot.low { state.below + 1 } else { 0 };
        let moved = at.lift.moved_kg(at.rack.kg(steps), self.person.body_mass_kg);
        let coarse = at.rack.kg(at.rack.up(steps)) - at.rack.kg(steps) > COARSE_STEP * moved;
        if state.at_top >= if coarse { 2 } else { 1 } {
            state.load = Some(at.rack.up(steps));
            state.at_top = 0;
        } else if state.below >= 2 {
            let less = at.lift.load_kg(moved * 0.95, self.person.body_mass_kg);
            state.load = Some(at.rack.at_most(less).min(at.rack.down(steps)));
            state.below = 0;
        }
    }

    fn write(
        &mut self,
        at: &Exercise,
        entries: &[Entry],
        capacity: Capacity,
    ) -> Result<(), DrawError> {
        let first_set = self.sets.len();
        let mut lead = None;
        for (place, entry) in (1..).zip(entries) {
            let set = self.logged(at, place, entry)?;
            if lead.is_none() && entry.kind.can_lead() {
                lead = Some(set.id());
            }
            self.sets.push(set);
        }
        let skill = &self.skills[at.skill_idx];
        let told = skill.gained - self.body.lost(at.lift) - capacity.guarding;
        if let Some(day) = self.days.last_mut() {
            day.exercises.push(HiddenExercise {
                lift_idx: at.skill_idx,
                sets: first_set..self.sets.len(),
                planned_sets: at.slot.sets,
                high: at.slot.high,
                told_level: told,
                efforts: entries.iter().map(|entry| entry.effort).collect(),
            });
        }
        if let Some(set) = lead {
            self.keep_truth(at, set, capacity);
        }
        self.skills[at.skill_idx].capacities.push(capacity.log);
        Ok(())
    }

    fn logged(&self, at: &Exercise, place: u8, entry: &Entry) -> Result<LoggedSet, Refused> {
        Ok(LoggedSet {
            lifter: self.name.clone(),
            when: at.session.when,
            lift: at.lift.name.clone(),
            number: SetNumber::new(place)?,
            kind: entry.kind,
            load: at.rack.load(entry.steps)?,
            reps: Reps::new(entry.reps)?,
            rir: entry.rir.map(Rir::new).transpose()?,
            note: Note::new(entry.note)?,
        })
    }

    fn keep_truth(&mut self, at: &Exercise, set: SetId, capacity: Capacity) {
        let capacities = &self.skills[at.skill_idx].capacities;
        let before = &capacities[capacities.len().saturating_sub(USUAL_EXPOSURES)..];
        let usual = before.iter().sum::<f64>() / before.len().max(1) as f64;
        let acute = capacity.in_muscles + capacity.in_whole_body + capacity.guarding;
        let pct = |log: f64| rounded(100.0 * log, 1e6);
        self.truths.push(Truth {
            lifter: self.name.clone(),
            when: at.session.when,
            lift: at.lift.name.clone(),
            set,
            record_day: at.session.record_day,
            days_since_layoff: at.session.days_since_layoff,
            exposures_before: capacities.len(),
            shortfall_pct: (before.len() >= 3).then(|| pct(usual - capacity.log)),
            acute_pct: pct(acute),
            in_muscles_pct: pct(capacity.in_muscles),
            in_whole_body_pct: pct(capacity.in_whole_body),
            log_capacity: capacity.log,
            moved_max_kg: rounded(libm::exp(capacity.log), 1e3),
        });
    }
}

/// What a work set costs by the repetitions it leaves.
pub(super) fn effort_of(reserve: f64) -> f64 {
    (1.15 - 0.1 * reserve).clamp(0.5, 1.15)
}

/// The reserve aimed at in a set.
pub(super) fn aim(reserve: f64, last: bool) -> f64 {
    (reserve - if last { LAST_SET_CLOSER } else { 0.0 }).max(0.0)
}

/// Bias and standard deviation with which a true `reserve` is felt, in repetitions.
pub(super) fn felt_reserve(reserve: f64, rir_bias: f64) -> (f64, f64) {
    (if reserve > 0.0 { rir_bias } else { 0.0 }, 0.35 + 0.25 * reserve)
}

/// Three sets on the way up to a bar's work load; none when the bar alone is nearly that.
fn warm_up(rack: &Rack, steps: i64, entries: &mut Vec<Entry>) {
    for (share, reps) in [(0.4, 8), (0.6, 5), (0.8, 3)] {
        let lighter = rack.at_most(rack.kg(steps) * share);
        let repeated = entries.last().is_some_and(|entry| entry.steps >= lighter);
        if lighter < steps && !repeated {
            let (kind, note) = (SetKind::WarmUp, "");
            entries.push(Entry { kind, steps: lighter, reps, rir: None, effort: 0.0, note });
        }
    }
}
