//! The gym floor: the page that a lifter's phone opens by a private link, and what it sends.
//!
//! The page's modules are static files without a build step; they work by themselves once loaded. The
//! token in the address is all that a phone has to show, and opens nothing but its lifter's page.

pub(super) mod links;
mod page;
mod seam;

pub use seam::Floor;

use std::sync::Arc;

use axum::body::Bytes;
use axum::extract::{Path, Query, State};
use axum::http::header::{CACHE_CONTROL, CONTENT_SECURITY_POLICY, CONTENT_TYPE};
use axum::http::{HeaderValue, StatusCode};
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use axum::{Json, Router};
use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use serde_json::json;
use service::floor::{FloorLine, Opened, PhoneLink, Taken};

use super::assets;
use super::desk::{Desk, DeskError};
use super::error::WebError;
use super::lanes::ask;

/// What the floor's page may load: its own modules, style and worker, and its own data.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; \
                      connect-src 'self'; worker-src 'self'; form-action 'none'; base-uri 'none'; \
                      frame-ancestors 'none'";

type AnyDesk = Arc<dyn Desk>;

/// The routes of the gym floor.
pub(super) fn routes() -> Router<AnyDesk> {
    Router::new()
        .route("/floor/{token}", get(floor_page))
        .route("/floor/{token}/day.json", get(day))
        .route("/floor/{token}/messages", post(messages))
        .route("/floor/sw.js", get(worker))
        .route("/floor/app/{version}/{file}", get(module))
}

/// `GET /floor/{token}`: today's session.
async fn floor_page(Path(token): Path<String>, State(desk): State<AnyDesk>) -> Response {
    let view = through_link(desk, token.clone(), |desk, link| desk.floor_day(link, None)).await;
    let answer = match view {
        Ok(view) => page::floor_page(&token, &view).into_response(),
        // Only what is over and done closes the page; a desk in trouble is tried again.
        Err(error) => (error.status(), page::closed_page(error.reason())).into_response(),
    };
    guarded(answer)
}

#[derive(Deserialize)]
struct DayQuery {
    date: Option<String>,
}

/// `GET /floor/{token}/day.json?date=`: the same session as data.
async fn day(
    Path(token): Path<String>,
    Query(query): Query<DayQuery>,
    State(desk): State<AnyDesk>,
) -> Response {
    let date = match query.date.as_deref().map(str::parse::<Date>).transpose() {
        Ok(date) => date,
        Err(_) => return refused("`date` is no date: write it as 2031-05-04"),
    };
    as_data(through_link(desk, token, move |desk, link| desk.floor_day(link, date)).await)
}

/// The answer to a batch.
#[derive(Serialize)]
struct BatchAnswer {
    #[serde(flatten)]
    taken: Taken,
    /// Everything that phones have logged for the session; none if that can't be read now.
    messages: Option<Vec<FloorLine>>,
}

/// `POST /floor/{token}/messages`: takes what a phone has logged, and confirms it once it is on the
/// disk. The answer has everything that phones have logged for the session.
async fn messages(
    Path(token): Path<String>,
    Query(query): Query<DayQuery>,
    State(desk): State<AnyDesk>,
    body: Bytes,
) -> Response {
    let Ok(batch) = String::from_utf8(body.to_vec()) else {
        return refused("a batch of messages is JSON in UTF-8");
    };
    let date = query.date.as_deref().and_then(|date| date.parse::<Date>().ok());
    let answer = through_link(desk, token, move |desk, link| {
        let taken = desk.take_from_phone(link, &batch)?;
        // What is on the disk by now is confirmed, whatever becomes of the rest of the answer.
        let messages = date.and_then(|date| desk.floor_lines(link, date).ok());
        Ok(BatchAnswer { taken, messages })
    });
    as_data(answer.await)
}

/// Asks the desk on behalf of a phone, if its token opens a page.
async fn through_link<T: Send + 'static>(
    desk: AnyDesk,
    token: String,
    question: impl FnOnce(&dyn Desk, &PhoneLink) -> Result<T, DeskError> + Send + 'static,
) -> Result<T, WebError> {
    const REVOKED: &str = "this link was revoked; ask your coach for a new one";
    const UNKNOWN: &str = "this link opens nothing; check it, or ask your coach for a new one";
    ask(move || match desk.open_link(&token)? {
        Opened::Page(link) => question(&*desk, &link).map(Ok),
        Opened::Revoked => Ok(Err(WebError::gone(REVOKED))),
        Opened::Unknown => Ok(Err(WebError::not_found(UNKNOWN))),
    })
    .await?
}

/// An answer as data, so that the page can say what is wrong.
fn as_data<T: serde::Serialize>(answer: Result<T, WebError>) -> Response {
    match answer {
        Ok(data) => Json(data).into_response(),
        Err(error) => (error.status(), Json(json!({ "error": error.reason() }))).into_response(),
    }
}

fn refused(reason: &str) -> Response {
    (StatusCode::UNPROCESSABLE_ENTITY, Json(json!({ "error": reason }))).into_response()
}

/// `GET /floor/sw.js`: the worker that opens the page without a network.
async fn worker() -> Response {
    let headers = [(CONTENT_TYPE, "text/javascript; charset=utf-8"), (CACHE_CONTROL, "no-cache")];
    guarded((headers, assets::floor_worker()).into_response())
}

/// `GET /floor/app/{version}/{file}`: a module of the page; a new version has a new address.
async fn module(Path((version, file)): Path<(String, String)>) -> Result<Response, WebError> {
    let content = assets::floor_module(&version, &file)
        .ok_or_else(|| WebError::not_found("there is no such module; load the page anew"))?;
    let kind = if file.ends_with(".css") { "text/css" } else { "text/javascript" };
    let headers = [
        (CONTENT_TYPE, format!("{kind}; charset=utf-8")),
        (CACHE_CONTROL, "public, max-age=31536000, immutable".to_owned()),
    ];
    Ok((headers, content).into_response())
}

fn guarded(mut answer: Response) -> Response {
    answer.headers_mut().insert(CONTENT_SECURITY_POLICY, HeaderValue::from_static(POLICY));
    answer
}

/// The address of a lifter's page under `base`.
pub(super) fn address(base: &str, token: &str) -> String {
    format!("{}/floor/{token}", base.trim_end_matches('/'))
}
