//! One lift on a lifter's page: target, record, scatter, verdict, chances, and the tables beside.

use domain::Unit;
use jiff::civil::Date;
use maud::{Markup, html};
use service::view::{CallWord, ChanceView, Interval, LiftView, PointView, TargetView, WhyView};

use super::layout;
use crate::chart::{self, Size};
use crate::wording::{self, decimal, estimate, estimate_in, in_hundred, percent, signed};

/// Draws one lift; `place` counts from 1 on the page.
pub(super) fn lift_section(lift: &LiftView, today: Date, place: usize) -> Markup {
    let id = format!("lift-{place}");
    html! {
        section.lift id=(id) aria-labelledby={ (id) "-name" } {
            h2 id={ (id) "-name" } { (lift.name) }
            p.aside {
                (lift.equipment) ", for " (lift.prime_movers) "."
                @if let Some(meaning) = lift.load_meaning { " Loads are " (meaning) "." }
            }
            (latest(lift, today))
            @if let Some(why) = &lift.why { (why_flat(why)) }
            (target(lift.target.as_ref()))
            (record(lift, &id))
            (estimates(lift))
            (gauge(lift, &id))
            @if let Some(chances) = &lift.chances { (chance_words(chances)) }
        }
    }
}

fn latest(lift: &LiftView, today: Date) -> Markup {
    html! {
        @if let Some(point) = lift.points.last() {
            p.latest {
                (layout::call(point.call)) " · " (wording::moment(&point.when))
                @if let Some(day) = day(point) { " (" (wording::ago(today, day)) ")" }
                ": " (set_in_words(point)) ". " (point.reason)
            }
        }
    }
}

fn why_flat(why: &WhyView) -> Markup {
    html! {
        div.odds {
            h3 { "Why it isn't moving up" }
            p { (wording::flat_words(why.change_pct)) }
            table {
                thead {
                    tr {
                        th scope="col" { "Cause" }
                        th.n scope="col" { "Probability" }
                        th scope="col" { "What speaks for or against it" }
                    }
                }
                tbody {
                    @for cause in &why.causes {
                        tr {
                            th scope="row" { (cause.cause) }
                            td.n { (percent(cause.odds)) }
                            td { (cause.evidence) }
                        }
                    }
                }
            }
        }
    }
}

fn target(target: Option<&TargetView>) -> Markup {
    html! {
        div.target {
            h3 { "Next lead set" }
            @match target {
                Some(target) => {
                    p.target-load { (wording::set(target.load, target.reps)) }
                    p {
                        @if let Some(rir) = target.rir { (wording::reserve(rir)) ", " }
                        (wording::count(u64::from(target.sets), "work set", "work sets")) " in all. "
                        @match target.chance {
                            Some(chance) => { "Chance of making it: " (percent(chance)) ". " },
                            None => "The record is too short to give a chance. ",
                        }
                        (target.why)
                    }
                }
                None => p { "No target yet: this lift needs a work set on record to start from." },
            }
        }
    }
}

fn record(lift: &LiftView, id: &str) -> Markup {
    let large = chart::record(lift, Size::Large, id);
    let small = chart::record(lift, Size::Small, id);
    let is_cut = chart::recent(&lift.points).len() < lift.points.len();
    html! {
        @if let (Some(large), Some(small)) = (large, small) {
            figure.record {
                (large) (small)
                figcaption {
                    (legend(lift))
                    @if is_cut { p.small-only { "The last half-year; the table holds the rest." } }
                }
                (record_table(lift))
            }
        } @else {
            p { "No lead set on record yet, so there is no chart. The first one draws it." }
        }
    }
}

fn legend(lift: &LiftView) -> Markup {
    let calls = [CallWord::GoOn, CallWord::Ease, CallWord::Stop, CallWord::NoReading];
    let has_band = lift.points.iter().any(|p| p.one_rm_expected.is_some());
    html! {
        p.legend {
            @for word in calls.into_iter().filter(|w| lift.points.iter().any(|p| p.call == *w)) {
                (layout::call(word)) " "
            }
            @if lift.points.iter().any(|p| p.kind == "test") {
                span.call { (chart::test_mark()) "test" } " "
            }
            @if has_band {
                span { "Line: expected beforehand. Band: eight results in ten. Dots: the trend, looking back." }
            } @else {
                span { "No forecast yet: the record is too short." }
            }
        }
    }
}

