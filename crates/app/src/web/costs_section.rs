//! How often each rule is right on one lift, and the two costs in plain words that set the threshold.
//!
//! Trying costs is a form that reads (GET), so its result is an address; putting them into force is
//! another form, which writes.

use maud::{Markup, html};
use service::view::{ChanceView, CostsEffect, CostsView, LiftPageView};

use super::form::{Form, Input};
use super::layout;
use crate::wording::{decimal, in_hundred, percent};

/// The first field: what it costs to cut back for nothing.
pub(super) const CUT_FOR_NOTHING: &str = "A session's sets lost for nothing";
/// The second field: what it costs to train on top of a shortfall.
pub(super) const TRAINED_THROUGH: &str = "Training on top of a shortfall";

/// Draws the section of a lift's page.
pub(super) fn costs_section(view: &LiftPageView) -> Markup {
    let costs = &view.costs;
    let now = &costs.in_force;
    html! {
        section.costs aria-labelledby="costs" {
            h2 #costs { "When to ease" }
            p {
                "This lift is eased when it is more than " (percent(now.threshold))
                " probable that it is over " (decimal(costs.shortfall_pct, 1)) "\u{a0}% under its usual. "
                "That limit follows from how bad each of the two mistakes is to you: training on top of "
                "a shortfall counts " (times(now)) " losing a session's sets for nothing."
            }
            (form(view))
            (table(costs))
            (keep(view))
        }
    }
}

/// `as much as`, `3 times as much as`.
fn times(effect: &CostsEffect) -> String {
    let ratio = effect.trained_through / effect.cut_for_nothing;
    if (ratio - 1.0).abs() < 0.005 {
        return "as much as".to_owned();
    }
    let places = if ratio < 1.0 { 2 } else { 1 };
    let text = decimal(ratio, places);
    format!("{} times as much as", text.strip_suffix(".0").unwrap_or(&text))
}

fn form(view: &LiftPageView) -> Markup {
    let form = Form { fields: &view.costs.fields, problems: &view.costs.problems };
    let path = layout::lift_path(&view.lifter, &view.lift.name);
    html! {
        form.fields method="get" action={ (path) "#costs" } {
            (form.summary())
            div.pair {
                (form.input("cut_for_nothing", CUT_FOR_NOTHING, Input::Number))
                (form.input("trained_through", TRAINED_THROUGH, Input::Number))
            }
            p.aside { "Any numbers from 0.01 to 100; only their ratio counts." }
            button type="submit" { "Show what these costs would do" }
        }
    }
}

/// The button that puts tried costs into force; nothing unless some are tried that differ.
fn keep(view: &LiftPageView) -> Markup {
    let costs = &view.costs;
    let is_other = |chosen: &CostsEffect| {
        chosen.cut_for_nothing != costs.in_force.cut_for_nothing
            || chosen.trained_through != costs.in_force.trained_through
    };
    html! {
        @if costs.chosen.as_ref().is_some_and(is_other) {
            form.fields method="post" action=(layout::lift_path(&view.lifter, &view.lift.name)) {
                @for field in ["cut_for_nothing", "trained_through"] {
                    input type="hidden" name=(field) value=(costs.fields.get(field));
                }
                button type="submit" { "Use these costs for " (view.lifter) }
                p.aside { "They hold for every lift of " (view.lifter) ", from now on and looking back." }
            }
        }
    }
}

fn table(costs: &CostsView) -> Markup {
    let (now, tried) = (&costs.in_force, costs.chosen.as_ref());
    let Some(chances) = now.chances else {
        return html! {
            p { "How often the rules are right can be said once the lift is a gauge. " (eased_words(now)) }
            @if let Some(tried) = tried {
                p { "With the costs tried, the limit would be " (percent(tried.threshold)) ". " }
            }
        };
    };
    let tried_chances = tried.and_then(|tried| tried.chances);
    html! {
        div.rates {
            table {
                caption { "Of a hundred such days, on how many each rule cuts back" }
                thead {
                    tr {
                        th scope="col" { "The day" }
                        th.n scope="col" { "In force" br; span.aside { "ease above " (percent(now.threshold)) } }
                        @if let Some(tried) = tried {
                            th.n scope="col" { "Tried" br; span.aside { "ease above " (percent(tried.threshold)) } }
                        }
                        th.n scope="col" { "Plain rule" br; span.aside { "no better, so cut back" } }
                    }
                }
                tbody {
                    (row("ordinary: cut back for nothing", [Some(chances.false_alarm),
                        tried_chances.map(|c| c.false_alarm), Some(chances.plain_false_alarm)]))
                    @for (idx, day) in ["2 % short: caught", "3 % short: caught", "5 % short: caught"]
                        .iter().enumerate()
                    {
                        (row(day, [Some(chances.caught[idx]), tried_chances.map(|c| c.caught[idx]),
                            Some(chances.plain_caught[idx])]))
                    }
                }
            }
        }
        p.effect { (in_words(&chances, now, tried)) }
    }
}

fn row(day: &str, cells: [Option<f64>; 3]) -> Markup {
    html! {
        tr {
            th scope="row" { (day) }
            @for cell in cells.into_iter().flatten() {
                td.n { (percent(cell).replace("\u{a0}%", "")) }
            }
        }
    }
}

fn in_words(chances: &ChanceView, now: &CostsEffect, tried: Option<&CostsEffect>) -> Markup {
    html! {
        "Of ordinary days this rule cuts back for nothing on " strong { (in_hundred(chances.false_alarm)) }
        "; the plain rule (no better than last time, so cut back) on "
        strong { (in_hundred(chances.plain_false_alarm)) } ". " (eased_words(now))
        @if let Some(tried) = tried.filter(|tried| tried.read > 0) {
            " With the costs tried it would have eased "
            strong { @if tried.eased == 0 { "none" } @else { (tried.eased) } } "."
        }
    }
}

fn eased_words(now: &CostsEffect) -> String {
    match now.read {
        0 => "No lead set has been read yet.".to_owned(),
        1 => format!(
            "The one lead set read so far was {}eased.",
            if now.eased == 0 { "not " } else { "" }
        ),
        read if now.eased == 0 => format!("Of the {read} lead sets read so far it eased none."),
        read => format!("Of the {read} lead sets read so far it eased {}.", now.eased),
    }
}
