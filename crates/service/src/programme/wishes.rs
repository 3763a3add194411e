//! From the text of a wish file to wishes for a week. `docs/programme-draft.md` describes the file.

use std::collections::BTreeMap;

use domain::programme::{parse_weekday, weekday_name};
use domain::{LiftName, Muscle, Note, ProgrammeName, Refused};
use engine::programme::draft::{DayWish, Keep, Priority, Wishes};

use super::FileError;
use super::read::{parsed, planned_lift, purpose};
use super::table::Node;

/// Wishes with what the week is to be called.
#[derive(Clone, Debug, PartialEq)]
pub struct WishFile {
    /// What the drafted programme is called.
    pub name: ProgrammeName,
    /// Its remark.
    pub note: Note,
    /// The wishes; a file says nothing of what the lifter does now.
    pub wishes: Wishes,
}

const KEYS: &[&str] = &[
    "name",
    "note",
    "raise",
    "equipment",
    "spare",
    "dose",
    "priority",
    "prefer",
    "refuse",
    "most_lifts",
    "mind_hours",
    "keep",
    "day",
];

/// Reads wishes.
///
/// # Errors
/// The text isn't TOML, or something in it is missing, unknown or out of range: line, place and cure.
pub fn read_wishes(text: &str) -> Result<WishFile, FileError> {
    let document = parsed(text)?;
    let file = Node::new(text, document.as_table(), "the wishes");
    file.only(KEYS)?;
    let name = file.read("name", ProgrammeName::new)?;
    let note = match file.text("note")? {
        None => Note::default(),
        Some(text) => Note::new(text).map_err(|refused| file.fail("note", refused))?,
    };
    let most_lifts = file.whole("most_lifts")?.unwrap_or(Wishes::USUAL_MOST_LIFTS);
    if !(1..=20).contains(&most_lifts) {
        return Err(file.fail("most_lifts", "`most_lifts` must be from 1 to 20"));
    }
    let keep = match file.text("keep")? {
        None => Keep::Habits,
        Some(_) => file.read("keep", keep)?,
    };
    let wishes = Wishes {
        purpose: purpose(&file)?,
        days: days(&file)?,
        priorities: priorities(&file)?,
        prefer: file.list("prefer", LiftName::new)?,
        refuse: file.list("refuse", LiftName::new)?,
        most_lifts,
        mind_hours: file.flag("mind_hours")?.unwrap_or(true),
        present: None,
        keep,
    };
    Ok(WishFile { name, note, wishes })
}

fn days(file: &Node<'_>) -> Result<Vec<DayWish>, FileError> {
    let mut days: Vec<DayWish> = Vec::new();
    for node in file.tables("day")? {
        node.only(&["weekday", "minutes", "lift"])?;
        let weekday = node.read("weekday", parse_weekday)?;
        let node = node.called(weekday_name(weekday).to_owned());
        if days.iter().any(|day| day.weekday == weekday) {
            return Err(node.fail("weekday", "it comes twice: put it into one day"));
        }
        let minutes: Option<u16> = node.whole("minutes")?;
        if minutes.is_some_and(|minutes| !(10..=300).contains(&minutes)) {
            return Err(node.fail("minutes", "`minutes` must be from 10 to 300"));
        }
        let mut pinned = Vec::new();
        for (idx, lift) in node.tables("lift")?.into_iter().enumerate() {
            let place = format!("{}, lift {}", weekday_name(weekday), idx + 1);
            pinned.push(planned_lift(&lift.called(place))?);
        }
        days.push(DayWish { weekday, minutes, pinned });
    }
    if days.is_empty() {
        return Err(
            file.fail("day", "there is no day: write at least one `[[day]]` with a `weekday`")
        );
    }
    days.sort_by_key(|day| day.weekday.to_monday_zero_offset());
    Ok(days)
}

fn priorities(file: &Node<'_>) -> Result<BTreeMap<Muscle, Priority>, FileError> {
    let mut priorities = BTreeMap::new();
    if let Some(table) = file.table("priority")? {
        for key in table.keys() {
            let muscle = Muscle::parse(key).map_err(|refused| table.fail(key, refused))?;
            priorities.insert(muscle, table.read(key, priority)?);
        }
    }
    Ok(priorities)
}

fn priority(word: &str) -> Result<Priority, Refused> {
    match word.trim() {
        "low" => Ok(Priority::Low),
        "usual" => Ok(Priority::Usual),
        "high" => Ok(Priority::High),
        _ => Err(refused("priority", word, "write `low`, `usual` or `high`")),
    }
}

fn keep(word: &str) -> Result<Keep, Refused> {
    match word.trim() {
        "habits" => Ok(Keep::Habits),
        "all" => Ok(Keep::All),
        _ => Err(refused("keep", word, "write `habits` or `all`")),
    }
}

fn refused(what: &'static str, got: &str, needed: &str) -> Refused {
    Refused::Text { what, got: got.to_owned(), needed: needed.to_owned() }
}
