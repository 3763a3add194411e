//! One lift in short, on a lifter's page; and the pieces that the lift's own page shares with it.

use domain::Unit;
use jiff::civil::Date;
use maud::{Markup, html};
use service::view::{CallWord, Extent, Interval, LiftView, PointView, WhyView};

use super::layout;
use crate::chart::{self, Size};
use crate::wording::{self, percent, signed};

/// Draws one lift in short; `place` counts from 1 on the page. Of the record there is the last half-year,
/// small, unless the whole was asked for: that of every lift would be a megabyte.
pub(super) fn lift_section(
    lifter: &str,
    lift: &LiftView,
    today: Date,
    place: usize,
    extent: Extent,
) -> Markup {
    let id = format!("lift-{place}");
    let path = layout::lift_path(lifter, &lift.name);
    let class = if extent == Extent::Lately { "lift beside" } else { "lift" };
    html! {
        section class=(class) id=(id) aria-labelledby={ (id) "-name" } {
            div.in-words {
                h2 id={ (id) "-name" } { a href=(path) { (lift.name) } }
                (latest(lift, today))
                @if let Some(why) = &lift.why { (why_in_short(why)) }
                (target(lift))
            }
            details.folded open[needs_a_look(lift)] {
                summary { "Its record and estimates" }
                @match extent {
                    Extent::Lately => (recent_picture(lift, &id)),
                    Extent::Whole => (picture(lift, &id, true)),
                }
                (estimates(lift))
                (what_it_is(lift))
                @if !lift.is_gauge { p { "Not a gauge lift. " (lift.gauge_reason) } }
            }
            p.more {
                a href=(path) {
                    "All of " (lift.name) ": every set, its scatter, how often the rules are right"
                }
            }
        }
    }
}

/// Whether the picture of a lift belongs before the coach's eyes at once.
fn needs_a_look(lift: &LiftView) -> bool {
    let call = lift.points.last().map(|point| point.call);
    lift.stop.is_some()
        || lift.why.is_some()
        || matches!(call, Some(CallWord::Ease | CallWord::Stop))
}

/// What a lift is done with and for.
pub(super) fn what_it_is(lift: &LiftView) -> Markup {
    html! {
        p.aside {
            (lift.equipment) ", for " (lift.prime_movers) "."
            @if let Some(meaning) = lift.load_meaning { " Loads are " (meaning) "." }
        }
    }
}

/// The latest lead set with its call; without it while a complaint stops the lift.
pub(super) fn latest(lift: &LiftView, today: Date) -> Markup {
    html! {
        @if let Some(point) = lift.points.last() {
            p.latest {
                @if lift.stop.is_some() { (layout::call(CallWord::Stop)) " · last done " }
                @else { (layout::call(point.call)) " · " }
                (wording::moment(&point.when))
                @if let Some(day) = day(point) { " (" (wording::ago(today, day)) ")" }
                ": " (set_in_words(point)) "."
                @if lift.stop.is_none() { " " (point.reason) }
            }
        }
    }
}

/// Why a lift is flat or falling, without the evidence.
fn why_in_short(why: &WhyView) -> Markup {
    html! {
        p {
            strong { "Not moving up. " }
            @match why.causes.first() {
                Some(cause) => { "Likeliest: " (cause.cause) ", " (percent(cause.odds)) "." },
                None => "No cause stands out.",
            }
        }
    }
}

/// The next lead set; while a complaint stops the lift, what to do instead.
pub(super) fn target(lift: &LiftView) -> Markup {
    html! {
        div.target {
            p.target-name { "Next lead set" }
            @match (&lift.stop, &lift.target) {
                (Some(stop), _) => {
                    p.target-load { (layout::call(CallWord::Stop)) }
                    p { (stop.words) }
                }
                (None, Some(target)) => {
                    p.target-load { (wording::set(target.load, target.reps)) }
                    p {
                        @if let Some(rir) = target.rir { (wording::reserve(rir)) ", " }
                        (wording::count(u64::from(target.sets), "work set", "work sets")) " in all. "
                        @match target.chance {
                            Some(chance) => { "Chance of making it: " (percent(chance)) ". " },
                            None => { (target.why_no_chance.unwrap_or_default()) " " },
                        }
                        (target.why)
                    }
                }
                (None, None) => p { "No target yet: this lift needs a work set on record to start from." },
            }
        }
    }
}

