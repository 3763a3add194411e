//! Looking the store over: is the file whole, can it be written, is there room, is it in a place
//! where locks can be trusted.
//!
//! Changes nothing in the record. Works on a file that can't be opened as a store, because that is
//! when it is needed. What can't be told on a system is said to be unknown, never to be fine.

use std::fs;
use std::path::{Path, PathBuf};
use std::time::Duration;

use rusqlite::Connection;
use rusqlite::config::DbConfig;

use crate::error::Trouble;
use crate::facts::each_fact;
use crate::fits::state_of_fits;
use crate::log;
use crate::migrate::MIGRATIONS;
use crate::open::{
    Settings, beside, checked_version, connection_without_log, folder_of, is_writable,
    log_is_empty, must_exist, open_for_reading, refuse_other_files, refuse_other_log, tidy,
    write_connection,
};
use crate::place::claim;
use crate::verify::{damaged_facts, digest_on_record, is_checked, record_digest, strange_tables};
use crate::{Store, StoreError, private};

/// Below this much free space an import may not fit.
const LITTLE_ROOM: u64 = 256 << 20;
/// Below this much free space even small things may not fit.
const NO_ROOM: u64 = 16 << 20;
/// A log of this size means that something keeps it from being emptied.
const LARGE_LOG: u64 = 512 << 20;

/// What to do about damage.
const GO_BACK: &str = "keep the file, write nothing to it, and go back to a backup with `bellwether restore`, or to \
                       an export";

/// The version of a file from which fits are kept in it.
const WITH_FITS: i64 = 2;

/// How much a finding matters.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Severity {
    /// All is well.
    Fine,
    /// Worth a look.
    LookAtThis,
    /// Something is wrong, or soon will be.
    ActNow,
}

impl Severity {
    /// The words for it: `fine`, `look at this`, `act now`.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Severity::Fine => "fine",
            Severity::LookAtThis => "look at this",
            Severity::ActNow => "act now",
        }
    }
}

/// One thing that was looked at.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Finding {
    /// What was looked at, in a few words.
    pub what: &'static str,
    /// How much it matters.
    pub severity: Severity,
    /// What was found, as a sentence without a full stop.
    pub words: String,
    /// What to do about it; empty if nothing needs doing.
    pub cure: String,
}

/// Everything that was looked at.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Findings {
    /// The store's file.
    pub path: PathBuf,
    /// What was found, in the order in which it was looked at.
    pub findings: Vec<Finding>,
}

impl Findings {
    /// The most severe of all.
    #[must_use]
    pub fn worst(&self) -> Severity {
        self.findings.iter().map(|finding| finding.severity).max().unwrap_or(Severity::Fine)
    }

    /// The finding on one matter.
    #[must_use]
    pub fn on(&self, what: &str) -> Option<&Finding> {
        self.findings.iter().find(|finding| finding.what == what)
    }

    fn fine(&mut self, what: &'static str, words: impl Into<String>) {
        self.add(what, Severity::Fine, words, "");
    }

    fn add(
        &mut self,
        what: &'static str,
        severity: Severity,
        words: impl Into<String>,
        cure: &str,
    ) {
        let (words, cure) = (words.into(), cure.to_owned());
        self.findings.push(Finding { what, severity, words, cure });
    }
}

impl Store {
    /// Looks this store over; see [`examine`].
    #[must_use]
    pub fn doctor(&self) -> Findings {
        let writing = self.is_writing();
        let mut findings = examine(self.path());
        if writing && let Some(lock) = findings.findings.iter_mut().find(|f| f.what == "write lock")
        {
            lock.words = "this program is writing at this moment".to_owned();
        }
        findings
    }
}

