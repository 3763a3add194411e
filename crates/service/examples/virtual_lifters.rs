//! How good the readings are where the truth is known: virtual lifters, none of the engine's making.
//!
//! `cargo run --release -p service --example virtual_lifters [SEED] [LIFTERS] [WEEKS] [WORLD]` prints the
//! coverage of the forecasts, how well each rule tells short days from sound ones, and a reliability
//! table. The figures of `docs/evidence.md` come from here.

use std::collections::BTreeMap;

use domain::{Catalogue, EquipmentClass, Limits, SetId};
use engine::virtual_lifters::{Truth, World, draw};
use service::history::Point;
use service::replay::replay;

/// A lead set of a virtual lifter with what was said and what was so.
struct Judged {
    point: Point,
    short: bool,
    exposure: usize,
    cable: bool,
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut arguments = std::env::args().skip(1);
    let mut next = |otherwise: &str| arguments.next().unwrap_or_else(|| otherwise.to_owned());
    let (seed, lifters, weeks): (u64, usize, u16) =
        (next("2031").parse()?, next("60").parse()?, next("40").parse()?);
    let world = World::named(&next("brisk")).ok_or("no such world")?;
    let cohort = draw(&world, seed, lifters, weeks, jiff::civil::date(2031, 5, 4))?;
    let catalogue = Catalogue::built_in();
    let all = &cohort.lifters;
    let truths: BTreeMap<SetId, &Truth> =
        all.iter().flat_map(|one| &one.truths).map(|t| (t.set, t)).collect();
    let sets: Vec<_> = all.iter().flat_map(|one| one.sets.clone()).collect();
    let check_ins: Vec<_> = all.iter().flat_map(|one| one.check_ins.clone()).collect();
    let n_sets = sets.len();
    let rows = replay(&catalogue, &Limits::default(), sets, check_ins, &mut |_, _| {});
    println!(
        "{lifters} lifters, {weeks} weeks, seed {seed}: {n_sets} sets, {} lead sets",
        rows.len()
    );
    let judged = judge(&catalogue, &truths, rows);
    coverage(&judged);
    rules(&judged);
    reliability(&judged);
    Ok(())
}

fn judge(catalogue: &Catalogue, truths: &BTreeMap<SetId, &Truth>, rows: Vec<Point>) -> Vec<Judged> {
    let mut exposures: BTreeMap<(String, String), usize> = BTreeMap::new();
    rows.into_iter()
        .filter_map(|point| {
            let key = (point.set.lifter.key(), point.set.lift.key());
            let exposure = exposures.entry(key).or_insert(0);
            *exposure += 1;
            let shortfall = truths.get(&point.set.id())?.shortfall_pct?;
            let cable = catalogue.find(&point.set.lift)?.equipment == EquipmentClass::Cable;
            Some(Judged { point, short: shortfall > 2.0, exposure: *exposure, cable })
        })
        .collect()
}

fn coverage(judged: &[Judged]) {
    println!("\n80 % intervals, from the tenth exposure on: share of lead sets inside");
    let inside = |point: &Point| {
        let expected = point.reading?.expected;
        let (low, high) = expected.interval();
        Some((low..=high).contains(&point.log_shown?))
    };
    let print = |what: &str, chosen: &dyn Fn(&Judged) -> bool| {
        let told: Vec<bool> = judged
            .iter()
            .filter(|one| one.exposure >= 10 && chosen(one))
            .filter_map(|one| inside(&one.point))
            .collect();
        println!("  {what:<28} {:5.1} % of {}", 100.0 * share(&told), told.len());
    };
    print("all", &|_| true);
    print("without cables", &|one| !one.cable);
    print("cables", &|one| one.cable);
    print("reserve told", &|one| one.point.set.rir.is_some());
    print("reserve not told", &|one| one.point.set.rir.is_none());
}

