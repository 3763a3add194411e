//! From the text of a wish file to wishes for a week. `docs/programme-draft.md` describes the file.

use domain::programme::{parse_weekday, weekday_name};
use domain::{LiftName, Note, ProgrammeName, Refused};
use engine::programme::draft::{DayWish, Keep, Wishes};

use super::FileError;
use super::read::{OWN, name_and_note, parsed, planned_lift, purpose};
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

/// Reads wishes.
///
/// # Errors
/// The text isn't TOML, or something in it is missing, unknown or out of range: line, place and cure.
pub fn read_wishes(text: &str) -> Result<WishFile, FileError> {
    let document = parsed(text)?;
    let file = Node::new(text, document.as_table(), "the wishes");
    file.only(&[&OWN[..], &["prefer", "keep", "day"]].concat())?;
    let (name, note) = name_and_note(&file)?;
    let keep = match file.text("keep")? {
        None => Keep::Habits,
        Some(_) => file.read("keep", keep)?,
    };
    let wishes = Wishes {
        purpose: purpose(&file)?,
        days: days(&file)?,
        prefer: file.list("prefer", LiftName::new)?,
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

fn keep(word: &str) -> Result<Keep, Refused> {
    match word.trim() {
        "habits" => Ok(Keep::Habits),
        "all" => Ok(Keep::All),
        _ => Err(Refused::Text {
            what: "keep",
            got: word.to_owned(),
            needed: "write `habits` or `all`".to_owned(),
        }),
    }
}
