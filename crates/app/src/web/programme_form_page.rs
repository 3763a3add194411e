//! The form of a programme: days, lifts, and how each moves on. Works without a script: a button that asks
//! for another lift sends the form and gets it back with one row more, and nothing is kept by that.

use maud::{Markup, html};
use service::programme::{ProgrammeFormView, RULES, days_in};

use super::error::sentence;
use super::form::{Form, Input, known_lifts};
use super::layout::{self, Footer};
use super::programme_page::{Buttons, day_of, joint_loads, minutes, remarks};
use crate::wording;

/// Draws the form.
pub(super) fn form_page(view: &ProgrammeFormView) -> Markup {
    let path = layout::programme_path(&view.lifter);
    let form = Form { fields: &view.fields, problems: &view.problems };
    let body = html! {
        p.above {
            a href=(layout::lifter_path(&view.lifter)) { (view.lifter) } " › "
            a href=(path) { "Programme" }
        }
        h1 { "Programme of " (view.lifter) }
        p {
            "A lift whose name is emptied is left out, and so is a day without a lift. Lifts are done in the "
            "order of their places."
        }
        @if view.is_drafted {
            p.done role="status" {
                "This is the drafted week. Nothing of it is kept yet: read it as you would read anybody's, change what "
                "you would change, and keep it at the foot of the page."
            }
        }
        @if let Some(mended) = &view.mended { p.done role="status" { (sentence(mended)) } }
        @if let Some(check) = &view.check {
            (remarks(check, Buttons::OfForm("programme-form")))
            @if !check.joints.is_empty() {
                details { summary { "How it loads the joints" } (joint_loads(check)) }
            }
        }
        form.fields.programme-form #programme-form method="post" action={ (path) "/edit" } {
            (form.summary_saying("Nothing was kept."))
            // The first button is the one that the Enter key presses; this one changes nothing.
            div { button.plain type="submit" name="do" value="check" { "Check it, without keeping it" } }
            (form.input("name", "What it is called", Input::Text))
            @for (day, lifts) in days_in(&view.fields) { (day_part(view, form, day, &lifts)) }
            div { button.plain type="submit" name="do" value="day" { "Another day" } }
            (purpose(view, form))
            // What is wanted of drafts has its place in the wishes; here it is only carried along.
            @for (field, value) in form.fields.iter().filter(|(field, _)| is_of_drafts(field)) {
                input type="hidden" name=(field) value=(value);
            }
            (form.input_with("begins", "The day it begins", Input::Date, "Its weeks, and with them waves, are counted from its first session from then on."))
            @if view.is_there {
                (form.input_with("reason", "Why it changes", Input::Text, "If you like; it stands with what is superseded."))
            }
            button type="submit" name="do" value="keep" { "Keep this programme" }
        }
        (known_lifts(&view.known_lifts))
    };
    layout::page(&format!("Programme of {}", view.lifter), Footer::Cautions, &body)
}

fn day_part(view: &ProgrammeFormView, form: Form<'_>, day: u16, lifts: &[u16]) -> Markup {
    let weekday = form.fields.get(&format!("d{day}_weekday")).to_owned();
    html! {
        fieldset.day-part {
            legend {
                (weekday)
                @if let Some(day) = view.check.as_ref().and_then(|check| day_of(check, &weekday)) {
                    " " (minutes(day))
                }
            }
            div.pair {
                (form.choice(&format!("d{day}_weekday"), "Day", view.weekdays.iter().map(|name| (*name, *name))))
                (form.input_with(&format!("d{day}_minutes"), "Minutes there are", Input::Whole, "Empty if it may take as long as it takes."))
            }
            @for lift in lifts { (lift_row(form, day, *lift, &weekday)) }
            div {
                button.plain type="submit" name="do" value={ "lift-" (day) } { "Another lift on " (weekday) }
            }
        }
    }
}

