//! Who comes in: peers, names, forms from elsewhere, the coach's own link.

use std::net::SocketAddr;
use std::sync::Arc;

use axum::Router;
use axum::body::Body;
use axum::extract::ConnectInfo;
use axum::http::{Request, Response};
use axum::routing::get;
use bellwether::web::door::{Door, behind};
use tower::ServiceExt;

const KEY: &str = "0123456789abcdef0123456789abcdef01234567";
const HERE: &str = "127.0.0.1:50000";
const NETWORK: &str = "192.168.1.20:50000";

/// A request from a peer, with headers.
async fn ask(peer: &str, method: &str, path: &str, headers: &[(&str, &str)]) -> Response<Body> {
    let door =
        Door { coach_key: Some(KEY.to_owned()), address: Some("https://gym.example".to_owned()) };
    ask_at(door, peer, method, path, headers).await
}

async fn ask_at(
    door: Door,
    peer: &str,
    method: &str,
    path: &str,
    headers: &[(&str, &str)],
) -> Response<Body> {
    let pages = Router::new()
        .route("/", get(|| async { "squad" }).post(|| async { "changed" }))
        .route("/assets/{file}", get(|| async { "style" }))
        .route("/floor/{token}", get(|| async { "session" }).post(|| async { "kept" }));
    let mut request = Request::builder().method(method).uri(path);
    for (name, value) in headers {
        request = request.header(*name, *value);
    }
    let mut request = request.body(Body::empty()).unwrap();
    let peer: SocketAddr = peer.parse().unwrap();
    request.extensions_mut().insert(Arc::new(()));
    request.extensions_mut().insert(ConnectInfo(peer));
    behind(door, pages).oneshot(request).await.unwrap()
}

async fn check(peer: &str, method: &str, path: &str, headers: &[(&str, &str)], status: u16) {
    let answer = ask(peer, method, path, headers).await;
    assert_eq!(answer.status().as_u16(), status, "{peer} {method} {path} {headers:?}");
}

#[tokio::test]
async fn the_coachs_pages_are_open_to_this_machine_and_to_the_coach() {
    check(HERE, "GET", "/", &[("host", "127.0.0.1:8734")], 200).await;
    check(HERE, "GET", "/", &[("host", "localhost:8734")], 200).await;
    check("[::1]:50000", "GET", "/", &[("host", "[::1]:8734")], 200).await;
    check(NETWORK, "GET", "/", &[("host", "192.168.1.5:8734")], 403).await;
    check(NETWORK, "GET", "/", &[("host", "localhost:8734")], 403).await;
    // A proxy on this machine speaks for others.
    check(HERE, "GET", "/", &[("host", "gym.example")], 403).await;
    for header in ["forwarded", "x-forwarded-for", "x-forwarded-host", "x-real-ip", "via"] {
        let proxied = [("host", "localhost:8734"), (header, "192.168.1.20")];
        check(HERE, "GET", "/", &proxied, 403).await;
    }
    let cookie = format!("other=1; bellwether_coach={KEY}");
    check(NETWORK, "GET", "/", &[("host", "192.168.1.5:8734"), ("cookie", &cookie)], 200).await;
    let wrong = format!("bellwether_coach={}", KEY.replace('0', "1"));
    check(NETWORK, "GET", "/", &[("host", "192.168.1.5:8734"), ("cookie", &wrong)], 403).await;
    let other = format!("bellwether_floor={KEY}");
    check(NETWORK, "GET", "/", &[("host", "192.168.1.5:8734"), ("cookie", &other)], 403).await;
    check(NETWORK, "GET", "/floor/token", &[("host", "192.168.1.5:8734")], 200).await;
    check(NETWORK, "GET", "/assets/desk.css", &[("host", "192.168.1.5:8734")], 200).await;
}

#[tokio::test]
async fn part_of_the_key_opens_nothing() {
    let host = ("host", "192.168.1.5:8734");
    for guess in ["", &KEY[..1], &KEY[..39], &format!("{KEY}0")] {
        check(NETWORK, "GET", &format!("/coach/{guess}"), &[host], 403).await;
        let cookie = format!("bellwether_coach={guess}");
        check(NETWORK, "GET", "/", &[host, ("cookie", &cookie)], 403).await;
    }
}

