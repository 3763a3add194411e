//! Adding, reading, correcting and withdrawing, in real files.

#[expect(dead_code, reason = "each test file uses a part of it")]
mod support;

use domain::SetId;
use jiff::civil::date;
use store::{Added, LifterProgramme, OnDifference, Standing, Store, StoreError, Touched};
use support::{at, check_in, dump, lifter, name, set};

use OnDifference::{Correct, Keep};

/// A store of one lifter, and the folder that keeps it alive.
fn with_anna() -> (tempfile::TempDir, Store) {
    let folder = tempfile::tempdir().unwrap();
    let store = Store::open(&folder.path().join("record.db")).unwrap();
    store.put_lifter(&lifter("Anna Birk"), at(0)).unwrap();
    (folder, store)
}

fn import(store: &Store, sets: &[domain::LoggedSet], on_difference: OnDifference) -> Vec<Added> {
    let mut import = store.begin_import("a log", at(1)).unwrap();
    let added = sets.iter().map(|set| import.add_set(set, on_difference).unwrap()).collect();
    import.commit().unwrap();
    added
}

#[test]
fn each_line_is_new_once_and_then_already_there() {
    let (_folder, store) = with_anna();
    let squat = set("Anna Birk", "2031-05-04", "squat", 1, 100.0, 5);
    assert_eq!(import(&store, std::slice::from_ref(&squat), Keep), [Added::New]);
    let before = dump(store.path());
    let respelled = set("anna birk", "2031-05-04", "Squat", 1, 100.0, 5);
    assert_eq!(
        import(&store, &[squat.clone(), respelled], Correct),
        [Added::AlreadyThere, Added::AlreadyThere]
    );
    assert_eq!(dump(store.path()), before);
    assert_eq!(store.sets_of(&name("ANNA BIRK")).unwrap(), [squat]);
}

#[test]
fn a_difference_is_kept_or_corrected_as_asked() {
    let (_folder, store) = with_anna();
    let old = set("Anna Birk", "2031-05-04", "squat", 1, 100.0, 5);
    let new = set("Anna Birk", "2031-05-04", "squat", 1, 105.0, 5);
    import(&store, std::slice::from_ref(&old), Keep);
    let kept = import(&store, std::slice::from_ref(&new), Keep);
    assert_eq!(kept, [Added::Differs(Box::new(old.clone()))]);
    assert_eq!(store.sets_of(&old.lifter).unwrap(), std::slice::from_ref(&old));
    assert_eq!(import(&store, std::slice::from_ref(&new), Correct), [Added::Superseded]);
    assert_eq!(store.sets_of(&old.lifter).unwrap(), std::slice::from_ref(&new));
    let history = store.history_of_set(old.id()).unwrap();
    assert_eq!(history.iter().map(|v| v.content.clone()).collect::<Vec<_>>(), [old, new]);
    assert_eq!(history[1].recording.at, at(1));
    assert_eq!(history[1].recording.source, "a log");
}

#[test]
fn a_dropped_import_leaves_nothing() {
    let (_folder, store) = with_anna();
    let before = dump(store.path());
    let mut import = store.begin_import("a log", at(1)).unwrap();
    import.add_set(&set("Anna Birk", "2031-05-04", "squat", 1, 100.0, 5), Keep).unwrap();
    import.add_lift_file("a text").unwrap();
    assert_eq!(store.sets_of(&name("Anna Birk")).unwrap(), [], "nothing shows before the commit");
    drop(import);
    assert_eq!(dump(store.path()), before);
}

#[test]
fn sets_come_back_in_the_order_of_the_log() {
    let (_folder, store) = with_anna();
    // Lifts that take turns, on dates out of order, with and without times.
    let log = [
        set("Anna Birk", "2031-05-06", "row", 1, 60.0, 8),
        set("Anna Birk", "2031-05-06", "bench press", 1, 70.0, 8),
        set("Anna Birk", "2031-05-06", "row", 2, 60.0, 7),
        set("Anna Birk", "2031-05-06", "bench press", 2, 70.0, 7),
        set("Anna Birk", "2031-05-04T18:30", "squat", 2, 100.0, 5),
        set("Anna Birk", "2031-05-04T09:00", "squat", 1, 90.0, 5),
        set("Anna Birk", "2031-05-04", "chin-up", 1, 0.0, 9),
    ];
    import(&store, &log, Keep);
    let expected: Vec<_> = [6, 5, 4, 0, 1, 2, 3].map(|idx: usize| log[idx].clone()).to_vec();
    assert_eq!(store.sets_of(&name("Anna Birk")).unwrap(), expected);
    // A correction keeps the place of the first entry.
    let corrected = set("Anna Birk", "2031-05-06", "row", 1, 62.5, 8);
    store.correct_set(corrected.id(), &corrected, "misread", at(5)).unwrap();
    let mut with_correction = expected;
    with_correction[3] = corrected;
    assert_eq!(store.sets_of(&name("Anna Birk")).unwrap(), with_correction);
}

