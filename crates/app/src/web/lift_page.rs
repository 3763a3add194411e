//! The page of one lift: record, verdict, chances with the two costs that set the threshold, every set.

use maud::{Markup, html};
use service::view::{Interval, LiftPageView, LiftView, PointView, WhyView};

use super::costs_section::costs_section;
use super::layout::{self, Footer};
use super::lift_section::{self, set_in_words};
use super::sets_section::{amended_section, sets_section};
use crate::chart;
use crate::wording::{self, decimal, estimate, percent};

/// Draws the page of one lift; `done` says what was just changed.
pub(super) fn lift_page(view: &LiftPageView, done: Option<&str>) -> Markup {
    let lift = &view.lift;
    let body = html! {
        p.above { a href=(layout::lifter_path(&view.lifter)) { (view.lifter) } }
        h1 { (lift.name) }
        @if let Some(done) = done { p.done role="status" { (done) } }
        @if let Some(remark) = view.remark { p.aside { (remark) } }
        (lift_section::what_it_is(lift))
        (lift_section::latest(lift, view.today))
        @if let Some(why) = &lift.why { (why_flat(why)) }
        (lift_section::target(lift))
        (lift_section::picture(lift, "lift", false))
        @if !lift.points.is_empty() { (record_table(lift)) }
        (lift_section::estimates(lift))
        (gauge(lift, "lift"))
        (costs_section(view))
        (sets_section(view))
        (amended_section(view))
    };
    let title = format!("{} of {}", lift.name, view.lifter);
    layout::page(&title, Footer::Cautions, &body)
}

fn why_flat(why: &WhyView) -> Markup {
    html! {
        div.odds {
            h2 { "Why it isn't moving up" }
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

fn gauge(lift: &LiftView, id: &str) -> Markup {
    let own = lift.scatter_pct;
    html! {
        div.gauge {
            h2 { @if lift.is_gauge { "A gauge lift" } @else { "Not a gauge lift" } }
            p { (lift.gauge_reason) }
            figure.scatter {
                @if let Some(bar) = chart::scatter(lift, id) { (bar) }
                figcaption {
                    "Scatter " strong { (decimal(own.mid, 1)) "\u{a0}%" } ", between "
                    (decimal(own.low, 1)) " and " (decimal(own.high, 1))
                    "\u{a0}% eight times in ten. Before its record tells, a lift of its class is taken for "
                    (decimal(lift.class_scatter_pct, 1)) "\u{a0}%."
                }
            }
        }
    }
}

fn between(i: Interval, write: impl Fn(f64) -> String) -> String {
    format!("{} to {}", write(i.low), write(i.high))
}
