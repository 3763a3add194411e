//! One shape per call, so that a call can be told without colour: ring, triangle, square, cross.

use maud::{Markup, html};
use service::view::CallWord;

use super::scale::tenth;
use super::{EASED, PAPER, Svg};

/// The call's shape for running text; the word belongs beside it, so readers aloud skip the shape.
#[must_use]
pub fn call_mark(call: CallWord) -> Svg {
    inline(&shape(call, 7.0, 7.0, 4.2))
}

/// A shape of the size of a letter.
pub(super) fn inline(content: &Markup) -> Svg {
    Svg(html! {
        svg class="mark" viewBox="0 0 14 14" width="14" height="14" aria-hidden="true" {
            (content)
        }
    })
}

/// The call's shape around a centre.
pub(super) fn shape(call: CallWord, x: f64, y: f64, radius: f64) -> Markup {
    let (left, right) = (tenth(x - radius), tenth(x + radius));
    let (top, bottom) = (tenth(y - radius), tenth(y + radius));
    match call {
        CallWord::GoOn => html! {
            circle class="mark-go-on" cx=(tenth(x)) cy=(tenth(y)) r=(tenth(radius * 0.9))
                fill=(PAPER) stroke="currentColor" stroke-width="1.4" {}
        },
        CallWord::Ease => html! {
            path class="mark-ease" fill=(EASED)
                d={ "M" (tenth(left - 0.8)) " " (top) "H" (tenth(right + 0.8))
                    "L" (tenth(x)) " " (tenth(bottom + 0.8)) "Z" } {}
        },
        CallWord::Stop => html! {
            rect class="mark-stop" x=(left) y=(top) width=(tenth(2.0 * radius))
                height=(tenth(2.0 * radius)) fill="currentColor" {}
        },
        CallWord::NoReading => {
            let arm = radius * 0.75;
            let (left, right) = (tenth(x - arm), tenth(x + arm));
            let (top, bottom) = (tenth(y - arm), tenth(y + arm));
            html! {
                path class="mark-no-reading" fill="none" stroke="currentColor" stroke-width="1.3"
                    d={ "M" (left) " " (top) "L" (right) " " (bottom)
                        "M" (left) " " (bottom) "L" (right) " " (top) } {}
            }
        }
    }
}

/// The frame that a test set's shape gets: a diamond around it.
pub(super) fn diamond(x: f64, y: f64, radius: f64) -> Markup {
    let (left, right) = (tenth(x - radius), tenth(x + radius));
    let (top, bottom) = (tenth(y - radius), tenth(y + radius));
    html! {
        path class="mark-test" fill="none" stroke="currentColor" stroke-width="1.1"
            d={ "M" (tenth(x)) " " (top) "L" (right) " " (tenth(y))
                "L" (tenth(x)) " " (bottom) "L" (left) " " (tenth(y)) "Z" } {}
    }
}
