//! A door before a few invented pages, with a clock and tokens of its own.

use std::net::SocketAddr;
use std::sync::Arc;
use std::sync::atomic::{AtomicI64, AtomicU64, Ordering};

use axum::Router;
use axum::body::{Body, to_bytes};
use axum::extract::{ConnectInfo, Path};
use axum::http::{HeaderMap, Request, StatusCode};
use axum::routing::get;
use bellwether::web::door::{Browsers, Door, Key, Machine, OpenTo, behind};
use jiff::{SignedDuration, Timestamp};
use tower::ServiceExt;

pub(crate) const KEY: &str = "0123456789abcdef0123456789abcdef01234567";
pub(crate) const HERE: &str = "127.0.0.1:50000";
pub(crate) const NETWORK: &str = "192.168.1.20:50000";
/// The desk's own name at its machine.
pub(crate) const OWN: (&str, &str) = ("host", "127.0.0.1:8734");
pub(crate) const LAN: (&str, &str) = ("host", "192.168.1.5:8734");
/// What a browser says of a form on the desk's own page.
pub(crate) const FROM_HERE: (&str, &str) = ("sec-fetch-site", "same-origin");

/// A machine whose clock stands until it is moved.
pub(crate) struct Invented {
    now: Arc<AtomicI64>,
    drawn: AtomicU64,
    is_own_user: Option<bool>,
}

impl Machine for Invented {
    fn now(&self) -> Timestamp {
        Timestamp::from_second(self.now.load(Ordering::SeqCst)).unwrap()
    }

    fn token(&self) -> Result<String, String> {
        Ok(format!("{:040x}", 0xabcdef + self.drawn.fetch_add(1, Ordering::SeqCst)))
    }

    fn is_own_user(&self, _: SocketAddr, port: u16) -> Option<bool> {
        assert_eq!(port, 8734);
        self.is_own_user
    }
}

/// A desk behind its door.
pub(crate) struct TheDesk {
    app: Router,
    pub(crate) door: Arc<Door>,
    now: Arc<AtomicI64>,
}

pub(crate) struct Answer {
    pub(crate) status: StatusCode,
    pub(crate) headers: HeaderMap,
    pub(crate) text: String,
}

impl TheDesk {
    /// Open to this machine; `is_own_user` is what the system says of every connection.
    pub(crate) fn open_here(is_own_user: Option<bool>) -> TheDesk {
        let (key, browsers) = (Key::in_memory(KEY.to_owned()), Browsers::in_memory());
        TheDesk::of(key, browsers, None, OpenTo::ThisMachine { port: 8734 }, is_own_user)
    }

    /// Open by key alone.
    pub(crate) fn by_key(address: Option<&str>) -> TheDesk {
        TheDesk::with(Key::in_memory(KEY.to_owned()), Browsers::in_memory(), address)
    }

    /// Open by key alone, with this key and these browsers.
    pub(crate) fn with(key: Key, browsers: Browsers, address: Option<&str>) -> TheDesk {
        TheDesk::of(key, browsers, address, OpenTo::Nobody, Some(true))
    }

    fn of(
        key: Key,
        browsers: Browsers,
        address: Option<&str>,
        open_to: OpenTo,
        is_own_user: Option<bool>,
    ) -> TheDesk {
        let pages = Router::new()
            .route("/", get(|| async { "squad" }).post(|| async { "changed" }))
            .route("/assets/{file}", get(|| async { "style" }))
            .route("/calendar/{token}", get(with_token))
            .route("/floor/{token}", get(with_token).post(with_token));
        let now = Arc::new(AtomicI64::new(1_900_000_000));
        let machine = Invented { now: Arc::clone(&now), drawn: AtomicU64::default(), is_own_user };
        let address = address.map(str::to_owned);
        let door = Arc::new(Door::new(key, browsers, address, open_to, Box::new(machine)));
        TheDesk { app: behind(Arc::clone(&door), pages), door, now }
    }

    /// Lets time pass.
    pub(crate) fn wait(&self, time: SignedDuration) {
        self.now.fetch_add(time.as_secs(), Ordering::SeqCst);
    }

    /// What a request gets from a peer, with headers and the fields of a form.
    pub(crate) async fn ask(
        &self,
        peer: &str,
        (method, path): (&str, &str),
        headers: &[(&str, &str)],
        form: &str,
    ) -> Answer {
        let mut request = Request::builder().method(method).uri(path);
        for (name, value) in headers {
            request = request.header(*name, *value);
        }
        if !form.is_empty() {
            request = request.header("content-type", "application/x-www-form-urlencoded");
        }
        let mut request = request.body(Body::from(form.to_owned())).unwrap();
        if let Ok(peer) = peer.parse::<SocketAddr>() {
            request.extensions_mut().insert(ConnectInfo(peer));
        }
        let answer = self.app.clone().oneshot(request).await.unwrap();
        let (parts, body) = answer.into_parts();
        let bytes = to_bytes(body, 1_000_000).await.unwrap();
        let text = String::from_utf8(bytes.to_vec()).unwrap();
        Answer { status: parts.status, headers: parts.headers, text }
    }

    /// Asks for a page; gives the status.
    pub(crate) async fn get(&self, peer: &str, path: &str, headers: &[(&str, &str)]) -> u16 {
        self.ask(peer, ("GET", path), headers, "").await.status.as_u16()
    }

    /// Sends a form of the desk's own from the network, with a cookie if there is one.
    pub(crate) async fn send(&self, path: &str, cookie: &str, form: &str) -> Answer {
        let headers = [LAN, FROM_HERE, ("cookie", cookie), ("user-agent", "Firefox/1 Linux")];
        self.ask(NETWORK, ("POST", path), &headers, form).await
    }

    /// Lets a browser in by the key; gives its cookie.
    pub(crate) async fn let_in(&self, key: &str) -> String {
        let answer = self.send("/coach", "", &format!("key={key}")).await;
        assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.text);
        answer.cookie()
    }

    /// The page of browsers as a browser with this cookie sees it.
    pub(crate) async fn browsers(&self, cookie: &str) -> Answer {
        self.ask(NETWORK, ("GET", "/browsers"), &[LAN, ("cookie", cookie)], "").await
    }
}

impl Answer {
    /// The cookie that was set, as a browser sends it back.
    pub(crate) fn cookie(&self) -> String {
        let set = self.headers["set-cookie"].to_str().unwrap();
        set.split(';').next().unwrap().to_owned()
    }

    pub(crate) fn header(&self, name: &str) -> &str {
        self.headers.get(name).map_or("", |value| value.to_str().unwrap())
    }
}

async fn with_token(Path(token): Path<String>) -> (StatusCode, &'static str) {
    match token.as_str() {
        "token" => (StatusCode::OK, "session"),
        "revoked" => (StatusCode::GONE, "revoked"),
        _ => (StatusCode::NOT_FOUND, "opens nothing"),
    }
}
