//! A lifter's settings as a form.

use maud::{Markup, html};

use super::costs_section::{CUT_FOR_NOTHING, TRAINED_THROUGH};
use super::form::{Form, Input};
use super::layout::{self, Footer};

/// Draws the form.
pub(super) fn settings_page(name: &str, form: Form<'_>) -> Markup {
    let path = layout::lifter_path(name);
    let body = html! {
        p.above { a href=(path) { (name) } }
        h1 { "Settings of " (name) }
        p.aside { "New settings supersede the old, which are kept." }
        form.fields method="post" action={ (path) "/settings" } {
            (form.summary())
            h2 { "Equipment" }
            (form.choice("unit", "Loads are shown in", UNITS))
            (equipment(form))
            h2 { "Limits" }
            (form.input_with("pain", "Pain above which a lift stops", Input::Whole,
                "0 to 10. Above it the call is stop, whatever the numbers, and a licensed professional \
                 decides what comes next."))
            (form.input_with("shortfall", "Shortfall that counts, in %", Input::Number,
                "How far below the usual a lift must be before it matters: 0.5 to 15, usually 2."))
            p { "How bad is each of the two mistakes? Only the ratio counts." }
            div.pair {
                (form.input("cut_for_nothing", CUT_FOR_NOTHING, Input::Number))
                (form.input("trained_through", TRAINED_THROUGH, Input::Number))
            }
            p.aside { "The page of each lift shows what other costs would do there before they are kept." }
            button type="submit" { "Keep these settings" }
        }
        p.more {
            "Whether pages are light or dark is a matter of each browser: "
            a href="/look" { "choose it for this one" } "."
        }
    };
    layout::page(&format!("Settings of {name}"), Footer::Cautions, &body)
}

/// Both units, as a field's choices.
pub(super) const UNITS: [(&str, &str); 2] = [("kg", "kilograms"), ("lb", "pounds")];

/// Bar, collars and plates.
pub(super) fn equipment(form: Form<'_>) -> Markup {
    html! {
        div.pair {
            (form.input("bar", "Bar", Input::Text))
            (form.input_with("collars", "Both collars together", Input::Text, "0 if they aren't counted."))
        }
        (form.area("plates", "Plates", 7,
            "One mass a line, with the number of pairs: 20 kg x 10, or 45 lb x 4."))
    }
}
