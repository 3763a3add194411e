//! Putting a copy in the place of a store: read to its last fact first, refused while anybody has the store open, and
//! nothing lost of what lay there.

#[expect(dead_code, reason = "each test file uses a part of it")]
mod support;

use std::fs;
use std::ops::ControlFlow::{self, Continue};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use store::{
    BackupError, Before, Mode, OnDifference, Over, Put, PutInPlace, Store, StoreError, put_in_place,
};
use support::{at, check_in, dump, lifter, nth_set};

const CHILD: &str = "STORE_TEST_CHILD";
const MARK: &str = "replaced-2031-05-04-182005";

/// A folder with a store, a copy of it, and what was recorded since.
struct Gym {
    folder: tempfile::TempDir,
}

impl Gym {
    /// Both closed.
    fn new() -> Gym {
        let gym = Gym { folder: tempfile::tempdir().unwrap() };
        let store = Store::open(&gym.store()).unwrap();
        add_sets(&store, 0, 2_000);
        store.back_up(&gym.copy(), Over::Nothing, at(9), &mut |_, _| Continue(())).unwrap();
        add_sets(&store, 2_000, 2_003);
        let mut import = store.begin_import("the floor", at(8)).unwrap();
        import.add_lifter_if_missing(&lifter("Bo Ek")).unwrap();
        import.add_check_in(&check_in("Bo Ek", "2031-05-04", 7.0), OnDifference::Keep).unwrap();
        import.commit().unwrap();
        gym
    }

    fn store(&self) -> PathBuf {
        self.folder.path().join("record.db")
    }

    fn copy(&self) -> PathBuf {
        self.folder.path().join("copy.db")
    }

    fn restore(&self) -> Result<PutInPlace, BackupError> {
        restore(&self.copy(), &self.store(), Mode::Do)
    }

    fn names(&self) -> Vec<String> {
        let names = fs::read_dir(self.folder.path()).unwrap();
        let mut names: Vec<_> =
            names.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
        names.sort();
        names
    }

    /// Everything in the folder, to the byte.
    fn bytes(&self) -> Vec<(String, Vec<u8>)> {
        let read = |name: String| {
            let bytes = fs::read(self.folder.path().join(&name)).unwrap();
            (name, bytes)
        };
        self.names().into_iter().map(read).collect()
    }
}

fn restore(file: &Path, store: &Path, mode: Mode) -> Result<PutInPlace, BackupError> {
    put_in_place(file, store, Put { mark: MARK, mode, now: at(9) }, &mut |_, _| Continue(()))
}

fn add_sets(store: &Store, from: u32, upto: u32) {
    let mut import = store.begin_import("a log", at(i64::from(from))).unwrap();
    for set in (from..upto).map(nth_set) {
        import.add_lifter_if_missing(&lifter(set.lifter.as_str())).unwrap();
        import.add_set(&set, OnDifference::Keep).unwrap();
    }
    import.commit().unwrap();
}

fn n_facts(path: &Path) -> u64 {
    Store::open_read_only(path).unwrap().n_facts().unwrap()
}

