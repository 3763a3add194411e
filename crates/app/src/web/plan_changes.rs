//! Changes of a lifter's plan: the page, its forms, and taking one back.

use std::sync::Arc;

use axum::Router;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::{get, post};
use domain::LifterName;
use maud::{Markup, html};
use service::forms::Fields;
use service::programme::{PlanChangeLine, PlanChangesView};

use super::changes::done_words;
use super::desk::{Desk, DeskError, FormTaken};
use super::error::WebError;
use super::extract::{Named, NamedLink, Typed};
use super::form::{Form, Input};
use super::lanes::ask;
use super::layout::{self, Footer};
use crate::wording;

type AnyDesk = Arc<dyn Desk>;

/// Answers what the page of changes of plan asks.
pub trait PlanChanges {
    /// The changes on record and the form for another, as it was typed if it was.
    fn plan_changes(
        &self,
        name: &LifterName,
        typed: Option<&Fields>,
    ) -> Result<PlanChangesView, DeskError>;

    /// Records the change that the form says.
    fn change_plan(&self, name: &LifterName, fields: &Fields) -> Result<FormTaken<()>, DeskError>;

    /// Takes a change back.
    fn withdraw_plan_change(
        &self,
        name: &LifterName,
        id: &str,
        reason: &str,
    ) -> Result<(), DeskError>;
}

/// The routes of changes of plan.
pub(super) fn routes() -> Router<AnyDesk> {
    Router::new()
        .route("/lifter/{name}/programme/changes", get(page).post(change))
        .route("/lifter/{name}/programme/changes/{id}/withdraw", post(withdraw))
}

/// `GET /lifter/{name}/programme/changes`: what is changed, and the forms.
async fn page(
    Named(name): Named,
    State(desk): State<AnyDesk>,
    Typed(fields): Typed,
) -> Result<Response, WebError> {
    let done = done_words(fields.get("done"));
    let view = ask(move || desk.plan_changes(&name, None)).await?;
    Ok(changes_page(&view, done).into_response())
}

/// `POST /lifter/{name}/programme/changes`: records a change.
async fn change(
    Named(name): Named,
    State(desk): State<AnyDesk>,
    Typed(fields): Typed,
) -> Result<Response, WebError> {
    let asked = name.clone();
    let answer = ask(move || match desk.change_plan(&asked, &fields)? {
        FormTaken::Done(()) => Ok(None),
        FormTaken::Not(problems) => {
            let view = desk.plan_changes(&asked, Some(&fields))?;
            Ok(Some(Box::new(PlanChangesView { problems, ..view })))
        }
    });
    match answer.await.map_err(|error| error.about(&name))? {
        None => Ok(back(&name, "plan-changed")),
        Some(view) => {
            Ok((StatusCode::UNPROCESSABLE_ENTITY, changes_page(&view, None)).into_response())
        }
    }
}

/// `POST /lifter/{name}/programme/changes/{id}/withdraw`: takes a change back.
async fn withdraw(
    NamedLink(name, id): NamedLink,
    State(desk): State<AnyDesk>,
    Typed(fields): Typed,
) -> Result<Response, WebError> {
    let asked = name.clone();
    let done = ask(move || desk.withdraw_plan_change(&asked, &id, fields.get("reason"))).await;
    done.map_err(|error| error.about(&name))?;
    Ok(back(&name, "plan-change-undone"))
}

fn back(name: &LifterName, done: &str) -> Response {
    let path = layout::programme_path(name.as_str());
    Redirect::to(&format!("{path}/changes?done={done}")).into_response()
}

fn changes_page(view: &PlanChangesView, done: Option<&str>) -> Markup {
    let path = layout::programme_path(&view.lifter);
    let here = format!("{path}/changes");
    let body = html! {
        p.above {
            a href=(layout::lifter_path(&view.lifter)) { (view.lifter) } " › "
            a href=(path) { "Programme" }
        }
        h1 { "Other than planned" }
        @if let Some(done) = done { p.done role="status" { (done) } }
        p.lede { "For some days " (view.lifter) "'s sessions can be other than the programme has them." }
        p { "The programme stays as it is. Cards, the gym floor and the calendar follow at once, and what is left out by plan counts neither as a shortfall nor as a miss." }
        (on_record(view, &here))
        @if view.sessions.is_empty() { p { "There is no programme to change: set one first." } }
        @else { (forms(view, &here)) }
    };
    layout::page(&format!("Other than planned, {}", view.lifter), Footer::Cautions, &body)
}

