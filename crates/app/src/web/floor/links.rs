//! The desk's side of the gym floor: a lifter's private links, made, shown once and revoked.

use std::sync::Arc;

use axum::extract::State;
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Redirect, Response};
use domain::LifterName;
use maud::{Markup, PreEscaped, html};
use qrcode::QrCode;
use qrcode::render::svg;
use service::floor::{FloorRemark, LinkLine};

use super::address;
use crate::web::desk::Desk;
use crate::web::door::is_own_site;
use crate::web::error::WebError;
use crate::web::extract::{Named, NamedLink};
use crate::web::lanes::ask;
use crate::web::layout::{self, Footer};
use crate::wording;

/// What the lifter's page says of phones.
#[derive(Clone, Debug, Default)]
pub(in crate::web) struct OnTheFloor {
    pub(in crate::web) links: Vec<LinkLine>,
    pub(in crate::web) remarks: Vec<FloorRemark>,
}

/// `POST /lifter/{name}/links`: makes a link and shows it, once.
pub(in crate::web) async fn make(
    Named(name): Named,
    State(desk): State<Arc<dyn Desk>>,
    headers: HeaderMap,
) -> Result<Response, WebError> {
    let given = desk.address_for_phones();
    let asked = name.clone();
    let token = ask(move || desk.make_phone_link(&asked)).await?;
    let host = headers.get(header::HOST).and_then(|host| host.to_str().ok()).unwrap_or_default();
    let base = given.unwrap_or_else(|| format!("http://{host}"));
    let page = link_page(&name, &address(&base, &token), is_own_site(&base));
    Ok((StatusCode::CREATED, page).into_response())
}

/// `POST /lifter/{name}/links/{id}/revoke`: takes a link back.
pub(in crate::web) async fn revoke(
    NamedLink(name, id): NamedLink,
    State(desk): State<Arc<dyn Desk>>,
) -> Result<Redirect, WebError> {
    let asked = name.clone();
    ask(move || desk.revoke_phone_link(&asked, &id)).await.map_err(|error| error.about(&name))?;
    Ok(Redirect::to(&format!("{}#phones", layout::lifter_path(name.as_str()))))
}

/// The section of the lifter's page.
pub(in crate::web) fn section(name: &str, floor: &OnTheFloor) -> Markup {
    let path = layout::lifter_path(name);
    html! {
        section.phones aria-labelledby="phones" {
            h2 #phones { "Gym floor" }
            p {
                "A private link opens " (name) "'s session on a phone: targets, the call after each lead "
                "set, and logging that goes on without a signal. Whoever has the link can read and log "
                "for " (name) "; revoke it if a phone is lost."
            }
            form method="post" action={ (path) "/links" } {
                button type="submit" { "Make a link" }
            }
            @if !floor.links.is_empty() {
                ul.link-list { @for link in &floor.links { li { (link_line(&path, link)) } } }
            }
            @if !floor.remarks.is_empty() {
                h3 { "Said on the gym floor" }
                dl {
                    @for remark in &floor.remarks {
                        dt { (wording::moment(&remark.when)) }
                        dd { (remark.words) }
                    }
                }
            }
        }
    }
}

fn link_line(path: &str, link: &LinkLine) -> Markup {
    html! {
        "Link made on " (wording::instant(link.made))
        @match link.revoked {
            Some(revoked) => { ", revoked on " (wording::instant(revoked)) "." },
            None => {
                form method="post" action={ (path) "/links/" (link.id) "/revoke" } {
                    button.plain type="submit" { "Revoke" }
                }
            },
        }
    }
}

fn link_page(name: &LifterName, address: &str, only_here: bool) -> Markup {
    let body = html! {
        h1 { "A link for " (name) }
        p.lede { "Shown only now. Open it on the phone, or scan it there, and keep it as a bookmark." }
        @if only_here {
            p {
                strong { "This address is reached from this computer only." }
                " To reach the desk from phones, serve it with "
                code.option { "--listen 0.0.0.0" } ", or under HTTPS with " code.option { "--address" }
                ", and make the link there. The guide to the gym floor says how."
            }
        }
        (picture(address))
        p.link-text { a href=(address) { (address) } }
        p { a href={ (layout::lifter_path(name.as_str())) "#phones" } { "To " (name) "'s page" } }
    };
    layout::page(&format!("A link for {name}"), Footer::Plain, &body)
}

/// The address as a QR code (ISO/IEC 18004), dark on light in either theme, since readers expect that.
pub(in crate::web) fn picture(address: &str) -> Markup {
    let Ok(code) = QrCode::new(address) else {
        return html! { p { "This address is too long for a QR code." } };
    };
    let drawn = code
        .render::<svg::Color<'_>>()
        .dark_color(svg::Color("#000"))
        .light_color(svg::Color("#fff"))
        .min_dimensions(240, 240)
        .build();
    // What the library writes before the picture belongs to a file of its own.
    let start = drawn.find("<svg").unwrap_or(0);
    html! { div.qr role="img" aria-label="The link as a QR code" { (PreEscaped(&drawn[start..])) } }
}
