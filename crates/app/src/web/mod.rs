//! The coach's pages and the lifter's page on the gym floor, over HTTP.
//!
//! [`router`] needs a [`Desk`], which answers what the pages ask. Every answer carries a strict
//! content security policy: the desk's pages run no script, the floor's only its own modules, nothing is
//! loaded from elsewhere and nothing can be framed. [`door::behind`] decides who comes in.

mod answered;
mod assets;
mod calendar;
pub mod card_page;
mod changes;
mod costs_section;
mod desk;
pub mod door;
mod dose_page;
mod draft_page;
mod drafts;
mod error;
mod extract;
mod floor;
mod form;
mod handlers;
mod import;
mod import_page;
mod intake_page;
mod joints_page;
mod lanes;
mod layout;
mod lift_page;
mod lift_section;
mod lifter_page;
mod muscle_section;
mod pain;
mod plan_changes;
mod programme;
mod programme_form_page;
mod programme_page;
mod records;
mod sent;
mod set_page;
mod sets_section;
mod settings_page;
mod squad_page;
mod theme;
mod wishes_page;

pub use answered::answered;
pub use calendar::Calendars;
pub use desk::{Changes, Desk, DeskError, FormTaken};
pub use drafts::{DraftPage, DraftPlace, DraftStatus, Drafts, EndedWhy};
pub use floor::Floor;
pub use lanes::{Lanes, Threads, in_lanes};
pub use plan_changes::PlanChanges;
pub use programme::Programmes;
pub use records::Records;
pub use sent::Patience;

use std::sync::Arc;

use axum::Router;
use axum::extract::DefaultBodyLimit;
use axum::http::header::{
    CACHE_CONTROL, CONTENT_SECURITY_POLICY, HeaderName, REFERRER_POLICY, X_CONTENT_TYPE_OPTIONS,
};
use axum::http::{HeaderMap, HeaderValue};
use axum::middleware::{from_fn, from_fn_with_state, map_response};
use axum::response::Response;
use axum::routing::{get, post};
use tower_http::compression::CompressionLayer;

/// What a page may load: its own style sheet, pictures that are part of it, nothing else.
const POLICY: &str = "default-src 'none'; style-src 'self'; img-src 'self' data:; \
                      form-action 'self'; base-uri 'none'; frame-ancestors 'none'";

/// All pages, answered by `desk`.
pub fn router(desk: Arc<dyn Desk>) -> Router {
    router_waiting(desk, Patience::default())
}

/// [`router`], with another patience for what is sent along.
pub fn router_waiting(desk: Arc<dyn Desk>, patience: Patience) -> Router {
    Router::new()
        .route("/", get(handlers::squad))
        .route("/lifter/{name}", get(handlers::lifter))
        .route("/lifter/{name}/card", get(handlers::card))
        .route("/lifter/{name}/card.json", get(handlers::card_data))
        .route("/lifter/{name}/card.pdf", get(handlers::card_print))
        .route("/lifter/{name}/links", post(floor::links::make))
        .route("/lifter/{name}/links/{id}/revoke", post(floor::links::revoke))
        .route("/import", get(import::start).post(import::send))
        .route("/import/{id}", get(import::look).post(import::import))
        .route("/new-lifter", get(changes::intake).post(changes::take_on))
        .route("/lifter/{name}/pain", post(pain::rate))
        .route("/lifter/{name}/settings", get(changes::settings).post(changes::set_settings))
        .route("/lifter/{name}/set/{id}", get(changes::set).post(changes::correct))
        .route("/lifter/{name}/set/{id}/withdraw", post(changes::withdraw))
        .route("/lifter/{name}/lift/{lift}", get(changes::lift).post(changes::costs))
        .route("/assets/{file}", get(assets::asset))
        .merge(floor::routes())
        .merge(programme::routes())
        .merge(drafts::routes())
        .merge(plan_changes::routes())
        .merge(calendar::routes())
        .merge(records::routes())
        .merge(theme::routes())
        .fallback(handlers::no_such_page)
        .method_not_allowed_fallback(handlers::pages_are_read)
        // What comes to a handler was read by `sent` and is bounded there.
        .layer(DefaultBodyLimit::disable())
        .layer(from_fn_with_state(sent::Bounds::new(patience), sent::read_whole))
        .layer(from_fn(theme::know))
        .layer(map_response(guard))
        .layer(CompressionLayer::new())
        .with_state(desk)
}

/// Adds the headers that every answer carries.
async fn guard(mut response: Response) -> Response {
    let headers = response.headers_mut();
    headers.entry(CONTENT_SECURITY_POLICY).or_insert(HeaderValue::from_static(POLICY));
    headers.insert(X_CONTENT_TYPE_OPTIONS, HeaderValue::from_static("nosniff"));
    // To nobody else; but without one, browsers hide from this desk where its own forms come from.
    headers.insert(REFERRER_POLICY, HeaderValue::from_static("same-origin"));
    headers.insert(
        HeaderName::from_static("cross-origin-opener-policy"),
        HeaderValue::from_static("same-origin"),
    );
    headers.insert(
        HeaderName::from_static("cross-origin-resource-policy"),
        HeaderValue::from_static("same-origin"),
    );
    keep_private(headers);
    response
}

/// Pages hold people's training and pain: no cache keeps them unless the handler said otherwise.
fn keep_private(headers: &mut HeaderMap) {
    headers.entry(CACHE_CONTROL).or_insert(HeaderValue::from_static("no-store"));
}