#[test]
fn the_old_store_is_kept_and_what_only_it_holds_is_told() {
    let gym = Gym::new();
    let (old, copy) = (dump(&gym.store()), fs::read(gym.copy()).unwrap());
    let put = gym.restore().unwrap();
    assert_eq!((put.now.facts, put.now.lifters, put.older_version), (2_001, 1, None));
    let Before::Store(before, difference) = &put.before else { panic!("{:?}", put.before) };
    assert_eq!((before.facts, before.lifters), (2_006, 2));
    assert_eq!(before.newest_day.unwrap().to_string(), "2031-05-04");
    let told: Vec<_> = difference
        .lifters
        .iter()
        .map(|l| (l.name.as_str(), l.sets, l.check_ins, l.messages, l.others))
        .collect();
    assert_eq!(told, [("Bo Ek", 0, 1, 0, 1), ("invented lifter 0", 3, 0, 0, 0)]);
    let days = difference.lifters[0].days.unwrap();
    assert_eq!(
        (days.0.to_string(), days.1.to_string()),
        ("2031-05-04".into(), "2031-05-04".into())
    );
    assert_eq!((difference.lift_files, difference.only_in_new), (0, 0));
    let aside = put.aside.unwrap();
    assert!(aside.ends_with(format!("record.db.{MARK}")), "{aside:?}");
    assert_eq!(dump(&aside), old);
    assert_eq!(dump(&gym.store()), dump(&gym.copy()));
    assert_eq!(fs::read(gym.copy()).unwrap(), copy, "the copy itself is left alone");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        let mode = fs::metadata(gym.store()).unwrap().permissions().mode();
        assert_eq!(mode & 0o777, 0o600);
    }
    // Back to the old one, by the same way; the second name doesn't write over the first.
    let back = restore(&aside, &gym.store(), Mode::Do).unwrap();
    assert_eq!(dump(&gym.store()), old);
    let Before::Store(_, difference) = &back.before else { panic!("{:?}", back.before) };
    assert!(difference.is_nothing() && difference.only_in_new == 5, "{difference:?}");
    assert!(back.aside.unwrap().ends_with(format!("record.db.{MARK}-2")));
}

#[test]
fn a_dry_run_tells_the_same_and_changes_nothing() {
    let gym = Gym::new();
    let before = gym.bytes();
    let told = restore(&gym.copy(), &gym.store(), Mode::OnlyLook).unwrap();
    assert_eq!(gym.bytes(), before);
    let done = gym.restore().unwrap();
    assert_eq!(told, PutInPlace { aside: None, ..done });
}

#[test]
fn a_missing_store_and_a_missing_folder_are_made() {
    let gym = Gym::new();
    fs::remove_file(gym.store()).unwrap();
    for suffix in ["-wal", "-shm"] {
        fs::remove_file(gym.store().with_file_name(format!("record.db{suffix}"))).ok();
    }
    let put = gym.restore().unwrap();
    assert_eq!((put.before, put.aside), (Before::Nothing, None));
    assert_eq!(gym.names(), ["copy.db", "record.db"]);
    let elsewhere = gym.folder.path().join("new/folder/record.db");
    restore(&gym.copy(), &elsewhere, Mode::Do).unwrap();
    assert_eq!(dump(&elsewhere), dump(&gym.copy()));
}

/// The log of an older store that lies in the place of the new one would be taken for its own.
#[test]
fn a_left_over_log_goes_aside_with_its_store_or_alone() {
    for with_store in [true, false] {
        let gym = Gym::new();
        let kept = Store::open(&gym.store()).unwrap();
        add_sets(&kept, 2_003, 2_010);
        let left: Vec<(String, Vec<u8>)> =
            gym.bytes().into_iter().filter(|(name, _)| name.starts_with("record.db")).collect();
        assert!(left.iter().any(|(name, log)| name == "record.db-wal" && !log.is_empty()));
        drop(kept);
        for name in gym.names().iter().filter(|name| name.starts_with("record.db")) {
            fs::remove_file(gym.folder.path().join(name)).unwrap();
        }
        // As a killed program leaves them.
        for (name, bytes) in left.iter().filter(|(name, _)| with_store || name != "record.db") {
            fs::write(gym.folder.path().join(name), bytes).unwrap();
        }
        let put = gym.restore().unwrap();
        assert_eq!(dump(&gym.store()), dump(&gym.copy()), "with the store: {with_store}");
        let aside = put.aside.unwrap();
        let log = gym.folder.path().join(format!("record.db.{MARK}-wal"));
        assert_eq!(
            fs::read(log).unwrap(),
            left.iter().find(|(n, _)| n == "record.db-wal").unwrap().1
        );
        match put.before {
            Before::Store(contents, difference) if with_store => {
                assert_eq!(contents.facts, 2_013);
                assert_eq!(difference.lifters[1].sets, 10, "those in the log count");
                assert_eq!(n_facts(&aside), 2_013);
            }
            Before::Nothing if !with_store => {}
            other => panic!("{other:?}"),
        }
    }
}

