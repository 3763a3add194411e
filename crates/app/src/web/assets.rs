//! The style sheets and the floor's modules, part of the program, under names that change with their
//! content.
//!
//! Modules name each other by file, so all of them share one version, made from all of their content.

use axum::extract::Path;
use axum::http::header::{CACHE_CONTROL, CONTENT_TYPE};
use axum::response::{IntoResponse, Response};

use super::error::WebError;

/// The style sheet of the desk's pages.
pub(super) const DESK_STYLE: &str =
    concat!(include_str!("../../assets/base.css"), include_str!("../../assets/desk.css"));

/// The style sheet of the card, whole: the card's file carries it inside.
pub(super) const CARD_STYLE: &str =
    concat!(include_str!("../../assets/base.css"), include_str!("../../assets/card.css"));

/// The style sheet of the floor's page.
const FLOOR_STYLE: &str =
    concat!(include_str!("../../assets/base.css"), include_str!("../../assets/floor.css"));

/// The modules of the floor's page, by file.
const FLOOR_MODULES: &[(&str, &str)] = &[
    ("page.js", include_str!("../../assets/floor/page.js")),
    ("lift.js", include_str!("../../assets/floor/lift.js")),
    ("forms.js", include_str!("../../assets/floor/forms.js")),
    ("state.js", include_str!("../../assets/floor/state.js")),
    ("pain.js", include_str!("../../assets/floor/pain.js")),
    ("remaining.js", include_str!("../../assets/floor/remaining.js")),
    ("session.js", include_str!("../../assets/floor/session.js")),
    ("ease.js", include_str!("../../assets/floor/ease.js")),
    ("words.js", include_str!("../../assets/floor/words.js")),
    ("outbox.js", include_str!("../../assets/floor/outbox.js")),
    ("refused.js", include_str!("../../assets/floor/refused.js")),
    ("rest.js", include_str!("../../assets/floor/rest.js")),
    ("theme.js", include_str!("../../assets/floor/theme.js")),
    ("elements.js", include_str!("../../assets/floor/elements.js")),
];

const FLOOR_WORKER: &str = include_str!("../../assets/floor/sw.js");

/// The files that the floor's page loads as modules.
pub(super) fn floor_modules() -> impl Iterator<Item = &'static str> {
    FLOOR_MODULES.iter().map(|(file, _)| *file)
}

/// The version of the floor's page: changes with any of its files.
pub(super) fn floor_version() -> String {
    let mut all = String::from(FLOOR_STYLE);
    for (_, content) in FLOOR_MODULES {
        all.push_str(content);
    }
    all.push_str(FLOOR_WORKER);
    format!("{:016x}", fnv1a(all.as_bytes()))
}

/// The address of a file of the floor's page.
pub(super) fn floor_path(file: &str) -> String {
    format!("/floor/app/{}/{file}", floor_version())
}

/// A file of the floor's page, if it has this version.
pub(super) fn floor_module(version: &str, file: &str) -> Option<&'static str> {
    if version != floor_version() {
        return None;
    }
    if file == "floor.css" {
        return Some(FLOOR_STYLE);
    }
    FLOOR_MODULES.iter().find_map(|(name, content)| (*name == file).then_some(*content))
}

/// The floor's worker, told what to keep for opening the page without a network.
pub(super) fn floor_worker() -> String {
    let files: Vec<String> =
        std::iter::once("floor.css").chain(floor_modules()).map(floor_path).collect();
    let kept = serde_json::json!({ "version": floor_version(), "files": files });
    format!("const KEPT = {kept};\n{FLOOR_WORKER}")
}

/// The address of the desk's style sheet.
pub(super) fn desk_style_path() -> String {
    format!("/assets/{}", name("desk", DESK_STYLE))
}

/// The address of the card's style sheet.
pub(super) fn card_style_path() -> String {
    format!("/assets/{}", name("card", CARD_STYLE))
}

/// `GET /assets/{file}`: a style sheet; browsers may keep it, since a new one has a new name.
pub(super) async fn asset(Path(file): Path<String>) -> Result<Response, WebError> {
    let style = [("desk", DESK_STYLE), ("card", CARD_STYLE)]
        .into_iter()
        .find_map(|(stem, style)| (name(stem, style) == file).then_some(style))
        .ok_or_else(|| WebError::not_found("there is no such style sheet; load the page anew"))?;
    let headers = [
        (CONTENT_TYPE, "text/css; charset=utf-8"),
        (CACHE_CONTROL, "public, max-age=31536000, immutable"),
    ];
    Ok((headers, style).into_response())
}

fn name(stem: &str, style: &str) -> String {
    format!("{stem}-{:016x}.css", fnv1a(style.as_bytes()))
}

/// The 64-bit FNV-1a hash: tells one version from another, protects nothing. Source: Eastlake et
/// al., RFC 9923, "The FNV Non-Cryptographic Hash Algorithm".
fn fnv1a(bytes: &[u8]) -> u64 {
    bytes.iter().fold(0xcbf2_9ce4_8422_2325, |hash, byte| {
        (hash ^ u64::from(*byte)).wrapping_mul(0x100_0000_01b3)
    })
}

#[cfg(test)]
mod tests {
    // Source: the test vectors of draft-eastlake-fnv for FNV-1a, 64 bits, from memory.
    #[test]
    fn hash_matches_published_vectors() {
        assert_eq!(super::fnv1a(b""), 0xcbf2_9ce4_8422_2325);
        assert_eq!(super::fnv1a(b"a"), 0xaf63_dc4c_8601_ec8c);
        assert_eq!(super::fnv1a(b"foobar"), 0x8594_4171_f739_67e8);
    }

    #[test]
    fn dark_by_the_system_and_dark_by_choice_are_the_same_colours() {
        let colours = |rule: &str| -> Vec<String> {
            let body = include_str!("../../assets/base.css").split(rule).nth(1).unwrap();
            let lines = body.split('}').next().unwrap().lines().map(str::trim);
            lines.filter(|line| line.starts_with("--")).map(str::to_owned).collect()
        };
        let by_system = colours(":root:not([data-theme=\"light\"]) {");
        assert!(by_system.len() > 5);
        assert_eq!(by_system, colours(":root[data-theme=\"dark\"] {"));
    }
}
