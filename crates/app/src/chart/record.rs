//! The record chart: what a lift's lead sets showed over time, against what was forecast.
//!
//! Across: dates. Up: the 1RM that a lead set shows, as a load. The band holds eight results in ten,
//! the line is the expected one; both break where the lifter was away. Each lead set carries its
//! call's shape, *ease* and *stop* also their word, and a test has a diamond around it.

use maud::{Markup, html};
use service::view::{CallWord, Interval, LiftView, PointView};

use super::scale::{Scale, day_of, tenth};
use super::{FORECAST, Svg, mark};
use crate::wording::{self, decimal, estimate, estimate_in};

/// Days without a lead set after which the band breaks and the gap is marked: the time away after
/// which a lead set isn't read.
pub const GAP_DAYS: f64 = 14.0;

/// How large a chart is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Size {
    /// For a phone held upright: the last [`Size::RECENT_DAYS`] days only, so that points stay apart.
    Small,
    /// For a desk or a sheet of paper: the whole record.
    Large,
}

impl Size {
    /// The days that the small chart looks back from the last lead set.
    pub const RECENT_DAYS: f64 = service::view::LATELY_DAYS;

    pub(super) fn key(self) -> &'static str {
        match self {
            Size::Small => "small",
            Size::Large => "large",
        }
    }

    fn frame(self) -> Frame {
        match self {
            Size::Small => {
                Frame { width: 340.0, height: 224.0, left: 38.0, mark: 3.6, days: 4, told: false }
            }
            Size::Large => {
                Frame { width: 720.0, height: 310.0, left: 44.0, mark: 4.2, days: 7, told: true }
            }
        }
    }
}

/// Draws the record of a lift. `id` must be unique on the page. Nothing, if no lead set has a 1RM.
#[must_use]
pub fn record(lift: &LiftView, size: Size, id: &str) -> Option<Svg> {
    let id = format!("{id}-{}", size.key());
    let points = match size {
        Size::Small => recent(&lift.points),
        Size::Large => lift.points.iter().collect(),
    };
    let points: Vec<&PointView> = points.into_iter().filter(|p| drawable(p)).collect();
    let (first, last) = (points.first()?, points.last()?);
    let plot = Plot::new(size.frame(), &points);
    let unit = lift.unit.as_str();
    let Frame { width, height, .. } = plot.frame;
    Some(Svg(html! {
        svg class={ "chart record chart-" (size.key()) } role="img"
            viewBox={ "0 0 " (width) " " (height) } font-size="12" color="#23241f"
            aria-labelledby={ (id) "-title " (id) "-desc" } {
            title id={ (id) "-title" } { "Record of " (lift.name) }
            desc id={ (id) "-desc" } { (description(lift, &points, first, last)) }
            text class="axis-name" x="0" y="13" fill="currentColor" {
                "1RM as load, " (unit)
            }
            (plot.axes())
            (plot.gaps(&points))
            @for run in runs(&points) { (plot.forecast(run)) (plot.trend(run)) }
            (plot.marks(&points, lift))
        }
    }))
}

/// The lead sets that the small chart shows.
#[must_use]
pub fn recent(points: &[PointView]) -> Vec<&PointView> {
    let last = points.iter().rev().map(|p| p.days).find(|d| d.is_finite());
    let since = last.map_or(f64::NEG_INFINITY, |day| day - Size::RECENT_DAYS);
    points.iter().filter(|p| p.days >= since).collect()
}

/// A test's frame for running text, as on the chart.
#[must_use]
pub fn test_mark() -> Svg {
    mark::inline(&mark::diamond(7.0, 7.0, 5.6))
}

/// The paper and what is left free around the plot.
#[derive(Clone, Copy)]
struct Frame {
    width: f64,
    height: f64,
    left: f64,
    mark: f64,
    days: usize,
    /// Whether points tell their values when hovered; a finger on a phone can't.
    told: bool,
}

