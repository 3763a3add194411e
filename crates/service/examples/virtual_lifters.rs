//! How good the readings are where the truth is known: virtual lifters, none of the engine's making.
//!
//! `cargo run --release -p service --example virtual_lifters [WORLD] [SEED] [LIFTERS] [WEEKS]
//! [--no-check-ins]` prints, for each rival, how well it tells short days from sound ones, whether its
//! probabilities are right, and whether its forecasts hold. `docs/virtual-lifters.md` says how to read
//! that. Lead sets count from the seventh week of a record on, for lifts other than cable, once the
//! lifter's usual is known.

use std::collections::BTreeMap;

use domain::{Catalogue, EquipmentClass, Limits, SetId};
use engine::virtual_lifters::oracle::{self, Nights, Told};
use engine::virtual_lifters::score::{
    Forecast, Said, area_under_curve, bootstrap_90, coverage_80, expected_calibration_error,
    false_cuts_at, rates, reliability,
};
use engine::virtual_lifters::{Truth, VirtualLifter, World, draw};
use service::record::history::Model;
use service::record::inputs::Grounds;
use service::replay::Replay;

/// Seed of the bootstrap, and how many samples it draws.
const BOOTSTRAP: (u64, usize) = (1, 200);
/// Days of a record that don't count.
const FIRST_DAYS: i32 = 42;
/// Days after a layoff that are also looked at by themselves.
const AFTER_LAYOFF_DAYS: i32 = 28;

/// What one rival says of one lead set.
#[derive(Clone, Copy)]
struct Word {
    p_shortfall: f64,
    forecast: Option<Forecast>,
}

/// A way to read a lifter's record: a word for each lead set that it reads.
struct Rival {
    name: &'static str,
    /// Whether its words are probabilities; if not, they only say yes or no.
    probabilities: bool,
    read: fn(&VirtualLifter) -> BTreeMap<SetId, Word>,
}

const RIVALS: [Rival; 7] = [
    Rival { name: "plain rule", probabilities: false, read: plain_rule },
    Rival { name: "one-lift model", probabilities: true, read: one_lift },
    Rival { name: "recovery model", probabilities: true, read: recovery },
    Rival { name: "oracle, told parameters alone", probabilities: true, read: told_parameters },
    Rival { name: "oracle, and levels", probabilities: true, read: told_levels },
    Rival { name: "oracle, and efforts", probabilities: true, read: told_efforts },
    Rival { name: "oracle, and nights: everything", probabilities: true, read: told_everything },
];

/// A rival's words on the lead sets that count, lifter by lifter.
struct Judged {
    said: Vec<Vec<Said>>,
    after_layoff: Vec<Said>,
    forecasts: Vec<Forecast>,
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let (flags, plain): (Vec<String>, Vec<String>) =
        std::env::args().skip(1).partition(|argument| argument.starts_with("--"));
    if let Some(flag) = flags.iter().find(|flag| *flag != "--no-check-ins") {
        return Err(format!("`{flag}` is not known: use `--no-check-ins` or nothing").into());
    }
    let argument = |idx: usize, otherwise: &str| {
        plain.get(idx).map_or_else(|| otherwise.to_owned(), String::clone)
    };
    let name = argument(0, "brisk");
    let world = World::named(&name)
        .ok_or_else(|| format!("`{name}` is no world: use one of {}", World::NAMES.join(", ")))?;
    let (seed, n, weeks): (u64, usize, u16) =
        (argument(1, "2031").parse()?, argument(2, "40").parse()?, argument(3, "40").parse()?);
    let mut lifters = draw(&world, seed, n, weeks, jiff::civil::date(2031, 5, 4))?.lifters;
    if !flags.is_empty() {
        lifters.iter_mut().for_each(|lifter| lifter.check_ins.clear());
    }
    introduce(&world, seed, weeks, &lifters);
    let mut catch = None;
    for rival in &RIVALS {
        let judged = judge(rival, &lifters);
        if !rival.probabilities {
            let calls: Vec<_> =
                judged.said.iter().flatten().map(|one| (one.p > 0.5, one.happened)).collect();
            catch = catch.or(rates(&calls).map(|rates| rates.caught));
        }
        report(rival, &judged, catch);
    }
    Ok(())
}

fn introduce(world: &World, seed: u64, weeks: u16, lifters: &[VirtualLifter]) {
    let sets: usize = lifters.iter().map(|one| one.sets.len()).sum();
    let all: usize = lifters.iter().map(|one| one.truths.len()).sum();
    println!(
        "{} world, seed {seed}: {} lifters, {weeks} weeks, {sets} sets, {all} lead sets",
        world.name,
        lifters.len(),
    );
    let line = |what: &str, shortfalls: &[f64]| {
        let short = shortfalls.iter().filter(|pct| **pct > 2.0).count();
        let share = 100.0 * short as f64 / shortfalls.len().max(1) as f64;
        println!("  {what:<38} {:6}; short by more than 2 %: {share:.1} %", shortfalls.len());
    };
    let shortfalls = |chosen: &dyn Fn(&Truth) -> bool| -> Vec<f64> {
        let catalogue = Catalogue::built_in();
        lifters
            .iter()
            .flat_map(|one| &one.truths)
            .filter(|truth| counts(&catalogue, truth) && chosen(truth))
            .filter_map(|truth| truth.shortfall_pct)
            .collect()
    };
    line("lead sets that count", &shortfalls(&|_| true));
    line("of these, within 4 weeks of a layoff", &shortfalls(&after_layoff));
}

fn counts(catalogue: &Catalogue, truth: &Truth) -> bool {
    truth.record_day >= FIRST_DAYS
        && truth.shortfall_pct.is_some()
        && catalogue.find(&truth.lift).is_some_and(|lift| lift.equipment != EquipmentClass::Cable)
}

