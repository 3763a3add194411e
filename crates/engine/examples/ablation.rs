//! What each ingredient of the recovery model is worth: taken away in turn, on virtual lifters.
//!
//! `cargo run --release -p engine --example ablation [WORLD|all] [SEED] [LIFTERS] [WEEKS]`. Prints, for
//! the whole model and for each variant, the area under the curve, the false cuts at the plain rule's
//! catch, the calibration error and the coverage, with the difference in area to the whole model and
//! its 90 % interval over lifters. Nothing recalibrates what the model says; the variant that does, by a
//! logistic regression on the other half of the lifters, shows what is missed. The tables of `docs/evidence.md` come from here.

use std::collections::BTreeMap;

use domain::{Catalogue, EquipmentClass, Lift, SetId, SetKind};
use engine::recovery::dose::hard_sets;
use engine::recovery::{Freak, Lifter, Pooled, Shape, Spread};
use engine::strength::Reserve;
use engine::trend::LeadSet;
use engine::virtual_lifters::score::{
    Forecast, Said, area_under_curve, coverage_80, expected_calibration_error, false_cuts_at,
};
use engine::virtual_lifters::{VirtualLifter, World, draw};

/// The catch at which false cuts are compared: about the plain rule's.
const CATCH: f64 = 0.71;
/// Days of a record that don't count.
const FIRST_DAYS: i32 = 42;

/// One way to build the model.
struct Variant {
    name: &'static str,
    change: fn(&mut Pooled),
    check_ins: bool,
    fitted: bool,
    later_sets: bool,
    recalibrated: bool,
}

const NOTHING: Spread = Spread { middle: 1e-6, sd: 1e-6 };

fn variants() -> Vec<Variant> {
    let whole = |name, change| Variant {
        name,
        change,
        check_ins: true,
        fitted: true,
        later_sets: true,
        recalibrated: false,
    };
    vec![
        whole("whole model", |_| {}),
        whole("without muscles", |p| {
            p.muscle_sd = NOTHING;
            p.cost = Spread { middle: 0.0, sd: 0.0 };
        }),
        whole("without dose", |p| p.cost = Spread { middle: 0.0, sd: 0.0 }),
        Variant { check_ins: false, ..whole("without check-ins", |_| {}) },
        whole("without form", |p| p.form_sd = NOTHING),
        whole("without stress slowing recovery", |p| p.stress_slows = NOTHING),
        whole("without heavy tails", |p| p.freak = Freak::NONE),
        whole("every freak taken for a slip", |p| p.freak.of_day = 0.0),
        Variant { later_sets: false, ..whole("without later work sets", |_| {}) },
        Variant { recalibrated: true, ..whole("recalibrated on the other half", |_| {}) },
        Variant { fitted: false, ..whole("pooled values only, nothing fitted", |_| {}) },
        whole("each lifter alone (priors 4 times as wide)", |p| {
            for spread in [
                &mut p.muscle_sd,
                &mut p.slowness,
                &mut p.form_sd,
                &mut p.drift,
                &mut p.unsteadiness,
                &mut p.reserve_share,
                &mut p.stress_slows,
            ] {
                spread.sd *= 4.0;
            }
            p.lift_scatter_sd *= 4.0;
            p.check_in_effects.iter_mut().for_each(|effect| effect.sd *= 4.0);
        }),
    ]
}

