//! Who asks: the name by which the desk was reached, where a form was sent from, and whether it is the person
//! at this very machine.

use std::net::{IpAddr, SocketAddr};

use axum::body::Body;
use axum::extract::{ConnectInfo, Request};
use axum::http::header::{COOKIE, HOST, HeaderName, ORIGIN, USER_AGENT};
use axum::http::{HeaderMap, Method};

use super::agent;

/// Endings of names that only a local network gives, where nobody else can let one lead here.
const LOCAL: [&str; 4] = [".local", ".lan", ".home.arpa", ".internal"];

/// Headers by which a proxy says that it speaks for somebody else; those that begin with `x-forwarded-` too.
const FORWARDED: [&str; 3] = ["forwarded", "x-real-ip", "via"];

/// Whoever sent a request.
#[derive(Clone, Debug)]
pub(super) struct Caller {
    peer: Option<SocketAddr>,
    host: Host,
    headers: HeaderMap,
}

/// A name or an address in numbers, with a port perhaps.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Host {
    name: String,
    port: Option<u16>,
}

impl Host {
    /// Reads what stands in a Host header or between the slashes of an address.
    fn read(text: &str) -> Option<Host> {
        let (name, rest) = match text.strip_prefix('[') {
            Some(rest) => rest.split_once(']').filter(|(name, _)| name.contains(':'))?,
            None => text.split_at(text.find(':').unwrap_or(text.len())),
        };
        let port = match rest.strip_prefix(':') {
            Some(port) => Some(port.parse().ok()?),
            None if rest.is_empty() => None,
            None => return None,
        };
        let is_sound = |letter: char| letter.is_ascii_alphanumeric() || "-._:".contains(letter);
        (!name.is_empty() && name.chars().all(is_sound))
            .then(|| Host { name: name.to_ascii_lowercase(), port })
    }

    /// The host of a site's address, such as `https://gym.example`, with its port.
    fn of_site(address: &str) -> Option<Host> {
        let (scheme, host) = address.split_once("://")?;
        Host::read(host).map(|host| host.with_port_of(scheme))
    }

    fn with_port_of(self, scheme: &str) -> Host {
        let usual = if scheme.eq_ignore_ascii_case("https") { 443 } else { 80 };
        Host { port: self.port.or(Some(usual)), ..self }
    }

    /// The port, if it was named.
    pub(super) fn port(&self) -> Option<u16> {
        self.port
    }

    fn ip(&self) -> Option<IpAddr> {
        self.name.parse::<IpAddr>().ok().map(|ip| ip.to_canonical())
    }

    /// Whether it means to every machine that machine itself.
    fn is_own(&self) -> bool {
        self.name == "localhost" || self.ip().is_some_and(|ip| ip.is_loopback())
    }

    /// Whether this site, such as `https://gym.example`, is at this host.
    fn is_at(&self, site: &str) -> bool {
        site.split_once("://").is_some_and(|(scheme, _)| {
            Host::of_site(site) == Some(self.clone().with_port_of(scheme))
        })
    }

    /// Whether it can be a name of this desk: an address in numbers, a name that only a local network can
    /// give, or the address that was given. Any other name may be somebody's that leads here on purpose.
    pub(super) fn is_of_desk(&self, address: Option<&str>) -> bool {
        self.ip().is_some()
            || !self.name.contains('.')
            || LOCAL.iter().any(|end| self.name.ends_with(end))
            || address.is_some_and(|address| self.is_at(address))
    }
}

impl std::fmt::Display for Host {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let name = &self.name;
        if name.contains(':') {
            write!(f, "[{name}]")?
        } else {
            write!(f, "{name}")?
        }
        self.port.map_or(Ok(()), |port| write!(f, ":{port}"))
    }
}

impl Caller {
    /// Whoever sent this request; none if it doesn't say what it asks.
    pub(super) fn of(request: &Request<Body>) -> Option<Caller> {
        let headers = request.headers();
        let mut hosts = headers.get_all(HOST).iter();
        let header = hosts.next().map(|host| host.to_str()).transpose().ok()?;
        if hosts.next().is_some() {
            return None; // RFC 9112, 3.2
        }
        // A whole address in the first line overrides the header (RFC 9112, 3.2.2).
        let host = request.uri().authority().map(|host| host.as_str()).or(header)?;
        let peer = request.extensions().get::<ConnectInfo<SocketAddr>>().map(|info| info.0);
        Some(Caller { peer, host: Host::read(host)?, headers: headers.clone() })
    }

    pub(super) fn host(&self) -> &Host {
        &self.host
    }

    /// The address of the other end; of nobody if it isn't known.
    pub(super) fn ip(&self) -> IpAddr {
        self.peer.map_or(IpAddr::from([0, 0, 0, 0]), |peer| peer.ip())
    }

    /// Whether a request that changes something was sent by one of these pages. Browsers say where a form
    /// was sent from; who says nothing isn't one of them.
    pub(super) fn is_from_here(&self, address: Option<&str>) -> bool {
        let site = self.text(HeaderName::from_static("sec-fetch-site"));
        if site.is_some_and(|site| site != "same-origin") {
            return false;
        }
        match self.text(ORIGIN) {
            None | Some("null") => site.is_some(),
            // Behind a proxy that doesn't hand on the name, only the given address agrees.
            Some(origin) => {
                let given = address.and_then(Host::of_site);
                self.host.is_at(origin) || given.is_some_and(|given| given.is_at(origin))
            }
        }
    }