fn on_record(view: &PlanChangesView, here: &str) -> Markup {
    let (now, before): (Vec<&PlanChangeLine>, Vec<&PlanChangeLine>) =
        view.lines.iter().partition(|line| !line.is_over && !line.is_withdrawn);
    html! {
        @if !now.is_empty() {
            section.part aria-labelledby="in-force" {
                h2 #in-force { "In force" }
                ul.plan-changes {
                    @for line in now {
                        li {
                            p { (line.words) @if !line.reason.is_empty() { " " span.aside { (line.reason) } } }
                            form method="post" action={ (here) "/" (line.id) "/withdraw" } {
                                button.plain type="submit" aria-label={ "Take it back: " (line.words) } { "Take it back" }
                            }
                        }
                    }
                }
            }
        }
        @if !before.is_empty() {
            details {
                summary { "Over, or taken back" }
                ul.versions {
                    @for line in before {
                        li {
                            (line.words)
                            @if line.is_withdrawn { " Taken back " span.recorded { (wording::instant(line.recorded)) } "." }
                            @if !line.reason.is_empty() { " " span.aside { (line.reason) } }
                        }
                    }
                }
            }
        }
    }
}

fn forms(view: &PlanChangesView, here: &str) -> Markup {
    let form = Form { fields: &view.fields, problems: &view.problems };
    let sessions = || view.sessions.iter().map(|(day, words)| (day.as_str(), words.as_str()));
    let box_of = |what: &str, legend: &str, button: &str, parts: Markup| {
        html! {
            section.part aria-labelledby=(what) {
                h2 id=(what) { (legend) }
                form.fields method="post" action=(here) {
                    @if view.fields.get("what") == what { (form.summary()) }
                    input type="hidden" name="what" value=(what);
                    (parts)
                    div.field {
                        label for={ (what) "-reason" } { "Why, if you like" }
                        input id={ (what) "-reason" } type="text" name="reason" autocomplete="off"
                            value=(if view.fields.get("what") == what { view.fields.get("reason") } else { "" });
                    }
                    button type="submit" { (button) }
                }
            }
        }
    };
    let ticks = |kind: &str, all: &[(&'static str, &'static str)]| {
        html! { div.ticks { @for (key, label) in all { (form.tick(&format!("{kind}_{key}"), label)) } } }
    };
    html! {
        (box_of("move", "A session on another day", "Move it", html! {
            (form.choice("move_day", "The session", sessions()))
            (form.input_with("move_to", "The day on which it is done", Input::Date, "Of the same week, Monday to Sunday."))
        }))
        (box_of("drop", "A session left out", "Leave it out", html! {
            (form.choice("drop_day", "The session", sessions()))
        }))
        (box_of("light", "Light days", "Make them light", html! {
            div.pair {
                (form.input("light_from", "First day", Input::Date))
                (form.input("light_until", "Last day", Input::Date))
            }
            (form.input_with("light_pct", "Sets that are kept, in %", Input::Whole, "10 to 90. Loads and repetitions stay, so that lead sets can still be read."))
            (form.problem("light_day"))
            fieldset {
                legend { "For which muscles" }
                p.hint { "None ticked: for everything. Otherwise lifts with one of these as prime mover." }
                (ticks("muscle", &view.muscles))
            }
        }))
        (box_of("away", "Days away", "Swap lifts for these days", html! {
            div.pair {
                (form.input("away_from", "First day", Input::Date))
                (form.input("away_until", "Last day", Input::Date))
            }
            (form.problem("away_day"))
            fieldset {
                legend { "What is there" }
                p.hint { "Besides the body. Each lift that can't be done there is swapped for the one that trains most nearly the same." }
                (ticks("equipment", &view.equipment))
            }
        }))
    }
}
