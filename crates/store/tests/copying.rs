//! A copy of the whole store as one file, made while others write, compared fact by fact, and nothing left behind where
//! none could be made.

#[expect(dead_code, reason = "each test file uses a part of it")]
mod support;

use std::cell::Cell;
use std::fs;
use std::ops::ControlFlow::{Break, Continue};
use std::path::{Path, PathBuf};

use jiff::Timestamp;
use store::{
    BackedUp, BackupError, Fact, OnDifference, Over, Store, StoreError, examine, origin_of,
};
use support::{at, check_in, lifter, nth_set};

const N_SETS: u32 = 5_000;

struct Gym {
    folder: tempfile::TempDir,
    store: Store,
}

impl Gym {
    fn new() -> Gym {
        let folder = tempfile::tempdir().unwrap();
        let store = Store::open(&folder.path().join("record.db")).unwrap();
        let mut import = store.begin_import("a log", at(1)).unwrap();
        for set in (0..N_SETS).map(nth_set) {
            import.add_lifter_if_missing(&lifter(set.lifter.as_str())).unwrap();
            import.add_set(&set, OnDifference::Keep).unwrap();
        }
        let visit = check_in("invented lifter 0", "2031-05-04", 7.5);
        import.add_check_in(&visit, OnDifference::Keep).unwrap();
        import.commit().unwrap();
        Gym { folder, store }
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn back_up(&self, name: &str, over: Over) -> Result<BackedUp, BackupError> {
        self.store.back_up(&self.path(name), over, at(9), &mut |_, _| Continue(()))
    }

    /// What lies in the folder beside the store and its log.
    fn names(&self) -> Vec<String> {
        names_in(self.folder.path())
    }
}

fn names_in(folder: &Path) -> Vec<String> {
    let names =
        fs::read_dir(folder).unwrap().map(|e| e.unwrap().file_name().into_string().unwrap());
    let mut names: Vec<_> = names.filter(|name| !name.starts_with("record.db")).collect();
    names.sort();
    names
}

fn facts_of(store: &Store) -> Vec<Fact> {
    let mut facts = Vec::new();
    let take = |fact| {
        facts.push(fact);
        Ok::<(), StoreError>(())
    };
    store.for_each_fact(take).unwrap();
    facts
}

#[test]
fn a_copy_holds_every_fact_in_one_file_and_says_what_it_holds() {
    let gym = Gym::new();
    let made = gym.back_up("copy.db", Over::Nothing).unwrap();
    assert_eq!(made.contents.facts, u64::from(N_SETS) + 2);
    assert_eq!(made.contents.lifters, 1);
    assert_eq!(made.contents.newest_day.unwrap().to_string(), "2031-05-04");
    assert_eq!(made.contents.last_recorded, Some(at(1)));
    assert_eq!(made.bytes, fs::metadata(gym.path("copy.db")).unwrap().len());
    assert_eq!(gym.names(), ["copy.db"]);
    // Written without a log (SQLite, "Database File Format", section 1.3, from memory: 1 for a journal, 2 for a log).
    assert_eq!(fs::read(gym.path("copy.db")).unwrap()[18..20], [1, 1]);
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        let mode = fs::metadata(gym.path("copy.db")).unwrap().permissions().mode();
        assert_eq!(mode & 0o777, 0o600);
    }
    let copy = Store::open_read_only(&gym.path("copy.db")).unwrap();
    assert_eq!(facts_of(&copy), facts_of(&gym.store));
    assert_eq!(origin_of(&gym.path("copy.db")).unwrap(), gym.store.origin().unwrap());
    drop(copy);
    assert_eq!(gym.names(), ["copy.db"], "reading it leaves nothing beside it");
}

