//! Every set of a lift in a table, each with the way to its correction; and what was changed.

use maud::{Markup, html};
use service::view::{AmendedSet, LiftPageView, SetLine, SetVersionLine};

use super::layout;
use crate::wording;

/// How many of the latest sets show at once.
const AT_ONCE: usize = 12;

/// Draws the table of all sets.
pub(super) fn sets_section(view: &LiftPageView) -> Markup {
    let (first, rest) = view.sets.split_at(view.sets.len().min(AT_ONCE));
    html! {
        section.sets aria-labelledby="sets" {
            h2 #sets { "Sets" }
            p {
                (wording::count(view.sets.len() as u64, "set", "sets"))
                " on record, the latest first. A set that is wrong can be corrected or withdrawn; what "
                "stood before is kept."
            }
            (table(view, first, "The latest sets"))
            @if !rest.is_empty() {
                details {
                    summary { "The other " (wording::count(rest.len() as u64, "set", "sets")) }
                    (table(view, rest, "The other sets"))
                }
            }
        }
    }
}

/// The sets by session, as in a diary: the day above its sets.
fn table(view: &LiftPageView, sets: &[SetLine], caption: &str) -> Markup {
    html! {
        table.diary {
            caption.screen-reader { (caption) }
            thead {
                tr {
                    th.n scope="col" { "Set" }
                    th scope="col" { "Load and reps" }
                    th scope="col" { "Call" }
                    th scope="col" { "Change" }
                }
            }
            @for session in sets.chunk_by(|a, b| a.when == b.when) {
                tbody {
                    tr { th colspan="4" scope="rowgroup" { (wording::moment(&session[0].when)) } }
                    @for set in session { (row(view, set)) }
                }
            }
        }
    }
}

fn row(view: &LiftPageView, set: &SetLine) -> Markup {
    let label = format!("change set {} of {}", set.number, wording::moment(&set.when));
    html! {
        tr {
            td.n { (set.number) }
            td {
                (in_words(set))
                @if !set.note.is_empty() { br; span.aside { (set.note) } }
            }
            td { @if let Some(call) = set.call { (layout::call(call)) } }
            td { a href=(layout::set_path(&view.lifter, &set.id)) aria-label=(label) { "change" } }
        }
    }
}

/// A set in words, with what it was for unless it was work: `100 kg × 5, 2 in reserve`.
pub(super) fn in_words(set: &SetLine) -> String {
    let reserve = set.rir.map_or(String::new(), |rir| format!(", {}", wording::reserve(rir)));
    let kind = if set.kind == "work" { String::new() } else { format!(", {}", set.kind) };
    format!("{}{reserve}{kind}", wording::set(set.load, set.reps))
}

/// Draws the sets that were corrected or withdrawn; nothing if none was.
pub(super) fn amended_section(view: &LiftPageView) -> Markup {
    html! {
        @if !view.amended.is_empty() {
            section.amended aria-labelledby="amended" {
                h2 #amended { "Corrected and withdrawn" }
                ul { @for one in &view.amended { li { (amended(view, one)) } } }
            }
        }
    }
}

fn amended(view: &LiftPageView, one: &AmendedSet) -> Markup {
    let Some(last) = one.versions.last() else { return html! {} };
    html! {
        a href=(layout::set_path(&view.lifter, &one.id)) {
            "Set " (last.set.number) " of " (wording::moment(&last.set.when))
        }
        @if one.is_withdrawn { ", withdrawn" }
        (versions(&one.versions))
    }
}

/// What was said of a set and when, the latest first.
pub(super) fn versions(versions: &[SetVersionLine]) -> Markup {
    html! {
        ol.versions {
            @for (place, version) in versions.iter().enumerate().rev() {
                li {
                    (version_words(version, place.checked_sub(1).map(|before| &versions[before])))
                }
            }
        }
    }
}

fn version_words(version: &SetVersionLine, before: Option<&SetVersionLine>) -> Markup {
    let set = &version.set;
    let is_moved = before.is_some_and(|before| {
        (&before.set.when, &before.set.lift, before.set.number)
            != (&set.when, &set.lift, set.number)
    });
    html! {
        span.recorded { (wording::instant(version.recorded)) }
        ": "
        @if version.is_withdrawn { "withdrawn" } @else {
            @match before {
                None => "recorded as ",
                Some(before) if before.is_withdrawn => "put back as ",
                Some(_) => "corrected to ",
            }
            (in_words(set))
            @if is_moved { ", set " (set.number) " of " (set.lift) " on " (wording::moment(&set.when)) }
            @if !set.note.is_empty() { ", “" (set.note) "”" }
        }
        @if version.reason.is_empty() { " (" (version.source) ")" } @else { " (" (version.reason) ")" }
    }
}
