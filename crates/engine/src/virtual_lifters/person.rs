//! A virtual lifter as the generator sees one: body, plan, habits, and what happens along the way.
//!
//! Nothing here is fitted to anything. Days are counted backwards from the last day of the record,
//! so that a scenario stays as it is whenever it is opened.

use domain::{Joint, Muscle, Unit};

/// One lift of a training day.
#[derive(Clone, Debug, PartialEq)]
pub struct Slot {
    /// The lift, by a name that the catalogue knows.
    pub lift: String,
    /// Work sets planned.
    pub sets: u8,
    /// The fewest repetitions that keep the load.
    pub low: u16,
    /// The repetitions at which a set stops; reached, the load goes up.
    pub high: u16,
}

/// One day of the week's plan.
#[derive(Clone, Debug, PartialEq)]
pub struct TrainingDay {
    /// The weekday, as days before the end of the record: 0 to 6.
    pub days_back: i32,
    /// The lifts in the order in which they are done.
    pub lifts: Vec<Slot>,
}

/// How a lifter reports repetitions in reserve.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RirHabit {
    /// Doesn't.
    Never,
    /// In whole repetitions.
    Whole,
    /// In halves.
    Halves,
}

/// What comes on top of the plan; the log itself doesn't say so. Days count back from the end.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Event {
    /// Short nights and stress, during which recovery takes longer.
    Stress {
        /// First day.
        from: i32,
        /// Last day.
        to: i32,
    },
    /// No training at all.
    Away {
        /// First day.
        from: i32,
        /// Last day.
        to: i32,
    },
    /// Hard work outside the gym, such as carrying furniture.
    Strain {
        /// The day.
        on: i32,
        /// The muscles that did it.
        muscles: &'static [Muscle],
        /// The strength it costs at first, in %.
        size_pct: f64,
    },
    /// A joint that complains more and more.
    Complaint {
        /// The joint.
        joint: Joint,
        /// First day.
        from: i32,
        /// The day on which it is at its worst.
        worst: i32,
    },
}

/// What a lifter writes down, and how.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Habits {
    /// Hour and minute at which sessions usually begin, if times are logged.
    pub time: Option<(i8, i8)>,
    /// How reserve is reported.
    pub rir: RirHabit,
    /// Repetitions by which the reserve is usually over-reported (below 0: under-reported).
    pub rir_bias: f64,
    /// Whether warm-up sets are logged.
    pub warm_ups: bool,
    /// The share of planned sessions that don't happen.
    pub missed: f64,
    /// The share of days with a check-in.
    pub check_ins: f64,
    /// Whether the main lift of a day is now and then tested with a single.
    pub tests: bool,
    /// Whether, in the last three weeks, short lead sets are followed by speed work.
    pub speed_work: bool,
}

/// A virtual lifter.
#[derive(Clone, Debug, PartialEq)]
pub struct Person {
    /// The invented name.
    pub name: String,
    /// The unit of the gym's plates.
    pub unit: Unit,
    /// Body mass in kg.
    pub body_mass_kg: f64,
    /// Days in the record.
    pub days: i32,
    /// Whether the body is used to training when the record begins.
    pub accustomed: bool,
    /// The reserve aimed at, in repetitions.
    pub reserve: f64,
    /// Strength gained a week at a full dose while all is new, as a fraction.
    pub weekly_gain: f64,
    /// Total gain at which the weekly gain has fallen to half, as a fraction.
    pub half_gain: f64,
    /// Recovery time relative to most people's.
    pub slowness: f64,
    /// Scatter relative to most people's.
    pub unsteadiness: f64,
    /// The week.
    pub week: Vec<TrainingDay>,
    /// 1RM at the start, in kg as it would be logged, of each lift in the week.
    pub strengths: Vec<(String, f64)>,
    /// A factor on all of them.
    pub strength_scale: f64,
    /// What is written down.
    pub habits: Habits,
    /// What happens along the way.
    pub events: Vec<Event>,
}

impl Person {
    /// Whether the day lies in a stressful spell.
    pub(super) fn is_stressed(&self, days_back: i32) -> bool {
        self.events
            .iter()
            .any(|e| matches!(e, Event::Stress { from, to } if (*to..=*from).contains(&days_back)))
    }

    /// Whether the day is spent away.
    pub(super) fn is_away(&self, days_back: i32) -> bool {
        self.events
            .iter()
            .any(|e| matches!(e, Event::Away { from, to } if (*to..=*from).contains(&days_back)))
    }

    /// Whether some joint is at its worst on the day.
    pub(super) fn is_worst_day(&self, days_back: i32) -> bool {
        self.events
            .iter()
            .any(|e| matches!(e, Event::Complaint { worst, .. } if *worst == days_back))
    }

    /// How much `joint` complains, 0 to 4.5, on its way up to the worst day.
    pub(super) fn complaint(&self, joint: Joint, days_back: i32) -> f64 {
        self.events
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
}
