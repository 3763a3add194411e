//! What may lie at the path: nothing, a store, something else, something damaged; and who may write.

#[expect(dead_code, reason = "each test file uses a part of it")]
mod support;

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use store::{OnDifference, Settings, Severity, Store, StoreError, examine};
use support::{at, lifter, name, nth_set};

const CHILD: &str = "STORE_TEST_CHILD";

fn store_with_sets(path: &Path, n_sets: u32) -> Store {
    let store = Store::open(path).unwrap();
    let mut import = store.begin_import("a log", at(1)).unwrap();
    for set in (0..n_sets).map(nth_set) {
        import.add_lifter_if_missing(&lifter(set.lifter.as_str())).unwrap();
        import.add_set(&set, OnDifference::Keep).unwrap();
    }
    import.commit().unwrap();
    store
}

fn in_folder(file: &str) -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join(file);
    (folder, path)
}

/// Opening in every way fails as expected, the doctor says so too, and the file is left alone.
fn check_refused(path: &Path, is_right: impl Fn(&StoreError) -> bool) {
    let before = fs::read(path).ok();
    for open in [Store::open, Store::open_existing, Store::open_read_only] {
        let error = open(path).map(|_| ()).unwrap_err();
        assert!(is_right(&error), "{error:?}");
    }
    let findings = examine(path);
    assert_eq!(findings.worst(), Severity::ActNow, "{findings:#?}");
    assert_eq!(fs::read(path).ok(), before);
}

#[test]
fn a_missing_folder_is_made_and_an_emptied_file_is_refused() {
    let (folder, path) = in_folder("a/b/c/record.db");
    assert!(matches!(Store::open_existing(&path), Err(StoreError::NoSuchStore { .. })));
    assert!(matches!(Store::open_read_only(&path), Err(StoreError::NoSuchStore { .. })));
    assert!(!folder.path().join("a").exists());
    drop(Store::open(&path).unwrap());
    assert_eq!(examine(&path).on("version").unwrap().severity, Severity::Fine);

    let empty = folder.path().join("empty.db");
    fs::write(&empty, b"").unwrap();
    check_refused(&empty, |error| matches!(error, StoreError::Empty { .. }));
    let names: Vec<_> = fs::read_dir(path.parent().unwrap()).unwrap().collect();
    assert_eq!(names.len(), 1, "what it was begun under has gone: {names:?}");
}

#[test]
fn other_files_are_refused_and_left_alone() {
    let (folder, path) = in_folder("log.csv");
    fs::write(&path, "lifter,date\nAnna Birk,2031-05-04\n").unwrap();
    check_refused(&path, |error| matches!(error, StoreError::NotAStore { .. }));
    check_refused(
        folder.path(),
        |error| matches!(error, StoreError::NotAStore { found, .. } if found == "a folder"),
    );
    for (idx, mark) in
        ["", "PRAGMA user_version = 1", "PRAGMA application_id = 7"].iter().enumerate()
    {
        let path = folder.path().join(format!("{idx}.db"));
        let other = rusqlite::Connection::open(&path).unwrap();
        other.execute_batch(&format!("CREATE TABLE t (a); {mark}")).unwrap();
        drop(other);
        check_refused(&path, |error| matches!(error, StoreError::NotAStore { .. }));
    }
}

#[test]
fn a_newer_file_is_refused_and_left_alone() {
    let (_folder, path) = in_folder("record.db");
    drop(store_with_sets(&path, 10));
    let newer = rusqlite::Connection::open(&path).unwrap();
    newer.execute_batch("PRAGMA user_version = 99; PRAGMA wal_checkpoint(TRUNCATE)").unwrap();
    drop(newer);
    check_refused(&path, |error| matches!(error, StoreError::NewerVersion { found: 99, .. }));
}

#[test]
fn damage_is_noticed() {
    let (folder, path) = in_folder("record.db");
    drop(store_with_sets(&path, 5_000));
    let whole = fs::read(&path).unwrap();

    let short = folder.path().join("short.db");
    fs::write(&short, &whole[..60]).unwrap();
    check_refused(&short, |error| matches!(error, StoreError::Corrupt { .. }));

    // Half of the file gone: SQLite sees it by the page count when it looks further.
    let half = folder.path().join("half.db");
    fs::write(&half, &whole[..whole.len() / 2 / 4096 * 4096]).unwrap();
    assert_eq!(examine(&half).worst(), Severity::ActNow);
    let error = Store::open_existing(&half)
        .and_then(|store| store.sets_of(&name("invented lifter 0")))
        .unwrap_err();
    assert!(matches!(error, StoreError::Corrupt { .. }), "{error:?}");

    // A stretch of noughts in the middle.
    let mut holed = whole.clone();
    let middle = whole.len() / 2 / 4096 * 4096;
    holed[middle..middle + 8 * 4096].fill(0);
    let path = folder.path().join("holed.db");
    fs::write(&path, holed).unwrap();
    let findings = examine(&path);
    assert_eq!(findings.worst(), Severity::ActNow, "{findings:#?}");
}