/// What is written meanwhile is taken at once, and isn't in the copy.
#[test]
fn others_write_while_a_copy_is_made() {
    let gym = Gym::new();
    let before = facts_of(&gym.store);
    let n_written = Cell::new(0);
    let place = gym.path("copy.db");
    let made = gym.store.back_up(&place, Over::Nothing, at(9), &mut |_, _| {
        let n = n_written.get();
        gym.store.put_lifter(&lifter(&format!("late lifter {n}")), at(5 + n)).unwrap();
        n_written.set(n + 1);
        Continue(())
    });
    assert!(n_written.get() > 5, "it looked on while copying and while comparing");
    assert_eq!(made.unwrap().contents.facts, before.len() as u64);
    assert_eq!(facts_of(&Store::open_read_only(&place).unwrap()), before);
    assert_eq!(gym.store.n_facts().unwrap() as i64, before.len() as i64 + n_written.get());
}

#[test]
fn nothing_is_written_over_but_a_copy_on_request() {
    let gym = Gym::new();
    gym.back_up("copy.db", Over::Nothing).unwrap();
    let first = fs::read(gym.path("copy.db")).unwrap();
    gym.store.put_lifter(&lifter("Bo Ek"), at(2)).unwrap();
    let error = gym.back_up("copy.db", Over::Nothing).unwrap_err();
    assert!(matches!(error, BackupError::AlreadyThere { .. }), "{error}");
    assert_eq!(fs::read(gym.path("copy.db")).unwrap(), first);
    let made = gym.back_up("copy.db", Over::ACopy).unwrap();
    assert!(made.replaced && made.contents.lifters == 2);
    let made = gym.back_up("fresh.db", Over::ACopy).unwrap();
    assert!(!made.replaced);

    fs::write(gym.path("log.csv"), "lifter,date\n").unwrap();
    fs::create_dir(gym.path("folder")).unwrap();
    for name in ["log.csv", "folder"] {
        let error = gym.back_up(name, Over::ACopy).unwrap_err();
        assert!(matches!(error, BackupError::AnotherFile { .. }), "{error}");
    }
    assert_eq!(fs::read(gym.path("log.csv")).unwrap(), b"lifter,date\n");
    for name in ["record.db", "./record.db", "record.db-wal", "record.db-journal"] {
        for over in [Over::Nothing, Over::ACopy] {
            let error = gym.back_up(name, over).unwrap_err();
            assert!(matches!(error, BackupError::TheStore { .. }), "{name}: {error}");
        }
    }
    #[cfg(unix)]
    {
        std::os::unix::fs::symlink(gym.path("record.db"), gym.path("link.db")).unwrap();
        let error = gym.back_up("link.db", Over::ACopy).unwrap_err();
        assert!(matches!(error, BackupError::TheStore { .. }), "{error}");
        fs::remove_file(gym.path("link.db")).unwrap();
    }
    let error = gym.back_up("missing/copy.db", Over::Nothing).unwrap_err();
    assert!(matches!(error, BackupError::NoFolder { .. }), "{error}");
    assert_eq!(gym.names(), ["copy.db", "folder", "fresh.db", "log.csv"]);
    assert_eq!(gym.store.n_facts().unwrap(), u64::from(N_SETS) + 3);
}

/// A byte that goes wrong on the way to the disk is found when the copy is opened again.
#[test]
fn a_copy_that_says_something_else_is_taken_away() {
    let gym = Gym::new();
    let spoil = |path: &Path| {
        let mut bytes = fs::read(path).unwrap();
        // The month in one of the last sets, on a page that wasn't read yet.
        let kind = bytes.windows(4).rposition(|part| part == b"work").unwrap();
        let day = bytes[..kind].windows(5).rposition(|part| part == b"2020-").unwrap();
        bytes[day + 6] ^= 1;
        fs::write(path, bytes).unwrap();
    };
    let spoilt = Cell::new(false);
    let made = gym.store.back_up(&gym.path("copy.db"), Over::Nothing, at(9), &mut |done, whole| {
        if done >= whole / 2 && !spoilt.replace(true) {
            let name = gym.names().into_iter().find(|name| name.contains("unfinished"));
            spoil(&gym.path(&name.unwrap()));
        }
        Continue(())
    });
    let error = made.unwrap_err();
    assert!(
        matches!(&error, BackupError::Differs { found, .. } if found.starts_with("fact ")),
        "{error}"
    );
    assert_eq!(gym.names(), Vec::<String>::new());
}

