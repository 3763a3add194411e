//! Worlds: how virtual bodies work, and what the people in them do.
//!
//! The presets differ in structure and not only in size, so that a rule tuned to one of them shows
//! it in the others. Numbers without a source beside them are choices of ours, made so that logs look
//! like logs. None of the worlds is the engine's own model.

use domain::Muscle;

/// How virtual bodies work, and what the people in them do.
#[derive(Clone, Debug, PartialEq)]
pub struct World {
    /// One word.
    pub name: &'static str,
    /// How strength lost grows with the sets of a session.
    pub dose: DoseCurve,
    /// Log strength that a first hard set costs a prime mover, before `dose` and `toll_log_sd`.
    pub set_cost: f64,
    /// How differently the same work costs from one session to the next: sd of the logarithm.
    pub toll_log_sd: f64,
    /// Days to recover, relative to [`recovery_days`].
    pub recovery_scale: f64,
    /// The part of a shortfall that recovers slowly.
    pub slow_part: SlowPart,
    /// How much longer recovery takes per point of stress above 3.2.
    pub slowed_by_stress: f64,
    /// How much longer recovery takes per hour of sleep under 6.8.
    pub slowed_by_short_sleep: f64,
    /// How the whole body's form varies from day to day.
    pub form: DayForm,
    /// Log strength lost on a day per hour slept less than usual.
    pub short_sleep_cost: f64,
    /// Log strength lost on a day per point of stress above usual.
    pub stress_cost: f64,
    /// Hard work outside the gym that nobody writes down.
    pub strains: Strains,
    /// How scatter and day form are distributed.
    pub tail: Tail,
    /// Scatter relative to [`scatter`].
    pub scatter_scale: f64,
    /// How repetitions follow from the load.
    pub curve: RepCurve,
    /// The people who live in it.
    pub people: People,
}

/// How strength lost grows with x, the sets done by a muscle in one session (each counted by its
/// share and its effort).
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum DoseCurve {
    /// The next set costs exp(−x/scale) of the first: the sum has a ceiling.
    Saturating {
        /// Sets after which one more costs about a third.
        scale: f64,
    },
    /// x to this power, below 1.
    Power {
        /// The power.
        power: f64,
    },
    /// scale·ln(1 + x/scale).
    Logarithm {
        /// Sets at which one more costs half of the first.
        scale: f64,
    },
}

/// A second, slower recovery beside the quick one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SlowPart {
    /// The share of every cost that recovers slowly, 0 to 1.
    pub share: f64,
    /// How many times longer it takes.
    pub times: f64,
}

/// How the whole body's form varies: a first-order autoregression, once a day.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DayForm {
    /// Standard deviation, as log strength.
    pub sd: f64,
    /// The share kept until the next day, 0 to below 1.
    pub kept: f64,
}

/// Strains that nobody writes down: each falls upon one of [`REGIONS`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Strains {
    /// The chance of one on a day.
    pub daily_chance: f64,
    /// The strength it costs in the median case, as log strength.
    pub size: f64,
    /// Standard deviation of the logarithm of that.
    pub size_log_sd: f64,
}

/// Distributions of mean 0 and standard deviation 1 with tails heavier than the normal one's.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Tail {
    /// Student's t, scaled.
    Student {
        /// Degrees of freedom, above 2.
        freedom: f64,
    },
    /// A normal distribution that is some `times` wider on a `share` of occasions.
    TwoScale {
        /// The share of wide occasions.
        share: f64,
        /// How many times wider they are.
        times: f64,
    },
}

/// How repetitions follow from the load. Each lift of each lifter has its own `rep_cost`, 1 for most:
/// with 1.1 the repetitions after the first cost a tenth more log load, or there are a tenth fewer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RepCurve {
    /// Each repetition after the first costs 0.033 of log load, less the longer the set: 87 % of 1RM
    /// at 5, 76 % at 10 (near the usual charts). No published equation, and no straight line.
    Bent,
    /// Wathan 1994, held against its own value at one repetition.
    Wathan,
    /// Brzycki 1993.
    Brzycki,
}