/// Looks a file over, whether or not it can be opened as a store. Reads the whole file, makes every fact of it and
/// holds each against its checksum, so it takes some ten seconds for each million sets.
#[must_use]
pub fn examine(path: &Path) -> Findings {
    let mut findings = Findings { path: path.to_owned(), findings: Vec::new() };
    let mut is_in_use = true;
    // Nobody looks at the bytes of a file that this process has open.
    let claimed = must_exist(path).and_then(|()| {
        claim(path, || {
            refuse_other_files(path)?;
            refuse_other_log(path)?;
            is_in_use = log::is_in_use(path).unwrap_or(false);
            Ok(())
        })
    });
    let is_ours = claimed.is_ok();
    let opened = claimed.and_then(|here| Ok((open_for_reading(path, Settings::default())?, here)));
    match opened {
        Err(error) => refused(&mut findings, "the file", &error),
        Ok(((connection, _), _here)) => {
            findings.fine("the file", "it can be opened and read");
            look_at_log(&mut findings, &connection, path, is_in_use);
            if let Err(trouble) = look_inside(&mut findings, &connection, path) {
                refused(&mut findings, "the content", &trouble.at(path));
            }
        }
    }
    if path.is_file() {
        look_at_rights(&mut findings, path);
        look_at_readers(&mut findings, path);
        if is_ours {
            look_at_lock(&mut findings, path);
        }
    }
    look_at_what_is_left(&mut findings, path);
    look_at_sizes(&mut findings, path);
    look_at_room(&mut findings, path);
    look_at_file_system(&mut findings, path);
    if is_ours {
        tidy(path); // what looking has left beside the file
    }
    findings
}

/// Turns an error into a finding; its message ends with its cure after the last colon.
fn refused(findings: &mut Findings, what: &'static str, error: &StoreError) {
    let message = error.to_string();
    let (words, cure) = message.rsplit_once(": ").unwrap_or((&message, "see above"));
    findings.add(what, Severity::ActNow, words, cure);
}

fn look_inside(
    findings: &mut Findings,
    connection: &Connection,
    path: &Path,
) -> Result<(), Trouble> {
    let version = checked_version(connection, path)?;
    let known = MIGRATIONS.len() as i64;
    if version > known {
        let path = path.to_owned();
        return Err(StoreError::NewerVersion { path, found: version, known }.into());
    }
    if version == 0 {
        return Err(StoreError::Empty { path: path.to_owned() }.into());
    }
    if version == known {
        findings.fine("version", format!("it is a store of version {version}, as needed"));
    } else {
        findings.add(
            "version",
            Severity::LookAtThis,
            format!("it has version {version} and the newest is {known}"),
            "open it for writing; a backup is made before it is brought up to date",
        );
    }
    look_at_integrity(findings, connection)?;
    look_at_tables(findings, connection)?;
    let journal: String = connection.pragma_query_value(None, "journal_mode", |r| r.get(0))?;
    if journal == "wal" {
        findings.fine("journal", "a write-ahead log is kept, so readers don't wait for writers");
    } else {
        findings.add(
            "journal",
            Severity::LookAtThis,
            format!("the journal is of the kind `{journal}`, so readers and writers wait"),
            "close other programs that use the file and open the store again for writing",
        );
    }
    look_at_facts(findings, connection, version)?;
    if version >= WITH_FITS {
        match state_of_fits(connection)? {
            (words, true) => findings.fine("kept fits", words),
            (words, false) => {
                let cure = "run `refit --all`, and `pool` again: no fact depends on them";
                findings.add("kept fits", Severity::LookAtThis, words, cure);
            }
        }
    }
    Ok(())
}

/// Tables, indexes and triggers, by their text.
fn look_at_tables(findings: &mut Findings, connection: &Connection) -> Result<(), Trouble> {
    let strange = strange_tables(connection)?;
    if strange.is_empty() {
        findings.fine("tables", "every table, index and guard is as it was made");
    } else {
        let words = format!("not as they were made: `{}`", strange.join("`, `"));
        findings.add("tables", Severity::ActNow, words, GO_BACK);
    }
    Ok(())
}