fn record_table(lift: &LiftView) -> Markup {
    let unit = lift.unit.as_str();
    html! {
        details {
            summary { "Every lead set as a table" }
            div.wide tabindex="0" role="region" aria-label={ "Lead sets of " (lift.name) } {
                table {
                    thead {
                        tr {
                            th scope="col" { "Date" }
                            th scope="col" { "Set" }
                            th scope="col" { "Call" }
                            th.n scope="col" { "1RM shown, " (unit) }
                            th.n scope="col" { "1RM expected, " (unit) }
                            th.n scope="col" { "Reps expected" }
                            th.n scope="col" { "Probability of a shortfall" }
                            th scope="col" { "Plain rule" }
                            th scope="col" { "Why" }
                        }
                    }
                    tbody { @for point in lift.points.iter().rev() { (record_row(point)) } }
                }
            }
        }
    }
}

fn record_row(point: &PointView) -> Markup {
    html! {
        tr {
            th scope="row" { (wording::moment(&point.when)) }
            td { (set_in_words(point)) }
            td { (layout::call(point.call)) }
            td.n { (point.one_rm_seen.map_or_else(|| "–".to_owned(), estimate)) }
            td.n { @if let Some(i) = point.one_rm_expected { (between(i, estimate)) } @else { "–" } }
            td.n { @if let Some(i) = point.reps_expected { (between(i, |v| decimal(v, 0))) } @else { "–" } }
            td.n { @if let Some(p) = point.p_shortfall { (percent(p)) } @else { "–" } }
            td { @match point.plain_rule { Some(true) => "cut back", Some(false) => "go on", None => "–" } }
            td.why { (point.reason) }
        }
    }
}

fn estimates(lift: &LiftView) -> Markup {
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
                        strong { (signed(i.mid, 2)) " % a week" }
                        ", between " (signed(i.low, 2)) " and " (signed(i.high, 2))
                        " eight times in ten"
                    },
                    None => "not known yet",
                } }
            }
        }
    }
}

fn gauge(lift: &LiftView, id: &str) -> Markup {
    let own = lift.scatter_pct;
    html! {
        div.gauge {
            h3 { @if lift.is_gauge { "A gauge lift" } @else { "Not a gauge lift" } }
            p { (lift.gauge_reason) }
            figure.scatter {
                @if let Some(bar) = chart::scatter(lift, id) { (bar) }
                figcaption {
                    "Scatter " strong { (decimal(own.mid, 1)) " %" } ", between "
                    (decimal(own.low, 1)) " and " (decimal(own.high, 1))
                    " % eight times in ten. Lifts of its class start at "
                    (decimal(lift.class_scatter_pct, 1)) " %."
                }
            }
        }
    }
}

fn chance_words(chances: &ChanceView) -> Markup {
    html! {
        div.chances {
            h3 { "How often each rule is right on this lift" }
            p {
                "This rule eases when a shortfall is at least " (percent(chances.threshold))
                " probable. Of ordinary days it would cut back for nothing on "
                strong { (in_hundred(chances.false_alarm)) } "; the plain rule (no better than "
                "last time, so cut back) on " strong { (in_hundred(chances.plain_false_alarm)) }
                "."
            }
            table {
                caption { "Of a hundred such days, how many each rule cuts back" }
                thead {
                    tr {
                        th scope="col" { "The day" }
                        th.n scope="col" { "This rule" }
                        th.n scope="col" { "Plain rule" }
                    }
                }
                tbody {
                    (chance_row("ordinary", chances.false_alarm, chances.plain_false_alarm))
                    @for (i, short) in ["2 % short", "3 % short", "5 % short"].iter().enumerate() {
                        (chance_row(short, chances.caught[i], chances.plain_caught[i]))
                    }
                }
            }
        }
    }
}

fn chance_row(day: &str, this_rule: f64, plain_rule: f64) -> Markup {
    html! {
        tr { th scope="row" { (day) } td.n { (hundredth(this_rule)) } td.n { (hundredth(plain_rule)) } }
    }
}

fn hundredth(probability: f64) -> String {
    percent(probability).replace("\u{a0}%", "")
}

fn load_interval(i: Interval, unit: Unit) -> Markup {
    html! {
        strong { (estimate_in(i.mid, unit)) }
        ", between " (estimate(i.low)) " and " (estimate(i.high)) " eight times in ten"
    }
}

fn between(i: Interval, write: impl Fn(f64) -> String) -> String {
    format!("{} to {}", write(i.low), write(i.high))
}

fn set_in_words(point: &PointView) -> String {
    let reserve = point.rir.map_or(String::new(), |rir| format!(", {}", wording::reserve(rir)));
    let test = if point.kind == "test" { ", test" } else { "" };
    format!("{}{reserve}{test}", wording::set(point.load, point.reps))
}

fn day(point: &PointView) -> Option<Date> {
    domain::When::parse(&point.when).ok().map(domain::When::date)
}
