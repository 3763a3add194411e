//! An open store's connections: who has which, who waits, and how all of them end.
//!
//! One connection writes. Threads get it in the order in which they asked for it, and wait for it much longer than
//! any load makes them. Each read takes a connection of its own; there are few of them, and fewer once a peak is
//! over. Readers make no writer wait. They can keep the log from being folded in, though, and so a log that has
//! grown lets no new reader in for a moment.
//!
//! At the end readers close first. The writer folds the log into the file and closes last, and SQLite then takes
//! away what lies beside it; a reader that closes last can't do that.

use std::cell::Cell;
use std::collections::VecDeque;
use std::ops::Deref;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, OnceLock, PoisonError, Weak};
use std::time::{Duration, Instant};

use rusqlite::config::DbConfig;
use rusqlite::{Connection, InterruptHandle, TransactionBehavior};

use crate::StoreError;
use crate::error::Trouble;
use crate::open::{Settings, beside, frozen_connection, read_connection, tidy};
use crate::place::{Lost, OpenHere, Place};

/// As many readers stay open when nobody reads.
const KEPT_READERS: usize = 3;
/// A log of this size should have been folded in long ago.
pub(crate) const LOG_LIMIT: u64 = 16 << 20;
/// So long do new readers wait at most for a log to be folded in.
const FOLDING: Duration = Duration::from_millis(250);
/// So long is waited for whoever reads or writes when the store is closed, before they are broken off.
const CLOSING: Duration = Duration::from_secs(3);

/// The record on disk. May be shared between threads: writers take turns, readers don't wait for them. Closed when
/// it is dropped; [`Store::close`] tells whether that went well.
#[derive(Debug)]
pub struct Store(Arc<Connections>);

/// Closes a store from anywhere, as when the program is told to end.
#[derive(Clone, Debug)]
pub struct Closer(Weak<Connections>);

/// All that an open store holds.
struct Connections {
    path: PathBuf,
    settings: Settings,
    access: Access,
    readers: Readers,
    place: Place,
    lost: OnceLock<(Lost, Option<PathBuf>)>,
    /// A log of this size is to be folded in.
    fold_from: AtomicU64,
    /// Held while it is being closed: whoever closes it too waits until it is.
    closing: Mutex<()>,
    _here: OpenHere,
}

/// How the file was opened.
#[derive(Debug)]
pub(crate) enum Access {
    Write(Box<Turns>),
    Read,
    /// Nobody can write to the file or beside it, so it can't change either.
    Frozen,
}

impl std::fmt::Debug for Connections {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Connections").field("path", &self.path).finish_non_exhaustive()
    }
}

impl Store {
    /// One that writes.
    pub(crate) fn for_writing(
        path: &Path,
        settings: Settings,
        writer: Connection,
        here: OpenHere,
    ) -> Store {
        Store::new(path, settings, Access::Write(Box::new(Turns::new(writer))), None, here)
    }

    /// One that only reads, beginning with this connection.
    pub(crate) fn for_reading(
        path: &Path,
        settings: Settings,
        (reader, access): (Connection, Access),
        here: OpenHere,
    ) -> Store {
        Store::new(path, settings, access, Some(reader), here)
    }

    fn new(
        path: &Path,
        settings: Settings,
        access: Access,
        reader: Option<Connection>,
        here: OpenHere,
    ) -> Store {
        Store(Arc::new(Connections {
            path: path.to_owned(),
            settings,
            place: Place::of(path, matches!(access, Access::Write(_))),
            access,
            readers: Readers::new(reader),
            lost: OnceLock::new(),
            fold_from: AtomicU64::new(LOG_LIMIT),
            closing: Mutex::new(()),
            _here: here,
        }))
    }

