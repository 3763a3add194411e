//! The door's own pages: turned away, the key, a link that works once, and the browsers that are let in.

use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use maud::{Markup, html};

use super::Browser;
use super::key::in_groups;
use crate::web::error::sentence;
use crate::web::floor::links::picture;
use crate::web::layout::{self, Footer};
use crate::wording;

/// Why somebody doesn't come in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum TurnedAway {
    /// The desk isn't reached by that name.
    NotByThatName,
    /// A form that another site sent, or none that a browser shows.
    NotFromHere,
    /// Somebody the desk doesn't know.
    NotTheCoach {
        /// Whether another site led here; browsers then don't say who they are.
        from_elsewhere: bool,
    },
    /// Something else was typed for the key.
    WrongKey,
    /// A link that opens nothing, or nothing any more.
    WrongLink,
    /// Too many try wrong links at once.
    TooManyWrong,
}

impl TurnedAway {
    fn status(self) -> StatusCode {
        match self {
            TurnedAway::NotByThatName => StatusCode::MISDIRECTED_REQUEST,
            TurnedAway::TooManyWrong => StatusCode::TOO_MANY_REQUESTS,
            TurnedAway::NotFromHere
            | TurnedAway::NotTheCoach { .. }
            | TurnedAway::WrongKey
            | TurnedAway::WrongLink => StatusCode::FORBIDDEN,
        }
    }

    fn heading(self) -> &'static str {
        match self {
            TurnedAway::NotByThatName => "This desk isn't known by that name",
            TurnedAway::NotFromHere => "That didn't come from this desk's own pages",
            TurnedAway::NotTheCoach { .. } => "These are the coach's pages",
            TurnedAway::WrongKey => "That isn't the coach's key",
            TurnedAway::WrongLink => "That link opens nothing",
            TurnedAway::TooManyWrong => "Too many wrong links at once",
        }
    }
}

impl IntoResponse for TurnedAway {
    fn into_response(self) -> Response {
        let body = html! {
            h1 { (self.heading()) }
            @match self {
                TurnedAway::NotByThatName => p {
                    "Use the address that it printed when it started, or give this one with "
                    code.option { "--address" } "."
                },
                TurnedAway::NotFromHere => p {
                    "Nothing was changed. Open the page here and send it again."
                },
                TurnedAway::TooManyWrong => p { "Wait a moment, then try again." },
                TurnedAway::NotTheCoach { from_elsewhere } => {
                    p { "This browser hasn't been let in, or not for some time. A lifter's page has a link of its own." }
                    @if from_elsewhere {
                        p {
                            "Another site led you here, and browsers then keep to themselves who they are: "
                            a href="/" { "try again from here" } "."
                        }
                    }
                    (key_form(None))
                },
                TurnedAway::WrongKey => (key_form(Some("that isn't the key of this desk"))),
                TurnedAway::WrongLink => {
                    p { "The coach's links work once, and not for long. The key lets a browser in too." }
                    (key_form(None))
                },
            }
        };
        (self.status(), layout::page(self.heading(), Footer::Plain, &body)).into_response()
    }
}

/// `GET /coach`: where the key is typed.
pub(super) fn key_page() -> Markup {
    let body = html! {
        h1 { "Let this browser in" }
        (key_form(None))
    };
    layout::page("Let this browser in", Footer::Plain, &body)
}

fn key_form(problem: Option<&str>) -> Markup {
    let described =
        if problem.is_some() { "field-key-problem field-key-hint" } else { "field-key-hint" };
    html! {
        form.fields method="post" action="/coach" {
            // By this name a password manager keeps the key.
            input type="text" name="username" value="coach" autocomplete="username" hidden;
            div.field {
                label for="field-key" { "The coach's key" }
                input id="field-key" type="password" name="key" autocomplete="current-password"
                    autocapitalize="none" spellcheck="false" required
                    aria-invalid=[problem.map(|_| "true")] aria-describedby=(described);
                @if let Some(problem) = problem {
                    p.problem id="field-key-problem" { (sentence(problem)) }
                }
                p.hint id="field-key-hint" {
                    code.option { "bellwether key" } " prints it on the computer that serves the desk."
                }
            }
            button type="submit" { "Open the desk" }
        }
    }
}

