//! The page of all lifters: most urgent first, each with the reason to look.

use maud::{Markup, html};
use service::view::{LifterLine, SquadView};

use super::layout::{self, Footer};
use crate::wording;

/// Draws the page of all lifters.
pub(super) fn squad_page(view: &SquadView) -> Markup {
    let body = html! {
        h1 { "Squad" }
        @if let Some(remark) = view.remark { p.aside { (remark) } }
        @if view.lifters.is_empty() {
            (nobody())
            (more())
        } @else {
            p.lede {
                (wording::count(view.lifters.len() as u64, "lifter", "lifters"))
                ", as of " (wording::date_with_weekday(view.today))
                ". Who needs a look comes first."
            }
            (more())
            ol.squad {
                @for line in &view.lifters { li { (entry(view, line)) } }
            }
        }
    };
    layout::page("Squad", Footer::Cautions, &body)
}

fn entry(view: &SquadView, line: &LifterLine) -> Markup {
    html! {
        article.entry {
            h2 { a href=(layout::lifter_path(&line.name)) { (line.name) } }
            p.reason { (line.reason) }
            @if !line.last_calls.is_empty() {
                ul.last-calls aria-label="Calls of the last session" {
                    @for (lift, word) in &line.last_calls {
                        li { span.lift-name { (lift) } " " (layout::call(*word)) }
                    }
                }
            }
            p.aside {
                @match line.last {
                    Some(last) => {
                        "Last session " (wording::ago(view.today, last)) " ("
                        time datetime=(last) { (wording::date(last)) } "), "
                        (wording::count(line.sets, "set", "sets")) " of "
                        (wording::count(line.lifts as u64, "lift", "lifts")) " on record."
                    },
                    None => "No set on record yet.",
                }
            }
        }
    }
}

fn nobody() -> Markup {
    html! {
        p.lede { "Nobody is on record yet. Two ways to begin:" }
        p {
            "Import a training log: a table with the date, the lifter, the lift, the load and the "
            "repetitions of each set is enough, and reps in reserve make the readings sharper. Or take "
            "on a lifter by name, and let the sets follow."
        }
    }
}

/// How more comes on record.
fn more() -> Markup {
    html! {
        ul.ways-on {
            li { a href="/import" { "Import a log" } }
            li { a href="/new-lifter" { "Take on a lifter" } }
        }
    }
}
