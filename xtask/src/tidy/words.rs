//! Our words: one name for one thing wherever a person reads.
//!
//! Looks at the strings of `app` and `service`, at the help texts of commands, and at the pages that
//! users read. Headers of other people's tables are theirs, so the synonyms by which they are known are
//! left out, and so is code in a page.

use super::bans::is_test;
use super::rust_text::RustText;
use super::{Report, Tree, holds_word, pages};

/// A word that we don't use, and ours.
const OURS: [(&str, &str); 13] = [
    ("athlete", "lifter"),
    ("athletes", "lifters"),
    ("client", "lifter"),
    ("clients", "lifters"),
    ("trainee", "lifter"),
    ("trainees", "lifters"),
    ("workout", "session"),
    ("workouts", "sessions"),
    ("exercise", "lift"),
    ("exercises", "lifts"),
    ("top set", "lead set"),
    ("top sets", "lead sets"),
    ("dashboard", "desk"),
];

/// Where headers of other people's tables are known by their names.
const FOREIGN_HEADERS: [&str; 2] =
    ["crates/service/src/import", "crates/service/src/measure/trials.rs"];

pub(super) fn check(tree: &Tree, report: &mut Report) {
    for (path, text) in tree.texts() {
        if path.ends_with(".rs") && is_spoken(path) {
            let rust = RustText::without_tests(text);
            check_text(path, &rust.strings, report);
            // There a doc comment is the help text.
            if holds_word(&rust.code.replace('\n', " "), "clap") {
                check_text(path, &rust.comments, report);
            }
        } else if is_page(path) {
            check_text(path, &pages::prose(text), report);
        }
    }
}

fn is_spoken(path: &str) -> bool {
    let room = path.starts_with("crates/app/src/") || path.starts_with("crates/service/src/");
    room && !FOREIGN_HEADERS.iter().any(|there| path.starts_with(there)) && !is_test(path)
}

fn is_page(path: &str) -> bool {
    matches!(path, "README.md" | "CHANGELOG.md")
        || (path.starts_with("docs/") && path.ends_with(".md"))
}

fn check_text(path: &str, text: &str, report: &mut Report) {
    for (idx, line) in text.lines().enumerate() {
        let line = line.to_lowercase();
        for (word, ours) in OURS.iter().filter(|(word, _)| holds_word(&line, word)) {
            report.find(path, idx + 1, format!("`{word}`: our word is `{ours}`"));
        }
    }
}
