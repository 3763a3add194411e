//! Errors as pages: what happened in a sentence, and the way back.
//!
//! 404 for what isn't there, 410 for what isn't any more, 422 for what makes no sense, 405 for other verbs than reading, 500 for
//! what failed here.

use axum::http::StatusCode;
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
        (self.status, error_page(&self)).into_response()
    }
}

fn error_page(error: &WebError) -> Markup {
    let (heading, what_now) = match error.status {
        StatusCode::NOT_FOUND | StatusCode::GONE => {
            ("Not on record", "Check the spelling, or start from the squad.")
        }
        StatusCode::UNPROCESSABLE_ENTITY => {
            ("That can't be read", "Nothing was changed. Correct it and ask again.")
        }
        StatusCode::METHOD_NOT_ALLOWED => ("This page is for reading", "Nothing was changed."),
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