/// The chart of the record with its legend; `is_table_elsewhere` if the table beside it is on the lift's
/// own page.
pub(super) fn picture(lift: &LiftView, id: &str, is_table_elsewhere: bool) -> Markup {
    let large = chart::record(lift, Size::Large, id);
    let small = chart::record(lift, Size::Small, id);
    let is_cut = chart::recent(&lift.points).len() < lift.points.len();
    html! {
        @if let (Some(large), Some(small)) = (large, small) {
            figure.record {
                (large) (small)
                figcaption {
                    (legend(std::slice::from_ref(lift)))
                    @if is_cut && is_table_elsewhere {
                        p.small-only { "The last half-year; the lift's page holds the rest." }
                    } @else if is_cut {
                        p.small-only { "The last half-year; the table holds the rest." }
                    }
                }
            }
        } @else {
            p { "No lead set on record yet, so there is no chart. The first one draws it." }
        }
    }
}

/// The last half-year of the record, small.
fn recent_picture(lift: &LiftView, id: &str) -> Markup {
    html! {
        @if let Some(picture) = chart::record(lift, Size::Small, id) {
            figure.record.recent {
                (picture)
                @if lift.earlier_points > 0 { figcaption.aside { "The last half-year; the lift's page holds the rest." } }
            }
        } @else {
            p { "No lead set on record yet, so there is no chart. The first one draws it." }
        }
    }
}

/// What the marks and lines on the extent of these lifts mean.
pub(super) fn legend(lifts: &[LiftView]) -> Markup {
    let calls = [CallWord::GoOn, CallWord::Ease, CallWord::Stop, CallWord::NoReading];
    let has = |wanted: &dyn Fn(&PointView) -> bool| {
        lifts.iter().flat_map(|lift| &lift.points).any(wanted)
    };
    html! {
        p.legend {
            @for word in calls.into_iter().filter(|word| has(&|p| p.call == *word)) {
                (layout::call(word)) " "
            }
            @if has(&|p| p.kind == "test") {
                span.call { (chart::test_mark()) "test" } " "
            }
            @if has(&|p| p.one_rm_expected.is_some()) {
                span { "Line: expected beforehand. Band: eight results in ten. Dots: the trend, looking back." }
            } @else {
                span { "No forecast yet: the record is too short." }
            }
        }
    }
}

/// Today's 1RM and the trend, with their intervals.
pub(super) fn estimates(lift: &LiftView) -> Markup {
    html! {
        dl.estimates {
            div {
                dt { "1RM today" }
                dd { @match lift.one_rm {
                    Some(i) => (load_interval(i, lift.unit)),
                    None => "not known yet",
                } }
            }
            div {
                dt { "Trend" }
                dd { @match lift.trend_pct_per_week {
                    Some(i) => {
                        strong { (signed(i.mid, 2)) "\u{a0}% a week" }
                        ", between " (signed(i.low, 2)) " and " (signed(i.high, 2))
                        " eight times in ten"
                    },
                    None => "not known yet",
                } }
            }
        }
    }
}

fn load_interval(i: Interval, unit: Unit) -> Markup {
    let [mid, low, high] = wording::estimate_with_bounds(i.mid, i.low, i.high, unit);
    html! { strong { (mid) } ", between " (low) " and " (high) " eight times in ten" }
}

/// A lead set in words.
pub(super) fn set_in_words(point: &PointView) -> String {
    let reserve = point.rir.map_or(String::new(), |rir| format!(", {}", wording::reserve(rir)));
    let test = if point.kind == "test" { ", test" } else { "" };
    format!("{}{reserve}{test}", wording::set(point.load, point.reps))
}

fn day(point: &PointView) -> Option<Date> {
    domain::When::parse(&point.when).ok().map(domain::When::date)
}
