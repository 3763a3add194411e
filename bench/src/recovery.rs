//! The recovery model: one pass of its filter over two years, one reading, one estimate of a lifter's
//! parameters, and the same for a whole squad.
//!
//! The pass is the linear case, which the reference can run too, and its record is written to a file for
//! it. Everything else is the model as it ships. Records are invented, from a fixed sequence of numbers.

use std::error::Error;
use std::fmt::Write as _;
use std::hint::black_box;
use std::time::Instant;

use domain::{Catalogue, Lift, LiftName};
use engine::recovery::{Dynamics, Event, Freak, Lifter, Parameters, Pooled, Prepared, Shape};
use engine::strength::Reserve;
use engine::trend::LeadSet;

use crate::best_of;

/// Twelve lifts that train fourteen muscles.
const LIFTS: [&str; 12] = [
    "back squat",
    "bench press",
    "barbell row",
    "romanian deadlift",
    "leg extension",
    "chin-up",
    "leg press",
    "incline bench press",
    "lying leg curl",
    "triceps pushdown",
    "hip thrust",
    "barbell curl",
];
const WEEKS: usize = 104;

/// Writes the record to `file`, times everything and prints nanoseconds.
pub fn run(file: &str) -> Result<(), Box<dyn Error>> {
    let catalogue = Catalogue::built_in();
    let lifts = lifts(&catalogue)?;
    let shape = Shape::of(lifts.iter().copied());
    let record = record(1);
    let n_sets = record.iter().filter(|event| matches!(event, Event::Lead { .. })).count();
    println!("recovery_muscles {}", shape.muscles().len());
    println!("recovery_lead_sets {n_sets}");

    let (pooled, parameters) = linear(&shape);
    std::fs::write(file, written(&lifts, &record, &pooled, &parameters)?)?;
    let dynamics = Dynamics { shape: &shape, pooled: &pooled, parameters: &parameters };
    let prepared = Prepared::new(&shape, &pooled, &record);
    let (pass, log_likelihood) = best_of(500, || dynamics.log_likelihood(black_box(&prepared)));
    println!("recovery_log_likelihood {log_likelihood:?}");
    println!("recovery_pass_ns {pass}");
    let (preparing, _) = best_of(200, || Prepared::new(&shape, &pooled, black_box(&record)));
    println!("recovery_preparing_ns {preparing}");
    let shipped = Pooled::shipped();
    let own = Lifter::new(shape.clone(), shipped.clone()).parameters().clone();
    let dynamics = Dynamics { shape: &shape, pooled: &shipped, parameters: &own };
    let prepared = Prepared::new(&shape, &shipped, &record);
    let (pass, _) = best_of(500, || dynamics.log_likelihood(black_box(&prepared)));
    println!("recovery_shipped_pass_ns {pass}");

    let lifter = told(&shape, &record);
    println!("recovery_reading_ns {}", reading(lifter.clone())?);
    let (refit, fitted) = best_of(3, || {
        let mut lifter = lifter.clone();
        lifter.refit();
        lifter
    });
    println!("recovery_refit_ns {refit}");
    println!("recovery_refit_converged {}", u8::from(has_converged(&fitted)));
    Ok(())
}

/// Times the estimates of `n` lifters, shared out over all cores, and prints nanoseconds.
pub fn squad(n: &str) -> Result<(), Box<dyn Error>> {
    let n: usize = n.parse()?;
    let catalogue = Catalogue::built_in();
    let shape = Shape::of(lifts(&catalogue)?);
    let mut lifters: Vec<Lifter> =
        (0..n).map(|place| told(&shape, &record(place as u64 + 1))).collect();
    let n_cores = std::thread::available_parallelism()?.get();
    let begin = Instant::now();
    std::thread::scope(|scope| {
        for part in lifters.chunks_mut(n.div_ceil(n_cores).max(1)) {
            scope.spawn(|| part.iter_mut().for_each(Lifter::refit));
        }
    });
    println!("squad_ns {}", begin.elapsed().as_nanos());
    println!("squad_cores {n_cores}");
    let converged = lifters.iter().filter(|lifter| has_converged(lifter)).count();
    println!("squad_converged {converged}");
    Ok(())
}

fn has_converged(lifter: &Lifter) -> bool {
    matches!(lifter.fit(), engine::recovery::RecoveryFit::Fitted(climb) if climb.converged)
}

/// Least nanoseconds of one forecast and the lead set after it, at the end of the record.
fn reading(mut lifter: Lifter) -> Result<u128, Box<dyn Error>> {
    let mut best = u128::MAX;
    let last = lifter.events().last().map_or(0.0, Event::days);
    for session in 1..=100 {
        let days = last + 2.0 * f64::from(session);
        let set = LeadSet { days, moved_kg: 100.0, reps: 6, reserve: Reserve::Reported(1.0) };
        let begin = Instant::now();
        let expected = lifter.expect(0, black_box(&set)).ok_or("no forecast")?;
        let shown = lifter.shown_by(&set).ok_or("not read")?;
        black_box(expected.p_shortfall(shown, 0.02));
        lifter.lead(0, set);
        best = best.min(begin.elapsed().as_nanos());
    }
    Ok(best)
}

fn lifts(catalogue: &Catalogue) -> Result<Vec<&Lift>, Box<dyn Error>> {
    let find = |name: &&str| {
        let name = LiftName::new(name)?;
        catalogue.find(&name).ok_or_else(|| format!("no lift `{name}`").into())
    };
    LIFTS.iter().map(find).collect()
}

