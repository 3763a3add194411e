//! A property that fails prints its seed, is tried again from it, and writes no file.

#[path = "support/properties.rs"]
mod properties;

use std::path::Path;
use std::process::Command;

use properties::{Seeds, beginning_with, config};
use proptest::test_runner::{FailurePersistence, TestCaseError, TestRunner};

/// Set for the run of [`a_property_fails_if_asked`] that is to fail.
const ASKED: &str = "PROPERTY_FAILS";

/// One number in ten is beyond.
const MOST: u32 = u32::MAX / 10 * 9;

/// A seed in proptest's own writing.
const SEED: &str = "cc 00000000000000000000000000000000000000000000000000000000000000ff";

/// Every number drawn, in order, for a property that fails beyond `most`.
fn drawn(seeds: &str, most: u32) -> (bool, Vec<u32>) {
    let numbers = std::cell::RefCell::new(Vec::new());
    let usual = match seeds {
        "" => config(1000),
        seeds => beginning_with(Seeds::read(seeds), 1000),
    };
    let config =
        proptest::test_runner::Config { source_file: Some(file!()), max_shrink_iters: 0, ..usual };
    let result = TestRunner::new(config).run(&proptest::num::u32::ANY, |number| {
        numbers.borrow_mut().push(number);
        if number <= most { Ok(()) } else { Err(TestCaseError::fail("too large")) }
    });
    (result.is_ok(), numbers.into_inner())
}

#[test]
fn a_seed_that_was_given_is_tried_first() {
    let (passed, first) = drawn(SEED, u32::MAX);
    let (_, second) = drawn(SEED, u32::MAX);
    assert!(passed);
    assert_eq!(first[0], second[0], "the same seed draws the same");
    assert_ne!(first[1..], second[1..], "and what follows is new");
    assert_eq!(Seeds::read(&format!("{SEED}\n\n{SEED}")).load_persisted_failures2(None).len(), 2);
    assert!(std::panic::catch_unwind(|| Seeds::read("cc 71")).is_err(), "no seed is passed over");
}

#[test]
fn a_property_fails_if_asked() {
    let (passed, _) = drawn("", MOST);
    assert!(std::env::var_os(ASKED).is_none() || passed, "asked to fail");
}

#[test]
fn a_failure_prints_its_seed_and_leaves_no_file() {
    let output = Command::new(std::env::current_exe().unwrap())
        .args(["--exact", "a_property_fails_if_asked"])
        .env(ASKED, "1")
        .output()
        .unwrap();
    assert!(!output.status.success());
    let said = format!(
        "{}{}",
        String::from_utf8_lossy(&output.stdout),
        String::from_utf8_lossy(&output.stderr)
    );
    let (_, after) = said.split_once("to try it again: PROPERTY_SEEDS='").expect(&said);
    let (seed, _) = after.split_once('\'').unwrap();
    assert!(drawn(seed, MOST).1[0] > MOST, "what was printed fails again, at once");
    let crate_folder = Path::new(env!("CARGO_MANIFEST_DIR"));
    for folder in ["", "src", "tests"].map(|folder| crate_folder.join(folder)) {
        for entry in std::fs::read_dir(folder).unwrap() {
            let name = entry.unwrap().file_name().to_string_lossy().into_owned();
            assert!(!name.contains("proptest-regressions"), "{name}");
        }
    }
}
