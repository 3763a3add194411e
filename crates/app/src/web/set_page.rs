//! The page of one set: what is on record, the forms that correct and withdraw it, and its history.

use maud::{Markup, html};
use service::forms::{Fields, Problems};
use service::view::SetPageView;

use super::form::{Form, Input, known_lifts};
use super::layout::{self, Footer};
use super::sets_section::{in_words, versions};
use crate::wording;

/// Which of the page's forms was sent, with what was typed and is wrong.
#[derive(Clone, Copy, Debug)]
pub(super) enum Sent<'a> {
    /// The one that corrects the set or puts it back.
    Correction(&'a Fields, &'a Problems),
    /// The one that takes it back.
    Withdrawal(&'a Fields, &'a Problems),
}

/// Draws the page of one set, with what was sent if something in it is wrong.
pub(super) fn set_page(view: &SetPageView, sent: Option<Sent<'_>>) -> Markup {
    let (nothing, nothing_wrong) = (Fields::default(), Problems::default());
    let (mut correct, mut withdraw) = ((&view.fields, &nothing_wrong), (&nothing, &nothing_wrong));
    match sent {
        None => {}
        Some(Sent::Correction(fields, problems)) => correct = (fields, problems),
        Some(Sent::Withdrawal(fields, problems)) => withdraw = (fields, problems),
    }
    let form = |(fields, problems)| Form { fields, problems };
    let lift_path = layout::lift_path(&view.lifter, &view.lift);
    let set = view.versions.last().map(|version| &version.set);
    let heading = set.map_or("Set".to_owned(), |set| {
        format!("Set {} of {}", set.number, wording::moment(&set.when))
    });
    let body = html! {
        p.above {
            a href=(layout::lifter_path(&view.lifter)) { (view.lifter) } " · "
            a href={ (lift_path) "#sets" } { (view.lift) }
        }
        h1 { (heading) }
        @if let Some(set) = set {
            p.lede {
                (in_words(set)) "."
                @if view.is_withdrawn { strong { " Withdrawn: it counts no more." } }
            }
        }
        (correction(view, form(correct)))
        @if !view.is_withdrawn { (withdrawal(view, form(withdraw))) }
        section.amended aria-labelledby="history" {
            h2 #history { "What was said of it" }
            (versions(&view.versions))
        }
    };
    layout::page(&format!("{heading}, {}", view.lifter), Footer::Plain, &body)
}

fn correction(view: &SetPageView, form: Form<'_>) -> Markup {
    let kinds =
        [("work", "work"), ("warm-up", "warm-up"), ("speed", "speed work"), ("test", "test")];
    html! {
        section.correct aria-labelledby="correct" {
            h2 #correct { @if view.is_withdrawn { "Put it back" } @else { "Correct it" } }
            p { "What stands now is superseded and kept. All readings after it are made anew." }
            form.fields method="post" action=(layout::set_path(&view.lifter, &view.id)) {
                (form.summary())
                div.pair {
                    (form.input("date", "Day", Input::Date))
                    (form.input_with("time", "Time of day", Input::Time, "Empty if unknown."))
                }
                (form.input("lift", "Lift", Input::Lift))
                div.pair {
                    (form.input("number", "Which set of the lift", Input::Whole))
                    (form.choice("kind", "What it was for", kinds))
                }
                div.pair {
                    (form.input("load", "Load", Input::Number))
                    (form.choice("unit", "Unit", [("kg", "kg"), ("lb", "lb")]))
                }
                div.pair {
                    (form.input("reps", "Reps done", Input::Whole))
                    (form.input_with("rir", "Reps in reserve", Input::Number, "0 to 10 in halves; empty if not told."))
                }
                (form.input("note", "Note", Input::Text))
                (form.input_with("reason", "Why it changes", Input::Text, "Kept with the correction."))
                button type="submit" {
                    @if view.is_withdrawn { "Put the set back" } @else { "Correct the set" }
                }
            }
            (known_lifts(&view.known_lifts))
        }
    }
}

fn withdrawal(view: &SetPageView, form: Form<'_>) -> Markup {
    html! {
        section.withdraw aria-labelledby="withdraw" {
            h2 #withdraw { "Withdraw it" }
            p { "For a set that was never done. It counts no more, stays in the history, and can be put back." }
            form.fields method="post" action={ (layout::set_path(&view.lifter, &view.id)) "/withdraw" } {
                (form.input("withdraw_reason", "Why it is withdrawn", Input::Text))
                button.plain type="submit" { "Withdraw the set" }
            }
        }
    }
}