/// What the people of a world do, and how they differ.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct People {
    /// How much recovery times differ between lifters: sd of the logarithm.
    pub slowness_log_sd: f64,
    /// How much scatter differs between lifters: sd of the logarithm.
    pub unsteadiness_log_sd: f64,
    /// The share that never tells its reserve.
    pub silent: f64,
    /// The shares of days with a check-in, one of which is a lifter's own.
    pub check_ins: [f64; 3],
    /// The share of planned sessions that don't happen.
    pub missed: f64,
    /// Weeks from one stressful spell to the next, on average.
    pub weeks_between_spells: u16,
    /// The share that goes away for three to five weeks.
    pub go_away: f64,
    /// Whether each strains legs and back once, by 6 %, carrying something heavy.
    pub carry_once: bool,
}

/// What a strain that nobody wrote down falls upon.
pub const REGIONS: [&[Muscle]; 3] = [
    &[
        Muscle::Quadriceps,
        Muscle::Hamstrings,
        Muscle::Glutes,
        Muscle::Adductors,
        Muscle::SpinalErectors,
    ],
    &[Muscle::Lats, Muscle::UpperBack, Muscle::Biceps, Muscle::Brachialis, Muscle::RearDelts],
    &[Muscle::Chest, Muscle::FrontDelts, Muscle::Triceps, Muscle::SideDelts],
];

impl World {
    /// The names of all presets.
    pub const NAMES: [&'static str; 4] = ["brisk", "heavy", "moody", "rested"];

    /// The preset of this name; `None` if there is none.
    #[must_use]
    pub fn named(name: &str) -> Option<World> {
        World::all().into_iter().find(|world| world.name == name)
    }

    /// All presets, in the order of [`World::NAMES`].
    #[must_use]
    pub fn all() -> [World; 4] {
        [World::brisk(), World::heavy(), World::moody(), World::rested()]
    }

    /// Recovery within one to two days, a saturating dose, scatter of Student's t. The invented squad
    /// of the demonstration lives here.
    #[must_use]
    pub fn brisk() -> World {
        World {
            name: "brisk",
            dose: DoseCurve::Saturating { scale: 5.0 },
            set_cost: 0.017,
            toll_log_sd: 0.4,
            recovery_scale: 1.0,
            slow_part: SlowPart { share: 0.0, times: 1.0 },
            slowed_by_stress: 0.7,
            slowed_by_short_sleep: 0.25,
            form: DayForm { sd: 0.006, kept: 0.0 },
            short_sleep_cost: 0.004,
            stress_cost: 0.0,
            strains: Strains { daily_chance: 0.012, size: 0.03, size_log_sd: 0.4 },
            tail: Tail::Student { freedom: 5.0 },
            scatter_scale: 1.0,
            curve: RepCurve::Bent,
            people: People {
                slowness_log_sd: 0.2,
                unsteadiness_log_sd: 0.2,
                silent: 0.33,
                check_ins: [0.0, 0.5, 1.0],
                missed: 0.04,
                weeks_between_spells: 30,
                go_away: 0.25,
                carry_once: true,
            },
        }
    }

    /// Sets cost more and go on costing, and legs and back need two to three days.
    #[must_use]
    pub fn heavy() -> World {
        World {
            name: "heavy",
            dose: DoseCurve::Power { power: 0.6 },
            set_cost: 0.024,
            recovery_scale: 1.65,
            slowed_by_stress: 0.4,
            form: DayForm { sd: 0.005, kept: 0.3 },
            scatter_scale: 0.9,
            curve: RepCurve::Brzycki,
            people: People {
                slowness_log_sd: 0.3,
                missed: 0.08,
                weeks_between_spells: 24,
                ..World::brisk().people
            },
            ..World::brisk()
        }
    }

    /// Two speeds of recovery, form that lasts for days, and scatter that is now and then far wider.
    #[must_use]
    pub fn moody() -> World {
        World {
            name: "moody",
            dose: DoseCurve::Logarithm { scale: 2.5 },
            set_cost: 0.016,
            toll_log_sd: 0.25,
            slow_part: SlowPart { share: 0.3, times: 4.0 },
            recovery_scale: 0.9,
            slowed_by_stress: 0.3,
            form: DayForm { sd: 0.011, kept: 0.75 },
            short_sleep_cost: 0.003,
            tail: Tail::TwoScale { share: 0.12, times: 3.0 },
            curve: RepCurve::Wathan,
            people: People {
                unsteadiness_log_sd: 0.35,
                check_ins: [0.1, 0.4, 0.9],
                ..World::brisk().people
            },
            ..World::brisk()
        }
    }

    /// Sets leave hardly a trace: what is missing on a day is missing for want of sleep, for stress
    /// or after work that nobody wrote down, and few say how much was left or how they slept.
    #[must_use]
    pub fn rested() -> World {
        World {
            name: "rested",
            set_cost: 0.002,
            slowed_by_stress: 0.2,
            form: DayForm { sd: 0.006, kept: 0.2 },
            short_sleep_cost: 0.009,
            stress_cost: 0.006,
            strains: Strains { daily_chance: 0.02, size: 0.04, size_log_sd: 0.5 },
            tail: Tail::Student { freedom: 4.0 },
            people: People {
                silent: 0.85,
                check_ins: [0.0, 0.0, 0.15],
                weeks_between_spells: 14,
                ..World::brisk().people
            },
            ..World::brisk()
        }
    }
}

impl DoseCurve {
    /// What `amount` more sets cost after `done`, in units of the first set's cost.
    pub(super) fn added(self, done: f64, amount: f64) -> f64 {
        match self {
            DoseCurve::Saturating { scale } => amount * libm::exp(-done / scale),
            DoseCurve::Power { power } => libm::pow(done + amount, power) - libm::pow(done, power),
            DoseCurve::Logarithm { scale } => {
                scale * (libm::log1p((done + amount) / scale) - libm::log1p(done / scale))
            }
        }
    }
}

/// Log load that a repetition after the first costs on [`RepCurve::Bent`].
const BENT_COST: f64 = 0.033;
/// How much less the longer the set.
const BEND: f64 = 0.008;
/// More repetitions than these aren't told apart; a load light enough allows any number.
const MOST_REPS: f64 = 150.0;

impl RepCurve {
    /// Repetitions to failure, fractional, where log 1RM lies `spare` above the log load; 0 where it
    /// lies below, at least 1 otherwise.
    #[must_use]
    pub fn reps(self, spare: f64, rep_cost: f64) -> f64 {
        if spare < 0.0 {
            return 0.0;
        }
        let share = libm::exp(-spare);
        let reps = match self {
            RepCurve::Bent => {
                let cost = BENT_COST * rep_cost;
                1.0 + (1.0 - (1.0 - 4.0 * BEND * (spare / cost)).max(0.0).sqrt()) / (2.0 * BEND)
            }
            RepCurve::Wathan => {
                let left = (share * wathan(1.0) - 48.8) / 53.8;
                let reps = if left > 0.0 { -libm::log(left) / 0.075 } else { MOST_REPS };
                1.0 + (reps - 1.0) / rep_cost
            }
            RepCurve::Brzycki => 1.0 + 36.0 * (1.0 - share) / rep_cost,
        };
        reps.min(MOST_REPS)
    }