#[test]
fn a_damaged_store_makes_way_and_is_kept_as_it_is() {
    for damage in ["no store at all, but a text of some length", "", "pages"] {
        let gym = Gym::new();
        if damage == "pages" {
            let mut bytes = fs::read(gym.store()).unwrap();
            let middle = bytes.len() / 2 / 4096 * 4096;
            bytes[middle..].fill(0x55);
            fs::write(gym.store(), bytes).unwrap();
        } else {
            fs::write(gym.store(), damage).unwrap();
        }
        fs::remove_file(gym.store().with_file_name("record.db-wal")).ok();
        fs::remove_file(gym.store().with_file_name("record.db-shm")).ok();
        let damaged = fs::read(gym.store()).unwrap();
        let put = gym.restore().unwrap();
        assert!(matches!(&put.before, Before::NotReadable(_)), "{damage}: {:?}", put.before);
        assert_eq!(fs::read(put.aside.unwrap()).unwrap(), damaged);
        assert_eq!(dump(&gym.store()), dump(&gym.copy()));
    }
}

/// A store of version 1, as the first migration makes it, with one lifter.
fn old_version(path: &Path) {
    let old = rusqlite::Connection::open(path).unwrap();
    old.execute_batch(include_str!("../migrations/0001_record.sql")).unwrap();
    old.execute_batch(
        "PRAGMA user_version = 1; PRAGMA application_id = 0x42657772;
         INSERT INTO recording VALUES (1, 1000000, 'a log');
         INSERT INTO fact VALUES (1, 1, 'lifter', CAST('anna birk' AS BLOB), NULL, 1, NULL, 0, '');
         INSERT INTO lifter VALUES (1, 'anna birk');
         INSERT INTO lifter_settings VALUES (1, 1, 'Anna Birk', 'kg', 20000, 0, 5, 2.0, 1.0, 3.0);",
    )
    .unwrap();
}

#[test]
fn an_older_copy_is_brought_up_to_date_in_the_store_alone() {
    let gym = Gym::new();
    let old = gym.folder.path().join("old.db");
    old_version(&old);
    let bytes = fs::read(&old).unwrap();
    let put = restore(&old, &gym.store(), Mode::Do).unwrap();
    assert_eq!((put.older_version, put.now.facts), (Some(1), 1));
    assert_eq!(fs::read(&old).unwrap(), bytes);
    let store = Store::open_read_only(&gym.store()).unwrap();
    assert_eq!(store.lifter_names().unwrap()[0].as_str(), "Anna Birk");
    let Before::Store(_, difference) = put.before else { panic!("{:?}", put.before) };
    assert_eq!(difference.only_in_new, 1, "another record");
    // And an older store makes way and is compared all the same.
    let elsewhere = gym.folder.path().join("elsewhere.db");
    old_version(&elsewhere);
    let put = restore(&gym.copy(), &elsewhere, Mode::Do).unwrap();
    let Before::Store(before, difference) = put.before else { panic!("{:?}", put.before) };
    assert_eq!((before.facts, difference.lifters.len()), (1, 1));
    assert_eq!(fs::read(put.aside.unwrap()).unwrap(), bytes);
}

