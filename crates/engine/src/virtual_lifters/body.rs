//! The hidden body behind a virtual log: what each muscle can do today and why.
//!
//! On purpose this is not the engine's model. A muscle's fatigue grows with a concave dose, fades
//! with a time constant that lengthens under stress and short sleep, and costs more after a layoff;
//! strength holds for about three weeks without training and then falls. What differs between worlds
//! is in [`World`]; the numbers here are the same in all of them.

use domain::{Lift, Muscle};

use super::dice::Dice;
use super::person::{Event, Person};
use super::world::{REGIONS, World, recovery_days};

pub(super) const N_MUSCLES: usize = Muscle::ALL.len();
/// Days that strength holds without training (McMaster 2013, from memory: about three weeks).
const STRENGTH_HOLDS_DAYS: i32 = 18;
/// Log strength lost on each day after that: about 2 % a week.
const LOST_A_DAY: f64 = 0.003;
/// Hard sets a week that keep a muscle as it is but add nothing.
const KEEPING_DOSE: f64 = 3.0;

/// Sleep and stress of one day.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Night {
    /// Hours slept.
    pub sleep_h: f64,
    /// Stress, 1 to 7.
    pub stress: f64,
}

/// A state of every muscle in the order of [`Muscle::ALL`].
pub(super) type PerMuscle = [f64; N_MUSCLES];

/// The state of the muscles, and of the body as a whole.
#[derive(Clone, Debug)]
pub(super) struct Body {
    fatigue: PerMuscle,
    slow_fatigue: PerMuscle,
    done_today: PerMuscle,
    weekly_dose: PerMuscle,
    lost: PerMuscle,
    idle_days: i32,
    unaccustomed: f64,
    toll: PerMuscle,
    form: f64,
    strain_on_day: f64,
    /// Today's sleep and stress.
    pub(super) day: Night,
    usual: Night,
}

impl Body {
    /// A rested body, used to training if `accustomed`.
    pub(super) fn new(dice: &mut Dice, accustomed: bool) -> Body {
        let sleep_h = 7.4 + 0.3 * dice.normal();
        let stress = 2.6 + 0.3 * dice.normal();
        let usual = Night { sleep_h, stress };
        Body {
            fatigue: [0.0; N_MUSCLES],
            slow_fatigue: [0.0; N_MUSCLES],
            done_today: [0.0; N_MUSCLES],
            weekly_dose: [if accustomed { 8.0 } else { 0.0 }; N_MUSCLES],
            lost: [0.0; N_MUSCLES],
            idle_days: 0,
            unaccustomed: if accustomed { 0.0 } else { 0.5 },
            toll: [1.0; N_MUSCLES],
            form: 0.0,
            strain_on_day: 0.0,
            day: usual,
            usual,
        }
    }

    /// Sleep and stress as they usually are.
    pub(super) fn usual(&self) -> Night {
        self.usual
    }

    /// How much more the next set costs for want of habit, as a fraction.
    pub(super) fn unaccustomed(&self) -> f64 {
        self.unaccustomed
    }

    /// A night passes, and the day `days_back` begins.
    pub(super) fn wake(&mut self, world: &World, person: &Person, days_back: i32, dice: &mut Dice) {
        let (sleep, stress) = if person.is_stressed(days_back) { (-1.7, 2.6) } else { (0.0, 0.0) };
        self.day.sleep_h = (self.usual.sleep_h + sleep + 0.6 * dice.normal()).clamp(3.5, 10.0);
        self.day.stress = (self.usual.stress + stress + 0.6 * dice.normal()).clamp(1.0, 7.0);
        let kept = world.form.kept;
        let news = world.form.sd * (1.0 - kept * kept).sqrt();
        self.form = kept * self.form + news * dice.unusual(world.tail);
        self.strain_on_day = night_cost(world, self.usual, self.day);
        self.idle_days += 1;
        for (idx, muscle) in Muscle::ALL.iter().enumerate() {
            let kept = kept_overnight(world, person.slowness, self.day, *muscle);
            self.fatigue[idx] *= kept.quick;
            self.slow_fatigue[idx] *= kept.slow;
            self.weekly_dose[idx] *= libm::exp(-1.0 / 9.0);
            self.done_today[idx] = 0.0;
            if self.idle_days > STRENGTH_HOLDS_DAYS {
                self.lost[idx] += LOST_A_DAY;
            }
        }
        if self.idle_days > STRENGTH_HOLDS_DAYS {
            self.unaccustomed = 0.7;
        }
        self.strain(world, person, days_back, dice);
    }

