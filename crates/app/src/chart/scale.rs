//! Scales and ticks: from values to places on the paper, and the few values worth a label.
//!
//! Takes any numbers: what isn't finite is refused before it gets here, what is huge is held at
//! [`Scale::FARTHEST`].

use jiff::civil::{Date, date};
use jiff::{SignedDuration, Span};

use crate::wording;

/// A straight scale from values to places. Values outside the range land on its edge.
#[derive(Clone, Copy, Debug)]
pub(super) struct Scale {
    low: f64,
    high: f64,
    from: f64,
    to: f64,
}

impl Scale {
    /// The largest value that a scale tells from a larger one.
    pub(super) const FARTHEST: f64 = 1e7;

    /// A scale that puts `low` at `from` and `high` at `to`; a range without width gets some.
    pub(super) fn new(low: f64, high: f64, from: f64, to: f64) -> Scale {
        let held = |v: f64| v.clamp(-Scale::FARTHEST, Scale::FARTHEST);
        let (low, high) = (held(low), held(high));
        let least = (low.abs() * 1e-6).max(1e-3);
        if high - low >= least {
            Scale { low, high, from, to }
        } else {
            Scale { low: low - least, high: low + least, from, to }
        }
    }

    /// Where a value lies, to 0.1.
    pub(super) fn at(&self, value: f64) -> f64 {
        let share = ((value - self.low) / (self.high - self.low)).clamp(0.0, 1.0);
        tenth(self.from + share * (self.to - self.from))
    }

    /// At most `most` round values in the range.
    pub(super) fn round_values(&self, most: usize) -> Vec<f64> {
        let rough = (self.high - self.low) / most as f64;
        let power = 10f64.powf(rough.log10().floor());
        let ticks = |step: f64| {
            let first = (self.low / step).ceil();
            let n = ((self.high / step).floor() - first).max(-1.0) as usize + 1; // a few, by rough
            (0..n).map(|i| (first + i as f64) * step).collect::<Vec<_>>()
        };
        [1.0, 2.0, 5.0, 10.0, 20.0]
            .into_iter()
            .map(|times| ticks(times * power))
            .find(|values| values.len() <= most)
            .unwrap_or_default()
    }

    /// At most `most` days worth a label, with the labels: the first of some months, or single days
    /// on a short record. The first label and each January carry their year.
    pub(super) fn days(&self, most: usize) -> Vec<(f64, String)> {
        let (first, last) = (day_of(self.low), day_of(self.high));
        let found = if self.high - self.low < 75.0 {
            [1, 2, 7, 14, 28].into_iter().map(|step| every_days(first, last, step)).find(fits(most))
        } else {
            [1, 2, 3, 6, 12, 24, 60, 120, 600]
                .into_iter()
                .map(|step| every_months(first, last, step))
                .find(fits(most))
        };
        let short = self.high - self.low < 75.0;
        let mut year = None;
        let label = |day: Date| {
            let new_year = year.replace(day.year()) != Some(day.year());
            let text = if short {
                format!("{} {}", day.day(), wording::month(day))
            } else {
                wording::month(day).to_owned()
            };
            let text = if new_year { format!("{text} {}", day.year()) } else { text };
            (days_of(day), text)
        };
        found.unwrap_or_default().into_iter().map(label).collect()
    }
}

/// A place rounded to 0.1, without a negative zero.
pub(super) fn tenth(place: f64) -> f64 {
    (place * 10.0).round() / 10.0 + 0.0
}

/// The day that lies `days` after 1970-01-01; days out of reach are held at 1700 and 2300.
pub(super) fn day_of(days: f64) -> Date {
    let whole = days.floor().clamp(-98_615.0, 120_530.0) as i64;
    EPOCH.saturating_add(SignedDuration::from_hours(whole * 24))
}

const EPOCH: Date = date(1970, 1, 1);

/// Days from 1970-01-01 to a day.
pub(super) fn days_of(day: Date) -> f64 {
    (day.duration_since(EPOCH).as_hours() / 24) as f64 // at most 121,000, exact in an f64
}

fn fits(most: usize) -> impl Fn(&Vec<Date>) -> bool {
    move |days| days.len() <= most
}

fn every_days(first: Date, last: Date, step: i64) -> Vec<Date> {
    first
        .series(Span::new().days(step))
        .skip_while(|day| days_of(*day) < days_of(first))
        .take_while(|day| *day <= last)
        .collect()
}

fn every_months(first: Date, last: Date, step: i32) -> Vec<Date> {
    let start = first.first_of_month();
    let months = i32::from(start.year()) * 12 + i32::from(start.month()) - 1;
    let lead = (-months).rem_euclid(step);
    start
        .saturating_add(Span::new().months(lead))
        .series(Span::new().months(step))
        .skip_while(|day| *day < first)
        .take_while(|day| *day <= last)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn round_values_are_few_and_round() {
        assert_eq!(Scale::new(101.0, 139.0, 0.0, 1.0).round_values(4), [110.0, 120.0, 130.0]);
        assert_eq!(Scale::new(0.0, 4.3, 0.0, 1.0).round_values(5), [0.0, 1.0, 2.0, 3.0, 4.0]);
        for (low, high) in [(0.0, 0.0), (-1e300, 1e300), (1e-9, 2e-9), (5.0, 5.0)] {
            let values = Scale::new(low, high, 0.0, 1.0).round_values(5);
            assert!(values.len() <= 5 && values.iter().all(|v| v.is_finite()));
        }
    }

    #[test]
    fn days_start_months_and_name_the_year_once() {
        let scale = Scale::new(days_of(date(2025, 10, 20)), days_of(date(2026, 6, 3)), 0.0, 100.0);
        let labels: Vec<_> = scale.days(5).into_iter().map(|(_, text)| text).collect();
        assert_eq!(labels, ["Nov 2025", "Jan 2026", "Mar", "May"]);
        let short = Scale::new(days_of(date(2026, 5, 28)), days_of(date(2026, 6, 12)), 0.0, 100.0);
        let labels: Vec<_> = short.days(4).into_iter().map(|(_, text)| text).collect();
        assert_eq!(labels, ["28 May 2026", "4 Jun", "11 Jun"]);
    }

    #[test]
    fn places_stay_on_the_paper() {
        let scale = Scale::new(10.0, 20.0, 100.0, 0.0);
        assert_eq!(scale.at(15.0).to_bits(), 50.0f64.to_bits());
        assert_eq!(scale.at(1e300).to_bits(), 0.0f64.to_bits());
        assert_eq!(scale.at(-5.0).to_bits(), 100.0f64.to_bits());
    }
}
