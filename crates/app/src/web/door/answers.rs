//! What the door itself answers: the key that is typed, links that work once, and the page of browsers.

use std::sync::Arc;

use axum::extract::{DefaultBodyLimit, Path, State};
use axum::http::header::SET_COOKIE;
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::{get, post};
use axum::{Extension, Router};
use jiff::SignedDuration;
use maud::Markup;

use super::caller::Caller;
use super::pages::{self, BrowsersView, TurnedAway};
use super::{Door, LONGEST, LetIn, Met, is_own_site};
use crate::web::desk::DeskError;
use crate::web::error::WebError;
use crate::web::extract::Typed;
use crate::web::handlers;
use crate::web::lanes::ask;

/// How long a link made on the page of browsers lets a browser in.
const LINK_LIVES: SignedDuration = SignedDuration::from_mins(15);
/// The most bytes that a form here may send.
const MOST_SENT: usize = 4 * 1024;

type AnyDoor = State<Arc<Door>>;

/// The door's own pages.
pub(super) fn routes(door: Arc<Door>) -> Router {
    Router::new()
        .route("/coach", get(key_page).post(by_key))
        .route("/coach/{link}", get(link_page).post(by_link))
        .route("/browsers", get(browsers))
        .route("/browsers/{id}/end", post(end))
        .route("/browsers/end-others", post(end_others))
        .route("/browsers/link", post(make_link))
        .route("/browsers/key", post(change_key))
        .method_not_allowed_fallback(handlers::pages_are_read)
        .layer(DefaultBodyLimit::max(MOST_SENT))
        .with_state(door)
}

async fn key_page() -> Markup {
    pages::key_page()
}

/// `POST /coach`: lets a browser in by the key.
async fn by_key(
    State(door): AnyDoor,
    Extension(met): Extension<Met>,
    Typed(fields): Typed,
) -> Result<Response, WebError> {
    if !door.key.fits(fields.get("key")) {
        return Ok(door.slowed(&met.caller, TurnedAway::WrongKey.into_response()).await);
    }
    let_in(door, met).await
}

/// `GET /coach/{link}`: a link for one browser. Looking at it doesn't use it up, as programs do that look at
/// links before a person does.
async fn link_page(
    State(door): AnyDoor,
    Extension(met): Extension<Met>,
    Path(link): Path<String>,
) -> Response {
    let key = door.key.mark();
    if !door.links.is_open(&link, key.as_deref(), door.machine.now()) {
        return door.slowed(&met.caller, TurnedAway::WrongLink.into_response()).await;
    }
    pages::link_page(&format!("/coach/{link}")).into_response()
}

/// `POST /coach/{link}`: lets a browser in by a link, which is used up by that.
async fn by_link(
    State(door): AnyDoor,
    Extension(met): Extension<Met>,
    Path(link): Path<String>,
) -> Result<Response, WebError> {
    let key = door.key.mark();
    if !door.links.take(&link, key.as_deref(), door.machine.now()) {
        return Ok(door.slowed(&met.caller, TurnedAway::WrongLink.into_response()).await);
    }
    let_in(door, met).await
}

/// Lets a browser in and leads to the squad; what it had before is ended.
async fn let_in(door: Arc<Door>, met: Met) -> Result<Response, WebError> {
    let caller = Arc::clone(&met.caller);
    let cookie = ask(move || {
        let key = door.key.mark().ok_or_else(no_key)?;
        if let Some(LetIn::Browser(before)) = &met.let_in {
            door.browsers.end(&before.id).ok(); // it ends by itself
        }
        let token = door.machine.token().map_err(DeskError::Failed)?;
        door.browsers.begin(&token, &key, &caller.browser(), door.machine.now());
        Ok(door.cookie(&caller, &token))
    });
    Ok(([(SET_COOKIE, cookie.await?)], Redirect::to("/")).into_response())
}

/// `GET /browsers`: who is let in.
async fn browsers(
    State(door): AnyDoor,
    Extension(met): Extension<Met>,
    Typed(fields): Typed,
) -> Result<Markup, WebError> {
    let done = match fields.get("done") {
        "" => None,
        number => number.parse().ok().map(pages::ended),
    };
    let view = ask(move || door.view(&met, done, None)).await?;
    Ok(pages::browsers_page(&view))
}

