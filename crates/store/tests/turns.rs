//! Many threads on one store: writers take turns in the order in which they ask, readers are few and make nobody wait.

#[expect(dead_code, reason = "each test file uses a part of it")]
mod support;

use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::Duration;

use store::{Settings, Store, StoreError};
use support::{at, lifter};

fn opened(settings: Settings) -> (tempfile::TempDir, Store) {
    let folder = tempfile::tempdir().unwrap();
    let store = Store::open_with(&folder.path().join("record.db"), settings).unwrap();
    for number in 0..5 {
        store.put_lifter(&lifter(&format!("invented lifter {number}")), at(0)).unwrap();
    }
    (folder, store)
}

fn nap(ms: u64) {
    std::thread::sleep(Duration::from_millis(ms));
}

/// Whoever asked first writes first, and nobody is sent away by those of the same program who came before.
#[test]
fn writers_take_turns_in_their_order() {
    let settings = Settings { busy_timeout: Duration::from_millis(1), ..Settings::default() };
    let (_folder, store) = opened(settings);
    let done = Mutex::new(Vec::new());
    std::thread::scope(|scope| {
        let import = store.begin_import("a long log", at(1)).unwrap();
        for number in 0..12 {
            let (store, done) = (&store, &done);
            scope.spawn(move || {
                let import = store.begin_import("a phone", at(2)).unwrap();
                done.lock().unwrap().push(number);
                nap(5);
                drop(import);
            });
            nap(25); // each is in the queue before the next
        }
        drop(import);
    });
    assert_eq!(done.into_inner().unwrap(), (0..12).collect::<Vec<_>>());
}

/// One that gives up leaves the queue, and whoever is behind it is served.
#[test]
fn who_gives_up_is_in_nobodys_way() {
    let settings = Settings { turn_timeout: Duration::from_millis(150), ..Settings::default() };
    let (_folder, store) = opened(settings);
    let import = store.begin_import("a long log", at(1)).unwrap();
    std::thread::scope(|scope| {
        let first = scope.spawn(|| store.put_lifter(&lifter("Anna Birk"), at(2)));
        nap(100);
        let second = scope.spawn(|| store.put_lifter(&lifter("Bo Ek"), at(2)));
        assert!(matches!(first.join().unwrap(), Err(StoreError::Queue { .. })));
        drop(import);
        second.join().unwrap().unwrap();
    });
}

/// Reads with one connection each, at most so many at once; one within another waits for nobody.
#[test]
fn readers_are_few_and_wait_for_a_place() {
    let (_folder, store) = opened(Settings { max_readers: 2, ..Settings::default() });
    let (now, most) = (AtomicUsize::new(0), AtomicUsize::new(0));
    let read = || {
        let mut is_first = true;
        store
            .for_each_fact::<StoreError>(|_| {
                if std::mem::take(&mut is_first) {
                    most.fetch_max(1 + now.fetch_add(1, Ordering::SeqCst), Ordering::SeqCst);
                    nap(20);
                    assert_eq!(store.n_facts()?, 5);
                    now.fetch_sub(1, Ordering::SeqCst);
                }
                Ok(())
            })
            .unwrap();
    };
    std::thread::scope(|scope| {
        for _ in 0..10 {
            scope.spawn(read);
        }
    });
    assert_eq!(most.load(Ordering::SeqCst), 2);
}

/// While somebody always reads, one after the other, the log is folded in all the same and stays small; the readers
/// see one state of the record each.
#[test]
fn the_log_stays_small_while_others_read() {
    let (folder, store) = opened(Settings::default());
    let is_over = AtomicBool::new(false);
    let log = folder.path().join("record.db-wal");
    let mut largest = 0;
    std::thread::scope(|scope| {
        for idx in 0..3 {
            let (store, is_over) = (&store, &is_over);
            scope.spawn(move || {
                nap(4 * idx);
                while !is_over.load(Ordering::SeqCst) {
                    let mut n_facts = 0;
                    let read = store.for_each_fact::<StoreError>(|_| {
                        n_facts += 1;
                        nap(u64::from(n_facts == 1) * 12);
                        Ok(())
                    });
                    read.unwrap();
                    assert!(n_facts >= 5);
                }
            });
        }
        for number in 0..30_u8 {
            let text = format!("# {number}\n").repeat(250_000);
            let mut import = store.begin_import("lifts", at(3)).unwrap();
            import.add_lift_file(&text).unwrap();
            import.commit().unwrap();
            largest = largest.max(std::fs::metadata(&log).unwrap().len());
        }
        is_over.store(true, Ordering::SeqCst);
    });
    assert!(largest > 4 << 20, "the log was used: {largest}");
    assert!(largest < 24 << 20, "the log grew to {largest} bytes");
    assert_eq!(store.n_facts().unwrap(), 35);
}

/// Whoever is at work when the store is closed is broken off, and nothing of it stays.
#[test]
fn closing_breaks_off_whoever_is_still_at_work() {
    let (folder, store) = opened(Settings::default());
    let (store, is_begun) = (&store, &AtomicBool::new(false));
    std::thread::scope(|scope| {
        let import = scope.spawn(move || {
            let mut import = store.begin_import("a long log", at(1)).unwrap();
            is_begun.store(true, Ordering::SeqCst);
            // It ends with an error as soon as it is broken off, and gives its turn back.
            (0_u32..).find_map(|number| {
                import.put_lifter(&lifter(&format!("invented lifter {number} more"))).err()
            })
        });
        while !is_begun.load(Ordering::SeqCst) {
            nap(5);
        }
        let waiting = scope.spawn(move || store.put_lifter(&lifter("Anna Birk"), at(2)));
        nap(50);
        store.close().unwrap();
        assert!(import.join().unwrap().is_some());
        assert!(matches!(waiting.join().unwrap(), Err(StoreError::Closed { .. })));
    });
    let names: Vec<_> = std::fs::read_dir(folder.path()).unwrap().collect();
    assert_eq!(names.len(), 1, "{names:?}");
    assert_eq!(Store::open(&folder.path().join("record.db")).unwrap().n_facts().unwrap(), 5);
}
