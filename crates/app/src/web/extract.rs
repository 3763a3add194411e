//! From addresses to domain types: a handler never sees a name or a date that wasn't checked.

use axum::extract::{Form, FromRequest, FromRequestParts, Path, Request};
use axum::http::request::Parts;
use domain::{LiftName, LifterName, SetId};
use jiff::civil::Date;
use percent_encoding::percent_decode_str;
use service::forms::Fields;

use super::error::WebError;
use crate::print::Paper;

/// The lifter named in the address, `/lifter/{name}`, percent-decoded.
pub(super) struct Named(pub(super) LifterName);

impl<S: Send + Sync> FromRequestParts<S> for Named {
    type Rejection = WebError;

    async fn from_request_parts(parts: &mut Parts, state: &S) -> Result<Self, WebError> {
        let Path(name) = Path::<String>::from_request_parts(parts, state)
            .await
            .map_err(|_| WebError::refused("the name in the address isn't readable text"))?;
        LifterName::new(&name).map(Named).map_err(WebError::refused)
    }
}

/// The lifter and the lift named in the address, `/lifter/{name}/lift/{lift}`.
pub(super) struct NamedLift(pub(super) LifterName, pub(super) LiftName);

impl<S: Send + Sync> FromRequestParts<S> for NamedLift {
    type Rejection = WebError;

    async fn from_request_parts(parts: &mut Parts, state: &S) -> Result<Self, WebError> {
        let (name, lift) = two_parts(parts, state).await?;
        let name = LifterName::new(&name).map_err(WebError::refused)?;
        let lift = LiftName::new(&lift).map_err(|error| WebError::refused(error).about(&name))?;
        Ok(NamedLift(name, lift))
    }
}

/// The lifter and the set named in the address, `/lifter/{name}/set/{id}`.
pub(super) struct NamedSet(pub(super) LifterName, pub(super) SetId);

impl<S: Send + Sync> FromRequestParts<S> for NamedSet {
    type Rejection = WebError;

    async fn from_request_parts(parts: &mut Parts, state: &S) -> Result<Self, WebError> {
        let (name, id) = two_parts(parts, state).await?;
        let name = LifterName::new(&name).map_err(WebError::refused)?;
        let id = SetId::parse(&id).map_err(|error| WebError::refused(error).about(&name))?;
        Ok(NamedSet(name, id))
    }
}

/// The lifter and the phone's link named in the address, `/lifter/{name}/links/{id}/revoke`.
pub(super) struct NamedLink(pub(super) LifterName, pub(super) String);

impl<S: Send + Sync> FromRequestParts<S> for NamedLink {
    type Rejection = WebError;

    async fn from_request_parts(parts: &mut Parts, state: &S) -> Result<Self, WebError> {
        let (name, id) = two_parts(parts, state).await?;
        Ok(NamedLink(LifterName::new(&name).map_err(WebError::refused)?, id))
    }
}

/// The lifter and the draft named in the address, `/lifter/{name}/programme/draft/{id}`.
pub(super) struct NamedDraft(pub(super) LifterName, pub(super) String);

impl<S: Send + Sync> FromRequestParts<S> for NamedDraft {
    type Rejection = WebError;

    async fn from_request_parts(parts: &mut Parts, state: &S) -> Result<Self, WebError> {
        let (name, id) = two_parts(parts, state).await?;
        Ok(NamedDraft(LifterName::new(&name).map_err(WebError::refused)?, id))
    }
}

async fn two_parts<S: Send + Sync>(
    parts: &mut Parts,
    state: &S,
) -> Result<(String, String), WebError> {
    let Path(both) = Path::<(String, String)>::from_request_parts(parts, state)
        .await
        .map_err(|_| WebError::refused("the names in the address aren't readable text"))?;
    Ok(both)
}

/// What was typed into a form: after the question mark of the address, or sent along.
pub(super) struct Typed(pub(super) Fields);

impl<S: Send + Sync> FromRequest<S> for Typed {
    type Rejection = WebError;

    async fn from_request(request: Request, state: &S) -> Result<Self, WebError> {
        let form = Form::<Vec<(String, String)>>::from_request(request, state).await;
        let Form(pairs) = form.map_err(|error| {
            WebError::refused(format!("the form can't be read: {error}; send it from its page"))
        })?;
        Ok(Typed(pairs.into_iter().collect()))
    }
}

/// The day asked for, `?date=2031-05-04`; none if it is left out or left empty.
pub(super) struct OnDate(pub(super) Option<Date>);

impl<S: Send + Sync> FromRequestParts<S> for OnDate {
    type Rejection = WebError;

    async fn from_request_parts(parts: &mut Parts, _: &S) -> Result<Self, WebError> {
        let text = asked(parts, "date=");
        if text.is_empty() {
            return Ok(OnDate(None));
        }
        let when = domain::When::parse(&text).map_err(WebError::refused)?;
        Ok(OnDate(Some(when.date())))
    }
}

/// The paper asked for, `?paper=letter`; none if it is left out or left empty.
pub(super) struct OnPaper(pub(super) Option<Paper>);

impl<S: Send + Sync> FromRequestParts<S> for OnPaper {
    type Rejection = WebError;

    async fn from_request_parts(parts: &mut Parts, _: &S) -> Result<Self, WebError> {
        match asked(parts, "paper=") {
            text if text.is_empty() => Ok(OnPaper(None)),
            text => text.parse().map(|paper| OnPaper(Some(paper))).map_err(WebError::refused),
        }
    }
}

/// What stands in the address for a name; empty if it is left out.
fn asked(parts: &Parts, name: &str) -> String {
    let query = parts.uri.query().unwrap_or_default();
    let raw = query.split('&').find_map(|pair| pair.strip_prefix(name)).unwrap_or_default();
    percent_decode_str(raw).decode_utf8_lossy().into_owned()
}
