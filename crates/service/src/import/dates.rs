//! Dates in the orders in which people write them.
//!
//! A year of four digits first is ISO 8601's order. Otherwise day and month stand in either order
//! before the year, which a month's name, a dot (day first) or a number above 12 decides. A year of
//! two digits comes last and is read as POSIX `strptime` reads `%y`: 69–99 are 1969–1999.

use domain::bounds::shortened;
use domain::{Refused, When};
use jiff::civil::{Date, Time};

use super::error::Question;
use super::sniff::words;

/// Whether day or month comes first where both are numbers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DateOrder {
    /// `2031-05-04`, `2031/5/4`
    YearFirst,
    /// `4.5.2031`, `04/05/2031` in May
    DayFirst,
    /// `05/04/2031` in May
    MonthFirst,
}

words!(
    DateOrder,
    "date order",
    [
        YearFirst = "year-first" | "ymd" | "iso",
        DayFirst = "day-first" | "dmy",
        MonthFirst = "month-first" | "mdy",
    ]
);

const MONTHS: [&str; 12] = [
    "january",
    "february",
    "march",
    "april",
    "may",
    "june",
    "july",
    "august",
    "september",
    "october",
    "november",
    "december",
];

/// A date as it was written, before day and month are told apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Parts {
    /// Nothing is open.
    Plain(Date),
    /// Two numbers of which one is the day.
    Open { first: i8, second: i8, year: i16, dotted: bool },
}

/// Reads a date, perhaps with a time of day, in the given order; `time` is a cell of its own.
pub(super) fn parse(text: &str, time: &str, order: DateOrder) -> Result<When, Refused> {
    let text = text.trim();
    let refuse = |needed: String| Refused::Text { what: "date", got: shortened(text), needed };
    let (date_text, rest) = split_time(text);
    let parts = parts_of(date_text).ok_or_else(|| {
        refuse("write it as 2031-05-04 or 2031-05-04T18:20, local time without a zone".to_owned())
    })?;
    let date = match (parts, order) {
        (Parts::Plain(date), _) => Some(date),
        (Parts::Open { .. }, DateOrder::YearFirst) => {
            return Err(refuse(
                "the other dates have the year first; write it as 2031-05-04".into(),
            ));
        }
        (Parts::Open { first, second, year, .. }, DateOrder::DayFirst) => {
            Date::new(year, second, first).ok()
        }
        (Parts::Open { first, second, year, .. }, DateOrder::MonthFirst) => {
            Date::new(year, first, second).ok()
        }
    };
    let date = date.ok_or_else(|| {
        refuse(format!(
            "there is no such day with the {} (as the other dates have it)",
            order.words()
        ))
    })?;
    let time = if time.trim().is_empty() { rest } else { time.trim() };
    if time.is_empty() {
        return When::new(date, None);
    }
    let time = time_of_day(time).ok_or_else(|| {
        refuse("write the time of day as 18:20, local time without a zone".to_owned())
    })?;
    When::new(date, Some(time))
}

impl DateOrder {
    fn words(self) -> &'static str {
        match self {
            DateOrder::YearFirst => "year first",
            DateOrder::DayFirst => "day first",
            DateOrder::MonthFirst => "month first",
        }
    }
}

/// The order of a sample of dates, or what must be asked. A sample in which nothing is open has the
/// year first; one whose days equal its months is the same in both orders.
pub(super) fn order_of<'a>(
    dates: impl Iterator<Item = (u64, &'a str)>,
) -> Result<DateOrder, Question> {
    let (mut open, mut day_first, mut month_first, mut dotted, mut equal) =
        (None, None, None, false, false);
    for (line, text) in dates {
        let Some(Parts::Open { first, second, year, dotted: dots }) =
            parts_of(split_time(text.trim()).0)
        else {
            continue;
        };
        dotted |= dots;
        match (first > 12, second > 12) {
            (true, false) => _ = day_first.get_or_insert((line, text)),
            (false, true) => _ = month_first.get_or_insert((line, text)),
            (true, true) => {} // no date in either order: refused when its line is read
            (false, false) if first == second => equal = true,
            (false, false) => _ = open.get_or_insert((line, text, first, second, year)),
        }
    }
    match (day_first, month_first) {
        (Some((day_first_line, day)), Some((month_first_line, month))) => {
            Err(Question::DatesDisagree {
                day_first: shortened(day),
                day_first_line,
                month_first: shortened(month),
                month_first_line,
            })
        }
        (Some(_), None) => Ok(DateOrder::DayFirst),
        (None, Some(_)) => Ok(DateOrder::MonthFirst),
        (None, None) if dotted => Ok(DateOrder::DayFirst),
        (None, None) => still_open(open, equal),
    }
}