/// Every fact: whether it can be read, and whether it is what was written.
fn look_at_facts(
    findings: &mut Findings,
    connection: &Connection,
    version: i64,
) -> Result<(), Trouble> {
    if !is_checked(version) {
        let n_facts: i64 =
            connection.query_row("SELECT count(*) FROM fact", [], |row| row.get(0))?;
        findings.fine("facts", format!("{n_facts} facts are recorded, without checksums as yet"));
        return Ok(());
    }
    let damaged = damaged_facts(connection, 0, 6)?;
    if !damaged.is_empty() {
        let numbers: Vec<_> = damaged.iter().take(5).map(ToString::to_string).collect();
        let more = if damaged.len() > 5 { " and others" } else { "" };
        let words = format!("not what was written: fact {}{more}", numbers.join(", "));
        findings.add("facts", Severity::ActNow, words, GO_BACK);
        return Ok(());
    }
    let mut n_facts = 0;
    each_fact(connection, |_| {
        n_facts += 1;
        true
    })?;
    if record_digest(connection)? == digest_on_record(connection)? {
        findings.fine("facts", format!("{n_facts} facts are recorded, each as it was written"));
    } else {
        let words = "together they don't match the digest of the record: some may be missing";
        findings.add("facts", Severity::ActNow, words, GO_BACK);
    }
    Ok(())
}

/// What of the record lies in the log and not in the file itself.
fn look_at_log(findings: &mut Findings, connection: &Connection, path: &Path, is_in_use: bool) {
    if log_is_empty(path) {
        return findings.fine("log", "everything is in the file itself, and nothing beside it");
    }
    let newest = |connection: &Connection| -> rusqlite::Result<i64> {
        connection.query_row("SELECT coalesce(max(seq), 0) FROM fact", [], |row| row.get(0))
    };
    let Ok(of_all) = newest(connection) else { return };
    let in_file = connection_without_log(path).and_then(|file| Ok(newest(&file)?));
    let words = match in_file {
        Ok(in_file) if in_file == of_all => {
            "a log lies beside the file; every fact is in the file itself".to_owned()
        }
        Ok(in_file) => format!(
            "{} of {of_all} facts lie in the log beside the file and not in the file itself yet",
            of_all - in_file
        ),
        Err(_) => "a part of the record lies in the log beside the file".to_owned(),
    };
    if is_in_use {
        let words =
            format!("{words}, as while a program uses it: copy it with `bellwether backup`");
        findings.fine("log", words);
    } else {
        let cure = "run any command that opens the store, such as `lifts`: it folds the log into \
                    the file; until then keep both together";
        findings.add("log", Severity::LookAtThis, words, cure);
    }
}

fn look_at_integrity(findings: &mut Findings, connection: &Connection) -> Result<(), Trouble> {
    let damage: Vec<String> = connection
        .prepare("PRAGMA integrity_check(20)")?
        .query_map([], |row| row.get(0))?
        .collect::<rusqlite::Result<_>>()?;
    if damage == ["ok"] {
        findings.fine("integrity", "every page and index is whole");
    } else {
        let shown = damage.join("; ");
        findings.add(
            "integrity",
            Severity::ActNow,
            format!("the file is damaged: {shown}"),
            GO_BACK,
        );
    }
    let n_dangling = connection
        .prepare("PRAGMA foreign_key_check")?
        .query_map([], |_| Ok(()))?
        .collect::<rusqlite::Result<Vec<()>>>()?
        .len();
    if n_dangling == 0 {
        findings.fine("references", "every row finds what it refers to");
    } else {
        let words = format!("{n_dangling} rows refer to something that is missing");
        findings.add("references", Severity::ActNow, words, GO_BACK);
    }
    Ok(())
}

fn look_at_rights(findings: &mut Findings, path: &Path) {
    let cure = "allow writing to the file and to its folder, or open the store for reading only";
    match (is_writable(path), is_writable(&folder_of(path))) {
        (Some(false), _) => {
            findings.add("rights", Severity::LookAtThis, "the file can't be written", cure);
        }
        (_, Some(false)) => findings.add(
            "rights",
            Severity::LookAtThis,
            "the folder can't be written, so the log beside the file can't be made",
            cure,
        ),
        (Some(true), Some(true)) => {
            findings.fine("rights", "the file and its folder can be written");
        }
        _ => findings
            .fine("rights", "whether the file and its folder can be written is not known here"),
    }
}

/// What lies beside the file, or where it lay, and may hold what the record lacks.
fn look_at_what_is_left(findings: &mut Findings, path: &Path) {
    if !path.exists() && !log_is_empty(path) {
        findings.add(
            "a log without its record",
            Severity::ActNow,
            format!(
                "`{}` lies where the record lay, with the last of it",
                beside(path, "-wal").display()
            ),
            "put the record that belongs to it back beside it before anything else is done here",
        );
    }
    let saved = beside(path, ".saved");
    if saved.exists() {
        findings.add(
            "what was saved",
            Severity::LookAtThis,
            format!(
                "`{}` was made when the record was taken away while it was served, and holds what was \
                 confirmed until then",
                saved.display()
            ),
            "look into it with `--store`, export from it what is missing here, and move it away",
        );
    }
}