    /// Log load relative to log 1RM with which exactly `reps` go: the other way round, up to the
    /// repetitions at which the curve ends.
    #[must_use]
    pub fn log_share(self, reps: f64, rep_cost: f64) -> f64 {
        let after_first = (reps - 1.0).max(0.0);
        match self {
            RepCurve::Bent => -(BENT_COST * rep_cost) * after_first * (1.0 - BEND * after_first),
            RepCurve::Wathan => libm::log(wathan(1.0 + after_first * rep_cost) / wathan(1.0)),
            RepCurve::Brzycki => libm::log((1.0 - after_first * rep_cost / 36.0).max(1e-3)),
        }
    }
}

/// Days after which an unloaded muscle recovers to a third of the shortfall, for most people of the
/// brisk world, slept and unstressed: 24–48 h after ordinary work, longer after hard work for the
/// legs and back (Morán-Navarro 2017, Belcher 2019, Ferreira 2017; which muscle gets what is our own
/// choice).
#[must_use]
pub fn recovery_days(muscle: Muscle) -> f64 {
    match muscle {
        Muscle::Quadriceps | Muscle::Hamstrings | Muscle::Adductors => 1.5,
        Muscle::SpinalErectors => 1.7,
        Muscle::Glutes | Muscle::Chest => 1.4,
        Muscle::Lats | Muscle::UpperBack => 1.2,
        _ => 1.0,
    }
}

/// Wathan's % of 1RM at `reps` repetitions.
fn wathan(reps: f64) -> f64 {
    48.8 + 53.8 * libm::exp(-0.075 * reps)
}