#[test]
fn a_damaged_store_is_not_copied_and_is_named() {
    let Gym { folder, store } = Gym::new();
    store
        .back_up(&folder.path().join("good.db"), Over::Nothing, at(9), &mut |_, _| Continue(()))
        .unwrap();
    drop(store);
    let path = folder.path().join("record.db");
    let whole = rusqlite::Connection::open(&path).unwrap();
    whole.query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |_| Ok(())).unwrap();
    drop(whole);
    let mut bytes = fs::read(&path).unwrap();
    let middle = bytes.len() / 2 / 4096 * 4096;
    bytes[middle..middle + 4 * 4096].fill(0);
    fs::write(&path, bytes).unwrap();
    let store = Store::open_read_only(&path).unwrap();
    let place = folder.path().join("copy.db");
    let made = store.back_up(&place, Over::Nothing, at(9), &mut |_, _| Continue(()));
    let error = made.unwrap_err();
    assert!(
        matches!(&error, BackupError::Store(StoreError::Corrupt { path: named, .. }) if *named == path),
        "{error}"
    );
    assert_eq!(names_in(folder.path()), ["good.db"]);
}

#[test]
fn a_copy_that_is_ended_leaves_nothing_and_one_that_was_killed_is_cleared_away_later() {
    let gym = Gym::new();
    for share in [0, 1] {
        let made =
            gym.store.back_up(&gym.path("copy.db"), Over::Nothing, at(9), &mut |done, whole| {
                if done * 2 >= whole * share { Break(()) } else { Continue(()) }
            });
        assert!(matches!(made, Err(BackupError::Ended)));
        assert_eq!(gym.names(), Vec::<String>::new());
    }
    let left = ".copy.db.unfinished-12-0";
    fs::write(gym.path(left), "half").unwrap();
    let soon = Timestamp::now();
    let later = soon + jiff::SignedDuration::from_hours(25);
    let watch = &mut |_: u64, _: u64| Continue(());
    gym.store.back_up(&gym.path("1.db"), Over::Nothing, soon, watch).unwrap();
    assert_eq!(gym.names(), [left, "1.db"], "somebody may still be at it");
    gym.store.back_up(&gym.path("2.db"), Over::Nothing, later, watch).unwrap();
    assert_eq!(gym.names(), ["1.db", "2.db"]);
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_and_one_for_reading_only_are_told_and_left_as_they_were() {
    let gym = Gym::new();
    let folder = tempfile::tempdir().unwrap();
    let Some(disk) = support::SmallDisk::mount(folder.path(), "64k") else {
        eprintln!("not run: mounting a small disk needs the rights of root");
        return;
    };
    let place = disk.path().join("copy.db");
    let back_up = || gym.store.back_up(&place, Over::Nothing, at(9), &mut |_, _| Continue(()));
    let error = back_up().unwrap_err();
    assert!(matches!(&error, BackupError::DiskFull { path } if *path == place), "{error}");
    assert!(error.to_string().contains("free some space on that disk"), "{error}");
    assert_eq!(names_in(disk.path()), Vec::<String>::new());
    disk.allow_reading_only();
    let error = back_up().unwrap_err();
    assert!(matches!(&error, BackupError::ReadOnly { path } if *path == place), "{error}");
    assert!(error.to_string().contains("allow writing there"), "{error}");
}

/// A copy that was put away needs nothing: it is looked over where nothing can be written.
#[cfg(target_os = "linux")]
#[test]
fn a_copy_can_be_read_from_a_disk_for_reading_only() {
    let gym = Gym::new();
    let folder = tempfile::tempdir().unwrap();
    let Some(disk) = support::SmallDisk::mount(folder.path(), "8m") else {
        eprintln!("not run: mounting a small disk needs the rights of root");
        return;
    };
    let place = disk.path().join("copy.db");
    gym.store.back_up(&place, Over::Nothing, at(9), &mut |_, _| Continue(())).unwrap();
    disk.allow_reading_only();
    let copy = Store::open_read_only(&place).unwrap();
    assert_eq!(copy.n_facts().unwrap(), gym.store.n_facts().unwrap());
    assert_eq!(examine(&place).on("integrity").unwrap().words, "every page and index is whole");
}
