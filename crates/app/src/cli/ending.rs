//! The end of a command that is told to end, by Ctrl-C or by the system: its store is closed first, so that it is one
//! whole file. What wasn't confirmed is taken back. What serves pages, and what has something to take away, ends by
//! itself.

use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, LazyLock, Mutex, MutexGuard, PoisonError};

use service::{Closer, Store};
use tokio::sync::watch;

/// The exit code of a program that Ctrl-C has ended: 128 and the signal's number, as shells have it.
const INTERRUPTED: i32 = 130;

static OPEN: Mutex<Vec<Closer>> = Mutex::new(Vec::new());
static ENDS_BY_ITSELF: AtomicBool = AtomicBool::new(false);
/// Whether stores are being closed, after which the program ends.
static IS_CLOSING: AtomicBool = AtomicBool::new(false);
static TOLD: LazyLock<watch::Sender<bool>> = LazyLock::new(|| watch::channel(false).0);

/// Listens from now on; to be called before anything is opened.
pub(crate) fn listen() {
    let (ready, listening) = std::sync::mpsc::sync_channel(1);
    let listener = move || {
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build();
        if let Ok(runtime) = runtime {
            runtime.block_on(signal(|| {
                ready.send(()).ok(); // somebody waits for it
            }));
            TOLD.send_replace(true);
            close_when_told();
        }
    };
    // Without a thread for it the program ends as any program does, and the next one folds the log in.
    if std::thread::Builder::new().spawn(listener).is_ok() {
        listening.recv().ok(); // an error if there is no runtime: as without a thread
    }
}

/// Opens a store, which is closed when the program is told to end. It doesn't end while the store is being opened.
pub(crate) fn watching<E>(open: impl FnOnce() -> Result<Store, E>) -> Result<Store, E> {
    let mut all = open_stores();
    let store = open()?;
    all.push(store.closer());
    Ok(store)
}

/// From now on somebody else sees to the end: whoever waits for [`told`].
pub(crate) fn ends_by_itself() {
    ENDS_BY_ITSELF.store(true, Ordering::SeqCst);
}

/// For work that ends by itself between two steps, since it has something to take away: set when the program is
/// told to end.
pub(crate) fn asked() -> Arc<AtomicBool> {
    ends_by_itself();
    let asked = Arc::new(AtomicBool::new(*TOLD.borrow()));
    let setting = Arc::clone(&asked);
    let waiting = std::thread::Builder::new().spawn(move || {
        let runtime = tokio::runtime::Builder::new_current_thread().build();
        if let Ok(runtime) = runtime {
            runtime.block_on(told());
            setting.store(true, Ordering::Relaxed);
        }
    });
    waiting.ok(); // without a thread the program ends as any does, and what is left is cleared away later
    asked
}

/// Waits until the program is told to end; at once if it was already.
pub(crate) async fn told() {
    TOLD.subscribe().wait_for(|told| *told).await.ok(); // its sender is never dropped
}

/// To be called when everything is done: waits for stores that are being closed at this moment, after which the
/// program ends elsewhere.
pub(crate) fn settle() {
    while IS_CLOSING.load(Ordering::SeqCst) {
        std::thread::park();
    }
}

/// Waits for Ctrl-C, or for the system's request to end; `ready` is called once neither ends the program by itself.
async fn signal(ready: impl FnOnce()) {
    #[cfg(unix)]
    {
        use tokio::signal::unix::{SignalKind, signal};
        if let (Ok(mut interrupt), Ok(mut terminate)) =
            (signal(SignalKind::interrupt()), signal(SignalKind::terminate()))
        {
            ready();
            tokio::select! {
                _ = interrupt.recv() => {}
                _ = terminate.recv() => {}
            }
            return;
        }
    }
    ready();
    tokio::signal::ctrl_c().await.ok();
}

fn close_when_told() {
    // Whoever is opening a store goes on until it is open.
    let all = open_stores();
    if ENDS_BY_ITSELF.load(Ordering::SeqCst) {
        return;
    }
    IS_CLOSING.store(true, Ordering::SeqCst);
    for store in all.iter() {
        store.close().ok(); // what isn't folded in is safe in the log
    }
    std::process::exit(INTERRUPTED);
}

fn open_stores() -> MutexGuard<'static, Vec<Closer>> {
    OPEN.lock().unwrap_or_else(PoisonError::into_inner)
}