/// What was said of one lifter's lead sets that count.
#[derive(Default)]
struct Judged {
    said: Vec<Said>,
    forecasts: Vec<Forecast>,
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let argument = |idx: usize, otherwise: &str| {
        arguments.get(idx).map_or(otherwise.to_owned(), String::clone)
    };
    let (seed, n, weeks): (u64, usize, u16) =
        (argument(1, "4242").parse()?, argument(2, "40").parse()?, argument(3, "40").parse()?);
    let only = argument(4, "");
    let worlds = match argument(0, "all").as_str() {
        "all" => World::all().to_vec(),
        name => vec![World::named(name).ok_or("no such world")?],
    };
    for world in &worlds {
        let lifters = draw(world, seed, n, weeks, jiff::civil::date(2031, 5, 4))?.lifters;
        println!("\n{} world, seed {seed}, {n} lifters, {weeks} weeks", world.name);
        let mut whole: Option<Vec<Judged>> = None;
        for variant in variants().iter().filter(|v| v.name.contains(&only)) {
            let mut judged = judge_all(&lifters, variant);
            if variant.recalibrated {
                recalibrate(&mut judged);
            }
            report(variant.name, &judged, whole.as_deref());
            whole.get_or_insert(judged);
        }
    }
    Ok(())
}

fn judge_all(lifters: &[VirtualLifter], variant: &Variant) -> Vec<Judged> {
    let half = lifters.len().div_ceil(2);
    std::thread::scope(|scope| {
        let running: Vec<_> = lifters
            .chunks(half.max(1))
            .map(|some| {
                scope.spawn(move || some.iter().map(|one| judge(one, variant)).collect::<Vec<_>>())
            })
            .collect();
        running.into_iter().flat_map(|one| one.join().unwrap_or_default()).collect()
    })
}

/// Puts what was said of each half of the lifters on the line, in logits, that fits the other half best.
fn recalibrate(judged: &mut [Judged]) {
    let half = judged.len() / 2;
    let (one, other) = judged.split_at_mut(half);
    let lines = [line(other), line(one)];
    for (some, (start, slope)) in [one, other].into_iter().zip(lines) {
        for said in some.iter_mut().flat_map(|judged| &mut judged.said) {
            said.p = (1.0 + (-start - slope * logit(said.p)).exp()).recip();
        }
    }
}

fn logit(p: f64) -> f64 {
    let p = p.clamp(1e-9, 1.0 - 1e-9);
    (p / (1.0 - p)).ln()
}

/// The logistic regression of what happened on the logit of what was said: start and slope, by Newton's
/// method.
fn line(judged: &[Judged]) -> (f64, f64) {
    let (mut start, mut slope) = (0.0, 1.0);
    for _ in 0..25 {
        let (mut g, mut h) = ([0.0; 2], [0.0; 3]);
        for said in judged.iter().flat_map(|one| &one.said) {
            let x = logit(said.p);
            let p = (1.0 + (-start - slope * x).exp()).recip();
            let (left, weight) = (f64::from(u8::from(said.happened)) - p, p * (1.0 - p));
            g = [g[0] + left, g[1] + left * x];
            h = [h[0] + weight, h[1] + weight * x, h[2] + weight * x * x];
        }
        let determinant = h[0] * h[2] - h[1] * h[1];
        if determinant <= 0.0 {
            break;
        }
        start += (h[2] * g[0] - h[1] * g[1]) / determinant;
        slope += (h[0] * g[1] - h[1] * g[0]) / determinant;
    }
    (start, slope)
}

