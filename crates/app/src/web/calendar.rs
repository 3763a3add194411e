//! A lifter's sessions as an iCalendar feed (RFC 5545), behind a private link of its own.
//!
//! Sessions are whole days that leave the day free, since a programme knows no time of day. The link is made
//! on the programme's page, shown once, and revoked there.

use std::sync::Arc;

use axum::Router;
use axum::extract::{Path, State};
use axum::http::header::CONTENT_TYPE;
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::{get, post};
use domain::LifterName;
use icalendar::{Calendar, Component, Event, Property};
use maud::{Markup, html};
use service::floor::{LinkLine, Opened, PhoneLink};
use service::programme::calendar::{CalendarSession, CalendarView};

use super::desk::{Desk, DeskError};
use super::door::is_own_site;
use super::error::WebError;
use super::extract::{Named, NamedLink};
use super::lanes::ask;
use super::layout::{self, Footer};
use crate::wording;

type AnyDesk = Arc<dyn Desk>;

/// Answers what calendars and their links ask.
pub trait Calendars {
    /// What a token opens.
    fn open_calendar(&self, token: &str) -> Result<Opened, DeskError>;

    /// The calendar behind a link.
    fn calendar(&self, link: &PhoneLink) -> Result<CalendarView, DeskError>;

    /// Makes a link; gives its token, which is kept nowhere.
    fn make_calendar_link(&self, name: &LifterName) -> Result<String, DeskError>;

    /// A lifter's links, the newest first.
    fn calendar_links(&self, name: &LifterName) -> Result<Vec<LinkLine>, DeskError>;
}

/// The routes of calendars.
pub(super) fn routes() -> Router<AnyDesk> {
    Router::new()
        .route("/calendar/{token}", get(feed))
        .route("/lifter/{name}/calendar", post(make))
        .route("/lifter/{name}/calendar/{id}/revoke", post(revoke))
}

/// `GET /calendar/{token}.ics`: the feed. Programs for calendars come again and again by themselves.
async fn feed(Path(file): Path<String>, State(desk): State<AnyDesk>) -> Result<Response, WebError> {
    const REVOKED: &str = "this link was revoked; ask your coach for a new one";
    const UNKNOWN: &str = "this link opens nothing; check it, or ask your coach for a new one";
    let token = file.strip_suffix(".ics").unwrap_or(&file).to_owned();
    let view = ask(move || match desk.open_calendar(&token)? {
        Opened::Page(link) => desk.calendar(&link).map(Ok),
        Opened::Revoked => Ok(Err(WebError::gone(REVOKED))),
        Opened::Unknown => Ok(Err(WebError::not_found(UNKNOWN))),
    });
    let text = written(&view.await??);
    Ok(([(CONTENT_TYPE, "text/calendar; charset=utf-8")], text).into_response())
}

/// `POST /lifter/{name}/calendar`: makes a link and shows it, once.
async fn make(
    Named(name): Named,
    State(desk): State<AnyDesk>,
    headers: HeaderMap,
) -> Result<Response, WebError> {
    let given = desk.address_for_phones();
    let asked = name.clone();
    let token = ask(move || desk.make_calendar_link(&asked)).await?;
    let host = headers.get(header::HOST).and_then(|host| host.to_str().ok()).unwrap_or_default();
    let base = given.unwrap_or_else(|| format!("http://{host}"));
    let only_here = is_own_site(&base);
    let page = link_page(&name, &format!("{base}/calendar/{token}.ics"), only_here);
    Ok((StatusCode::CREATED, page).into_response())
}

/// `POST /lifter/{name}/calendar/{id}/revoke`: takes a link back.
async fn revoke(
    NamedLink(name, id): NamedLink,
    State(desk): State<AnyDesk>,
) -> Result<Redirect, WebError> {
    let asked = name.clone();
    ask(move || desk.revoke_phone_link(&asked, &id)).await.map_err(|error| error.about(&name))?;
    Ok(Redirect::to(&format!("{}#calendar", layout::programme_path(name.as_str()))))
}

/// The calendar as text.
fn written(view: &CalendarView) -> String {
    let mut calendar = Calendar::new();
    calendar.name(&format!("Sessions of {}", view.lifter));
    // How often to look again (RFC 7986).
    calendar.append_property(
        Property::new("REFRESH-INTERVAL", "PT6H").add_parameter("VALUE", "DURATION").done(),
    );
    for session in &view.sessions {
        calendar.push(event(view, session));
    }
    calendar.to_string()
}

