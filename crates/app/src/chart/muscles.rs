//! The muscle strip: how far each muscle is from its usual, on the days before, now and in the next days.
//!
//! Across: days, those before narrow and without numbers. Down: muscles, the one most in doubt first. In each
//! field a line stands for usual, and a bar hangs below it as far as the muscle is under usual, or stands on it
//! as far as it is above; a thread spans eight chances in ten, and the number says the middle. A bar is filled
//! where the muscle is short likelier than not, so that the picture can be read without colour.

use jiff::civil::Date;
use maud::{Markup, html};
use service::view::{Interval, MuscleDay, MuscleView, MusclesView};

use super::record::Size;
use super::scale::tenth;
use super::{EASED, FORECAST, PAPER, Svg};
use crate::wording;

/// The least that the height of a field below and above usual stands for, in %.
const LEAST_PCT: (f64, f64) = (3.0, 1.5);
/// The most; what goes farther ends at the edge.
const MOST_PCT: (f64, f64) = (12.0, 6.0);
/// A bar is filled from this probability of being short on.
const LIKELIER_THAN_NOT: f64 = 0.5;

/// Draws the strip. `id` must be unique on the page. Nothing, without muscles or days.
#[must_use]
pub fn muscles(view: &MusclesView, size: Size, id: &str) -> Option<Svg> {
    let id = format!("{id}-{}", size.key());
    let shown: Vec<&MuscleView> = view.muscles.iter().filter(|one| drawable(one)).collect();
    if shown.is_empty() || view.days.is_empty() {
        return None;
    }
    let grid = Grid::new(size, &shown, view);
    let height = grid.top(shown.len());
    Some(Svg(html! {
        svg class={ "chart strip chart-" (size.key()) } role="img"
            viewBox={ "0 0 " (grid.width) " " (height) } font-size="12" color="#23241f"
            aria-labelledby={ (id) "-title " (id) "-desc" } {
            title id={ (id) "-title" } { "Muscles on the days before, now and in the next days" }
            desc id={ (id) "-desc" } { (description(&shown)) }
            (grid.past_headings(view))
            @for (column, day) in view.days.iter().take(grid.n_days).enumerate() {
                text class="tick" x=(tenth(grid.left(column) + grid.column / 2.0)) y="14"
                    text-anchor="middle" fill="currentColor" { (heading(column, *day, size)) }
            }
            @for (row, muscle) in shown.iter().enumerate() {
                (grid.row(row, muscle, view))
            }
        }
    }))
}

/// Where the fields lie.
struct Grid {
    width: f64,
    names: f64,
    /// How many days before are drawn, and how wide.
    n_past: usize,
    past: f64,
    n_days: usize,
    column: f64,
    row: f64,
    /// From the top of a field to the line of usual.
    above: f64,
    /// Height of one per cent.
    per_pct: f64,
    is_large: bool,
}

impl Grid {
    const HEAD: f64 = 24.0;
    const BAR: f64 = 9.0;
    /// What stays free between two fields.
    const BETWEEN: f64 = 6.0;

    fn new(size: Size, shown: &[&MuscleView], view: &MusclesView) -> Grid {
        let (width, names, past, most_past, most_days) = match size {
            Size::Small => (340.0, 86.0, 13.0, 5, 4),
            Size::Large => (720.0, 122.0, 26.0, 7, 5),
        };
        let n_past = view.past.len().min(most_past);
        let n_days = view.days.len().min(most_days);
        let row = 38.0;
        let days = || shown.iter().flat_map(|muscle| muscle.past.iter().chain(&muscle.days));
        let down = days().map(|day| day.shortfall_pct.high).fold(LEAST_PCT.0, f64::max);
        let up = days().map(|day| -day.shortfall_pct.low).fold(LEAST_PCT.1, f64::max);
        let (down, up) = (down.min(MOST_PCT.0), up.min(MOST_PCT.1));
        let per_pct = (row - Grid::BETWEEN) / (down + up);
        Grid {
            width,
            names,
            n_past,
            past,
            n_days,
            column: (width - names - past * n_past as f64) / n_days as f64,
            row,
            above: up * per_pct,
            per_pct,
            is_large: size == Size::Large,
        }
    }

    fn left(&self, column: usize) -> f64 {
        self.names + self.past * self.n_past as f64 + column as f64 * self.column
    }

    /// The left edge of a day before, the first of those drawn being 0.
    fn past_left(&self, column: usize) -> f64 {
        self.names + column as f64 * self.past
    }

    /// The days before by name where there is room, and otherwise all in one.
    fn past_headings(&self, view: &MusclesView) -> Markup {
        let days = &view.past[view.past.len() - self.n_past..];
        html! {
            @if self.is_large {
                @for (column, day) in days.iter().enumerate() {
                    text class="tick" x=(tenth(self.past_left(column) + self.past / 2.0)) y="14"
                        text-anchor="middle" fill="currentColor" { (wording::weekday(*day)) }
                }
            } @else if let Some(first) = days.first() {
                text class="tick" x=(tenth(self.past_left(0))) y="14" fill="currentColor" {
                    "since " (wording::weekday(*first))
                }
            }
        }
    }

    fn top(&self, row: usize) -> f64 {
        tenth(Grid::HEAD + row as f64 * self.row)
    }

