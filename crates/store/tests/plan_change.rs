//! Changes of plan on disk: every version kept, whole after a kill, there and back.

#[expect(dead_code, reason = "each test file uses a part of it")]
mod support;

use jiff::civil::date;
use store::{Added, PlanChange, Severity, Standing, Store, StoreError, Touched};
use support::{assert_there_and_back, at, killed, lifter, name};

fn change(id: u8, who: &str, text: &str) -> PlanChange {
    let (from, until) = (date(2031, 5, 5), date(2031, 5, 11));
    PlanChange { id: [id; 16], lifter: name(who), from, until, text: text.to_owned() }
}

/// Two lifters; the first has two changes of plan, of which one was corrected and one taken back.
fn filled(folder: &tempfile::TempDir) -> Store {
    let store = Store::open(&folder.path().join("record.db")).unwrap();
    store.put_lifter(&lifter("Anna Birk"), at(0)).unwrap();
    store.put_lifter(&lifter("Bo Ek"), at(0)).unwrap();
    let put = |change: PlanChange, minute| store.put_plan_change(&change, "a regatta", at(minute));
    assert_eq!(put(change(1, "Anna Birk", "first “one”\r\n"), 1).unwrap(), Added::New);
    assert_eq!(put(change(1, "Anna Birk", "first “one”\r\n"), 2).unwrap(), Added::AlreadyThere);
    assert_eq!(put(change(1, "Anna Birk", "corrected"), 3).unwrap(), Added::Superseded);
    assert_eq!(put(change(2, "Anna Birk", "second"), 4).unwrap(), Added::New);
    assert_eq!(put(change(3, "Bo Ek", "theirs"), 5).unwrap(), Added::New);
    assert!(store.withdraw_plan_change(&name("Anna Birk"), &[2; 16], "called off", at(6)).unwrap());
    store
}

#[test]
fn the_newest_of_each_is_shown_and_nothing_is_lost() {
    let folder = tempfile::tempdir().unwrap();
    let store = filled(&folder);
    let anna = name("ANNA BIRK");
    let told: Vec<_> = store
        .plan_changes_of(&anna)
        .unwrap()
        .into_iter()
        .map(|one| (one.content.text, one.standing, one.reason, one.recording.at))
        .collect();
    let (said, taken) = (Standing::Recorded, Standing::Withdrawn);
    assert_eq!(
        told,
        [
            ("corrected".to_owned(), said, "a regatta".to_owned(), at(3)),
            ("second".to_owned(), taken, "called off".to_owned(), at(6)),
        ]
    );
    assert_eq!(store.plan_changes_of(&name("Nobody")).unwrap(), []);
    let facts = store.n_facts().unwrap();
    // Taken back once, and by nobody else than whose it is.
    assert!(!store.withdraw_plan_change(&anna, &[2; 16], "again", at(7)).unwrap());
    assert!(!store.withdraw_plan_change(&anna, &[3; 16], "not theirs", at(7)).unwrap());
    assert!(!store.withdraw_plan_change(&anna, &[9; 16], "never there", at(7)).unwrap());
    assert_eq!(store.n_facts().unwrap(), facts);
    assert_eq!(
        store.put_plan_change(&change(2, "Anna Birk", "second"), "on again", at(8)).unwrap(),
        Added::Superseded
    );
    assert_eq!(store.touched_since(facts).unwrap(), Touched::These(vec![anna.key()]));
    let error = store.put_plan_change(&change(4, "Nobody", "x"), "", at(9)).unwrap_err();
    assert!(matches!(error, StoreError::UnknownLifter { .. }), "{error}");
    let error = store.withdraw_plan_change(&name("Nobody"), &[1; 16], "", at(9)).unwrap_err();
    assert!(matches!(error, StoreError::UnknownLifter { .. }), "{error}");
}

#[test]
fn there_and_back_gives_the_same_record() {
    let folder = tempfile::tempdir().unwrap();
    let store = filled(&folder);
    assert_there_and_back(&folder, store);
}

#[test]
fn a_change_of_plan_is_never_changed_and_the_file_is_whole() {
    let folder = tempfile::tempdir().unwrap();
    drop(filled(&folder));
    let path = folder.path().join("record.db");
    assert_eq!(store::examine(&path).on("integrity").unwrap().severity, Severity::Fine);
    let connection = rusqlite::Connection::open(&path).unwrap();
    for statement in ["UPDATE plan_change SET text = ''", "DELETE FROM plan_change"] {
        let refused = connection.execute(statement, []).unwrap_err().to_string();
        assert!(refused.contains("a fact is never"), "{statement}: {refused}");
    }
}

/// Records one change after the other, the n-th with n lines, and says so after each.
fn be_the_child(path: &std::path::Path) {
    let store = Store::open(path).unwrap();
    store.put_lifter(&lifter("Anna Birk"), at(0)).unwrap();
    for n in 1..=250_u8 {
        let text = format!("line of {n}\n").repeat(n.into());
        store.put_plan_change(&change(n, "Anna Birk", &text), "", at(n.into())).unwrap();
        killed::confirm(n.into());
    }
    std::thread::sleep(std::time::Duration::from_secs(60)); // until it is killed
}

/// Whatever moment a process is killed at, what it had confirmed is in force, and whole.
#[cfg(unix)]
#[test]
fn a_killed_process_leaves_whole_changes_of_plan() {
    const TEST: &str = "a_killed_process_leaves_whole_changes_of_plan";
    if let Some(path) = killed::child_works_on() {
        be_the_child(&path);
        return;
    }
    let mut most_confirmed = 0;
    for delay in [2, 7, 19, 41, 83, 150, 290, 470] {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("record.db");
        let n_confirmed = killed::after(TEST, &path, delay).len();
        most_confirmed = most_confirmed.max(n_confirmed);
        let store = Store::open(&path).unwrap();
        assert!(store.doctor().worst() < Severity::ActNow, "after {delay} ms");
        let changes = store.plan_changes_of(&name("Anna Birk")).unwrap();
        // A commit may have been done whose confirmation was cut off.
        assert!((n_confirmed..=n_confirmed + 1).contains(&changes.len()), "after {delay} ms");
        for (idx, version) in changes.iter().enumerate() {
            let n = idx + 1;
            let text = format!("line of {n}\n").repeat(n);
            assert_eq!(version.content.text, text, "after {delay} ms");
        }
    }
    assert!(most_confirmed >= 2, "the child was never killed between two commits");
}