#[test]
fn a_store_opened_for_reading_is_not_written() {
    let (_folder, path) = in_folder("record.db");
    drop(store_with_sets(&path, 10));
    let before = fs::read(&path).unwrap();
    let store = Store::open_read_only(&path).unwrap();
    assert_eq!(store.sets_of(&name("invented lifter 0")).unwrap().len(), 10);
    let error = store.put_lifter(&lifter("Anna Birk"), at(1)).unwrap_err();
    assert!(matches!(error, StoreError::ReadOnly { .. }), "{error}");
    drop(store);
    assert_eq!(fs::read(&path).unwrap(), before);
}

/// As root, rights of files bind nobody, so a disk is mounted for reading only; otherwise the rights
/// of folder and file are taken away.
#[cfg(target_os = "linux")]
#[test]
fn a_disk_where_nothing_can_be_written() {
    use std::os::unix::fs::PermissionsExt;
    let folder = tempfile::tempdir().unwrap();
    let disk = support::SmallDisk::mount(folder.path(), "4m");
    let path = folder.path().join("record.db");
    drop(store_with_sets(&path, 10));
    let rights = |file: u32, folder_rights: u32| {
        fs::set_permissions(&path, fs::Permissions::from_mode(file)).unwrap();
        fs::set_permissions(folder.path(), fs::Permissions::from_mode(folder_rights)).unwrap();
    };
    match &disk {
        Some(disk) => disk.allow_reading_only(),
        None => rights(0o444, 0o555),
    }
    let error = Store::open(&path).map(|_| ()).unwrap_err();
    assert!(matches!(error, StoreError::ReadOnly { .. }), "{error:?}");
    let inside = path.with_file_name("new/record.db");
    let error = Store::open(&inside).map(|_| ()).unwrap_err();
    assert!(matches!(error, StoreError::ReadOnly { .. }), "{error:?}");
    let store = Store::open_read_only(&path).unwrap();
    assert_eq!(store.sets_of(&name("invented lifter 0")).unwrap().len(), 10);
    let findings = store.doctor();
    assert_eq!(findings.on("rights").unwrap().severity, Severity::LookAtThis, "{findings:#?}");
    drop(store);
    if disk.is_none() {
        rights(0o644, 0o755);
    }
}

/// Two processes: the second writer waits and then says why; readers go on.
#[test]
fn a_second_writer_waits_and_a_reader_does_not() {
    if let Some(path) = std::env::var_os(CHILD) {
        let settings = Settings { busy_timeout: Duration::from_millis(300), ..Settings::default() };
        let store = Store::open_with(Path::new(&path), settings).unwrap();
        assert_eq!(store.lifters().unwrap()[0].n_sets, 10, "a reader isn't blocked");
        let lock = store.doctor().on("write lock").cloned().unwrap();
        assert_eq!(lock.words, "another program is writing at this moment");
        let begun = Instant::now();
        let error = store.put_lifter(&lifter("Anna Birk"), at(1)).unwrap_err();
        assert!(matches!(error, StoreError::Locked { .. }), "{error}");
        assert!(begun.elapsed() >= Duration::from_millis(250), "it gave up without waiting");
        return;
    }
    let (_folder, path) = in_folder("record.db");
    let store = store_with_sets(&path, 10);
    let mut import = store.begin_import("a long log", at(2)).unwrap();
    import.add_set(&nth_set(10), OnDifference::Keep).unwrap();
    let child = Command::new(std::env::current_exe().unwrap())
        .args(["--exact", "a_second_writer_waits_and_a_reader_does_not"])
        .env(CHILD, &path)
        .stdout(Stdio::piped())
        .output()
        .unwrap();
    assert!(child.status.success(), "{}", String::from_utf8_lossy(&child.stdout));
    let lock = store.doctor().on("write lock").cloned().unwrap();
    assert_eq!(lock.words, "this program is writing at this moment");
    import.commit().unwrap();
    assert_eq!(store.lifters().unwrap()[0].n_sets, 11);
    assert_eq!(store.doctor().on("write lock").unwrap().severity, Severity::Fine);
}

/// Many open the same new file at once: each gets a store, and one of them made it.
#[test]
fn a_new_file_opened_by_many_at_once_is_made_once() {
    let (_folder, path) = in_folder("record.db");
    std::thread::scope(|scope| {
        let threads: Vec<_> = (0..8)
            .map(|idx| {
                let path = &path;
                scope.spawn(move || {
                    let store = Store::open(path).unwrap();
                    store.put_lifter(&lifter(&format!("invented lifter {idx}")), at(idx)).unwrap();
                })
            })
            .collect();
        threads.into_iter().for_each(|thread| thread.join().unwrap());
    });
    assert_eq!(Store::open(&path).unwrap().lifters().unwrap().len(), 8);
}
