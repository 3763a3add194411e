//! Light or dark: what this browser was told to show pages in, kept in a cookie of its own.
//!
//! Every document is drawn for one request, and its `html` element says the choice; the style sheets do the
//! rest. Without a choice a page is as the system is. The floor's page sets the same cookie by itself.

use axum::extract::Request;
use axum::http::header::{COOKIE, SET_COOKIE};
use axum::middleware::Next;
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::get;
use axum::{Router, http::HeaderMap};
use maud::{Markup, html};
use std::sync::Arc;

use super::desk::Desk;
use super::error::WebError;
use super::extract::Typed;
use super::layout::{self, Footer};

/// The cookie's name; `theme.js` knows it too.
const NAME: &str = "theme";
/// How long the browser keeps it: 400 days, the most that browsers grant (RFC 6265bis).
const KEPT_SECONDS: u32 = 400 * 24 * 60 * 60;

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Theme {
    System,
    Light,
    Dark,
}

impl Theme {
    const ALL: [Theme; 3] = [Theme::System, Theme::Light, Theme::Dark];

    fn key(self) -> &'static str {
        match self {
            Theme::System => "system",
            Theme::Light => "light",
            Theme::Dark => "dark",
        }
    }

    fn label(self) -> &'static str {
        match self {
            Theme::System => "As the system is",
            Theme::Light => "Light",
            Theme::Dark => "Dark",
        }
    }

    fn named(key: &str) -> Option<Theme> {
        Theme::ALL.into_iter().find(|theme| theme.key() == key)
    }

    fn of(headers: &HeaderMap) -> Theme {
        headers
            .get_all(COOKIE)
            .iter()
            .filter_map(|cookies| cookies.to_str().ok())
            .flat_map(|cookies| cookies.split(';'))
            .filter_map(|cookie| cookie.trim().split_once('='))
            .find(|(name, _)| *name == NAME)
            .and_then(|(_, key)| Theme::named(key))
            .unwrap_or(Theme::System)
    }
}

tokio::task_local! {
    /// The choice of whoever asked for the page that is being drawn.
    static ASKED_FROM: Theme;
}

/// Lets pages know the choice while they are drawn.
pub(super) async fn know(request: Request, next: Next) -> Response {
    ASKED_FROM.scope(Theme::of(request.headers()), next.run(request)).await
}

/// What the `html` element says of it; nothing if pages are as the system is.
pub(super) fn attribute() -> Option<&'static str> {
    let theme = ASKED_FROM.try_with(|theme| *theme).unwrap_or(Theme::System);
    (theme != Theme::System).then(|| theme.key())
}

/// The page where it is chosen.
pub(super) fn routes() -> Router<Arc<dyn Desk>> {
    Router::new().route("/look", get(show).post(choose))
}

async fn show() -> Markup {
    let chosen = attribute().unwrap_or(Theme::System.key());
    let body = html! {
        h1 { "Light or dark" }
        p.aside { "For this browser alone. Paper is always light." }
        form.fields method="post" action="/look" {
            fieldset {
                legend { "Show pages" }
                @for theme in Theme::ALL {
                    label.theme {
                        input type="radio" name="theme" value=(theme.key()) checked[theme.key() == chosen];
                        " " (theme.label())
                    }
                }
            }
            button type="submit" { "Show them so" }
        }
    };
    layout::page("Light or dark", Footer::Plain, &body)
}

async fn choose(Typed(fields): Typed) -> Result<Response, WebError> {
    let theme = Theme::named(fields.get("theme"))
        .ok_or_else(|| WebError::refused("choose one of the three from the page `/look`"))?;
    let cookie = format!("{NAME}={}; Path=/; Max-Age={KEPT_SECONDS}; SameSite=Lax", theme.key());
    Ok(([(SET_COOKIE, cookie)], Redirect::to("/look")).into_response())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_choice_is_read_from_among_other_cookies_and_anything_else_is_none() {
        let of = |text: &'static str| {
            let mut headers = HeaderMap::new();
            headers.insert(COOKIE, text.parse().unwrap());
            Theme::of(&headers)
        };
        assert_eq!(of("coach=0a; theme=dark"), Theme::Dark);
        assert_eq!(of("theme=light;coach=0a"), Theme::Light);
        assert_eq!(of("theme=\"><script>"), Theme::System);
        assert_eq!(of("mytheme=dark"), Theme::System);
    }
}
