//! How numbers, dates and chances are written for a person, the same on charts, pages and cards.
//!
//! Rounds for reading, never for reckoning; nothing here decides anything. A number and its unit are
//! held together by a space that doesn't break.

use domain::programme::{short_weekday, weekday_name};
use domain::{Load, Unit, When};
use jiff::civil::{Date, DateTime};
use service::dose::record::ProposalView;
use service::programme::MuscleLine;
use service::view::CardSet;

const MONTHS: [&str; 12] =
    ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];

/// A date as it is written in running text: `4 Mar 2026`.
#[must_use]
pub fn date(day: Date) -> String {
    format!("{} {} {}", day.day(), month(day), day.year())
}

/// A date with its weekday: `Wednesday 4 Mar 2026`.
#[must_use]
pub fn date_with_weekday(day: Date) -> String {
    format!("{} {}", weekday_name(day.weekday()), date(day))
}

/// A day's weekday in short: `Wed`.
#[must_use]
pub fn weekday(day: Date) -> &'static str {
    short_weekday(day.weekday())
}

/// A day without its year: `Wed 4 Mar`.
#[must_use]
pub fn short_day(day: Date) -> String {
    format!("{} {} {}", weekday(day), day.day(), month(day))
}

/// The month's short name.
pub(crate) fn month(day: Date) -> &'static str {
    MONTHS[usize::from(day.month().unsigned_abs()) - 1] // 1 to 12 by the type's own rule
}

/// A moment given as ISO 8601, as in running text: `4 Mar 2026`, `4 Mar 2026, 18:20`. Text that
/// isn't a moment comes back as it is.
#[must_use]
pub fn moment(iso: &str) -> String {
    match When::parse(iso) {
        Err(_) => iso.to_owned(),
        Ok(when) => match when.time() {
            None => date(when.date()),
            Some(t) => format!("{}, {:02}:{:02}", date(when.date()), t.hour(), t.minute()),
        },
    }
}

/// An instant to the minute, in the world's time, since a record is carried from zone to zone.
#[must_use]
pub fn instant(at: jiff::Timestamp) -> String {
    let at = jiff::tz::Offset::UTC.to_datetime(at);
    format!("{}, {:02}:{:02} UTC", date(at.date()), at.hour(), at.minute())
}

/// How long ago a day was: `today`, `yesterday`, `3 days ago`, `5 weeks ago`.
#[must_use]
pub fn ago(today: Date, day: Date) -> String {
    match today.duration_since(day).as_hours() / 24 {
        i64::MIN..0 => format!("on {}", date(day)),
        0 => "today".to_owned(),
        1 => "yesterday".to_owned(),
        days @ 2..=20 => format!("{days} days ago"),
        days @ 21..=112 => format!("{} weeks ago", days / 7),
        days => format!("{} months ago", days * 10 / 304),
    }
}

/// How long ago a moment was, with the time of day: `yesterday at 06:12`.
#[must_use]
pub fn ago_at(now: DateTime, at: DateTime) -> String {
    format!("{} at {:02}:{:02}", ago(now.date(), at.date()), at.hour(), at.minute())
}

/// An estimated load: whole units from 50 on, one decimal below, because estimates are no finer.
#[must_use]
pub fn estimate(value: f64) -> String {
    if value.abs() < 50.0 { decimal(value, 1) } else { decimal(value, 0) }
}

/// An estimated load with its unit: `124 kg`.
#[must_use]
pub fn estimate_in(value: f64, unit: Unit) -> String {
    format!("{}\u{a0}{}", estimate(value), unit.as_str())
}

/// An estimated load with its unit, then its bounds without, all three rounded alike.
#[must_use]
pub fn estimate_with_bounds(mid: f64, low: f64, high: f64, unit: Unit) -> [String; 3] {
    let places = if mid.abs() < 50.0 { 1 } else { 0 };
    let [mid, low, high] = [mid, low, high].map(|value| fixed(value, places));
    [format!("{mid}\u{a0}{}", unit.as_str()), low, high]
}