fn after_layoff(truth: &Truth) -> bool {
    truth.days_since_layoff.is_some_and(|days| days < AFTER_LAYOFF_DAYS)
}

fn judge(rival: &Rival, lifters: &[VirtualLifter]) -> Judged {
    let catalogue = Catalogue::built_in();
    let mut judged = Judged { said: Vec::new(), after_layoff: Vec::new(), forecasts: Vec::new() };
    for lifter in lifters {
        let words = (rival.read)(lifter);
        let mut said = Vec::new();
        for truth in lifter.truths.iter().filter(|truth| counts(&catalogue, truth)) {
            let (Some(word), Some(pct)) = (words.get(&truth.set), truth.shortfall_pct) else {
                continue;
            };
            let one = Said { p: word.p_shortfall, happened: pct > 2.0 };
            said.push(one);
            judged.forecasts.extend(word.forecast);
            if after_layoff(truth) {
                judged.after_layoff.push(one);
            }
        }
        judged.said.push(said);
    }
    judged
}

fn report(rival: &Rival, judged: &Judged, catch: Option<f64>) {
    let all: Vec<Said> = judged.said.iter().flatten().copied().collect();
    println!("\n{} ({} lead sets read)", rival.name, all.len());
    let interval = |statistic: &dyn Fn(&[Said]) -> Option<f64>, times: f64, decimals: usize| {
        let Some(value) = statistic(&all) else { return "not known".to_owned() };
        let around = bootstrap_90(&judged.said, BOOTSTRAP.0, BOOTSTRAP.1, statistic)
            .map_or_else(String::new, |(low, high)| {
                format!(" ({:.decimals$} to {:.decimals$})", times * low, times * high)
            });
        format!("{:.decimals$}{around}", times * value)
    };
    println!("  area under the curve            {}", interval(&area_under_curve, 1.0, 3));
    if let Some(catch) = catch {
        let cuts = interval(&|some| false_cuts_at(some, catch), 100.0, 1);
        println!(
            "  cuts for nothing at {:2.0} % caught {cuts} % of sound lead sets",
            100.0 * catch
        );
    }
    if let Some(area) = area_under_curve(&judged.after_layoff) {
        println!(
            "  after a layoff                  area {area:.3} ({})",
            judged.after_layoff.len()
        );
    }
    if !rival.probabilities {
        return;
    }
    println!("  expected calibration error      {}", interval(&expected_calibration_error, 1.0, 3));
    if let Some(coverage) = coverage_80(&judged.forecasts) {
        println!("  inside the 80 % interval        {:.1} %", 100.0 * coverage);
    }
    println!("  said            n    mean said   happened");
    for row in reliability(&all) {
        println!(
            "  {:.1} to {:.1} {:8}       {:.3}      {:.3}",
            row.low, row.high, row.n, row.said, row.happened
        );
    }
}

fn plain_rule(lifter: &VirtualLifter) -> BTreeMap<SetId, Word> {
    replayed(lifter, Model::OneLift, |point| {
        Some(Word { p_shortfall: f64::from(u8::from(point.plain_rule?)), forecast: None })
    })
}

fn one_lift(lifter: &VirtualLifter) -> BTreeMap<SetId, Word> {
    replayed(lifter, Model::OneLift, of_reading)
}

fn recovery(lifter: &VirtualLifter) -> BTreeMap<SetId, Word> {
    replayed(lifter, Model::Recovery, of_reading)
}

/// Forecasts are of what the lead set shows by the curve with which it is read.
fn of_reading(point: &service::record::history::Point) -> Option<Word> {
    let reading = point.reading?;
    let (low, high) = reading.expected.interval();
    let forecast = point.log_shown.map(|seen| Forecast { low, high, seen });
    Some(Word { p_shortfall: reading.p_shortfall, forecast })
}

fn told_parameters(lifter: &VirtualLifter) -> BTreeMap<SetId, Word> {
    of_oracle(lifter, Told::PARAMETERS)
}

fn told_levels(lifter: &VirtualLifter) -> BTreeMap<SetId, Word> {
    of_oracle(lifter, Told { levels: true, ..Told::PARAMETERS })
}

fn told_efforts(lifter: &VirtualLifter) -> BTreeMap<SetId, Word> {
    of_oracle(lifter, Told { nights: Nights::CheckedIn, ..Told::EVERYTHING })
}

fn told_everything(lifter: &VirtualLifter) -> BTreeMap<SetId, Word> {
    of_oracle(lifter, Told::EVERYTHING)
}

/// Forecasts are of the true capacity, without scatter.
fn of_oracle(lifter: &VirtualLifter, told: Told) -> BTreeMap<SetId, Word> {
    let limit = Limits::default().shortfall_pct() / 100.0;
    oracle::read(lifter, limit, told)
        .into_iter()
        .zip(&lifter.truths)
        .filter_map(|(reading, truth)| {
            let ((low, high), seen) = (reading.interval_80, truth.log_capacity);
            let forecast = Some(Forecast { low, high, seen });
            Some((reading.set, Word { p_shortfall: reading.p_shortfall?, forecast }))
        })
        .collect()
}

fn replayed(
    lifter: &VirtualLifter,
    model: Model,
    word: impl Fn(&service::record::history::Point) -> Option<Word>,
) -> BTreeMap<SetId, Word> {
    let (sets, check_ins) = (lifter.sets.clone(), lifter.check_ins.clone());
    let (catalogue, limits) = (&Catalogue::built_in(), &Limits::default());
    Replay { catalogue, limits, model, grounds: &Grounds::shipped(), threads: 1 }
        .rows(sets, check_ins, &mut |_, _| {})
        .iter()
        .filter_map(|point| Some((point.set.id(), word(point)?)))
        .collect()
}
