//! The clock, and what the machine has to give: read here and nowhere else.

use std::num::NonZero;

use jiff::civil::Date;
use jiff::tz::TimeZone;
use jiff::{Timestamp, ZonedDateTime};

/// This moment.
pub(crate) fn now() -> Timestamp {
    Timestamp::now()
}

/// Today's date in the time zone of this machine.
pub(crate) fn today() -> Date {
    ZonedDateTime::now().date()
}

/// The time zone of this machine.
pub(crate) fn zone() -> TimeZone {
    TimeZone::system()
}

/// How many threads this machine runs at once.
pub(crate) fn threads() -> usize {
    std::thread::available_parallelism().map_or(1, NonZero::get)
}
