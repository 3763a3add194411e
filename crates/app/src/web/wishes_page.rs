//! The form of wishes for a week that is to be drafted. Works without a script.

use maud::{Markup, html};
use service::programme::{PresentView, WishesFormView};

use super::form::{Form, Input, known_lifts};
use super::layout::{self, Footer};
use crate::wording;

/// Draws the form.
pub(super) fn wishes_page(view: &WishesFormView) -> Markup {
    let path = layout::programme_path(&view.lifter);
    let form = Form { fields: &view.fields, problems: &view.problems };
    let body = html! {
        p.above {
            a href=(layout::lifter_path(&view.lifter)) { (view.lifter) } " › "
            a href=(path) { "Programme" }
        }
        h1 { "Draft a week for " (view.lifter) }
        p.lede { "Say what there is and what matters. A week that keeps to it stands within seconds and is bettered while you look on." }
        p { "Filled in from what is known; change what you like. Nothing is kept until you keep the programme that comes of it." }
        form.fields.wishes method="post" action={ (path) "/draft" } {
            (form.summary_saying("Nothing was drafted."))
            @if form.fields.has("draft") { input type="hidden" name="draft" value=(form.fields.get("draft")); }
            (form.input("name", "What the programme is called", Input::Text))
            (days(view, form))
            (form.input_with("raise", "Lifts that are to go up", Input::Text, "With commas between. Each gets 3 work sets or more."))
            (joints(view, form))
            (equipment(view, form))
            (liking(form))
            (muscles(view, form))
            (fixed(view, form))
            (from_now(view, form))
            button type="submit" name="do" value="draft" { "Draft a week" }
        }
        (known_lifts(&view.known_lifts))
    };
    layout::page(&format!("Draft a week for {}", view.lifter), Footer::Cautions, &body)
}

fn days(view: &WishesFormView, form: Form<'_>) -> Markup {
    html! {
        fieldset {
            legend { "Days, and the minutes there are" }
            p.hint { "75 minutes where none are written." }
            div.day-wishes {
                @for weekday in &view.weekdays {
                    @let minutes = format!("minutes_{weekday}");
                    div.day-wish {
                        (form.tick(&format!("day_{weekday}"), weekday))
                        div.minutes {
                            input id={ "field-" (minutes) } type="text" inputmode="numeric" name=(minutes)
                                value=(form.fields.get(&minutes)) autocomplete="off" size="4"
                                aria-label={ "Minutes on " (weekday) }
                                aria-invalid=[form.problems.of(&minutes).map(|_| "true")];
                            " min"
                        }
                        (form.problem(&minutes))
                        (form.problem(&format!("day_{weekday}")))
                    }
                }
            }
        }
    }
}

fn joints(view: &WishesFormView, form: Form<'_>) -> Markup {
    html! {
        fieldset {
            legend { "Joints to be spared" }
            p.hint {
                "No lift may plainly load them. A coach's choice; it diagnoses nothing. Pain belongs before a licensed "
                "professional."
            }
            div.ticks {
                @for joint in &view.joints { (form.tick(&format!("spare_{}", joint.key), joint.label)) }
            }
            @let told = view.joints.iter().filter_map(|joint| Some((joint.label, joint.told.as_ref()?)));
            @let told: Vec<_> = told.collect();
            @if !told.is_empty() {
                ul.totals { @for (joint, told) in told { li { (super::error::sentence(&format!("{joint}: {told}"))) } } }
            }
        }
    }
}

fn equipment(view: &WishesFormView, form: Form<'_>) -> Markup {
    html! {
        fieldset #field-equipment {
            legend { "Equipment at hand" }
            p.hint { "None ticked: everything is." }
            div.ticks {
                @for (key, label) in &view.equipment { (form.tick(&format!("equipment_{key}"), label)) }
            }
        }
    }
}

fn liking(form: Form<'_>) -> Markup {
    let fields = ["prefer", "refuse", "most_lifts", "ignore_hours"];
    let told =
        |field: &&str| !form.fields.get(field).is_empty() || form.problems.of(field).is_some();
    let is_open = fields.iter().any(told);
    html! {
        details.part open[is_open] {
            summary { "Lifts liked and refused, and how full a day may be" }
            div.fields {
                (form.input_with("prefer", "Lifts to take if they fit", Input::Text, "With commas between."))
                (form.input_with("refuse", "Lifts not to take", Input::Text, "With commas between."))
                (form.input_with("most_lifts", "The most lifts in a day", Input::Whole, "1 to 20; 7 if it is empty."))
                div.ticks.one { (form.tick("ignore_hours", "A muscle may be loaded again before it is back by this lifter's own hours")) }
            }
        }
    }
}