    /// The file.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.0.path
    }

    /// Ends every use of the store: whoever still reads or writes gets a moment, and is broken off then. Afterwards
    /// the file is whole by itself with nothing beside it, unless another program has it open: that one leaves it so
    /// when it ends. Anything that is asked of the store later is refused.
    ///
    /// # Errors
    /// The log couldn't be folded in; it lies beside the file, nothing is lost, and whoever opens the store next
    /// folds it in.
    pub fn close(&self) -> Result<(), StoreError> {
        self.0.close()
    }

    /// What closes this store from anywhere.
    #[must_use]
    pub fn closer(&self) -> Closer {
        Closer(Arc::downgrade(&self.0))
    }

    /// Whether nothing can be written to it.
    #[must_use]
    pub fn is_read_only(&self) -> bool {
        !matches!(self.0.access, Access::Write(_))
    }

    /// Whether this store is writing at this moment.
    pub(crate) fn is_writing(&self) -> bool {
        match &self.0.access {
            Access::Write(turns) => turns.is_taken(),
            Access::Read | Access::Frozen => false,
        }
    }

    /// Takes the writing connection, after everybody who asked before.
    ///
    /// # Errors
    /// [`StoreError::Queue`] when no turn comes, as for a thread that forgot that it is importing.
    pub(crate) fn writer(&self) -> Result<Turn<'_>, StoreError> {
        self.0.writer()
    }

    /// Reads with a connection of its own, all from one state of the record.
    pub(crate) fn reading<T>(
        &self,
        read: impl FnOnce(&Connection) -> Result<T, Trouble>,
    ) -> Result<T, StoreError> {
        self.0.reading(read)
    }

    /// A connection of its own for whoever reads for long, beside the few for short reads. To be gone before the store
    /// is closed.
    pub(crate) fn long_reader(&self) -> Result<Connection, StoreError> {
        self.0.refuse_lost()?;
        self.0.new_reader().map_err(|trouble| trouble.at(&self.0.path))
    }

    /// Looks whether what is open still lies where it lay; saves what was confirmed if it doesn't. A transaction that
    /// is open is given up for it.
    pub(crate) fn refuse_if_lost(&self, writer: &Connection) -> Result<(), StoreError> {
        self.0.refuse_if_lost(writer)
    }

    /// To be called after each commit: folds in a log that readers have kept from it.
    pub(crate) fn committed(&self, writer: &Connection) {
        self.0.committed(writer);
    }
}

impl Closer {
    /// [`Store::close`]; nothing if the store is no more.
    ///
    /// # Errors
    /// As there.
    pub fn close(&self) -> Result<(), StoreError> {
        self.0.upgrade().map_or(Ok(()), |connections| connections.close())
    }
}

