//! When something was logged, as far as two clocks can tell.
//!
//! A phone's clock may be some hours off: what counts is how long before the sending something was logged,
//! taken from the desk's clock. That fails where one of the clocks was put right in between, or is far off.
//! Then the phone asks, and the lifter says on which day it was.

use domain::When;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};

use super::bounds::{CLOCKS_APART, DAYS_AFTER, DAYS_BEFORE, SAID_DAYS_BEFORE};

/// How every reason begins that asks when something was.
const UNCLEAR: &str = "it isn't clear when this was done";

/// The clocks of one message: the session's day, when it was logged and sent by the phone's clock, and when
/// it was received by the desk's.
#[derive(Clone, Copy, Debug)]
pub(super) struct Clocks<'a> {
    pub(super) day: Date,
    pub(super) logged: Timestamp,
    pub(super) sent: Timestamp,
    pub(super) received: Timestamp,
    pub(super) zone: &'a TimeZone,
}

impl Clocks<'_> {
    /// When it was by the desk's clock, as local time and never later than now; or why that isn't clear.
    pub(super) fn when(&self) -> Result<When, String> {
        let apart = self.received.duration_since(self.sent).abs();
        if apart > CLOCKS_APART {
            return Err(format!(
                "{UNCLEAR}: the phone's clock said {} when the desk's said {}; say on which day it was, \
                 and put right the clock that is wrong",
                self.minute(self.sent),
                self.minute(self.received)
            ));
        }
        let ago = self.sent.duration_since(self.logged);
        if -ago > CLOCKS_APART {
            return Err(format!(
                "{UNCLEAR}: by the phone's clock it was logged at {} and sent before that, at {}; say on \
                 which day it was",
                self.minute(self.logged),
                self.minute(self.sent)
            ));
        }
        let ago = ago.max(SignedDuration::ZERO);
        let Ok(at) = self.received.checked_sub(ago) else { return Err(self.far_from_its_day()) };
        let local = self.zone.to_datetime(at);
        let days = days_after(self.day, local.date());
        if !(-DAYS_BEFORE..=DAYS_AFTER).contains(&days) {
            return Err(self.far_from_its_day());
        }
        When::new(local.date(), Some(local.time())).map_err(|_| self.far_from_its_day())
    }

    /// What a lifter said of when it was, if it can be: a day, perhaps with a time.
    pub(super) fn said(&self, when: When) -> Result<When, String> {
        let newest = self.zone.to_datetime(self.received.max(self.sent)).date();
        let newest = newest.max(self.day).saturating_add(jiff::Span::new().days(DAYS_BEFORE));
        if days_after(self.day, when.date()) < -SAID_DAYS_BEFORE || when.date() > newest {
            return Err(format!(
                "{UNCLEAR}: {} is too far from the session of {}; say the day once more",
                when.date(),
                self.day
            ));
        }
        Ok(when)
    }

    /// When to show it: as [`Clocks::when`], and where that isn't clear when it was received.
    pub(super) fn shown(&self) -> String {
        match self.when() {
            Ok(when) => when.to_string(),
            Err(_) => {
                self.zone.to_datetime(self.received).strftime("%Y-%m-%dT%H:%M:%S").to_string()
            }
        }
    }

    fn far_from_its_day(&self) -> String {
        format!(
            "{UNCLEAR}: by the phone's clock it was logged at {} and sent at {}, and the session is of {}; \
             say on which day it was",
            self.minute(self.logged),
            self.minute(self.sent),
            self.day
        )
    }

    fn minute(&self, at: Timestamp) -> String {
        self.zone.to_datetime(at).strftime("%Y-%m-%d %H:%M").to_string()
    }
}

/// Whether a refusal for this reason asks when something was.
pub(super) fn asks_when(reason: &str) -> bool {
    reason.starts_with(UNCLEAR)
}

/// The first and the last moment that a clock is taken to tell, in milliseconds since 1970: the years 1900 and 2300.
const CLOCK_MS: (i64, i64) = (-2_208_988_800_000, 10_413_792_000_000);

/// Milliseconds since 1970 as a time; one that no clock tells is the nearest that one does.
pub(super) fn from_clock(ms: i64) -> Timestamp {
    Timestamp::from_millisecond(ms.clamp(CLOCK_MS.0, CLOCK_MS.1)).unwrap_or(Timestamp::UNIX_EPOCH)
}

fn days_after(day: Date, other: Date) -> i32 {
    i32::try_from(other.duration_since(day).as_hours() / 24).unwrap_or(i32::MAX)
}
