//! From addresses to domain types: a handler never sees a name or a date that wasn't checked.

use axum::extract::{FromRequestParts, Path};
use axum::http::request::Parts;
use domain::LifterName;
use jiff::civil::Date;
use percent_encoding::percent_decode_str;

use super::error::WebError;

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

/// The day asked for, `?date=2031-05-04`; none if it is left out or left empty.
pub(super) struct OnDate(pub(super) Option<Date>);

impl<S: Send + Sync> FromRequestParts<S> for OnDate {
    type Rejection = WebError;

    async fn from_request_parts(parts: &mut Parts, _: &S) -> Result<Self, WebError> {
        let query = parts.uri.query().unwrap_or_default();
        let raw = query.split('&').find_map(|pair| pair.strip_prefix("date=")).unwrap_or("");
        let text = percent_decode_str(raw).decode_utf8_lossy();
        if text.is_empty() {
            return Ok(OnDate(None));
        }
        let when = domain::When::parse(&text).map_err(WebError::refused)?;
        Ok(OnDate(Some(when.date())))
    }
}
