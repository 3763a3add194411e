//! From the text of a programme file to a programme. `docs/programme-format.md` describes the file.

use std::collections::BTreeMap;

use domain::programme::{ShareOfToday, StepBack, WaveWeek, parse_weekday, weekday_name};
use domain::{
    DoseRange, Drafting, EquipmentClass, Joint, LiftName, Muscle, Note, PlannedLift, Priority,
    Programme, ProgrammeDay, ProgrammeName, Progression, Purpose, RepRange, Rir,
};
use toml_edit::Document;

use super::FileError;
use super::table::{Node, line_at};

/// What a programme says of itself, and wishes as well: what it is called and for.
pub(super) const OWN: [&str; 10] = [
    "name",
    "note",
    "raise",
    "equipment",
    "spare",
    "dose",
    "refuse",
    "priority",
    "most_lifts",
    "mind_hours",
];

/// What can be said of the most lifts in a day.
pub(super) const MOST_LIFTS: std::ops::RangeInclusive<u8> = 1..=20;

/// Reads a programme.
///
/// # Errors
/// The text isn't TOML, or something in it is missing, unknown or out of range: line, place and cure.
pub fn read_programme(text: &str) -> Result<Programme, FileError> {
    let document = parsed(text)?;
    let file = Node::new(text, document.as_table(), "the programme");
    file.only(&[&OWN[..], &["day"]].concat())?;
    let (name, note) = name_and_note(&file)?;
    let purpose = purpose(&file)?;
    let days = file.tables("day")?.into_iter().map(day).collect::<Result<_, _>>()?;
    Programme::new(name, note, purpose, days).map_err(|error| file.fail("day", error))
}

/// What it is called, and the remark on it.
pub(super) fn name_and_note(file: &Node<'_>) -> Result<(ProgrammeName, Note), FileError> {
    let name = file.read("name", ProgrammeName::new)?;
    let note = match file.text("note")? {
        None => Note::default(),
        Some(text) => Note::new(text).map_err(|refused| file.fail("note", refused))?,
    };
    Ok((name, note))
}

/// The text as TOML.
pub(super) fn parsed(text: &str) -> Result<Document<&str>, FileError> {
    Document::parse(text).map_err(|error| FileError::NotToml {
        line: error.span().map_or(1, |span| line_at(text, span.start)),
        reason: error.message().lines().next().unwrap_or_default().to_owned(),
    })
}

/// What a programme is for: `raise`, `equipment`, `spare`, `[dose]` and `refuse`; and what is wanted of drafts.
pub(super) fn purpose(file: &Node<'_>) -> Result<Purpose, FileError> {
    let equipment =
        file.has("equipment").then(|| file.list("equipment", EquipmentClass::parse)).transpose()?;
    let mut dose = BTreeMap::new();
    if let Some(ranges) = file.table("dose")? {
        for key in ranges.keys() {
            let muscle = Muscle::parse(key).map_err(|refused| ranges.fail(key, refused))?;
            let [least, aim, most] = ranges.numbers(key)?[..] else {
                return Err(ranges.fail(key, "write three numbers: least, aim, most"));
            };
            let range = DoseRange::new(least, aim, most);
            dose.insert(muscle, range.map_err(|refused| ranges.fail(key, refused))?);
        }
    }
    Ok(Purpose {
        raise: file.list("raise", LiftName::new)?,
        equipment,
        spare: file.list("spare", Joint::parse)?,
        dose,
        refuse: file.list("refuse", LiftName::new)?,
        drafting: drafting(file)?,
    })
}

/// What is wanted of drafts: `[priority]`, `most_lifts` and `mind_hours`.
fn drafting(file: &Node<'_>) -> Result<Drafting, FileError> {
    let most_lifts = file.whole("most_lifts")?;
    if most_lifts.is_some_and(|most| !MOST_LIFTS.contains(&most)) {
        return Err(file.fail("most_lifts", "`most_lifts` must be from 1 to 20"));
    }
    let mut priorities = BTreeMap::new();
    if let Some(table) = file.table("priority")? {
        for key in table.keys() {
            let muscle = Muscle::parse(key).map_err(|refused| table.fail(key, refused))?;
            priorities.insert(muscle, table.read(key, Priority::parse)?);
        }
    }
    let ignore_hours = !file.flag("mind_hours")?.unwrap_or(true);
    Ok(Drafting { priorities, most_lifts, ignore_hours })
}

