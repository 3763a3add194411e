//! The document of the floor's page: the session as text, readable without a script, and the places that
//! the modules fill.

use maud::{DOCTYPE, Markup, html};
use service::floor::{FloorDay, FloorLift};
use service::view::{CallWord, CardSet};

use crate::chart::call_mark;
use crate::web::error::sentence;
use crate::web::{assets, layout, theme};
use crate::wording;

/// Draws the page of one session.
pub(super) fn floor_page(token: &str, view: &FloorDay) -> Markup {
    let date = view.date.parse().map_or_else(|_| view.date.clone(), wording::date_with_weekday);
    let data = serde_json::to_string(view).unwrap_or_default();
    html! {
        (DOCTYPE)
        html lang="en" data-theme=[theme::attribute()] {
            (layout::head(&view.lifter, &style_and_modules()))
            body data-token=(token) data-day=(data) data-version=(assets::floor_version()) {
                main #floor {
                    aside #stops aria-label="Stopped by pain" {}
                    header.floor-head {
                        h1 { (view.lifter) }
                        p.date { (date) }
                        p.basis { (view.basis) }
                        p #reached role="status" { "Logging needs JavaScript." }
                    }
                    @if !view.notes.is_empty() {
                        ul.notes { @for note in &view.notes { li { (note) } } }
                    }
                    div #refused {}
                    div #pains {}
                    div #check-in {}
                    ol.lifts {
                        @for (place, lift) in view.lifts.iter().enumerate() {
                            (lift_item(place + 1, lift))
                        }
                    }
                    div #session {}
                    footer.cautions { p { (view.cautions) } }
                }
                aside #bar aria-label="Undo and rest" {}
                template #marks {
                    @for word in CallWord::ALL {
                        span data-call=(word.as_str()) { (call_mark(word)) }
                    }
                }
            }
        }
    }
}

/// Draws the page that stands where a link opens nothing.
pub(super) fn closed_page(reason: &str) -> Markup {
    html! {
        (DOCTYPE)
        html lang="en" data-theme=[theme::attribute()] {
            (layout::head("No session here", &style()))
            body {
                main #floor {
                    header.floor-head { h1 { "No session here" } }
                    p.reason { (sentence(reason)) }
                    p {
                        "What was logged on this phone and hasn't reached the desk is still kept on it. A "
                        "new link for the same lifter, opened in this browser, sends it."
                    }
                }
            }
        }
    }
}

fn style() -> Markup {
    layout::icon_and_style(&assets::floor_path("floor.css"))
}

fn style_and_modules() -> Markup {
    html! {
        (style())
        @for file in assets::floor_modules() {
            link rel="modulepreload" href=(assets::floor_path(file));
        }
        script type="module" src=(assets::floor_path("page.js")) {}
    }
}

fn lift_item(place: usize, lift: &FloorLift) -> Markup {
    let card = &lift.card;
    html! {
        li.lift data-lift=(card.name) {
            h2 #{ "lift-" (place) } {
                span.lift-name { (card.name) }
                span.lift-state {}
            }
            div.lift-body #{ "body-" (place) } {
                @if let Some(stop) = &lift.stop {
                    div.stopped-now { p { (layout::call(CallWord::Stop)) " " (stop.words) } }
                }
                div.plan hidden[lift.stop.is_some()] {
                    p.aside {
                        (card.prime_movers)
                        @if let Some(meaning) = card.load_meaning { ". Loads are " (meaning) "." }
                    }
                    @if card.spotter { p.spotter { "Spotter or safety bars." } }
                    (warm_ups(&card.warm_ups))
                    div.lead {
                        h3 { "Lead set" }
                        p.target { (wording::card_set(&card.lead)) }
                        @if let Some(rir) = card.lead_rir { p.reserve { (wording::reserve(rir)) } }
                        @if let Some(plates) = &card.lead.plates { p.plates { (wording::plates(plates)) } }
                        p.forecast { (forecast(lift)) }
                    }
                    details {
                        summary { "Why this target" }
                        @if card.lead.load.is_some() { p { (card.why) } }
                        p { (card.gauge_reason) }
                    }
                }
                div.work {}
            }
        }
    }
}

fn forecast(lift: &FloorLift) -> String {
    match (lift.card.chance, &lift.card.expected) {
        (Some(chance), Some(expected)) => {
            format!("Chance of making it {}: {expected}.", wording::percent(chance))
        }
        (Some(chance), None) => format!("Chance of making it {}.", wording::percent(chance)),
        (None, _) => lift.card.why_no_chance.unwrap_or(&lift.card.why).to_owned(),
    }
}

fn warm_ups(sets: &[CardSet]) -> Markup {
    html! {
        @if !sets.is_empty() {
            table.warm-ups {
                caption { "Warm-up" }
                @for set in sets {
                    tr {
                        td.n { @if let Some(load) = set.load { (load) } }
                        td { "× " (set.reps) }
                        td.plates { @if let Some(plates) = &set.plates { (wording::plates(plates)) } }
                    }
                }
            }
        }
    }
}