impl Frame {
    const TOP: f64 = 26.0;
    const BELOW: f64 = 24.0;
    const RIGHT: f64 = 10.0;

    fn bottom(self) -> f64 {
        self.height - Frame::BELOW
    }
}

/// A frame with its two scales.
struct Plot {
    frame: Frame,
    across: Scale,
    up: Scale,
}

impl Plot {
    fn new(frame: Frame, points: &[&PointView]) -> Plot {
        let days = points.iter().map(|p| p.days);
        let (first, last) = bounds(days);
        let pad = ((last - first) * 0.02).max(3.0);
        let right = frame.width - Frame::RIGHT;
        let across = Scale::new(first - pad, last + pad, frame.left, right);
        let (low, high) = heights(points);
        let up = Scale::new(low, high, frame.bottom(), Frame::TOP);
        Plot { frame, across, up }
    }

    /// Both axes: thin lines at round values, labels at the left and below.
    fn axes(&self) -> Markup {
        let Frame { width, left, days, .. } = self.frame;
        let bottom = self.frame.bottom();
        html! {
            @for value in self.up.round_values(4) {
                line class="grid" x1=(left) x2=(width - Frame::RIGHT) y1=(self.up.at(value))
                    y2=(self.up.at(value)) stroke="currentColor" stroke-opacity="0.16" {}
                text class="tick" x=(left - 6.0) y=(tenth(self.up.at(value) + 4.0))
                    text-anchor="end" fill="currentColor" { (decimal(value, 2)) }
            }
            line class="axis" x1=(left) x2=(width - Frame::RIGHT) y1=(bottom) y2=(bottom)
                stroke="currentColor" stroke-opacity="0.45" {}
            @for (day, label) in self.across.days(days) {
                line class="axis" x1=(self.across.at(day)) x2=(self.across.at(day)) y1=(bottom)
                    y2=(bottom + 4.0) stroke="currentColor" stroke-opacity="0.45" {}
                text class="tick" x=(self.label_x(self.across.at(day), &label))
                    y=(bottom + 17.0) text-anchor="middle" fill="currentColor" { (label) }
            }
        }
    }

    /// Keeps a centred label on the paper.
    fn label_x(&self, x: f64, label: &str) -> f64 {
        let half = text_width(label) / 2.0;
        tenth(x.clamp(half, (self.frame.width - half).max(half)))
    }

    /// Times away, as tinted strips that say how long.
    fn gaps(&self, points: &[&PointView]) -> Markup {
        let height = tenth(self.frame.bottom() - Frame::TOP);
        html! {
            @for pair in points.windows(2).filter(|p| is_away(p[1].days - p[0].days)) {
                @let (from, to) = (self.across.at(pair[0].days), self.across.at(pair[1].days));
                @let (from, to) = (from + self.frame.mark + 2.0, to - self.frame.mark - 2.0);
                @let away = format!("{} days", (pair[1].days - pair[0].days).round());
                @if to - from > 2.0 {
                    g class="gap" {
                        title { (away) " without a lead set" }
                        rect x=(tenth(from)) y=(Frame::TOP) width=(tenth(to - from))
                            height=(height) fill="currentColor" fill-opacity="0.06" {}
                        @if to - from > text_width(&away) {
                            text class="tick" x=(tenth((from + to) / 2.0))
                                y=(tenth(self.frame.bottom() - 8.0)) text-anchor="middle"
                                fill="currentColor" { (away) }
                        }
                    }
                }
            }
        }
    }

