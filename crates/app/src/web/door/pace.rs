//! Slows down whoever tries wrong links and wrong keys.
//!
//! Only the answer to a wrong one waits, and what is right is never looked at here: nobody who has a link
//! that opens something is held up or shut out by what others try. Tokens and keys have 160 random bits, so that
//! none is found by trying at any speed; slowness spares the desk the work and makes the tries plain.
//!
//! Tries are counted in buckets that leak: one for each peer and one for all. What waits holds no thread, and so many
//! may wait at once; more are turned away at once.

use std::collections::BTreeMap;
use std::net::IpAddr;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

/// The longest that an answer waits.
const LONGEST: Duration = Duration::from_secs(4);
/// What a peer may get wrong before it is slowed: a link typed by hand, an old bookmark.
const FREE: f64 = 3.0;
/// The first wait; each further try doubles it.
const FIRST: Duration = Duration::from_millis(250);
/// How fast a peer's tries are forgotten, a second.
const LEAK: f64 = 1.0 / 20.0;
/// What all together may get wrong before everybody is slowed.
const FREE_FOR_ALL: f64 = 30.0;
/// How fast the tries of all are forgotten, a second.
const LEAK_OF_ALL: f64 = 1.0;
/// How many peers are remembered.
const MOST_PEERS: usize = 1024;
/// How many answers may wait at once.
const MOST_WAITING: usize = 64;

/// Who got how much wrong lately.
#[derive(Debug, Default)]
pub(super) struct Pace(Arc<Mutex<Counts>>);

#[derive(Debug, Default)]
struct Counts {
    peers: BTreeMap<IpAddr, Bucket>,
    all: Option<Bucket>,
    waiting: usize,
}

#[derive(Clone, Copy, Debug)]
struct Bucket {
    level: f64,
    at: Instant,
}

/// A place among those who wait; given back when it is dropped.
#[derive(Debug)]
pub(super) struct Wait {
    pub(super) time: Duration,
    counts: Arc<Mutex<Counts>>,
}

impl Drop for Wait {
    fn drop(&mut self) {
        self.counts.lock().unwrap_or_else(PoisonError::into_inner).waiting -= 1;
    }
}

impl Pace {
    /// Counts something wrong from a peer, and says how long its answer waits; none if too many wait.
    pub(super) fn wrong(&self, peer: IpAddr, now: Instant) -> Option<Wait> {
        let mut counts = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let peer = neighbourhood(peer);
        let bucket = Bucket::filled(counts.peers.get(&peer).copied(), LEAK, now);
        if !counts.peers.contains_key(&peer) && counts.peers.len() >= MOST_PEERS {
            counts.forget_one(now);
        }
        counts.peers.insert(peer, bucket);
        let all = Bucket::filled(counts.all, LEAK_OF_ALL, now);
        counts.all = Some(all);
        if counts.waiting >= MOST_WAITING {
            return None;
        }
        counts.waiting += 1;
        let time = doubled(bucket.level - FREE).max(doubled((all.level - FREE_FOR_ALL) / 10.0));
        Some(Wait { time, counts: Arc::clone(&self.0) })
    }
}

impl Counts {
    /// Forgets the peer with the least to remember.
    fn forget_one(&mut self, now: Instant) {
        let left = |bucket: &Bucket| bucket.left(LEAK, now);
        let least = self.peers.iter().min_by(|a, b| left(a.1).total_cmp(&left(b.1)));
        if let Some(peer) = least.map(|(peer, _)| *peer) {
            self.peers.remove(&peer);
        }
    }
}

impl Bucket {
    fn left(&self, leak: f64, now: Instant) -> f64 {
        (self.level - leak * now.saturating_duration_since(self.at).as_secs_f64()).max(0.0)
    }

    fn filled(before: Option<Bucket>, leak: f64, now: Instant) -> Bucket {
        // A level past which the wait is the longest anyway needs no counting.
        let level = before.map_or(0.0, |bucket| bucket.left(leak, now)).min(100.0) + 1.0;
        Bucket { level, at: now }
    }
}