    /// Whether another site led here.
    pub(super) fn comes_from_elsewhere(&self) -> bool {
        self.text(HeaderName::from_static("sec-fetch-site")) == Some("cross-site")
    }

    /// Whether it is the person who runs the desk, at this very machine: the connection comes from it, under its
    /// own name and the port that is listened at, no proxy says that it speaks for somebody else, and
    /// the connection doesn't belong to another user.
    pub(super) fn is_at_this_machine(
        &self,
        port: u16,
        is_own_user: impl Fn(SocketAddr) -> Option<bool>,
    ) -> bool {
        let Some(peer) = self.peer else { return false };
        peer.ip().to_canonical().is_loopback()
            && self.host.is_own()
            && self.host.port.unwrap_or(80) == port
            && !self.is_forwarded()
            && is_own_user(peer) != Some(false)
    }

    fn is_forwarded(&self) -> bool {
        let names = self.headers.keys().map(HeaderName::as_str);
        names.into_iter().any(|name| name.starts_with("x-forwarded-") || FORWARDED.contains(&name))
    }

    /// Whether its browser sees the desk under HTTPS, as far as can be seen from here. A caller who says so
    /// and lies harms nobody but itself.
    pub(super) fn is_under_https(&self, address: Option<&str>) -> bool {
        let is_https = |site: &str| site.starts_with("https://");
        address.is_some_and(|address| is_https(address) && self.host.is_at(address))
            || self.text(HeaderName::from_static("x-forwarded-proto")) == Some("https")
            || self.text(ORIGIN).is_some_and(is_https)
    }

    /// The values of the cookies of this name.
    pub(super) fn cookies(&self, name: &str) -> impl Iterator<Item = &str> {
        self.headers
            .get_all(COOKIE)
            .iter()
            .filter_map(|cookie| cookie.to_str().ok())
            .flat_map(|cookies| cookies.split(';'))
            .filter_map(|cookie| cookie.trim().split_once('='))
            .filter_map(move |(found, value)| (found == name).then_some(value))
    }

    /// The browser in plain words.
    pub(super) fn browser(&self) -> String {
        agent::in_words(self.text(USER_AGENT).unwrap_or_default())
    }

    fn text(&self, name: HeaderName) -> Option<&str> {
        self.headers.get(name).and_then(|value| value.to_str().ok())
    }
}

/// Whether this method asks for something and changes nothing.
pub(super) fn is_safe(method: &Method) -> bool {
    matches!(*method, Method::GET | Method::HEAD | Method::OPTIONS)
}

/// Whether a site's address, such as `http://127.0.0.1:8734`, means to every machine that machine itself.
pub(in crate::web) fn is_own_site(address: &str) -> bool {
    Host::of_site(address).is_some_and(|host| host.is_own())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn host(text: &str) -> Host {
        Host::read(text).unwrap()
    }

    #[test]
    fn hosts_are_read_whole_or_not_at_all() {
        for text in
            ["localhost", "127.0.0.1:8734", "[::1]:8734", "[::1]", "desk.local", "a-b_c.example:1"]
        {
            assert_eq!(host(text).to_string(), text);
        }
        assert_eq!(host("GYM.Example:80"), host("gym.example:80"));
        for text in [
            "",
            ":80",
            "a:b",
            "a:80:90",
            "a:99999",
            "a:",
            "[::1",
            "[::1]x",
            "[localhost]",
            "a b",
            "a@b",
            "127.0.0.1:80@elsewhere.example",
            "a/b",
            "elsewhere.example#.local",
            "ä",
        ] {
            assert_eq!(Host::read(text), None, "{text}");
        }
    }

    #[test]
    fn this_machines_own_names_are_few() {
        for own in [
            "localhost",
            "LOCALHOST:1",
            "127.0.0.1",
            "127.8.9.1:1",
            "[::1]:1",
            "[::ffff:127.0.0.1]",
        ] {
            assert!(host(own).is_own(), "{own}");
        }
        for other in [
            "192.168.1.5",
            "0.0.0.0",
            "8.8.8.8:8734",
            "[fe80::1]",
            "[::ffff:192.168.1.5]",
            "[::]",
            "desk.local",
            "localhost.example",
            "127.0.0.1.example",
            "localhost.",
            "2130706433",
        ] {
            assert!(!host(other).is_own(), "{other}");
        }
        assert!(is_own_site("http://127.0.0.1:8734") && is_own_site("http://localhost"));
        assert!(!is_own_site("http://192.168.1.5:8734") && !is_own_site("127.0.0.1"));
    }

    #[test]
    fn names_of_the_desk_are_numbers_local_names_and_the_given_address() {
        let given = Some("https://gym.example");
        for own in [
            "192.168.1.5:8734",
            "[2001:db8::1]:8734",
            "desk",
            "desk.local:8734",
            "desk.lan",
            "a.home.arpa",
            "a.internal",
            "gym.example",
            "gym.example:443",
            "GYM.example",
        ] {
            assert!(host(own).is_of_desk(given), "{own}");
        }
        for other in [
            "elsewhere.example",
            "gym.example:80",
            "gym.example:8734",
            "gym.example.evil",
            "local.example",
            "127.0.0.1.elsewhere.example",
            "xgym.example",
            "desk.local.",
        ] {
            assert!(!host(other).is_of_desk(given), "{other}");
        }
        assert!(!host("gym.example").is_of_desk(None));
        assert!(host("gym.example:8734").is_of_desk(Some("http://gym.example:8734")));
        assert!(host("gym.example").is_of_desk(Some("http://gym.example:80")));
    }
}
