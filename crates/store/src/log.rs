//! The write-ahead log beside a store: whether it belongs to the file, and what of it isn't folded in yet.
//!
//! SQLite recognises a log by nothing but its name. Where somebody copies a backup over a store whose program was
//! killed, the log that was left there would be laid over the copy: it overrules it, or makes a file of pieces that
//! don't fit. So every commit draws a new mark and writes it beside the one before into the table `record_mark`
//! ([`renew_mark`]). What stands in the file itself is the state at some commit, whole or on its way to a later one
//! of the same log. So the mark in the file must be
//!
//! * the mark *before* the first one in the log: nothing of the log has been folded in yet; or
//! * one of the marks in the log: it has been folded in up to there.
//!
//! With any other mark the log was written over another file, and laying it over this one gives nonsense. A log
//! without any mark comes from a program that drew none; it belongs to a file of those days, and to no newer one.
//!
//! File and log are read as bytes, since SQLite would read them together, and the file alone may be in the middle of
//! being folded. The format: <https://www.sqlite.org/fileformat2.html>, sections 1.3, 1.6 and 4. The one row of
//! `record_mark` lies on one page, which is found by a sign.

use std::fs::{self, File};
use std::io::{self, Read, Seek, SeekFrom};
use std::path::{Path, PathBuf};

use rusqlite::{Connection, params};

use crate::StoreError;
use crate::open::{beside, free_name, settle_folder};

/// By which the page of marks is recognised: sixteen bytes that were drawn once.
const SIGN: [u8; 16] = *b"\x8f\x1d\xe5Bellw mark\xc2\x07\xb9";
/// From this version on every commit is marked.
const MARKED_SINCE: u32 = 7;
/// So often is looked again while another program is at work on file and log.
const LOOKS: u32 = 50;

type Mark = [u8; 16];

/// The marks in a log.
#[derive(Debug, PartialEq, Eq)]
struct Marks {
    /// The page on which they stand; none if there are none.
    page: Option<u32>,
    /// The mark before the first.
    before: Mark,
    /// All of them, in their order.
    all: Vec<Mark>,
}

/// Draws the mark of a commit; the last step of every transaction that writes.
pub(crate) fn renew_mark(at: &Connection) -> rusqlite::Result<()> {
    at.prepare_cached(
        "UPDATE record_mark SET mark = CAST(?1 || substr(mark, 33, 16) || randomblob(16) AS BLOB)",
    )?
    .execute(params![SIGN])?;
    Ok(())
}

/// Whether the log beside a file belongs to it; so does none. Nothing is changed. Not for a file that this process
/// has open: closing it takes SQLite's locks away.
///
/// # Errors
/// File or log can't be read.
pub(crate) fn belongs(path: &Path) -> io::Result<bool> {
    let log = beside(path, "-wal");
    let mut seen = None;
    for _ in 0..LOOKS {
        let Some((head, marks)) = marks_in_log(&log)? else { return Ok(true) };
        if fits(path, &marks)? {
            return Ok(true);
        }
        // Another program may have folded the log in and begun a new one between the two looks.
        let now = (head, marks);
        if seen.as_ref() == Some(&now) {
            return Ok(false);
        }
        seen = Some(now);
        std::thread::sleep(std::time::Duration::from_millis(5));
    }
    Ok(true) // at work all the time: so the log is a living one
}

/// Puts a log that doesn't belong to the file aside, unless another program has the file open; its new name. Not for
/// a file that this process has open.
///
/// # Errors
/// The file is in use, or its folder can't be written.
fn put_aside(path: &Path) -> io::Result<PathBuf> {
    if is_in_use(path)? {
        return Err(io::ErrorKind::ResourceBusy.into());
    }
    let aside = free_name(path, "-wal.aside");
    fs::rename(beside(path, "-wal"), &aside)?;
    settle_folder(&aside);
    Ok(aside)
}

/// The error for a log that belongs to another file, after it was put aside where that can be done.
pub(crate) fn refuse_foreign(path: &Path) -> StoreError {
    let aside = put_aside(path).ok();
    StoreError::ForeignLog { path: path.to_owned(), log: beside(path, "-wal"), aside }
}

