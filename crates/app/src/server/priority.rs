//! Whose turn it is on the processors when there is more to do than they can.

/// How many threads may work for pages at once on a machine that runs so many: all of them where they can step
/// back, and one fewer elsewhere, so that one is left for everything else.
#[must_use]
pub fn threads_for_pages(at_once: usize) -> usize {
    let kept_free = usize::from(!cfg!(target_os = "linux"));
    at_once.saturating_sub(kept_free).max(1)
}

/// Lets this thread, and those that it starts, step back for all others of the program where the system can
/// do that for a single thread (Linux): what is worked out for pages then holds up nothing that is written.
pub fn step_back() {
    /// Of 19. About a tenth of the time of an ordinary thread stays where both want all of it (sched(7)).
    #[cfg(target_os = "linux")]
    const NICENESS: i32 = 10;
    // Nothing depends on it but who waits for whom.
    #[cfg(target_os = "linux")]
    rustix::process::setpriority_process(None, NICENESS).ok();
}