impl Connections {
    fn writer(&self) -> Result<Turn<'_>, StoreError> {
        let Access::Write(turns) = &self.access else {
            return Err(StoreError::ReadOnly { path: self.path.clone() });
        };
        self.refuse_lost()?;
        turns.take(self.settings.turn_timeout).map_err(|refusal| self.refused(refusal))
    }

    fn reading<T>(
        &self,
        read: impl FnOnce(&Connection) -> Result<T, Trouble>,
    ) -> Result<T, StoreError> {
        self.refuse_lost()?;
        let limit = (self.settings.max_readers, self.settings.turn_timeout);
        let mut reading = self.readers.take(limit).map_err(|refusal| self.refused(refusal))?;
        let connection = match reading.kept.take() {
            Some(connection) => connection,
            None => self.new_reader().map_err(|trouble| trouble.at(&self.path))?,
        };
        let connection = reading.hold(connection);
        read_in_one_state(connection, read).map_err(|trouble| match trouble {
            Trouble::Sql(error) if self.readers.is_closed() && is_interrupted(&error) => {
                StoreError::Closed { path: self.path.clone() }
            }
            trouble => trouble.at(&self.path),
        })
    }

    fn new_reader(&self) -> Result<Connection, Trouble> {
        match self.access {
            Access::Frozen => frozen_connection(&self.path),
            Access::Write(_) | Access::Read => {
                let connection = read_connection(&self.path, self.settings)?;
                // A file that was put there meanwhile is another record.
                self.place.look().map_or(Ok(connection), |lost| {
                    Err(StoreError::Replaced { path: self.path.clone(), lost, saved: None }.into())
                })
            }
        }
    }

    fn refused(&self, refusal: Refusal) -> StoreError {
        let path = self.path.clone();
        match refusal {
            Refusal::Closed => StoreError::Closed { path },
            Refusal::Queue => StoreError::Queue { path, waited: self.settings.turn_timeout },
        }
    }

    fn refuse_lost(&self) -> Result<(), StoreError> {
        match self.lost.get() {
            None => Ok(()),
            Some((lost, saved)) => {
                let (path, lost, saved) = (self.path.clone(), *lost, saved.clone());
                Err(StoreError::Replaced { path, lost, saved })
            }
        }
    }

    fn refuse_if_lost(&self, writer: &Connection) -> Result<(), StoreError> {
        let Some(lost) = self.place.look() else { return Ok(()) };
        if !writer.is_autocommit() {
            writer.execute_batch("ROLLBACK").ok(); // nothing of it was confirmed
        }
        self.lost.get_or_init(|| (lost, crate::place::save(&self.path, lost, writer)));
        self.refuse_lost()
    }

    fn committed(&self, writer: &Connection) {
        let log = beside(&self.path, "-wal");
        let size = std::fs::metadata(log).map_or(0, |log| log.len());
        if size <= self.fold_from.load(Ordering::Relaxed) {
            return;
        }
        let is_folded = self.readers.holding(FOLDING, || fold(writer, Duration::ZERO));
        writer.busy_timeout(self.settings.busy_timeout).ok(); // it was set before, so it can be
        // Somebody reads for long: another try when as much again has come.
        let next = if is_folded { LOG_LIMIT } else { size + LOG_LIMIT };
        self.fold_from.store(next, Ordering::Relaxed);
    }

    fn close(&self) -> Result<(), StoreError> {
        let _one_at_a_time = locked(&self.closing);
        self.readers.close(CLOSING);
        match &self.access {
            Access::Frozen => Ok(()),
            Access::Read => {
                tidy(&self.path);
                Ok(())
            }
            Access::Write(turns) => match turns.close(CLOSING) {
                Closed::Before => Ok(()),
                Closed::InUse => Err(self.refused(Refusal::Queue)),
                Closed::Now(writer) => self.close_writer(writer),
            },
        }
    }

    fn close_writer(&self, writer: Connection) -> Result<(), StoreError> {
        // The last chance to save what was confirmed.
        self.refuse_if_lost(&writer).inspect_err(|_| {
            // What lies there now under these names is somebody else's.
            writer.set_db_config(DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, true).ok();
        })?;
        fold(&writer, Duration::from_secs(1));
        writer.close().map_err(|(_, error)| Trouble::from(error).at(&self.path))
    }
}

impl Drop for Store {
    fn drop(&mut self) {
        self.close().ok(); // what isn't folded in is safe in the log
    }
}

/// Folds the log into the file and empties it; whether that was possible at once.
fn fold(writer: &Connection, patience: Duration) -> bool {
    let busy: rusqlite::Result<i64> = writer
        .busy_timeout(patience)
        .and_then(|()| writer.query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |row| row.get(0)));
    busy.is_ok_and(|busy| busy == 0)
}

fn is_interrupted(error: &rusqlite::Error) -> bool {
    error.sqlite_error_code() == Some(rusqlite::ErrorCode::OperationInterrupted)
}

fn read_in_one_state<T>(
    connection: &mut Connection,
    read: impl FnOnce(&Connection) -> Result<T, Trouble>,
) -> Result<T, Trouble> {
    let transaction = connection.transaction_with_behavior(TransactionBehavior::Deferred)?;
    let value = read(&transaction)?;
    transaction.finish()?;
    Ok(value)
}

/// Why somebody gets no connection.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Refusal {
    Closed,
    Queue,
}

/// The connection that writes, and the queue for it.
pub(crate) struct Turns {
    state: Mutex<TurnState>,
    given_back: Condvar,
    interrupt: InterruptHandle,
    /// Whoever still writes is to end.
    is_broken_off: AtomicBool,
}

impl std::fmt::Debug for Turns {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Turns").finish_non_exhaustive()
    }
}

struct TurnState {
    connection: Option<Connection>,
    /// Who waits, the first in front; each is woken by a bell of its own.
    waiting: VecDeque<Arc<Condvar>>,
    is_closed: bool,
}

/// What closing found.
enum Closed {
    Before,
    InUse,
    Now(Connection),
}