fn day(node: Node<'_>) -> Result<ProgrammeDay, FileError> {
    node.only(&["weekday", "minutes", "lift"])?;
    let weekday = node.read("weekday", parse_weekday)?;
    let node = node.called(weekday_name(weekday).to_owned());
    let minutes = node.whole("minutes")?;
    let mut lifts = Vec::new();
    for (idx, lift) in node.tables("lift")?.into_iter().enumerate() {
        let place = format!("{}, lift {}", weekday_name(weekday), idx + 1);
        lifts.push(planned_lift(&lift.called(place))?);
    }
    ProgrammeDay::new(weekday, minutes, lifts).map_err(|error| node.fail("minutes", error))
}

pub(super) fn planned_lift(node: &Node<'_>) -> Result<PlannedLift, FileError> {
    node.only(&["lift", "sets", "reps", "rir", "rest_seconds", "progression"])?;
    let lift = node.read("lift", LiftName::new)?;
    let rir = node.number("rir")?.map(Rir::new).transpose().map_err(|e| node.fail("rir", e))?;
    let rest = node.whole("rest_seconds")?;
    let moves_on = node.table("progression")?.ok_or_else(|| node.missing("progression"))?;
    let built = match progression(&moves_on)? {
        Progression::Wave { weeks } => {
            if let Some(key) = ["sets", "reps"].into_iter().find(|key| node.has(key)) {
                return Err(node.fail(key, format!("a wave gives its own: leave `{key}` out")));
            }
            PlannedLift::wave(lift, weeks, rir, rest)
        }
        other => {
            let sets = node.whole("sets")?.ok_or_else(|| node.missing("sets"))?;
            PlannedLift::new(lift, sets, rep_range(node)?, rir, rest, other)
        }
    };
    built.map_err(|error| node.fail("lift", error))
}

/// The repetitions under `reps`: one whole number or two.
fn rep_range(node: &Node<'_>) -> Result<RepRange, FileError> {
    let numbers = node.numbers("reps")?;
    let whole = |number: f64| {
        let fits = number.fract() == 0.0 && (0.0..=1000.0).contains(&number);
        fits.then_some(number as u16).ok_or_else(|| node.fail("reps", "write whole repetitions"))
    };
    let (low, high) = match numbers[..] {
        [one] => (whole(one)?, whole(one)?),
        [low, high] => (whole(low)?, whole(high)?),
        _ => return Err(node.fail("reps", "write one number, or the lowest and the highest")),
    };
    RepRange::new(low, high).map_err(|refused| node.fail("reps", refused))
}

fn progression(node: &Node<'_>) -> Result<Progression, FileError> {
    const RULES: &str =
        "`double progression`, `load steps`, `rep goal`, `share of today` or `wave`";
    let rule = node.text("rule")?.ok_or_else(|| node.missing("rule"))?;
    let keys: &[&str] = match domain::bounds::folded(rule).as_str() {
        "doubleprogression" => &["rule", "step_kg"],
        "loadsteps" => &["rule", "step_kg", "misses", "back_pct"],
        "repgoal" => &["rule", "step_kg", "total"],
        "shareoftoday" => &["rule", "pct"],
        "wave" => &["rule", "weeks"],
        _ => return Err(node.fail("rule", format!("`{rule}` is not known: use {RULES}"))),
    };
    node.only(keys)?;
    let step = node.mass("step_kg")?;
    Ok(match keys.last().copied() {
        Some("back_pct") => {
            let usual = StepBack::default();
            let misses = node.whole("misses")?.unwrap_or(usual.misses());
            let pct = node.number("back_pct")?.unwrap_or(usual.pct());
            let back = StepBack::new(misses, pct).map_err(|e| node.fail("rule", e))?;
            Progression::LoadSteps { step, back }
        }
        Some("total") => {
            let total = node.whole("total")?.ok_or_else(|| node.missing("total"))?;
            Progression::RepGoal { total, step }
        }
        Some("pct") => Progression::OfToday(share(node, "pct")?),
        Some("weeks") => Progression::Wave {
            weeks: node.tables("weeks")?.iter().map(wave_week).collect::<Result<_, _>>()?,
        },
        _ => Progression::Double { step },
    })
}

fn wave_week(node: &Node<'_>) -> Result<WaveWeek, FileError> {
    node.only(&["sets", "reps", "pct"])?;
    let sets = node.whole("sets")?.ok_or_else(|| node.missing("sets"))?;
    let reps = node.whole("reps")?.ok_or_else(|| node.missing("reps"))?;
    WaveWeek::new(sets, reps, share(node, "pct")?).map_err(|refused| node.fail("sets", refused))
}

fn share(node: &Node<'_>, key: &str) -> Result<ShareOfToday, FileError> {
    let pct = node.number(key)?.ok_or_else(|| node.missing(key))?;
    ShareOfToday::new(pct).map_err(|refused| node.fail(key, refused))
}
