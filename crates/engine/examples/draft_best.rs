//! Makes the best points known of the twenty drafting cases anew, and says how far short searches are from
//! them and how good the bounds are.
//!
//! `cargo run --release -p engine --example draft_best -- SECONDS [FILE [FROM]]` looks for so many seconds of
//! processor time for each case from the FROM-th on, with three seeds in turn, and keeps what is better than
//! before. If FILE is named (`crates/engine/tests/draft_cases/best_known.csv`) it is written after each case.
//! The table shows, for one seed, how many % the week found after 3 and after 30 seconds (or as long as there
//! is) is behind the best known, and the gap to the bound in the plain form and in the tight one.

use std::collections::BTreeMap;
use std::time::Duration;

use cpu_time::ThreadTime;
use domain::Catalogue;
use engine::programme::draft::rows::Form;
use engine::programme::draft::{Bound, Model, Search, Wishes, bound};
use engine::programme::{Ground, RecoveryHours};

#[path = "../tests/draft_cases/mod.rs"]
mod draft_cases;

fn main() {
    let mut arguments = std::env::args().skip(1);
    let seconds: f64 = arguments.next().and_then(|text| text.parse().ok()).unwrap_or(30.0);
    let file = arguments.next();
    let from: usize = arguments.next().and_then(|text| text.parse().ok()).unwrap_or(1);
    let catalogue = Catalogue::built_in();
    let gauges = BTreeMap::new();
    let cases = draft_cases::all();
    let mut known: Vec<(&str, i64)> =
        cases.iter().map(|case| (case.name, case.best_known)).collect();
    let (mut at_3, mut at_30, mut plain, mut tight) = (vec![], vec![], vec![], vec![]);
    for (place, case) in cases.iter().enumerate().skip(from.saturating_sub(1)) {
        let hours = RecoveryHours::with_slowness(case.slowness);
        let ground = Ground { catalogue: &catalogue, hours: &hours, gauges: &gauges };
        let found = look(&case.wishes, ground, seconds);
        let best = found.best.max(case.best_known);
        let behind = |points: i64| 100.0 * (best - points) as f64 / best as f64;
        let model =
            Model::new(&case.wishes, ground).expect("the cases name lifts of the catalogue");
        let gap = |form| match bound(&model, form, Duration::from_secs(60)) {
            Bound::AtMost(most) => 100.0 * (most - best) as f64 / most as f64,
            _ => f64::NAN,
        };
        let (gap_plain, gap_tight) = (gap(Form::Plain), gap(Form::Tight));
        println!(
            "{:<60} best {best:>8}  behind after 3 s {:>5.2} %, after 30 s {:>5.2} %  gap plain {gap_plain:>5.2} %, \
             tight {gap_tight:>5.2} %",
            case.name,
            behind(found.at_3),
            behind(found.at_30)
        );
        at_3.push(behind(found.at_3));
        at_30.push(behind(found.at_30));
        plain.push(gap_plain);
        tight.push(gap_tight);
        known[place].1 = best;
        if let Some(file) = &file {
            let lines: String =
                known.iter().map(|(name, best)| format!("{name};{best}\n")).collect();
            std::fs::write(file, lines).expect("the file can be written");
        }
    }
    for (what, mut all) in
        [("after 3 s", at_3), ("after 30 s", at_30), ("gap plain", plain), ("gap tight", tight)]
    {
        all.sort_by(f64::total_cmp);
        let last = all.len() - 1;
        let median = (all[last / 2] + all[last.div_ceil(2)]) / 2.0;
        println!("{what}: median {median:.2} %, worst {:.2} %", all[last]);
    }
}

struct Found {
    at_3: i64,
    at_30: i64,
    best: i64,
}

/// Three seeds one after the other, the first of them looked at on the way.
fn look(wishes: &Wishes, ground: Ground<'_>, seconds: f64) -> Found {
    let model = Model::new(wishes, ground).expect("the cases name lifts of the catalogue");
    let mut found = Found { at_3: 0, at_30: 0, best: 0 };
    for seed in 1..=3 {
        let mut search = Search::new(&model, seed);
        let begun = ThreadTime::now();
        while begun.elapsed().as_secs_f64() < seconds / 3.0 {
            search.go_on(5_000);
            let points = search.best().map_or(0, |(points, _)| points);
            if seed == 1 {
                let at = begun.elapsed().as_secs_f64();
                found.at_3 = if at <= 3.0 { points } else { found.at_3 };
                found.at_30 = if at <= 30.0 { points } else { found.at_30 };
            }
            found.best = found.best.max(points);
        }
    }
    found
}