    /// What the plan doesn't know: the scenario's strains, and a rare one that nobody noticed.
    fn strain(&mut self, world: &World, person: &Person, days_back: i32, dice: &mut Dice) {
        for event in &person.events {
            if let Event::Strain { on, muscles, size_pct } = event
                && *on == days_back
            {
                self.tire(world, muscles, size_pct / 100.0);
            }
        }
        let strains = world.strains;
        if dice.happens(strains.daily_chance) {
            let region = REGIONS[dice.below(REGIONS.len())];
            let size = strains.size * libm::exp(strains.size_log_sd * dice.normal());
            self.tire(world, region, size);
        }
    }

    fn tire(&mut self, world: &World, muscles: &[Muscle], size: f64) {
        for muscle in muscles {
            self.fatigue[*muscle as usize] += size * (1.0 - world.slow_part.share);
            self.slow_fatigue[*muscle as usize] += size * world.slow_part.share;
        }
    }

    /// A session begins: what was lost in a layoff comes back quickly, and the muscles get used to
    /// the work again. The same work doesn't cost the same every time.
    pub(super) fn begin_session(&mut self, world: &World, dice: &mut Dice) {
        self.toll.iter_mut().for_each(|toll| *toll = libm::exp(world.toll_log_sd * dice.normal()));
        self.idle_days = 0;
        self.unaccustomed *= 0.7;
        self.lost.iter_mut().for_each(|lost| *lost *= 0.88);
    }

    /// One set of `lift` is done with `effort` (1 for a set near failure).
    pub(super) fn work(&mut self, world: &World, lift: &Lift, effort: f64) {
        for share in &lift.muscles {
            let idx = share.muscle as usize;
            let amount = share.get() * effort;
            let cost = world.set_cost * (1.0 + self.unaccustomed) * self.toll[idx];
            let cost = cost * world.dose.added(self.done_today[idx], amount);
            self.fatigue[idx] += cost * (1.0 - world.slow_part.share);
            self.slow_fatigue[idx] += cost * world.slow_part.share;
            self.done_today[idx] += amount;
            self.weekly_dose[idx] += amount * 7.0 / 9.0;
        }
    }

    /// Log strength that is missing today in the muscles of `lift` for want of recovery.
    pub(super) fn in_muscles(&self, lift: &Lift) -> f64 {
        weighted(lift, &self.fatigue) + weighted(lift, &self.slow_fatigue)
    }

    /// Log strength that is missing today everywhere: form, sleep and stress.
    pub(super) fn in_whole_body(&self) -> f64 {
        self.form + self.strain_on_day
    }

    /// Log strength that a layoff took from `lift`.
    pub(super) fn lost(&self, lift: &Lift) -> f64 {
        weighted(lift, &self.lost)
    }

    /// How much of the full gain the dose of the prime movers earns: 0 to 1.4.
    pub(super) fn drive(&self, lift: &Lift) -> f64 {
        let (n, dose) = lift
            .muscles
            .iter()
            .filter(|m| m.is_prime())
            .fold((0, 0.0), |(n, sum), m| (n + 1, sum + self.weekly_dose[m.muscle as usize]));
        let above = (dose / f64::from(n.max(1)) - KEEPING_DOSE).max(0.0);
        above / (above + 3.0) * 1.4
    }

    /// Soreness as it is felt, before rounding: 1 to 7.
    pub(super) fn soreness(&self) -> f64 {
        let worst = self.fatigue.iter().copied().fold(0.0, f64::max);
        (1.0 + worst * 90.0).min(7.0)
    }
}

/// The share of fatigue that is left after a night.
#[derive(Clone, Copy, Debug)]
pub(super) struct Kept {
    /// Of what recovers quickly.
    pub(super) quick: f64,
    /// Of what recovers slowly.
    pub(super) slow: f64,
}

/// The share of `muscle`'s fatigue that is left after a night of this sleep and stress.
pub(super) fn kept_overnight(world: &World, slowness: f64, day: Night, muscle: Muscle) -> Kept {
    let slower = 1.0
        + world.slowed_by_stress * (day.stress - 3.2).max(0.0)
        + world.slowed_by_short_sleep * (6.8 - day.sleep_h).max(0.0);
    let days = recovery_days(muscle) * world.recovery_scale * slowness * slower;
    let quick = libm::exp(-1.0 / days);
    let slow = if world.slow_part.share > 0.0 {
        libm::exp(-1.0 / (days * world.slow_part.times))
    } else {
        0.0
    };
    Kept { quick, slow }
}

/// Log strength that a short night and a day's stress cost the whole body.
pub(super) fn night_cost(world: &World, usual: Night, day: Night) -> f64 {
    world.short_sleep_cost * (usual.sleep_h - day.sleep_h).max(0.0)
        + world.stress_cost * (day.stress - usual.stress).max(0.0)
}

fn weighted(lift: &Lift, state: &PerMuscle) -> f64 {
    let total: f64 = lift.muscles.iter().map(|m| m.get()).sum();
    lift.muscles.iter().map(|m| m.get() * state[m.muscle as usize]).sum::<f64>() / total
}
