//! How well the one-lift model and the recovery model forecast strength tests of real people.
//!
//! `cargo run --release -p service --example strength_tests` reads open data (source and licence in
//! the README beside the file), takes them through the import and the replay, and prints scatter and
//! errors of forecasts beside those of plain rivals. The figures of `docs/evidence.md` come from
//! here. It says nothing about calls: six tests a leg are too few for a gauge.

#[path = "../tests/support/forecast_contest.rs"]
mod forecast_contest;
#[path = "../tests/support/recovery_contest.rs"]
mod recovery_contest;
#[path = "../tests/support/strength_data.rs"]
mod strength_data;

use std::error::Error;

use forecast_contest::{
    Forecast, Rival, alike, coverage_pct, forecasts, interval, recovery_coverage_pct, repeat, score,
};
use strength_data::{Exercise, Leg, Replayed, TIMES, Timing, replayed};

/// The day of `session1`, counted from `pre`.
const SESSION1_DAY: i32 = 5;

fn main() -> Result<(), Box<dyn Error>> {
    let all = replayed(&Timing::with_session1_on(SESSION1_DAY))?;
    let people = count(all.tests.iter().map(|test| test.participant.clone()));
    let legs = count(all.tests.iter().map(strength_data::StrengthTest::lifter));
    println!(
        "{} tests of {legs} legs of {people} people imported, {} refused; {} rows replayed",
        all.report.new,
        all.report.refused,
        all.rows.len()
    );
    println!("`session1` is put {SESSION1_DAY} days after `pre`; 95 % intervals in brackets\n");
    scatter(&all)?;
    let told = forecasts(&all, Leg::Left)?;
    contest(&told);
    println!(
        "\nwhat the others' mean gain misses: correlation of both legs on a day, and of a leg with the time before"
    );
    for exercise in Exercise::BOTH {
        let (legs, before) = alike(&told, exercise);
        println!("  {}: {legs:.2}, {before:+.2}", exercise.lift());
    }
    println!("\nthe right leg tested first");
    let first_right = forecasts(&all, Leg::Right)?;
    print_contest("both lifts", &first_right.iter().collect::<Vec<_>>());
    by_time(&told);
    other_cuts(&told);
    other_days()
}

fn count(names: impl Iterator<Item = String>) -> usize {
    names.collect::<std::collections::BTreeSet<_>>().len()
}

fn scatter(all: &Replayed) -> Result<(), Box<dyn Error>> {
    println!("from one time to the next: typical error as a CV, mean change, detectable change, %");
    for exercise in Exercise::BOTH {
        println!("  {}", exercise.lift());
        for time in 1..TIMES.len() {
            let told = repeat(&all.tests, exercise, time)?;
            println!(
                "    {:>8} to {:<8} {:2} legs: CV {:4.1} (legs {:.1} to {:.1}; people {:.1} to {:.1}), change {:+5.1}, detectable {:4.1}",
                TIMES[time - 1],
                TIMES[time],
                told.legs,
                told.cv_pct,
                told.cv_by_legs.0,
                told.cv_by_legs.1,
                told.cv_by_people.0,
                told.cv_by_people.1,
                told.mean_change_pct,
                told.detectable_pct
            );
        }
    }
    Ok(())
}

fn contest(forecasts: &[Forecast]) {
    println!("\nforecasts of the next test: error in hundredths of ln load, and in kg");
    for earliest in [2, 3] {
        for exercise in [None, Some(Exercise::LegPress), Some(Exercise::KneeExtension)] {
            let chosen: Vec<&Forecast> = forecasts
                .iter()
                .filter(|one| one.nth >= earliest)
                .filter(|one| exercise.is_none_or(|wanted| one.test.exercise == wanted))
                .collect();
            let what = exercise.map_or("both", Exercise::lift);
            print_contest(&format!("{what}, from test {earliest} of a leg on"), &chosen);
        }
    }
    println!("\nby place on the day, the left leg being tested first");
    for exercise in [None, Some(Exercise::LegPress), Some(Exercise::KneeExtension)] {
        by_place(forecasts, exercise);
    }
}