/// Whether others on this machine can read it. What the program makes they can't; what was made before, or copied,
/// keeps the rights that its owner gave it.
fn look_at_readers(findings: &mut Findings, path: &Path) {
    match private::is_open_to_others(path) {
        Some(true) => findings.add(
            "privacy",
            Severity::LookAtThis,
            "other users of this machine can read the file, and it holds data about health",
            "unless they are meant to, take the rights away: `chmod go-rwx` and the file's name",
        ),
        Some(false) => findings.fine("privacy", "no other user of this machine can read the file"),
        None => findings.fine("privacy", "whether other users can read the file is not known here"),
    }
}

/// Asks for the write lock and gives it back.
fn look_at_lock(findings: &mut Findings, path: &Path) {
    if is_writable(path) == Some(false) || fs::metadata(path).is_ok_and(|file| file.len() == 0) {
        return;
    }
    let settings = Settings { busy_timeout: Duration::ZERO, ..Settings::default() };
    let asked = write_connection(path, settings).and_then(|connection| {
        // Looking folds nothing in.
        connection.set_db_config(DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, true)?;
        Ok(connection.execute_batch("BEGIN IMMEDIATE; ROLLBACK")?)
    });
    match asked {
        Ok(()) => findings.fine("write lock", "nobody is writing at this moment"),
        Err(trouble) if trouble.is_locked() => findings.add(
            "write lock",
            Severity::LookAtThis,
            "another program is writing at this moment",
            "wait until it has finished; if it hangs, end that program: nothing confirmed is lost",
        ),
        Err(trouble) => refused(findings, "write lock", &trouble.at(path)),
    }
}

fn look_at_sizes(findings: &mut Findings, path: &Path) {
    let Ok(file) = fs::metadata(path) else { return };
    findings.fine("size", format!("the file has {}", in_binary_units(file.len())));
    let log = fs::metadata(beside(path, "-wal")).map_or(0, |log| log.len());
    if log < LARGE_LOG {
        findings.fine("log size", format!("the log beside it has {}", in_binary_units(log)));
    } else {
        findings.add(
            "log size",
            Severity::LookAtThis,
            format!("the log beside it has {}", in_binary_units(log)),
            "close every program that uses the store; the last one to close empties the log",
        );
    }
}

fn look_at_room(findings: &mut Findings, path: &Path) {
    let Some(free) = free_bytes(&folder_of(path)) else {
        findings.fine("free space", "how much is free on the disk is not known on this system");
        return;
    };
    let words = format!("{} are free on the disk", in_binary_units(free));
    let cure = "free some space before the next import";
    match free {
        0..NO_ROOM => findings.add("free space", Severity::ActNow, words, cure),
        NO_ROOM..LITTLE_ROOM => findings.add("free space", Severity::LookAtThis, words, cure),
        _ => findings.fine("free space", words),
    }
}

fn look_at_file_system(findings: &mut Findings, path: &Path) {
    let what = "file system";
    let folder = fs::canonicalize(folder_of(path)).unwrap_or_else(|_| folder_of(path));
    let Some(mounts) = mounts() else {
        findings.fine(what, "whether the folder lies on a network is not known on this system");
        return;
    };
    match file_system_of(&mounts, &folder) {
        None => findings.fine(what, "the kind of file system is not known"),
        Some(kind) if is_of_a_network(&kind) => findings.add(
            what,
            Severity::ActNow,
            format!(
                "the folder lies on a network or shared file system (`{kind}`), whose locks \
                     can't be trusted"
            ),
            "move the store to a disk of this computer, and keep exports on the network",
        ),
        Some(kind) => findings.fine(what, format!("the folder lies on a local disk (`{kind}`)")),
    }
}

