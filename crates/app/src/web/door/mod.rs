//! Who may come in: the name by which the desk was reached, the coach or a phone, and from where a form
//! was sent.
//!
//! A desk that nobody else can reach is open to whoever runs it, at that machine. Everywhere else the coach's
//! pages are open to browsers that came with the coach's key, or by a link that works once; a
//! token opens its lifter's page or calendar and nothing else. There are no accounts. A page on another site
//! can neither send a form here (Origin and Sec-Fetch-Site, W3C Fetch Metadata) nor pose as this desk by
//! a name of its own that leads to this machine (Host). `docs/security.md` says what that protects from whom.

mod agent;
mod answers;
mod browsers;
mod caller;
mod key;
mod links;
mod pace;
mod pages;
mod private_file;

pub use browsers::{Browser, Browsers, IDLE, LONGEST};
pub(super) use caller::is_own_site;
pub use key::{Key, in_groups};

use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Instant;

use axum::Router;
use axum::extract::{Request, State};
use axum::http::header::{ALLOW, CONNECTION, RETRY_AFTER};
use axum::http::{Method, StatusCode};
use axum::middleware::{Next, from_fn, from_fn_with_state, map_response};
use axum::response::{IntoResponse, Response};
use jiff::{SignedDuration, Timestamp};

use super::{guard, sent, theme};
use caller::{Caller, is_safe};
use links::OneTimeLinks;
use pace::Pace;
use pages::TurnedAway;

/// How long a link that the desk prints at its start lets a browser in.
pub const FIRST_LINK_LIVES: SignedDuration = SignedDuration::from_hours(24);

/// What the door needs of the machine: who implements this reads the clock and draws from the system.
pub trait Machine: Send + Sync {
    /// This moment.
    fn now(&self) -> Timestamp;

    /// A token that nobody can guess: 160 random bits or more, as hexadecimal digits.
    ///
    /// # Errors
    /// The system gives no random numbers.
    fn token(&self) -> Result<String, String>;

    /// Whether the other end of a connection inside this machine, from `peer` to `port`, belongs to the user who runs the
    /// desk; none where the system doesn't say.
    fn is_own_user(&self, peer: SocketAddr, port: u16) -> Option<bool>;
}

/// To whom the coach's pages are open without a key.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum OpenTo {
    /// To the user who runs the desk, at this machine: nobody else can reach this port.
    ThisMachine {
        /// The port that is listened at.
        port: u16,
    },
    /// To nobody.
    Nobody,
}

/// What the door knows.
pub struct Door {
    key: Key,
    browsers: Browsers,
    /// The address under which the desk is reached, if it was given, such as `https://gym.example`.
    address: Option<String>,
    open_to: OpenTo,
    machine: Box<dyn Machine>,
    links: OneTimeLinks,
    pace: Pace,
}

/// Whoever came in.
#[derive(Clone, Debug, PartialEq, Eq)]
enum LetIn {
    /// Without a key, at this machine.
    Here,
    /// By its own token.
    Browser(Browser),
}

/// Who sent a request and how it was let in, for the door's own pages.
#[derive(Clone, Debug)]
struct Met {
    caller: Arc<Caller>,
    let_in: Option<LetIn>,
}

/// Puts the door before all pages. Every answer carries the headers that pages carry.
pub fn behind(door: Arc<Door>, pages: Router) -> Router {
    let bounds = sent::Bounds::new(sent::Patience::default());
    let own =
        answers::routes(Arc::clone(&door)).layer(from_fn_with_state(bounds, sent::read_whole));
    let all = own.merge(pages);
    // Around the router and not in it: nothing of what it knows is decided before the door.
    let all = Router::new().fallback_service(all);
    all.layer(from_fn_with_state(door, at_the_door))
        .layer(from_fn(theme::know))
        .layer(map_response(guard))
}

