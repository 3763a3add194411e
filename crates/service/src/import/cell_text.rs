//! Text in the cells of a table, written so that no spreadsheet takes it for a formula and runs it.
//!
//! A cell that begins with `=`, `+`, `-`, `@`, a tab or a line break gets an apostrophe in front, as
//! OWASP advises against CSV injection (from memory; the full-width forms are on its list, too). Reading a table takes
//! exactly one such apostrophe off again, so that every text comes back as it was, one that begins with
//! an apostrophe by itself included. Cells with numbers are left alone: −5 kg must stay a number.

use std::borrow::Cow;

/// What makes a spreadsheet take a cell for a formula.
const BEGINS_FORMULA: [char; 8] = ['=', '+', '-', '@', '＝', '＋', '－', '＠'];

/// The cell in which a text is written.
pub(crate) fn guarded(text: &str) -> Cow<'_, str> {
    if looks_like_formula(text) { Cow::Owned(format!("'{text}")) } else { Cow::Borrowed(text) }
}

/// The text that a cell holds.
pub(crate) fn unguarded(cell: &str) -> &str {
    match cell.strip_prefix('\'') {
        Some(text) if looks_like_formula(text) => text,
        _ => cell,
    }
}

/// Whether a cell that somebody else wrote would be run, which a plain number isn't.
pub(crate) fn would_run(cell: &str) -> bool {
    !cell.starts_with('\'') && looks_like_formula(cell) && !is_plain_number(cell.trim_matches(' '))
}

/// Apostrophes in front count as nothing here: that is what makes one more or less tell texts apart.
fn looks_like_formula(text: &str) -> bool {
    let bare = text.trim_start_matches('\'');
    bare.starts_with(['\t', '\r', '\n'])
        || bare
            .trim_start_matches(|c: char| c == '\'' || c.is_whitespace())
            .starts_with(BEGINS_FORMULA)
}

/// A sign, digits, and marks between them.
fn is_plain_number(text: &str) -> bool {
    let digits = text.strip_prefix(['+', '-']).unwrap_or(text);
    digits.contains(|c: char| c.is_ascii_digit())
        && digits.chars().all(|c| c.is_ascii_digit() || matches!(c, '.' | ','))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::properties;

    // The signs: OWASP, "CSV Injection", from memory.
    #[test]
    fn formulas_become_text_and_everything_else_stays() {
        for text in [
            "=1+1", "+1", "-1", "@SUM(1)", "\t=1", "\rx", "\nx", "＝1", " =1", "'=1", "''-x",
            "' =1",
        ] {
            let cell = guarded(text);
            assert_eq!(cell, format!("'{text}"));
            assert_eq!(unguarded(&cell), text);
        }
        for text in ["", "'", "' ", "slow", "'slow'", "5", "a=1", "−5", "o'clock", "''"] {
            assert_eq!(guarded(text), text);
            assert_eq!(unguarded(text), text);
        }
    }

    #[test]
    fn a_number_is_not_run() {
        for number in ["-5", "+2.5", "-1,250.5", " -20 ", "5", "-.5"] {
            assert!(!would_run(number), "{number}");
        }
        for formula in ["-5+cmd", "-", "+", "=5", "-5 kg", "@1", "-1e5", "\t-x", "\t+1"] {
            assert!(would_run(formula), "{formula}");
        }
        assert!(!would_run("'=5"), "it has its apostrophe");
    }

    proptest! {
        #![proptest_config(properties::config(256))]

        #[test]
        fn every_text_comes_back(text in "['=+@\t\r\n a1＝-]{0,6}|\\PC{0,8}") {
            let cell = guarded(&text).into_owned();
            prop_assert_eq!(unguarded(&cell), text.as_str());
            prop_assert!(!cell.starts_with(['=', '+', '-', '@', '\t', '\r', '\n']), "{}", cell);
        }
    }
}
