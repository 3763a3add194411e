//! A muscle's dose by weeks, small enough for a table: bars of hard sets, a tick where so much was planned, and
//! the range as a shade behind.

use maud::html;
use service::dose::record::MuscleDoseRecord;

use super::scale::{Scale, tenth};
use super::{FORECAST, Svg};
use crate::wording::decimal;

const WEEK: f64 = 13.0;
const HEIGHT: f64 = 44.0;
const TOP: f64 = 3.0;
const END: f64 = 41.0;

/// Draws the weeks of a muscle on a scale up to `most` sets. The table beside it holds every value.
#[must_use]
pub fn dose_weeks(record: &MuscleDoseRecord, most: f64) -> Svg {
    let width = WEEK * record.weeks.len() as f64 + 2.0; // a dozen weeks
    let up = Scale::new(0.0, most.max(1.0), END, TOP);
    let (least, _, highest) = record.range;
    let (low, high) = (up.at(least), up.at(highest.min(most)));
    Svg(html! {
        svg class="dose-weeks" viewBox={ "0 0 " (width) " " (HEIGHT) } width=(width) height=(HEIGHT)
            color="#23241f" aria-hidden="true" {
            rect class="range" x="0" y=(high) width=(width) height=(tenth((low - high).max(0.0)))
                fill="currentColor" fill-opacity="0.08" {}
            line class="axis" x1="0" x2=(width) y1=(END) y2=(END) stroke="currentColor"
                stroke-opacity="0.45" {}
            @for (place, week) in record.weeks.iter().enumerate() {
                @let left = WEEK * place as f64 + 1.0; // a dozen weeks
                @let (direct, done) = (up.at(week.direct), up.at(week.done()));
                @let is_now = place + 1 == record.weeks.len();
                rect class="direct" x=(left + 1.5) y=(direct) width=(WEEK - 4.0)
                    height=(tenth(END - direct)) fill=(FORECAST)
                    fill-opacity=(if is_now { "0.45" } else { "0.85" }) {}
                rect class="assisting" x=(left + 1.5) y=(done) width=(WEEK - 4.0)
                    height=(tenth(direct - done)) fill=(FORECAST)
                    fill-opacity=(if is_now { "0.2" } else { "0.4" }) {}
                @if let Some(planned) = week.planned {
                    line class="planned" x1=(left) x2=(left + WEEK - 1.0) y1=(up.at(planned))
                        y2=(up.at(planned)) stroke="currentColor" stroke-width="1.4" {
                        title { (decimal(planned, 1)) " planned" }
                    }
                }
            }
        }
    })
}
