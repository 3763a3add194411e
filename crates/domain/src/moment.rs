//! When something was done: a calendar date, with or without a local time of day.
//!
//! Times are local to the gym and carry no zone: a lifter who trains at 18:00 trains at 18:00. For
//! arithmetic a date without a time stands for noon.

use jiff::civil::{Date, DateTime, Time};

use crate::Refused;
use crate::bounds::shortened;

/// A date from 1950 to 2200, with a time of day to the second if one is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct When {
    date: Date,
    time: Option<Time>,
}

impl When {
    /// A date and perhaps a time, which is cut to whole seconds.
    pub fn new(date: Date, time: Option<Time>) -> Result<When, Refused> {
        if !(1950..=2200).contains(&date.year()) {
            return Err(Refused::Text {
                what: "date",
                got: date.to_string(),
                needed: "use a year from 1950 to 2200".to_owned(),
            });
        }
        let time = time.map(|t| Time::constant(t.hour(), t.minute(), t.second(), 0));
        Ok(When { date, time })
    }

    /// Reads ISO 8601: `2031-05-04`, `2031-05-04T18:20` or `2031-05-04 18:20:05`. A zone or offset
    /// at the end is refused, because times are local to the gym.
    pub fn parse(text: &str) -> Result<When, Refused> {
        let text = text.trim();
        let refuse = || Refused::Text {
            what: "date",
            got: shortened(text),
            needed: "write it as 2031-05-04 or 2031-05-04T18:20, local time without a zone"
                .to_owned(),
        };
        if text.len() == 10 {
            return When::new(text.parse::<Date>().map_err(|_| refuse())?, None);
        }
        let shaped = text.len() >= 16
            && text.is_ascii()
            && matches!(text.as_bytes()[10], b'T' | b' ')
            && text.as_bytes()[11..].iter().all(|b| b.is_ascii_digit() || matches!(b, b':' | b'.'));
        if !shaped {
            return Err(refuse());
        }
        let moment = text.parse::<DateTime>().map_err(|_| refuse())?;
        When::new(moment.date(), Some(moment.time()))
    }

    /// The calendar date.
    #[must_use]
    pub fn date(self) -> Date {
        self.date
    }

    /// The time of day, if it is known.
    #[must_use]
    pub fn time(self) -> Option<Time> {
        self.time
    }

    /// One second later on the same day; none at its end or without a time of day.
    #[must_use]
    pub fn a_second_later(self) -> Option<When> {
        let time = self.time?.checked_add(jiff::SignedDuration::from_secs(1)).ok()?;
        Some(When { time: Some(time), ..self })
    }

    /// Days since 1970-01-01T00:00 local, with the time of day as a fraction; noon if unknown.
    #[must_use]
    pub fn days(self) -> f64 {
        let epoch = jiff::civil::date(1970, 1, 1);
        let whole = self.date.duration_since(epoch).as_hours() / 24;
        let of_day = self.time.map_or(0.5, |t| {
            (f64::from(t.hour()) + f64::from(t.minute()) / 60.0 + f64::from(t.second()) / 3600.0)
                / 24.0
        });
        whole as f64 + of_day // at most 84,000 days, exact in an f64
    }
}

impl std::fmt::Display for When {
    /// ISO 8601, with the time only if it is known.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self.time {
            None => write!(f, "{}", self.date),
            Some(time) if time.second() == 0 => {
                write!(f, "{}T{:02}:{:02}", self.date, time.hour(), time.minute())
            }
            Some(time) => write!(
                f,
                "{}T{:02}:{:02}:{:02}",
                self.date,
                time.hour(),
                time.minute(),
                time.second()
            ),
        }
    }
}