fn rules(judged: &[Judged]) {
    let read: Vec<&Judged> = judged
        .iter()
        .filter(|one| !one.cable && one.exposure >= 10 && one.point.reading.is_some())
        .collect();
    let short = read.iter().filter(|one| one.short).count();
    println!(
        "\nlead sets from the tenth exposure on, without cables: {}; short by more than 2 %: {short} ({:.1} %)",
        read.len(),
        100.0 * short as f64 / read.len() as f64
    );
    let mut scored: Vec<(f64, bool)> =
        read.iter().filter_map(|one| Some((one.point.reading?.p_shortfall, one.short))).collect();
    scored.sort_by(|a, b| b.0.total_cmp(&a.0));
    let plain: Vec<(bool, bool)> =
        read.iter().map(|one| (one.point.plain_rule.unwrap_or(false), one.short)).collect();
    let (caught, alarms) = rates(&plain);
    println!(
        "  plain rule: catches {:.0} %, cuts {:.0} % of sound lead sets",
        100.0 * caught,
        100.0 * alarms
    );
    println!("  one-lift model: area under the curve {:.3}", area(&scored));
    let at_same = alarms_at(&scored, caught);
    println!(
        "  one-lift model at the plain rule's catch: cuts {:.0} % of sound lead sets",
        100.0 * at_same
    );
    for threshold in [0.2, 0.25, 0.3, 0.4, 0.5] {
        let calls: Vec<(bool, bool)> = scored.iter().map(|(p, s)| (*p > threshold, *s)).collect();
        let (caught, alarms) = rates(&calls);
        println!(
            "  one-lift model, threshold {threshold:.2}: catches {:.0} %, cuts {:.1} % of sound lead sets",
            100.0 * caught,
            100.0 * alarms
        );
    }
}

fn reliability(judged: &[Judged]) {
    println!("\nreliability, without cables, from the tenth exposure on");
    println!("  said            n    mean said   happened");
    let scored: Vec<(f64, bool)> = judged
        .iter()
        .filter(|one| !one.cable && one.exposure >= 10)
        .filter_map(|one| Some((one.point.reading?.p_shortfall, one.short)))
        .collect();
    let mut error = 0.0;
    for tenth in 0..10 {
        let (low, high) = (f64::from(tenth) / 10.0, f64::from(tenth + 1) / 10.0);
        let inside: Vec<_> =
            scored.iter().filter(|(p, _)| *p >= low && (*p < high || tenth == 9)).collect();
        if inside.is_empty() {
            continue;
        }
        let n = inside.len() as f64;
        let said = inside.iter().map(|(p, _)| p).sum::<f64>() / n;
        let happened = inside.iter().filter(|(_, short)| *short).count() as f64 / n;
        error += n / scored.len() as f64 * (said - happened).abs();
        println!("  {low:.1} to {high:.1} {:8}       {said:.3}      {happened:.3}", inside.len());
    }
    println!("  expected calibration error {error:.3}");
}

fn share(told: &[bool]) -> f64 {
    told.iter().filter(|inside| **inside).count() as f64 / told.len() as f64
}

/// (catch, false alarms) of a list of (fired, short).
fn rates(calls: &[(bool, bool)]) -> (f64, f64) {
    let of = |wanted: bool| {
        let all = calls.iter().filter(|(_, short)| *short == wanted);
        let (fired, n) = all.fold((0, 0), |(f, n), (fired, _)| (f + i32::from(*fired), n + 1));
        f64::from(fired) / f64::from(n.max(1))
    };
    (of(true), of(false))
}

/// The probability that a short day scores above a sound one; `scored` runs from high to low.
fn area(scored: &[(f64, bool)]) -> f64 {
    let (mut below, mut area, mut short) = (0.0, 0.0, 0.0);
    for (_, is_short) in scored.iter().rev() {
        if *is_short {
            area += below;
            short += 1.0;
        } else {
            below += 1.0;
        }
    }
    area / (short * below)
}

/// False alarms at the first threshold that catches `wanted`.
fn alarms_at(scored: &[(f64, bool)], wanted: f64) -> f64 {
    let short = scored.iter().filter(|(_, short)| *short).count() as f64;
    let sound = scored.len() as f64 - short;
    let (mut caught, mut alarms) = (0.0, 0.0);
    for (_, is_short) in scored {
        if *is_short {
            caught += 1.0
        } else {
            alarms += 1.0
        }
        if caught / short >= wanted {
            break;
        }
    }
    alarms / sound
}