fn muscles(view: &WishesFormView, form: Form<'_>) -> Markup {
    let priority = |key: &str| form.fields.get(&format!("priority_{key}")).to_owned();
    let is_open = view.muscles.iter().any(|(key, ..)| !priority(key).is_empty())
        || !form.fields.get("dose").is_empty()
        || form.problems.of("dose").is_some();
    html! {
        details.part open[is_open] {
            summary { "Muscles that matter more or less, and their dose" }
            div.fields {
                div.priorities {
                    @for (key, label, is_asked) in &view.muscles {
                        @let plain = if *is_asked { "as usual" } else { "along with others" };
                        @let usual = (!is_asked).then_some(("usual", "for its own sake"));
                        @let words = [Some(("", plain)), usual, Some(("high", "more")), Some(("low", "less"))];
                        (form.choice(&format!("priority_{key}"), &wording::capitalised(label), words.into_iter().flatten()))
                    }
                }
                (form.area("dose", "Ranges of dose in place of the usual", 3, "One muscle a line, hard sets a week: least, aim, most. quadriceps: 4 8 14"))
            }
        }
    }
}

fn fixed(view: &WishesFormView, form: Form<'_>) -> Markup {
    let stays = |weekday: &str, idx: usize| format!("stay_{weekday}_{}", idx + 1);
    let is_open = form.problems.of("fixed").is_some()
        || form.fields.get("do") == "fixed"
        || form.fields.iter().any(|(field, text)| {
            field.starts_with("stay_")
                || (field.starts_with("fix") && field.ends_with("_lift") && !text.is_empty())
        });
    html! {
        details.part #field-fixed open[is_open] {
            summary { "Parts that are fixed" }
            div.fields {
                (form.problem("fixed"))
                @if let Some(present) = &view.present {
                    p.hint { "Ticked, a lift stays on its day as it is now. Everything else may change." }
                    @for day in &present.days {
                        fieldset {
                            legend { (day.weekday) }
                            div.ticks {
                                @for (idx, lift) in day.lifts.iter().enumerate() {
                                    @let name = stays(day.weekday, idx);
                                    label {
                                        input type="checkbox" name=(name) value=(lift.lift) checked[form.fields.has(&name)];
                                        " " (lift.lift) " " span.planned { (lift.sets) }
                                    }
                                }
                            }
                        }
                    }
                }
                @for row in &view.fixed { (fixed_row(view, form, *row)) }
                div { button.plain type="submit" name="do" value="fixed" { "Another fixed lift" } }
            }
        }
    }
}

fn fixed_row(view: &WishesFormView, form: Form<'_>, row: u16) -> Markup {
    let field = |part: &str| format!("fix{row}_{part}");
    html! {
        fieldset {
            legend { "A fixed lift" }
            p.hint { "Empty if there is none. It moves on by double progression." }
            div.pair {
                (form.input(&field("lift"), "Lift", Input::Lift))
                (form.choice(&field("weekday"), "Day", view.weekdays.iter().map(|name| (*name, *name))))
                (form.input(&field("sets"), "Sets", Input::Whole))
                (form.input(&field("reps"), "Reps", Input::Text))
                (form.input(&field("rir"), "In reserve", Input::Number))
                (form.input_with(&field("rest"), "Rest, s", Input::Whole, "Empty for the usual."))
            }
        }
    }
}

fn from_now(view: &WishesFormView, form: Form<'_>) -> Markup {
    let now = view.present.as_ref().map(|PresentView { followed, .. }| match followed {
        Some(programme) => format!("“{programme}”, which is followed now"),
        None => "the log of the last four weeks".to_owned(),
    });
    let drafted = form.fields.has("draft").then_some(("draft", "the week drafted before"));
    let now = now.as_deref().map(|now| ("now", now));
    let words = [drafted, now, Some(("none", "nothing: a new week"))];
    html! {
        fieldset {
            legend { "What it begins from" }
            (form.choice("present", "The week there is", words.into_iter().flatten()))
            (form.choice("keep", "Of which to keep", [
                ("habits", "what little speaks against"),
                ("all", "as much as can be"),
            ]))
        }
    }
}
