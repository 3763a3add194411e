//! Handlers of the import: a table is sent, looked at as often as it takes, and then imported.

use std::sync::Arc;

use axum::extract::{Multipart, Path, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use maud::Markup;
use service::import::form::MAX_BYTES;

use super::desk::Desk;
use super::error::WebError;
use super::extract::Typed;
use super::import_page;
use super::lanes::ask;

type AnyDesk = Arc<dyn Desk>;

/// `GET /import`: the form that takes a table.
pub(super) async fn start() -> Markup {
    import_page::start_page(None)
}

/// `POST /import`: takes a table, sent as a file or as text, and leads to the look at it.
pub(super) async fn send(
    State(desk): State<AnyDesk>,
    form: Multipart,
) -> Result<Response, WebError> {
    let Some((name, bytes)) = sent_table(form).await? else {
        let nothing = "nothing was sent: choose a file or paste the lines of a table";
        let page = import_page::start_page(Some(nothing));
        return Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response());
    };
    let id = ask(move || Ok(desk.keep_table(&name, bytes))).await?;
    Ok(Redirect::to(&format!("/import/{id}")).into_response())
}

/// `GET /import/{id}`: how the table would be read, and what an import would do.
pub(super) async fn look(
    Path(id): Path<String>,
    State(desk): State<AnyDesk>,
    Typed(fields): Typed,
) -> Result<Response, WebError> {
    let asked = id.clone();
    let view = ask(move || desk.look_at_table(&asked, &fields)).await?;
    Ok(import_page::look_page(&id, &view).into_response())
}

/// `POST /import/{id}`: imports the table, or says what has to be said first.
pub(super) async fn import(
    Path(id): Path<String>,
    State(desk): State<AnyDesk>,
    Typed(fields): Typed,
) -> Result<Response, WebError> {
    let asked = id.clone();
    let view = ask(move || desk.import_table(&asked, &fields)).await?;
    Ok(match &view.report {
        Some(report) => import_page::done_page(&view, report).into_response(),
        None => {
            let page = import_page::look_page(&id, &view);
            (StatusCode::UNPROCESSABLE_ENTITY, page).into_response()
        }
    })
}

/// The file, or the pasted text; none if both are empty.
async fn sent_table(mut form: Multipart) -> Result<Option<(String, Vec<u8>)>, WebError> {
    let too_large = |_| {
        WebError::refused(format!(
            "the table can't be taken: it is cut off or larger than {} MiB; import it with \
             `bellwether import`, which takes any size",
            MAX_BYTES / (1024 * 1024)
        ))
    };
    let mut found = None;
    while let Some(part) = form.next_field().await.map_err(too_large)? {
        let name = part.file_name().unwrap_or_default().to_owned();
        let is_known = matches!(part.name(), Some("file" | "text"));
        let bytes = part.bytes().await.map_err(too_large)?;
        if is_known && found.is_none() && !bytes.trim_ascii().is_empty() {
            found = Some((name, bytes.to_vec()));
        }
    }
    Ok(found)
}
