//! Properties print the seed of a failure and write nothing into the tree.
//!
//! Left to itself, proptest writes a file beside the sources for every failure. All properties share the
//! configuration in [`SHARED`] instead. What a property says is left alone.

use super::rust_text::RustText;
use super::{Report, Tree, lines_with};

/// The one place that says how properties are tried.
pub(super) const SHARED: &str = "crates/domain/tests/support/properties.rs";

/// Lines from the opening of a block within which its configuration stands.
const NEAR: usize = 3;

pub(super) fn check(tree: &Tree, report: &mut Report) {
    for (path, text) in tree.texts() {
        if path.contains("proptest-regressions") {
            let cure = "a failure that proptest wrote down: keep its input as a test with a name";
            report.find(path, 0, cure);
        }
        if path.ends_with(".rs") && path != SHARED {
            check_blocks(path, &RustText::of(text).code, report);
        }
    }
}

fn check_blocks(path: &str, code: &str, report: &mut Report) {
    let lines: Vec<&str> = code.lines().collect();
    for line in lines_with(code, "proptest! {") {
        let near = lines.iter().skip(line).take(NEAR);
        if !near.into_iter().any(|line| line.contains("properties::config(")) {
            let cure = format!(
                "a block without `#![proptest_config(properties::config(…))]`: see `{SHARED}`"
            );
            report.find(path, line, cure);
        }
    }
    for word in ["ProptestConfig", "failure_persistence"] {
        for line in lines_with(code, word) {
            report.find(
                path,
                line,
                format!("`{word}`: only `{SHARED}` says how properties are tried"),
            );
        }
    }
}