#[tokio::test]
async fn a_desk_without_a_key_is_open_to_this_machine_alone() {
    let door = || Door { coach_key: None, address: None };
    for headers in [
        vec![("host", "192.168.1.5:8734")],
        vec![("host", "192.168.1.5:8734"), ("cookie", "bellwether_coach=")],
    ] {
        for path in ["/", "/coach/"] {
            let answer = ask_at(door(), NETWORK, "GET", path, &headers).await;
            assert_eq!(answer.status().as_u16(), 403, "{path} {headers:?}");
        }
    }
    let here = ask_at(door(), HERE, "GET", "/", &[("host", "localhost:8734")]).await;
    assert_eq!(here.status().as_u16(), 200);
}

#[tokio::test]
async fn without_https_the_cookie_is_one_that_browsers_send_back() {
    let door = Door { coach_key: Some(KEY.to_owned()), address: None };
    let host = [("host", "192.168.1.5:8734")];
    let answer = ask_at(door, NETWORK, "GET", &format!("/coach/{KEY}"), &host).await;
    let cookie = answer.headers()["set-cookie"].to_str().unwrap();
    assert!(cookie.contains("HttpOnly") && !cookie.contains("Secure"), "{cookie}");
}

#[tokio::test]
async fn the_coachs_link_sets_a_cookie_that_scripts_and_other_sites_cannot_use() {
    let host = [("host", "192.168.1.5:8734")];
    let answer = ask(NETWORK, "GET", &format!("/coach/{KEY}"), &host).await;
    assert_eq!(answer.status().as_u16(), 200);
    let cookie = answer.headers()["set-cookie"].to_str().unwrap();
    assert!(cookie.starts_with(&format!("bellwether_coach={KEY};")), "{cookie}");
    for part in ["HttpOnly", "SameSite=Strict", "Path=/", "Secure"] {
        assert!(cookie.contains(part), "{cookie}");
    }
    let refused = ask(NETWORK, "GET", "/coach/nothing", &host).await;
    assert_eq!(refused.status().as_u16(), 403);
    assert!(refused.headers().get("set-cookie").is_none());
}

#[tokio::test]
async fn other_sites_can_neither_send_nor_pose() {
    let host = ("host", "127.0.0.1:8734");
    check(HERE, "POST", "/", &[host, ("origin", "http://127.0.0.1:8734")], 200).await;
    check(HERE, "POST", "/", &[host, ("sec-fetch-site", "same-origin")], 200).await;
    check(HERE, "POST", "/", &[host, ("origin", "http://evil.example")], 403).await;
    check(HERE, "POST", "/", &[host, ("origin", "http://127.0.0.1:9999")], 403).await;
    check(HERE, "POST", "/", &[host, ("origin", "null")], 403).await;
    check(HERE, "POST", "/", &[host], 403).await;
    for site in ["cross-site", "same-site", "none"] {
        let headers = [host, ("sec-fetch-site", site), ("origin", "http://127.0.0.1:8734")];
        check(HERE, "POST", "/", &headers, 403).await;
    }
    check(NETWORK, "POST", "/floor/token", &[host, ("origin", "http://evil.example")], 403).await;
    // A name that somebody else lets lead to this machine.
    check(HERE, "GET", "/", &[("host", "evil.example:8734")], 421).await;
    check(HERE, "GET", "/floor/token", &[("host", "evil.example")], 421).await;
    // Whoever is turned away reads it on a page with its style.
    check(HERE, "GET", "/assets/desk.css", &[("host", "evil.example")], 200).await;
    check(HERE, "POST", "/assets/desk.css", &[("host", "evil.example")], 421).await;
    check(HERE, "GET", "/", &[("host", "127.0.0.1.evil.example")], 421).await;
    check(NETWORK, "GET", "/floor/token", &[("host", "gym.example")], 200).await;
    check(NETWORK, "GET", "/floor/token", &[("host", "desk.local:8734")], 200).await;
}
