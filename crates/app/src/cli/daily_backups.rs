//! One backup a day while the desk is served, in a thread of its own, which nobody waits for.

use std::ops::ControlFlow;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::thread::{self, JoinHandle};
use std::time::Duration;

use clap::Args;
use jiff::civil::DateTime;
use service::Desk;
use service::backup::{BackupError, BackupFolder, BackupView, FailedBackup, Keep, Made};

use super::backup::FolderArgs;
use super::clock;
use super::exit::Failure;

/// How long after the start it is first asked whether a backup is due: reading the records comes first.
const FIRST: Duration = Duration::from_secs(5);
/// How often it is asked.
const EVERY: Duration = Duration::from_secs(5 * 60);
/// How long after a failure it is tried again.
const AFTER_FAILURE: Duration = Duration::from_secs(60 * 60);

/// The options about backups of `serve`.
#[derive(Args, Debug)]
pub(crate) struct DailyArgs {
    #[command(flatten)]
    folder: FolderArgs,
    /// How many of the backups made once a day are kept, as DAYS,WEEKS: the newest of each of so many
    /// days, then one a week for so many weeks; `off` makes none
    #[arg(long, value_name = "DAYS,WEEKS", default_value = "7,8", env = "BELLWETHER_KEEP_BACKUPS", value_parser = keep)]
    keep_backups: Kept,
}

impl DailyArgs {
    /// Refuses a folder that is named and isn't there: made anew, it would lie on another disk than the one that is
    /// meant.
    pub(crate) fn refuse_missing_folder(&self) -> Result<(), Failure> {
        match self.folder.named() {
            Some(folder) if self.keep_backups.0.is_some() && !folder.is_dir() => {
                Err(Failure::WrongUse(format!(
                    "there is no folder `{}` for backups: make it, or plug in the disk that it is on; \
                     `--keep-backups off` makes none",
                    folder.display()
                )))
            }
            _ => Ok(()),
        }
    }

    /// The newest backup of a record that would lie at `store`.
    pub(crate) fn newest_backup(&self, store: &Path) -> Option<PathBuf> {
        self.folder.of(store).newest_file()
    }
}

/// How many are kept; none if none are made.
#[derive(Clone, Copy, Debug)]
struct Kept(Option<Keep>);

fn keep(text: &str) -> Result<Kept, String> {
    if text.trim() == "off" { Ok(Kept(None)) } else { text.parse().map(|keep| Kept(Some(keep))) }
}

/// Makes a backup a day of one desk's store.
pub(crate) struct DailyBackups {
    shared: Arc<Shared>,
    thread: Mutex<Option<JoinHandle<()>>>,
}

struct Shared {
    desk: Arc<Desk>,
    folder: BackupFolder,
    keep: Option<Keep>,
    ends: AtomicBool,
    state: Mutex<State>,
    bell: Condvar,
}

#[derive(Default)]
struct State {
    last: Option<Made>,
    failed: Option<FailedBackup>,
}

impl DailyBackups {
    /// One for `desk` that hasn't begun.
    pub(crate) fn new(desk: Arc<Desk>, args: &DailyArgs) -> DailyBackups {
        let folder = args.folder.of(desk.store().path());
        let keep = args.keep_backups.0;
        let (state, bell) = (Mutex::default(), Condvar::new());
        let shared = Shared { desk, folder, keep, ends: AtomicBool::new(false), state, bell };
        DailyBackups { shared: Arc::new(shared), thread: Mutex::new(None) }
    }

    /// Begins to look, in the background.
    pub(crate) fn begin(&self) {
        self.shared.look();
        let shared = Arc::clone(&self.shared);
        match thread::Builder::new().spawn(move || shared.keep_on()) {
            Ok(thread) => *locked(&self.thread) = Some(thread),
            Err(error) => self.shared.failed(&format!("no thread is to be had: {error}")),
        }
    }

    /// Ends; a backup that is being made is given up and taken away.
    pub(crate) fn end(&self) {
        self.shared.ends.store(true, Ordering::Relaxed);
        drop(locked(&self.shared.state)); // whoever is about to wait has seen it, or waits by now
        self.shared.bell.notify_all();
        if let Some(thread) = locked(&self.thread).take() {
            thread.join().ok();
        }
    }

    /// What the desk says of backups.
    pub(crate) fn view(&self) -> BackupView {
        let state = locked(&self.shared.state);
        BackupView {
            now: clock::local_now(),
            is_on: self.shared.keep.is_some(),
            last: state.last.as_ref().map(|made| made.at),
            failed: state.failed.clone(),
        }
    }
}

impl Shared {
    fn keep_on(&self) {
        let mut pause = FIRST;
        while !self.is_ended_after(pause) {
            pause = match self.make_if_due() {
                Ok(()) => EVERY,
                Err(BackupError::Ended) => return,
                Err(error) => {
                    self.failed(&error.to_string());
                    AFTER_FAILURE
                }
            };
        }
    }

    /// Waits; whether the end has come.
    fn is_ended_after(&self, pause: Duration) -> bool {
        let goes_on = |_: &mut State| !self.ends.load(Ordering::Relaxed);
        let waited = self.bell.wait_timeout_while(locked(&self.state), pause, goes_on);
        drop(waited.unwrap_or_else(PoisonError::into_inner));
        self.ends.load(Ordering::Relaxed)
    }

    fn make_if_due(&self) -> Result<(), BackupError> {
        let (store, local) = (self.desk.store(), clock::local_now());
        if let Some(keep) = self.keep
            && self.folder.is_due(store, local)?
        {
            let watch = &mut |_, _| match self.ends.load(Ordering::Relaxed) {
                true => ControlFlow::Break(()),
                false => ControlFlow::Continue(()),
            };
            self.folder.make_daily(store, keep, (local, clock::now()), watch)?;
        }
        locked(&self.state).failed = None;
        self.look();
        Ok(())
    }

    /// Looks which backup is the newest: somebody may have made one by hand.
    fn look(&self) {
        match self.folder.newest(self.desk.store(), clock::local_now()) {
            Ok(newest) => locked(&self.state).last = newest,
            Err(error) => self.failed(&error.to_string()),
        }
    }

    fn failed(&self, reason: &str) {
        let at: DateTime = clock::local_now();
        locked(&self.state).failed = Some(FailedBackup { at, reason: reason.to_owned() });
    }
}

/// A panic while this was held can't leave it half changed.
fn locked<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}