#[test]
fn a_set_entered_late_takes_its_number_within_its_lift() {
    let (_folder, store) = with_anna();
    let second = set("Anna Birk", "2031-05-06", "row", 2, 60.0, 8);
    let other = set("Anna Birk", "2031-05-06", "bench press", 1, 70.0, 8);
    let first = set("Anna Birk", "2031-05-06", "row", 1, 62.5, 8);
    import(&store, &[second.clone(), other.clone()], Keep);
    import(&store, std::slice::from_ref(&first), Keep);
    assert_eq!(store.sets_of(&name("Anna Birk")).unwrap(), [first, other, second]);
}

#[test]
fn a_withdrawn_set_stays_in_its_history_and_comes_back_only_when_asked() {
    let (_folder, store) = with_anna();
    let squat = set("Anna Birk", "2031-05-04", "squat", 1, 100.0, 5);
    import(&store, std::slice::from_ref(&squat), Keep);
    store.withdraw_set(squat.id(), "somebody else's set", at(2)).unwrap();
    store.withdraw_set(squat.id(), "once more", at(3)).unwrap();
    assert_eq!(store.sets_of(&squat.lifter).unwrap(), []);
    let history = store.history_of_set(squat.id()).unwrap();
    let standings: Vec<_> = history.iter().map(|v| (v.standing, v.reason.as_str())).collect();
    let withdrawal = (Standing::Withdrawn, "somebody else's set");
    assert_eq!(standings, [(Standing::Recorded, ""), withdrawal]);
    assert_eq!(import(&store, std::slice::from_ref(&squat), Keep), [Added::Withdrawn]);
    assert_eq!(store.lifters().unwrap()[0].n_sets, 0);
    assert_eq!(store.lifters().unwrap()[0].first, None);
    assert_eq!(import(&store, std::slice::from_ref(&squat), Correct), [Added::Superseded]);
    assert_eq!(store.sets_of(&squat.lifter).unwrap(), [squat]);
}

/// A set that a correction has moved keeps its history, answers to its new id, and isn't entered a
/// second time by either version of the log.
#[test]
fn a_moved_set_is_still_one_set() {
    let (_folder, store) = with_anna();
    let wrong = set("Anna Birk", "2031-05-04", "squat", 1, 100.0, 5);
    let right = set("Anna Birk", "2031-05-05", "squat", 1, 100.0, 5);
    import(&store, std::slice::from_ref(&wrong), Keep);
    store.correct_set(wrong.id(), &right, "a day later", at(2)).unwrap();
    assert_eq!(store.sets_of(&right.lifter).unwrap(), std::slice::from_ref(&right));
    assert_eq!(import(&store, std::slice::from_ref(&right), Keep), [Added::AlreadyThere]);
    let of_old_log = import(&store, std::slice::from_ref(&wrong), Keep);
    assert_eq!(of_old_log, [Added::Differs(Box::new(right.clone()))]);
    let by_new = store.history_of_set(right.id()).unwrap();
    assert_eq!(by_new.len(), 2);
    assert_eq!(by_new, store.history_of_set(wrong.id()).unwrap());
    store.withdraw_set(right.id(), "not done at all", at(3)).unwrap();
    assert_eq!(store.sets_of(&right.lifter).unwrap(), []);
}

#[test]
fn a_correction_never_makes_two_sets_one() {
    let (_folder, store) = with_anna();
    let first = set("Anna Birk", "2031-05-04", "squat", 1, 100.0, 5);
    let second = set("Anna Birk", "2031-05-04", "squat", 2, 100.0, 5);
    import(&store, &[first.clone(), second.clone()], Keep);
    let error = store.correct_set(second.id(), &first, "", at(2)).unwrap_err();
    assert!(matches!(error, StoreError::PlaceTaken { .. }), "{error}");
    assert_eq!(store.sets_of(&first.lifter).unwrap(), [first.clone(), second.clone()]);
    // Once the first is withdrawn its place is free, and an old log means what stands there now.
    store.withdraw_set(first.id(), "not done", at(3)).unwrap();
    store.correct_set(second.id(), &first, "it was the first", at(4)).unwrap();
    assert_eq!(store.sets_of(&first.lifter).unwrap(), std::slice::from_ref(&first));
    assert_eq!(import(&store, std::slice::from_ref(&first), Keep), [Added::AlreadyThere]);
}