    fn row(&self, row: usize, muscle: &MuscleView, view: &MusclesView) -> Markup {
        let top = self.top(row);
        let skipped = view.past.len() - self.n_past;
        let past = view.past.iter().zip(&muscle.past).skip(skipped);
        html! {
            text x="0" y=(tenth(top + self.above + 4.0)) fill="currentColor" {
                @for (line, word) in self.name_lines(muscle.muscle).into_iter().enumerate() {
                    tspan x="0" dy=(if line == 0 { 0 } else { 12 }) { (word) }
                }
            }
            @for (column, (date, day)) in past.enumerate() {
                g class="day-before" {
                    title { (wording::short_day(*date)) ", " (in_words(muscle.muscle, day)) }
                    (self.day_before(self.past_left(column), top, day))
                }
            }
            @for (column, day) in muscle.days.iter().take(self.n_days).enumerate() {
                g class="field" {
                    title { (in_words(muscle.muscle, day)) }
                    (self.field(self.left(column), top, day))
                }
            }
        }
    }

    /// A name of two words takes two lines where it would run into the first field.
    fn name_lines<'a>(&self, name: &'a str) -> Vec<&'a str> {
        match name.split_once(' ') {
            Some((first, rest)) if !self.is_large && name.len() > 12 => vec![first, rest],
            _ => vec![name],
        }
    }

    /// Usual, thread and bar of a day before.
    fn day_before(&self, left: f64, top: f64, day: &MuscleDay) -> Markup {
        let width = (self.past - 4.0).min(Grid::BAR);
        let x = tenth(left + (self.past - width) / 2.0);
        self.bar((left, left + self.past), (x, width), top, day)
    }

    fn field(&self, left: f64, top: f64, day: &MuscleDay) -> Markup {
        let usual = tenth(top + self.above);
        let x = tenth(left + if self.is_large { 22.0 } else { 8.0 });
        let is_short = day.p_short > LIKELIER_THAN_NOT;
        html! {
            (self.bar((x - 5.0, left + self.column - 4.0), (x, Grid::BAR), top, day))
            text x=(tenth(x + Grid::BAR + 4.0)) y=(tenth(usual + 13.0)) fill="currentColor" {
                (from_usual(day)) @if self.is_large { " %" }
                @if self.is_large && is_short { ", short" }
            }
        }
    }

    /// The line of usual from one place to another, with thread and bar.
    fn bar(
        &self,
        (line_from, line_to): (f64, f64),
        (x, width): (f64, f64),
        top: f64,
        day: &MuscleDay,
    ) -> Markup {
        let usual = tenth(top + self.above);
        let (ceiling, floor) = (top, top + self.row - Grid::BETWEEN);
        let y = |pct: f64| tenth((usual + pct * self.per_pct).clamp(ceiling, floor));
        let Interval { low, mid, high } = day.shortfall_pct;
        let (from, to) = (y(mid.min(0.0)), y(mid.max(0.0)));
        let is_short = day.p_short > LIKELIER_THAN_NOT;
        let (class, fill, stroke) = match is_short {
            true => ("bar-short", EASED, EASED),
            false => ("bar-sound", PAPER, FORECAST),
        };
        let centre = tenth(x + width / 2.0);
        html! {
            line class="usual" x1=(tenth(line_from)) x2=(tenth(line_to)) y1=(usual)
                y2=(usual) stroke="currentColor" stroke-opacity="0.45" {}
            line class="thread" x1=(centre) x2=(centre) y1=(y(low)) y2=(y(high))
                stroke="currentColor" stroke-width="1" {}
            rect class=(class) x=(x) y=(from) width=(width) height=(tenth((to - from).max(0.5)))
                fill=(fill) stroke=(stroke) stroke-width="1.2" {}
        }
    }
}

fn heading(column: usize, day: Date, size: Size) -> String {
    match (column, size) {
        (0, _) => "now".to_owned(),
        (_, Size::Small) => wording::weekday(day).to_owned(),
        (_, Size::Large) => wording::short_day(day),
    }
}

fn in_words(muscle: &str, day: &MuscleDay) -> String {
    let Interval { low, mid, high } = day.shortfall_pct;
    let signed = |pct: f64| wording::fixed_signed(-pct, 1);
    format!(
        "{muscle}: {} % against usual, {} to {} eight times in ten; short with a probability of {}",
        signed(mid),
        signed(high),
        signed(low),
        wording::percent(day.p_short)
    )
}

/// How far a muscle is from its usual: `−2.3`, `+1.0`, `0.0`.
fn from_usual(day: &MuscleDay) -> String {
    wording::fixed_signed(-day.shortfall_pct.mid, 1)
}

/// The strip in a sentence or two, for readers who can't see it.
fn description(shown: &[&MuscleView]) -> String {
    let is_short = |muscle: &&&MuscleView| {
        muscle.days.first().is_some_and(|day| day.p_short > LIKELIER_THAN_NOT)
    };
    let short: Vec<&str> = shown.iter().filter(is_short).map(|muscle| muscle.muscle).collect();
    let told = match short.len() {
        0 => "none is likelier short than not now".to_owned(),
        _ => format!("likelier short than not now: {}", short.join(", ")),
    };
    format!("{} muscles; {told}. The table holds every value.", shown.len())
}

fn drawable(muscle: &MuscleView) -> bool {
    !muscle.days.is_empty()
        && muscle.past.iter().chain(&muscle.days).all(|day| {
            let Interval { low, mid, high } = day.shortfall_pct;
            [low, mid, high, day.p_short].iter().all(|value| value.is_finite())
        })
}
