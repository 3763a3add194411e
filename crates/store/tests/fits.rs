//! Kept fits and pooled values: what counts, what is replaced, what a kill leaves. The numbers are
//! invented; what they would mean is tested where they are used.

use std::path::Path;

use store::{KeptFit, PooledId, Severity, Store, StoreError};
use support::{at, lifter, name};

#[expect(dead_code, reason = "each test file uses a part of it")]
mod support;

const MODEL: u32 = 3;

fn store() -> (tempfile::TempDir, Store) {
    let folder = tempfile::tempdir().unwrap();
    let store = Store::open(&folder.path().join("record.db")).unwrap();
    for who in ["Anna Birk", "Bodil Rask"] {
        store.put_lifter(&lifter(who), at(0)).unwrap();
    }
    (folder, store)
}

fn fit(n_lead_sets: u64) -> KeptFit {
    KeptFit {
        n_lead_sets,
        model: MODEL,
        ground: [n_lead_sets as u8; 16],
        newest_fact: 2,
        made: at(5),
        at: vec![0.1 * n_lead_sets as f64, -0.0, f64::MIN_POSITIVE],
        converged: n_lead_sets != 30,
        log_posterior: -12.5,
        distance: f64::INFINITY,
        iterations: 25,
        estimate: (n_lead_sets > 20).then(|| (vec![0.25, 1e300], vec![1.0, 0.5, 0.5, 2.0])),
    }
}

#[test]
fn fits_come_back_as_they_were_kept_and_replace_the_older_ones() {
    let (_folder, store) = store();
    let anna = name("Anna Birk");
    assert_eq!(store.kept_fits(&anna, MODEL).unwrap(), []);
    store.keep_fits(&anna, PooledId::SHIPPED, &[fit(30), fit(20)]).unwrap();
    store.keep_fits(&name("Bodil Rask"), PooledId::SHIPPED, &[fit(20)]).unwrap();
    assert_eq!(store.kept_fits(&name("ANNA BIRK"), MODEL).unwrap(), [fit(20), fit(30)]);
    store.keep_fits(&anna, PooledId::SHIPPED, &[fit(21)]).unwrap();
    assert_eq!(store.kept_fits(&anna, MODEL).unwrap(), [fit(21)]);
    assert_eq!(store.kept_fits(&name("Bodil Rask"), MODEL).unwrap(), [fit(20)]);
    let error = store.keep_fits(&name("Nobody"), PooledId::SHIPPED, &[fit(20)]).unwrap_err();
    assert!(matches!(error, StoreError::UnknownLifter { name } if name == "Nobody"));
    assert_eq!(store.n_facts().unwrap(), 2, "a fit is no fact");
}

#[test]
fn all_of_a_lifters_fits_are_kept_or_none() {
    let (_folder, store) = store();
    let anna = name("Anna Birk");
    store.keep_fits(&anna, PooledId::SHIPPED, &[fit(20)]).unwrap();
    // The same number of lead sets twice can't be.
    store.keep_fits(&anna, PooledId::SHIPPED, &[fit(30), fit(45), fit(30)]).unwrap_err();
    assert_eq!(store.kept_fits(&anna, MODEL).unwrap(), [fit(20)]);
}

#[test]
fn a_fit_of_another_model_or_of_values_not_in_force_counts_as_none() {
    let (_folder, store) = store();
    let anna = name("Anna Birk");
    store.keep_fits(&anna, PooledId::SHIPPED, &[fit(20)]).unwrap();
    assert_eq!(store.kept_fits(&anna, MODEL + 1).unwrap(), []);

    let numbers = [("slowness.middle", 1.25), ("drift.sd", 0.5)];
    let own = store.keep_pooled(at(9), 14, "it converged", &numbers).unwrap();
    assert_eq!(store.pooled_in_force().unwrap(), None, "kept and not yet in force");
    assert_eq!(store.kept_fits(&anna, MODEL).unwrap(), [fit(20)]);

    store.put_in_force(own, at(10)).unwrap();
    let values = store.pooled_in_force().unwrap().unwrap();
    assert_eq!((values.id, values.made, values.n_lifters), (own, at(9), 14));
    assert_eq!(values.verdict, "it converged");
    let sorted = [("drift.sd".to_owned(), 0.5), ("slowness.middle".to_owned(), 1.25)];
    assert_eq!(values.numbers, sorted);
    assert_eq!(store.kept_fits(&anna, MODEL).unwrap(), []);
    store.keep_fits(&anna, own, &[fit(30)]).unwrap();
    assert_eq!(store.kept_fits(&anna, MODEL).unwrap(), [fit(30)]);

    // Back to what comes with the program: its fits count again, and nothing is lost.
    store.put_in_force(PooledId::SHIPPED, at(11)).unwrap();
    assert_eq!(store.pooled_id_in_force().unwrap(), PooledId::SHIPPED);
    assert_eq!(store.kept_fits(&anna, MODEL).unwrap(), [fit(20)]);
    assert_eq!(store.all_pooled().unwrap(), [values]);
}