    /// The band and the expected line over one run of lead sets without a gap.
    fn forecast(&self, run: &[&PointView]) -> Markup {
        let known: Vec<(f64, Interval)> = run
            .iter()
            .filter_map(|p| Some((self.across.at(p.days), finite(p.one_rm_expected?)?)))
            .collect();
        let line = |value: fn(&Interval) -> f64, reverse: bool| {
            let mut places: Vec<String> = known
                .iter()
                .map(|(x, interval)| format!("{x} {}", self.up.at(value(interval))))
                .collect();
            if reverse {
                places.reverse();
            }
            places.join("L")
        };
        html! {
            @if let [(x, only)] = known[..] {
                line class="band-line" x1=(x) x2=(x) y1=(self.up.at(only.low))
                    y2=(self.up.at(only.high)) stroke=(FORECAST) stroke-opacity="0.3"
                    stroke-width="5" {}
            } @else if !known.is_empty() {
                path class="band" fill=(FORECAST) fill-opacity="0.16"
                    d={ "M" (line(|i| i.high, false)) "L" (line(|i| i.low, true)) "Z" } {}
                path class="forecast" fill="none" stroke=(FORECAST) stroke-width="1.6"
                    d={ "M" (line(|i| i.mid, false)) } {}
            }
        }
    }

    /// The trend as the whole record has it, dotted, over one run without a gap.
    fn trend(&self, run: &[&PointView]) -> Markup {
        let places: Vec<String> = run
            .iter()
            .filter_map(|p| Some((self.across.at(p.days), p.one_rm_usual?)))
            .filter(|(_, usual)| usual.is_finite())
            .map(|(x, usual)| format!("{x} {}", self.up.at(usual)))
            .collect();
        html! {
            @if places.len() > 1 {
                path class="trend" fill="none" stroke="currentColor" stroke-opacity="0.75"
                    stroke-width="1.4" stroke-dasharray="1 4" stroke-linecap="round"
                    d={ "M" (places.join("L")) } {}
            }
        }
    }

    /// The lead sets with their shapes, exact values on hovering, and the words that find room.
    fn marks(&self, points: &[&PointView], lift: &LiftView) -> Markup {
        let radius = self.frame.mark;
        let places = points.iter().map(|p| (self.across.at(p.days), self.up.at(seen(p))));
        let mut words = Words { marks: places.collect(), radius, words: Vec::new() };
        html! {
            @for point in points {
                @let (x, y) = (self.across.at(point.days), self.up.at(seen(point)));
                g class="point" {
                    @if self.frame.told {
                        title { (point_in_words(point, lift)) }
                        circle cx=(x) cy=(y) r="9" fill="none" pointer-events="all" {}
                    }
                    @if point.kind == "test" { (mark::diamond(x, y, radius + 4.0)) }
                    (mark::shape(point.call, x, y, radius))
                }
            }
            @for point in points.iter().rev() {
                @if let Some((x, y)) = self.word_place(point, &mut words) {
                    text class="call-word" x=(x) y=(y) text-anchor="middle" fill="currentColor" {
                        (point.call.as_str())
                    }
                }
            }
        }
    }

    /// Where the word of a call to ease or stop goes: below its mark, else above, else nowhere.
    fn word_place(&self, point: &PointView, words: &mut Words) -> Option<(f64, f64)> {
        if matches!(point.call, CallWord::GoOn | CallWord::NoReading) {
            return None;
        }
        let (x, y) = (self.across.at(point.days), self.up.at(seen(point)));
        let x = self.label_x(x, point.call.as_str());
        let width = text_width(point.call.as_str());
        let room = |y: &f64| *y < self.frame.bottom() - 2.0 && *y > Frame::TOP;
        [y + 17.0, y - 10.0]
            .into_iter()
            .filter(room)
            .find(|y| words.take(x, *y, width))
            .map(|y| (x, tenth(y)))
    }
}

/// The places already taken: centres of marks with their radius, and words with their widths.
struct Words {
    marks: Vec<(f64, f64)>,
    radius: f64,
    words: Vec<(f64, f64, f64)>,
}

impl Words {
    fn take(&mut self, x: f64, y: f64, width: f64) -> bool {
        let off_words = self.words.iter().all(|(other_x, other_y, other_width)| {
            (x - other_x).abs() > (width + other_width) / 2.0 + 4.0 || (y - other_y).abs() > 13.0
        });
        let off_marks = self.marks.iter().all(|(mark_x, mark_y)| {
            (x - mark_x).abs() > width / 2.0 + self.radius + 1.0
                || !(y - 9.0 - self.radius..y + 2.0 + self.radius).contains(mark_y)
        });
        if off_words && off_marks {
            self.words.push((x, y, width));
        }
        off_words && off_marks
    }
}

