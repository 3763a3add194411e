//! One handler per page: take the address apart, ask the desk once, hand over one page.

use std::sync::Arc;

use axum::Json;
use axum::extract::State;
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_SECURITY_POLICY, CONTENT_TYPE};
use axum::response::IntoResponse;
use domain::LifterName;
use maud::Markup;
use percent_encoding::{NON_ALPHANUMERIC, utf8_percent_encode};
use service::view::{CardView, Extent, LifterView};

use super::changes::done_words;
use super::desk::{Desk, DeskError};
use super::error::WebError;
use super::extract::{Named, OnDate, OnPaper, Typed};
use super::floor::links::OnTheFloor;
use super::lanes::ask;
use super::{card_page, layout, lifter_page, squad_page};
use crate::print::card::card_pdf;
use crate::print::{Paper, PrintError};

type AnyDesk = Arc<dyn Desk>;

/// What a browser may load to show a print: the print, and its own viewer's style.
const PRINT_POLICY: &str = "default-src 'none'; object-src 'self'; style-src 'unsafe-inline'; \
                            base-uri 'none'; frame-ancestors 'none'";

/// `GET /?name=&from=`: everybody, most urgent first.
pub(super) async fn squad(
    State(desk): State<AnyDesk>,
    Typed(asked): Typed,
) -> Result<Markup, WebError> {
    let (view, backups) = ask(move || Ok((desk.squad()?, desk.backups()))).await?;
    Ok(squad_page::squad_page(&view, backups.as_ref(), &asked))
}

/// `GET /lifter/{name}?record=`: one lifter, lift by lift.
pub(super) async fn lifter(
    Named(name): Named,
    State(desk): State<AnyDesk>,
    Typed(fields): Typed,
) -> Result<Markup, WebError> {
    let extent = match fields.get("record") {
        "whole" => Extent::Whole,
        _ => Extent::Lately,
    };
    let (view, floor) = lifter_view(desk, name, extent).await?;
    Ok(lifter_page::lifter_page(&view, &floor, (done_words(fields.get("done")), None), extent))
}

/// What the page of one lifter shows.
pub(super) async fn lifter_view(
    desk: AnyDesk,
    name: LifterName,
    extent: Extent,
) -> Result<(LifterView, OnTheFloor), WebError> {
    ask(move || {
        let view = desk.lifter(&name, extent)?;
        let links = desk.phone_links(&name)?;
        Ok((view, OnTheFloor { links, remarks: desk.floor_remarks(&name)? }))
    })
    .await
}

/// `GET /lifter/{name}/card?date=`: one session, ready to print.
pub(super) async fn card(
    Named(name): Named,
    date: Result<OnDate, WebError>,
    State(desk): State<AnyDesk>,
) -> Result<Markup, WebError> {
    let view = card_view(name, date, desk).await?;
    let setting = card_page::Setting::Served { back: layout::lifter_path(&view.lifter) };
    Ok(card_page::card_page(&view, &setting))
}

/// `GET /lifter/{name}/card.json?date=`: the same session as data.
pub(super) async fn card_data(
    Named(name): Named,
    date: Result<OnDate, WebError>,
    State(desk): State<AnyDesk>,
) -> Result<Json<CardView>, WebError> {
    card_view(name, date, desk).await.map(Json)
}

/// `GET /lifter/{name}/card.pdf?date=&paper=`: the same session as sheets of paper.
pub(super) async fn card_print(
    Named(name): Named,
    date: Result<OnDate, WebError>,
    paper: Result<OnPaper, WebError>,
    State(desk): State<AnyDesk>,
) -> Result<impl IntoResponse, WebError> {
    let OnPaper(paper) = paper.map_err(|error| error.about(&name))?;
    let view = card_view(name, date, desk).await?;
    let name = utf8_percent_encode(&view.lifter, NON_ALPHANUMERIC);
    let named = format!("inline; filename*=UTF-8''card-{name}-{}.pdf", view.date);
    let paper = paper.unwrap_or(Paper::usual_for(view.unit));
    let failed = |error: PrintError| DeskError::Failed(error.to_string());
    let pdf = ask(move || card_pdf(&view, paper).map_err(failed)).await?;
    let headers = [
        (CONTENT_TYPE, "application/pdf".to_owned()),
        (CONTENT_DISPOSITION, named),
        (CONTENT_SECURITY_POLICY, PRINT_POLICY.to_owned()),
    ];
    Ok((headers, pdf))
}

async fn card_view(
    name: LifterName,
    date: Result<OnDate, WebError>,
    desk: AnyDesk,
) -> Result<CardView, WebError> {
    let OnDate(date) = date.map_err(|error| error.about(&name))?;
    let asked = name.clone();
    let view = ask(move || desk.card(&asked, date)).await;
    view.map_err(|error| match error.is_not_found() {
        true => error,
        false => error.about(&name),
    })
}

/// Any other address.
pub(super) async fn no_such_page() -> WebError {
    WebError::not_found("there is no page at this address")
}

/// Any other verb.
pub(super) async fn pages_are_read() -> WebError {
    WebError::not_allowed("this page can only be read")
}
