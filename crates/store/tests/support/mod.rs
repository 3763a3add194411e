//! Invented people and sets for the store's tests, a dump of a whole file for comparison, and a process that is
//! killed while it writes.

use std::path::Path;

use domain::{
    CheckIn, LiftName, Lifter, LifterName, Load, LoggedSet, Note, Reps, SetKind, SetNumber, Unit,
    When,
};
use jiff::Timestamp;
use store::{Fact, Store, StoreError};

/// A fixed moment, `minute` minutes on.
pub(crate) fn at(minute: i64) -> Timestamp {
    Timestamp::from_second(1_940_000_000 + 60 * minute).unwrap()
}

pub(crate) fn name(text: &str) -> LifterName {
    LifterName::new(text).unwrap()
}

pub(crate) fn lifter(text: &str) -> Lifter {
    Lifter::usual(name(text), Unit::Kg)
}

pub(crate) fn set(who: &str, when: &str, lift: &str, number: u8, kg: f64, reps: u16) -> LoggedSet {
    LoggedSet {
        lifter: name(who),
        when: When::parse(when).unwrap(),
        lift: LiftName::new(lift).unwrap(),
        number: SetNumber::new(number).unwrap(),
        kind: SetKind::Work,
        load: Load::from_kg(kg).unwrap(),
        reps: Reps::new(reps).unwrap(),
        rir: None,
        note: Note::default(),
    }
}

pub(crate) fn check_in(who: &str, when: &str, sleep_h: f64) -> CheckIn {
    CheckIn {
        lifter: name(who),
        when: When::parse(when).unwrap(),
        sleep_h: Some(sleep_h),
        stress: None,
        soreness: None,
        body_mass: None,
        pain: None,
    }
}

/// The `idx`-th of many different sets of a few lifters; the same on every call.
pub(crate) fn nth_set(idx: u32) -> LoggedSet {
    const LIFTS: [&str; 5] = ["squat", "bench press", "deadlift", "chin-up", "overhead press"];
    let day = jiff::civil::date(2020, 1, 1) + jiff::Span::new().days(i64::from(idx / 20 % 3_000));
    let who = format!("invented lifter {}", idx / 60_000);
    let lift = LIFTS[idx as usize / 4 % 5];
    let number = (idx % 4 + 1) as u8;
    set(
        &who,
        &day.to_string(),
        lift,
        number,
        60.0 + f64::from(idx % 40) * 2.5,
        3 + (idx % 8) as u16,
    )
}

/// Every row of every table, one line each; two files with the same dump hold the same record. The mark is left out,
/// which every commit draws anew.
pub(crate) fn dump(path: &Path) -> Vec<String> {
    let connection = rusqlite::Connection::open(path).unwrap();
    let tables: Vec<String> = connection
        .prepare("SELECT name FROM sqlite_schema WHERE type = 'table' ORDER BY name")
        .unwrap()
        .query_map([], |row| row.get(0))
        .unwrap()
        .collect::<Result<_, _>>()
        .unwrap();
    let mut lines = Vec::new();
    for table in tables {
        let columns = if table == "record_mark" { "n_facts, digest" } else { "*" };
        let mut statement = connection.prepare(&format!("SELECT {columns} FROM {table}")).unwrap();
        let n_columns = statement.column_count();
        let mut rows = statement.query([]).unwrap();
        while let Some(row) = rows.next().unwrap() {
            let cells: Vec<String> = (0..n_columns)
                .map(|idx| format!("{:?}", row.get::<_, rusqlite::types::Value>(idx).unwrap()))
                .collect();
            lines.push(format!("{table}: {}", cells.join(" | ")));
        }
    }
    lines.sort();
    lines
}

/// Takes every fact of the store in `record.db` of a folder and restores them, twice, in another: both hold the same.
pub(crate) fn assert_there_and_back(folder: &tempfile::TempDir, store: Store) {
    let mut facts: Vec<Fact> = Vec::new();
    let taken = store.for_each_fact::<StoreError>(|fact| {
        facts.push(fact);
        Ok(())
    });
    taken.unwrap();
    let other = tempfile::tempdir().unwrap();
    let restored = Store::open(&other.path().join("record.db")).unwrap();
    for _ in 0..2 {
        let mut import = restored.begin_import("there and back", Timestamp::UNIX_EPOCH).unwrap();
        for fact in &facts {
            import.restore_fact(fact).unwrap();
        }
        import.commit().unwrap();
    }
    drop((store, restored));
    assert_eq!(dump(&folder.path().join("record.db")), dump(&other.path().join("record.db")));
}

/// Killing a process in the middle of its work, with SIGKILL.
#[cfg(unix)]
pub(crate) mod killed {
    use std::io::{BufRead, BufReader, Write};
    use std::path::{Path, PathBuf};
    use std::process::{Command, Stdio};
    use std::time::Duration;

    /// Tells the child what to do: a test runs itself with this variable set.
    const CHILD: &str = "STORE_TEST_CHILD";

    /// The file on which this process is to work until it is killed; none if it is the parent.
    pub(crate) fn child_works_on() -> Option<PathBuf> {
        std::env::var_os(CHILD).map(PathBuf::from)
    }

    /// Says that the work numbered so is done.
    pub(crate) fn confirm(number: u64) {
        let mut out = std::io::stdout().lock();
        writeln!(out, "confirmed {number}").unwrap();
        out.flush().unwrap();
    }

    /// Runs a test as a child that works on a file, and kills it after so many milliseconds; the numbers that it had
    /// confirmed by then.
    pub(crate) fn after(test: &str, path: &Path, delay: u64) -> Vec<u64> {
        let mut child = Command::new(std::env::current_exe().unwrap())
            .args(["--exact", test, "--nocapture"])
            .env(CHILD, path)
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let out = child.stdout.take().unwrap();
        std::thread::sleep(Duration::from_millis(delay));
        child.kill().unwrap(); // SIGKILL
        child.wait().unwrap();
        let lines = BufReader::new(out).lines().map_while(Result::ok);
        lines.filter_map(|line| line.split_once("confirmed ")?.1.trim().parse().ok()).collect()
    }
}

/// A disk in memory; unmounted when it is dropped.
#[cfg(target_os = "linux")]
pub(crate) struct SmallDisk(std::path::PathBuf);

#[cfg(target_os = "linux")]
impl SmallDisk {
    /// Mounts a disk of `size` on a folder; `None` where that isn't allowed.
    pub(crate) fn mount(folder: &Path, size: &str) -> Option<SmallDisk> {
        let size = format!("size={size}");
        run("mount", &["-t", "tmpfs", "-o", &size, "tmpfs"], folder)
            .then(|| SmallDisk(folder.to_owned()))
    }

    /// Lets nobody write to it any more, root included.
    pub(crate) fn allow_reading_only(&self) {
        assert!(run("mount", &["-o", "remount,ro"], &self.0));
    }

    pub(crate) fn path(&self) -> &Path {
        &self.0
    }
}

#[cfg(target_os = "linux")]
impl Drop for SmallDisk {
    fn drop(&mut self) {
        run("umount", &["-l"], &self.0);
    }
}

#[cfg(target_os = "linux")]
fn run(program: &str, arguments: &[&str], folder: &Path) -> bool {
    let mut command = std::process::Command::new(program);
    command.args(arguments).arg(folder).stderr(std::process::Stdio::null());
    command.status().is_ok_and(|status| status.success())
}