fn told(shape: &Shape, record: &[Event]) -> Lifter {
    let mut lifter = Lifter::new(shape.clone(), Pooled::shipped());
    for event in record {
        match *event {
            Event::CheckIn { days, items } => {
                lifter.check_in(days, items.map(|item| Some(item? + 4.0)));
            }
            Event::Work { lift, days, hard_sets } => lifter.work(lift, days, hard_sets),
            Event::Lead { lift, set } | Event::WorkSets { lift, set, .. } => {
                lifter.lead(lift, set);
            }
        }
    }
    lifter
}

/// Numbers from 0 to 1 that look random, the same on every machine (Knuth's multiplier, 64 bits).
struct Sequence(u64);

impl Sequence {
    fn next(&mut self) -> f64 {
        self.0 =
            self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) as f64 / f64::from(1_u32 << 31)
    }
}

/// Two years of three and four sessions a week in turn, each with a check-in in the morning and four or
/// five lifts a quarter of an hour apart.
fn record(seed: u64) -> Vec<Event> {
    let mut random = Sequence(seed);
    let mut events = Vec::new();
    let mut turn = 0;
    for week in 0..WEEKS {
        for (session, day) in [0, 1, 3, 5].into_iter().enumerate().take(3 + week % 2) {
            let morning = (7 * week + day) as f64 + 0.3;
            let items = [0, 1, 2].map(|_| (random.next() < 0.9).then(|| 2.0 * random.next() - 1.0));
            events.push(Event::CheckIn { days: morning, items });
            for place in 0..4 + session % 2 {
                let lift = turn % LIFTS.len();
                turn += 1;
                let days = morning + 0.45 + place as f64 / 96.0;
                let grown = 1.0 + 0.001 * week as f64;
                let moved_kg = ((60.0 + 7.5 * lift as f64) * grown / 2.5).round() * 2.5;
                let reps = 5 + (4.0 * random.next()) as u16; // 5 to 8
                let reserve = Reserve::Reported((3.0 * random.next()).floor());
                events.push(Event::Lead { lift, set: LeadSet { days, moved_kg, reps, reserve } });
                events.push(Event::Work { lift, days, hard_sets: 3.0 });
            }
        }
    }
    events
}

/// What the reference can run too: noise of one scale, work that always costs the same, stress that
/// doesn't slow recovery.
fn linear(shape: &Shape) -> (Pooled, Parameters) {
    let pooled = Pooled { toll_sd: 0.0, freak: Freak::NONE, ..Pooled::shipped() };
    let own = Lifter::new(shape.clone(), pooled.clone()).parameters().clone();
    (pooled, Parameters { stress_slows: 0.0, ..own })
}

/// The record in the format of the engine's `tests/reference/README-recovery.md`.
fn written(
    lifts: &[&Lift],
    record: &[Event],
    pooled: &Pooled,
    parameters: &Parameters,
) -> Result<String, std::fmt::Error> {
    let mut text = String::new();
    let [sleep, stress, soreness] = parameters.check_in_effects;
    let ([sd_a, sd_b, sd_c], [days_a, days_b, days_c]) = (pooled.check_in_sd, pooled.check_in_days);
    writeln!(text, "value effects {sleep:?} {stress:?} {soreness:?}")?;
    writeln!(text, "value check_in_sd {sd_a:?} {sd_b:?} {sd_c:?}")?;
    writeln!(text, "value check_in_days {days_a:?} {days_b:?} {days_c:?}")?;
    for (name, value) in [
        ("curve_b", pooled.curve_b.middle),
        ("curve_b_sd", pooled.curve_b.sd),
        ("curve_drift", pooled.curve_drift),
        ("reserve_share", parameters.reserve_share),
        ("together", pooled.together),
        ("muscle_sd", parameters.muscle_sd),
        ("slowness", parameters.slowness),
        ("form_sd", parameters.form_sd),
        ("drift", parameters.drift),
        ("cost", pooled.cost.middle),
        ("cost_sd", pooled.cost.sd),
        ("form_days", pooled.form_days),
        ("slope", pooled.slope.middle),
        ("slope_sd", pooled.slope.sd),
        ("lasting_slope", pooled.lasting_slope),
        ("slope_days", pooled.slope_days),
        ("slope_variance_per_day", pooled.slope_variance_per_day),
    ] {
        writeln!(text, "value {name} {value:?}")?;
    }
    for (place, (lift, scatter)) in lifts.iter().zip(&parameters.scatter).enumerate() {
        write!(text, "lift {place} {scatter:?}")?;
        for share in &lift.muscles {
            write!(text, " {}={:?}", share.muscle.key(), share.get())?;
        }
        writeln!(text)?;
    }
    for event in record {
        match event {
            Event::CheckIn { days, items } => {
                let cell =
                    |item: &Option<f64>| item.map_or("-".to_owned(), |told| format!("{told:?}"));
                writeln!(text, "check_in {days:?} {}", items.each_ref().map(cell).join(" "))?;
            }
            Event::Work { lift, days, hard_sets } => {
                writeln!(text, "work {lift} {days:?} {hard_sets:?}")?;
            }
            Event::Lead { lift, set } | Event::WorkSets { lift, set, .. } => {
                let (days, kg, reps, left) = (set.days, set.moved_kg, set.reps, set.reserve.reps());
                writeln!(text, "lead {lift} {days:?} {kg:?} {reps} {left:?}")?;
            }
        }
    }
    Ok(text)
}
