//! The card on paper: seven lifts, each as long as a card's lift gets, fit one sheet of A4 and one
//! of US Letter. Prints with Chromium; set `CHROMIUM` if it isn't called `chromium`.

use std::path::{Path, PathBuf};
use std::process::Command;

use bellwether::web::card_page;
use service::view::CardView;

use crate::fixture;

#[test]
fn seven_lifts_fit_one_sheet() {
    let view = fixture::full_card("Ottoline Varkas", fixture::TODAY);
    assert_eq!(view.lifts.len(), 7);
    for paper in ["A4", "letter"] {
        assert_eq!(n_sheets(&view, paper), 1, "sheets of {paper}");
    }
}

#[test]
fn few_lifts_fit_one_sheet() {
    for n in 1..7 {
        let mut view = fixture::full_card("Ottoline Varkas", fixture::TODAY);
        view.lifts.truncate(n);
        assert_eq!(n_sheets(&view, "letter"), 1, "{n} lifts");
    }
}

#[test]
fn many_lifts_run_on_to_a_second_sheet() {
    let mut view = fixture::full_card("Ottoline Varkas", fixture::TODAY);
    view.lifts.extend(view.lifts.clone());
    for paper in ["A4", "letter"] {
        assert_eq!(n_sheets(&view, paper), 2, "sheets of {paper}");
    }
}

fn n_sheets(view: &CardView, paper: &str) -> usize {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let sized = format!("<style>@page {{ size: {paper}; }}</style></head>");
    let card = card_page::card_file(view).replacen("</head>", &sized, 1);
    let html = folder.path().join("card.html");
    std::fs::write(&html, card).expect("the folder can be written");
    let pdf = print(folder.path(), &html);
    let pages = count(&pdf, b"/Type /Page") - count(&pdf, b"/Type /Pages");
    assert!(pages > 0, "the printed file has no page that this test can find");
    pages
}

#[expect(clippy::panic, reason = "a test that can't print has failed, and says why")]
fn print(folder: &Path, html: &Path) -> Vec<u8> {
    let pdf = folder.join("card.pdf");
    let output = Command::new(chromium())
        .args(["--headless", "--no-sandbox", "--disable-gpu", "--no-first-run"])
        .args(["--disable-background-networking", "--disable-component-update", "--disable-sync"])
        .arg(format!("--user-data-dir={}", folder.join("profile").display()))
        .arg("--no-pdf-header-footer")
        .arg(format!("--print-to-pdf={}", pdf.display()))
        .arg(format!("file://{}", html.display()))
        .output()
        .expect("chromium starts");
    let told = String::from_utf8_lossy(&output.stderr);
    std::fs::read(&pdf).unwrap_or_else(|error| panic!("chromium printed nothing ({error}): {told}"))
}

#[expect(clippy::panic, reason = "a test without its browser has failed, and says the cure")]
fn chromium() -> PathBuf {
    let name = std::env::var("CHROMIUM").unwrap_or_else(|_| "chromium".to_owned());
    match Command::new(&name).arg("--version").output() {
        Ok(_) => name.into(),
        Err(error) => panic!(
            "`{name}` can't be started ({error}), and the printed card is tested with it: install \
             Chromium or set CHROMIUM to its path"
        ),
    }
}

fn count(haystack: &[u8], needle: &[u8]) -> usize {
    haystack.windows(needle.len()).filter(|window| *window == needle).count()
}
