//! Links that let one browser in, once: printed when the desk starts, or made on the page of browsers.
//!
//! They live in memory, by their hashes, and end with the desk, with the key, and by themselves. What stays in
//! a browser's history or in somebody's log afterwards opens nothing.

use std::sync::{Mutex, PoisonError};

use jiff::{SignedDuration, Timestamp};
use sha2::{Digest, Sha256};

/// How many may wait to be used.
const MOST: usize = 16;

#[derive(Debug, Default)]
pub(super) struct OneTimeLinks(Mutex<Vec<Waiting>>);

#[derive(Debug)]
struct Waiting {
    hash: [u8; 32],
    /// The mark of the key under which it was made.
    key: String,
    ends: Timestamp,
}

impl OneTimeLinks {
    /// Lets a token wait; of too many, those that waited longest are dropped.
    pub(super) fn add(&self, token: &str, key: String, now: Timestamp, lives: SignedDuration) {
        let mut links = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        links.retain(|link| link.ends > now);
        if links.len() >= MOST {
            links.remove(0);
        }
        let ends = now.saturating_add(lives).unwrap_or(now);
        links.push(Waiting { hash: Sha256::digest(token).into(), key, ends });
    }

    /// Whether a token would let somebody in.
    pub(super) fn is_open(&self, token: &str, key: Option<&str>, now: Timestamp) -> bool {
        let links = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        place(&links, token, key, now).is_some()
    }

    /// Uses a token up; whether it was there to be used.
    pub(super) fn take(&self, token: &str, key: Option<&str>, now: Timestamp) -> bool {
        let mut links = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let found = place(&links, token, key, now);
        found.map(|place| links.remove(place)).is_some()
    }
}

fn place(links: &[Waiting], token: &str, key: Option<&str>, now: Timestamp) -> Option<usize> {
    let hash: [u8; 32] = Sha256::digest(token).into();
    links.iter().position(|link| {
        link.hash == hash && link.ends > now && key.is_some_and(|key| key == link.key)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(second: i64) -> Timestamp {
        Timestamp::from_second(1_900_000_000 + second).unwrap()
    }

    fn add(links: &OneTimeLinks, token: &str) {
        links.add(token, "key".to_owned(), at(0), SignedDuration::from_secs(60));
    }

    #[test]
    fn a_link_opens_once_while_it_lasts_and_under_its_key() {
        let links = OneTimeLinks::default();
        add(&links, "one");
        assert!(links.is_open("one", Some("key"), at(59)));
        assert!(!links.is_open("one", Some("key"), at(60)));
        assert!(!links.take("one", Some("another key"), at(1)));
        assert!(!links.take("one", None, at(1)));
        assert!(!links.take("two", Some("key"), at(1)));
        assert!(links.take("one", Some("key"), at(1)));
        assert!(!links.take("one", Some("key"), at(1)));
    }

    #[test]
    fn few_links_wait() {
        let links = OneTimeLinks::default();
        for number in 0..=MOST {
            add(&links, &number.to_string());
        }
        assert!(!links.is_open("0", Some("key"), at(1)));
        assert!(links.is_open("1", Some("key"), at(1)));
        assert_eq!(links.0.lock().unwrap().len(), MOST);
    }
}
