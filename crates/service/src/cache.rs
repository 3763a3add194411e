//! The last answers to a question that takes long, by what was asked.

use std::sync::{Mutex, MutexGuard, PoisonError};

/// How many answers are held: what is in force, and what is being tried.
const HELD: usize = 2;

/// Holds the latest answers. A clone starts with them and goes its own way.
#[derive(Debug)]
pub(crate) struct Memo<K, V>(Mutex<Vec<(K, V)>>);

impl<K: PartialEq + Clone, V: Clone> Memo<K, V> {
    /// The answer to `key`, held or made now. `make` must depend on nothing that can change under the same key.
    pub(crate) fn get_or_make(&self, key: K, make: impl FnOnce() -> V) -> V {
        let held = self.held().iter().find(|(known, _)| *known == key).cloned();
        if let Some((_, value)) = held {
            return value;
        }
        let value = make();
        let mut held = self.held();
        if held.len() == HELD {
            held.remove(0);
        }
        held.push((key, value.clone()));
        value
    }

    /// Entries go in and out whole, so a panic while this was held leaves it as it was.
    fn held(&self) -> MutexGuard<'_, Vec<(K, V)>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl<K, V> Default for Memo<K, V> {
    fn default() -> Memo<K, V> {
        Memo(Mutex::new(Vec::new()))
    }
}

impl<K: PartialEq + Clone, V: Clone> Clone for Memo<K, V> {
    fn clone(&self) -> Memo<K, V> {
        Memo(Mutex::new(self.held().clone()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_question_is_answered_from_memory_and_another_anew() {
        let memo = Memo::default();
        assert_eq!(memo.get_or_make(1, || "one"), "one");
        assert_eq!(memo.get_or_make(1, || "another"), "one");
        assert_eq!(memo.get_or_make(2, || "two"), "two");
        assert_eq!(memo.clone().get_or_make(1, || "another"), "one");
        assert_eq!(memo.get_or_make(3, || "three"), "three");
        assert_eq!(memo.get_or_make(1, || "forgotten by now"), "forgotten by now");
    }
}
