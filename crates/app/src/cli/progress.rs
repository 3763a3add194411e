//! A line of progress on standard error: only on a terminal, and only once something takes a while.

use std::io::{self, IsTerminal, Write};
use std::time::{Duration, Instant};

/// Nothing is shown before this.
const QUIET: Duration = Duration::from_secs(1);
/// How often the line is renewed.
const EVERY: Duration = Duration::from_millis(100);
const BAR: u64 = 24;

/// Progress of one piece of work.
pub(crate) struct Progress {
    what: String,
    begun: Instant,
    shown: Option<Instant>,
    on_terminal: bool,
}

impl Progress {
    pub(crate) fn new(what: &str) -> Progress {
        let (begun, on_terminal) = (Instant::now(), io::stderr().is_terminal());
        Progress { what: what.to_owned(), begun, shown: None, on_terminal }
    }

    /// `done` of `whole` are done; `count` says how many of what, if that is worth saying.
    pub(crate) fn at(&mut self, done: u64, whole: u64, count: &str) {
        if !self.on_terminal {
            return;
        }
        let now = Instant::now();
        let last = self.shown.unwrap_or(self.begun + QUIET - EVERY);
        if now.saturating_duration_since(last) < EVERY || now < self.begun + QUIET {
            return;
        }
        self.shown = Some(now);
        let share = (done.min(whole) * 100).checked_div(whole).unwrap_or(0);
        let filled = (share * BAR / 100) as usize;
        let bar = format!("{}{}", "=".repeat(filled), " ".repeat(BAR as usize - filled));
        // A line of progress that can't be shown is no reason to stop.
        write!(io::stderr(), "\r{} [{bar}] {share:3} % {count}\x1b[K", self.what).ok();
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        if self.shown.is_some() {
            write!(io::stderr(), "\r\x1b[K").ok();
        }
    }
}