impl Turns {
    fn new(connection: Connection) -> Turns {
        let interrupt = connection.get_interrupt_handle();
        let state =
            TurnState { connection: Some(connection), waiting: VecDeque::new(), is_closed: false };
        Turns {
            state: Mutex::new(state),
            given_back: Condvar::new(),
            interrupt,
            is_broken_off: AtomicBool::new(false),
        }
    }

    fn is_taken(&self) -> bool {
        let state = locked(&self.state);
        state.connection.is_none() && !state.is_closed
    }

    fn take(&self, patience: Duration) -> Result<Turn<'_>, Refusal> {
        let until = Instant::now() + patience;
        let bell = Arc::new(Condvar::new());
        let mut state = locked(&self.state);
        state.waiting.push_back(Arc::clone(&bell));
        loop {
            let is_first = state.waiting.front().is_some_and(|first| Arc::ptr_eq(first, &bell));
            let left = until.saturating_duration_since(Instant::now());
            let refusal = match state.is_closed {
                true => Some(Refusal::Closed),
                false => {
                    if is_first && let Some(connection) = state.connection.take() {
                        state.waiting.pop_front();
                        return Ok(Turn { turns: self, connection: Some(connection) });
                    }
                    left.is_zero().then_some(Refusal::Queue)
                }
            };
            if let Some(refusal) = refusal {
                state.waiting.retain(|other| !Arc::ptr_eq(other, &bell));
                state.wake_first();
                return Err(refusal);
            }
            state = bell.wait_timeout(state, left).unwrap_or_else(PoisonError::into_inner).0;
        }
    }

    /// Lets nobody in any more; whoever writes is broken off after a while.
    fn close(&self, patience: Duration) -> Closed {
        let mut state = locked(&self.state);
        if std::mem::replace(&mut state.is_closed, true) && state.connection.is_none() {
            return Closed::Before;
        }
        state.waiting.iter().for_each(|bell| bell.notify_one());
        for is_last in [false, true] {
            let until = Instant::now() + patience;
            loop {
                if let Some(connection) = state.connection.take() {
                    return Closed::Now(connection);
                }
                let left = until.saturating_duration_since(Instant::now());
                if left.is_zero() {
                    break;
                }
                let woken = self.given_back.wait_timeout(state, left);
                state = woken.unwrap_or_else(PoisonError::into_inner).0;
            }
            if !is_last {
                // One breaks off what runs at this moment, the other what comes next.
                self.is_broken_off.store(true, Ordering::SeqCst);
                self.interrupt.interrupt();
            }
        }
        Closed::InUse
    }
}

impl TurnState {
    fn wake_first(&self) {
        if self.connection.is_some()
            && let Some(first) = self.waiting.front()
        {
            first.notify_one();
        }
    }
}

/// The writing connection while it is one's own.
pub(crate) struct Turn<'a> {
    turns: &'a Turns,
    /// There until the end.
    connection: Option<Connection>,
}

impl Turn<'_> {
    pub(crate) fn connection_mut(&mut self) -> &mut Connection {
        #[expect(clippy::expect_used, reason = "it is taken out in `drop` only")]
        self.connection.as_mut().expect("a turn has its connection")
    }
}

impl Deref for Turn<'_> {
    type Target = Connection;

    fn deref(&self) -> &Connection {
        #[expect(clippy::expect_used, reason = "it is taken out in `drop` only")]
        self.connection.as_ref().expect("a turn has its connection")
    }
}

impl Turn<'_> {
    /// Whether the store is being closed and waits for this turn no longer.
    pub(crate) fn is_broken_off(&self) -> bool {
        self.turns.is_broken_off.load(Ordering::SeqCst)
    }
}

impl Drop for Turn<'_> {
    fn drop(&mut self) {
        let mut state = locked(&self.turns.state);
        state.connection = self.connection.take();
        state.wake_first();
        self.turns.given_back.notify_all();
    }
}

thread_local! {
    /// How many reads of this thread are under way, one within the other.
    static READS: Cell<u32> = const { Cell::new(0) };
}

/// The connections that read.
struct Readers {
    state: Mutex<ReaderState>,
    changed: Condvar,
}

struct ReaderState {
    idle: Vec<Connection>,
    /// Of each that is in use: its number, and how to break it off.
    in_use: Vec<(u64, Option<InterruptHandle>)>,
    next: u64,
    /// Nobody is let in for a moment.
    is_held: bool,
    is_closed: bool,
}