/// The kind of the file system on which `folder` lies, by the table of mounts: that of the longest
/// mount point above it, the last one where several lie on one point.
fn file_system_of(mounts: &str, folder: &Path) -> Option<String> {
    let mut best: Option<(usize, &str)> = None;
    for line in mounts.lines() {
        let mut fields = line.split(' ').skip(1);
        let (Some(point), Some(kind)) = (fields.next(), fields.next()) else { continue };
        let point = PathBuf::from(unescaped(point));
        let depth = point.components().count();
        if folder.starts_with(&point) && best.is_none_or(|(deepest, _)| depth >= deepest) {
            best = Some((depth, kind));
        }
    }
    best.map(|(_, kind)| kind.to_owned())
}

/// The table writes a space, a tab, a line break and a backslash as octal numbers; see `fstab(5)`.
fn unescaped(field: &str) -> String {
    field.replace("\\040", " ").replace("\\011", "\t").replace("\\012", "\n").replace("\\134", "\\")
}

/// File systems whose locks go over a network or between two operating systems.
fn is_of_a_network(kind: &str) -> bool {
    const KINDS: &[&str] = &[
        "nfs",
        "nfs4",
        "cifs",
        "smb",
        "smb2",
        "smb3",
        "smbfs",
        "9p",
        "afs",
        "ceph",
        "coda",
        "lustre",
        "ncpfs",
        "ocfs2",
        "gfs2",
        "glusterfs",
        "beegfs",
        "davfs",
        "vboxsf",
        "vmhgfs",
        "prl_fs",
        "virtiofs",
    ];
    // Of those in user space some are local disks; the named ones are not.
    const IN_USER_SPACE: &[&str] =
        &["sshfs", "rclone", "davfs", "smb", "nfs", "s3fs", "gcsfuse", "gvfs", "glusterfs", "ceph"];
    KINDS.contains(&kind)
        || kind
            .strip_prefix("fuse.")
            .is_some_and(|name| IN_USER_SPACE.iter().any(|known| name.starts_with(known)))
}

fn mounts() -> Option<String> {
    fs::read_to_string("/proc/mounts").ok()
}

fn in_binary_units(bytes: u64) -> String {
    let mib = bytes as f64 / f64::from(1 << 20);
    if mib < 1024.0 { format!("{mib:.1} MiB") } else { format!("{:.1} GiB", mib / 1024.0) }
}

#[cfg(unix)]
fn free_bytes(folder: &Path) -> Option<u64> {
    let room = rustix::fs::statvfs(folder).ok()?;
    Some(room.f_bavail.saturating_mul(room.f_frsize))
}

#[cfg(not(unix))]
fn free_bytes(_folder: &Path) -> Option<u64> {
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    // The form of the table: proc(5) and fstab(5) of the Linux manual pages, from memory.
    const TABLE: &str = "\
/dev/vda1 / ext4 rw,relatime 0 0
tmpfs /tmp tmpfs rw 0 0
server:/share /mnt/gym nfs4 rw 0 0
coach@host: /mnt/far\\040away fuse.sshfs rw 0 0
/dev/sdb1 /mnt/stick fuseblk rw 0 0
overlay /mnt/gym/local ext4 rw 0 0
";

    #[test]
    fn sizes_are_written_in_the_unit_that_fits() {
        let told = |mib: u64| in_binary_units(mib << 20);
        assert_eq!([told(3), told(1023), told(29_696)], ["3.0 MiB", "1023.0 MiB", "29.0 GiB"]);
    }

    #[test]
    fn the_deepest_mount_point_decides() {
        let check = |folder: &str, kind: &str, network: bool| {
            assert_eq!(file_system_of(TABLE, Path::new(folder)).as_deref(), Some(kind), "{folder}");
            assert_eq!(is_of_a_network(kind), network, "{kind}");
        };
        check("/home/anna", "ext4", false);
        check("/mnt/gym", "nfs4", true);
        check("/mnt/gym/records", "nfs4", true);
        check("/mnt/gym/local/records", "ext4", false);
        check("/mnt/gymnast", "ext4", false);
        check("/mnt/far away/x", "fuse.sshfs", true);
        check("/mnt/stick", "fuseblk", false);
        assert!(["cifs", "smb3", "9p", "fuse.rclone"].iter().all(|kind| is_of_a_network(kind)));
    }
}
