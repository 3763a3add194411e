//! Handlers of what a coach changes: a form that can be taken leads back to a page that says so, one with
//! a mistake comes back as it was typed with 422, and changes nothing.
//!
//! Who may send a form and from where is decided before these are reached, at the door.

use std::sync::Arc;

use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use service::forms::Problems;

use super::desk::{Desk, FormTaken};
use super::error::WebError;
use super::extract::{Named, NamedLift, NamedSet, Typed};
use super::form::Form;
use super::lanes::ask;
use super::{intake_page, layout, lift_page, set_page, settings_page};

type AnyDesk = Arc<dyn Desk>;

/// `GET /lifter/{name}/lift/{lift}`: one lift, perhaps with costs that are being tried.
pub(super) async fn lift(
    NamedLift(name, lift): NamedLift,
    State(desk): State<AnyDesk>,
    Typed(fields): Typed,
) -> Result<Response, WebError> {
    let done = done_words(fields.get("done"));
    let asked = name.clone();
    let view = ask(move || desk.lift(&asked, &lift, &fields)).await;
    let view = view.map_err(|error| error.about(&name))?;
    let status = match view.costs.problems.is_empty() {
        true => StatusCode::OK,
        false => StatusCode::UNPROCESSABLE_ENTITY,
    };
    Ok((status, lift_page::lift_page(&view, done)).into_response())
}

/// `POST /lifter/{name}/lift/{lift}`: puts two costs into force.
pub(super) async fn costs(
    NamedLift(name, lift): NamedLift,
    State(desk): State<AnyDesk>,
    Typed(fields): Typed,
) -> Result<Response, WebError> {
    let back = layout::lift_path(name.as_str(), lift.as_str());
    let asked = name.clone();
    let answer = ask(move || match desk.set_costs(&asked, &fields)? {
        FormTaken::Done(()) => Ok(None),
        // The page says beside each field what is wrong.
        FormTaken::Not(_) => desk.lift(&asked, &lift, &fields).map(Some),
    });
    match answer.await.map_err(|error| error.about(&name))? {
        None => Ok(Redirect::to(&format!("{back}?done=costs")).into_response()),
        Some(view) => {
            let page = lift_page::lift_page(&view, None);
            Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response())
        }
    }
}

/// `GET /lifter/{name}/set/{id}`: one set with its forms and its history.
pub(super) async fn set(
    NamedSet(name, id): NamedSet,
    State(desk): State<AnyDesk>,
) -> Result<Response, WebError> {
    let asked = name.clone();
    let view = ask(move || desk.set(&asked, id)).await.map_err(|error| error.about(&name))?;
    Ok(set_page::set_page(&view, None).into_response())
}

/// `POST /lifter/{name}/set/{id}`: corrects a set, or puts one back.
pub(super) async fn correct(
    NamedSet(name, id): NamedSet,
    State(desk): State<AnyDesk>,
    Typed(fields): Typed,
) -> Result<Response, WebError> {
    let (asked, sent) = (name.clone(), fields.clone());
    let answer = ask(move || {
        Ok(match desk.correct_set(&asked, id, &sent)? {
            FormTaken::Done(lift) => Ok(lift),
            FormTaken::Not(problems) => Err((desk.set(&asked, id)?, problems)),
        })
    });
    match answer.await.map_err(|error| error.about(&name))? {
        Ok(lift) => Ok(to_sets(name.as_str(), lift.as_str(), "corrected")),
        Err((view, problems)) => {
            let page =
                set_page::set_page(&view, Some(set_page::Sent::Correction(&fields, &problems)));
            Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response())
        }
    }
}

