//! Handlers of drafting: the form of wishes, a draft while it is looked for, and the way into the programme.

use std::str::FromStr;
use std::sync::Arc;

use axum::Router;
use axum::extract::State;
use axum::http::StatusCode;
use axum::http::header::REFRESH;
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::get;
use domain::LifterName;
use service::forms::Fields;
use service::programme::{DraftView, ProgrammeFormView, WishesFormView};

use super::desk::{Desk, DeskError, FormTaken};
use super::draft_page::{draft_page, renewed_after};
use super::error::WebError;
use super::extract::{Named, NamedDraft, Typed};
use super::lanes::ask;
use super::layout;
use super::wishes_page::wishes_page;

type AnyDesk = Arc<dyn Desk>;

/// Answers what the pages of drafts ask.
pub trait Drafts {
    /// The form of wishes: filled in from what is known of the lifter, as it was typed, or as it was sent for
    /// the draft in `of`, whose week then stands for what the lifter does now.
    fn wishes_form(
        &self,
        name: &LifterName,
        typed: Option<&Fields>,
        of: Option<&DraftPlace>,
    ) -> Result<WishesFormView, DeskError>;

    /// Begins a draft for the wishes in the form; gives the name by which it is found.
    fn begin_draft(
        &self,
        name: &LifterName,
        fields: &Fields,
    ) -> Result<FormTaken<String>, DeskError>;

    /// How a draft stands.
    fn draft(&self, name: &LifterName, id: &str, is_still: bool) -> Result<DraftPage, DeskError>;

    /// Leaves a draft at the weeks that stand.
    fn end_draft(&self, name: &LifterName, id: &str) -> Result<(), DeskError>;

    /// The programme's form with a drafted week in it.
    fn drafted_form(
        &self,
        name: &LifterName,
        place: &DraftPlace,
    ) -> Result<ProgrammeFormView, DeskError>;
}

/// A draft as it stands.
#[derive(Clone, Debug)]
pub struct DraftPage {
    /// Whose week it is to be.
    pub lifter: String,
    /// The name by which it is found.
    pub id: String,
    /// How many states of it there have been.
    pub stood: usize,
    /// The weeks of the last one; none if there is none yet.
    pub view: Option<Arc<DraftView>>,
    /// How far it is.
    pub status: DraftStatus,
    /// Whether the page is held still.
    pub is_still: bool,
    /// The wishes as a file.
    pub wishes: String,
}

/// How far a draft is.
#[derive(Clone, Debug, PartialEq)]
pub enum DraftStatus {
    /// It is being looked for.
    Looking {
        /// The week, from 1.
        week: usize,
        /// Whether one was found that keeps to all wishes.
        found: bool,
        /// How far it is at most from the best that can be, in %.
        gap_pct: Option<f64>,
        /// Whole seconds since it was begun.
        seconds: u64,
    },
    /// It has come to an end.
    Ended {
        /// Why.
        why: EndedWhy,
        /// Whole seconds that it took.
        seconds: u64,
    },
}

/// Why a draft has ended.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum EndedWhy {
    /// Its time was over, or it was good enough.
    Done,
    /// The coach said so.
    Stopped,
    /// Nobody looked at it any more.
    Left,
    /// Another draft was begun.
    AnotherBegan,
    /// Something failed.
    Failed(String),
}

/// One week of one state of a draft, as an address holds it: `ID.STATE.WEEK`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DraftPlace {
    /// The draft.
    pub id: String,
    /// The state, from 1.
    pub stood: usize,
    /// The week, from 1.
    pub week: usize,
}

impl std::fmt::Display for DraftPlace {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}.{}.{}", self.id, self.stood, self.week)
    }
}

impl FromStr for DraftPlace {
    type Err = ();

    fn from_str(text: &str) -> Result<DraftPlace, ()> {
        let mut parts = text.split('.');
        let (Some(id), Some(stood), Some(week), None) =
            (parts.next(), parts.next(), parts.next(), parts.next())
        else {
            return Err(());
        };
        let number = |text: &str| text.parse::<usize>().map_err(|_| ());
        Ok(DraftPlace { id: id.to_owned(), stood: number(stood)?, week: number(week)? })
    }
}

/// The routes of drafts.
pub(super) fn routes() -> Router<AnyDesk> {
    Router::new()
        .route("/lifter/{name}/programme/draft", get(form).post(send))
        .route("/lifter/{name}/programme/draft/{id}", get(page).post(answer))
}

/// `GET /lifter/{name}/programme/draft`: the wishes as a form.
async fn form(
    Named(name): Named,
    State(desk): State<AnyDesk>,
    Typed(fields): Typed,
) -> Result<Response, WebError> {
    let of = fields.get("of").parse::<DraftPlace>().ok();
    let view = ask(move || desk.wishes_form(&name, None, of.as_ref())).await?;
    Ok(wishes_page(&view).into_response())
}

/// `POST /lifter/{name}/programme/draft`: begins a draft, or gives the form more rows.
async fn send(
    Named(name): Named,
    State(desk): State<AnyDesk>,
    Typed(fields): Typed,
) -> Result<Response, WebError> {
    let asked = name.clone();
    let begun = ask(move || {
        let problems = match fields.get("do") {
            "fixed" => None,
            _ => match desk.begin_draft(&asked, &fields)? {
                FormTaken::Done(id) => return Ok(Ok(id)),
                FormTaken::Not(problems) => Some(problems),
            },
        };
        let mut view = desk.wishes_form(&asked, Some(&fields), None)?;
        view.problems = problems.unwrap_or(view.problems);
        Ok(Err(Box::new(view)))
    });
    match begun.await? {
        Ok(id) => Ok(Redirect::to(&layout::draft_path(name.as_str(), &id)).into_response()),
        Err(view) => {
            let status = match view.problems.is_empty() {
                true => StatusCode::OK,
                false => StatusCode::UNPROCESSABLE_ENTITY,
            };
            Ok((status, wishes_page(&view)).into_response())
        }
    }
}

/// `GET /lifter/{name}/programme/draft/{id}`: the weeks as they stand.
async fn page(
    NamedDraft(name, id): NamedDraft,
    State(desk): State<AnyDesk>,
    Typed(fields): Typed,
) -> Result<Response, WebError> {
    let asked = name.clone();
    let view = ask(move || desk.draft(&asked, &id, fields.has("still"))).await;
    let view = view.map_err(|error| error.about(&name))?;
    // Browsers load the page anew without a script; a link on it holds it still.
    let renew = renewed_after(&view).map(|seconds| [(REFRESH, seconds.to_string())]);
    Ok((renew, draft_page(&view)).into_response())
}

/// `POST /lifter/{name}/programme/draft/{id}`: leaves it at what stands, and takes a week if one is named.
async fn answer(
    NamedDraft(name, id): NamedDraft,
    State(desk): State<AnyDesk>,
    Typed(fields): Typed,
) -> Result<Response, WebError> {
    let back = layout::draft_path(name.as_str(), &id);
    let asked = name.clone();
    let ended = ask(move || desk.end_draft(&asked, &id)).await;
    ended.map_err(|error| error.about(&name))?;
    Ok(match fields.get("take").parse::<DraftPlace>() {
        Ok(place) => {
            let path = layout::programme_path(name.as_str());
            Redirect::to(&format!("{path}/edit?draft={place}")).into_response()
        }
        Err(()) => Redirect::to(&back).into_response(),
    })
}
