//! The end of a store's use: one whole file with nothing beside it, whoever ends it and how; a log that was left
//! there by another file; and a file that is taken away while it is in use.

#[expect(dead_code, reason = "each test file uses a part of it")]
mod support;

use std::fs;
use std::path::{Path, PathBuf};

use store::{Lost, Severity, Store, StoreError, examine};
use support::{at, dump, lifter};

fn names_in(folder: &Path) -> Vec<String> {
    let mut names: Vec<_> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    names
}

fn beside(path: &Path, suffix: &str) -> PathBuf {
    PathBuf::from(format!("{}{suffix}", path.display()))
}

/// Adds an invented lifter; a fact.
fn add(store: &Store, number: u64) {
    try_add(store, number).unwrap();
}

fn try_add(store: &Store, number: u64) -> Result<(), StoreError> {
    store.put_lifter(&lifter(&format!("invented lifter {number}")), at(number as i64))
}

fn in_folder() -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("record.db");
    (folder, path)
}

/// What lies on the disk after the program was killed: the file and its log, copied while the store is open.
fn as_if_killed(path: &Path, to: &Path) {
    fs::copy(path, to).unwrap();
    fs::copy(beside(path, "-wal"), beside(to, "-wal")).unwrap();
}

#[test]
fn a_store_that_is_closed_or_dropped_is_one_whole_file() {
    let (folder, path) = in_folder();
    for (round, is_dropped) in [true, false].into_iter().enumerate() {
        let store = Store::open(&path).unwrap();
        add(&store, round as u64);
        // Readers of several threads, which lie ready until the end.
        std::thread::scope(|scope| {
            for _ in 0..6 {
                scope.spawn(|| store.lifters().unwrap());
            }
        });
        assert!(names_in(folder.path()).len() > 1, "a log is kept while it is open");
        let kept = if is_dropped {
            drop(store);
            None
        } else {
            Some(store)
        };
        if let Some(store) = &kept {
            store.close().unwrap();
            store.close().unwrap();
        }
        assert_eq!(names_in(folder.path()), ["record.db"]);
        let copy = tempfile::tempdir().unwrap();
        let copy = copy.path().join("copy.db");
        fs::copy(&path, &copy).unwrap();
        assert_eq!(Store::open(&copy).unwrap().n_facts().unwrap(), 1 + round as u64);
        if let Some(store) = &kept {
            assert!(matches!(store.n_facts(), Err(StoreError::Closed { .. })));
            assert!(matches!(try_add(store, 9), Err(StoreError::Closed { .. })));
        }
    }
}

#[test]
fn reading_and_looking_leave_nothing_beside_the_file_and_change_nothing() {
    let (folder, path) = in_folder();
    add(&Store::open(&path).unwrap(), 1);
    let before = fs::read(&path).unwrap();
    let store = Store::open_read_only(&path).unwrap();
    assert_eq!(store.n_facts().unwrap(), 1);
    drop(store);
    assert_eq!(names_in(folder.path()), ["record.db"]);
    assert_eq!(examine(&path).on("log").unwrap().severity, Severity::Fine);
    assert_eq!(names_in(folder.path()), ["record.db"]);
    assert_eq!(fs::read(&path).unwrap(), before);
}

#[test]
fn whoever_has_it_open_longest_folds_it_in() {
    let (folder, path) = in_folder();
    let (first, second) = (Store::open(&path).unwrap(), Store::open(&path).unwrap());
    let reader = Store::open_read_only(&path).unwrap();
    add(&first, 1);
    add(&second, 2);
    assert_eq!(reader.n_facts().unwrap(), 2);
    drop(first);
    add(&second, 3);
    drop(second);
    assert_eq!(reader.n_facts().unwrap(), 3);
    drop(reader);
    assert_eq!(names_in(folder.path()), ["record.db"]);
    assert_eq!(Store::open(&path).unwrap().n_facts().unwrap(), 3);
}

