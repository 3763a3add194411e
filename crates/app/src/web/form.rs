//! The parts of a form: labelled fields that keep what was typed and say what is wrong beside it.

use maud::{Markup, html};
use service::forms::{Fields, Problems};

use super::error::sentence;

/// A form as it was typed, with what is wrong in it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Form<'a> {
    pub(super) fields: &'a Fields,
    pub(super) problems: &'a Problems,
}

/// What a field takes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Input {
    /// A line of text.
    Text,
    /// A line of text with the lifts of the list on the same page.
    Lift,
    /// A number, with a fraction perhaps.
    Number,
    /// A whole number.
    Whole,
    /// A day.
    Date,
    /// A time of day.
    Time,
}

impl Form<'_> {
    /// Says above a form that something in it is wrong, with the way to each field.
    pub(super) fn summary(&self) -> Markup {
        self.summary_saying("Nothing was changed.")
    }

    /// [`Form::summary`] with other words for nothing having happened.
    pub(super) fn summary_saying(&self, nothing: &str) -> Markup {
        html! {
            @if !self.problems.is_empty() {
                div.problems role="alert" {
                    p { strong { (nothing) } " Mend what is said here and send it again." }
                    ul {
                        @for (field, reason) in self.problems.iter() {
                            li { a href={ "#field-" (field) } { (sentence(reason)) } }
                        }
                    }
                }
            }
        }
    }

    /// A field of one line.
    pub(super) fn input(&self, name: &str, label: &str, input: Input) -> Markup {
        self.input_with(name, label, input, "")
    }

    /// A field of one line with a hint below its label; no hint if that is empty.
    pub(super) fn input_with(&self, name: &str, label: &str, input: Input, hint: &str) -> Markup {
        let (kind, mode) = match input {
            Input::Text | Input::Lift => ("text", None),
            Input::Number => ("text", Some("decimal")),
            Input::Whole => ("text", Some("numeric")),
            Input::Date => ("date", None),
            Input::Time => ("time", None),
        };
        let step = (input == Input::Time && self.fields.get(name).len() > 5).then_some("1");
        let list = (input == Input::Lift).then_some(LIFTS);
        html! {
            div.field {
                (self.label(name, label))
                input id={ "field-" (name) } type=(kind) name=(name) value=(self.fields.get(name))
                    inputmode=[mode] step=[step] list=[list] autocomplete="off"
                    aria-invalid=[self.invalid(name)] aria-describedby=[self.described(name, hint)];
                (self.hint(name, hint))
                (self.problem(name))
            }
        }
    }

    /// A field that takes one of several words; each with what is shown for it.
    pub(super) fn choice<'b>(
        &self,
        name: &str,
        label: &str,
        words: impl IntoIterator<Item = (&'b str, &'b str)>,
    ) -> Markup {
        let chosen = self.fields.get(name);
        html! {
            div.field {
                (self.label(name, label))
                select id={ "field-" (name) } name=(name)
                    aria-invalid=[self.invalid(name)] aria-describedby=[self.described(name, "")]
                {
                    @for (word, shown) in words {
                        option value=(word) selected[word == chosen] { (shown) }
                    }
                }
                (self.problem(name))
            }
        }
    }

    /// A box to tick; its field is there if it is ticked.
    pub(super) fn tick(&self, name: &str, label: &str) -> Markup {
        html! {
            label {
                input id={ "field-" (name) } type="checkbox" name=(name) checked[self.fields.has(name)];
                " " (label)
            }
        }
    }

    /// A field of several lines.
    pub(super) fn area(&self, name: &str, label: &str, rows: u8, hint: &str) -> Markup {
        html! {
            div.field {
                (self.label(name, label))
                (self.hint(name, hint))
                // Browsers drop a line break right at the start.
                textarea id={ "field-" (name) } name=(name) rows=(rows) autocomplete="off"
                    aria-invalid=[self.invalid(name)] aria-describedby=[self.described(name, hint)]
                { "\n" (self.fields.get(name)) }
                (self.problem(name))
            }
        }
    }

    /// What is wrong with a field.
    pub(super) fn problem(&self, name: &str) -> Markup {
        html! {
            @if let Some(reason) = self.problems.of(name) {
                p.problem id={ "field-" (name) "-problem" } { (sentence(reason)) }
            }
        }
    }

    fn label(&self, name: &str, label: &str) -> Markup {
        html! { label for={ "field-" (name) } { (label) } }
    }

    fn hint(&self, name: &str, hint: &str) -> Markup {
        html! {
            @if !hint.is_empty() { p.hint id={ "field-" (name) "-hint" } { (hint) } }
        }
    }

    fn invalid(&self, name: &str) -> Option<&'static str> {
        self.problems.of(name).map(|_| "true")
    }

    fn described(&self, name: &str, hint: &str) -> Option<String> {
        let problem = self.problems.of(name).map(|_| format!("field-{name}-problem"));
        let hint = (!hint.is_empty()).then(|| format!("field-{name}-hint"));
        match (hint, problem) {
            (Some(hint), Some(problem)) => Some(format!("{hint} {problem}")),
            (one, other) => one.or(other),
        }
    }
}

const LIFTS: &str = "known-lifts";

/// The list that [`Input::Lift`] offers; once on a page.
pub(super) fn known_lifts<T: AsRef<str>>(lifts: &[T]) -> Markup {
    html! {
        datalist id=(LIFTS) { @for lift in lifts { option value=(lift.as_ref()) {} } }
    }
}
