//! Handlers of a lifter's programme: its page, its form, and what a coach does with it.

use std::sync::Arc;

use axum::Router;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::{get, post};
use domain::LifterName;
use service::forms::{Fields, Problems};
use service::programme::{ProgrammeFormView, ProgrammePageView};

use super::changes::done_words;
use super::desk::{Desk, DeskError, FormTaken};
use super::drafts::DraftPlace;
use super::error::WebError;
use super::extract::{Named, Typed};
use super::lanes::ask;
use super::layout;
use super::programme_form_page::form_page;
use super::programme_page::{Sent, programme_page};

type AnyDesk = Arc<dyn Desk>;

/// Answers what the pages of programmes ask.
pub trait Programmes {
    /// The page of a lifter's programme.
    fn programme_page(&self, name: &LifterName) -> Result<ProgrammePageView, DeskError>;

    /// The form of a lifter's programme, as it is on record or as it was typed.
    fn programme_form(
        &self,
        name: &LifterName,
        typed: Option<&Fields>,
    ) -> Result<ProgrammeFormView, DeskError>;

    /// Keeps the programme that the form says.
    fn keep_programme(
        &self,
        name: &LifterName,
        fields: &Fields,
    ) -> Result<FormTaken<()>, DeskError>;

    /// Keeps the programme that a pasted file says.
    fn keep_programme_text(
        &self,
        name: &LifterName,
        fields: &Fields,
    ) -> Result<FormTaken<()>, DeskError>;

    /// Gives the lifter the programme of another.
    fn copy_programme(
        &self,
        name: &LifterName,
        fields: &Fields,
    ) -> Result<FormTaken<()>, DeskError>;

    /// Takes the lifter's programme away.
    fn withdraw_programme(&self, name: &LifterName, reason: &str) -> Result<(), DeskError>;
}

/// The routes of programmes.
pub(super) fn routes() -> Router<AnyDesk> {
    Router::new()
        .route("/lifter/{name}/programme", get(page))
        .route("/lifter/{name}/programme/edit", get(form).post(send_form))
        .route("/lifter/{name}/programme/file", post(send_text))
        .route("/lifter/{name}/programme/copy", post(copy))
        .route("/lifter/{name}/programme/withdraw", post(withdraw))
}

/// `GET /lifter/{name}/programme`: the programme with its remarks, and what can be done with it.
async fn page(
    Named(name): Named,
    State(desk): State<AnyDesk>,
    Typed(fields): Typed,
) -> Result<Response, WebError> {
    let done = done_words(fields.get("done"));
    let view = ask(move || Ok((desk.programme_page(&name)?, desk.calendar_links(&name)?)));
    let (view, links) = view.await?;
    Ok(programme_page(&view, &links, done, None).into_response())
}

/// `GET /lifter/{name}/programme/edit`: the programme as a form, or a drafted week, `?draft=ID.STATE.WEEK`.
async fn form(
    Named(name): Named,
    State(desk): State<AnyDesk>,
    Typed(fields): Typed,
) -> Result<Response, WebError> {
    let view = ask(move || match fields.get("draft").parse::<DraftPlace>() {
        Ok(place) => desk.drafted_form(&name, &place),
        Err(()) => desk.programme_form(&name, None),
    });
    Ok(form_page(&view.await?).into_response())
}

/// `POST /lifter/{name}/programme/edit`: keeps the form, checks it, or gives it more rows.
async fn send_form(
    Named(name): Named,
    State(desk): State<AnyDesk>,
    Typed(fields): Typed,
) -> Result<Response, WebError> {
    let asked = name.clone();
    let answer = ask(move || {
        let problems = match fields.get("do") {
            "keep" => match desk.keep_programme(&asked, &fields)? {
                FormTaken::Done(()) => return Ok(None),
                FormTaken::Not(problems) => Some(problems),
            },
            _ => None,
        };
        let mut view = desk.programme_form(&asked, Some(&fields))?;
        view.problems = problems.unwrap_or(view.problems);
        Ok(Some(view))
    });
    match answer.await? {
        None => Ok(to_page(&name, "programme")),
        Some(view) => {
            let status = match view.problems.is_empty() {
                true => StatusCode::OK,
                false => StatusCode::UNPROCESSABLE_ENTITY,
            };
            Ok((status, form_page(&view)).into_response())
        }
    }
}

/// `POST /lifter/{name}/programme/file`: keeps the programme of a pasted file.
async fn send_text(
    Named(name): Named,
    State(desk): State<AnyDesk>,
    Typed(fields): Typed,
) -> Result<Response, WebError> {
    let keep = |desk: &dyn Desk, name: &LifterName, fields: &Fields| {
        desk.keep_programme_text(name, fields)
    };
    taken(name, desk, fields, keep, Sent::Text).await
}

/// `POST /lifter/{name}/programme/copy`: takes over another lifter's programme.
async fn copy(
    Named(name): Named,
    State(desk): State<AnyDesk>,
    Typed(fields): Typed,
) -> Result<Response, WebError> {
    let keep =
        |desk: &dyn Desk, name: &LifterName, fields: &Fields| desk.copy_programme(name, fields);
    taken(name, desk, fields, keep, Sent::Copy).await
}

/// `POST /lifter/{name}/programme/withdraw`: takes the programme away.
async fn withdraw(
    Named(name): Named,
    State(desk): State<AnyDesk>,
    Typed(fields): Typed,
) -> Result<Response, WebError> {
    let asked = name.clone();
    ask(move || desk.withdraw_programme(&asked, fields.get("reason"))).await?;
    Ok(to_page(&name, "programme-away"))
}

/// Sends a small form of the page, and shows the page again with what is wrong in it.
async fn taken(
    name: LifterName,
    desk: AnyDesk,
    fields: Fields,
    keep: impl FnOnce(&dyn Desk, &LifterName, &Fields) -> Result<FormTaken<()>, DeskError>
    + Send
    + 'static,
    sent: Sent,
) -> Result<Response, WebError> {
    let (asked, typed) = (name.clone(), fields.clone());
    let answer = ask(move || match keep(&*desk, &asked, &typed)? {
        FormTaken::Done(()) => Ok(None),
        FormTaken::Not(problems) => {
            Ok(Some((desk.programme_page(&asked)?, desk.calendar_links(&asked)?, problems)))
        }
    });
    match answer.await? {
        None => Ok(to_page(&name, "programme")),
        Some((view, links, problems)) => {
            let typed: (Sent, &Fields, &Problems) = (sent, &fields, &problems);
            let page = programme_page(&view, &links, None, Some(typed));
            Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response())
        }
    }
}

fn to_page(name: &LifterName, done: &str) -> Response {
    let path = layout::programme_path(name.as_str());
    Redirect::to(&format!("{path}?done={done}")).into_response()
}
