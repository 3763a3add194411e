//! The pages over the real router: headers, documents, escaping, addresses and errors.

use std::sync::Arc;

use axum::body::{Body, to_bytes};
use axum::http::{Request, Response, StatusCode};
use bellwether::web::{card_page, router};
use jiff::civil::date;
use service::backup::{BackupView, FailedBackup};
use service::view::{LifterLine, SquadView};
use tower::ServiceExt;

use crate::fixture;

pub(crate) struct Answer {
    pub(crate) status: StatusCode,
    pub(crate) header: Box<dyn Fn(&str) -> String>,
    pub(crate) text: String,
}

async fn send(method: &str, path: &str, form: &'static str) -> Answer {
    send_to(fixture::InventedDesk::default(), method, path, form).await
}

async fn send_to(
    desk: fixture::InventedDesk,
    method: &str,
    path: &str,
    form: &'static str,
) -> Answer {
    let request = Request::builder()
        .method(method)
        .uri(path)
        .header("content-type", "application/x-www-form-urlencoded")
        .body(Body::from(form))
        .expect("valid");
    let answer: Response<Body> = router(Arc::new(desk)).oneshot(request).await.expect("infallible");
    let (parts, body) = answer.into_parts();
    let bytes = to_bytes(body, 10_000_000).await.expect("in memory");
    let headers = parts.headers;
    Answer {
        status: parts.status,
        header: Box::new(move |name| {
            headers.get(name).and_then(|v| v.to_str().ok()).unwrap_or_default().to_owned()
        }),
        // Pages are text; of a print only the first bytes are looked at.
        text: String::from_utf8_lossy(&bytes).into_owned(),
    }
}

pub(crate) async fn get(path: &str) -> Answer {
    send("GET", path, "").await
}

pub(crate) async fn post(path: &str, form: &'static str) -> Answer {
    send("POST", path, form).await
}

const PAGES: [(&str, u16); 20] = [
    ("/", 200),
    ("/lifter/Ottoline%20Varkas", 200),
    ("/lifter/Ruben%20Maplethwaite", 200),
    ("/lifter/Isaura%20Penhallow", 200),
    ("/lifter/Ottoline%20Varkas/card", 200),
    ("/lifter/Ottoline%20Varkas/card?date=2031-06-02", 200),
    ("/lifter/Only%20Named", 200),
    ("/lifter/Ottoline%20Varkas/lift/squat", 200),
    ("/lifter/Ottoline%20Varkas/lift/squat?cut_for_nothing=1&trained_through=2", 200),
    ("/lifter/Ottoline%20Varkas/lift/juggling", 404),
    ("/lifter/Ottoline%20Varkas/settings", 200),
    ("/lifter/Nobody%20Known/settings", 404),
    ("/new-lifter", 200),
    ("/look", 200),
    ("/lifter/Nobody%20Known", 404),
    ("/no/such/page", 404),
    ("/lifter/%01", 422),
    ("/lifter/Ottoline%20Varkas/card?date=31.5.2031", 422),
    ("/lifter/Broken%20Store", 500),
    ("/lifter/Falls%20Over", 500),
];

#[tokio::test]
async fn every_page_is_a_guarded_document() {
    for (path, status) in PAGES {
        let page = get(path).await;
        assert_eq!(page.status.as_u16(), status, "{path}");
        let policy = (page.header)("content-security-policy");
        assert!(policy.starts_with("default-src 'none'; style-src 'self';"), "{path}: {policy}");
        assert!(!policy.contains("unsafe"), "{path}");
        assert_eq!((page.header)("x-content-type-options"), "nosniff", "{path}");
        assert_eq!((page.header)("referrer-policy"), "same-origin", "{path}");
        assert_eq!((page.header)("cache-control"), "no-store", "{path}");
        assert!((page.header)("content-type").starts_with("text/html"), "{path}");
        assert_document(path, &page.text);
        assert!(!page.text.contains("<style"), "{path}");
        assert!(page.text.contains("href=\"/"), "{path} leads nowhere");
    }
}

