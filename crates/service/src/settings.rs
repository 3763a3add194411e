//! A lifter's settings as a form: unit, bar, collars, plates, and the coach's limits.
//!
//! A field that stands as it was shown changes nothing, so that rounding for the eye never creeps into
//! the record.

use std::fmt::Write;

use domain::bounds::number;
use domain::{Bar, Lifter, LifterName, Limits, Mass, PlateStock, Refused, Unit};
use jiff::Timestamp;

use crate::ServiceError;
use crate::desk::Desk;
use crate::forms::{Fields, FormError, Problems};
use crate::lift::page::with_costs;
use crate::record::person::lifter;

impl Desk {
    /// A lifter's settings as the fields of their form.
    ///
    /// # Errors
    /// The store has trouble, or nobody has that name.
    pub fn settings(&self, name: &LifterName) -> Result<(LifterName, Fields), ServiceError> {
        let lifter = lifter(self.store(), name)?;
        Ok((lifter.name.clone(), settings_fields(&lifter)))
    }

    /// Records settings that supersede the old, unless they say the same. Masses without a unit are in the
    /// unit that was in force before.
    ///
    /// # Errors
    /// A field can't be taken, the store has trouble, or nobody has that name.
    pub fn set_settings(
        &self,
        name: &LifterName,
        fields: &Fields,
        now: Timestamp,
    ) -> Result<(), FormError> {
        let before = &lifter(self.store(), name)?;
        let mut problems = Problems::default();
        let unit = problems.take("unit", Unit::parse(fields.get("unit")));
        let (bar, plates) = read_equipment(fields, before, &mut problems);
        let limits = read_limits(fields, &before.limits, &mut problems);
        problems.none_left()?;
        if let (Some(unit), Some(bar), Some(plates), Some(limits)) = (unit, bar, plates, limits) {
            let lifter = Lifter { name: before.name.clone(), unit, bar, plates, limits };
            self.store().put_lifter(&lifter, now)?;
        }
        Ok(())
    }
}

/// The fields of the form as a lifter's settings fill them in.
fn settings_fields(lifter: &Lifter) -> Fields {
    let (unit, limits) = (lifter.unit, &lifter.limits);
    Fields::default()
        .with("unit", unit.as_str())
        .with("bar", in_unit(lifter.bar.mass, unit))
        .with("collars", in_unit(lifter.bar.collars, unit))
        .with("plates", plate_lines(&lifter.plates, unit))
        .with("pain", limits.pain())
        .with("shortfall", limits.shortfall_pct())
        .with("cut_for_nothing", limits.cut_for_nothing())
        .with("trained_through", limits.trained_through())
}

/// Reads bar, collars and plates; what is empty or stands as it was shown stays as it is in `before`.
pub(crate) fn read_equipment(
    fields: &Fields,
    before: &Lifter,
    problems: &mut Problems,
) -> (Option<Bar>, Option<PlateStock>) {
    let mut mass = |field: &str, what: &'static str, old: Mass| {
        let text = fields.get(field);
        if text.is_empty() || text == in_unit(old, before.unit) {
            return Some(old);
        }
        problems.take(field, read_mass(what, text, before.unit))
    };
    let bar = mass("bar", "bar", before.bar.mass);
    let collars = mass("collars", "collars", before.bar.collars);
    let bar = bar.zip(collars).map(|(mass, collars)| Bar { mass, collars });
    let text = fields.get("plates").replace('\r', "");
    if text.is_empty() || text == plate_lines(&before.plates, before.unit) {
        return (bar, Some(before.plates.clone()));
    }
    (bar, problems.take("plates", read_plates(&text, before.unit)))
}

/// A mass as it is shown in a field, with its unit: to the gram in kilograms, to a hundredth in pounds.
pub(crate) fn in_unit(mass: Mass, unit: Unit) -> String {
    let value = match unit {
        Unit::Kg => mass.kg(),
        Unit::Lb => (mass.kg() / unit.kg() * 100.0).round() / 100.0,
    };
    format!("{value} {}", unit.as_str())
}

/// A line for each mass, heaviest first: `20 kg x 10`.
fn plate_lines(plates: &PlateStock, unit: Unit) -> String {
    let mut text = String::new();
    for (mass, pairs) in plates.pairs() {
        let between = if text.is_empty() { "" } else { "\n" };
        // Writing to a string doesn't fail.
        let _ = write!(text, "{between}{} x {pairs}", in_unit(*mass, unit));
    }
    text
}

/// Reads `20`, `20 kg` or `45 lb`.
pub(crate) fn read_mass(what: &'static str, text: &str, unit: Unit) -> Result<Mass, Refused> {
    let digits = text.trim_end().trim_end_matches(char::is_alphabetic);
    let named = text[digits.len()..].trim();
    // Where nothing stands before them, letters are no unit: nobody could read the whole of it.
    let value = number(what, if digits.trim().is_empty() { text } else { digits })?;
    let unit = if named.is_empty() { unit } else { Unit::parse(named)? };
    if !(0.0..=MOST_KG / unit.kg()).contains(&value) {
        let (min, max) = (0.0, (MOST_KG / unit.kg()).round());
        let got = digits.trim().to_owned();
        return Err(Refused::OutOfRange { what, got, min, max, unit: unit.as_str() });
    }
    Mass::try_from_kg(value * unit.kg())
}

/// No bar and no plate is heavier.
const MOST_KG: f64 = 200.0;

/// Reads the plates, one mass a line with the number of its pairs behind an `x`.
fn read_plates(text: &str, unit: Unit) -> Result<PlateStock, String> {
    let mut pairs = Vec::new();
    for (idx, line) in text.lines().enumerate().filter(|(_, line)| !line.trim().is_empty()) {
        let at = |reason: String| format!("line {}: {reason}", idx + 1);
        let cut = line.rfind(['x', 'X', '×']).ok_or_else(|| {
            at(format!("`{}` has no number of pairs: write it as `20 kg x 10`", line.trim()))
        })?;
        let mass = read_mass("plate", line[..cut].trim(), unit).map_err(|e| at(e.to_string()))?;
        let count = line[cut..].trim_start_matches(['x', 'X', '×']).trim();
        let count: u8 = count.parse().map_err(|_| {
            at(format!("`{count}` is no number of pairs: write a whole number up to 255"))
        })?;
        pairs.push((mass, count));
    }
    PlateStock::new(pairs).map_err(|reason| reason.to_string())
}

/// Reads the limits, each checked by itself so that its own field can say what is wrong.
fn read_limits(fields: &Fields, before: &Limits, problems: &mut Problems) -> Option<Limits> {
    let whole = fields.get("pain").parse::<u8>().map_err(|_| {
        format!(
            "pain limit `{}` can't be read: write a whole number from 0 to 10",
            fields.get("pain")
        )
    });
    let pain = problems.take("pain", whole).and_then(|pain| {
        problems.take("pain", Limits::new(pain, 2.0, 1.0, 1.0)).map(|limits| limits.pain())
    });
    let shortfall = problems.take("shortfall", number("shortfall", fields.get("shortfall")));
    let shortfall = shortfall.and_then(|pct| {
        problems.take("shortfall", Limits::new(0, pct, 1.0, 1.0)).map(|one| one.shortfall_pct())
    });
    let costs = with_costs(before, fields, problems)?;
    Limits::new(pain?, shortfall?, costs.cut_for_nothing(), costs.trained_through()).ok()
}
