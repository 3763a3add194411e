//! Small pieces of wording that many sentences share: days, loads, plates, lists.

use domain::programme::short_weekday;
use domain::{Load, Unit};
use engine::loading::Loaded;
use jiff::civil::Date;

/// A day as people say it: `Tue 24 Nov`, with the year if it isn't `today`'s.
#[must_use]
pub(crate) fn day(date: Date, today: Date) -> String {
    let weekday = short_weekday(date.weekday());
    const MONTHS: [&str; 12] =
        ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];
    let month = MONTHS.get((date.month() - 1) as usize).copied().unwrap_or("");
    let text = format!("{weekday} {} {month}", date.day());
    if date.year() == today.year() { text } else { format!("{text} {}", date.year()) }
}

/// Names joined for a sentence: `a`, `a and b`, `a, b and c`.
#[must_use]
pub(crate) fn list<T: AsRef<str>>(names: &[T]) -> String {
    match names {
        [] => String::new(),
        [one] => one.as_ref().to_owned(),
        [most @ .., last] => {
            let most: Vec<_> = most.iter().map(AsRef::as_ref).collect();
            format!("{} and {}", most.join(", "), last.as_ref())
        }
    }
}

/// The plates of one side, heaviest first: `20 + 5 + 1.25`, or `bar only`.
#[must_use]
pub(crate) fn plates(loaded: &Loaded, unit: Unit) -> String {
    let each: Vec<String> = loaded
        .each()
        .map(|mass| {
            let in_unit = mass.kg() / unit.kg();
            format!("{}", (in_unit * 100.0).round() / 100.0)
        })
        .collect();
    if each.is_empty() { "bar only".to_owned() } else { each.join(" + ") }
}

/// A load for the lifter, in the lifter's unit.
#[must_use]
pub(crate) fn load(kg: f64, unit: Unit) -> f64 {
    (kg / unit.kg() * 10.0).round() / 10.0
}

/// What a load of a lift means, if it needs saying.
#[must_use]
pub(crate) fn load_meaning(lift: &domain::Lift) -> Option<&'static str> {
    if lift.body_mass_share.is_some() {
        Some("added to body mass")
    } else if lift.per_hand {
        Some("per hand")
    } else {
        None
    }
}

/// Sets of one load and count: `3 × 5 at 100 kg`.
#[must_use]
pub(crate) fn sets(count: usize, reps: u16, load: Load) -> String {
    format!("{count} × {reps} at {load}")
}

/// The text as a sentence: first letter in upper case, a full stop at the end.
#[must_use]
pub(crate) fn sentence(text: &str) -> String {
    let mut whole = capitalised(text);
    if !whole.ends_with(['.', '!', '?']) && !whole.is_empty() {
        whole.push('.');
    }
    whole
}

/// The text with its first letter in upper case.
#[must_use]
pub(crate) fn capitalised(text: &str) -> String {
    let mut letters = text.chars();
    let start = letters.next().map(char::to_uppercase).into_iter().flatten();
    start.chain(letters).collect()
}
