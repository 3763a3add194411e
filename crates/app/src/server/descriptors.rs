//! How many files and connections the system lets this process hold open.

/// Raises the limit on open files as far as the system lets any process do, and gives what it is now; none
/// where that can't be asked.
#[cfg(unix)]
#[must_use]
pub fn raise_descriptor_limit() -> Option<usize> {
    use rustix::process::{Resource, getrlimit, setrlimit};

    /// More than anything here needs. Some systems refuse a limit without an end.
    const ENOUGH: u64 = 16_384;
    let mut limit = getrlimit(Resource::Nofile);
    let before = limit.current;
    let wanted = limit.maximum.unwrap_or(ENOUGH).min(ENOUGH);
    if before.is_some_and(|before| before < wanted) {
        limit.current = Some(wanted);
        if setrlimit(Resource::Nofile, limit).is_err() {
            limit.current = before;
        }
    }
    Some(limit.current.map_or(usize::MAX, |now| usize::try_from(now).unwrap_or(usize::MAX)))
}

/// Raises the limit on open files as far as the system lets any process do, and gives what it is now; none
/// where that can't be asked.
#[cfg(not(unix))]
#[must_use]
pub fn raise_descriptor_limit() -> Option<usize> {
    None
}
