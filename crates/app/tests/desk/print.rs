//! The card printed from a browser: seven lifts, each as long as a card's lift gets, fit one sheet of A4 and one
//! of US Letter, with wide faces and with narrow ones. Prints with Chromium; set `CHROMIUM` if it isn't called
//! `chromium`.

use std::fs;
use std::process::Command;
use std::time::Duration;

use bellwether::print::Paper;
use bellwether::web::card_page;
use service::view::CardView;

use crate::fixture;
use crate::fonts::{self, Family};
use crate::sheets::{self, Pdf};

/// How long one print may take, on a busy machine too.
const LIMIT: Duration = Duration::from_secs(180);
/// What helps if it takes longer, or fails.
const CURE: &str = "the printed card is tried with Chromium. Where no font is installed it hangs or prints nothing: \
    install fonts-dejavu-core, as `scripts/test` does";
/// The margin that the style sheet asks for, in points, less a hair.
const MARGIN: f32 = 25.0;

/// Faces to print with.
#[derive(Clone, Copy, Debug)]
enum Faces {
    /// One family alone.
    Only(Family),
    /// Whatever this machine has.
    OfThisMachine,
}

const ALL_FACES: [Faces; 3] =
    [Faces::Only(Family::DejaVu), Faces::Only(Family::NotoSans), Faces::OfThisMachine];

#[test]
fn seven_lifts_fit_one_sheet() {
    let view = fixture::full_card("Ottoline Varkas", fixture::TODAY);
    assert_eq!(view.lifts.len(), 7);
    check(&view, &Paper::ALL, 1);
}

#[test]
fn few_lifts_fit_one_sheet() {
    // The most lifts of each size of type.
    for n in [3, 4, 6] {
        let mut view = fixture::full_card("Ottoline Varkas", fixture::TODAY);
        view.lifts.truncate(n);
        check(&view, &[Paper::Letter], 1);
    }
}

#[test]
fn many_lifts_run_on_to_a_second_sheet() {
    let mut view = fixture::full_card("Ottoline Varkas", fixture::TODAY);
    view.lifts.extend(view.lifts.clone());
    check(&view, &[Paper::A4], 2);
}

fn check(view: &CardView, papers: &[Paper], n_sheets: usize) {
    for paper in papers {
        for faces in ALL_FACES {
            let pdf = print(view, *paper, faces);
            assert_eq!(pdf.n_sheets(), n_sheets, "sheets of {paper:?} with {faces:?}");
            let beyond = pdf.beyond(paper.size(), MARGIN);
            assert!(beyond.is_empty(), "over the edge of {paper:?} with {faces:?}: {beyond:#?}");
        }
    }
}

fn print(view: &CardView, paper: Paper, faces: Faces) -> Pdf {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let sized = format!("<style>@page {{ size: {}; }}</style></head>", paper.as_str());
    let card = card_page::card_file(view).replacen("</head>", &sized, 1);
    let (html, pdf) = (folder.path().join("card.html"), folder.path().join("card.pdf"));
    fs::write(&html, card).expect("the folder can be written");
    let name = std::env::var("CHROMIUM").unwrap_or_else(|_| "chromium".to_owned());
    let mut command = Command::new(name);
    command
        .args(["--headless", "--no-sandbox", "--disable-gpu", "--no-first-run"])
        .args(["--disable-background-networking", "--disable-component-update", "--disable-sync"])
        .arg(format!("--user-data-dir={}", folder.path().join("profile").display()))
        .arg("--no-pdf-header-footer")
        .arg(format!("--print-to-pdf={}", pdf.display()))
        .arg(format!("file://{}", html.display()));
    if let Faces::Only(family) = faces {
        command.env("FONTCONFIG_FILE", fonts::only(family));
    }
    sheets::run(&mut command, folder.path(), LIMIT, CURE);
    let bytes = fs::read(&pdf).expect(CURE);
    if let Some(pictures) = std::env::var_os("PICTURES") {
        let name = format!("html-{}-{}-{faces:?}.pdf", view.lifts.len(), paper.as_str());
        fs::write(std::path::Path::new(&pictures).join(name), &bytes)
            .expect("the folder for pictures");
    }
    Pdf::new(&bytes)
}
