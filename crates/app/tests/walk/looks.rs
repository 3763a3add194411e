//! How each page looks and what it loads, in both sizes and themes.

use std::path::{Path, PathBuf};

use crate::browser::phone::Phone;
use crate::pages::{NO_PAGE, PAGES, routes};
use crate::walker::Walker;

/// The narrowest screen: 1280 pixels at 400 % (WCAG 2.2, 1.4.10 Reflow).
const NARROWEST: i64 = 320;

#[test]
fn every_route_has_its_page_here() {
    let known: Vec<&str> = PAGES
        .iter()
        .map(|visit| visit.route)
        .chain(NO_PAGE.iter().map(|(route, _)| *route))
        .collect();
    let routes = routes();
    assert!(routes.len() > 15, "the source wasn't found: {routes:?}");
    let missing: Vec<&String> =
        routes.iter().filter(|route| !known.contains(&route.as_str())).collect();
    assert!(missing.is_empty(), "pages.rs knows no page for these routes: {missing:?}");
    let mut names: Vec<&str> = PAGES.iter().map(|visit| visit.name).collect();
    names.sort_unstable();
    names.dedup();
    assert_eq!(names.len(), PAGES.len(), "two pages have one name");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn every_page_on_a_phone() {
    look_at_all("phone", 360, 740).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn every_page_on_a_screen() {
    look_at_all("screen", 1280, 800).await;
}

async fn look_at_all(size: &str, width: u32, height: u32) {
    let axe = axe();
    let walker = Walker::of_size(width, height).await;
    let mut findings = Vec::new();
    for visit in PAGES {
        walker.go(visit).await;
        let found = loads(&walker);
        findings.extend(found.into_iter().map(|finding| format!("{}: {finding}", visit.name)));
        for theme in ["dark", "light"] {
            walker.phone.theme(theme).await;
            if let Some(folder) = std::env::var_os("PICTURES") {
                let name = format!("{}-{size}-{theme}", visit.name);
                walker.phone.save(&Path::new(&folder).join(name)).await;
                walker.phone.resize(i64::from(width), i64::from(height)).await;
            }
            let found = looks(&walker.phone, &axe).await;
            let place = format!("{}, {size}, {theme}", visit.name);
            findings.extend(found.into_iter().map(|finding| format!("{place}: {finding}")));
        }
        for narrow in [NARROWEST, i64::from(width)] {
            walker.phone.resize(narrow, i64::from(height)).await;
            let wide: Vec<String> = walker.phone.ask(WIDER_THAN_THE_SCREEN).await;
            let place = format!("{} scrolls sideways on {narrow} pixels", visit.name);
            findings.extend(wide.into_iter().map(|what| format!("{place}: {what}")));
        }
    }
    walker.phone.close().await;
    assert!(findings.is_empty(), "{} findings:\n{}", findings.len(), findings.join("\n"));
}

/// What the page that is open complained of and asked of others.
fn loads(walker: &Walker) -> Vec<String> {
    let mut found = walker.phone.complaints();
    found.extend(walker.strange_requests().into_iter().map(|to| format!("a request to {to}")));
    found
}

/// What axe-core finds on the page that is open.
async fn looks(phone: &Phone, axe: &str) -> Vec<String> {
    assert!(phone.ask::<bool>(axe).await);
    phone.ask(RUN_AXE).await
}

/// The first elements that make the document wider than the screen, if it is.
const WIDER_THAN_THE_SCREEN: &str = "(() => {
    const root = document.documentElement;
    if (root.scrollWidth <= innerWidth) return [];
    const wide = [...document.querySelectorAll('body *')]
        .filter((one) => one.getBoundingClientRect().right > innerWidth + 0.5)
        .slice(0, 4)
        .map((one) => `${one.tagName.toLowerCase()}.${one.getAttribute('class') ?? ''} ${one.textContent.slice(0, 40)}`);
    return [`${root.scrollWidth} wide by ${wide.join(' | ')}`];
})()";

/// All rules that axe-core has for WCAG up to 2.2 AA, and its best practices.
const RUN_AXE: &str = "(async () => {
    const found = await axe.run(document, { resultTypes: ['violations'], rules: { 'target-size': { enabled: true } } });
    return found.violations.map((one) => `${one.id}: ${one.help}: `
        + one.nodes.slice(0, 4).map((node) => `${node.target.join(' ')} (${node.any.concat(node.all, node.none).map((check) => check.message).join('; ')})`).join(' | ')
        + (one.nodes.length > 4 ? ` and ${one.nodes.length - 4} more` : ''));
})()";

/// The text of axe-core, which `scripts/test` fetches.
fn axe() -> String {
    let path = PathBuf::from(env!("CARGO_TARGET_TMPDIR"))
        .join("../browser-tests/node_modules/axe-core/axe.min.js");
    let text = std::fs::read_to_string(&path).unwrap_or_else(|error| {
        panic!("axe-core isn't at {}: {error}; fetch it with `scripts/axe`", path.display())
    });
    format!("{text}\ntypeof axe.run === 'function'")
}
