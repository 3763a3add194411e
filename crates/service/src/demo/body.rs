//! The hidden body behind an invented log: what each muscle can do today and why.
//!
//! On purpose this is not the engine's model. A muscle's fatigue grows with a saturating dose,
//! fades with a time constant that lengthens under stress and short sleep, and comes back stronger
//! after a layoff; strength holds for about three weeks without training and then falls. Numbers
//! without a source beside them are choices of ours, made so that logs look like logs.
//!
//! Exponentials and logarithms come from the `libm` crate and not from the machine's own library,
//! and random draws are rounded to 1e-9, so that every machine writes the same log.

use domain::{Lift, Muscle};
use rand::rngs::ChaCha8Rng;
use rand::{RngExt, SeedableRng};
use rand_distr::{Distribution, StandardNormal, StudentT};

use super::person::{Event, Person, recovery_days};

const N_MUSCLES: usize = Muscle::ALL.len();
/// Days that strength holds without training (McMaster 2013, from memory: about three weeks).
const STRENGTH_HOLDS_DAYS: i32 = 18;
/// Log strength lost on each day after that: about 2 % a week.
const LOST_A_DAY: f64 = 0.003;
/// Log strength that the first hard set of a session costs a prime mover.
const FIRST_SET_COST: f64 = 0.017;
/// Hard sets a week that keep a muscle as it is but add nothing.
const KEEPING_DOSE: f64 = 3.0;