fn judge(lifter: &VirtualLifter, variant: &Variant) -> Judged {
    let catalogue = Catalogue::built_in();
    let truths: BTreeMap<SetId, _> = lifter.truths.iter().map(|t| (t.set, t)).collect();
    let mut lifts: Vec<&Lift> = Vec::new();
    for set in &lifter.sets {
        if let Some(lift) = catalogue.find(&set.lift).filter(|lift| !lifts.contains(lift)) {
            lifts.push(lift);
        }
    }
    let mut pooled = Pooled::shipped();
    (variant.change)(&mut pooled);
    let mut model = Lifter::new(Shape::of(lifts.iter().copied()), pooled);
    let mut judged = Judged::default();
    let mut check_ins = lifter.check_ins.iter().peekable();
    let (mut body_mass, mut last) = (75.0, None);
    for set in &lifter.sets {
        let days = set.when.days();
        let Some(lift) = lifts.iter().position(|l| catalogue.find(&set.lift) == Some(*l)) else {
            continue;
        };
        if last.is_some_and(|(_, then): (usize, f64)| then < days) && variant.fitted {
            model.settle();
        }
        while let Some(told) = check_ins.next_if(|c| c.when.date() <= set.when.date()) {
            body_mass = told.body_mass.map_or(body_mass, domain::Mass::kg);
            if variant.check_ins {
                model.check_in(
                    told.when.days().min(days),
                    [told.sleep_h, told.stress, told.soreness],
                );
            }
        }
        let reserve = match (set.rir, set.kind) {
            (Some(rir), _) => Reserve::Reported(rir.get()),
            (None, SetKind::Test) => Reserve::Reported(0.0),
            (None, _) => model.usual_reserve(lift),
        };
        let moved_kg = lifts[lift].moved_kg(set.load.kg(), body_mass);
        let lead = LeadSet { days, moved_kg, reps: set.reps.get(), reserve };
        if set.kind.can_lead() && last != Some((lift, days)) {
            last = Some((lift, days));
            let truth = truths.get(&set.id()).filter(|t| t.record_day >= FIRST_DAYS);
            if let (Some(pct), Some(expected), Some(shown)) = (
                truth.and_then(|t| t.shortfall_pct),
                model.expect(lift, &lead),
                model.shown_by(&lead),
            ) && lifts[lift].equipment != EquipmentClass::Cable
            {
                let (low, high) = expected.interval();
                judged.forecasts.push(Forecast { low, high, seen: shown });
                let p = expected.p_shortfall(shown, 0.02);
                judged.said.push(Said { p, happened: pct > 2.0 });
            }
            model.lead(lift, lead);
        } else if set.kind == SetKind::Work && variant.later_sets {
            model.later(lift, lead);
        }
        model.work(lift, days, hard_sets(set));
    }
    judged
}

fn report(name: &str, judged: &[Judged], whole: Option<&[Judged]>) {
    let said: Vec<Said> = judged.iter().flat_map(|one| one.said.iter().copied()).collect();
    let forecasts: Vec<Forecast> =
        judged.iter().flat_map(|one| one.forecasts.iter().copied()).collect();
    let area = |judged: &[&Judged]| {
        let said: Vec<Said> = judged.iter().flat_map(|one| one.said.iter().copied()).collect();
        area_under_curve(&said).unwrap_or(f64::NAN)
    };
    let difference = whole.map_or_else(String::new, |whole| {
        let all: Vec<usize> = (0..judged.len()).collect();
        let by = |chosen: &[usize]| {
            let of =
                |from: &[Judged]| area(&chosen.iter().map(|&idx| &from[idx]).collect::<Vec<_>>());
            of(judged) - of(whole)
        };
        let (low, high) = resampled(&all, &by);
        format!("{:+.3} ({low:+.3} to {high:+.3})", by(&all))
    });
    println!(
        "  {name:<43} area {:.3}, cuts {:4.1} %, error {:.3}, inside {:.1} %  {difference}",
        area_under_curve(&said).unwrap_or(f64::NAN),
        100.0 * false_cuts_at(&said, CATCH).unwrap_or(f64::NAN),
        expected_calibration_error(&said).unwrap_or(f64::NAN),
        100.0 * coverage_80(&forecasts).unwrap_or(f64::NAN),
    );
}

/// The 90 % percentile interval of a statistic over lifters drawn with replacement; fixed draws.
fn resampled(all: &[usize], of: &dyn Fn(&[usize]) -> f64) -> (f64, f64) {
    const DRAWS: usize = 100;
    let mut state = 1_u64;
    let mut next = || {
        state =
            state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) as usize % all.len()
    };
    let mut values: Vec<f64> =
        (0..DRAWS).map(|_| of(&(0..all.len()).map(|_| all[next()]).collect::<Vec<_>>())).collect();
    values.sort_by(f64::total_cmp);
    (values[DRAWS / 20], values[DRAWS - 1 - DRAWS / 20])
}