/// A log that was left after a kill is looked at and not folded in by looking.
#[test]
fn the_doctor_tells_what_lies_in_the_log_and_leaves_it_there() {
    let (folder, path) = in_folder();
    add(&Store::open(&path).unwrap(), 1);
    let store = Store::open(&path).unwrap();
    add(&store, 2);
    add(&store, 3);
    let words = store.doctor().on("log").unwrap().clone();
    assert_eq!(words.severity, Severity::Fine, "{words:?}");
    assert!(words.words.starts_with("2 of 3 facts lie in the log"), "{words:?}");
    let left = folder.path().join("left.db");
    as_if_killed(&path, &left);
    drop(store);
    let log = fs::read(beside(&left, "-wal")).unwrap();
    let finding = examine(&left).on("log").unwrap().clone();
    assert_eq!(finding.severity, Severity::LookAtThis, "{finding:?}");
    assert!(finding.words.starts_with("2 of 3 facts lie in the log"), "{finding:?}");
    assert_eq!(fs::read(beside(&left, "-wal")).unwrap(), log);
    drop(Store::open_existing(&left).unwrap());
    assert_eq!(names_in(folder.path()), ["left.db", "record.db"]);
    assert_eq!(examine(&left).on("log").unwrap().severity, Severity::Fine);
    assert_eq!(Store::open(&left).unwrap().n_facts().unwrap(), 3);
}

/// A store of three uses, killed in the third; a copy of it after each use; the folder.
struct Killed {
    _folder: tempfile::TempDir,
    path: PathBuf,
    /// Copies of the file alone, after the first and after the second use.
    copies: [PathBuf; 2],
}

fn killed() -> Killed {
    let folder = tempfile::tempdir().unwrap();
    let first = folder.path().join("first.db");
    let copies = [folder.path().join("copy-1.db"), folder.path().join("copy-2.db")];
    for (number, copy) in copies.iter().enumerate() {
        add(&Store::open(&first).unwrap(), number as u64);
        fs::copy(&first, copy).unwrap();
    }
    let store = Store::open(&first).unwrap();
    add(&store, 2);
    add(&store, 3);
    let path = folder.path().join("record.db");
    as_if_killed(&first, &path);
    Killed { _folder: folder, path, copies }
}

fn n_facts(path: &Path) -> u64 {
    Store::open_existing(path).unwrap().n_facts().unwrap()
}

#[test]
fn a_log_is_laid_over_its_own_file_only() {
    // Its own file; and that as it was when the log was begun, which is the same.
    let killed = killed();
    assert_eq!(n_facts(&killed.path), 4);
    let killed = self::killed();
    fs::copy(&killed.copies[1], &killed.path).unwrap();
    assert_eq!(n_facts(&killed.path), 4);

    // An older copy, and another record.
    let other = tempfile::tempdir().unwrap();
    let other = other.path().join("other.db");
    add(&Store::open(&other).unwrap(), 7);
    for (copied, facts) in [(None, 1), (Some(&other), 1)] {
        let killed = self::killed();
        fs::copy(copied.unwrap_or(&killed.copies[0]), &killed.path).unwrap();
        let (file, log) =
            (fs::read(&killed.path).unwrap(), fs::read(beside(&killed.path, "-wal")).unwrap());
        let unchanged = |log_now: &Path| {
            assert_eq!(fs::read(&killed.path).unwrap(), file);
            assert_eq!(fs::read(log_now).unwrap(), log);
        };

        // Who only looks says so and leaves everything as it is.
        let error = Store::open_read_only(&killed.path).unwrap_err();
        assert!(matches!(error, StoreError::ForeignLog { aside: None, .. }), "{error}");
        let findings = examine(&killed.path);
        assert_eq!(findings.on("the file").unwrap().severity, Severity::ActNow, "{findings:#?}");
        unchanged(&beside(&killed.path, "-wal"));

        // Who would write puts it aside first, and says where.
        let error = Store::open(&killed.path).unwrap_err();
        let aside = beside(&killed.path, "-wal.aside");
        assert!(error.to_string().contains("belongs to another file"), "{error}");
        assert!(error.to_string().contains(&aside.display().to_string()), "{error}");
        unchanged(&aside);
        assert_eq!(n_facts(&killed.path), facts);
        assert!(aside.exists());
        assert_eq!(examine(&killed.path).on("facts").unwrap().severity, Severity::Fine);
    }
}

