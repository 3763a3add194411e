//! Bringing a file up to date: numbered migrations, which are never edited, and the copy that is made before one runs
//! over a record.
//!
//! A migration is a file of SQL, in which `row_checksum` can be called, and a step in Rust where SQL can't do it
//! ([`step_in_rust`]). All that a file needs run in one transaction, with references off; they are looked over before
//! it is committed.

use std::fs;
use std::path::{Path, PathBuf};

use rusqlite::{Connection, Transaction, TransactionBehavior};

use crate::StoreError;
use crate::error::Trouble;
use crate::log::renew_mark;
use crate::open::{
    APPLICATION_ID, Settings, beside, checked_version, copy_to, free_name, read_connection,
    settle_folder,
};
use crate::verify::record_digest;

/// The numbered migrations; the n-th brings a file to version n.
pub(crate) const MIGRATIONS: &[&str] = &[
    include_str!("../migrations/0001_record.sql"),
    include_str!("../migrations/0002_fits.sql"),
    include_str!("../migrations/0003_floor.sql"),
    include_str!("../migrations/0004_programme.sql"),
    include_str!("../migrations/0005_calendar.sql"),
    include_str!("../migrations/0006_plan_change.sql"),
    include_str!("../migrations/0007_checked.sql"),
];

/// The version from which facts carry checksums, and commits a mark.
pub(crate) const CHECKED: i64 = 7;

/// What a migration does besides its SQL.
fn step_in_rust(version: i64, at: &Connection) -> Result<(), Trouble> {
    if version == CHECKED {
        let (n_facts, digest) = record_digest(at)?;
        at.execute("UPDATE record_mark SET n_facts = ?1, digest = ?2", (n_facts, digest))?;
    }
    Ok(())
}

/// Brings the file to the newest version in one transaction, after copying it if it holds anything.
pub(crate) fn migrate(
    connection: &mut Connection,
    path: &Path,
    settings: Settings,
    migrations: &[&str],
) -> Result<(), Trouble> {
    // Not within a transaction: there this says nothing.
    connection.pragma_update(None, "foreign_keys", false)?;
    let migrated = in_one_transaction(connection, path, settings, migrations);
    connection.pragma_update(None, "foreign_keys", true)?;
    migrated?;
    // The log of a migration is as large as the record. A program that still reads keeps it; that does no harm.
    let _: i64 = connection.query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |row| row.get(0))?;
    Ok(())
}

fn in_one_transaction(
    connection: &mut Connection,
    path: &Path,
    settings: Settings,
    migrations: &[&str],
) -> Result<(), Trouble> {
    let known = migrations.len() as i64;
    let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    let found = checked_version(&transaction, path)?; // again: somebody may have migrated meanwhile
    if found > known {
        return Err(StoreError::NewerVersion { path: path.to_owned(), found, known }.into());
    }
    if (1..known).contains(&found) {
        back_up(path, settings, found)?;
    }
    for (idx, migration) in migrations.iter().enumerate().skip(found.max(0) as usize) {
        transaction.execute_batch(migration)?;
        step_in_rust(idx as i64 + 1, &transaction)?;
        transaction.pragma_update(None, "user_version", idx as i64 + 1)?;
    }
    transaction.pragma_update(None, "application_id", APPLICATION_ID)?;
    refuse_dangling(&transaction)?;
    if known >= CHECKED {
        renew_mark(&transaction)?;
    }
    transaction.commit()?;
    Ok(())
}

fn refuse_dangling(transaction: &Transaction<'_>) -> Result<(), Trouble> {
    let mut statement = transaction.prepare("PRAGMA foreign_key_check")?;
    let mut dangling =
        statement.query_map([], |row| Ok((row.get(0)?, row.get::<_, Option<i64>>(1)?)))?;
    let Some(first) = dangling.next() else { return Ok(()) };
    let (table, row): (String, _) = first?;
    Err(Trouble::BadRow {
        place: format!("table `{table}`, row {}", row.unwrap_or_default()),
        reason: "it refers to something that is missing".to_owned(),
    })
}

/// Copies the file to `<name>.version-<n>.backup` beside it, over an unfinished copy but never over
/// a finished one.
fn back_up(path: &Path, settings: Settings, version: i64) -> Result<PathBuf, Trouble> {
    let io = |path: &Path, reason| StoreError::Io { path: path.to_owned(), reason };
    let unfinished = beside(path, ".backup-unfinished");
    fs::remove_file(&unfinished)
        .or_else(|e| if e.kind() == std::io::ErrorKind::NotFound { Ok(()) } else { Err(e) })
        .map_err(|e| io(&unfinished, e))?;
    copy_to(&read_connection(path, settings)?, &unfinished)?;
    let finished = free_name(path, &format!(".version-{version}.backup"));
    fs::rename(&unfinished, &finished).map_err(|e| io(&finished, e))?;
    settle_folder(&finished);
    Ok(finished)
}

