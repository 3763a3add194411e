//! Writes the twenty drafting cases as mixed-integer programs in the LP text format that most solvers read, for a
//! second opinion: `cargo run --release -p engine --example draft_lp -- FOLDER`, and then
//! `python3 crates/engine/tests/reference/draft_second_solver.py FOLDER SECONDS > crates/engine/tests/draft_cases/second_solver.csv`.

use std::collections::BTreeMap;
use std::fmt::Write;

use domain::Catalogue;
use engine::programme::draft::Model;
use engine::programme::draft::rows::{Form, Held, Rows};
use engine::programme::{Ground, RecoveryHours};

#[path = "../tests/draft_cases/mod.rs"]
mod draft_cases;

fn main() -> std::io::Result<()> {
    let folder = std::env::args().nth(1).unwrap_or_else(|| ".".to_owned());
    let catalogue = Catalogue::built_in();
    let gauges = BTreeMap::new();
    for (number, case) in draft_cases::all().iter().enumerate() {
        let hours = RecoveryHours::with_slowness(case.slowness);
        let ground = Ground { catalogue: &catalogue, hours: &hours, gauges: &gauges };
        let model =
            Model::new(&case.wishes, ground).expect("the cases name lifts of the catalogue");
        let rows = Rows::of(&model, Form::Tight);
        let text = format!(
            "\\ {}\n\\ {}\n\\ best known: {} points\n{}",
            case.name,
            rows.constant,
            case.best_known,
            lp(&rows)
        );
        std::fs::write(format!("{folder}/{number:02}.lp"), text)?;
    }
    Ok(())
}

fn lp(rows: &Rows) -> String {
    let mut text = String::from("Maximize\n obj:");
    let sum = |text: &mut String, terms: &mut dyn Iterator<Item = (usize, f64)>| {
        for (column, factor) in terms {
            let sign = if factor < 0.0 { '-' } else { '+' };
            let _ = write!(text, " {sign} {} c{column}\n ", factor.abs()); // to a string: can't fail
        }
    };
    sum(&mut text, &mut rows.columns.iter().map(|column| column.worth).enumerate());
    text.push_str("\nSubject To\n");
    for (number, row) in rows.rows.iter().enumerate() {
        let _ = write!(text, " r{number}:");
        sum(&mut text, &mut row.terms.iter().copied());
        let held = match row.held {
            Held::AtMost => "<=",
            Held::AtLeast => ">=",
            Held::Equal => "=",
        };
        let _ = writeln!(text, " {held} {}", row.number);
    }
    text.push_str("Bounds\n");
    for (number, column) in rows.columns.iter().enumerate() {
        let _ = writeln!(text, " 0 <= c{number} <= {}", column.most);
    }
    text.push_str("General\n");
    for (number, _) in rows.columns.iter().enumerate().filter(|(_, column)| column.whole) {
        let _ = writeln!(text, " c{number}");
    }
    text.push_str("End\n");
    text
}
