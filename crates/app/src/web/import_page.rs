//! The pages of the import: the form that takes a table, the look at it, and what came of it.

use maud::{Markup, html};
use service::import::ImportReport;
use service::import::form::TableView;

use super::error::sentence;
use super::form::{Form, Input};
use super::layout::{self, Footer};
use super::settings_page::UNITS;
use crate::wording::{self, count};

/// Draws the form that takes a table.
pub(super) fn start_page(problem: Option<&str>) -> Markup {
    let body = html! {
        h1 { "Import a log" }
        p.lede { "Any table with a header row: one line for each set, or for each check-in." }
        p {
            "A set needs its date, lift, load and repetitions, and whose it is; reps in reserve make the "
            "readings sharper. Nothing is written before you have seen how it is read."
        }
        form.fields method="post" action="/import" enctype="multipart/form-data" {
            @if let Some(problem) = problem {
                div.problems role="alert" { p { (sentence(problem)) } }
            }
            div.field {
                label for="file" { "A file" }
                input #file type="file" name="file" aria-describedby="file-hint";
                p.hint #file-hint { "CSV or other text, of any spreadsheet; up to 16 MiB." }
            }
            (paste("Or its lines, pasted", ""))
            button type="submit" { "Look at it" }
        }
    };
    layout::page("Import a log", Footer::Plain, &body)
}

fn paste(label: &str, text: &str) -> Markup {
    html! {
        div.field {
            label for="text" { (label) }
            textarea #text name="text" rows="8" autocomplete="off" spellcheck="false" { "\n" (text) }
        }
    }
}

/// Draws the look at a table: how it is read, and what an import would do.
pub(super) fn look_page(id: &str, view: &TableView) -> Markup {
    let path = format!("/import/{id}");
    let body = html! {
        p.above { a href="/import" { "Another table" } }
        h1 { "Import " (view.name) }
        @if let Some(hopeless) = &view.hopeless {
            div.problems role="alert" { p { (sentence(hopeless)) } }
        }
        @if !view.headers.is_empty() { (columns(&path, view)) }
        @if let Some(report) = &view.report {
            section.part aria-labelledby="would" {
                h2 #would { "What an import would do" }
                (totals(view, report, false))
                (details(view, report))
                (go(&path, view, report))
            }
        }
    };
    layout::page(&format!("Import {}", view.name), Footer::Plain, &body)
}

fn columns(path: &str, view: &TableView) -> Markup {
    let form = Form { fields: &view.fields, problems: &view.problems };
    let none = [("", "not read")];
    let fields: Vec<(&str, &str)> =
        none.into_iter().chain(view.known_fields.iter().map(|key| (*key, label(key)))).collect();
    html! {
        form.fields method="get" action=(path) {
            (form.summary_saying("Nothing is imported yet."))
            (form.choice("table", "What the table holds", [("log", "sets"), ("check-ins", "check-ins")]))
            fieldset {
                legend { "What each column holds" }
                @for (idx, header) in view.headers.iter().enumerate() {
                    div.column {
                        (form.choice(&format!("column_{idx}"), &heading(idx, header), fields.iter().copied()))
                        p.hint { (examples(view, idx)) }
                    }
                }
            }
            fieldset {
                legend { "What the table doesn't say" }
                (form.input_with("lifter", "Lifter of all lines", Input::Text, "Only if no column holds the lifter."))
                (form.choice("unit", "Unit of lines that name none", [("", "as the table says")].into_iter().chain(UNITS)))
                (form.choice("date_order", "Dates", [("", "as the table says"), ("day-first", "day first"), ("month-first", "month first"), ("year-first", "year first")]))
                (form.choice("decimal", "Decimal mark", [("", "as the table says"), ("point", "point"), ("comma", "comma")]))
                (form.choice("correct", "Lines that differ from what is on record",
                    [("", "are refused"), ("yes", "supersede it; what stood before is kept")]))
            }
            button.plain type="submit" { "Look again" }
        }
    }
}

fn heading(idx: usize, header: &str) -> String {
    if header.is_empty() {
        format!("Column {} without a header", idx + 1)
    } else {
        header.to_owned()
    }
}

/// The first cells of a column that hold anything.
fn examples(view: &TableView, idx: usize) -> String {
    let cells = view.first_rows.iter().filter_map(|row| row.get(idx));
    let mut cells: Vec<&str> = cells.map(String::as_str).filter(|cell| !cell.is_empty()).collect();
    cells.dedup();
    match cells.as_slice() {
        [] => "Empty in the first lines.".to_owned(),
        cells => format!("Such as {}.", cells[..cells.len().min(3)].join(", ")),
    }
}