/// Nothing up to 0, then [`FIRST`], doubled with each whole step.
fn doubled(over: f64) -> Duration {
    if over <= 0.0 {
        return Duration::ZERO;
    }
    FIRST.mul_f64(2_f64.powf((over.ceil() - 1.0).min(10.0))).min(LONGEST)
}

/// One address of IPv4, or a network of IPv6 as one household has it (64 bits).
fn neighbourhood(peer: IpAddr) -> IpAddr {
    match peer.to_canonical() {
        IpAddr::V6(peer) => {
            let mut parts = peer.segments();
            parts[4..].fill(0);
            IpAddr::from(parts)
        }
        peer => peer,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const ONE: IpAddr = IpAddr::V4(std::net::Ipv4Addr::new(192, 0, 2, 1));
    const OTHER: IpAddr = IpAddr::V4(std::net::Ipv4Addr::new(192, 0, 2, 2));

    fn waits(pace: &Pace, peer: IpAddr, now: Instant) -> u128 {
        pace.wrong(peer, now).unwrap().time.as_millis()
    }

    #[test]
    fn each_wrong_try_after_the_third_waits_twice_as_long_up_to_four_seconds() {
        let (pace, now) = (Pace::default(), Instant::now());
        let times: Vec<u128> = (0..10).map(|_| waits(&pace, ONE, now)).collect();
        assert_eq!(times, [0, 0, 0, 250, 500, 1000, 2000, 4000, 4000, 4000]);
        assert_eq!(waits(&pace, OTHER, now), 0);
        // Tries are forgotten: one in twenty seconds.
        assert_eq!(waits(&pace, ONE, now + Duration::from_secs(160)), 0);
        assert_eq!(waits(&pace, ONE, now + Duration::from_secs(160)), 250);
    }

    #[test]
    fn many_peers_together_are_slowed_too() {
        let (pace, now) = (Pace::default(), Instant::now());
        let peer = |number: u32| IpAddr::from(number.to_be_bytes());
        for number in 0..30 {
            assert_eq!(waits(&pace, peer(number), now), 0, "{number}");
        }
        assert_eq!(waits(&pace, peer(30), now), 250);
        for number in 31..100 {
            waits(&pace, peer(number), now);
        }
        assert_eq!(waits(&pace, peer(100), now), 4000);
        assert_eq!(waits(&pace, peer(101), now + Duration::from_secs(101)), 0);
    }

    #[test]
    fn a_household_of_ipv6_is_one_peer_and_a_mapped_address_is_the_one_it_stands_for() {
        let (pace, now) = (Pace::default(), Instant::now());
        for last in 1..=3 {
            waits(&pace, format!("2001:db8:0:1::{last}").parse().unwrap(), now);
        }
        assert_eq!(waits(&pace, "2001:db8:0:1:ffff::9".parse().unwrap(), now), 250);
        assert_eq!(waits(&pace, "2001:db8:0:2::1".parse().unwrap(), now), 0);
        for _ in 0..3 {
            waits(&pace, ONE, now);
        }
        assert_eq!(waits(&pace, "::ffff:192.0.2.1".parse().unwrap(), now), 250);
    }

    #[test]
    fn memory_is_bounded_and_the_worst_are_remembered() {
        let (pace, now) = (Pace::default(), Instant::now());
        for _ in 0..5 {
            waits(&pace, ONE, now);
        }
        for number in 0..3000_u32 {
            drop(pace.wrong(IpAddr::from((0x0a00_0000 + number).to_be_bytes()), now));
        }
        assert_eq!(pace.0.lock().unwrap().peers.len(), MOST_PEERS);
        assert!(pace.0.lock().unwrap().peers.contains_key(&ONE));
    }

    #[test]
    fn so_many_wait_at_once_and_places_are_given_back() {
        let (pace, now) = (Pace::default(), Instant::now());
        let held: Vec<Wait> = (0..MOST_WAITING).map(|_| pace.wrong(ONE, now).unwrap()).collect();
        assert!(pace.wrong(OTHER, now).is_none());
        drop(held);
        assert!(pace.wrong(OTHER, now).is_some());
    }
}