/// What was never committed doesn't count, so it doesn't make a log another file's.
#[test]
fn a_log_without_a_whole_commit_is_nobodys() {
    let killed = killed();
    fs::copy(&killed.copies[0], &killed.path).unwrap();
    let log = beside(&killed.path, "-wal");
    let cut = &fs::read(&log).unwrap()[..32 + 24 + 4096];
    fs::write(&log, cut).unwrap();
    assert_eq!(n_facts(&killed.path), 1);
}

/// Where nothing can be written, a log that was left is read all the same.
#[cfg(target_os = "linux")]
#[test]
fn a_left_log_is_read_on_a_disk_for_reading_only() {
    use std::os::unix::fs::PermissionsExt;
    let killed = killed();
    let folder = tempfile::tempdir().unwrap();
    let disk = support::SmallDisk::mount(folder.path(), "4m");
    let path = folder.path().join("record.db");
    fs::copy(&killed.path, &path).unwrap();
    fs::copy(beside(&killed.path, "-wal"), beside(&path, "-wal")).unwrap();
    let rights = |file: u32, of_folder: u32| {
        fs::set_permissions(&path, fs::Permissions::from_mode(file)).unwrap();
        fs::set_permissions(folder.path(), fs::Permissions::from_mode(of_folder)).unwrap();
    };
    match &disk {
        Some(disk) => disk.allow_reading_only(),
        None => rights(0o444, 0o555),
    }
    let store = Store::open_read_only(&path).unwrap();
    std::thread::scope(|scope| {
        for _ in 0..4 {
            scope.spawn(|| assert_eq!(store.lifters().unwrap().len(), 4));
        }
    });
    assert_eq!(store.n_facts().unwrap(), 4);
    drop(store);
    if disk.is_none() {
        rights(0o644, 0o755);
    }
}

/// The error of a commit after `damage` was done to the files of a store with two facts, and the facts that are in
/// the file which the error names.
#[cfg(unix)]
fn after(damage: impl Fn(&Path)) -> (Lost, u64) {
    let (_folder, path) = in_folder();
    add(&Store::open(&path).unwrap(), 1);
    let store = Store::open(&path).unwrap();
    add(&store, 2);
    damage(&path);
    let error = try_add(&store, 3).unwrap_err();
    assert!(error.to_string().contains("end this program"), "{error}");
    let StoreError::Replaced { lost, saved: Some(saved), .. } = error else { panic!("{error}") };
    assert!(matches!(store.n_facts(), Err(StoreError::Replaced { .. })), "reading is refused too");
    assert!(matches!(try_add(&store, 3), Err(StoreError::Replaced { .. })));
    let before: Vec<_> = names_in(path.parent().unwrap());
    drop(store);
    assert_eq!(names_in(path.parent().unwrap()), before, "what lies there now is left alone");
    (lost, n_facts(&saved))
}

#[cfg(unix)]
#[test]
fn a_file_that_is_taken_away_is_noticed_before_anything_is_confirmed() {
    let removed = after(|path| fs::remove_file(path).unwrap());
    assert_eq!(removed, (Lost::Removed, 2));
    let replaced = after(|path| {
        let other = path.with_file_name("other.db");
        fs::write(&other, b"another file").unwrap();
        fs::rename(&other, path).unwrap();
    });
    assert_eq!(replaced, (Lost::Replaced, 2));
    let without_log = after(|path| fs::remove_file(beside(path, "-wal")).unwrap());
    assert_eq!(without_log, (Lost::LogReplaced, 2));
    let other_log = after(|path| {
        fs::copy(beside(path, "-wal"), path.with_file_name("other")).unwrap();
        fs::rename(path.with_file_name("other"), beside(path, "-wal")).unwrap();
    });
    assert_eq!(other_log, (Lost::LogReplaced, 2));
}

