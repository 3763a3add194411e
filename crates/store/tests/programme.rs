//! A lifter's programme on disk: every version kept, whole after a kill, there and back.

#[expect(dead_code, reason = "each test file uses a part of it")]
mod support;

use jiff::civil::date;
use store::{Added, LifterProgramme, Severity, Standing, Store, StoreError};
use support::{assert_there_and_back, at, killed, lifter, name};

fn programme(who: &str, text: &str) -> LifterProgramme {
    LifterProgramme { lifter: name(who), begins: date(2031, 5, 5), text: text.to_owned() }
}

/// Two lifters; the first has had two programmes, one of them twice, and has none now.
fn filled(folder: &tempfile::TempDir) -> Store {
    let store = Store::open(&folder.path().join("record.db")).unwrap();
    store.put_lifter(&lifter("Anna Birk"), at(0)).unwrap();
    store.put_lifter(&lifter("Bo Ek"), at(0)).unwrap();
    let put =
        |who, text, minute| store.put_programme(&programme(who, text), "", at(minute)).unwrap();
    assert_eq!(put("Anna Birk", "first\n# “knees” & all\r\n", 1), Added::New);
    assert_eq!(put("anna birk", "first\n# “knees” & all\r\n", 2), Added::AlreadyThere);
    assert_eq!(put("Anna Birk", "second", 3), Added::Superseded);
    assert_eq!(put("Bo Ek", "second", 4), Added::New);
    store.withdraw_programme(&name("Anna Birk"), "on holiday", at(5)).unwrap();
    store
}

#[test]
fn the_newest_is_in_force_and_nothing_is_lost() {
    let folder = tempfile::tempdir().unwrap();
    let store = filled(&folder);
    let anna = name("ANNA BIRK");
    assert_eq!(store.programme_of(&name("Bo Ek")).unwrap(), Some(programme("Bo Ek", "second")));
    assert_eq!(store.programme_of(&anna).unwrap(), None, "taken away");
    assert_eq!(store.programme_of(&name("Nobody")).unwrap(), None);
    let told: Vec<_> = store
        .programmes_of(&anna)
        .unwrap()
        .into_iter()
        .map(|one| (one.content.text, one.standing, one.reason, one.recording.at))
        .collect();
    let (said, taken) = (Standing::Recorded, Standing::Withdrawn);
    let first = "first\n# “knees” & all\r\n";
    assert_eq!(
        told,
        [
            (first.to_owned(), said, String::new(), at(1)),
            ("second".to_owned(), said, String::new(), at(3)),
            ("second".to_owned(), taken, "on holiday".to_owned(), at(5)),
        ]
    );
    let facts = store.n_facts().unwrap();
    store.withdraw_programme(&anna, "again", at(6)).unwrap();
    assert_eq!(store.n_facts().unwrap(), facts, "taken away once");
    // Another day to begin on is another version; after a withdrawal the same text is one as well.
    let later = LifterProgramme { begins: date(2031, 6, 2), ..programme("Anna Birk", "second") };
    assert_eq!(store.put_programme(&later, "back", at(7)).unwrap(), Added::Superseded);
    assert_eq!(store.programme_of(&anna).unwrap(), Some(later));
    let error = store.put_programme(&programme("Nobody", "x"), "", at(8)).unwrap_err();
    assert!(matches!(error, StoreError::UnknownLifter { .. }), "{error}");
    let error = store.withdraw_programme(&name("Nobody"), "", at(8)).unwrap_err();
    assert!(matches!(error, StoreError::UnknownLifter { .. }), "{error}");
}

#[test]
fn there_and_back_gives_the_same_record() {
    let folder = tempfile::tempdir().unwrap();
    let store = filled(&folder);
    assert_there_and_back(&folder, store);
}

#[test]
fn a_programme_is_never_changed_and_the_file_is_whole() {
    let folder = tempfile::tempdir().unwrap();
    drop(filled(&folder));
    let path = folder.path().join("record.db");
    assert_eq!(store::examine(&path).on("integrity").unwrap().severity, Severity::Fine);
    let connection = rusqlite::Connection::open(&path).unwrap();
    for statement in ["UPDATE programme SET text = ''", "DELETE FROM programme"] {
        let refused = connection.execute(statement, []).unwrap_err().to_string();
        assert!(refused.contains("a fact is never"), "{statement}: {refused}");
    }
}

/// Sets one programme after the other, the n-th with n lines, and says so after each.
fn be_the_child(path: &std::path::Path) {
    let store = Store::open(path).unwrap();
    store.put_lifter(&lifter("Anna Birk"), at(0)).unwrap();
    for n in 1.. {
        let text = format!("line of {n}\n").repeat(n);
        store.put_programme(&programme("Anna Birk", &text), "", at(n as i64)).unwrap();
        killed::confirm(n as u64);
    }
}

/// Whatever moment a process is killed at, what it had confirmed is in force, and whole.
#[cfg(unix)]
#[test]
fn a_killed_process_leaves_a_whole_programme() {
    const TEST: &str = "a_killed_process_leaves_a_whole_programme";
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
        let versions = store.programmes_of(&name("Anna Birk")).unwrap();
        // A commit may have been done whose confirmation was cut off.
        assert!((n_confirmed..=n_confirmed + 1).contains(&versions.len()), "after {delay} ms");
        for (idx, version) in versions.iter().enumerate() {
            let n = idx + 1;
            assert_eq!(
                version.content.text,
                format!("line of {n}\n").repeat(n),
                "after {delay} ms"
            );
        }
        let current = store.programme_of(&name("Anna Birk")).unwrap();
        assert_eq!(current.as_ref(), versions.last().map(|version| &version.content));
    }
    assert!(most_confirmed >= 2, "the child was never killed between two commits");
}