/// A number with at most `places` decimals, a true minus sign and no `-0`; a dash if it is none.
#[must_use]
pub fn decimal(value: f64, places: usize) -> String {
    if !value.is_finite() {
        return "–".to_owned();
    }
    let mut text = format!("{value:.places$}");
    if text.contains('.') {
        text.truncate(text.trim_end_matches('0').trim_end_matches('.').len());
    }
    match text.strip_prefix('-') {
        Some("0") => "0".to_owned(),
        Some(rest) => format!("−{rest}"),
        None => text,
    }
}

/// A number that always shows its sign: `+0.2`, `−0.1`, `0`.
#[must_use]
pub fn signed(value: f64, places: usize) -> String {
    let text = decimal(value, places);
    if value > 0.0 && text != "0" { format!("+{text}") } else { text }
}

/// A number with exactly `places` decimals and a true minus sign, for columns and pairs of bounds.
pub(crate) fn fixed(value: f64, places: usize) -> String {
    let text = format!("{value:.places$}");
    match text.strip_prefix('-') {
        Some(rest) if rest.bytes().all(|b| matches!(b, b'0' | b'.')) => rest.to_owned(),
        Some(rest) => format!("−{rest}"),
        None => text,
    }
}

/// [`fixed`], with a plus sign above 0.
pub(crate) fn fixed_signed(value: f64, places: usize) -> String {
    let text = fixed(value, places);
    let is_zero = text.bytes().all(|b| matches!(b, b'0' | b'.'));
    if value > 0.0 && !is_zero { format!("+{text}") } else { text }
}

/// A probability in %, never a certainty: `under 1 %`, `68 %`, `over 99 %`.
#[must_use]
pub fn percent(probability: f64) -> String {
    match (probability * 100.0).round() {
        p if p.is_nan() => "unknown".to_owned(),
        p if p < 1.0 => "under 1\u{a0}%".to_owned(),
        p if p > 99.0 => "over 99\u{a0}%".to_owned(),
        p => format!("{p}\u{a0}%"),
    }
}

/// A probability as a count in a hundred, for sentences: `8 in 100`, `fewer than 1 in 100`.
#[must_use]
pub fn in_hundred(probability: f64) -> String {
    match (probability * 100.0).round() {
        p if p.is_nan() => "an unknown share".to_owned(),
        p if p < 1.0 => "fewer than 1 in 100".to_owned(),
        p if p > 99.0 => "more than 99 in 100".to_owned(),
        p => format!("{p} in 100"),
    }
}

/// How much a lift loads a joint, a weight from 0 to 1, in a word.
#[must_use]
pub fn joint_load(load: f64) -> &'static str {
    match load {
        load if load >= 1.0 => "fully",
        load if load >= 0.5 => "plainly",
        load if load > 0.0 => "a little",
        _ => "hardly at all",
    }
}

/// How much of the muscles of one lift another trains, for after `which trains`.
#[must_use]
pub fn trains_alike(share: f64) -> String {
    if share > 0.995 { "the same".to_owned() } else { format!("{} of the same", percent(share)) }
}

/// What eight weeks propose for the dose of a muscle.
#[must_use]
pub fn proposal(told: &ProposalView) -> String {
    let sets = count(told.dose as u64, "hard set", "hard sets"); // whole and at least 0
    match told.shift {
        "fewer" => format!("fewer, about {sets} a week."),
        "more" => format!("more, about {sets} a week."),
        _ => "as it is.".to_owned(),
    }
}

/// Probabilities that a dose is too much, about right and too little, as a sentence.
#[must_use]
pub fn dose_odds([much, right, little]: [f64; 3]) -> String {
    let [much, right, little] = [much, right, little].map(percent);
    format!("Too much {much}, about right {right}, too little {little}.")
}

/// The text with its first letter in upper case.
#[must_use]
pub fn capitalised(text: &str) -> String {
    let mut letters = text.chars();
    let first = letters.next().map(char::to_uppercase);
    first.into_iter().flatten().chain(letters).collect()
}

