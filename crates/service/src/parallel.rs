//! Working on several lifters at once: threads that take from one list, and results handed over as they
//! come.
//!
//! Nothing here decides in which order things are done; whoever needs an order puts the results into it.

use std::sync::{Mutex, PoisonError, mpsc};

/// Does `work` on every item, on so many threads (at least 1, and no more than there are items), and hands
/// each result to `take`, here, as soon as it is there.
///
/// # Errors
/// Whatever `take` answers with; items that nobody has begun are then left.
pub(crate) fn at_once<T: Send, R: Send, E>(
    threads: usize,
    items: Vec<T>,
    work: impl Fn(T) -> R + Sync,
    mut take: impl FnMut(R) -> Result<(), E>,
) -> Result<(), E> {
    let n_threads = threads.clamp(1, items.len().max(1));
    let waiting = Mutex::new(items.into_iter());
    let (done, results) = mpsc::channel();
    std::thread::scope(|scope| {
        for _ in 0..n_threads {
            let (done, waiting, work) = (done.clone(), &waiting, &work);
            scope.spawn(move || {
                // A worker that fell over left the list of those waiting whole.
                let next = || waiting.lock().unwrap_or_else(PoisonError::into_inner).next();
                while let Some(item) = next() {
                    if done.send(work(item)).is_err() {
                        return; // nobody waits for results any more
                    }
                }
            });
        }
        drop(done);
        results.into_iter().try_for_each(&mut take)
    })
}

#[cfg(test)]
mod tests {
    use super::at_once;

    #[test]
    fn every_item_is_worked_on_once_whatever_the_number_of_threads() {
        for threads in [0, 1, 3, 64] {
            let mut got = Vec::new();
            let ended = at_once(
                threads,
                (0..10).collect(),
                |n: i32| n * n,
                |square| {
                    got.push(square);
                    Ok::<_, ()>(())
                },
            );
            got.sort_unstable();
            assert_eq!((ended, got), (Ok(()), (0..10).map(|n| n * n).collect()));
        }
        assert_eq!(
            at_once(2, Vec::<i32>::new(), |n| n, |_| Err("there is nothing to take")),
            Ok(())
        );
    }

    #[test]
    fn an_error_ends_it_and_leaves_the_rest() {
        let begun = std::sync::atomic::AtomicUsize::new(0);
        let count = |n| {
            begun.fetch_add(1, std::sync::atomic::Ordering::SeqCst);
            std::thread::sleep(std::time::Duration::from_millis(5));
            n
        };
        let ended =
            at_once(2, (0..400).collect(), count, |n: i32| if n == 0 { Err(n) } else { Ok(()) });
        assert_eq!(ended, Err(0));
        assert!(begun.into_inner() < 400);
    }
}