impl Readers {
    fn new(first: Option<Connection>) -> Readers {
        let state = ReaderState {
            idle: first.into_iter().collect(),
            in_use: Vec::new(),
            next: 0,
            is_held: false,
            is_closed: false,
        };
        Readers { state: Mutex::new(state), changed: Condvar::new() }
    }

    fn is_closed(&self) -> bool {
        locked(&self.state).is_closed
    }

    /// A place among the readers, with a connection if one lies ready. A thread that is reading already waits for
    /// nobody, since others might wait for it.
    fn take(&self, (limit, patience): (usize, Duration)) -> Result<Reading<'_>, Refusal> {
        let until = Instant::now() + patience;
        let is_within = READS.get() > 0;
        let mut state = locked(&self.state);
        loop {
            if state.is_closed {
                return Err(Refusal::Closed);
            }
            if is_within || (!state.is_held && state.in_use.len() < limit) {
                let number = state.next;
                state.next += 1;
                state.in_use.push((number, None));
                READS.set(READS.get() + 1);
                let kept = state.idle.pop();
                return Ok(Reading { readers: self, number, kept, held: None });
            }
            let left = until.saturating_duration_since(Instant::now());
            if left.is_zero() {
                return Err(Refusal::Queue);
            }
            let woken = self.changed.wait_timeout(state, left);
            state = woken.unwrap_or_else(PoisonError::into_inner).0;
        }
    }

    /// Does something while nobody reads, unless somebody reads for longer than `patience`; whether it was done.
    fn holding(&self, patience: Duration, act: impl FnOnce() -> bool) -> bool {
        if READS.get() > 0 {
            return false;
        }
        locked(&self.state).is_held = true;
        let is_free = self.wait_until_free(patience);
        let is_done = is_free && act();
        locked(&self.state).is_held = false;
        self.changed.notify_all();
        is_done
    }

    fn wait_until_free(&self, patience: Duration) -> bool {
        let until = Instant::now() + patience;
        let mut state = locked(&self.state);
        while !state.in_use.is_empty() {
            let left = until.saturating_duration_since(Instant::now());
            if left.is_zero() {
                return false;
            }
            let woken = self.changed.wait_timeout(state, left);
            state = woken.unwrap_or_else(PoisonError::into_inner).0;
        }
        true
    }

    /// Closes all of them; those in use after a while.
    fn close(&self, patience: Duration) {
        {
            let mut state = locked(&self.state);
            state.is_closed = true;
            state.idle.clear();
        }
        self.changed.notify_all();
        if !self.wait_until_free(patience) {
            let state = locked(&self.state);
            state.in_use.iter().filter_map(|(_, handle)| handle.as_ref()).for_each(|handle| {
                handle.interrupt();
            });
            drop(state);
            self.wait_until_free(patience);
        }
    }
}

/// A place among the readers.
struct Reading<'a> {
    readers: &'a Readers,
    number: u64,
    kept: Option<Connection>,
    held: Option<Connection>,
}

impl Reading<'_> {
    /// Reads with this connection until the end.
    fn hold(&mut self, connection: Connection) -> &mut Connection {
        let handle = connection.get_interrupt_handle();
        let mut state = locked(&self.readers.state);
        if let Some(own) = state.in_use.iter_mut().find(|(number, _)| *number == self.number) {
            own.1 = Some(handle);
        }
        drop(state);
        self.held.insert(connection)
    }
}

impl Drop for Reading<'_> {
    fn drop(&mut self) {
        READS.set(READS.get().saturating_sub(1));
        let mut state = locked(&self.readers.state);
        state.in_use.retain(|(number, _)| *number != self.number);
        let connection = self.held.take().or_else(|| self.kept.take());
        let more = if !state.is_closed && state.idle.len() < KEPT_READERS {
            state.idle.extend(connection);
            None
        } else {
            connection
        };
        drop(state);
        drop(more); // closing takes a moment
        self.readers.changed.notify_all();
    }
}

/// A panic while this was held can't leave it half changed.
fn locked<T>(state: &Mutex<T>) -> MutexGuard<'_, T> {
    state.lock().unwrap_or_else(PoisonError::into_inner)
}
