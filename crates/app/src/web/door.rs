//! Who may come in: the name by which the desk was reached, the coach or a phone, and from where a form
//! was sent.
//!
//! The coach's pages are open to this machine and to whoever came with the coach's own private link; a
//! token opens its lifter's page or calendar and nothing else. There are no accounts. A page on another site
//! can neither send a form here (Origin and Sec-Fetch-Site, W3C Fetch Metadata) nor pose as this desk by
//! a name of its own that leads to this machine (Host).

use std::net::{IpAddr, SocketAddr};
use std::sync::Arc;

use axum::Router;
use axum::body::Body;
use axum::extract::{ConnectInfo, Request, State};
use axum::http::header::{COOKIE, HOST, HeaderName, ORIGIN, SET_COOKIE};
use axum::http::{HeaderMap, Method, StatusCode};
use axum::middleware::{Next, from_fn_with_state};
use axum::response::{IntoResponse, Response};
use maud::html;

use super::error::sentence;
use super::layout::{self, Footer};

/// What the door knows.
#[derive(Clone, Debug)]
pub struct Door {
    /// The coach's key; none lets nobody in but this machine.
    pub coach_key: Option<String>,
    /// The address under which the desk was said to be reached, such as `https://gym.example`.
    pub address: Option<String>,
}

const COOKIE_NAME: &str = "bellwether_coach";

/// Puts the door before all pages.
pub fn behind(door: Door, pages: Router) -> Router {
    pages.layer(from_fn_with_state(Arc::new(door), at_the_door))
}

async fn at_the_door(State(door): State<Arc<Door>>, request: Request, next: Next) -> Response {
    let headers = request.headers();
    let host = host_of(&request);
    let path = request.uri().path();
    // Style is no secret, and whoever is turned away can read why.
    if path.starts_with("/assets/") && is_safe(request.method()) {
        return next.run(request).await;
    }
    if !door.knows(&host) {
        return turned_away(
            StatusCode::MISDIRECTED_REQUEST,
            "This desk isn't known by that name",
            "Use the address that it printed when it started, or name this one with `--address`.",
        );
    }
    if !is_safe(request.method()) && !is_from_here(headers, &host) {
        return turned_away(
            StatusCode::FORBIDDEN,
            "That didn't come from this desk's own pages",
            "Nothing was changed. Open the page here and send it again.",
        );
    }
    if let Some(key) = path.strip_prefix("/coach/") {
        return door.let_in(key);
    }
    let has_token = path.starts_with("/floor/") || path.starts_with("/calendar/");
    if has_token || is_this_machine(&request, &host) || door.knows_coach(headers) {
        return next.run(request).await;
    }
    turned_away(
        StatusCode::FORBIDDEN,
        "These are the coach's pages",
        "Open them on the computer that serves them, or by the coach's own private link, which it prints \
         when it starts. A lifter's page has a link of its own.",
    )
}

impl Door {
    /// Whether `host` can be a name of this desk: an address in numbers, a name that only a local network
    /// can give, or the name that was told. Any other name may be somebody's that leads here on purpose.
    fn knows(&self, host: &str) -> bool {
        const LOCAL: [&str; 4] = [".local", ".lan", ".home.arpa", ".internal"];
        let name = without_port(host);
        let told = self.address.as_deref().and_then(host_in);
        name.parse::<IpAddr>().is_ok()
            || !name.contains('.')
            || LOCAL.iter().any(|end| name.ends_with(end))
            || told.is_some_and(|told| told.trim_end_matches('/').eq_ignore_ascii_case(host))
    }

    fn knows_coach(&self, headers: &HeaderMap) -> bool {
        let Some(key) = &self.coach_key else { return false };
        headers
            .get_all(COOKIE)
            .iter()
            .filter_map(|cookie| cookie.to_str().ok())
            .flat_map(|cookies| cookies.split(';'))
            .filter_map(|cookie| cookie.trim().split_once('='))
            .any(|(name, value)| name == COOKIE_NAME && same(value, key))
    }

