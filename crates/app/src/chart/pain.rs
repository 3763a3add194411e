//! A joint over time: pain as it was told, above the load of its weeks.
//!
//! Across: dates. Above: ratings of 0 to 10 as discs on stems, with the limit as a broken line. Below: each
//! week's sets, weighted by how much their lifts load the joint, as bars.

use jiff::civil::Date;
use maud::{Markup, html};
use service::joints::record::{JointRecord, PainLine};

use super::record::Size;
use super::scale::{Scale, days_of, tenth};
use super::{EASED, FORECAST, Svg};
use crate::wording::{self, decimal};

const TOP: f64 = 24.0;
/// Where ratings end and the weeks' bars have their top.
const RATINGS_END: f64 = 118.0;
const BARS_TOP: f64 = 154.0;
const BARS_END: f64 = 200.0;
const HEIGHT: f64 = 224.0;
const LEFT: f64 = 30.0;
const RIGHT: f64 = 8.0;

/// Draws a joint's last weeks. `id` must be unique on the page. Nothing, without weeks.
#[must_use]
pub fn pain(joint: &JointRecord, limit: u8, size: Size, id: &str) -> Option<Svg> {
    let id = format!("{id}-{}", size.key());
    let (first, last) = (joint.weeks.first()?.monday, joint.weeks.last()?.monday);
    let width = match size {
        Size::Small => 340.0,
        Size::Large => 720.0,
    };
    let end = days_of(last) + 7.0;
    let across = Scale::new(days_of(first), end, LEFT, width - RIGHT);
    let up = Scale::new(0.0, 10.0, RATINGS_END, TOP);
    let most = joint.weeks.iter().map(|week| week.sets).fold(1.0, f64::max);
    let load = Scale::new(0.0, most, BARS_END, BARS_TOP);
    let shown: Vec<&PainLine> = joint.ratings.iter().filter(|line| line.date >= first).collect();
    let labels = if size == Size::Small { 4 } else { 7 };
    let bar = (across.at(days_of(first) + 6.0) - across.at(days_of(first))).max(2.0);
    Some(Svg(html! {
        svg class={ "chart pain chart-" (size.key()) } role="img"
            viewBox={ "0 0 " (width) " " (HEIGHT) } font-size="12" color="#23241f"
            aria-labelledby={ (id) "-title " (id) "-desc" } {
            title id={ (id) "-title" } { "Pain in the " (joint.joint) " and its load" }
            desc id={ (id) "-desc" } { (description(joint, &shown)) }
            text class="axis-name" x="0" y="13" fill="currentColor" { "Pain told, of 10" }
            @for value in [0.0, 5.0, 10.0] { (grid_line(&up, value, width)) }
            line class="limit" x1=(LEFT) x2=(width - RIGHT) y1=(up.at(limit.into()))
                y2=(up.at(limit.into())) stroke=(EASED) stroke-width="1.2" stroke-dasharray="5 3" {}
            @for line in &shown { (rating(line, &across, &up, limit)) }
            text class="axis-name" x="0" y=(BARS_TOP - 14.0) fill="currentColor" {
                "Load of the week, weighted sets"
            }
            (grid_line(&load, 0.0, width))
            text class="tick" x=(LEFT - 6.0) y=(BARS_TOP + 4.0) text-anchor="end"
                fill="currentColor" { (decimal(most, 0)) }
            @for week in &joint.weeks {
                @let top = load.at(week.sets);
                @if week.sets > 0.0 {
                    rect class="week-load" x=(across.at(days_of(week.monday))) y=(top)
                        width=(tenth(bar)) height=(tenth(BARS_END - top)) fill=(FORECAST) fill-opacity="0.35" {
                        title {
                            "Week of " (wording::date(week.monday)) ": " (decimal(week.sets, 1)) " weighted sets"
                        }
                    }
                }
            }
            @for (day, label) in across.days(labels) {
                text class="tick" x=(within(across.at(day), &label, width)) y=(BARS_END + 17.0)
                    text-anchor="middle" fill="currentColor" { (label) }
            }
        }
    }))
}

fn grid_line(scale: &Scale, value: f64, width: f64) -> Markup {
    let y = scale.at(value);
    html! {
        line class="grid" x1=(LEFT) x2=(width - RIGHT) y1=(y) y2=(y) stroke="currentColor"
            stroke-opacity="0.16" {}
        text class="tick" x=(LEFT - 6.0) y=(tenth(y + 4.0)) text-anchor="end" fill="currentColor" {
            (decimal(value, 0))
        }
    }
}

fn rating(line: &PainLine, across: &Scale, up: &Scale, limit: u8) -> Markup {
    let (x, y) = (across.at(days_of(line.date) + 0.5), up.at(line.rating.into()));
    html! {
        g class="point" {
            title { (wording::date(line.date)) ": " (line.rating) " of 10" }
            line class="stem" x1=(x) x2=(x) y1=(up.at(0.0)) y2=(y) stroke="currentColor"
                stroke-opacity="0.35" {}
            @if line.rating > limit {
                rect class="mark-stop" x=(tenth(x - 3.4)) y=(tenth(y - 3.4)) width="6.8" height="6.8"
                    fill="currentColor" {}
            } @else {
                circle cx=(x) cy=(y) r="3.2" fill="currentColor" {}
            }
        }
    }
}

/// Keeps a centred label on the paper.
fn within(x: f64, label: &str, width: f64) -> f64 {
    let half = label.chars().count() as f64 * 3.2;
    tenth(x.clamp(half, (width - half).max(half)))
}

/// The chart in a sentence, for readers who can't see it.
fn description(joint: &JointRecord, shown: &[&PainLine]) -> String {
    let of = |date: Date| wording::date(date);
    match (shown.first(), shown.last()) {
        (Some(first), Some(last)) => format!(
            "{} from {} to {}. The tables hold every value.",
            wording::count(shown.len() as u64, "rating", "ratings"),
            of(first.date),
            of(last.date)
        ),
        _ => format!("No pain in the {} was told in these weeks.", joint.joint),
    }
}
