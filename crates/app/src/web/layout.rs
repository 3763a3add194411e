//! What all pages share: the document, the head line, the foot, and the call in words.

use maud::{DOCTYPE, Markup, html};
use percent_encoding::{AsciiSet, NON_ALPHANUMERIC, utf8_percent_encode};
use service::view::CallWord;

use super::{assets, theme};
use crate::chart::call_mark;

/// What stands at the foot of a page.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Footer {
    /// The usual cautions, for every page that advises training.
    Cautions,
    /// Nothing but the name.
    Plain,
}

/// The usual cautions, said on every page that advises training.
const CAUTIONS: &str = "Bellwether reads training records. It diagnoses nothing and clears nobody \
    to train. Be screened before you start or come back, use a spotter or safety bars when a lift \
    can pin you, and stop at pain, dizziness or pressure in the chest: a licensed professional \
    decides what comes next. Local rules come first.";

/// The page's icon, part of the page: a bell.
const ICON: &str = "data:image/svg+xml,%3Csvg xmlns='http://www.w3.org/2000/svg' \
    viewBox='0 0 16 16'%3E%3Cpath fill='%231f5673' d='M8 1.5c-2.8 0-4.4 2-4.4 4.6 0 3.2-1 4.3-1.6 \
    5.1v.8h12v-.8c-.6-.8-1.6-1.9-1.6-5.1C12.4 3.5 10.8 1.5 8 1.5z'/%3E%3Ccircle cx='8' \
    cy='13.6' r='1.5' fill='%231f5673'/%3E%3C/svg%3E";

/// A page of the desk.
pub(super) fn page(title: &str, footer: Footer, body: &Markup) -> Markup {
    html! {
        (DOCTYPE)
        html lang="en" data-theme=[theme::attribute()] {
            (head(title, &icon_and_style(&assets::desk_style_path())))
            body {
                a.skip href="#content" { "To the content" }
                header.head-line {
                    nav aria-label="Pages" {
                        a.home href="/" { "Bellwether" }
                        a href="/" { "Squad" }
                    }
                }
                main #content tabindex="-1" { (body) }
                footer.foot {
                    @if footer == Footer::Cautions { p { (CAUTIONS) } }
                    @else { p { "Bellwether" } }
                    a.look href="/look" { "Light or dark" }
                    " · "
                    a.look href="/browsers" { "Browsers" }
                }
            }
        }
    }
}

/// The head of any document: its title, how it fits a screen, and what it loads.
pub(super) fn head(title: &str, loads: &Markup) -> Markup {
    html! {
        head {
            meta charset="utf-8";
            title { (title) " · Bellwether" }
            meta name="viewport" content="width=device-width, initial-scale=1";
            meta name="color-scheme" content="light dark";
            (loads)
        }
    }
}

/// What every document that is served loads: the icon, and the style sheet at this address.
pub(super) fn icon_and_style(path: &str) -> Markup {
    html! {
        link rel="icon" href=(ICON);
        link rel="stylesheet" href=(path);
    }
}

/// A call: its shape and its word.
pub(super) fn call(word: CallWord) -> Markup {
    html! { span.call { (call_mark(word)) (word.as_str()) } }
}

/// The address of a lifter's page.
pub(super) fn lifter_path(name: &str) -> String {
    format!("/lifter/{}", utf8_percent_encode(name, SEGMENT))
}

/// The address of the page of a lifter's programme.
pub(super) fn programme_path(name: &str) -> String {
    format!("{}/programme", lifter_path(name))
}

/// The address of a lifter's joints.
pub(super) fn joints_path(name: &str) -> String {
    format!("{}/joints", lifter_path(name))
}

/// The address of a lifter's dose by weeks.
pub(super) fn dose_path(name: &str) -> String {
    format!("{}/dose", lifter_path(name))
}

/// The address of a draft.
pub(super) fn draft_path(name: &str, id: &str) -> String {
    format!("{}/draft/{}", programme_path(name), utf8_percent_encode(id, SEGMENT))
}

/// The address of a lift's page.
pub(super) fn lift_path(lifter: &str, lift: &str) -> String {
    format!("{}/lift/{}", lifter_path(lifter), utf8_percent_encode(lift, SEGMENT))
}

/// The address of a set's page.
pub(super) fn set_path(lifter: &str, id: &str) -> String {
    format!("{}/set/{id}", lifter_path(lifter))
}

/// A text as it stands behind `?name=` in an address.
pub(super) fn in_query(text: &str) -> String {
    utf8_percent_encode(text, SEGMENT).to_string()
}

/// What is written as it is in one part of an address.
const SEGMENT: &AsciiSet = &NON_ALPHANUMERIC.remove(b'-').remove(b'.').remove(b'_').remove(b'~');
