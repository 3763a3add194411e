//! The last look at every answer: a page that fell over is answered too, phones get data instead of pages,
//! and every answer is guarded.

use std::any::Any;

use axum::extract::Request;
use axum::http::header::CONTENT_TYPE;
use axum::http::{HeaderMap, Method, StatusCode};
use axum::middleware::{Next, from_fn, map_response};
use axum::response::{IntoResponse, Response};
use axum::{Json, Router};
use serde_json::json;
use tower_http::catch_panic::CatchPanicLayer;

use super::error::{Reason, WebError};
use super::guard;

/// Puts the last look behind all pages, the door's among them.
pub fn answered(pages: Router) -> Router {
    pages
        .layer(CatchPanicLayer::custom(fell_over))
        .layer(from_fn(fit_for_phones))
        .layer(map_response(guard))
}

/// The answer of a handler that panicked. What the panic says is for whoever mends it, not for the page.
fn fell_over(_: Box<dyn Any + Send>) -> Response {
    WebError::failed("this page stopped unexpectedly").into_response()
}

/// What goes wrong under a phone's address is told as data, as its page expects, whoever found it wrong.
async fn fit_for_phones(request: Request, next: Next) -> Response {
    let is_for_code = is_asked_by_code(request.method(), request.uri().path());
    let answer = next.run(request).await;
    let went_wrong = answer.status().is_client_error() || answer.status().is_server_error();
    if !went_wrong || !is_for_code || is_data(answer.headers()) {
        return answer;
    }
    let reason = match answer.extensions().get::<Reason>() {
        Some(Reason(reason)) => reason.clone(),
        None => in_general(answer.status()).to_owned(),
    };
    let (mut parts, _) = answer.into_parts();
    let (headers, body) = Json(json!({ "error": reason })).into_response().into_parts();
    parts.headers.remove(axum::http::header::CONTENT_LENGTH);
    parts.headers.remove(axum::http::header::CONTENT_ENCODING);
    parts.headers.extend(headers.headers);
    Response::from_parts(parts, body)
}

/// Whether the floor's page asks, and not a person who opens it.
fn is_asked_by_code(method: &Method, path: &str) -> bool {
    let below = path.strip_prefix("/floor/");
    below.is_some_and(|below| below.contains('/') || !matches!(*method, Method::GET | Method::HEAD))
}

fn is_data(headers: &HeaderMap) -> bool {
    let kind = headers.get(CONTENT_TYPE).and_then(|kind| kind.to_str().ok());
    kind.is_some_and(|kind| kind.starts_with("application/json"))
}

fn in_general(status: StatusCode) -> &'static str {
    match status {
        StatusCode::FORBIDDEN => "that didn't come from this desk's own page; open the link again",
        StatusCode::MISDIRECTED_REQUEST => {
            "this desk isn't known by that name; ask your coach for a new link"
        }
        StatusCode::NOT_FOUND => "there is nothing at this address",
        StatusCode::METHOD_NOT_ALLOWED => "this address doesn't take that",
        StatusCode::TOO_MANY_REQUESTS => "too many tries; wait a minute and try again",
        status if status.is_server_error() => "something failed at the desk; try again in a moment",
        _ => "the desk can't read that",
    }
}
