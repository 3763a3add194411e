//! Rules for each file by itself: its header, its length, nothing left unfinished.

use super::rust_text::RustText;
use super::{Report, Tree, lines_with};

/// Past this a file of code is refused.
const LONGEST: usize = 1_000;

/// Past this a file of code is worth a look, unless its header says "Long because …".
const LONG: usize = 600;

/// Kinds of files in which somebody writes code, and so keeps to a length.
const CODE: [&str; 7] = [".rs", ".js", ".css", ".py", ".sh", ".sql", ".html"];

/// Marks of unfinished work, in pieces so that this file doesn't hold them.
const UNFINISHED: [&str; 3] = [concat!("TO", "DO"), concat!("FIX", "ME"), concat!("XX", "X")];

/// Code that stands for code to come, and tests that don't run.
const PLACEHOLDERS: [(&str, &str); 3] = [
    ("todo!", "write it, or leave it out until it is written"),
    ("unimplemented!", "write it, or leave it out until it is written"),
    ("#[ignore", "let the test run; put a slow one behind a variable"),
];

const NO_HEADER: &str = "doesn't open with `//!`: say what the file is, what it doesn't do and where \
                         the idea comes from";

pub(super) fn check(tree: &Tree, report: &mut Report) {
    for (path, text) in tree.texts() {
        if path.ends_with(".rs") {
            check_rust(path, text, report);
        } else if !path.ends_with(".lock") && !path.starts_with("LICENSE") {
            unfinished(path, text, "text", report);
        }
        if CODE.iter().any(|ending| path.ends_with(ending)) {
            check_length(path, text, report);
        }
    }
}

fn check_rust(path: &str, text: &str, report: &mut Report) {
    if !text.starts_with("//!") {
        report.find(path, 1, NO_HEADER);
    }
    let rust = RustText::of(text);
    for (needle, cure) in PLACEHOLDERS {
        for line in lines_with(&rust.code, needle) {
            report.find(path, line, format!("`{needle}`: {cure}"));
        }
    }
    unfinished(path, &rust.comments, "comment", report);
    unfinished(path, &rust.code, "code", report);
    // The check itself has to name what it looks for.
    if !path.starts_with("xtask/") {
        unfinished(path, &rust.strings, "text", report);
    }
}

fn unfinished(path: &str, text: &str, what: &str, report: &mut Report) {
    for mark in UNFINISHED {
        for line in lines_with(text, mark) {
            report.find(
                path,
                line,
                format!("`{mark}` in {what}: do it, or file it where work is kept"),
            );
        }
    }
}

fn check_length(path: &str, text: &str, report: &mut Report) {
    let lines = text.lines().count();
    if lines > LONGEST {
        report.find(path, 0, format!("{lines} lines, at most {LONGEST}: split it"));
    } else if lines > LONG && !explains_length(text) {
        report.remark(
            path,
            format!("{lines} lines: split it, or say `Long because …` in its header"),
        );
    }
}

/// Whether the comment at the head of the file says why it is long.
fn explains_length(text: &str) -> bool {
    text.lines()
        .take_while(|line| {
            line.trim().is_empty() || line.starts_with(['/', '*', ' ', '#', '-', '"', '<'])
        })
        .any(|line| line.to_lowercase().contains("long because"))
}
