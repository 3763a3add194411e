//! Complaints of joints that stand, each asked about with a form that answers it, and a form for any joint.

use std::sync::Arc;

use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use domain::Joint;
use maud::{Markup, html};
use service::forms::{Fields, Problems};
use service::view::{CallWord, ComplaintView, Extent};

use super::desk::{Desk, FormTaken};
use super::error::WebError;
use super::extract::{Named, Typed};
use super::form::{Form, Input};
use super::handlers::lifter_view;
use super::lanes::ask;
use super::{layout, lifter_page};
use crate::wording;

/// What a rating means, said beside every field for one.
const SCALE: &str = "0 none, 10 the worst imaginable";

/// `POST /lifter/{name}/pain`: records how a joint feels now.
pub(super) async fn rate(
    Named(name): Named,
    State(desk): State<Arc<dyn Desk>>,
    Typed(fields): Typed,
) -> Result<Response, WebError> {
    let (asked, sent, rating) = (name.clone(), fields.clone(), Arc::clone(&desk));
    match ask(move || rating.rate_joint(&asked, &sent)).await? {
        FormTaken::Done(()) => {
            let back = layout::lifter_path(name.as_str());
            Ok(Redirect::to(&format!("{back}?done=pain")).into_response())
        }
        FormTaken::Not(problems) => {
            let (view, floor) = lifter_view(desk, name, Extent::Lately).await?;
            let sent = Form { fields: &fields, problems: &problems };
            let page = lifter_page::lifter_page(&view, &floor, (None, Some(sent)), Extent::Lately);
            Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response())
        }
    }
}

/// The complaints that stand, each with the question and a field for the answer. `sent` is a rating that could not
/// be taken; one of another joint gets a form of its own.
pub(super) fn complaints(
    lifter: &str,
    complaints: &[ComplaintView],
    sent: Option<Form<'_>>,
) -> Markup {
    let of =
        |complaint: &ComplaintView| sent.filter(|sent| sent.fields.get("joint") == complaint.key);
    let is_other = !complaints.iter().any(|complaint| of(complaint).is_some());
    html! {
        @if let Some(sent) = sent { (sent.summary_saying("The rating was not recorded.")) }
        @for complaint in complaints { (complaint_section(lifter, complaint, of(complaint))) }
        @if let Some(sent) = sent.filter(|_| is_other) { (any_joint(lifter, Some(sent))) }
    }
}

fn complaint_section(lifter: &str, complaint: &ComplaintView, sent: Option<Form<'_>>) -> Markup {
    let id = match sent {
        Some(_) => "field-pain".to_owned(),
        None => format!("now-{}", complaint.key),
    };
    html! {
        section.complaint aria-labelledby={ "pain-" (complaint.key) } {
            h2 id={ "pain-" (complaint.key) } {
                (layout::call(CallWord::Stop)) " " (wording::capitalised(complaint.joint)) ": pain of "
                (complaint.rating) " of 10"
            }
            p { (complaint.words) }
            form method="post" action={ (layout::lifter_path(lifter)) "/pain" } {
                input type="hidden" name="joint" value=(complaint.key);
                div.field {
                    label for=(id) { "The " (complaint.joint) " today, as the lifter says: " (SCALE) }
                    input id=(id) type="text" name="pain" inputmode="numeric" autocomplete="off"
                        value=[sent.map(|sent| sent.fields.get("pain"))]
                        aria-invalid=[sent.map(|_| "true")];
                    @if let Some(sent) = sent { (sent.problem("pain")) }
                }
                button type="submit" { "Record the answer" }
            }
        }
    }
}

/// A form that rates any joint; `sent` is a rating that could not be taken.
pub(super) fn any_joint(lifter: &str, sent: Option<Form<'_>>) -> Markup {
    let (fields, problems) = (Fields::default(), Problems::default());
    let form = sent.unwrap_or(Form { fields: &fields, problems: &problems });
    let joints = Joint::ALL.iter().map(|joint| (joint.key(), joint.label()));
    html! {
        section.part aria-labelledby="rate" {
            h2 #rate { "Report how a joint feels" }
            form.fields method="post" action={ (layout::lifter_path(lifter)) "/pain" } {
                (form.choice("joint", "Joint", joints))
                (form.input_with("pain", "Pain now", Input::Whole, SCALE))
                button type="submit" { "Record it" }
            }
        }
    }
}
