//! What the door needs of this machine, and the door of a desk that is served.

use std::net::{IpAddr, SocketAddr};
use std::path::Path;

use jiff::Timestamp;

use super::exit::Failure;
use super::{clock, entropy, neighbours};
use crate::web::door::{Browsers, Door, Key, Machine, OpenTo};

/// The clock, the system's random numbers, and its table of connections.
pub(crate) struct ThisMachine;

impl Machine for ThisMachine {
    fn now(&self) -> Timestamp {
        clock::now()
    }

    fn token(&self) -> Result<String, String> {
        entropy::token().map_err(|failure| failure.to_string())
    }

    fn is_own_user(&self, peer: SocketAddr, port: u16) -> Option<bool> {
        neighbours::is_own_user(peer, port)
    }
}

/// How the desk is reached.
#[derive(Clone, Debug)]
pub(crate) struct Reached {
    /// Where it listens.
    pub(crate) at: SocketAddr,
    /// The address for phones and for the coach's other browsers, if it was given or can be told.
    pub(crate) address: Option<String>,
    /// Whether the key is asked for at this machine too, though nobody else can come.
    pub(crate) always_by_key: bool,
}

impl Reached {
    /// To whom the desk is open without a key: to this machine only if nobody else can come, neither directly nor
    /// through a proxy for the address that was given.
    pub(crate) fn open_to(&self) -> OpenTo {
        let is_for_others = self.address.is_some() || !is_loopback(self.at.ip());
        match is_for_others || self.always_by_key {
            true => OpenTo::Nobody,
            false => OpenTo::ThisMachine { port: self.at.port() },
        }
    }

    /// The desk's own address for whoever sits at this machine.
    pub(crate) fn here(&self) -> String {
        let ip = match self.at.ip().to_canonical() {
            IpAddr::V4(ip) if ip.is_unspecified() => IpAddr::from([127, 0, 0, 1]),
            IpAddr::V6(ip) if ip.is_unspecified() => IpAddr::from(std::net::Ipv6Addr::LOCALHOST),
            ip => ip,
        };
        format!("http://{}", SocketAddr::new(ip, self.at.port()))
    }

    /// Its address from other machines, if there is one.
    pub(crate) fn outside(&self) -> Option<String> {
        let listened = || (!is_loopback(self.at.ip())).then(|| format!("http://{}", self.at));
        self.address.clone().or_else(listened)
    }
}

fn is_loopback(ip: IpAddr) -> bool {
    ip.to_canonical().is_loopback()
}

/// The door of the desk of a record. Where nothing can be written beside it, key and browsers last for this run.
pub(crate) fn door(record: &Path, reached: &Reached) -> Result<Door, Failure> {
    let drawn = || entropy::token().map_err(|failure| failure.to_string());
    let (key, browsers) = match Key::beside(record, drawn) {
        Ok(key) => (key, Browsers::beside(record)),
        Err(_) => (Key::in_memory(entropy::token()?), Browsers::in_memory()),
    };
    let (address, open_to) = (reached.address.clone(), reached.open_to());
    Ok(Door::new(key, browsers, address, open_to, Box::new(ThisMachine)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn open_to(at: &str, address: Option<&str>, always_by_key: bool) -> OpenTo {
        let address = address.map(str::to_owned);
        Reached { at: at.parse().unwrap(), address, always_by_key }.open_to()
    }

    #[test]
    fn only_a_desk_that_nobody_else_can_reach_is_open_without_a_key() {
        let here = OpenTo::ThisMachine { port: 8734 };
        for at in ["127.0.0.1:8734", "127.0.0.2:8734", "[::1]:8734", "[::ffff:127.0.0.1]:8734"] {
            assert_eq!(open_to(at, None, false), here, "{at}");
            assert_eq!(open_to(at, Some("https://gym.example"), false), OpenTo::Nobody, "{at}");
            assert_eq!(open_to(at, None, true), OpenTo::Nobody, "{at}");
        }
        for at in ["0.0.0.0:8734", "[::]:8734", "192.168.1.5:8734", "[::ffff:192.168.1.5]:8734"] {
            assert_eq!(open_to(at, None, false), OpenTo::Nobody, "{at}");
        }
    }

    #[test]
    fn a_desk_that_listens_everywhere_is_at_this_machines_own_name_here() {
        let here = |at: &str| {
            Reached { at: at.parse().unwrap(), address: None, always_by_key: false }.here()
        };
        assert_eq!(here("0.0.0.0:80"), "http://127.0.0.1:80");
        assert_eq!(here("[::]:80"), "http://[::1]:80");
        assert_eq!(here("192.168.1.5:80"), "http://192.168.1.5:80");
    }
}
