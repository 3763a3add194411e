//! Taking on a new lifter: the form.

use maud::{Markup, html};
use service::forms::{Fields, Problems};
use service::lifter::intake::{BESTS, IntakeView, JOINTS};

use super::form::{Form, Input, known_lifts};
use super::layout::{self, Footer};
use super::settings_page::{UNITS, equipment};

/// Draws the form, with what was typed and is wrong if there is such.
pub(super) fn intake_page(view: &IntakeView, typed: Option<(&Fields, &Problems)>) -> Markup {
    let nothing_wrong = Problems::default();
    let (fields, problems) = typed.unwrap_or((&view.fields, &nothing_wrong));
    let form = Form { fields, problems };
    let body = html! {
        h1 { "Take on a lifter" }
        p.lede { "A name is enough to begin with; all the rest can come later." }
        p {
            "Screening comes before the first session, by local rules. What hurts is noted here so that "
            "lifts that load the joint are left out; a licensed professional says what it is."
        }
        form.fields.broad method="post" action="/new-lifter" {
            (form.summary())
            (form.input("name", "Name", Input::Text))
            div.pair {
                (form.choice("unit", "Loads are in", UNITS))
                (form.input_with("body_mass", "Body mass", Input::Number, "In the same unit; for lifts that move the body."))
            }
            (bests(form))
            (joints(view, form))
            details.part open[has_equipment(fields)] {
                summary { "Equipment" }
                p { "Left empty, it is the usual: a 20 kg bar and plates from 20 to 1.25 kg, or a 45 lb bar and plates from 45 to 2.5 lb." }
                div.fields { (equipment(form)) }
            }
            button type="submit" { "Take the lifter on" }
        }
        (known_lifts(&view.known_lifts))
        p { "Is there a log already? " a href="/import" { "Import it" } ": lifters in it are taken on by it." }
    };
    layout::page("Take on a lifter", Footer::Cautions, &body)
}

fn has_equipment(fields: &Fields) -> bool {
    ["bar", "collars", "plates"].iter().any(|field| !fields.get(field).is_empty())
}

fn bests(form: Form<'_>) -> Markup {
    html! {
        fieldset {
            legend { "Known bests" }
            p.hint { "Recorded as tests on their day. The first targets start from work sets, so log or import those too." }
            @for row in 1..=BESTS {
                div.row role="group" aria-label={ "Best " (row) } {
                    (form.input(&format!("best_lift_{row}"), "Lift", Input::Lift))
                    (form.input(&format!("best_load_{row}"), "Load", Input::Number))
                    (form.input(&format!("best_reps_{row}"), "Reps", Input::Whole))
                    (form.input(&format!("best_date_{row}"), "Day", Input::Date))
                }
            }
        }
    }
}

fn joints(view: &IntakeView, form: Form<'_>) -> Markup {
    let none = [("", "none")];
    html! {
        fieldset {
            legend { "Joints that complain" }
            p.hint { "Recorded as today's check-in. Pain from 0 (none) to 10 (worst imaginable)." }
            @for row in 1..=JOINTS {
                div.pair role="group" aria-label={ "Joint " (row) } {
                    (form.choice(&format!("joint_{row}"), "Joint", none.iter().chain(&view.joints).copied()))
                    (form.input(&format!("pain_{row}"), "Pain", Input::Whole))
                }
            }
        }
    }
}