/// What a forecast of the second leg owes to the first.
fn by_place(forecasts: &[Forecast], exercise: Option<Exercise>) {
    for (name, is_second) in [("second leg of the day", true), ("the others", false)] {
        let chosen: Vec<&Forecast> = forecasts
            .iter()
            .filter(|one| one.is_second == is_second)
            .filter(|one| exercise.is_none_or(|wanted| one.test.exercise == wanted))
            .collect();
        let what = exercise.map_or("both", Exercise::lift);
        print_contest(&format!("{what}, {name}"), &chosen);
    }
}

fn print_contest(title: &str, chosen: &[&Forecast]) {
    println!("  {title}: {} tests", chosen.len());
    for rival in Rival::ALL {
        let told = score(chosen, rival);
        print!(
            "    {:<31} mean absolute error {:4.1} % ({:4.1} kg), result less forecast {:+5.1} %",
            rival.name(),
            told.mae_pct,
            told.mae_kg,
            told.bias_pct
        );
        if rival == Rival::OneLift {
            let (low, high) = interval(chosen, &coverage_pct);
            println!(", 80 % interval held {:.0} % [{low:.0} to {high:.0}]", coverage_pct(chosen));
        } else if rival == Rival::Recovery {
            let (low, high) = interval(chosen, &recovery_coverage_pct);
            let held = recovery_coverage_pct(chosen);
            println!(", 80 % interval held {held:.0} % [{low:.0} to {high:.0}]");
        } else {
            let ahead = |some: &[&Forecast]| {
                score(some, Rival::Recovery).mae_pct - score(some, rival).mae_pct
            };
            let (low, high) = interval(chosen, &ahead);
            println!(", recovery less this {:+.1} [{low:+.1} to {high:+.1}]", ahead(chosen));
        }
    }
}

fn by_time(forecasts: &[Forecast]) {
    println!("\nby time of testing, both lifts: mean absolute error % and coverage");
    for (time, name) in TIMES.iter().enumerate().skip(1) {
        let chosen: Vec<&Forecast> = forecasts.iter().filter(|one| one.test.time == time).collect();
        print_line(name, &chosen);
    }
}

fn other_cuts(forecasts: &[Forecast]) {
    println!("\nby training of the leg, and without the people whom the study left out");
    let print = |name: &str, wanted: &dyn Fn(&Forecast) -> bool| {
        let chosen: Vec<&Forecast> = forecasts.iter().filter(|one| wanted(one)).collect();
        print_line(name, &chosen);
    };
    print("one set", &|one| one.test.arm == "single");
    print("three sets", &|one| one.test.arm == "multiple");
    print("included", &|one| one.test.included);
}

fn other_days() -> Result<(), Box<dyn Error>> {
    println!("\n`session1` put on another day after `pre`");
    for day in [2, SESSION1_DAY, 9] {
        let forecasts = forecasts(&replayed(&Timing::with_session1_on(day))?, Leg::Left)?;
        print_line(&format!("day {day}"), &forecasts.iter().collect::<Vec<_>>());
    }
    Ok(())
}

fn print_line(name: &str, chosen: &[&Forecast]) {
    let [model, pooled, last, group, _] = Rival::ALL.map(|rival| score(chosen, rival));
    println!(
        "  {name:<12} {:3} tests: one-lift {:4.1}, recovery {:4.1}, last value {:4.1}, with others' gain {:4.1}; result less forecast {:+5.1}; 80 % interval held {:.0} %",
        chosen.len(),
        model.mae_pct,
        pooled.mae_pct,
        last.mae_pct,
        group.mae_pct,
        model.bias_pct,
        coverage_pct(chosen)
    );
}
