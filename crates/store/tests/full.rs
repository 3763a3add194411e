//! No room left: by a limit on the file's pages anywhere, and on a real full disk where one can be
//! mounted.

#[expect(dead_code, reason = "each test file uses a part of it")]
mod support;

use std::path::Path;

use domain::LoggedSet;
use store::{OnDifference, Settings, Severity, Store, StoreError};
use support::{at, lifter, nth_set};

/// Imports the sets; the first error if there is one.
fn import(store: &Store, sets: impl Iterator<Item = LoggedSet>) -> Result<(), StoreError> {
    let mut import = store.begin_import("a log", at(1))?;
    for set in sets {
        import.add_lifter_if_missing(&lifter(set.lifter.as_str()))?;
        import.add_set(&set, OnDifference::Keep)?;
    }
    import.commit().map(|_| ())
}

fn n_sets(store: &Store) -> u64 {
    store.lifters().unwrap().iter().map(|summary| summary.n_sets).sum()
}

/// Confirms 1,000 sets, runs out of room in the next import, and looks at what is left.
fn fill(path: &Path, settings: Settings) {
    let store = Store::open_with(path, settings).unwrap();
    import(&store, (0..1_000).map(nth_set)).unwrap();
    let error = import(&store, (1_000..150_000).map(nth_set)).unwrap_err();
    assert!(matches!(error, StoreError::DiskFull { .. }), "{error}");
    assert!(error.to_string().contains("free some space on that disk"), "{error}");
    assert_eq!(n_sets(&store), 1_000, "the same store still reads");
    drop(store);
    let store = Store::open_with(path, settings).unwrap();
    assert_eq!(n_sets(&store), 1_000, "and so it does when opened again");
    let findings = store.doctor();
    assert_eq!(findings.on("integrity").unwrap().severity, Severity::Fine, "{findings:#?}");
    import(&store, (1_000..1_050).map(nth_set)).unwrap();
    assert_eq!(n_sets(&store), 1_050, "what fits is still taken");
}

#[test]
fn a_file_that_may_not_grow_is_a_full_disk() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("record.db");
    fill(&path, Settings { max_pages: Some(160), ..Settings::default() });
    let grown = Store::open(&path).unwrap();
    import(&grown, (1_050..3_000).map(nth_set)).unwrap();
    assert_eq!(n_sets(&grown), 3_000, "with room again the rest goes in");
}

/// After an error nothing more is taken by that import: SQLite may have rolled back by itself.
#[test]
fn an_import_that_failed_takes_nothing_more() {
    let folder = tempfile::tempdir().unwrap();
    let settings = Settings { max_pages: Some(60), ..Settings::default() };
    let store = Store::open_with(&folder.path().join("record.db"), settings).unwrap();
    let mut import = store.begin_import("a log", at(1)).unwrap();
    let mut next = (0..).map(nth_set);
    let error = loop {
        let set = next.next().unwrap();
        let added = import
            .add_lifter_if_missing(&lifter(set.lifter.as_str()))
            .and_then(|_| import.add_set(&set, OnDifference::Keep));
        if let Err(error) = added {
            break error;
        }
    };
    assert!(matches!(error, StoreError::DiskFull { .. }), "{error}");
    let error = import.add_set(&nth_set(0), OnDifference::Keep).unwrap_err();
    assert!(matches!(error, StoreError::GivenUp { .. }), "{error}");
    assert!(matches!(import.commit().unwrap_err(), StoreError::GivenUp { .. }));
    assert_eq!(store.n_facts().unwrap(), 0);
}

#[cfg(target_os = "linux")]
#[test]
fn a_disk_that_is_full() {
    let folder = tempfile::tempdir().unwrap();
    let Some(disk) = support::SmallDisk::mount(folder.path(), "8m") else {
        eprintln!("not run: mounting a small disk needs the rights of root");
        return;
    };
    fill(&disk.path().join("record.db"), Settings::default());
}
