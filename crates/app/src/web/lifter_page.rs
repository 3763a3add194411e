//! The page of one lifter: the reason to look, the card, every lift, the check-ins.

use maud::{Markup, html};
use service::view::{CallWord, CheckInLine, DoseLine, Extent, LifterView};

use super::floor::links::{self, OnTheFloor};
use super::form::Form;
use super::layout::{self, Footer};
use super::lift_section::{self, lift_section};
use super::muscle_section::muscle_section;
use super::pain;
use crate::wording;

/// Draws the page of one lifter; `done` says what was just changed, `sent` is a rating of pain that could not be
/// taken.
pub(super) fn lifter_page(
    view: &LifterView,
    floor: &OnTheFloor,
    (done, sent): (Option<&str>, Option<Form<'_>>),
    extent: Extent,
) -> Markup {
    let body = html! {
        h1 { (view.name) }
        @if let Some(done) = done { p.done role="status" { (done) } }
        @if let Some(remark) = view.remark { p.aside { (remark) } }
        p.lede { (view.reason) }
        p.aside {
            "As of " (wording::date_with_weekday(view.today)) ". Loads in " (view.unit.as_str())
            @match view.body_mass {
                Some(mass) => {
                    "; body mass last told " (wording::decimal(mass, 1)) " " (view.unit.as_str()) "."
                },
                None => "; no body mass was told, so 75 kg stands in for lifts that move the body.",
            }
        }
        (pain::complaints(&view.name, &view.complaints, sent))
        ul.ways-on {
            li { a href=(layout::programme_path(&view.name)) { "Programme" } }
            li { a href=(layout::dose_path(&view.name)) { "Dose by weeks" } }
            li { a href=(layout::joints_path(&view.name)) { "Joints" } }
            li { a href="#phones" { "Gym floor" } }
            li { a href={ (layout::lifter_path(&view.name)) "/settings" } { "Settings" } }
        }
        @if view.lifts.is_empty() {
            p {
                "No set is on record for " (view.name) " yet. What to do next: "
                a href="/import" { "import a log" } " of theirs, and check unit, bar and plates in the "
                "settings. Lifts appear here with their first set; readings follow when a lift's record "
                "is long enough."
            }
            @if view.programme.is_some() { (card_form(view)) (to_come(view)) }
        } @else {
            (card_form(view))
            (to_come(view))
            @if view.lifts.len() > 1 { (contents(view)) }
            @if let Some(muscles) = &view.muscles { (muscle_section(muscles)) }
            (dose(view))
            (how_to_read(view, extent))
            @for (place, lift) in view.lifts.iter().enumerate() {
                (lift_section(&view.name, lift, view.today, place + 1, extent))
            }
        }
        (check_ins(&view.check_ins))
        (links::section(&view.name, floor))
        @if !view.fit.is_empty() {
            p.fit { "Behind this is a model of " (view.name) "'s lifts and muscles. " (view.fit) }
        }
    };
    layout::page(&view.name, Footer::Cautions, &body)
}

fn card_form(view: &LifterView) -> Markup {
    html! {
        form.card-form method="get" action={ (layout::lifter_path(&view.name)) "/card" } {
            label for="card-date" { "Card for" }
            input #card-date type="date" name="date" value=(view.today);
            button type="submit" { "Open the card" }
        }
    }
}

/// The next sessions, each with the way to its card.
fn to_come(view: &LifterView) -> Markup {
    let card = |date| format!("{}/card?date={date}", layout::lifter_path(&view.name));
    html! {
        @if let Some(programme) = &view.programme {
            section.part aria-labelledby="to-come" {
                h2 #to-come { "What comes next" }
                @if view.next.is_empty() { p { (programme) " hasn't begun yet." } }
                ol.next {
                    @for session in &view.next {
                        li {
                            a href=(card(session.date)) { (wording::date_with_weekday(session.date)) }
                            ": " (session.lifts.join(", ")) "."
                            p.aside { (session.basis) }
                        }
                    }
                }
            }
        }
    }
}

/// This week's dose against the plan, as bars and in numbers.
fn dose(view: &LifterView) -> Markup {
    let most = view.dose.iter().map(|line| line.planned.max(line.so_far)).fold(1.0, f64::max);
    html! {
        @if !view.dose.is_empty() {
            section.part aria-labelledby="dose" {
                h2 #dose { "Dose against plan" }
                p { "Hard sets of each muscle this week, Monday to today, of those that the programme plans." }
                div.wide tabindex="0" role="region" aria-label="Dose against plan" {
                    table.dose-table {
                        thead {
                            tr {
                                th scope="col" { "Muscle" }
                                th scope="col" { span.screen-reader { "Picture" } }
                                th.n scope="col" { "So far" }
                                th.n scope="col" { "Planned" }
                                th.n scope="col" { "Last week" }
                            }
                        }
                        tbody {
                            @for line in &view.dose {
                                tr {
                                    th scope="row" { (line.muscle) }
                                    td { (dose_bar(line, most)) }
                                    td.n { (wording::decimal(line.so_far, 1)) }
                                    td.n { (wording::decimal(line.planned, 1)) }
                                    td.n { (wording::decimal(line.last_week, 1)) }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// What was done as a bar in the outline of what is planned; the numbers stand beside it.
fn dose_bar(line: &DoseLine, most: f64) -> Markup {
    let wide = |sets: f64| format!("{:.1}", 118.0 * sets / most);
    html! {
        svg.dose-bar viewBox="0 0 120 14" width="120" height="14" aria-hidden="true" {
            rect.done x="1" y="3" width=(wide(line.so_far)) height="8" fill="currentColor" {}
            rect.planned x="1" y="1" width=(wide(line.planned)) height="12" fill="none" stroke="currentColor" {}
        }
    }
}

/// What the pictures of the lifts show, said once for all of them.
fn how_to_read(view: &LifterView, extent: Extent) -> Markup {
    let path = layout::lifter_path(&view.name);
    html! {
        @if extent == Extent::Lately && view.lifts.iter().any(|lift| !lift.points.is_empty()) {
            section.part aria-labelledby="lifts" {
                h2 #lifts { "Lift by lift" }
                p.screen-only {
                    "The pictures show the last half-year. "
                    a href={ (path) "?record=whole" } { "The whole record, large, as it is printed" } "."
                }
                (lift_section::legend(&view.lifts))
            }
        } @else if extent == Extent::Whole {
            p.above.screen-only { a href=(path) { "Back to the last half-year" } }
        }
    }
}

fn contents(view: &LifterView) -> Markup {
    html! {
        nav.contents aria-label="Lifts" {
            ul {
                @for (place, lift) in view.lifts.iter().enumerate() {
                    li {
                        a href={ "#lift-" (place + 1) } { (lift.name) }
                        @if lift.stop.is_some() {
                            " " (layout::call(CallWord::Stop))
                        } @else if let Some(latest) = lift.points.last() {
                            " " (layout::call(latest.call))
                        }
                    }
                }
            }
        }
    }
}

fn check_ins(lines: &[CheckInLine]) -> Markup {
    html! {
        section.check-ins aria-labelledby="check-ins" {
            h2 #check-ins { "Check-ins" }
            @if lines.is_empty() {
                p {
                    "None told yet. Sleep, stress, soreness and pain by joint are optional; told "
                    "before a session they sharpen the forecast, and pain above the limit stops a lift."
                }
            } @else {
                dl {
                    @for line in lines {
                        dt { (wording::moment(&line.when)) }
                        dd {
                            (line.items.join(", "))
                            @if line.over_limit { strong { " Pain above the limit." } }
                        }
                    }
                }
            }
        }
    }
}
