//! The tidy check: what must hold for the whole tree and no compiler checks.
//!
//! Every file is read into a [`Tree`] once; each rule is a function from the tree to findings, so that
//! a test can hand it a tree with one thing wrong. A finding names the place, what was found and the
//! cure. Rust files are looked at with their code, comments and strings apart ([`rust_text`]); nothing
//! is parsed any deeper, so a rule errs on the side of a plain word search.

mod bans;
mod files;
mod pages;
mod properties;
mod rooms;
mod rust_text;
mod tree;
mod words;

#[cfg(test)]
mod tests;

pub(crate) use tree::Tree;

/// One thing to put right.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Finding {
    /// The file, from the root of the repository.
    pub(crate) path: String,
    /// The line, counted from 1; 0 for the file as a whole.
    pub(crate) line: usize,
    /// What was found and what to do about it.
    pub(crate) message: String,
}

impl std::fmt::Display for Finding {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self.line {
            0 => write!(f, "{}: {}", self.path, self.message),
            line => write!(f, "{}:{line}: {}", self.path, self.message),
        }
    }
}

/// What the check has to say.
#[derive(Debug, Default)]
pub(crate) struct Report {
    /// What must be put right.
    pub(crate) findings: Vec<Finding>,
    /// What may stay and deserves a look.
    pub(crate) remarks: Vec<Finding>,
}

impl Report {
    fn find(&mut self, path: &str, line: usize, message: impl Into<String>) {
        self.findings.push(Finding { path: path.to_owned(), line, message: message.into() });
    }

    fn remark(&mut self, path: &str, message: impl Into<String>) {
        self.remarks.push(Finding { path: path.to_owned(), line: 0, message: message.into() });
    }
}

/// Holds every rule against the tree. Findings come by path and line.
pub(crate) fn check(tree: &Tree) -> Report {
    let mut report = Report::default();
    files::check(tree, &mut report);
    rooms::check(tree, &mut report);
    bans::check(tree, &mut report);
    words::check(tree, &mut report);
    pages::check(tree, &mut report);
    properties::check(tree, &mut report);
    report.findings.sort();
    report.findings.dedup();
    report
}

/// The lines of `text` in which `needle` stands as a whole word, counted from 1. Where the needle
/// begins or ends with a letter, digit or underscore, none of these may go on beside it.
fn lines_with<'a>(text: &'a str, needle: &'a str) -> impl Iterator<Item = usize> + 'a {
    text.lines()
        .enumerate()
        .filter(move |(_, line)| holds_word(line, needle))
        .map(|(idx, _)| idx + 1)
}

fn holds_word(line: &str, needle: &str) -> bool {
    let in_word = |c: char| c.is_alphanumeric() || c == '_';
    line.match_indices(needle).any(|(at, _)| {
        let before = line[..at].chars().next_back().is_some_and(in_word);
        let after = line[at + needle.len()..].chars().next().is_some_and(in_word);
        let open_start = needle.starts_with(in_word) && before;
        let open_end = needle.ends_with(in_word) && after;
        !open_start && !open_end
    })
}