/// A file that went without anybody writing since is saved when the store is closed.
#[cfg(unix)]
#[test]
fn a_file_that_was_taken_away_is_saved_at_the_latest_when_it_is_closed() {
    let (_folder, path) = in_folder();
    let store = Store::open(&path).unwrap();
    add(&store, 1);
    fs::remove_file(&path).unwrap();
    let error = store.close().unwrap_err();
    let StoreError::Replaced { lost: Lost::Removed, saved: Some(saved), .. } = error else {
        panic!("{error}")
    };
    drop(store);
    assert_eq!(n_facts(&saved), 1);
}

/// Nothing is confirmed by a commit during which the file went.
#[cfg(unix)]
#[test]
fn a_file_that_goes_while_it_is_written_is_noticed_too() {
    let (_folder, path) = in_folder();
    let store = Store::open(&path).unwrap();
    let mut import = store.begin_import("a log", at(1)).unwrap();
    import.put_lifter(&lifter("Anna Birk")).unwrap();
    fs::remove_file(&path).unwrap();
    let error = import.commit().unwrap_err();
    let StoreError::Replaced { saved: Some(saved), .. } = error else { panic!("{error}") };
    assert_eq!(n_facts(&saved), 0, "what wasn't confirmed isn't there");
}

/// Opening a store a second time, or looking at it, in the process that has it open takes no lock of it away: a
/// second process that closes it can't take the log from under the first.
#[cfg(unix)]
#[test]
fn locks_outlive_a_second_look() {
    const CHILD: &str = "STORE_TEST_CHILD";
    if let Some(path) = std::env::var_os(CHILD) {
        let store = Store::open(Path::new(&path)).unwrap();
        add(&store, 2);
        return;
    }
    let (_folder, path) = in_folder();
    let store = Store::open(&path).unwrap();
    add(&store, 1);
    drop(Store::open(&path).unwrap());
    drop(Store::open_read_only(&path).unwrap());
    assert!(store.doctor().worst() < Severity::ActNow);
    let child = std::process::Command::new(std::env::current_exe().unwrap())
        .args(["--exact", "locks_outlive_a_second_look"])
        .env(CHILD, &path)
        .output()
        .unwrap();
    assert!(child.status.success(), "{}", String::from_utf8_lossy(&child.stdout));
    assert!(beside(&path, "-wal").exists());
    add(&store, 3);
    let before = dump(&path);
    drop(store);
    assert_eq!(dump(&path), before);
    assert_eq!(n_facts(&path), 3);
}

#[cfg(unix)]
#[test]
fn what_a_store_makes_is_its_owners_alone() {
    use std::os::unix::fs::PermissionsExt;
    let outer = tempfile::tempdir().unwrap();
    let path = outer.path().join("data/record.db");
    let store = Store::open(&path).unwrap();
    add(&store, 1);
    let rights = |path: &Path| fs::metadata(path).unwrap().permissions().mode() & 0o777;
    assert_eq!(rights(path.parent().unwrap()), 0o700);
    for suffix in ["", "-wal", "-shm"] {
        assert_eq!(rights(&beside(&path, suffix)), 0o600, "{suffix}");
    }
    drop(store);
    assert_eq!(examine(&path).on("privacy").unwrap().severity, Severity::Fine);
    // What somebody opened to others stays so, and the doctor says it.
    fs::set_permissions(&path, fs::Permissions::from_mode(0o640)).unwrap();
    add(&Store::open(&path).unwrap(), 2);
    assert_eq!(rights(&path), 0o640);
    let finding = examine(&path).on("privacy").unwrap().clone();
    assert_eq!(finding.severity, Severity::LookAtThis);
    assert!(finding.cure.contains("chmod go-rwx"), "{finding:?}");
}