#[test]
fn what_is_not_there_is_said() {
    let (_folder, store) = with_anna();
    let stranger = set("Bo Ek", "2031-05-04", "squat", 1, 100.0, 5);
    let mut import = store.begin_import("a log", at(1)).unwrap();
    let error = import.add_set(&stranger, Keep).unwrap_err();
    assert_eq!(error.to_string(), "lifter `Bo Ek` is not in the store: add the lifter first");
    import.add_lifter_if_missing(&lifter("Bo Ek")).unwrap();
    assert_eq!(import.add_set(&stranger, Keep).unwrap(), Added::New);
    import.commit().unwrap();
    let n_facts = store.n_facts().unwrap();
    assert_eq!(n_facts, 3, "the refused set left no fact behind");
    assert_eq!(store.newest_fact().unwrap(), 3);
    let nobody = SetId::from_bytes([7; 16]);
    let error = store.withdraw_set(nobody, "", at(1)).unwrap_err();
    assert!(matches!(error, StoreError::NoSuchFact { .. }), "{error}");
    assert_eq!(store.history_of_set(nobody).unwrap(), []);
    assert_eq!(store.lifter(&name("Nobody")).unwrap(), None);
    assert_eq!(store.sets_of(&name("Nobody")).unwrap(), []);
}

#[test]
fn lifters_are_counted_and_their_newest_settings_hold() {
    let (_folder, store) = with_anna();
    let mut anna = lifter("Anna BIRK");
    anna.limits = domain::Limits::new(3, 1.7, 1.0, 2.5).unwrap();
    store.put_lifter(&anna, at(1)).unwrap();
    store.put_lifter(&anna, at(2)).unwrap();
    assert_eq!(store.lifter(&name("anna birk")).unwrap(), Some(anna.clone()));
    import(
        &store,
        &[
            set("Anna Birk", "2031-05-09", "squat", 1, 100.0, 5),
            set("Anna Birk", "2031-05-04", "squat", 1, 100.0, 5),
        ],
        Keep,
    );
    let mut second = store.begin_import("another", at(3)).unwrap();
    second.add_lifter_if_missing(&lifter("ANNA birk")).unwrap();
    second.add_check_in(&check_in("Anna Birk", "2031-05-04", 7.25), Keep).unwrap();
    second.commit().unwrap();
    let summary = &store.lifters().unwrap()[0];
    assert_eq!((&summary.lifter, summary.n_sets), (&anna, 2));
    assert_eq!(summary.first, Some(jiff::civil::date(2031, 5, 4)));
    assert_eq!(summary.last, Some(jiff::civil::date(2031, 5, 9)));
    assert_eq!(
        store.check_ins_of(&anna.name).unwrap(),
        [check_in("Anna BIRK", "2031-05-04", 7.25)]
    );
}

#[test]
fn check_ins_are_corrected_and_withdrawn_like_sets() {
    let (_folder, store) = with_anna();
    let old = check_in("Anna Birk", "2031-05-04", 7.0);
    let new = check_in("Anna Birk", "2031-05-04", 5.5);
    let mut first = store.begin_import("check-ins", at(1)).unwrap();
    assert_eq!(first.add_check_in(&old, Keep).unwrap(), Added::New);
    assert_eq!(first.add_check_in(&old, Keep).unwrap(), Added::AlreadyThere);
    assert_eq!(first.add_check_in(&new, Keep).unwrap(), Added::Differs(Box::new(old.clone())));
    first.commit().unwrap();
    store.correct_check_in(old.id(), &new, "woken twice", at(2)).unwrap();
    assert_eq!(store.check_ins_of(&old.lifter).unwrap(), [new]);
    store.withdraw_check_in(old.id(), "", at(3)).unwrap();
    assert_eq!(store.check_ins_of(&old.lifter).unwrap(), []);
    assert_eq!(store.history_of_check_in(old.id()).unwrap().len(), 3);
}

#[test]
fn the_lift_file_laid_on_last_lies_on_top() {
    let (_folder, store) = with_anna();
    let lay = |text: &str| {
        let mut import = store.begin_import("lifts.toml", at(1)).unwrap();
        let added = import.add_lift_file(text).unwrap();
        import.commit().unwrap();
        added
    };
    assert_eq!(lay("one"), Added::New);
    assert_eq!(lay("one"), Added::AlreadyThere);
    assert_eq!(lay("two"), Added::New);
    assert_eq!(store.lift_files().unwrap(), ["one", "two"]);
    assert_eq!(lay("one"), Added::Superseded);
    assert_eq!(store.lift_files().unwrap(), ["two", "one"]);
}

