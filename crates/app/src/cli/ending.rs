//! The end of a command that is told to end, by Ctrl-C or by the system: its store is closed first, so that it is one
//! whole file. What wasn't confirmed is taken back. What serves pages ends by itself.

use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, Once, PoisonError};

use service::{Closer, Store};

use super::serve::told_to_end;

/// The exit code of a program that Ctrl-C has ended: 128 and the signal's number, as shells have it.
const INTERRUPTED: i32 = 130;

static OPEN: Mutex<Vec<Closer>> = Mutex::new(Vec::new());
static ENDS_BY_ITSELF: AtomicBool = AtomicBool::new(false);
static WATCHED: Once = Once::new();

/// Closes this store when the program is told to end.
pub(crate) fn watch(store: &Store) {
    OPEN.lock().unwrap_or_else(PoisonError::into_inner).push(store.closer());
    WATCHED.call_once(|| {
        // Without a thread for it the program ends as any program does, and the next one folds the log in.
        std::thread::Builder::new().spawn(close_when_told).ok();
    });
}

/// From now on somebody else sees to the end.
pub(crate) fn ends_by_itself() {
    ENDS_BY_ITSELF.store(true, Ordering::Relaxed);
}

/// For work that ends by itself between two steps, since it has something to take away: set when the program is
/// told to end.
pub(crate) fn asked() -> Arc<AtomicBool> {
    ends_by_itself();
    let asked = Arc::new(AtomicBool::new(false));
    let told = Arc::clone(&asked);
    let watching = std::thread::Builder::new().spawn(move || {
        if wait_till_told() {
            told.store(true, Ordering::Relaxed);
        }
    });
    watching.ok(); // without a thread the program ends as any does, and what is left is cleared away later
    asked
}

/// Whether the program was told to end.
fn wait_till_told() -> bool {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build();
    runtime.is_ok_and(|runtime| {
        runtime.block_on(told_to_end());
        true
    })
}

fn close_when_told() {
    if !wait_till_told() {
        return;
    }
    if ENDS_BY_ITSELF.load(Ordering::Relaxed) {
        return;
    }
    for store in OPEN.lock().unwrap_or_else(PoisonError::into_inner).iter() {
        store.close().ok(); // what isn't folded in is safe in the log
    }
    std::process::exit(INTERRUPTED);
}