pub(crate) fn assert_document(path: &str, text: &str) {
    assert!(text.starts_with("<!DOCTYPE html><html lang=\"en\">"), "{path}");
    let title = text.split("<title>").nth(1).and_then(|t| t.split("</title>").next());
    assert!(title.is_some_and(|t| t.len() > " · Bellwether".len()), "{path}");
    for bad in ["<script", " style=", " onclick", " onload", "javascript:"] {
        assert!(!text.contains(bad), "{path} holds {bad}");
    }
    assert_eq!(text.matches("<h1").count(), 1, "{path}");
    let mut ids: Vec<&str> =
        text.split(" id=\"").skip(1).filter_map(|rest| rest.split('"').next()).collect();
    let n = ids.len();
    ids.sort_unstable();
    ids.dedup();
    assert_eq!(ids.len(), n, "{path}: an id stands twice");
}

#[tokio::test]
async fn style_sheets_are_served_under_their_own_names() {
    for path in ["/", "/lifter/Ottoline%20Varkas/card"] {
        let page = get(path).await.text;
        let sheet = page.split("rel=\"stylesheet\" href=\"").nth(1).expect("a sheet");
        let sheet = sheet.split('"').next().expect("quoted");
        let answer = get(sheet).await;
        assert_eq!(answer.status, StatusCode::OK);
        assert_eq!((answer.header)("content-type"), "text/css; charset=utf-8");
        assert!((answer.header)("cache-control").contains("immutable"));
        assert!(!answer.text.contains("url(") && !answer.text.contains("@import"));
    }
    assert_eq!(get("/assets/desk-0000000000000000.css").await.status, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn names_are_decoded_from_the_address_and_escaped_on_the_page() {
    let page = get("/lifter/%3Cb%3EBold%20%26%20Brash%3C%2Fb%3E").await;
    assert_eq!(page.status, StatusCode::OK);
    assert!(page.text.contains("<h1>&lt;b&gt;Bold &amp; Brash&lt;/b&gt;</h1>"));
    assert!(!page.text.contains("<b>Bold"));
    assert!(page.text.contains("action=\"/lifter/%3Cb%3EBold%20%26%20Brash%3C%2Fb%3E/card\""));
    let page = get("/lifter/A%2FB%2050%25").await;
    assert!(page.text.contains("<h1>A/B 50%</h1>"), "{}", page.status);
    let squad = get("/").await.text;
    assert!(squad.contains("href=\"/lifter/%3Cb%3EBold%20%26%20Brash%3C%2Fb%3E\""));
}

#[tokio::test]
async fn errors_say_why_and_lead_back() {
    let lost = get("/lifter/Nobody%20Known").await;
    assert!(lost.text.contains("Nobody on record is called <q>Nobody Known</q>."));
    assert!(lost.text.contains("href=\"/\">To the squad"));
    let refused = get("/lifter/Ottoline%20Varkas/card?date=31.5.2031").await;
    assert!(refused.text.contains("<q>31.5.2031</q>") && refused.text.contains("2031-05-04"));
    assert!(refused.text.contains("href=\"/lifter/Ottoline%20Varkas\""));
    let past = get("/lifter/Ottoline%20Varkas/card?date=1999-01-01").await;
    assert_eq!(past.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(past.text.contains("a card is for today or later."));
    assert!(past.text.contains("href=\"/lifter/Ottoline%20Varkas\""));
    let broken = get("/lifter/Broken%20Store").await;
    assert!(broken.text.contains("close it and try again."));
    let posted = post("/", "").await;
    assert_eq!(posted.status, StatusCode::METHOD_NOT_ALLOWED);
    assert!(posted.text.contains("only be read"));
}

#[tokio::test]
async fn an_empty_date_means_today() {
    let today = get("/lifter/Ottoline%20Varkas/card?date=").await;
    assert!(today.text.contains("Wednesday 28 May 2031"));
    let later = get("/lifter/Ottoline%20Varkas/card?date=2031-06-02").await;
    assert!(later.text.contains("Monday 2 Jun 2031"));
}

#[tokio::test]
async fn pages_that_advise_training_carry_the_cautions() {
    for path in ["/", "/lifter/Ottoline%20Varkas", "/lifter/Ottoline%20Varkas/card"] {
        let text = get(path).await.text;
        assert!(text.contains("licensed professional") && text.contains("clears nobody"), "{path}");
    }
}

#[tokio::test]
async fn every_lift_has_its_chart_and_its_table() {
    let view = fixture::ottoline();
    let text = get("/lifter/Ottoline%20Varkas").await.text;
    assert_eq!(text.matches("chart record chart-small").count(), view.lifts.len());
    assert!(!text.contains("record chart-large"), "the whole of every lift is too heavy a page");
    let whole = get("/lifter/Ottoline%20Varkas?record=whole").await.text;
    assert_eq!(whole.matches("chart record chart-large").count(), view.lifts.len());
    for lift in &view.lifts {
        let path = format!("/lifter/Ottoline%20Varkas/lift/{}", lift.name.replace(' ', "%20"));
        assert_eq!(text.matches(&format!("href=\"{path}\"")).count(), 2, "{path}");
        let page = get(&path).await.text;
        assert_eq!(page.matches("Every lead set as a table").count(), 1, "{path}");
        assert_eq!(page.matches("<td class=\"why\">").count(), lift.points.len(), "{path}");
    }
}

#[tokio::test]
async fn the_squad_says_when_the_last_backup_was_made_and_when_none_was() {
    let now = date(2031, 5, 28).at(18, 20, 0, 0);
    let made = |at| BackupView { now, is_on: true, last: at, failed: None };
    let failed = FailedBackup {
        at: date(2031, 5, 28).at(6, 5, 0, 0),
        reason: "no room is left for `x`: free some space on that disk".to_owned(),
    };
    let yesterday = Some(date(2031, 5, 27).at(6, 12, 0, 0));
    for (view, words) in [
        (made(yesterday), "The last backup was made yesterday at 06:12.</p>"),
        (
            made(None),
            "There is no backup yet. The first one is made within minutes, and then one a day.</p>",
        ),
        (
            BackupView { is_on: false, ..made(None) },
            "There is no backup yet. This desk makes none by itself: <code>bellwether backup</code> makes one.</p>",
        ),
        (
            BackupView { failed: Some(failed), ..made(yesterday) },
            "<p class=\"warning backups\">The backup of today at 06:05 failed: no room is left for `x`: free some space on \
             that disk. The last backup was made yesterday at 06:12.</p>",
        ),
    ] {
        let desk =
            fixture::InventedDesk { backups: Some(view), ..fixture::InventedDesk::default() };
        let page = send_to(desk, "GET", "/", "").await.text;
        assert!(page.contains(words), "{words} isn't in {page}");
    }
    assert!(!get("/").await.text.contains("backup"), "a record that needs none says nothing");
}

/// A squad of so many with the letter X in every tenth name, and two who haven't been read.
fn large_squad(n: usize) -> SquadView {
    let mut view = fixture::squad();
    let line = view.lifters[0].clone();
    let name = |number: usize| match number % 10 {
        0 => format!("X {number:03}"),
        _ => format!("Y {number:03}"),
    };
    view.lifters =
        (1..=n).map(|number| LifterLine { name: name(number), ..line.clone() }).collect();
    view.unread = vec!["X unread".to_owned(), "Y unread".to_owned()];
    view
}

#[tokio::test]
async fn a_large_squad_comes_in_slices_can_be_searched_and_says_who_is_still_to_be_read() {
    let page = |path: &'static str| async move {
        let squad = Some(large_squad(250));
        let desk = fixture::InventedDesk { squad, ..fixture::InventedDesk::default() };
        send_to(desk, "GET", path, "").await.text
    };
    let entries = |text: &str| text.matches("<article class=\"entry\"").count();
    let first = page("/").await;
    assert_eq!(entries(&first), 100);
    assert!(first.contains("250 of 252 lifters so far"), "{first}");
    assert!(first.contains("1 to 100 of 250.") && first.contains("href=\"/?from=101\""));
    assert!(!first.contains("Still being read"), "they stand at the end");
    let last = page("/?from=201").await;
    assert_eq!(entries(&last), 50);
    assert!(
        last.contains("<ol class=\"squad\" start=\"201\">") && last.contains("Still being read")
    );
    assert!(last.contains("href=\"/lifter/X%20unread\""));
    assert_eq!(page("/?from=99999").await, last, "past the end stands the end");
    let found = page("/?name=x").await;
    assert_eq!(entries(&found), 25);
    assert!(found.contains("X unread") && !found.contains("Y unread"));
    assert!(page("/?name=%3Cq%3E").await.contains("has <q>&lt;q&gt;</q> in it"));
    let few = get("/").await.text;
    assert!(!few.contains("Find by name") && !few.contains("still reading"));
}

/// While a complaint stands there is no target and no call but *stop*, and the page asks for an answer.
#[tokio::test]
async fn a_lift_that_pain_stops_has_no_target_and_the_joint_is_asked_about() {
    const WHY: &str = "Pain of 6 in the elbow, reported on Tue 27 May, above the limit of 3.";
    let text = get("/lifter/Ruben%20Maplethwaite").await.text;
    assert_eq!(text.matches(WHY).count(), 1, "the bench press, not the dip");
    let section = |text: &str, lift: &str| -> String {
        let from = text.find(&format!("lift/{lift}\">")).unwrap();
        text[from..].split("</section>").next().unwrap().to_owned()
    };
    let bench = section(&text, "bench%20press");
    assert!(bench.contains("or take pec deck") && !bench.contains("Chance of making it"));
    let words = bench.split("<details").next().unwrap();
    assert!(words.contains("stop") && !words.contains("work sets") && !words.contains("go on"));
    assert!(section(&text, "dip").contains("Chance of making it"));
    let page = get("/lifter/Ruben%20Maplethwaite/lift/bench%20press").await.text;
    assert!(page.contains(WHY) && !page.contains("Chance of making it"));
    assert!(!get("/lifter/Ottoline%20Varkas").await.text.contains("class=\"complaint\""));
    // The question stands first, with a field for the answer.
    assert!(text.find("How is the elbow today?").unwrap() < text.find("card-date").unwrap());
    assert!(text.contains("action=\"/lifter/Ruben%20Maplethwaite/pain\""));
    assert!(text.contains("type=\"hidden\" name=\"joint\" value=\"elbow\""));
    // A card says it before any lift.
    let card = get("/lifter/Ruben%20Maplethwaite/card").await.text;
    let (stopped, lifts) = (card.find("triceps pushdown").unwrap(), card.find("<ol").unwrap());
    assert!(stopped < lifts && card.matches("triceps pushdown").count() == 1 && card.contains(WHY));
}

#[tokio::test]
async fn the_card_is_there_as_data_too() {
    let answer = get("/lifter/Ottoline%20Varkas/card.json?date=2031-06-02").await;
    assert_eq!(answer.status, StatusCode::OK);
    assert_eq!((answer.header)("content-type"), "application/json");
    assert_eq!((answer.header)("cache-control"), "no-store");
    let card: serde_json::Value = serde_json::from_str(&answer.text).expect("it is JSON");
    assert_eq!(card["date"], "2031-06-02");
    assert_eq!(card["lifts"].as_array().map(Vec::len), Some(7));
    // To the last digit, so that a page reckons as the program does.
    let session = &card["session"];
    assert_eq!(session["mean"][0], 4.905_274_778_438_43);
    assert_eq!(session["covariance"][1][0], session["covariance"][0][1]);
    assert_eq!(session["lifts"][0]["name"], "squat");
    let page = get("/lifter/Ottoline%20Varkas/card?date=2031-06-02").await.text;
    assert!(page.contains("href=\"/lifter/Ottoline%20Varkas/card.json?date=2031-06-02\""));
    assert_eq!(get("/lifter/Nobody%20Known/card.json").await.status, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn the_card_is_there_as_sheets_of_paper_too() {
    let page = get("/lifter/Ottoline%20Varkas/card?date=2031-06-02").await.text;
    for paper in ["a4", "letter"] {
        let path = format!("/lifter/Ottoline%20Varkas/card.pdf?date=2031-06-02&paper={paper}");
        assert!(page.contains(&format!("href=\"{}\"", path.replace('&', "&amp;"))), "{path}");
        let answer = get(&path).await;
        assert_eq!(answer.status, StatusCode::OK);
        assert_eq!((answer.header)("content-type"), "application/pdf");
        let named = (answer.header)("content-disposition");
        assert_eq!(named, "inline; filename*=UTF-8''card-Ottoline%20Varkas-2031-06-02.pdf");
        assert_eq!((answer.header)("cache-control"), "no-store");
        assert!(answer.text.starts_with("%PDF-1.7"), "{:.20}", answer.text);
    }
    let usual = get("/lifter/Ottoline%20Varkas/card.pdf?date=2031-06-02").await;
    assert_eq!(usual.status, StatusCode::OK);
    let odd = get("/lifter/Ottoline%20Varkas/card.pdf?paper=a5").await;
    assert_eq!(odd.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(odd.text.contains("is no size of paper here"), "{}", odd.text);
    assert_eq!(get("/lifter/Nobody%20Known/card.pdf").await.status, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn muscles_have_their_strip_and_every_value_in_a_table() {
    let view = fixture::muscles();
    let text = get("/lifter/Ottoline%20Varkas").await.text;
    assert_eq!(text.matches("chart strip").count(), 2, "one for a phone, one for a desk");
    let table =
        text.split("Every muscle as a table").nth(1).and_then(|t| t.split("</table>").next());
    let table = table.expect("it has a table");
    for muscle in &view.muscles {
        assert!(table.contains(muscle.muscle), "{}", muscle.muscle);
    }
    assert!(table.contains("−4.1 (−5.7 to −2.5)") && table.contains("in about 2 days"));
    assert!(table.contains("more than 10 days") && table.contains(">now<"));
    assert!(text.contains("The estimates converged in 14 steps."));
    let other = get("/lifter/Ruben%20Maplethwaite").await.text;
    assert!(!other.contains("Every muscle as a table") && other.contains("did not converge"));
}

#[tokio::test]
async fn a_lift_that_is_flat_has_the_odds_of_why() {
    let text = get("/lifter/Ottoline%20Varkas").await.text;
    assert_eq!(text.matches("Not moving up.").count(), 1);
    assert!(text.contains("Likeliest: under-dosed, 52\u{a0}%."));
    let text = get("/lifter/Ottoline%20Varkas/lift/bench%20press").await.text;
    assert_eq!(text.matches("Why it isn't moving up").count(), 1);
    assert!(text.contains("0.7\u{a0}% less than the four before"));
    assert!(text.contains("under-dosed") && text.contains("52\u{a0}%"));
    assert!(text.contains("4.5 hard sets a week"));
}

#[test]
fn the_card_as_a_file_needs_nothing_else() {
    let text = card_page::card_file(&fixture::full_card("<i>Nell</i>", fixture::TODAY));
    assert_document("card", &text);
    assert!(text.contains("<style>") && !text.contains("<link") && !text.contains("href="));
    assert!(text.contains("&lt;i&gt;Nell") && !text.contains("<i>"));
    // The style sheet is not escaped, or browsers would not read it.
    assert!(text.contains("\"Liberation Serif\""));
    assert_eq!(text.matches("<li class=\"lift\">").count(), 7);
}

#[tokio::test]
async fn what_is_not_on_record_yet_explains_itself() {
    let named = get("/lifter/Only%20Named").await.text;
    assert!(named.contains("No set is on record for Only Named yet."));
    assert!(named.contains("None told yet.") && !named.contains("<svg"));
    let newcomer = get("/lifter/Isaura%20Penhallow").await.text;
    assert!(newcomer.contains("The record is too short to give a chance."));
    assert!(newcomer.contains("No forecast yet") && newcomer.contains("not known yet"));
}

#[test]
fn a_card_without_lifts_says_so() {
    let mut view = fixture::short_card("Nell", fixture::TODAY);
    view.lifts.clear();
    let all_stopped = card_page::card_file(&view);
    assert!(all_stopped.contains("Every lift of this session is stopped"));
    assert!(!all_stopped.contains("There is no lift on this card"));
    view.stopped.clear();
    assert!(card_page::card_file(&view).contains("There is no lift on this card"));
}