fn event(view: &CalendarView, session: &CalendarSession) -> Event {
    let basic = |date: jiff::civil::Date| date.strftime("%Y%m%d").to_string();
    let day =
        |key: &str, date| Property::new(key, basic(date)).add_parameter("VALUE", "DATE").done();
    let set = jiff::tz::Offset::UTC.to_datetime(view.set).strftime("%Y%m%dT%H%M%SZ").to_string();
    Event::new()
        .uid(&session.id)
        .summary(&session.summary)
        .description(&session.description)
        .append_property(day("DTSTART", session.date))
        .append_property(day("DTEND", session.date.tomorrow().unwrap_or(session.date)))
        .add_property("DTSTAMP", set)
        .add_property("TRANSP", "TRANSPARENT")
        .done()
}

/// The section of the programme's page.
pub(super) fn section(lifter: &str, links: &[LinkLine]) -> Markup {
    let path = layout::lifter_path(lifter);
    html! {
        section.phones aria-labelledby="calendar" {
            h2 #calendar { "Calendar" }
            p {
                "A private link gives the planned sessions of the next weeks to any program for calendars "
                "(iCalendar). Whoever has it can read them, and nothing else; revoke it if it gets about."
            }
            form method="post" action={ (path) "/calendar" } {
                button type="submit" { "Make a calendar link" }
            }
            @if !links.is_empty() {
                ul.link-list {
                    @for link in links {
                        li {
                            "Link made on " (wording::instant(link.made))
                            @match link.revoked {
                                Some(revoked) => { ", revoked on " (wording::instant(revoked)) "." },
                                None => {
                                    form method="post" action={ (path) "/calendar/" (link.id) "/revoke" } {
                                        button.plain type="submit" { "Revoke" }
                                    }
                                },
                            }
                        }
                    }
                }
            }
        }
    }
}

fn link_page(name: &LifterName, address: &str, only_here: bool) -> Markup {
    let title = format!("A calendar link for {name}");
    let body = html! {
        h1 { (title) }
        p.lede { "Shown only now. Copy it into a program for calendars, as a calendar from the network." }
        @if only_here {
            p {
                strong { "This address is reached from this computer only." }
                " To reach the desk from elsewhere, serve it with "
                code.option { "--listen 0.0.0.0" } ", or under HTTPS with " code.option { "--address" }
                ", and make the link there."
            }
        }
        p.link-text { a href=(address) { (address) } }
        p { a href={ (layout::programme_path(name.as_str())) "#calendar" } { "To the programme" } }
    };
    layout::page(&title, Footer::Plain, &body)
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;

    use super::*;

    #[test]
    fn a_calendar_is_written_as_the_standard_has_it() {
        let session = CalendarSession {
            id: "0f1e2d3c-0000-5000-8000-000000000001".to_owned(),
            date: date(2031, 5, 31),
            summary: "Quay, bars; and more: Monday".to_owned(),
            description: format!("squat: 3 × 5\nbench press: {}", "é".repeat(60)),
        };
        let set = "2031-05-05T06:00:00Z".parse().unwrap();
        let view = CalendarView { lifter: "Wilma Tarn".to_owned(), set, sessions: vec![session] };
        let text = written(&view);
        // RFC 5545, 3.1: lines end with CRLF and have at most 75 octets, without that end.
        assert!(text.ends_with("END:VCALENDAR\r\n"), "{text}");
        assert!(text.replace("\r\n", "").find('\n').is_none(), "{text}");
        assert!(text.split("\r\n").all(|line| line.len() <= 75), "{text}");
        let whole = text.replace("\r\n ", "");
        for line in [
            "VERSION:2.0",
            "DTSTART;VALUE=DATE:20310531",
            "DTEND;VALUE=DATE:20310601",
            "DTSTAMP:20310505T060000Z",
            "UID:0f1e2d3c-0000-5000-8000-000000000001",
            "SUMMARY:Quay\\, bars\\; and more: Monday",
            "TRANSP:TRANSPARENT",
            "REFRESH-INTERVAL;VALUE=DURATION:PT6H",
        ] {
            assert!(whole.split("\r\n").any(|found| found == line), "{line} in\n{whole}");
        }
        assert!(whole.contains("DESCRIPTION:squat: 3 × 5\\nbench press: é"), "{whole}");
    }
}