/// A count with its noun: `1 set`, `1 204 sets` (thin spaces in thousands).
#[must_use]
pub fn count(n: u64, one: &str, many: &str) -> String {
    format!("{} {}", grouped(n), if n == 1 { one } else { many })
}

/// A whole number with its thousands apart: `12 480`.
#[must_use]
pub fn grouped(n: u64) -> String {
    let digits = n.to_string();
    let mut text = String::new();
    for (i, digit) in digits.chars().enumerate() {
        if i > 0 && (digits.len() - i).is_multiple_of(3) {
            text.push('\u{202f}');
        }
        text.push(digit);
    }
    text
}

/// A set as it is written: `102.5 kg × 5`.
#[must_use]
pub fn set(load: Load, reps: u16) -> String {
    format!("{load} × {reps}").replace(' ', "\u{a0}")
}

/// A set of a card: `102.5 kg × 5`, or `× 5, load to be found`.
#[must_use]
pub fn card_set(set: &CardSet) -> String {
    match set.load {
        Some(load) => self::set(load, set.reps),
        None => format!("×\u{a0}{}, load to be found", set.reps),
    }
}

/// Whether two sets of a card are the same.
#[must_use]
pub fn are_alike(a: &CardSet, b: &CardSet) -> bool {
    a.load == b.load && a.reps == b.reps && a.plates == b.plates
}

/// The probability of a shortfall at both ends of a row of a card, the lowest first, as a sentence.
#[must_use]
pub fn shortfall_odds((low, high): (f64, f64)) -> String {
    let (low, high) = (percent(low), percent(high));
    if low == high {
        format!("Shortfall {low} probable.")
    } else {
        format!("Shortfall {} to {high} probable.", low.trim_end_matches("\u{a0}%"))
    }
}

/// The plates of one side in words: `20 + 5 a side`; words instead of plates (`bar only`) stay as they are.
#[must_use]
pub fn plates(one_side: &str) -> String {
    if one_side.starts_with(|c: char| c.is_ascii_digit()) {
        format!("{one_side} a side")
    } else {
        one_side.to_owned()
    }
}

/// Reps in reserve in words: `2 in reserve`, `to failure`.
#[must_use]
pub fn reserve(rir: f64) -> String {
    if rir <= 0.0 { "to failure".to_owned() } else { format!("{} in reserve", decimal(rir, 1)) }
}

/// How long until a muscle is back: `now`, `about 7 hours`, `about 3 days`.
#[must_use]
pub fn until_usual(hours: Option<f64>) -> String {
    match hours {
        None => "more than 10 days".to_owned(),
        Some(hours) if hours < 0.5 => "now".to_owned(),
        Some(hours) if hours < 1.5 => "about 1 hour".to_owned(),
        Some(hours) if hours < 47.5 => format!("about {hours:.0} hours"),
        Some(hours) => format!("about {:.0} days", hours / 24.0),
    }
}

/// What a lift's last lead sets showed against those before, before the odds of why.
#[must_use]
pub fn flat_words(change_pct: f64) -> String {
    let showed = match change_pct {
        pct if pct.abs() < 0.05 => "as much as".to_owned(),
        pct if pct < 0.0 => format!("{}\u{a0}% less than", decimal(-pct, 1)),
        pct => format!("only {}\u{a0}% more than", decimal(pct, 1)),
    };
    format!(
        "Its last four lead sets showed {showed} the four before. What is probably the largest part of \
         what is missing:"
    )
}