/// Whether another program has the file open as a database. Not for a file that this process has open.
///
/// # Errors
/// The file can't be opened for writing.
#[cfg(unix)]
pub(crate) fn is_in_use(path: &Path) -> io::Result<bool> {
    use rustix::fs::{FlockOperation, fcntl_lock};
    let file = File::options().read(true).write(true).open(path)?;
    // Whoever has the file open holds a lock on a part of it (section "Locking" of SQLite's `os_unix.c`).
    match fcntl_lock(&file, FlockOperation::NonBlockingLockExclusive) {
        Ok(()) => Ok(false),
        Err(rustix::io::Errno::AGAIN | rustix::io::Errno::ACCESS) => Ok(true),
        Err(error) => Err(error.into()),
    }
}

/// Where that can't be told, it is taken to be in use.
#[cfg(not(unix))]
pub(crate) fn is_in_use(_path: &Path) -> io::Result<bool> {
    Ok(true)
}

/// The head of the log and its marks; none if there is no log, or no commit in it.
fn marks_in_log(log: &Path) -> io::Result<Option<([u8; 32], Marks)>> {
    let mut file = match File::open(log) {
        Ok(file) => io::BufReader::with_capacity(1 << 20, file),
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(None),
        Err(error) => return Err(error),
    };
    let mut head = [0; 32];
    if !filled(&mut file, &mut head)? {
        return Ok(None);
    }
    let page_size = number(&head, 8) as usize;
    if !(512..=65_536).contains(&page_size) {
        return Ok(None); // no log that SQLite would read
    }
    let mut marks = Marks { page: None, before: [0; 16], all: Vec::new() };
    let (mut frame, mut any) = (vec![0; 24 + page_size], false);
    while filled(&mut file, &mut frame)? {
        if frame[8..16] != head[16..24] {
            break; // left over from a log before this one
        }
        // A commit's last frame says how many pages the file has now; without one nothing of the log counts.
        any |= number(&frame, 4) != 0;
        let page = number(&frame, 0);
        if marks.page.is_some_and(|known| known != page) {
            continue;
        }
        if let Some((before, mark)) = mark_on(&frame[24..]) {
            if marks.page.is_none() {
                (marks.page, marks.before) = (Some(page), before);
            }
            marks.all.push(mark);
        }
    }
    Ok(any.then_some((head, marks)))
}

fn fits(path: &Path, marks: &Marks) -> io::Result<bool> {
    let mut file = File::open(path)?;
    let mut head = [0; 100];
    if !filled(&mut file, &mut head)? {
        return Ok(true); // an empty file, or one that is refused for another reason
    }
    let is_marked = number(&head, 60) >= MARKED_SINCE;
    let Some(page) = marks.page else { return Ok(!is_marked) };
    let page_size = match u16::from_be_bytes([head[16], head[17]]) {
        1 => 65_536,
        size => u64::from(size),
    };
    let mut content = vec![0; page_size as usize];
    file.seek(SeekFrom::Start(u64::from(page.saturating_sub(1)) * page_size))?;
    let found = if filled(&mut file, &mut content)? { mark_on(&content) } else { None };
    Ok(match found {
        Some((_, mark)) => mark == marks.before || marks.all.contains(&mark),
        // The log brings the file up to date, and with it its first mark.
        None => !is_marked && marks.before == [0; 16],
    })
}

/// The mark before and the mark that stand on a page: a leaf of a table with one row in which the sign is.
fn mark_on(page: &[u8]) -> Option<(Mark, Mark)> {
    if page.first() != Some(&0x0d) || page.get(3..5) != Some(&[0, 1]) {
        return None;
    }
    let cell = usize::from(u16::from_be_bytes([*page.get(8)?, *page.get(9)?]));
    let row = page.get(cell..)?;
    let sign = row.windows(SIGN.len()).position(|bytes| bytes == SIGN)?;
    let marks = row.get(sign + 16..sign + 48)?;
    Some((marks[..16].try_into().ok()?, marks[16..].try_into().ok()?))
}

fn number(bytes: &[u8], at: usize) -> u32 {
    let mut four = [0; 4];
    four.copy_from_slice(&bytes[at..at + 4]);
    u32::from_be_bytes(four)
}

/// Reads as much as fits; whether there was as much.
fn filled(from: &mut impl Read, into: &mut [u8]) -> io::Result<bool> {
    match from.read_exact(into) {
        Ok(()) => Ok(true),
        Err(error) if error.kind() == io::ErrorKind::UnexpectedEof => Ok(false),
        Err(error) => Err(error),
    }
}