async fn at_the_door(State(door): State<Arc<Door>>, mut request: Request, next: Next) -> Response {
    let path = request.uri().path().to_owned();
    // Style is no secret, and whoever is turned away can read why.
    if path.starts_with("/assets/") && is_safe(request.method()) {
        return next.run(request).await;
    }
    let address = door.address.as_deref();
    let caller = Caller::of(&request).filter(|caller| caller.host().is_of_desk(address));
    let Some(caller) = caller.map(Arc::new) else {
        return TurnedAway::NotByThatName.into_response();
    };
    if request.method() == Method::OPTIONS {
        return options();
    }
    if !is_safe(request.method()) && !caller.is_from_here(address) {
        return TurnedAway::NotFromHere.into_response();
    }
    let has_token = path.starts_with("/floor/") || path.starts_with("/calendar/");
    if has_token {
        let answer = next.run(request).await;
        let is_wrong_link =
            answer.status() == StatusCode::NOT_FOUND && !path.starts_with("/floor/app/");
        return if is_wrong_link { door.slowed(&caller, answer).await } else { answer };
    }
    let let_in = door.asked(&caller).await;
    if let_in.is_none() && path != "/coach" && !path.starts_with("/coach/") {
        return TurnedAway::NotTheCoach { from_elsewhere: caller.comes_from_elsewhere() }
            .into_response();
    }
    request.extensions_mut().insert(Met { caller, let_in });
    next.run(request).await
}

/// Says the same of every address, whether there is anything or not; no other site is allowed anything.
fn options() -> Response {
    (StatusCode::NO_CONTENT, [(ALLOW, "GET, HEAD, OPTIONS, POST")]).into_response()
}

impl Door {
    /// A door with this key and these browsers, for a desk that is reached under this address if it was given.
    #[must_use]
    pub fn new(
        key: Key,
        browsers: Browsers,
        address: Option<String>,
        open_to: OpenTo,
        machine: Box<dyn Machine>,
    ) -> Door {
        let (links, pace) = (OneTimeLinks::default(), Pace::default());
        Door { key, browsers, address, open_to, machine, links, pace }
    }

    /// Makes a link that lets one browser in, once; gives what stands behind the desk's address.
    ///
    /// # Errors
    /// The system gives no random numbers, or there is no key.
    pub fn one_time_link(&self, lives: SignedDuration) -> Result<String, String> {
        let token = self.machine.token()?;
        let key = self.key.mark().ok_or("the coach's key is gone; start the desk again")?;
        self.links.add(&token, key, self.machine.now(), lives);
        Ok(format!("/coach/{token}"))
    }

    /// What to say if key and browsers last for this run only, since nothing can be written beside the record.
    #[must_use]
    pub fn lasts_for_this_run(&self) -> Option<String> {
        let key = self.key.read().filter(|_| self.key.is_in_memory())?;
        Some(format!(
            "Nothing can be written beside the record, so the key and the browsers that are let in last for \
             this run.\nThe key: {}",
            in_groups(&key)
        ))
    }

    /// Whether whoever asks may come in; looked up away from the threads that serve.
    async fn asked(self: &Arc<Door>, caller: &Arc<Caller>) -> Option<LetIn> {
        let (door, caller) = (Arc::clone(self), Arc::clone(caller));
        tokio::task::spawn_blocking(move || door.lets_in(&caller)).await.ok().flatten()
    }

    fn lets_in(&self, caller: &Caller) -> Option<LetIn> {
        if let Some(browser) = self.browser_of(caller) {
            return Some(LetIn::Browser(browser));
        }
        let OpenTo::ThisMachine { port } = self.open_to else { return None };
        let is_own_user = |peer| self.machine.is_own_user(peer, port);
        caller.is_at_this_machine(port, is_own_user).then_some(LetIn::Here)
    }

    fn browser_of(&self, caller: &Caller) -> Option<Browser> {
        let name = self.cookie_name(caller);
        let mut tokens = caller.cookies(&name).peekable();
        tokens.peek()?;
        let key = self.key.mark()?;
        tokens.find_map(|token| self.browsers.find(token, &key, self.machine.now()))
    }

    /// The cookie's name. Under HTTPS one that browsers take from this very site only (RFC 6265bis, `__Host-`);
    /// with the port, since cookies don't keep ports apart.
    fn cookie_name(&self, caller: &Caller) -> String {
        let secure = if self.is_under_https(caller) { "__Host-" } else { "" };
        let port = caller.host().port().map(|port| format!("_{port}")).unwrap_or_default();
        format!("{secure}bellwether_coach{port}")
    }

    fn is_under_https(&self, caller: &Caller) -> bool {
        caller.is_under_https(self.address.as_deref())
    }

    /// Lets the answer to something wrong wait as long as its sender has come to.
    async fn slowed(&self, caller: &Caller, answer: Response) -> Response {
        match self.pace.wrong(caller.ip(), Instant::now()) {
            Some(wait) => {
                tokio::time::sleep(wait.time).await;
                answer
            }
            None => {
                let headers = [(RETRY_AFTER, "5"), (CONNECTION, "close")];
                (headers, TurnedAway::TooManyWrong).into_response()
            }
        }
    }
}
