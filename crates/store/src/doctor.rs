//! Looking the store over.

use std::path::{Path, PathBuf};

/// How much a finding matters.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Severity {
    /// All is well.
    Fine,
    /// Worth a look.
    LookAtThis,
    /// Something is wrong, or soon will be.
    ActNow,
}

/// One thing that was looked at.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Finding {
    /// What was looked at, in two or three words.
    pub what: &'static str,
    /// How much it matters.
    pub severity: Severity,
    /// What was found, as a sentence without a full stop.
    pub words: String,
    /// What to do about it; empty if nothing needs doing.
    pub cure: String,
}

/// Everything that was looked at.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Findings {
    /// The store's file.
    pub path: PathBuf,
    /// What was found, in the order in which it was looked at.
    pub findings: Vec<Finding>,
}

impl Findings {
    /// The most severe of all.
    #[must_use]
    pub fn worst(&self) -> Severity {
        self.findings.iter().map(|finding| finding.severity).max().unwrap_or(Severity::Fine)
    }
}

/// Looks a file over whether or not it can be opened as a store.
#[must_use]
pub fn examine(path: &Path) -> Findings {
    Findings { path: path.to_owned(), findings: Vec::new() }
}

impl crate::Store {
    /// Looks this store over.
    #[must_use]
    pub fn doctor(&self) -> Findings {
        examine(self.path())
    }
}