#[test]
fn the_doctor_knows_of_fits_and_of_damaged_ones() {
    let (folder, store) = store();
    store.keep_fits(&name("Anna Birk"), PooledId::SHIPPED, &[fit(20), fit(30)]).unwrap();
    let findings = store.doctor();
    let words = &findings.on("kept fits").unwrap().words;
    assert!(words.contains("2 fits of 1 lifters are kept"), "{words}");
    assert_eq!(findings.on("kept fits").unwrap().severity, Severity::Fine);

    let path = folder.path().join("record.db");
    let other = rusqlite::Connection::open(&path).unwrap();
    other.execute("UPDATE fit SET at = x'010203' WHERE n_lead_sets = 20", []).unwrap();
    assert_eq!(store.doctor().on("kept fits").unwrap().severity, Severity::LookAtThis);
    // A fit that isn't what was kept counts as none.
    assert_eq!(store.kept_fits(&name("Anna Birk"), MODEL).unwrap(), [fit(30)]);
}

#[test]
fn pooled_values_that_are_not_what_was_kept_are_not_used() {
    let (folder, store) = store();
    let id = store.keep_pooled(at(5), 12, "converged", &[("a", 0.25), ("b", -3.5)]).unwrap();
    store.put_in_force(id, at(6)).unwrap();
    let other = rusqlite::Connection::open(folder.path().join("record.db")).unwrap();
    for (break_it, mend_it) in [
        (
            "UPDATE pooled_number SET value = 0.26 WHERE name = 'a'",
            "UPDATE pooled_number SET value = 0.25 WHERE name = 'a'",
        ),
        (
            "UPDATE pooled SET n_lifters = 13 WHERE id > 0",
            "UPDATE pooled SET n_lifters = 12 WHERE id > 0",
        ),
        ("UPDATE pooled_in_force SET pooled = 0", "UPDATE pooled_in_force SET pooled = 1"),
    ] {
        other.execute(break_it, []).unwrap();
        assert!(matches!(store.pooled_in_force(), Err(StoreError::Corrupt { .. })), "{break_it}");
        assert!(matches!(store.pooled_id_in_force(), Err(StoreError::Corrupt { .. })));
        assert_eq!(store.doctor().on("kept fits").unwrap().severity, Severity::LookAtThis);
        other.execute(mend_it, []).unwrap();
        assert_eq!(store.pooled_id_in_force().unwrap(), id);
    }
}

#[test]
fn a_store_for_reading_only_keeps_nothing() {
    let (folder, store) = store();
    store.keep_fits(&name("Anna Birk"), PooledId::SHIPPED, &[fit(20)]).unwrap();
    drop(store);
    let store = Store::open_read_only(&folder.path().join("record.db")).unwrap();
    assert_eq!(store.kept_fits(&name("Anna Birk"), MODEL).unwrap(), [fit(20)]);
    let refused = store.keep_fits(&name("Anna Birk"), PooledId::SHIPPED, &[fit(30)]);
    assert!(matches!(refused, Err(StoreError::ReadOnly { .. })));
}

/// Keeps two fits at a time, and says so after each time.
#[cfg(unix)]
fn be_the_child(path: &Path) {
    let store = Store::open(path).unwrap();
    for k in (0..20_000).step_by(2) {
        store.keep_fits(&name("Anna Birk"), PooledId::SHIPPED, &[fit(k), fit(k + 1)]).unwrap();
        support::killed::confirm(k);
    }
}

/// Killed with SIGKILL at several moments: what was confirmed last is there, whole.
#[cfg(unix)]
#[test]
fn a_kill_leaves_the_fits_confirmed_last() {
    if let Some(path) = support::killed::child_works_on() {
        be_the_child(&path);
        return;
    }
    let mut most = 0;
    for delay in [20, 50, 90, 170, 300] {
        let (folder, store) = store();
        drop(store);
        let path = folder.path().join("record.db");
        let test = "a_kill_leaves_the_fits_confirmed_last";
        let confirmed = support::killed::after(test, &path, delay).last().copied();
        let store = Store::open(&path).unwrap();
        assert!(store.doctor().worst() < Severity::ActNow, "after {delay} ms");
        let kept = store.kept_fits(&name("Anna Birk"), MODEL).unwrap();
        // A commit may have been done whose confirmation was cut off.
        let first = kept.first().map(|fit| fit.n_lead_sets);
        let next = confirmed.map_or(0, |k| k + 2);
        assert!(first == confirmed || first == Some(next), "after {delay} ms: {first:?}");
        if let Some(k) = first {
            assert_eq!(kept, [fit(k), fit(k + 1)], "after {delay} ms");
        }
        most = most.max(confirmed.unwrap_or(0));
    }
    assert!(most > 0, "the child was never killed between two commits");
}
