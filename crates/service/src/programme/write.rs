//! From a programme or wishes to the text of their file, which reads back to the same.

use std::fmt::Write;

use domain::programme::weekday_name;
use domain::{LiftName, PlannedLift, Programme, Progression, Purpose, Rir};
use engine::programme::draft::Keep;

use super::WishFile;

/// Writes a programme as the text of a programme file.
#[must_use]
pub fn write_programme(programme: &Programme) -> String {
    let mut text = String::new();
    line(&mut text, format_args!("name = {}", quoted(programme.name.as_str())));
    if !programme.note.is_empty() {
        line(&mut text, format_args!("note = {}", quoted(programme.note.as_str())));
    }
    write_purpose(&mut text, &programme.purpose);
    for day in programme.days() {
        line(&mut text, format_args!("\n[[day]]\nweekday = \"{}\"", weekday_name(day.weekday())));
        if let Some(minutes) = day.minutes() {
            line(&mut text, format_args!("minutes = {minutes}"));
        }
        for planned in day.lifts() {
            write_lift(&mut text, planned);
        }
    }
    text
}

/// Writes wishes as the text of a wish file. What the lifter does now is no part of it.
#[must_use]
pub fn write_wishes(file: &WishFile) -> String {
    let wishes = &file.wishes;
    let mut text = String::new();
    line(&mut text, format_args!("name = {}", quoted(file.name.as_str())));
    if !file.note.is_empty() {
        line(&mut text, format_args!("note = {}", quoted(file.note.as_str())));
    }
    lifts(&mut text, "prefer", &wishes.prefer);
    if wishes.keep == Keep::All {
        line(&mut text, format_args!("keep = \"all\""));
    }
    write_purpose(&mut text, &wishes.purpose);
    for day in &wishes.days {
        line(&mut text, format_args!("\n[[day]]\nweekday = \"{}\"", day.name()));
        if let Some(minutes) = day.minutes {
            line(&mut text, format_args!("minutes = {minutes}"));
        }
        for planned in &day.pinned {
            write_lift(&mut text, planned);
        }
    }
    text
}

fn list(text: &mut String, key: &str, words: Vec<&str>) {
    let quoted: Vec<String> = words.into_iter().map(quoted).collect();
    line(text, format_args!("{key} = [{}]", quoted.join(", ")));
}

fn lifts(text: &mut String, key: &str, lifts: &[LiftName]) {
    if !lifts.is_empty() {
        list(text, key, lifts.iter().map(LiftName::as_str).collect());
    }
}

fn write_purpose(text: &mut String, purpose: &Purpose) {
    let Purpose { raise, equipment, spare, dose, refuse, drafting } = purpose;
    lifts(text, "raise", raise);
    lifts(text, "refuse", refuse);
    if let Some(equipment) = equipment {
        list(text, "equipment", equipment.iter().map(|class| class.key()).collect());
    }
    if !spare.is_empty() {
        list(text, "spare", spare.iter().map(|joint| joint.key()).collect());
    }
    if let Some(most) = drafting.most_lifts {
        line(text, format_args!("most_lifts = {most}"));
    }
    if drafting.ignore_hours {
        line(text, format_args!("mind_hours = false"));
    }
    if !dose.is_empty() {
        line(text, format_args!("\n[dose]"));
    }
    for (muscle, range) in dose {
        let (least, aim, most) = (range.least(), range.aim(), range.most());
        line(text, format_args!("{} = [{least}, {aim}, {most}]", muscle.key()));
    }
    if !drafting.priorities.is_empty() {
        line(text, format_args!("\n[priority]"));
    }
    for (muscle, priority) in &drafting.priorities {
        line(text, format_args!("{} = \"{}\"", muscle.key(), priority.key()));
    }
}

fn write_lift(text: &mut String, planned: &PlannedLift) {
    line(text, format_args!("\n[[day.lift]]\nlift = {}", quoted(planned.lift().as_str())));
    if !matches!(planned.progression(), Progression::Wave { .. }) {
        let reps = planned.reps();
        line(text, format_args!("sets = {}", planned.sets()));
        if reps.is_one() {
            line(text, format_args!("reps = {}", reps.low()));
        } else {
            line(text, format_args!("reps = [{}, {}]", reps.low(), reps.high()));
        }
    }
    if let Some(rir) = planned.rir().map(Rir::get) {
        line(text, format_args!("rir = {rir}"));
    }
    if let Some(seconds) = planned.rest_seconds() {
        line(text, format_args!("rest_seconds = {seconds}"));
    }
    line(text, format_args!("progression = {{ {} }}", progression(planned.progression())));
}

fn progression(progression: &Progression) -> String {
    let mut text = format!("rule = \"{}\"", progression.name());
    let step = match progression {
        Progression::Double { step } => *step,
        Progression::LoadSteps { step, back } => {
            let (misses, pct) = (back.misses(), back.pct());
            let _ = write!(text, ", misses = {misses}, back_pct = {pct}"); // to a string: can't fail
            *step
        }
        Progression::RepGoal { total, step } => {
            let _ = write!(text, ", total = {total}");
            *step
        }
        Progression::OfToday(share) => {
            let _ = write!(text, ", pct = {}", share.pct());
            None
        }
        Progression::Wave { weeks } => {
            let weeks: Vec<String> = weeks
                .iter()
                .map(|week| {
                    let (sets, reps, pct) = (week.sets(), week.reps(), week.share().pct());
                    format!("{{ sets = {sets}, reps = {reps}, pct = {pct} }}")
                })
                .collect();
            let _ = write!(text, ", weeks = [{}]", weeks.join(", "));
            None
        }
    };
    if let Some(step) = step {
        let _ = write!(text, ", step_kg = {}", step.kg());
    }
    text
}

fn line(text: &mut String, what: std::fmt::Arguments<'_>) {
    let _ = writeln!(text, "{what}"); // to a string: can't fail
}

/// The text as a basic string of TOML.
fn quoted(text: &str) -> String {
    let mut quoted = String::from("\"");
    for letter in text.chars() {
        match letter {
            '"' => quoted.push_str("\\\""),
            '\\' => quoted.push_str("\\\\"),
            '\n' => quoted.push_str("\\n"),
            '\t' => quoted.push_str("\\t"),
            control if control.is_control() => {
                let _ = write!(quoted, "\\u{:04x}", u32::from(control));
            }
            other => quoted.push(other),
        }
    }
    quoted.push('"');
    quoted
}