fn still_open(open: Option<(u64, &str, i8, i8, i16)>, equal: bool) -> Result<DateOrder, Question> {
    let Some((line, text, first, second, year)) = open else {
        return Ok(if equal { DateOrder::DayFirst } else { DateOrder::YearFirst });
    };
    match (Date::new(year, second, first), Date::new(year, first, second)) {
        (Ok(day_first), Ok(month_first)) => {
            Err(Question::DateOrder { example: shortened(text), line, day_first, month_first })
        }
        _ => Ok(DateOrder::YearFirst), // `0/5/2031`: no date in either order
    }
}

/// Whether a text can be a date at all.
pub(super) fn looks_like_a_date(text: &str) -> bool {
    parts_of(split_time(text.trim()).0).is_some()
}

/// The date and the time of day behind it.
fn split_time(text: &str) -> (&str, &str) {
    let at = text.find('T').filter(|at| text[..*at].ends_with(|c: char| c.is_ascii_digit()));
    if let Some(at) = at {
        return (&text[..at], text[at + 1..].trim());
    }
    let Some(colon) = text.find(':') else { return (text, "") };
    let Some(space) = text[..colon].rfind(' ') else { return (text, "") };
    (text[..space].trim_end_matches([' ', ',']), text[space + 1..].trim())
}

fn parts_of(text: &str) -> Option<Parts> {
    let mut words = text.split(|c: char| matches!(c, '-' | '/' | '.' | ',') || c.is_whitespace());
    let mut parts = [""; 3];
    let mut n = 0;
    for word in words.by_ref().filter(|word| !word.is_empty()) {
        *parts.get_mut(n)? = word;
        n += 1;
    }
    if n != 3 {
        return None;
    }
    let [a, b, c] = parts;
    if a.len() == 4 {
        return plain(a, b, c);
    }
    if month_named(a).is_some() {
        return plain(c, a, b); // May 4, 2031
    }
    if month_named(b).is_some() {
        return plain(c, b, a); // 4 May 2031
    }
    let open = Parts::Open {
        first: number(a)?,
        second: number(b)?,
        year: year_of(c)?,
        dotted: text.contains('.'),
    };
    Some(open)
}

fn plain(year: &str, month: &str, day: &str) -> Option<Parts> {
    let month = month_named(month).or_else(|| number(month))?;
    Date::new(year_of(year)?, month, number(day)?).ok().map(Parts::Plain)
}

/// A month by its English name or the first three letters (or four, as in Sept) of it.
fn month_named(text: &str) -> Option<i8> {
    if text.len() < 3 || !text.is_ascii() {
        return None;
    }
    let wanted = text.to_ascii_lowercase();
    let idx = MONTHS.iter().position(|month| {
        *month == wanted || (wanted.len() <= 4 && month.starts_with(wanted.as_str()))
    })?;
    Some(idx as i8 + 1) // at most 12
}

/// One or two digits.
fn number(text: &str) -> Option<i8> {
    let digits = (1..=2).contains(&text.len()) && text.bytes().all(|b| b.is_ascii_digit());
    digits.then(|| text.parse().ok()).flatten()
}

fn year_of(text: &str) -> Option<i16> {
    let year: i16 =
        text.bytes().all(|b| b.is_ascii_digit()).then(|| text.parse().ok()).flatten()?;
    match text.len() {
        4 => Some(year),
        2 if year >= 69 => Some(1900 + year),
        2 => Some(2000 + year),
        _ => None,
    }
}

/// `18:20`, `18:20:05`, `6:20 PM`.
fn time_of_day(text: &str) -> Option<Time> {
    let lower = text.to_ascii_lowercase();
    let (clock, half) = match (lower.strip_suffix("am"), lower.strip_suffix("pm")) {
        (Some(clock), _) => (clock.trim(), Some(0)),
        (_, Some(clock)) => (clock.trim(), Some(12)),
        (None, None) => (lower.as_str(), None),
    };
    let mut parts = clock.splitn(3, ':');
    let hour = number(parts.next()?)?;
    let minute = number(parts.next()?)?;
    let second = match parts.next() {
        None => 0,
        Some(text) => number(text.split('.').next()?)?, // fractions are cut
    };
    let hour = match half {
        None => hour,
        Some(add) if (1..=12).contains(&hour) => hour % 12 + add,
        Some(_) => return None,
    };
    Time::new(hour, minute, second, 0).ok()
}
