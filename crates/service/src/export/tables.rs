//! The current sets and check-ins as tables, in the very formats that are imported. Text that a spreadsheet
//! would run as a formula gets an apostrophe in front, which an import takes off again.

use std::io::Write;

use domain::{CheckIn, LifterName, Load, LoggedSet};
use store::Store;

use super::WriteTrouble;
use crate::import::cell_text::guarded;

/// The columns of the table of sets.
const SET_COLUMNS: [&str; 10] =
    ["lifter", "date", "lift", "set", "kind", "load", "unit", "reps", "rir", "note"];
/// The columns of the table of check-ins; body mass is in kg.
const CHECK_IN_COLUMNS: [&str; 8] =
    ["lifter", "date", "sleep_h", "stress", "soreness", "body_mass", "pain_joint", "pain"];

/// Writes the current sets of these lifters; says how many there are.
pub(super) fn write_sets(
    store: &Store,
    lifters: &[LifterName],
    out: &mut dyn Write,
) -> Result<u64, WriteTrouble> {
    let mut table = csv::Writer::from_writer(out);
    table.write_record(SET_COLUMNS)?;
    let mut n_sets = 0;
    for lifter in lifters {
        for set in store.sets_of(lifter)? {
            table.write_record(set_row(&set))?;
            n_sets += 1;
        }
    }
    table.flush()?;
    Ok(n_sets)
}

/// Writes the current check-ins of these lifters; says how many there are.
pub(super) fn write_check_ins(
    store: &Store,
    lifters: &[LifterName],
    out: &mut dyn Write,
) -> Result<u64, WriteTrouble> {
    let mut table = csv::Writer::from_writer(out);
    table.write_record(CHECK_IN_COLUMNS)?;
    let mut n_check_ins = 0;
    for lifter in lifters {
        for check_in in store.check_ins_of(lifter)? {
            table.write_record(check_in_row(&check_in))?;
            n_check_ins += 1;
        }
    }
    table.flush()?;
    Ok(n_check_ins)
}

fn set_row(set: &LoggedSet) -> [String; 10] {
    [
        guarded(set.lifter.as_str()).into_owned(),
        set.when.to_string(),
        guarded(set.lift.as_str()).into_owned(),
        set.number.get().to_string(),
        set.kind.as_str().to_owned(),
        shortest(set.load).to_string(),
        set.load.unit().as_str().to_owned(),
        set.reps.to_string(),
        set.rir.map_or_else(String::new, |rir| rir.to_string()),
        guarded(set.note.as_str()).into_owned(),
    ]
}

fn check_in_row(check_in: &CheckIn) -> [String; 8] {
    let number = |value: Option<f64>| value.map_or_else(String::new, |value| value.to_string());
    [
        guarded(check_in.lifter.as_str()).into_owned(),
        check_in.when.to_string(),
        number(check_in.sleep_h),
        number(check_in.stress),
        number(check_in.soreness),
        number(check_in.body_mass.map(domain::Mass::kg)),
        check_in.pain.map_or_else(String::new, |pain| pain.joint.key().to_owned()),
        check_in.pain.map_or_else(String::new, |pain| pain.rating().to_string()),
    ]
}

/// The load in its own unit with as few decimals as bring the same grams back: 225 lb and not
/// 224.999 lb. A thousandth tells grams apart in both units.
fn shortest(load: Load) -> f64 {
    let rounded = |places: i32| (load.value() * 10_f64.powi(places)).round() / 10_f64.powi(places);
    (0..3)
        .map(rounded)
        .find(|value| Load::new(*value, load.unit()).is_ok_and(|same| same == load))
        .unwrap_or(load.value())
}

#[cfg(test)]
mod tests {
    use domain::Unit;

    use super::*;

    #[test]
    fn every_load_comes_back_from_its_text() {
        for unit in [Unit::Kg, Unit::Lb] {
            for grams in (-299_000..2_000_000).step_by(997) {
                let load = Load::from_grams(grams, unit).unwrap();
                let text = shortest(load).to_string();
                assert_eq!(Load::parse(&text, unit), Ok(load), "{text} {unit:?}");
            }
        }
        assert_eq!(shortest(Load::new(225.0, Unit::Lb).unwrap()), 225.0);
        assert_eq!(shortest(Load::new(182.5, Unit::Lb).unwrap()), 182.5);
    }
}