fn label(field: &str) -> &str {
    match field {
        "set" => "number of the set",
        "kind" => "kind of set",
        "rir" => "reps in reserve",
        "rpe" => "RPE",
        "time" => "time of day",
        "sleep_h" => "hours slept",
        "stress" => "stress, 1 to 7",
        "soreness" => "soreness, 1 to 7",
        "body_mass" => "body mass",
        "pain_joint" => "joint that hurts",
        "pain" => "pain, 0 to 10",
        other => other,
    }
}

fn noun(view: &TableView, n: u64) -> String {
    match view.fields.get("table") {
        "check-ins" => count(n, "check-in", "check-ins"),
        _ => count(n, "set", "sets"),
    }
}

fn totals(view: &TableView, report: &ImportReport, is_done: bool) -> Markup {
    let taken = if is_done { "now on record" } else { "new" };
    html! {
        ul.totals {
            li { strong { (noun(view, report.new)) } " " (taken) }
            @if report.already_there > 0 { li { (noun(view, report.already_there)) " on record already" } }
            @if report.superseded > 0 { li { (noun(view, report.superseded)) " superseding what is on record" } }
            @if report.repeated > 0 { li { (count(report.repeated, "line", "lines")) " twice in the table" } }
            li {
                @if report.refused == 0 { "no line refused" }
                @else { strong { (count(report.refused, "line", "lines")) } " refused" }
            }
        }
        @if let (Some(first), Some(last)) = (report.first, report.last) {
            p { "From " (wording::date(first)) " to " (wording::date(last)) "." }
        }
    }
}

fn details(view: &TableView, report: &ImportReport) -> Markup {
    html! {
        @if !report.lifters.is_empty() {
            p {
                "Of "
                @for (place, lifter) in report.lifters.iter().take(20).enumerate() {
                    @if place > 0 { ", " }
                    (lifter.name) " (" (lifter.count) ")"
                }
                @if report.lifters.len() > 20 { " and " (report.lifters.len() - 20) " more" }
                "."
            }
        }
        @for warning in &report.warnings { p.warning { (sentence(warning)) } }
        @if !report.unknown_lifts.is_empty() {
            h3 { "Lifts that the catalogue doesn't know" }
            ul {
                @for lift in report.unknown_lifts.iter().take(20) {
                    li {
                        (lift.name) ", " (count(lift.lines, "line", "lines"))
                        @if let Some(near) = lift.near.first() { "; perhaps " (near) }
                    }
                }
            }
            p.aside { "Name them as the catalogue does, or give them to it with a lift file." }
        }
        @if !view.refusals.is_empty() {
            h3 { "Refused lines" }
            div.wide.refused tabindex="0" role="region" aria-label="Refused lines" {
                table {
                    thead { tr { th.n scope="col" { "Line" } th scope="col" { "Why" } } }
                    tbody {
                        @for (line, reason) in &view.refusals {
                            tr { td.n { (line) } td.why { (sentence(reason)) } }
                        }
                    }
                }
            }
            @if report.refused > view.refusals.len() as u64 {
                p.aside { "And " (report.refused - view.refusals.len() as u64) " more." }
            }
        }
    }
}

fn go(path: &str, view: &TableView, report: &ImportReport) -> Markup {
    let n = report.new + report.superseded;
    html! {
        @if n == 0 {
            p { "There is nothing to import: correct what is refused, or send another table." }
        } @else {
            form.fields method="post" action=(path) {
                @for (field, text) in view.fields.iter() {
                    input type="hidden" name=(field) value=(text);
                }
                button type="submit" { "Import " (noun(view, n)) }
            }
        }
    }
}

/// Draws what came of an import.
pub(super) fn done_page(view: &TableView, report: &ImportReport) -> Markup {
    let body = html! {
        h1 { "Imported " (view.name) }
        div role="status" { (totals(view, report, true)) }
        ul.ways-on {
            @for lifter in report.lifters.iter().take(12) {
                li { a href=(layout::lifter_path(&lifter.name)) { "To " (lifter.name) } }
            }
            li { a href="/" { "To the squad" } }
        }
        section.part aria-labelledby="details" {
            h2 #details { "In detail" }
            (details(view, report))
        }
        @if !view.rejects.is_empty() {
            section.part aria-labelledby="mend" {
                h2 #mend { "Mend the refused lines" }
                p { "They are here as a table with the reason in front: correct them and send them on." }
                form.fields method="post" action="/import" enctype="multipart/form-data" {
                    (paste("Refused lines", &view.rejects))
                    button type="submit" { "Look at them" }
                }
            }
        }
    };
    layout::page(&format!("Imported {}", view.name), Footer::Plain, &body)
}
