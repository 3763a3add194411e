//! The scatter bar: a lift's scatter with its interval, against where its class starts.

use maud::html;
use service::view::LiftView;

use super::scale::{Scale, tenth};
use super::{FORECAST, Svg};
use crate::wording::decimal;

const WIDTH: f64 = 340.0;
const HEIGHT: f64 = 66.0;
const BAR_Y: f64 = 31.0;

/// Draws the scatter bar of a lift. `id` must be unique on the page. Nothing, if the scatter isn't
/// a number.
#[must_use]
pub fn scatter(lift: &LiftView, id: &str) -> Option<Svg> {
    let own = lift.scatter_pct;
    let class = lift.class_scatter_pct;
    if ![own.low, own.mid, own.high, class].iter().all(|v| v.is_finite()) {
        return None;
    }
    let end = own.high.max(class).max(0.1) * 1.12;
    let scale = Scale::new(0.0, end, 14.0, WIDTH - 16.0);
    let (low, mid, high) = (scale.at(own.low), scale.at(own.mid), scale.at(own.high));
    let class_x = scale.at(class);
    let class_label = format!("its class {} %", decimal(class, 1));
    let (class_anchor, class_label_x) = beside(class_x, 92.0);
    let title = format!("Scatter of {}", lift.name);
    let told = format!(
        "This lift {} %, between {} and {} % eight times in ten; its class starts at {} %.",
        decimal(own.mid, 1),
        decimal(own.low, 1),
        decimal(own.high, 1),
        decimal(class, 1)
    );
    Some(Svg(html! {
        svg class="chart scatter-bar" role="img" viewBox={ "0 0 " (WIDTH) " " (HEIGHT) }
            font-size="12" color="#23241f" aria-labelledby={ (id) "-title " (id) "-desc" } {
            title id={ (id) "-title" } { (title) }
            desc id={ (id) "-desc" } { (told) }
            line class="axis" x1="14" x2=(WIDTH - 16.0) y1="46" y2="46" stroke="currentColor"
                stroke-opacity="0.45" {}
            @for value in scale.round_values(4) {
                text class="tick" x=(scale.at(value)) y="61" text-anchor="middle"
                    fill="currentColor" { (decimal(value, 2)) " %" }
                line class="axis" x1=(scale.at(value)) x2=(scale.at(value)) y1="46" y2="50"
                    stroke="currentColor" stroke-opacity="0.45" {}
            }
            line class="class-start" x1=(class_x) x2=(class_x) y1="18" y2="46"
                stroke="currentColor" stroke-width="1.2" stroke-dasharray="2 2" {}
            text x=(class_label_x) y="13" text-anchor=(class_anchor) fill="currentColor" {
                (class_label)
            }
            rect class="band-bar" x=(low) y=(BAR_Y - 6.0) width=(tenth((high - low).max(1.0)))
                height="12" fill=(FORECAST) fill-opacity="0.22" {}
            line class="forecast" x1=(mid) x2=(mid) y1=(BAR_Y - 9.0) y2=(BAR_Y + 9.0)
                stroke=(FORECAST) stroke-width="2.5" {}
        }
    }))
}

/// Where a label over a mark starts so that it stays on the paper.
fn beside(x: f64, width: f64) -> (&'static str, f64) {
    if x + width / 2.0 > WIDTH {
        ("end", (x + 4.0).min(WIDTH - 2.0))
    } else if x < width / 2.0 {
        ("start", (x - 4.0).max(2.0))
    } else {
        ("middle", x)
    }
}