/// What a chart says of one lead set when it is hovered.
fn point_in_words(point: &PointView, lift: &LiftView) -> String {
    let reserve = point.rir.map_or(String::new(), |rir| format!(", {}", wording::reserve(rir)));
    let expected = point.one_rm_expected.and_then(finite).map_or(String::new(), |i| {
        format!(", {} to {} expected", estimate(i.low), estimate(i.high))
    });
    let chance = point.p_shortfall.map_or(String::new(), |p| {
        format!(" (probability of a shortfall {})", wording::percent(p))
    });
    let test = if point.kind == "test" { ", a test" } else { "" };
    format!(
        "{}: {}{reserve}{test}. Shows a 1RM of {}{expected}. Call: {}{chance}.",
        wording::moment(&point.when),
        wording::set(point.load, point.reps),
        estimate_in(seen(point), lift.unit),
        point.call.as_str(),
    )
}

/// The chart in two sentences, for readers who can't see it.
fn description(
    lift: &LiftView,
    points: &[&PointView],
    first: &PointView,
    last: &PointView,
) -> String {
    let (low, high) = bounds(points.iter().map(|p| seen(p)));
    let n = |call: CallWord| points.iter().filter(|p| p.call == call).count();
    format!(
        "{} from {} to {}, showing 1RMs of {} to {}. Calls: {} go on, {} ease, {} stop, {} no \
         reading. The table holds every value.",
        wording::count(points.len() as u64, "lead set", "lead sets"),
        wording::date(day_of(first.days)),
        wording::date(day_of(last.days)),
        estimate(low),
        estimate_in(high, lift.unit),
        n(CallWord::GoOn),
        n(CallWord::Ease),
        n(CallWord::Stop),
        n(CallWord::NoReading),
    )
}

/// Lead sets split where the lifter was away.
fn runs<'a>(points: &'a [&'a PointView]) -> impl Iterator<Item = &'a [&'a PointView]> {
    points.chunk_by(|a, b| b.days - a.days <= GAP_DAYS)
}

/// The heights to show: every lead set, and of the band what doesn't dwarf them.
fn heights(points: &[&PointView]) -> (f64, f64) {
    let (low, high) = bounds(points.iter().map(|p| seen(p)));
    let room = (high - low).max(high.abs() * 0.05).max(0.5);
    let expected = points.iter().filter_map(|p| p.one_rm_expected.and_then(finite));
    let (band_low, band_high) = bounds(expected.flat_map(|i| [i.low, i.high]).chain([low, high]));
    let pad = room * 0.1;
    (band_low.max(low - room) - pad, band_high.min(high + room) + pad)
}

fn bounds(values: impl Iterator<Item = f64>) -> (f64, f64) {
    let held = values.map(|v| v.clamp(-Scale::FARTHEST, Scale::FARTHEST));
    held.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| (low.min(v), high.max(v)))
}

/// The 1RM that a set shows; not a number if it was too long to be read.
fn seen(point: &PointView) -> f64 {
    point.one_rm_seen.unwrap_or(f64::NAN)
}

fn drawable(point: &PointView) -> bool {
    point.days.is_finite() && seen(point).is_finite()
}

fn finite(interval: Interval) -> Option<Interval> {
    [interval.low, interval.mid, interval.high].iter().all(|v| v.is_finite()).then_some(interval)
}

/// A guess at a label's width: type of size 12 takes about 6.4 a character.
/// Whether so many days between two lead sets are a time away; a day past all counting is none.
fn is_away(days: f64) -> bool {
    days > GAP_DAYS && days.is_finite()
}

fn text_width(text: &str) -> f64 {
    text.chars().count() as f64 * 6.4
}