/// `GET /coach/{link}`: a link that works once, before it is used.
pub(super) fn link_page(action: &str) -> Markup {
    let body = html! {
        h1 { "Let this browser in" }
        p {
            "This link opens the coach's pages in one browser, once: everybody's training, and every change to "
            "it. Use it in a browser of your own."
        }
        form.press method="post" action=(action) { button type="submit" { "Open the desk in this browser" } }
        p.hint {
            "It stays open until it hasn't been used for 30 days, or for a year at the longest. The page "
            q { "Browsers" } " ends it sooner."
        }
    };
    layout::page("Let this browser in", Footer::Plain, &body)
}

/// What the page of browsers shows.
#[derive(Clone, Debug)]
pub(super) struct BrowsersView {
    pub(super) browsers: Vec<Browser>,
    /// The id of the browser that asks; none if it came in without a key.
    pub(super) this: Option<String>,
    /// What was just done.
    pub(super) done: Option<String>,
    /// The key, right after it was changed.
    pub(super) new_key: Option<String>,
}

/// `GET /browsers`: who is let in.
pub(super) fn browsers_page(view: &BrowsersView) -> Markup {
    let n_others = view.browsers.iter().filter(|one| view.this.as_ref() != Some(&one.id)).count();
    let body = html! {
        h1 { "Browsers" }
        p.lede { "Where the coach's pages are open." }
        @if let Some(done) = &view.done { p.done role="status" { (done) } }
        @if let Some(key) = &view.new_key {
            p { "The key from now on, shown only here. Keep it where only you find it:" }
            p.link-text { code { (in_groups(key)) } }
        }
        @if view.this.is_none() {
            p {
                "At this computer the desk is open to you without a key: nobody else can reach it, and you are the "
                "user who runs it."
            }
        }
        @if view.browsers.is_empty() { p { "No browser has been let in with the key or by a link." } }
        @else { ul.browsers { @for one in &view.browsers { li { (line(one, view.this.as_deref())) } } } }
        @if n_others > 0 {
            form.press method="post" action="/browsers/end-others" {
                button.plain type="submit" {
                    @if view.this.is_some() { "End all others" } @else { "End all" }
                }
            }
        }
        p.hint { "A browser ends by itself if it isn't used for 30 days, and after a year." }
        (another())
        (key_section())
    };
    layout::page("Browsers", Footer::Plain, &body)
}

fn line(one: &Browser, this: Option<&str>) -> Markup {
    let is_this = this == Some(one.id.as_str());
    let (began, used) = (wording::instant(one.began), wording::instant(one.used));
    html! {
        div {
            strong { (one.name) } @if is_this { ", this one" }
            p.hint { "Let in " (began) "." br; "Last used " (used) "." }
        }
        form method="post" action={ "/browsers/" (one.id) "/end" } {
            button.plain type="submit" aria-label={ "End " (one.name) ", let in " (began) } { "End" }
        }
    }
}

fn another() -> Markup {
    html! {
        section.part aria-labelledby="another" {
            h2 #another { "Another browser" }
            p {
                "A link lets one browser in, once, within fifteen minutes. Or type the key there, which "
                code.option { "bellwether key" } " prints on the computer that serves the desk."
            }
            form.press method="post" action="/browsers/link" { button type="submit" { "Make a link" } }
        }
    }
}

fn key_section() -> Markup {
    html! {
        section.part aria-labelledby="key" {
            h2 #key { "The key" }
            p {
                "Change it if somebody may have it who shouldn't, or a computer is lost. Every other browser is "
                "ended at once, and so is every link for one. Lifters' links stay."
            }
            form.press method="post" action="/browsers/key" {
                button.plain type="submit" { "Change the key" }
            }
        }
    }
}

/// The link for another browser, shown once.
pub(super) fn new_link_page(address: &str, only_here: bool) -> Markup {
    let body = html! {
        h1 { "A link for another browser" }
        p.lede { "It opens the coach's pages once, within fifteen minutes. Scan it, or open it there." }
        @if only_here {
            p {
                strong { "This address is reached from this computer only." }
                " To reach the desk from elsewhere, serve it with "
                code.option { "--listen 0.0.0.0" } ", or under HTTPS with " code.option { "--address" } "."
            }
        }
        (picture(address))
        p.link-text { a href=(address) { (address) } }
        p { "Send it to nobody: whoever opens it first is let in." }
        p { a href="/browsers" { "To the browsers" } }
    };
    layout::page("A link for another browser", Footer::Plain, &body)
}

/// What is said once a browser was ended.
pub(super) fn ended(n: usize) -> String {
    match n {
        0 => "No browser had to be ended.".to_owned(),
        1 => "One browser is ended.".to_owned(),
        n => format!("{n} browsers are ended."),
    }
}
