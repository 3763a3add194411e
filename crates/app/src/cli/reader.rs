//! Reading everybody's record in the background, so that pages needn't wait for all of it.
//!
//! A long record takes a moment to read, and a thousand of them a minute. The page of all lifters shows whom
//! it knows by now and says who is still to come.

use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::thread;
use std::time::{Duration, Instant};

use jiff::civil::Date;
use service::view::SquadView;
use service::{Desk, ServiceError};

use crate::server::step_back;

/// How long the page of all lifters waits for everybody before it shows whom it has.
const PATIENCE: Duration = Duration::from_millis(800);
/// How often it looks meanwhile.
const LOOK: Duration = Duration::from_millis(40);

/// Reads records of one desk in a thread of its own.
pub(crate) struct Reader {
    desk: Arc<Desk>,
    threads: usize,
    state: Arc<Mutex<State>>,
}

enum State {
    /// Nobody reads, and nothing went wrong.
    Idle,
    Reading,
    /// Somebody's record couldn't be read, which is yet to be told.
    Failed(ServiceError),
}

impl Reader {
    /// One that reads on this machine of so many threads, and leaves one to those who ask for pages.
    pub(crate) fn new(desk: Arc<Desk>, threads: usize) -> Reader {
        let threads = threads.saturating_sub(1).max(1);
        Reader { desk, threads, state: Arc::new(Mutex::new(State::Idle)) }
    }

    /// Reads whoever hasn't been read, unless that is under way.
    pub(crate) fn begin(&self) {
        let mut state = locked(&self.state);
        if matches!(*state, State::Reading) {
            return;
        }
        *state = State::Reading;
        let (desk, threads, told) = (Arc::clone(&self.desk), self.threads, Arc::clone(&self.state));
        let reading = thread::Builder::new().spawn(move || {
            let ended = EndsIdle(&told);
            step_back();
            if let Err(error) = desk.read_everybody(threads, &mut |_, _| ()) {
                ended.failed(error);
            }
        });
        if reading.is_err() {
            // No thread is to be had now; the next page that asks tries again.
            *state = State::Idle;
        }
    }

    /// All lifters; after a moment's patience, those who have been read.
    pub(crate) fn squad(&self, today: Date) -> Result<SquadView, ServiceError> {
        let begun = Instant::now();
        loop {
            let view = self.desk.squad_so_far(today)?;
            if view.unread.is_empty() {
                return Ok(view);
            }
            if let Some(error) = self.take_error() {
                return Err(error);
            }
            self.begin();
            if begun.elapsed() > PATIENCE {
                return Ok(view);
            }
            thread::sleep(LOOK);
        }
    }

    /// Lets nobody be read any more, and waits until whoever is being read has been, but no longer than `grace`.
    pub(crate) fn end(&self, grace: Duration) {
        self.desk.read_nobody_more();
        let begun = Instant::now();
        while matches!(*locked(&self.state), State::Reading) && begun.elapsed() < grace {
            thread::sleep(LOOK);
        }
    }

    fn take_error(&self) -> Option<ServiceError> {
        let mut state = locked(&self.state);
        match std::mem::replace(&mut *state, State::Idle) {
            State::Failed(error) => Some(error),
            other => {
                *state = other;
                None
            }
        }
    }
}

/// Lets the next reading begin once this one is over, however it ended.
struct EndsIdle<'a>(&'a Mutex<State>);

impl EndsIdle<'_> {
    fn failed(&self, error: ServiceError) {
        *locked(self.0) = State::Failed(error);
    }
}

impl Drop for EndsIdle<'_> {
    fn drop(&mut self) {
        let mut state = locked(self.0);
        if matches!(*state, State::Reading) {
            *state = State::Idle;
        }
    }
}

/// A panic while this was held can't leave it half changed.
fn locked(state: &Mutex<State>) -> MutexGuard<'_, State> {
    state.lock().unwrap_or_else(PoisonError::into_inner)
}

#[cfg(test)]
mod tests {
    use domain::{Lifter, LifterName, Unit};
    use jiff::Timestamp;
    use jiff::civil::date;
    use service::Store;

    use super::*;

    #[test]
    fn everybody_is_read_in_the_background_and_whoever_comes_later_too() {
        let folder = tempfile::tempdir().unwrap();
        let store = Store::open(&folder.path().join("record.bellwether")).unwrap();
        let add = |store: &Store, name: &str| {
            let lifter = Lifter::usual(LifterName::new(name).unwrap(), Unit::Kg);
            store.put_lifter(&lifter, Timestamp::UNIX_EPOCH).unwrap();
        };
        add(&store, "Anna Birk");
        let desk = Arc::new(Desk::new(store));
        let today = date(2031, 5, 4);
        let so_far = || desk.squad_so_far(today).unwrap();
        assert_eq!((so_far().lifters.len(), so_far().unread), (0, vec!["Anna Birk".to_owned()]));
        let reader = Reader::new(Arc::clone(&desk), 1);
        let squad = reader.squad(today).unwrap();
        assert_eq!((squad.lifters.len(), squad.unread.len()), (1, 0));
        add(desk.store(), "Bo Ek");
        assert_eq!(so_far().unread, ["Bo Ek"]);
        assert_eq!(reader.squad(today).unwrap().lifters.len(), 2);
    }

    #[test]
    fn a_record_that_cannot_be_read_is_told_and_tried_again_at_the_next_look() {
        let folder = tempfile::tempdir().unwrap();
        let store = Store::open(&folder.path().join("record.bellwether")).unwrap();
        let mut import = store.begin_import("a log", Timestamp::UNIX_EPOCH).unwrap();
        let lifter = Lifter::usual(LifterName::new("Anna Birk").unwrap(), Unit::Kg);
        import.add_lifter_if_missing(&lifter).unwrap();
        import.add_lift_file("[[lift]]").unwrap();
        import.commit().unwrap();
        let reader = Reader::new(Arc::new(Desk::new(store)), 2);
        for _ in 0..2 {
            assert!(reader.squad(date(2031, 5, 4)).is_err());
        }
    }
}