#[cfg(test)]
mod tests {
    use domain::{Lifter, LifterName, Unit};

    use super::*;
    use crate::open::version_of;
    use crate::{Severity, Store};

    const SECOND: &str = "ALTER TABLE lifter_settings ADD COLUMN nickname TEXT NOT NULL DEFAULT ''";

    /// Facts of every kind that a version has, as its program wrote them.
    const FACTS: [&str; 6] = [
        "INSERT INTO recording VALUES (1, 0, 'a log'), (2, 5, 'correction');
         INSERT INTO fact VALUES (1, 1, 'lifter', CAST('anna birk' AS BLOB), NULL, 1, NULL, 0, '');
         INSERT INTO lifter VALUES (1, 'anna birk');
         INSERT INTO lifter_settings VALUES (1, 1, 'Anna Birk', 'kg', 20000, 0, 4, 2.0, 1.0, 3.0);
         INSERT INTO lifter_plate VALUES (1, 20000, 4), (1, 1250, 2);
         INSERT INTO fact VALUES (2, 1, 'lift-file', x'01020000000000000000000000000000', NULL, 2, NULL, 0, '');
         INSERT INTO lift_file VALUES (2, 'a text');
         INSERT INTO lift_name VALUES (1, 'squat');
         INSERT INTO fact VALUES (3, 1, 'set', x'AA010000000000000000000000000000', NULL, 3, NULL, 0, '');
         INSERT INTO logged_set VALUES (3, 1, 1, '2031-05-04', '18:20:05', 1, 'work', 100000, 'kg', 5, 3, '');
         INSERT INTO fact VALUES (4, 2, 'set', x'AA010000000000000000000000000000', x'AA020000000000000000000000000000', 3, 3, 0, 'a wrong day');
         INSERT INTO logged_set VALUES (4, 1, 1, '2031-05-05', NULL, 1, 'work', 100000, 'kg', 5, NULL, 'note');
         INSERT INTO fact VALUES (5, 1, 'check-in', x'AA030000000000000000000000000000', NULL, 5, NULL, 0, '');
         INSERT INTO check_in VALUES (5, 1, '2031-05-04', NULL, 7.5, NULL, NULL, 81400, 'knee', 3);",
        "INSERT INTO pooled VALUES (1, 7, 3, 'converged');
         INSERT INTO pooled_number VALUES (1, 'a', 0.5), (1, 'b', -1.5);
         INSERT INTO pooled_in_force VALUES (1, 8, 1);
         INSERT INTO fit VALUES (1, 1, 10, 1, zeroblob(16), 5, 9, zeroblob(8), 'converged', -1.5, 0.0, 3, NULL, NULL);",
        "INSERT INTO fact VALUES (6, 1, 'phone', zeroblob(16), NULL, 6, NULL, 0, '');
         INSERT INTO phone_link (seq, lifter, token_hash) VALUES (6, 1, zeroblob(32));
         INSERT INTO fact VALUES (7, 2, 'phone', zeroblob(16), NULL, 6, 6, 1, 'lost');
         INSERT INTO phone_link (seq, lifter, token_hash) VALUES (7, 1, zeroblob(32));
         INSERT INTO fact VALUES (8, 2, 'floor', x'00000000000000000000000000000008', NULL, 8, NULL, 0, '');
         INSERT INTO floor_message VALUES (8, 1, zeroblob(16), '2031-05-04', 'note', '{}', 1, 2, 'refused', NULL, 'no such lift');",
        "INSERT INTO fact VALUES (9, 2, 'programme', CAST('anna birk' AS BLOB), NULL, 9, NULL, 0, '');
         INSERT INTO programme VALUES (9, 1, '2031-05-04', 'weeks');",
        "",
        "INSERT INTO fact VALUES (10, 2, 'plan-change', x'00000000000000000000000000000010', NULL, 10, NULL, 0, '');
         INSERT INTO plan_change VALUES (10, 1, '2031-05-04', '2031-05-08', 'light');",
    ];

    fn anna() -> Lifter {
        Lifter::usual(LifterName::new("Anna Birk").unwrap(), Unit::Kg)
    }

