//! An invented lifter as the generator sees one: body, plan, habits, and what happens along the way.
//!
//! Nothing here is read by the engine, and nothing is fitted to it. Days are counted backwards from
//! the last day of the record, so that a scenario stays as it is whenever it is opened.

use domain::{Joint, Muscle, Unit};

/// One lift of a training day.
#[derive(Clone, Copy, Debug)]
pub(super) struct Slot {
    /// The lift, by a name that the catalogue knows.
    pub(super) lift: &'static str,
    /// Work sets planned.
    pub(super) sets: u8,
    /// The fewest repetitions that keep the load.
    pub(super) low: u16,
    /// The repetitions at which a set stops; reached, the load goes up.
    pub(super) high: u16,
}

/// One day of the week's plan.
#[derive(Clone, Copy, Debug)]
pub(super) struct TrainingDay {
    /// The weekday, as days before the end of the record: 0 to 6.
    pub(super) days_back: i32,
    /// The lifts in the order in which they are done.
    pub(super) lifts: &'static [Slot],
}

/// How a lifter reports repetitions in reserve.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum RirHabit {
    /// Doesn't.
    Never,
    /// In whole repetitions.
    Whole,
    /// In halves.
    Halves,
}

/// What comes on top of the plan; the log itself doesn't say so. Days count back from the end.
#[derive(Clone, Copy, Debug)]
pub(super) enum Event {
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
#[derive(Clone, Copy, Debug)]
pub(super) struct Habits {
    /// Hour and minute at which sessions usually begin, if times are logged.
    pub(super) time: Option<(i8, i8)>,
    /// How reserve is reported.
    pub(super) rir: RirHabit,
    /// Repetitions by which the reserve is usually over-reported (below 0: under-reported).
    pub(super) rir_bias: f64,
    /// Whether warm-up sets are logged.
    pub(super) warm_ups: bool,
    /// The share of planned sessions that don't happen.
    pub(super) missed: f64,
    /// The share of days with a check-in.
    pub(super) check_ins: f64,
    /// Whether the main lift of a day is now and then tested with a single.
    pub(super) tests: bool,
    /// Whether, in the last three weeks, short lead sets are followed by speed work.
    pub(super) speed_work: bool,
}

/// An invented lifter.
#[derive(Clone, Debug)]
pub(super) struct Person {
    /// The invented name.
    pub(super) name: String,
    /// Who that is, in one line.
    pub(super) about: String,
    /// The unit of the gym's plates.
    pub(super) unit: Unit,
    /// Body mass in kg.
    pub(super) body_mass_kg: f64,
    /// Days in the record.
    pub(super) days: i32,
    /// The reserve aimed at, in repetitions.
    pub(super) reserve: f64,
    /// Strength gained a week at a full dose while all is new, as a fraction.
    pub(super) weekly_gain: f64,
    /// Total gain at which the weekly gain has fallen to half, as a fraction.
    pub(super) half_gain: f64,
    /// Recovery time relative to most people's.
    pub(super) slowness: f64,
    /// Scatter relative to most people's.
    pub(super) unsteadiness: f64,
    /// The week.
    pub(super) week: &'static [TrainingDay],
    /// 1RM at the start, in kg as it would be logged, of each lift in the week.
    pub(super) strengths: &'static [(&'static str, f64)],
    /// A factor on all of them.
    pub(super) strength_scale: f64,
    /// What is written down.
    pub(super) habits: Habits,
    /// What happens along the way.
    pub(super) events: Vec<Event>,
}

/// Days after which an unloaded muscle recovers to a third of the shortfall, for most people, slept
/// and unstressed: 24–48 h after ordinary work, longer after hard work for the legs and back
/// (Morán-Navarro 2017, Belcher 2019, Ferreira 2017; which muscle gets what is our own choice).
#[must_use]
pub(super) fn recovery_days(muscle: Muscle) -> f64 {
    match muscle {
        Muscle::Quadriceps | Muscle::Hamstrings | Muscle::Adductors => 1.5,
        Muscle::SpinalErectors => 1.7,
        Muscle::Glutes | Muscle::Chest => 1.4,
        Muscle::Lats | Muscle::UpperBack => 1.2,
        _ => 1.0,
    }
}
