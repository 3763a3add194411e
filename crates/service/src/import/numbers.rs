//! Numbers as people write them into tables: decimal commas, a unit behind the number, and `BW`.

use std::borrow::Cow;

use domain::bounds::shortened;
use domain::{Load, Refused, Unit};

use super::sniff::DecimalMark;

/// The number's text with a decimal point; refuses a number with the other mark.
pub(super) fn with_point<'a>(
    what: &'static str,
    text: &'a str,
    mark: DecimalMark,
) -> Result<Cow<'a, str>, Refused> {
    let text = text.trim();
    let plain = text.is_ascii() && !text.contains(',');
    if plain && (mark == DecimalMark::Point || !text.contains('.')) {
        return Ok(Cow::Borrowed(text));
    }
    let other = match mark {
        DecimalMark::Point => ',',
        DecimalMark::Comma => '.',
    };
    if text.contains(other) {
        return Err(Refused::Text {
            what,
            got: shortened(text),
            needed: format!(
                "numbers of this table have a decimal {}; write it so, without marks between the \
                 thousands",
                mark.as_str()
            ),
        });
    }
    Ok(Cow::Owned(text.replace(',', ".").replace('\u{2212}', "-")))
}

/// Reads a load: a number with or without a unit behind it, or body mass alone (`BW`, `BW+10`).
/// Without a unit behind the number it is in the line's unit, or else in the table's.
pub(super) fn load(
    text: &str,
    (line, table): (Option<Unit>, Option<Unit>),
    mark: DecimalMark,
) -> Result<Load, Refused> {
    let refuse = |needed: &str| {
        Err(Refused::Text { what: "load", got: shortened(text), needed: needed.to_owned() })
    };
    let text = text.trim();
    if text.is_empty() {
        return refuse("write a number; 0 for a lift done with body mass alone");
    }
    let added = text.get(..2).filter(|start| start.eq_ignore_ascii_case("bw")).map(|_| &text[2..]);
    let text = match added.map(str::trim) {
        Some("") => "0",
        Some(rest) => rest,
        None => text,
    };
    let number = text.trim_end_matches(|c: char| c.is_alphabetic() || c == '.' || c == ' ');
    let suffix = text[number.len()..].trim().trim_end_matches('.');
    let own = match suffix {
        "" => None,
        suffix if number.is_empty() => return refuse_word(suffix),
        suffix => Some(Unit::parse(suffix)?),
    };
    let unit = match (own, line.or(table)) {
        (Some(own), Some(unit)) if line.is_some() && own != unit => {
            return refuse(&format!(
                "its own unit is {} and the unit column says {}; make the two agree",
                own.as_str(),
                unit.as_str()
            ));
        }
        (Some(unit), _) | (None, Some(unit)) => unit,
        (None, None) => return refuse("its unit is missing: write kg or lb"),
    };
    Load::parse(&with_point("load", number, mark)?, unit)
}

fn refuse_word(word: &str) -> Result<Load, Refused> {
    Err(Refused::NotANumber { what: "load", got: shortened(word) })
}

/// Whether a load says itself in which unit it is, or needs none.
pub(super) fn names_its_unit(text: &str) -> bool {
    text.trim().trim_end_matches('.').ends_with(char::is_alphabetic)
}