/// What lies in the file is changed behind the store's back: facts, their recordings, the names in them, the tables
/// themselves. Each is noticed by the doctor and by the look that goes before an export; facts that are gone too.
#[test]
fn what_is_not_what_was_written_is_noticed() {
    let (folder, path) = in_folder();
    let store = Store::open(&path).unwrap();
    let mut import = store.begin_import("a log", at(1)).unwrap();
    for idx in 0..40 {
        let set = support::nth_set(idx);
        import.add_lifter_if_missing(&lifter(set.lifter.as_str())).unwrap();
        import.add_set(&set, store::OnDifference::Keep).unwrap();
    }
    import.commit().unwrap();
    store.verify().unwrap();
    store.verify_quickly().unwrap();
    drop(store);
    for (what, change) in [
        ("facts", "UPDATE logged_set SET reps = reps + 1 WHERE seq = 7"),
        ("facts", "UPDATE logged_set SET note = 'another' WHERE seq = 7"),
        ("facts", "UPDATE logged_set SET lift = 2 WHERE lift = 1"),
        ("facts", "UPDATE fact SET place = x'00' WHERE seq = 7"),
        ("facts", "UPDATE fact SET reason = 'made up' WHERE seq = 7"),
        ("facts", "UPDATE fact SET checksum = checksum + 1 WHERE seq = 7"),
        ("facts", "UPDATE recording SET source = 'another log'"),
        ("facts", "UPDATE recording SET at_us = at_us + 1"),
        ("facts", "UPDATE lift_name SET name = 'squats' WHERE name = 'squat'"),
        ("facts", "UPDATE lifter SET key = 'nobody'"),
        ("facts", "UPDATE lifter_settings SET shortfall_pct = 2.5"),
        ("facts", "DELETE FROM lifter_plate WHERE pairs = (SELECT max(pairs) FROM lifter_plate)"),
        ("facts", "DELETE FROM logged_set WHERE seq = 41"),
        ("facts", "DELETE FROM logged_set WHERE seq = 41; DELETE FROM fact WHERE seq = 41"),
        ("facts", "UPDATE record_mark SET n_facts = 40"),
        ("tables", "DROP TRIGGER logged_set_stays"),
        ("tables", "CREATE TABLE more (a)"),
        ("tables", "DROP INDEX fact_by_place"),
    ] {
        let changed = folder.path().join("changed.db");
        fs::copy(&path, &changed).unwrap();
        let connection = rusqlite::Connection::open(&changed).unwrap();
        // The guards are taken away for the change, and put back word for word.
        let guards: Vec<(String, String)> = connection
            .prepare("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'")
            .unwrap()
            .query_map([], |row| Ok((row.get(0)?, row.get(1)?)))
            .unwrap()
            .collect::<Result<_, _>>()
            .unwrap();
        connection.execute_batch("PRAGMA foreign_keys = OFF").unwrap();
        let is_of_tables = what == "tables";
        for (name, _) in guards.iter().filter(|_| !is_of_tables) {
            connection.execute_batch(&format!("DROP TRIGGER {name}")).unwrap();
        }
        connection.execute_batch(change).unwrap();
        for (_, sql) in guards.iter().filter(|_| !is_of_tables) {
            connection.execute_batch(sql).unwrap();
        }
        drop(connection);
        let finding = examine(&changed).on(what).unwrap().clone();
        assert_eq!(finding.severity, Severity::ActNow, "{change}: {finding:?}");
        let error = Store::open(&changed).unwrap().verify().unwrap_err();
        assert!(matches!(error, StoreError::Corrupt { .. }), "{change}: {error}");
    }
}