fn lift_row(form: Form<'_>, day: u16, lift: u16, weekday: &str) -> Markup {
    let field = |part: &str| format!("d{day}_l{lift}_{part}");
    let get = |part: &str| form.fields.get(&field(part));
    let parts = ["step", "rest", "goal", "share", "weeks", "misses", "back"];
    let is_wrong = parts.iter().any(|part| form.problems.of(&field(part)).is_some());
    let told: Vec<String> = [
        ("step", "step ", ""),
        ("rest", "rest ", " s"),
        ("goal", "goal ", " reps"),
        ("share", "", "\u{a0}% of today's 1RM"),
        ("misses", "", " misses go back"),
        ("weeks", "weeks ", ""),
    ]
    .iter()
    .filter(|(part, ..)| !get(part).is_empty())
    .map(|(part, before, after)| format!("{before}{}{after}", get(part)))
    .collect();
    html! {
        div.lift-row role="group" aria-label={ (weekday) ", lift " (lift) } {
            (form.input(&field("place"), "Place", Input::Number))
            (form.input(&field("lift"), "Lift", Input::Lift))
            (form.input(&field("sets"), "Sets", Input::Whole))
            (form.input(&field("reps"), "Reps", Input::Text))
            (form.input(&field("rir"), "In reserve", Input::Number))
            (form.choice(&field("rule"), "Moves on by", RULES.iter().map(|rule| (*rule, *rule))))
            details open[is_wrong] {
                summary {
                    @if told.is_empty() { "Step, rest, and what the rule needs" }
                    @else { (wording::capitalised(&told.join(", "))) }
                }
                div.more-row {
                    (form.input_with(&field("step"), "Step of the load", Input::Text, "Empty for the equipment's own."))
                    (form.input_with(&field("rest"), "Rest, s", Input::Whole, "10 to 900."))
                    (form.input_with(&field("goal"), "Rep goal: reps in all", Input::Whole, "Over all sets."))
                    (form.input_with(&field("share"), "Share of today: %", Input::Number, "Of today's 1RM, 20 to 105."))
                    (form.input_with(&field("misses"), "Load steps: misses", Input::Whole, "In a row, before going back; usually 3."))
                    (form.input_with(&field("back"), "Load steps: back by %", Input::Number, "Usually 10."))
                    (form.input_with(&field("weeks"), "Wave: its weeks", Input::Text, "3 x 8 at 70; 4 x 6 at 75. Leave sets and reps empty."))
                }
            }
        }
    }
}

fn purpose(view: &ProgrammeFormView, form: Form<'_>) -> Markup {
    let boxes = |kind: &str, all: &[(&'static str, &'static str)]| {
        html! {
            div.ticks { @for (key, label) in all { (form.tick(&format!("{kind}_{key}"), label)) } }
        }
    };
    html! {
        details.part open[has_purpose(form)] {
            summary { "What it is for, and what it must get by with" }
            div.fields {
                (form.input_with("raise", "Lifts that are to go up", Input::Text, "With commas between."))
                fieldset {
                    legend { "Joints to be spared" }
                    p.hint { "A coach's choice; it diagnoses nothing. Pain belongs before a licensed professional." }
                    (boxes("spare", &view.joints))
                }
                fieldset {
                    legend { "Equipment at hand" }
                    p.hint { "None ticked: everything is." }
                    (boxes("equipment", &view.equipment))
                }
                (form.input_with("refuse", "Lifts not to take", Input::Text, "With commas between. Drafts and stand-ins leave them out."))
                (form.area("dose", "Ranges of dose in place of the usual", 4, "One muscle a line, hard sets a week: least, aim, most. quadriceps: 4 8 14"))
                (form.area("note", "Note", 3, ""))
            }
        }
    }
}

fn is_of_drafts(field: &str) -> bool {
    matches!(field, "most_lifts" | "ignore_hours") || field.starts_with("priority_")
}

fn has_purpose(form: Form<'_>) -> bool {
    let told = ["raise", "refuse", "dose", "note"];
    told.iter().any(|field| !form.fields.get(field).is_empty() || form.problems.of(field).is_some())
        || form
            .fields
            .iter()
            .any(|(field, _)| field.starts_with("spare_") || field.starts_with("equipment_"))
}

#[cfg(test)]
mod tests {
    use service::forms::{Fields, Problems};

    use super::*;

    /// The page has no field for what is wanted of drafts, and sends it back all the same.
    #[test]
    fn what_is_wanted_of_drafts_is_carried_along() {
        let told = [("most_lifts", "6"), ("ignore_hours", "on"), ("priority_lats", "high")];
        let fields =
            told.iter().fold(Fields::default(), |all, (field, text)| all.with(field, text));
        let page = form_page(&ProgrammeFormView {
            lifter: "Odd Fennimar".to_owned(), // invented
            is_there: true,
            fields,
            problems: Problems::default(),
            check: None,
            is_drafted: false,
            mended: None,
            weekdays: Vec::new(),
            joints: Vec::new(),
            equipment: Vec::new(),
            known_lifts: Vec::new(),
        });
        let page = page.into_string();
        for (field, text) in told {
            let hidden = format!(r#"<input type="hidden" name="{field}" value="{text}">"#);
            assert!(page.contains(&hidden), "{field}: {page}");
        }
    }
}
