//! The page of all lifters: most urgent first, each with the reason to look.

use maud::{Markup, html};
use service::backup::BackupView;
use service::forms::Fields;
use service::view::{LifterLine, SquadView};

use super::layout::{self, Footer};
use crate::wording;

/// How many lifters stand on one page.
const SHOWN: usize = 100;

/// Draws the page of all lifters. What was `asked`: `name`, a part of the names to show, and `from`, the place
/// of the first.
pub(super) fn squad_page(view: &SquadView, backups: Option<&BackupView>, asked: &Fields) -> Markup {
    let name = asked.get("name").trim();
    let is_meant = |of: &str| of.to_lowercase().contains(&name.to_lowercase());
    let meant: Vec<_> = view.lifters.iter().filter(|line| is_meant(&line.name)).collect();
    let unread: Vec<_> = view.unread.iter().filter(|name| is_meant(name)).collect();
    let whole = view.lifters.len() + view.unread.len();
    let last_slice = meant.len().saturating_sub(1) / SHOWN * SHOWN;
    let from = asked.get("from").parse::<usize>().unwrap_or(1).saturating_sub(1).min(last_slice);
    let shown = &meant[from..meant.len().min(from + SHOWN)];
    let body = html! {
        h1 { "Squad" }
        @if let Some(remark) = view.remark { p.aside { (remark) } }
        @if whole == 0 {
            (nobody())
            (more())
        } @else {
            p.lede {
                (wording::count(whole as u64, "lifter", "lifters"))
                ", as of " (wording::date_with_weekday(view.today))
                ". Who needs a look comes first."
            }
            @if !view.unread.is_empty() { (reading(view, name)) }
            (more())
            @if whole > SHOWN || !name.is_empty() { (find(name)) }
            @if !name.is_empty() && meant.is_empty() && unread.is_empty() {
                p { "Nobody's name has " q { (name) } " in it. " a href="/" { "Show everybody" } "." }
            }
            @if !shown.is_empty() {
                ol.squad start=(from + 1) {
                    @for line in shown { li { (entry(view, line)) } }
                }
                (slices(name, from, meant.len()))
            }
            @if !unread.is_empty() && from + SHOWN >= meant.len() { (to_be_read(&unread)) }
            @if let Some(backups) = backups { (backup(backups)) }
        }
    };
    layout::page("Squad", Footer::Cautions, &body)
}

/// When the record was last copied to a file of its own, or that it never was.
fn backup(view: &BackupView) -> Markup {
    let last = match view.last {
        Some(at) => format!("The last backup was made {}.", wording::ago_at(view.now, at)),
        None => "There is no backup yet.".to_owned(),
    };
    html! {
        @if let Some(failed) = &view.failed {
            p.warning.backups {
                "The backup of " (wording::ago_at(view.now, failed.at)) " failed: " (failed.reason) ". " (last)
            }
        } @else {
            p.aside.backups {
                (last)
                @if !view.is_on {
                    " This desk makes none by itself: " code { "bellwether backup" } " makes one."
                } @else if view.last.is_none() {
                    " The first one is made within minutes, and then one a day."
                }
            }
        }
    }
}

/// How far the reading of everybody has come.
fn reading(view: &SquadView, name: &str) -> Markup {
    let (read, unread) = (view.lifters.len() as u64, view.unread.len() as u64);
    html! {
        p.warning role="status" {
            "The desk is still reading the records: " (wording::grouped(read)) " of "
            (wording::count(read + unread, "lifter", "lifters")) " so far, and only these are in order below. "
            a href=(address(name, 0)) { "Look again" } "."
        }
    }
}

/// Those whose record is still to be read; their pages open all the same.
fn to_be_read(names: &[&String]) -> Markup {
    html! {
        section.part aria-labelledby="unread" {
            h2 #unread { "Still being read" }
            p { "Whether any of these needs a look isn't known yet. Their own pages can be opened now." }
            ul.names {
                @for name in names.iter().take(SHOWN) {
                    li { a href=(layout::lifter_path(name)) { (name) } }
                }
            }
            @if names.len() > SHOWN {
                p { "And " (wording::count((names.len() - SHOWN) as u64, "other", "others")) "." }
            }
        }
    }
}

fn find(name: &str) -> Markup {
    html! {
        form.card-form method="get" action="/" {
            label for="name" { "Find by name" }
            input #name type="search" name="name" value=(name) autocomplete="off";
            button type="submit" { "Find" }
            @if !name.is_empty() { a.main-way href="/" { "Show everybody" } }
        }
    }
}

/// The ways to those who stand before and after.
fn slices(name: &str, from: usize, whole: usize) -> Markup {
    let upto = whole.min(from + SHOWN);
    html! {
        @if whole > SHOWN {
            nav.slices aria-label="Other lifters" {
                p {
                    (wording::grouped(from as u64 + 1)) " to " (wording::grouped(upto as u64)) " of "
                    (wording::grouped(whole as u64)) "."
                }
                @if from > 0 { a href=(address(name, from.saturating_sub(SHOWN))) { "More urgent" } }
                @if upto < whole { a href=(address(name, upto)) { "Less urgent" } }
            }
        }
    }
}

fn address(name: &str, from: usize) -> String {
    let name = layout::in_query(name);
    match (name.is_empty(), from) {
        (true, 0) => "/".to_owned(),
        (true, from) => format!("/?from={}", from + 1),
        (false, 0) => format!("/?name={name}"),
        (false, from) => format!("/?name={name}&from={}", from + 1),
    }
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