    /// Answers the coach's own link.
    fn let_in(&self, key: &str) -> Response {
        let Some(known) = self.coach_key.as_ref().filter(|known| same(key, known)) else {
            return turned_away(
                StatusCode::FORBIDDEN,
                "That link opens nothing",
                "The coach's own link is printed when the desk starts.",
            );
        };
        let secure = self.address.as_deref().is_some_and(|address| address.starts_with("https://"));
        let secure = if secure { "; Secure" } else { "" };
        let year = 365 * 24 * 3600;
        let cookie = format!(
            "{COOKIE_NAME}={known}; Path=/; HttpOnly; SameSite=Strict; Max-Age={year}{secure}"
        );
        let page = layout::page(
            "Welcome",
            Footer::Plain,
            &html! {
                h1 { "This browser is the coach's now" }
                p { "It is remembered here for a year." }
                p { a href="/" { "To the squad" } }
            },
        );
        // A page and no redirect: the cookie isn't sent along on a way that began on another site.
        ([(SET_COOKIE, cookie)], page).into_response()
    }
}

fn host_of(request: &Request<Body>) -> String {
    let header = request.headers().get(HOST).and_then(|host| host.to_str().ok());
    let host = header.or_else(|| request.uri().authority().map(|authority| authority.as_str()));
    host.unwrap_or_default().to_ascii_lowercase()
}

/// The name and port in the address of a site, such as `gym.example` of `https://gym.example`.
pub(super) fn host_in(address: &str) -> Option<&str> {
    address.split("://").nth(1)
}

/// Whether a name, with or without a port, means to every machine that machine itself.
pub(super) fn is_own_name(host: &str) -> bool {
    let name = without_port(host);
    name == "localhost" || name.parse::<IpAddr>().is_ok_and(|address| address.is_loopback())
}

fn without_port(host: &str) -> &str {
    if let Some(rest) = host.strip_prefix('[') {
        return rest.split(']').next().unwrap_or(rest);
    }
    host.split(':').next().unwrap_or(host)
}

fn is_safe(method: &Method) -> bool {
    matches!(*method, Method::GET | Method::HEAD | Method::OPTIONS)
}

/// Whether a request that changes something was sent by one of these pages. Browsers say where a form was
/// sent from; who says nothing isn't one of them.
fn is_from_here(headers: &HeaderMap, host: &str) -> bool {
    let text = |name: HeaderName| headers.get(name).and_then(|value| value.to_str().ok());
    if let Some(site) = text(HeaderName::from_static("sec-fetch-site")) {
        return site == "same-origin";
    }
    text(ORIGIN).and_then(host_in).is_some_and(|origin| origin.eq_ignore_ascii_case(host))
}

/// Whether somebody at this very machine asks, and not a proxy on it for somebody else.
fn is_this_machine(request: &Request<Body>, host: &str) -> bool {
    let forwarded = ["forwarded", "x-forwarded-for", "x-forwarded-host", "x-real-ip", "via"];
    let peer = request.extensions().get::<ConnectInfo<SocketAddr>>();
    peer.is_some_and(|ConnectInfo(peer)| peer.ip().to_canonical().is_loopback())
        && is_own_name(host)
        && !forwarded.iter().any(|name| request.headers().contains_key(*name))
}

/// Compares in a time that doesn't tell how much of a guess was right.
fn same(guess: &str, key: &str) -> bool {
    guess.len() == key.len()
        && guess.bytes().zip(key.bytes()).fold(0, |unlike, (a, b)| unlike | (a ^ b)) == 0
}

fn turned_away(status: StatusCode, heading: &str, cure: &str) -> Response {
    let page = layout::page(
        heading,
        Footer::Plain,
        &html! {
            h1 { (heading) }
            p { (sentence(cure)) }
        },
    );
    (status, page).into_response()
}
