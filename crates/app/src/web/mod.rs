//! The desk: the coach's pages over HTTP, rendered here and readable without a script.
//!
//! [`router`] needs a [`Desk`], which answers what the pages ask. Every answer carries a strict
//! content security policy: pages run no script, load nothing from elsewhere and can't be framed.
//! There is no sign-in here: whoever binds the router decides who can reach it.

mod assets;
pub mod card_page;
mod desk;
mod error;
mod extract;
mod handlers;
mod layout;
mod lift_section;
mod lifter_page;
mod muscle_section;
mod squad_page;

pub use desk::{Desk, DeskError};

use std::sync::Arc;

use axum::Router;
use axum::http::header::{
    CACHE_CONTROL, CONTENT_SECURITY_POLICY, HeaderName, REFERRER_POLICY, X_CONTENT_TYPE_OPTIONS,
};
use axum::http::{HeaderMap, HeaderValue};
use axum::middleware::map_response;
use axum::response::Response;
use axum::routing::get;

/// What a page may load: its own style sheet, pictures that are part of it, nothing else.
const POLICY: &str = "default-src 'none'; style-src 'self'; img-src 'self' data:; \
                      form-action 'self'; base-uri 'none'; frame-ancestors 'none'";

/// All pages of the desk, answered by `desk`.
pub fn router(desk: Arc<dyn Desk>) -> Router {
    Router::new()
        .route("/", get(handlers::squad))
        .route("/lifter/{name}", get(handlers::lifter))
        .route("/lifter/{name}/card", get(handlers::card))
        .route("/lifter/{name}/card.json", get(handlers::card_data))
        .route("/assets/{file}", get(assets::asset))
        .fallback(handlers::no_such_page)
        .method_not_allowed_fallback(handlers::pages_are_read)
        .layer(map_response(guard))
        .with_state(desk)
}

/// Adds the headers that every answer carries.
async fn guard(mut response: Response) -> Response {
    let headers = response.headers_mut();
    headers.insert(CONTENT_SECURITY_POLICY, HeaderValue::from_static(POLICY));
    headers.insert(X_CONTENT_TYPE_OPTIONS, HeaderValue::from_static("nosniff"));
    headers.insert(REFERRER_POLICY, HeaderValue::from_static("no-referrer"));
    headers.insert(
        HeaderName::from_static("cross-origin-opener-policy"),
        HeaderValue::from_static("same-origin"),
    );
    keep_private(headers);
    response
}

/// Pages hold people's training and pain: no cache keeps them unless the handler said otherwise.
fn keep_private(headers: &mut HeaderMap) {
    headers.entry(CACHE_CONTROL).or_insert(HeaderValue::from_static("no-store"));
}