/// `POST /lifter/{name}/set/{id}/withdraw`: takes a set back.
pub(super) async fn withdraw(
    NamedSet(name, id): NamedSet,
    State(desk): State<AnyDesk>,
    Typed(fields): Typed,
) -> Result<Response, WebError> {
    let (asked, sent) = (name.clone(), fields.clone());
    let answer = ask(move || {
        Ok(match desk.withdraw_set(&asked, id, &sent)? {
            FormTaken::Done(lift) => Ok(lift),
            FormTaken::Not(problems) => Err((desk.set(&asked, id)?, problems)),
        })
    });
    match answer.await.map_err(|error| error.about(&name))? {
        Ok(lift) => Ok(to_sets(name.as_str(), lift.as_str(), "withdrawn")),
        Err((view, problems)) => {
            let page =
                set_page::set_page(&view, Some(set_page::Sent::Withdrawal(&fields, &problems)));
            Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response())
        }
    }
}

/// `GET /lifter/{name}/settings`: the settings as a form.
pub(super) async fn settings(
    Named(name): Named,
    State(desk): State<AnyDesk>,
) -> Result<Response, WebError> {
    let (name, fields) = ask(move || desk.settings(&name)).await?;
    let form = Form { fields: &fields, problems: &Problems::default() };
    Ok(settings_page::settings_page(name.as_str(), form).into_response())
}

/// `POST /lifter/{name}/settings`: puts settings into force.
pub(super) async fn set_settings(
    Named(name): Named,
    State(desk): State<AnyDesk>,
    Typed(fields): Typed,
) -> Result<Response, WebError> {
    let (asked, sent) = (name.clone(), fields.clone());
    match ask(move || desk.set_settings(&asked, &sent)).await? {
        FormTaken::Done(()) => {
            let back = layout::lifter_path(name.as_str());
            Ok(Redirect::to(&format!("{back}?done=settings")).into_response())
        }
        FormTaken::Not(problems) => {
            let form = Form { fields: &fields, problems: &problems };
            let page = settings_page::settings_page(name.as_str(), form);
            Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response())
        }
    }
}

/// `GET /new-lifter`: the form for a new lifter.
pub(super) async fn intake(State(desk): State<AnyDesk>) -> Result<Response, WebError> {
    let view = ask(move || desk.intake()).await?;
    Ok(intake_page::intake_page(&view, None).into_response())
}

/// `POST /new-lifter`: takes on a new lifter.
pub(super) async fn take_on(
    State(desk): State<AnyDesk>,
    Typed(fields): Typed,
) -> Result<Response, WebError> {
    let sent = fields.clone();
    let answer = ask(move || {
        Ok(match desk.take_on(&sent)? {
            FormTaken::Done(name) => Ok(name),
            FormTaken::Not(problems) => Err((desk.intake()?, problems)),
        })
    });
    match answer.await? {
        Ok(name) => {
            let path = layout::lifter_path(name.as_str());
            Ok(Redirect::to(&format!("{path}?done=taken-on")).into_response())
        }
        Err((view, problems)) => {
            let page = intake_page::intake_page(&view, Some((&fields, &problems)));
            Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response())
        }
    }
}

fn to_sets(name: &str, lift: &str, done: &str) -> Response {
    Redirect::to(&format!("{}?done={done}", layout::lift_path(name, lift))).into_response()
}

/// What was just done, in words; nothing for any other text, which somebody may have put into a link.
pub(super) fn done_words(done: &str) -> Option<&'static str> {
    match done {
        "costs" => Some("The new costs are in force. What stood before is kept."),
        "corrected" => Some("The set was corrected. What stood before is kept below."),
        "withdrawn" => Some("The set was withdrawn. It is kept below and can be put back."),
        "settings" => Some("The new settings are in force. What stood before is kept."),
        "programme" => Some("The programme is kept. What stood before is kept as well."),
        "programme-away" => Some("The programme was taken away. It is kept below."),
        "plan-changed" => Some("The plan is changed for these days."),
        "plan-change-undone" => Some("The change was taken back. It is kept below."),
        "pain" => Some(
            "The rating is on record. It counts from now on, and takes the place of older ones.",
        ),
        "taken-on" => Some("The lifter is on record."),
        _ => None,
    }
}
