//! The card: one session for one lifter, on a phone or on one sheet of paper.
//!
//! Up to seven lifts fit one sheet, A4 or US Letter; more run on to the next sheet without tearing a
//! lift in two. The boxes to write in are for paper and don't show on a screen.

use maud::{DOCTYPE, Markup, PreEscaped, html};
use service::view::{CallWord, CardLift, CardSet, CardView, OutcomeRow, StoppedLift};

use super::{assets, layout, theme};
use crate::print::Paper;
use crate::wording::{self, percent};

/// Where a card will be read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Setting {
    /// From the desk, which serves the style sheet; `back` is the address of the lifter's page.
    Served {
        /// The address of the lifter's page.
        back: String,
    },
    /// As a file of its own, style and all.
    File,
}

/// Draws a card as a whole document.
#[must_use]
pub fn card_page(view: &CardView, setting: &Setting) -> Markup {
    let date = wording::date_with_weekday(view.date);
    let title = format!("Card for {}, {}", view.lifter, wording::date(view.date));
    html! {
        (DOCTYPE)
        html lang="en" data-theme=[theme::attribute()] {
            (layout::head(&title, &loads(view, setting)))
            body.(density(view.lifts.len() + view.stopped.len().div_ceil(3))) {
                @if let Setting::Served { back } = setting {
                    nav.screen-only aria-label="Pages" {
                        a href=(back) { "To " (view.lifter) "'s page" }
                        (prints(view, back))
                    }
                }
                main {
                    header.card-head {
                        h1 { (view.lifter) }
                        p.date { (date) }
                        p.basis { (view.basis) }
                    }
                    @if !view.notes.is_empty() {
                        ul.notes { @for note in &view.notes { li { (note) } } }
                    }
                    (stopped(&view.stopped))
                    @if view.lifts.is_empty() && !view.stopped.is_empty() {
                        p { "Every lift of this session is stopped." }
                    } @else if view.lifts.is_empty() {
                        p { "There is no lift on this card: no earlier session to take them from." }
                    } @else {
                        ol.lifts { @for lift in &view.lifts { li.lift { (card_lift(lift)) } } }
                    }
                }
                footer.cautions { p { (view.cautions) } }
            }
        }
    }
}

/// Draws a card as the text of a file that needs nothing else.
#[must_use]
pub fn card_file(view: &CardView) -> String {
    card_page(view, &Setting::File).into_string()
}

fn loads(view: &CardView, setting: &Setting) -> Markup {
    html! {
        @match setting {
            Setting::Served { back } => {
                (layout::icon_and_style(&assets::card_style_path()))
                link rel="alternate" type="application/json"
                    href={ (back) "/card.json?date=" (view.date) };
            }
            Setting::File => {
                meta http-equiv="Content-Security-Policy"
                    content="default-src 'none'; style-src 'unsafe-inline'";
                // Our own constant, and the text of a style element isn't unescaped by browsers.
                style { (PreEscaped(assets::CARD_STYLE)) }
            }
        }
    }
}

/// The ways to the card as PDF, the usual paper first.
fn prints(view: &CardView, back: &str) -> Markup {
    let usual = Paper::usual_for(view.unit);
    let papers = std::iter::once(usual).chain(Paper::ALL.into_iter().filter(|one| *one != usual));
    html! {
        span.prints {
            "Print: "
            @for (place, paper) in papers.enumerate() {
                @if place > 0 { ", " }
                a href={ (back) "/card.pdf?date=" (view.date) "&paper=" (paper.as_str()) } {
                    "PDF on " (paper.label())
                }
            }
        }
    }
}

/// The fewer the lifts, the larger the type on paper.
fn density(n_lifts: usize) -> &'static str {
    match n_lifts {
        0..=3 => "roomy",
        4 => "even",
        5..=6 => "snug",
        _ => "close",
    }
}

/// The lifts that are not done, each with what to do instead.
fn stopped(lifts: &[StoppedLift]) -> Markup {
    html! {
        @if !lifts.is_empty() {
            ul.stopped aria-label="Not done today" {
                @for lift in lifts {
                    li {
                        (layout::call(CallWord::Stop)) " " strong { (lift.name) } ". " (lift.stop.words)
                    }
                }
            }
        }
    }
}

fn card_lift(lift: &CardLift) -> Markup {
    html! {
        div.lift-head {
            h2 { (lift.name) }
            p.aside { (lift.prime_movers) }
            @if let Some(meaning) = lift.load_meaning { p.aside { "Loads are " (meaning) "." } }
            @if lift.spotter { p.spotter { "Spotter or safety bars." } }
            (warm_ups(&lift.warm_ups))
        }
        div.lead {
            h3 { "Lead set" }
            @match lift.lead.load {
                Some(load) => p.target { (wording::set(load, lift.lead.reps)) },
                None => { p.target { "×\u{a0}" (lift.lead.reps) } p.reserve { "load to be found" } },
            }
            @if let Some(rir) = lift.lead_rir { p.reserve { (wording::reserve(rir)) } }
            @if let Some(plates) = &lift.lead.plates { p.plates { (wording::plates(plates)) } }
            @match lift.chance {
                Some(chance) => p.chance { "Chance of making it " (percent(chance)) },
                None => p.chance { (lift.why_no_chance.unwrap_or(&lift.why)) },
            }
            @if let Some(expected) = &lift.expected { p.expected { "Expected: " (expected) } }
        }
        div.after {
            @if lift.outcomes.is_empty() { p.unread { (lift.gauge_reason) } }
            @else { (outcomes(&lift.outcomes)) }
            (remaining(&lift.remaining))
        }
        div.screen-only.why {
            @if lift.lead.load.is_some() { p { (lift.why) } }
            @if !lift.outcomes.is_empty() { p { (lift.gauge_reason) } }
        }
        (boxes(lift.remaining.len(), lift.lead.load.is_none()))
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

fn outcomes(rows: &[OutcomeRow]) -> Markup {
    html! {
        table.outcomes {
            thead {
                tr {
                    th scope="col" { "Reps done" }
                    th scope="col" { "Call" }
                    th scope="col" { "What follows" }
                }
            }
            tbody {
                @for row in rows {
                    tr {
                        th scope="row" { (row.reps) }
                        td { (layout::call(row.call)) }
                        td {
                            (row.then)
                            span.screen-only.odds { " " (wording::shortfall_odds(row.p_shortfall)) }
                        }
                    }
                }
            }
        }
    }
}

/// The remaining sets, equal ones together.
fn remaining(sets: &[CardSet]) -> Markup {
    html! {
        @if !sets.is_empty() {
            p.remaining {
                "As planned: "
                @for (place, same) in sets.chunk_by(wording::are_alike).enumerate() {
                    @if place > 0 { "; " }
                    span.planned {
                        (same.len()) " more × " (same[0].reps)
                        @if let Some(load) = same[0].load { " with " strong { (load) } }
                        @if let Some(plates) = &same[0].plates { " (" (wording::plates(plates)) ")" }
                    }
                }
                "."
            }
        }
    }
}

/// Boxes to write in by hand: reps and reserve for each work set, the load if it has to be found, pain once.
fn boxes(n_remaining: usize, is_load_open: bool) -> Markup {
    html! {
        div.boxes aria-hidden="true" {
            @for place in 0..=n_remaining {
                span.entry {
                    @if place == 0 { b { "Lead" } } @else { b { (place + 1) } }
                    @if is_load_open { span.box { "load" } }
                    span.box { "reps" } span.box { "RIR" }
                }
            }
            span.entry.pain { b { "Pain" } span.box { "0–10" } }
        }
    }
}