/// What a strain that nobody wrote down falls upon.
const REGIONS: [&[Muscle]; 3] = [
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

/// Random draws that are the same on every machine.
pub(super) struct Dice(ChaCha8Rng);

impl Dice {
    /// The stream with this number of this seed.
    pub(super) fn new(seed: u64, stream: u64) -> Dice {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        rng.set_stream(stream);
        Dice(rng)
    }

    /// A standard normal draw.
    pub(super) fn normal(&mut self) -> f64 {
        let draw: f64 = StandardNormal.sample(&mut self.0);
        rounded(draw, 1e9)
    }

    /// A heavy-tailed draw of standard deviation 1: Student's t with five degrees of freedom.
    pub(super) fn heavy(&mut self) -> f64 {
        let draw: f64 = StudentT::new(5.0).map_or(0.0, |t| t.sample(&mut self.0));
        rounded(draw * (3.0_f64 / 5.0).sqrt(), 1e9)
    }

    /// Whether something of this probability happens.
    pub(super) fn happens(&mut self, probability: f64) -> bool {
        self.0.random::<f64>() < probability
    }

    /// A whole number below `end`.
    pub(super) fn below(&mut self, end: usize) -> usize {
        self.0.random_range(0..end)
    }
}

/// Sleep and stress of one day.
#[derive(Clone, Copy)]
pub(super) struct Day {
    /// Hours slept.
    pub(super) sleep_h: f64,
    /// Stress, 1 to 7.
    pub(super) stress: f64,
}

/// The state of the muscles, and of the body as a whole.
pub(super) struct Body {
    fatigue: [f64; N_MUSCLES],
    done_today: [f64; N_MUSCLES],
    weekly_dose: [f64; N_MUSCLES],
    lost: [f64; N_MUSCLES],
    idle_days: i32,
    unaccustomed: f64,
    toll: [f64; N_MUSCLES],
    whole_body: f64,
    /// Today's sleep and stress.
    pub(super) day: Day,
    usual_sleep: f64,
    usual_stress: f64,
}

impl Body {
    /// A rested body, used to training if `accustomed`.
    pub(super) fn new(dice: &mut Dice, accustomed: bool) -> Body {
        let usual_sleep = 7.4 + 0.3 * dice.normal();
        let usual_stress = 2.6 + 0.3 * dice.normal();
        Body {
            fatigue: [0.0; N_MUSCLES],
            done_today: [0.0; N_MUSCLES],
            weekly_dose: [if accustomed { 8.0 } else { 0.0 }; N_MUSCLES],
            lost: [0.0; N_MUSCLES],
            idle_days: 0,
            unaccustomed: if accustomed { 0.0 } else { 0.5 },
            toll: [1.0; N_MUSCLES],
            whole_body: 0.0,
            day: Day { sleep_h: usual_sleep, stress: usual_stress },
            usual_sleep,
            usual_stress,
        }
    }

    /// A night passes, and the day `days_back` begins.
    pub(super) fn wake(&mut self, person: &Person, days_back: i32, dice: &mut Dice) {
        let stressed = person
            .events
            .iter()
            .any(|e| matches!(e, Event::Stress { from, to } if (*to..=*from).contains(&days_back)));
        let (sleep, stress) = if stressed { (-1.7, 2.6) } else { (0.0, 0.0) };
        self.day.sleep_h = (self.usual_sleep + sleep + 0.6 * dice.normal()).clamp(3.5, 10.0);
        self.day.stress = (self.usual_stress + stress + 0.6 * dice.normal()).clamp(1.0, 7.0);
        let slower =
            1.0 + 0.7 * (self.day.stress - 3.2).max(0.0) + 0.25 * (6.8 - self.day.sleep_h).max(0.0);
        self.whole_body =
            0.006 * dice.heavy() + 0.004 * (self.usual_sleep - self.day.sleep_h).max(0.0);
        self.idle_days += 1;
        for (idx, muscle) in Muscle::ALL.iter().enumerate() {
            let days = recovery_days(*muscle) * person.slowness * slower;
            self.fatigue[idx] *= libm::exp(-1.0 / days);
            self.weekly_dose[idx] *= libm::exp(-1.0 / 9.0);
            self.done_today[idx] = 0.0;
            if self.idle_days > STRENGTH_HOLDS_DAYS {
                self.lost[idx] += LOST_A_DAY;
            }
        }
        if self.idle_days > STRENGTH_HOLDS_DAYS {
            self.unaccustomed = 0.7;
        }
        self.strain(person, days_back, dice);
    }

    /// What the plan doesn't know: the scenario's strains, and a rare one that nobody noticed.
    fn strain(&mut self, person: &Person, days_back: i32, dice: &mut Dice) {
        for event in &person.events {
            if let Event::Strain { on, muscles, size_pct } = event
                && *on == days_back
            {
                for muscle in *muscles {
                    self.fatigue[*muscle as usize] += size_pct / 100.0;
                }
            }
        }
        if dice.happens(0.012) {
            let region = REGIONS[dice.below(REGIONS.len())];
            let size = 0.03 * libm::exp(0.4 * dice.normal());
            for muscle in region {
                self.fatigue[*muscle as usize] += size;
            }
        }
    }

    /// A session begins: what was lost in a layoff comes back quickly, and the muscles get used to
    /// the work again. The same work doesn't cost the same every time.
    pub(super) fn begin_session(&mut self, dice: &mut Dice) {
        self.toll.iter_mut().for_each(|toll| *toll = libm::exp(0.4 * dice.normal()));
        self.idle_days = 0;
        self.unaccustomed *= 0.7;
        self.lost.iter_mut().for_each(|lost| *lost *= 0.88);
    }

    /// One set of `lift` is done with `effort` (1 for a set near failure).
    pub(super) fn work(&mut self, lift: &Lift, effort: f64) {
        for share in &lift.muscles {
            let idx = share.muscle as usize;
            let amount = share.get() * effort;
            let saturating = libm::exp(-self.done_today[idx] / 5.0);
            self.fatigue[idx] +=
                FIRST_SET_COST * (1.0 + self.unaccustomed) * self.toll[idx] * amount * saturating;
            self.done_today[idx] += amount;
            self.weekly_dose[idx] += amount * 7.0 / 9.0;
        }
    }

    /// Log strength that is missing today in `lift` for want of recovery.
    pub(super) fn acute(&self, lift: &Lift) -> f64 {
        weighted(lift, &self.fatigue) + self.whole_body
    }

    /// Log strength that a layoff took from `lift`.
    pub(super) fn lost(&self, lift: &Lift) -> f64 {
        weighted(lift, &self.lost)
    }

    /// How much of the full gain the dose of the prime movers earns: 0 to 1.
    pub(super) fn drive(&self, lift: &Lift) -> f64 {
        let prime: Vec<f64> = lift
            .muscles
            .iter()
            .filter(|m| m.is_prime())
            .map(|m| self.weekly_dose[m.muscle as usize])
            .collect();
        let dose = prime.iter().sum::<f64>() / prime.len().max(1) as f64;
        let above = (dose - KEEPING_DOSE).max(0.0);
        above / (above + 3.0) * 1.4
    }

    /// Soreness as it is felt, before rounding: 1 to 7.
    pub(super) fn soreness(&self) -> f64 {
        let worst = self.fatigue.iter().copied().fold(0.0, f64::max);
        (1.0 + worst * 90.0).min(7.0)
    }
}

/// Repetitions to failure at `moved_kg` for a lifter whose log 1RM is `log_max`. Each repetition
/// after the first costs `cost` of log load, a little less the longer the set: about 87 % of 1RM at
/// 5, 76 % at 10 (near the usual charts), and no relation to the engine's straight line.
pub(super) fn reps_to_failure(log_max: f64, moved_kg: f64, cost: f64) -> f64 {
    const BEND: f64 = 0.008;
    let spare = (log_max - libm::log(moved_kg)) / cost;
    if spare < 0.0 {
        return 0.0;
    }
    1.0 + (1.0 - (1.0 - 4.0 * BEND * spare).max(0.0).sqrt()) / (2.0 * BEND)
}

/// The log of the load with which exactly `reps` go, relative to log 1RM: the other way round.
pub(super) fn log_share_at(reps: f64, cost: f64) -> f64 {
    let after_first = (reps - 1.0).max(0.0);
    -cost * after_first * (1.0 - 0.008 * after_first)
}

/// `value` rounded to one part in `steps`.
pub(super) fn rounded(value: f64, steps: f64) -> f64 {
    (value * steps).round() / steps
}

fn weighted(lift: &Lift, state: &[f64; N_MUSCLES]) -> f64 {
    let total: f64 = lift.muscles.iter().map(|m| m.get()).sum();
    lift.muscles.iter().map(|m| m.get() * state[m.muscle as usize]).sum::<f64>() / total
}
