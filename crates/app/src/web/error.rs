//! Errors as pages: what happened in a sentence, and the way back.
//!
//! 404 for what isn't there, 410 for what isn't any more, 422 for what makes no sense, 405 for other verbs than
//! reading, 408 and 413 for what comes too slowly and what is too large, 500 for what failed here and 503 for
//! what is too much at once.

use axum::http::header::{CONNECTION, RETRY_AFTER};
use axum::http::{HeaderValue, StatusCode};
use axum::response::{IntoResponse, Response};
use domain::LifterName;
use maud::{Markup, html};

use super::desk::DeskError;
use super::layout::{self, Footer};

/// An answer that is no page of its own.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct WebError {
    status: StatusCode,
    reason: String,
    about: Option<LifterName>,
}

impl WebError {
    /// There is nothing at the address (404).
    pub(super) fn not_found(reason: impl ToString) -> WebError {
        WebError { status: StatusCode::NOT_FOUND, reason: reason.to_string(), about: None }
    }

    /// What was at the address isn't there any more (410).
    pub(super) fn gone(reason: impl ToString) -> WebError {
        WebError { status: StatusCode::GONE, reason: reason.to_string(), about: None }
    }

    /// The address or a value in it makes no sense (422).
    pub(super) fn refused(reason: impl ToString) -> WebError {
        let status = StatusCode::UNPROCESSABLE_ENTITY;
        WebError { status, reason: reason.to_string(), about: None }
    }

    /// The pages are read, not written (405).
    pub(super) fn not_allowed(reason: impl ToString) -> WebError {
        WebError { status: StatusCode::METHOD_NOT_ALLOWED, reason: reason.to_string(), about: None }
    }

    /// Something failed here (500).
    pub(super) fn failed(reason: impl ToString) -> WebError {
        let status = StatusCode::INTERNAL_SERVER_ERROR;
        WebError { status, reason: reason.to_string(), about: None }
    }

    /// What was sent along has more bytes than can be taken (413).
    pub(super) fn too_large(most_bytes: usize) -> WebError {
        let most = most_bytes as f64 / (1024.0 * 1024.0);
        let reason = format!(
            "what was sent is larger than {most:.0} MB, the most that can be taken at once; send it in parts, a \
             table by years, say"
        );
        WebError { status: StatusCode::PAYLOAD_TOO_LARGE, reason, about: None }
    }

    /// What was sent along came too slowly (408).
    pub(super) fn too_slow() -> WebError {
        let reason = "what was sent didn't come whole in time; send it again".to_owned();
        WebError { status: StatusCode::REQUEST_TIMEOUT, reason, about: None }
    }

    /// There is no room for this now (503).
    pub(super) fn busy(why: &str) -> WebError {
        let reason = format!("the desk can't answer now, for {why}; try again in a moment");
        WebError { status: StatusCode::SERVICE_UNAVAILABLE, reason, about: None }
    }

    /// Whether what was asked for isn't there.
    pub(super) fn is_not_found(&self) -> bool {
        self.status == StatusCode::NOT_FOUND
    }

    /// The status.
    pub(super) fn status(&self) -> StatusCode {
        self.status
    }

    /// Why, as a message.
    pub(super) fn reason(&self) -> &str {
        &self.reason
    }

    /// Leads back to this lifter's page too.
    pub(super) fn about(self, name: &LifterName) -> WebError {
        WebError { about: Some(name.clone()), ..self }
    }
}

impl From<DeskError> for WebError {
    fn from(error: DeskError) -> WebError {
        match &error {
            DeskError::UnknownLifter(_) | DeskError::NotThere(_) => WebError::not_found(error),
            DeskError::Refused(_) => WebError::refused(error),
            DeskError::Failed(_) => WebError::failed(error),
        }
    }
}

impl IntoResponse for WebError {
    fn into_response(self) -> Response {
        let mut answer = (self.status, error_page(&self)).into_response();
        match self.status {
            // Whatever is left of it comes to nothing.
            StatusCode::PAYLOAD_TOO_LARGE | StatusCode::REQUEST_TIMEOUT => {
                answer.headers_mut().insert(CONNECTION, HeaderValue::from_static("close"));
            }
            StatusCode::SERVICE_UNAVAILABLE => {
                answer.headers_mut().insert(RETRY_AFTER, HeaderValue::from_static("2"));
            }
            _ => {}
        }
        answer.extensions_mut().insert(Reason(self.reason));
        answer
    }
}

/// Why an answer is no page of its own, for whoever tells it in another form.
#[derive(Clone, Debug)]
pub(super) struct Reason(pub(super) String);

fn error_page(error: &WebError) -> Markup {
    let (heading, what_now) = match error.status {
        StatusCode::NOT_FOUND | StatusCode::GONE => {
            ("Not on record", "Check the spelling, or start from the squad.")
        }
        StatusCode::UNPROCESSABLE_ENTITY => {
            ("That can't be read", "Nothing was changed. Correct it and ask again.")
        }
        StatusCode::METHOD_NOT_ALLOWED => ("This page is for reading", "Nothing was changed."),
        StatusCode::PAYLOAD_TOO_LARGE => ("That is too large", "Nothing was changed."),
        StatusCode::REQUEST_TIMEOUT => ("That took too long", "Nothing was changed."),
        StatusCode::SERVICE_UNAVAILABLE => ("The desk is busy", "Nothing was changed."),
        _ => ("Something failed here", "Nothing on record was changed. Try again in a moment."),
    };
    layout::page(
        heading,
        Footer::Plain,
        &html! {
            h1 { (heading) }
            p.reason { (sentence(&error.reason)) }
            p { (what_now) }
            ul.ways-back {
                @if let Some(name) = &error.about {
                    li { a href=(layout::lifter_path(name.as_str())) { "To " (name) "'s page" } }
                }
                li { a href="/" { "To the squad" } }
            }
        },
    )
}

/// A message (lower case, no full stop, the thing in backticks) as a sentence on a page.
pub(super) fn sentence(message: &str) -> Markup {
    let mut letters = message.trim_end_matches('.').chars();
    let first = letters.next().map(|c| c.to_uppercase().to_string()).unwrap_or_default();
    let capital = format!("{first}{}", letters.as_str());
    html! {
        @for (place, part) in capital.split('`').enumerate() {
            @if place % 2 == 1 { q { (part) } } @else { (part) }
        }
        @if !capital.ends_with(['?', '!']) { "." }
    }
}