#[test]
fn the_file_itself_refuses_to_change_or_lose_a_fact() {
    let (_folder, store) = with_anna();
    import(&store, &[set("Anna Birk", "2031-05-04", "squat", 1, 100.0, 5)], Keep);
    let connection = rusqlite::Connection::open(store.path()).unwrap();
    for table in ["recording", "fact", "lifter_settings", "lifter_plate", "logged_set"] {
        let delete = connection.execute(&format!("DELETE FROM {table}"), []);
        assert!(delete.unwrap_err().to_string().contains("never removed"), "{table}");
    }
    let update = connection.execute("UPDATE logged_set SET reps = 6", []);
    assert!(update.unwrap_err().to_string().contains("never changed"));
}

#[test]
fn an_import_of_the_same_thread_locks_and_does_not_hang() {
    let folder = tempfile::tempdir().unwrap();
    let settings = store::Settings {
        turn_timeout: std::time::Duration::from_millis(30),
        ..Default::default()
    };
    let store = Store::open_with(&folder.path().join("record.db"), settings).unwrap();
    let first = store.begin_import("one", at(0)).unwrap();
    let error = store.put_lifter(&lifter("Anna Birk"), at(0)).unwrap_err();
    assert!(matches!(error, StoreError::Queue { .. }), "{error}");
    drop(first);
    store.put_lifter(&lifter("Anna Birk"), at(0)).unwrap();
}

#[test]
fn new_facts_say_whose_record_they_change() {
    let (_folder, store) = with_anna();
    store.put_lifter(&lifter("Bo Ek"), at(0)).unwrap();
    let mut upto = store.newest_fact().unwrap();
    // Whose record has changed since this was last asked.
    let mut touched = |store: &Store| {
        let since = std::mem::replace(&mut upto, store.newest_fact().unwrap());
        store.touched_since(since).unwrap()
    };
    let these = |keys: &[&str]| Touched::These(keys.iter().map(|key| (*key).to_owned()).collect());
    assert_eq!(touched(&store), these(&[]));
    let annas = set("Anna Birk", "2031-05-04", "squat", 1, 100.0, 5);
    let bos = set("Bo Ek", "2031-05-04", "squat", 1, 100.0, 5);
    import(&store, std::slice::from_ref(&annas), Keep);
    assert_eq!(touched(&store), these(&["anna birk"]));
    import(&store, std::slice::from_ref(&bos), Keep);
    assert_eq!(touched(&store), these(&["bo ek"]));
    store.withdraw_set(annas.id(), "never done", at(2)).unwrap();
    assert_eq!(touched(&store), these(&["anna birk"]));
    store.correct_set(annas.id(), &annas, "done after all", at(3)).unwrap();
    assert_eq!(touched(&store), these(&["anna birk"]));
    let told = check_in("Bo Ek", "2031-05-04", 6.0);
    let mut both = store.begin_import("check-ins", at(4)).unwrap();
    both.add_check_in(&told, Keep).unwrap();
    both.add_set(&set("Anna Birk", "2031-05-04", "squat", 2, 100.0, 5), Keep).unwrap();
    both.commit().unwrap();
    assert_eq!(touched(&store), these(&["anna birk", "bo ek"]));
    store.withdraw_check_in(told.id(), "another day", at(5)).unwrap();
    assert_eq!(touched(&store), these(&["bo ek"]));
    let text = "days".to_owned();
    let programme = LifterProgramme { lifter: name("Anna Birk"), begins: date(2031, 5, 5), text };
    store.put_programme(&programme, "", at(6)).unwrap();
    assert_eq!(touched(&store), these(&["anna birk"]));
    store.withdraw_programme(&name("Anna Birk"), "", at(7)).unwrap();
    assert_eq!(touched(&store), these(&["anna birk"]));
    let mut settings = lifter("Bo Ek");
    settings.unit = domain::Unit::Lb;
    store.put_lifter(&settings, at(8)).unwrap();
    assert_eq!(touched(&store), these(&["bo ek"]));
    let mut lifts = store.begin_import("lifts", at(9)).unwrap();
    lifts.add_lift_file("[[lift]]").unwrap();
    lifts.commit().unwrap();
    assert_eq!(touched(&store), Touched::Everybody);
    assert_eq!(store.lifter_names().unwrap(), [name("Anna Birk"), name("Bo Ek")]);
}