/// Whatever is wrong with the copy, the store stays as it is.
#[test]
fn what_is_no_whole_copy_is_refused() {
    let gym = Gym::new();
    let whole = fs::read(gym.copy()).unwrap();
    let before = gym.bytes();
    let check = |bytes: &[u8], is_right: &dyn Fn(&BackupError) -> bool| {
        fs::write(gym.copy(), bytes).unwrap();
        let error = gym.restore().unwrap_err();
        assert!(is_right(&error), "{error:?}");
        fs::write(gym.copy(), &whole).unwrap();
        assert_eq!(gym.bytes(), before);
    };
    let is_not_whole =
        |e: &BackupError| matches!(e, BackupError::NotWhole { path, .. } if *path == gym.copy());
    check(&whole[..whole.len() / 2 / 4096 * 4096], &is_not_whole);
    check(&whole[..60], &|e| matches!(e, BackupError::Store(StoreError::Corrupt { .. })));
    let mut holed = whole.clone();
    let middle = whole.len() / 2 / 4096 * 4096;
    holed[middle..middle + 4096].fill(0);
    check(&holed, &is_not_whole);
    // A single byte that SQLite doesn't mind, but a fact does: the kind of a set.
    let mut odd = whole.clone();
    let place = odd
        .windows(6)
        .rposition(|part| part == b"workkg")
        .or_else(|| odd.windows(4).rposition(|part| part == b"work"));
    odd[place.unwrap()] = b'q';
    check(&odd, &is_not_whole);
    let not_a_store =
        |e: &BackupError| matches!(e, BackupError::Store(StoreError::NotAStore { .. }));
    check(b"lifter,date\nAnna Birk,2031-05-04\n", &not_a_store);
    check(b"", &not_a_store);
    let newer = {
        let newer = rusqlite::Connection::open(gym.copy()).unwrap();
        newer.execute_batch("PRAGMA user_version = 99").unwrap();
        drop(newer);
        fs::read(gym.copy()).unwrap()
    };
    check(
        &newer,
        &|e| matches!(e, BackupError::Store(StoreError::NewerVersion { found: 99, path, .. }) if *path == gym.copy()),
    );
    let itself = restore(&gym.store(), &gym.store(), Mode::Do).unwrap_err();
    assert!(matches!(itself, BackupError::TheStore { .. }), "{itself}");
    let folder = restore(&gym.copy(), gym.folder.path(), Mode::Do).unwrap_err();
    assert!(not_a_store(&folder), "{folder}");
    let put = Put { mark: MARK, mode: Mode::Do, now: at(9) };
    let ended = put_in_place(&gym.copy(), &gym.store(), put, &mut |_, _| ControlFlow::Break(()));
    assert!(matches!(ended, Err(BackupError::Ended)), "{ended:?}");
    assert_eq!(gym.bytes(), before);
}

/// A process that has the store open and only waits keeps it, and so does one that has only read.
#[test]
fn a_store_that_somebody_has_open_is_refused() {
    if let Some(work) = std::env::var_os(CHILD) {
        let work = work.into_string().unwrap();
        let (how, path) = work.split_once(':').unwrap();
        let open = if how == "read" { Store::open_read_only } else { Store::open };
        let store = open(Path::new(path)).unwrap();
        println!("{} facts, waiting", store.n_facts().unwrap());
        std::io::stdin().read_line(&mut String::new()).unwrap();
        return;
    }
    let gym = Gym::new();
    let (store, copy) = (gym.store(), gym.copy());
    // A store that a program has had open before, as it usually is.
    let in_wal = Store::open(&copy).unwrap();
    in_wal.put_lifter(&lifter("Cy Or"), at(9)).unwrap();
    drop(in_wal);
    for (how, open) in [("write", &store), ("read", &store), ("write", &copy), ("read", &copy)] {
        let mut child = Command::new(std::env::current_exe().unwrap())
            .args(["--exact", "a_store_that_somebody_has_open_is_refused", "--nocapture"])
            .env(CHILD, format!("{how}:{}", open.display()))
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let mut out = std::io::BufReader::new(child.stdout.take().unwrap());
        let mut line = String::new();
        while !line.contains("waiting") {
            line.clear();
            assert!(std::io::BufRead::read_line(&mut out, &mut line).unwrap() > 0);
        }
        for mode in [Mode::Do, Mode::OnlyLook] {
            let error = restore(&copy, &store, mode).unwrap_err();
            assert!(
                matches!(&error, BackupError::InUse { path } if path == open),
                "{how} {open:?}: {error}"
            );
        }
        drop(child.stdin.take());
        child.wait().unwrap();
    }
    gym.restore().unwrap();
}