    /// A store of an earlier version with every kind of fact that it has.
    fn old_store(version: usize) -> (tempfile::TempDir, PathBuf) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("record.db");
        let connection = Connection::open(&path).unwrap();
        for migration in &MIGRATIONS[..version] {
            connection.execute_batch(migration).unwrap();
        }
        let marks = format!(
            "PRAGMA application_id = {APPLICATION_ID}; PRAGMA user_version = {version}; \
             PRAGMA journal_mode = WAL"
        );
        connection.execute_batch(&marks).unwrap();
        // A later version's text of the first facts: its tables have a column more.
        connection.execute_batch(&FACTS[..version].concat()).unwrap();
        (folder, path)
    }

    fn open_as(path: &Path, migrations: &[&str]) -> Result<Store, StoreError> {
        Store::open_migrated(path, Settings::default(), migrations)
    }

    fn names_in(folder: &Path) -> Vec<String> {
        let mut names: Vec<_> = fs::read_dir(folder)
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .filter(|name| !name.ends_with("-wal") && !name.ends_with("-shm"))
            .collect();
        names.sort();
        names
    }

    #[test]
    fn an_older_file_is_copied_and_then_brought_up_to_date() {
        let (folder, path) = old_store(1);
        let store = open_as(&path, &[MIGRATIONS[0], SECOND]).unwrap();
        assert!(store.lifter(&anna().name).unwrap().is_some());
        assert_eq!(store.reading(version_of).unwrap(), 2);
        assert_eq!(names_in(folder.path()), ["record.db", "record.db.version-1.backup"]);
        drop(store);
        drop(open_as(&path, &[MIGRATIONS[0], SECOND]).unwrap());
        assert_eq!(names_in(folder.path()).len(), 2, "opening once more copies nothing");
        let backup = beside(&path, ".version-1.backup");
        let backup = open_as(&backup, &MIGRATIONS[..1]).unwrap();
        assert!(backup.lifter(&anna().name).unwrap().is_some());
        assert!(matches!(
            open_as(&path, &MIGRATIONS[..1]).unwrap_err(),
            StoreError::NewerVersion { found: 2, known: 1, .. }
        ));
    }

    /// The migrations that there are, over a record of each earlier version, with facts of every kind.
    #[test]
    fn a_store_of_each_version_gets_every_table_and_keeps_its_record() {
        let fresh = tempfile::tempdir().unwrap();
        let fresh = Store::open(&fresh.path().join("fresh.db")).unwrap();
        let tables = |store: &Store| -> Vec<String> {
            let query = "SELECT coalesce(sql, name) FROM sqlite_schema ORDER BY type, name";
            store
                .reading(|connection| {
                    let mut statement = connection.prepare(query)?;
                    let rows = statement.query_map([], |row| row.get(0))?;
                    Ok(rows.collect::<rusqlite::Result<_>>()?)
                })
                .unwrap()
        };
        let n_facts = [5, 5, 8, 9, 9, 10];
        for version in 1..MIGRATIONS.len() {
            let (folder, path) = old_store(version);
            let newest = MIGRATIONS.len() as i64;
            assert!(matches!(
                Store::open_read_only(&path).unwrap_err(),
                StoreError::OlderVersion { found, known, .. }
                    if found == version as i64 && known == newest
            ));
            let store = Store::open(&path).unwrap();
            assert_eq!(store.reading(version_of).unwrap(), newest);
            let backup = format!("record.db.version-{version}.backup");
            assert_eq!(names_in(folder.path()), ["record.db".to_owned(), backup]);
            assert_eq!(store.n_facts().unwrap(), n_facts[version - 1], "version {version}");
            assert_eq!(store.sets_of(&anna().name).unwrap().len(), 1);
            assert_eq!(store.kept_fits(&anna().name, 1).unwrap().len(), usize::from(version >= 2));
            assert_eq!(store.pooled_in_force().unwrap().is_some(), version >= 2);
            store.verify().unwrap();
            store.verify_quickly().unwrap();
            assert_eq!(tables(&store), tables(&fresh), "version {version}");
            drop(store);
            let findings = crate::examine(&path);
            for what in ["facts", "tables", "references", "integrity", "log"] {
                let severity = findings.on(what).unwrap().severity;
                assert_eq!(severity, Severity::Fine, "version {version}: {findings:#?}");
            }
        }
    }

    /// Programs of before always left the record in the log: it is the file's own, and no newer file's.
    #[test]
    fn a_log_that_an_older_program_left_is_its_own_files_and_no_newer_ones() {
        let (folder, path) = old_store(6);
        let program = Connection::open(&path).unwrap();
        program.execute_batch("INSERT INTO lifter VALUES (2, 'bo ek')").unwrap();
        let left = folder.path().join("left.db");
        let leave = || {
            fs::copy(&path, &left).unwrap();
            fs::copy(beside(&path, "-wal"), beside(&left, "-wal")).unwrap();
        };
        leave();
        let store = Store::open(&left).unwrap();
        assert_eq!(store.n_facts().unwrap(), 10);
        assert_eq!(crate::verify::record_digest(&store.writer().unwrap()).unwrap().0, 10);
        store.verify().unwrap();
        drop(store);
        fs::copy(beside(&path, "-wal"), beside(&left, "-wal")).unwrap();
        let error = Store::open(&left).unwrap_err();
        assert!(matches!(error, StoreError::ForeignLog { aside: Some(_), .. }), "{error}");
        assert_eq!(Store::open(&left).unwrap().n_facts().unwrap(), 10);
    }

    #[test]
    fn a_migration_that_fails_changes_nothing() {
        let (folder, path) = old_store(1);
        let broken = "CREATE TABLE half (a); INSERT INTO nowhere VALUES (1)";
        open_as(&path, &[MIGRATIONS[0], SECOND, broken]).unwrap_err();
        let store = open_as(&path, &MIGRATIONS[..1]).unwrap();
        assert_eq!(store.reading(version_of).unwrap(), 1);
        assert!(store.lifter(&anna().name).unwrap().is_some());
        drop(store);
        // The copy of the failed attempt isn't written over by that of the next.
        drop(open_as(&path, &[MIGRATIONS[0], SECOND]).unwrap());
        let copies = ["record.db.version-1.backup", "record.db.version-1.backup-2"];
        assert_eq!(names_in(folder.path())[1..], copies);
    }

    /// What refers to nothing isn't made a checked fact silently.
    #[test]
    fn a_migration_that_leaves_something_dangling_changes_nothing() {
        let (_folder, path) = old_store(6);
        let connection = Connection::open(&path).unwrap();
        connection
            .execute_batch(
                "PRAGMA foreign_keys = OFF; INSERT INTO fact VALUES (11, 9, 'set', x'00', NULL, 11, NULL, 0, '')",
            )
            .unwrap();
        drop(connection);
        let error = Store::open(&path).unwrap_err();
        assert!(matches!(error, StoreError::Corrupt { .. }), "{error}");
        assert_eq!(open_as(&path, &MIGRATIONS[..6]).unwrap().reading(version_of).unwrap(), 6);
    }

    #[test]
    fn a_new_file_needs_no_copy() {
        let folder = tempfile::tempdir().unwrap();
        drop(open_as(&folder.path().join("record.db"), &[MIGRATIONS[0], SECOND]).unwrap());
        assert_eq!(names_in(folder.path()), ["record.db"]);
    }

    /// On what durability rests, read back from the connection that writes, after a migration too.
    #[test]
    fn the_writer_syncs_every_commit() {
        let (_folder, path) = old_store(1);
        for _ in 0..2 {
            let store = Store::open(&path).unwrap();
            let writer = store.writer().unwrap();
            let number = |pragma: &str| -> i64 {
                writer.pragma_query_value(None, pragma, |row| row.get(0)).unwrap()
            };
            assert_eq!(number("synchronous"), 2); // FULL
            assert_eq!(number("foreign_keys"), 1);
            assert_eq!(number("busy_timeout"), 5_000);
            assert_eq!(number("cell_size_check"), 1);
            let journal: String =
                writer.pragma_query_value(None, "journal_mode", |row| row.get(0)).unwrap();
            assert_eq!(journal, "wal");
        }
    }

    #[test]
    fn a_thing_has_one_first_version_and_a_kind_that_is_known() {
        let (_folder, path) = old_store(6);
        let store = Store::open(&path).unwrap();
        let writer = store.writer().unwrap();
        let mut seq = 100;
        let mut add = |kind: &str, id: &str, entry: i64| {
            seq += 1;
            writer
                .execute(
                    "INSERT INTO fact VALUES (?1, 1, ?2, CAST(?3 AS BLOB), NULL, ?4, NULL, 0, '', 0)",
                    (seq, kind, id, if entry == 0 { seq } else { entry }),
                )
                .map_err(|error| error.to_string())
        };
        let first = add("lifter", "anna birk", 0).unwrap_err();
        assert!(first.contains("UNIQUE"), "{first}");
        let kind = add("gossip", "anna birk", 0).unwrap_err();
        assert!(kind.contains("FOREIGN KEY"), "{kind}");
        let entry = add("lifter", "bo ek", 99).unwrap_err();
        assert!(entry.contains("FOREIGN KEY"), "{entry}");
        add("lifter", "bo ek", 0).unwrap();
    }
}
