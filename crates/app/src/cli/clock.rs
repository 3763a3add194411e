//! The clock, and what the machine has to give: read here and nowhere else.

use std::num::NonZero;

use domain::When;
use jiff::civil::{Date, DateTime};
use jiff::tz::TimeZone;
use jiff::{Timestamp, ZonedDateTime};

/// This moment.
pub(crate) fn now() -> Timestamp {
    Timestamp::now()
}

/// This moment by the clock of this machine.
pub(crate) fn local_now() -> DateTime {
    ZonedDateTime::now().datetime()
}

/// A moment by the clock of this machine.
pub(crate) fn local(at: Timestamp) -> DateTime {
    zone().to_datetime(at)
}

/// Today's date in the time zone of this machine.
pub(crate) fn today() -> Date {
    ZonedDateTime::now().date()
}

/// A day with the time of day that it is now in the time zone of this machine.
pub(crate) fn moment_on(date: Date) -> Result<When, domain::Refused> {
    When::new(date, Some(ZonedDateTime::now().time()))
}

/// The time zone of this machine.
pub(crate) fn zone() -> TimeZone {
    TimeZone::system()
}

/// How many threads this machine runs at once.
pub(crate) fn threads() -> usize {
    std::thread::available_parallelism().map_or(1, NonZero::get)
}
