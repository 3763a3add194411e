//! The one way in which a value is refused: what it was, what it needed to be, and the cure.

/// Why a value was refused. The message names what was found and what is needed, so that it can be
/// shown as it is beside a field, a line or a command.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum Refused {
    /// A number outside its range.
    #[error("{what} `{got}` is out of range: it must be from {min} to {max} {unit}")]
    OutOfRange {
        /// The quantity, in the reader's words.
        what: &'static str,
        /// The value as it was found.
        got: String,
        /// The smallest value allowed.
        min: f64,
        /// The largest value allowed.
        max: f64,
        /// The unit of both bounds.
        unit: &'static str,
    },
    /// No text where a number is needed.
    #[error("{what} is empty: write a number")]
    Empty {
        /// What it was meant to be.
        what: &'static str,
    },
    /// Text that is not a number at all.
    #[error("{what} `{got}` is not a number: write digits, with `.` for decimals")]
    NotANumber {
        /// The quantity, in the reader's words.
        what: &'static str,
        /// The text as it was found, shortened.
        got: String,
    },
    /// Text that is none of the words known here.
    #[error("{what} `{got}` is not known: use one of {known}")]
    UnknownWord {
        /// What the word stands for.
        what: &'static str,
        /// The word as it was found, shortened.
        got: String,
        /// The words that would be understood.
        known: String,
    },
    /// Text that is empty, too long or holds control characters.
    #[error("{what} `{got}` can't be used: {needed}")]
    Text {
        /// What the text stands for.
        what: &'static str,
        /// The text as it was found, shortened.
        got: String,
        /// What would be accepted.
        needed: String,
    },
    /// A number between the steps of its scale.
    #[error("{what} `{got}` is between two steps: use {needed}")]
    OffScale {
        /// The quantity, in the reader's words.
        what: &'static str,
        /// The value as it was found.
        got: String,
        /// The steps that exist.
        needed: &'static str,
    },
}

/// Checks that `got` is a number from `min` to `max`, both included.
pub(crate) fn within(
    what: &'static str,
    got: f64,
    min: f64,
    max: f64,
    unit: &'static str,
) -> Result<f64, Refused> {
    if (min..=max).contains(&got) {
        Ok(got)
    } else {
        Err(Refused::OutOfRange { what, got: got.to_string(), min, max, unit })
    }
}

/// Reads a decimal number with `.`; refuses empty text, infinities and NaN.
pub fn number(what: &'static str, text: &str) -> Result<f64, Refused> {
    match text.trim().parse::<f64>() {
        Ok(value) if value.is_finite() => Ok(value),
        _ if text.trim().is_empty() => Err(Refused::Empty { what }),
        _ => Err(Refused::NotANumber { what, got: shortened(text) }),
    }
}

/// Finds the value whose word is `text`, ignoring case, spaces, hyphens and underscores.
pub(crate) fn word<T: Copy>(
    what: &'static str,
    text: &str,
    words: &[(&'static str, T)],
) -> Result<T, Refused> {
    let wanted = folded(text);
    words.iter().find(|(name, _)| folded(name) == wanted).map(|(_, value)| *value).ok_or_else(
        || {
            let known = words.iter().map(|(name, _)| format!("`{name}`")).collect::<Vec<_>>();
            Refused::UnknownWord { what, got: shortened(text), known: known.join(", ") }
        },
    )
}

/// The text in lower case without spaces, hyphens, underscores and other punctuation, so that
/// "Chin-Up", "chin up" and "chinup" are one name.
#[must_use]
pub fn folded(text: &str) -> String {
    text.chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_lowercase).collect()
}

/// At most forty characters of `text`, with control characters made visible, for messages.
#[must_use]
pub fn shortened(text: &str) -> String {
    let mut short: String =
        text.trim().chars().take(40).map(|c| if c.is_control() { '\u{fffd}' } else { c }).collect();
    if text.trim().chars().nth(40).is_some() {
        short.push('…');
    }
    short
}
