//! The style sheets, part of the program, under names that change with their content.

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
}