/// The lifts that a muscle's dose comes from, over all days: `romanian deadlift 7, lying leg curl 3`.
pub(crate) fn from_lifts(muscle: &MuscleLine) -> String {
    let mut lifts: Vec<(&str, f64)> = Vec::new();
    for from in &muscle.from {
        match lifts.iter_mut().find(|(lift, _)| *lift == from.lift) {
            Some((_, dose)) => *dose += from.dose,
            None => lifts.push((&from.lift, from.dose)),
        }
    }
    if lifts.is_empty() {
        return "from nothing".to_owned();
    }
    let words = lifts.iter().map(|(lift, dose)| format!("{lift} {}", decimal(*dose, 1)));
    words.collect::<Vec<_>>().join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn decimals_are_trimmed_and_signed() {
        let cases = [(1.5, 1, "1.5"), (2.0, 1, "2"), (-0.04, 1, "0"), (-1.25, 2, "−1.25")];
        for (value, places, expected) in cases {
            assert_eq!(decimal(value, places), expected);
        }
        assert_eq!(decimal(100.0, 0), "100");
        assert_eq!(decimal(f64::NAN, 1), "–");
        assert_eq!(signed(0.21, 2), "+0.21");
        assert_eq!(signed(0.001, 2), "0");
    }

    #[test]
    fn fixed_numbers_keep_their_zeros() {
        assert_eq!((fixed(6.0, 1), fixed(-0.04, 1)), ("6.0".to_owned(), "0.0".to_owned()));
        assert_eq!(fixed_signed(0.4, 2), "+0.40");
        assert_eq!(fixed_signed(-0.25, 2), "−0.25");
        assert_eq!(fixed_signed(0.001, 2), "0.00");
    }

    #[test]
    fn an_estimate_and_its_bounds_are_rounded_alike() {
        let told = |mid, low, high| estimate_with_bounds(mid, low, high, Unit::Kg);
        assert_eq!(told(50.6, 49.6, 53.2), ["51\u{a0}kg", "50", "53"]);
        assert_eq!(told(45.0, 42.71, 50.2), ["45.0\u{a0}kg", "42.7", "50.2"]);
    }

    #[test]
    fn chances_are_never_certain() {
        assert_eq!(percent(0.999), "over 99\u{a0}%");
        assert_eq!(percent(0.004), "under 1\u{a0}%");
        assert_eq!(percent(0.684), "68\u{a0}%");
        assert_eq!(percent(f64::NAN), "unknown");
    }

    #[test]
    fn waiting_is_told_in_hours_and_then_in_days() {
        let told = |hours| until_usual(Some(hours));
        assert_eq!([told(0.0), told(1.0), told(31.0)], ["now", "about 1 hour", "about 31 hours"]);
        assert_eq!([told(48.0), told(83.0)], ["about 2 days", "about 3 days"]);
        assert_eq!(until_usual(None), "more than 10 days");
        assert!(flat_words(-0.84).contains("0.8\u{a0}% less than"));
        assert!(flat_words(0.02).contains("as much as") && flat_words(0.2).contains("only 0.2"));
    }

    #[test]
    fn moments_and_spans_read_as_text() {
        assert_eq!(moment("2026-03-04T18:05"), "4 Mar 2026, 18:05");
        assert_eq!(moment("soon"), "soon");
        let day = jiff::civil::date(2026, 3, 4);
        assert_eq!(date_with_weekday(day), "Wednesday 4 Mar 2026");
        assert_eq!(short_day(day), "Wed 4 Mar");
        assert_eq!(plates("20 + 1.25"), "20 + 1.25 a side");
        let words = [1.0, 0.99, 0.5, 0.49, 0.01, 0.0].map(joint_load);
        assert_eq!(words, ["fully", "plainly", "plainly", "a little", "a little", "hardly at all"]);
        assert_eq!(plates("bar only"), "bar only");
        let today = jiff::civil::date(2026, 11, 25);
        assert_eq!(ago(today, jiff::civil::date(2026, 11, 24)), "yesterday");
        assert_eq!(ago(today, jiff::civil::date(2026, 11, 1)), "3 weeks ago");
        assert_eq!(ago(today, jiff::civil::date(2026, 11, 26)), "on 26 Nov 2026");
        assert_eq!(count(12_045, "set", "sets"), "12\u{202f}045 sets");
    }
}
