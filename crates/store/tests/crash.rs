//! Killing a process in the middle of its work, with SIGKILL, at many moments.

#![cfg(unix)]
#[expect(dead_code, reason = "each test file uses a part of it")]
mod support;

use std::path::Path;

use domain::LoggedSet;
use store::{Added, OnDifference, Severity, Store};
use support::{at, killed, lifter, nth_set};

const N_IMPORTS: u32 = 60;
const SETS_PER_IMPORT: u32 = 1_500;
/// Milliseconds from the child's start to its end, chosen once: opening, first commit, checkpoints.
const DELAYS: [u64; 24] = [
    1, 2, 3, 5, 8, 12, 17, 23, 31, 47, 58, 71, 89, 104, 131, 163, 198, 251, 307, 389, 466, 580,
    703, 911,
];

fn nth_import(k: u32) -> impl Iterator<Item = LoggedSet> {
    (k * SETS_PER_IMPORT..(k + 1) * SETS_PER_IMPORT).map(nth_set)
}

/// Imports the k-th log; how many of its sets were new.
fn import_nth(store: &Store, k: u32) -> usize {
    let mut import = store.begin_import(&format!("log {k}"), at(i64::from(k))).unwrap();
    let mut n_new = 0;
    for set in nth_import(k) {
        import.add_lifter_if_missing(&lifter(set.lifter.as_str())).unwrap();
        n_new += usize::from(import.add_set(&set, OnDifference::Keep).unwrap() == Added::New);
    }
    import.commit().unwrap();
    n_new
}

/// Imports one log after the other, and says so after each.
fn be_the_child(path: &Path) {
    let store = Store::open(path).unwrap();
    for k in 0..N_IMPORTS {
        import_nth(&store, k);
        killed::confirm(k.into());
    }
}

fn current_sets(store: &Store) -> Vec<LoggedSet> {
    let lifters = store.lifters().unwrap();
    lifters.iter().flat_map(|summary| store.sets_of(&summary.lifter.name).unwrap()).collect()
}

/// What the first `n_imports` logs say, in the order in which the store gives it back.
fn expected_sets(n_imports: u32) -> Vec<LoggedSet> {
    let mut sets: Vec<_> = (0..n_imports).flat_map(nth_import).collect();
    sets.sort_by(|a, b| (&a.lifter, a.when).cmp(&(&b.lifter, b.when)));
    sets
}

#[test]
fn a_killed_import_leaves_a_whole_store() {
    if let Some(path) = killed::child_works_on() {
        be_the_child(&path);
        return;
    }
    let mut most_confirmed = 0;
    for delay in DELAYS {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("record.db");
        let confirmed = killed::after("a_killed_import_leaves_a_whole_store", &path, delay);
        let n_confirmed = confirmed.len() as u32;
        most_confirmed = most_confirmed.max(n_confirmed);

        let store = Store::open(&path).unwrap();
        let findings = store.doctor();
        assert!(findings.worst() < Severity::ActNow, "after {delay} ms: {findings:#?}");
        let found = current_sets(&store);
        let n_found = found.len() as u32 / SETS_PER_IMPORT;
        assert_eq!(found.len() as u32 % SETS_PER_IMPORT, 0, "after {delay} ms: part of an import");
        // A commit may have been done whose confirmation was cut off.
        assert!((n_confirmed..=n_confirmed + 1).contains(&n_found), "after {delay} ms");
        assert_eq!(found, expected_sets(n_found), "after {delay} ms");

        let n_new: usize = (0..n_found + 2).map(|k| import_nth(&store, k)).sum();
        assert_eq!(n_new as u32, 2 * SETS_PER_IMPORT, "after {delay} ms");
        assert_eq!(current_sets(&store), expected_sets(n_found + 2), "after {delay} ms");
    }
    assert!(most_confirmed >= 2, "the child was never killed between two commits");
}