/// `POST /browsers/{id}/end`: ends a browser.
async fn end(State(door): AnyDoor, Path(id): Path<String>) -> Result<Redirect, WebError> {
    let ended = ask(move || door.browsers.end(&id).map_err(|error| cannot_end(&error))).await?;
    Ok(Redirect::to(&format!("/browsers?done={}", u8::from(ended))))
}

/// `POST /browsers/end-others`: ends all browsers but the one that asks.
async fn end_others(
    State(door): AnyDoor,
    Extension(met): Extension<Met>,
) -> Result<Redirect, WebError> {
    let stays = met.id();
    let ended = ask(move || {
        door.browsers.end_all_but(stays.as_deref()).map_err(|error| cannot_end(&error))
    });
    Ok(Redirect::to(&format!("/browsers?done={}", ended.await?)))
}

/// `POST /browsers/link`: makes a link for another browser and shows it, once.
async fn make_link(
    State(door): AnyDoor,
    Extension(met): Extension<Met>,
) -> Result<Markup, WebError> {
    let base = door.address.clone().unwrap_or_else(|| {
        let scheme = if door.is_under_https(&met.caller) { "https" } else { "http" };
        format!("{scheme}://{}", met.caller.host())
    });
    let path = door.one_time_link(LINK_LIVES).map_err(WebError::failed)?;
    Ok(pages::new_link_page(&format!("{base}{path}"), is_own_site(&base)))
}

/// `POST /browsers/key`: puts a new key in the place of the old, and shows it, once. Every browser is ended;
/// the one that asks is let in anew.
async fn change_key(
    State(door): AnyDoor,
    Extension(met): Extension<Met>,
) -> Result<Response, WebError> {
    let changed = ask(move || {
        let new = door.machine.token().map_err(DeskError::Failed)?;
        let written = door.key.change(&new);
        written.map_err(|error| {
            DeskError::Failed(format!("the key can't be stored, and stays as it was: {error}"))
        })?;
        // Under another key none of them is let in any more, whether or not its file can be removed.
        let ended = door.browsers.end_all_but(None).unwrap_or_default();
        let had_one = usize::from(met.id().is_some());
        let (now, key) = (door.machine.now(), door.key.mark().ok_or_else(no_key)?);
        let mut met = met;
        let mut cookie = None;
        if had_one == 1 {
            let token = door.machine.token().map_err(DeskError::Failed)?;
            door.browsers.begin(&token, &key, &met.caller.browser(), now);
            met.let_in = door.browsers.find(&token, &key, now).map(LetIn::Browser);
            cookie = Some(door.cookie(&met.caller, &token));
        }
        let done = format!("The key is changed. {}", pages::ended(ended.saturating_sub(had_one)));
        Ok((cookie, door.view(&met, Some(done), Some(new))?))
    });
    let (cookie, view) = changed.await?;
    let cookie = cookie.map(|cookie| [(SET_COOKIE, cookie)]);
    Ok((cookie, pages::browsers_page(&view)).into_response())
}

impl Met {
    /// The id of the browser that asks; none if it came in without a key.
    fn id(&self) -> Option<String> {
        match &self.let_in {
            Some(LetIn::Browser(browser)) => Some(browser.id.clone()),
            Some(LetIn::Here) | None => None,
        }
    }
}

impl Door {
    /// What makes a browser known: read by no script, sent from nowhere else, and under HTTPS never in the
    /// clear.
    fn cookie(&self, caller: &Caller, token: &str) -> String {
        let secure = if self.is_under_https(caller) { "; Secure" } else { "" };
        format!(
            "{}={token}; Path=/; HttpOnly; SameSite=Strict; Max-Age={}{secure}",
            self.cookie_name(caller),
            LONGEST.as_secs()
        )
    }

    fn view(
        &self,
        met: &Met,
        done: Option<String>,
        new_key: Option<String>,
    ) -> Result<BrowsersView, DeskError> {
        let key = self.key.mark().ok_or_else(no_key)?;
        let browsers = self.browsers.list(&key, self.machine.now());
        Ok(BrowsersView { browsers, this: met.id(), done, new_key })
    }
}

fn no_key() -> DeskError {
    DeskError::Failed("the coach's key is gone; start the desk again, and it makes one".to_owned())
}

fn cannot_end(error: &std::io::Error) -> DeskError {
    DeskError::Failed(format!(
        "the browser can't be ended beside the record: {error}; change the key, or allow writing there"
    ))
}
