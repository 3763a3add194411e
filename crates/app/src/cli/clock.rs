//! The clock, read here and nowhere else.

use jiff::civil::Date;
use jiff::{Timestamp, ZonedDateTime};

/// This moment.
pub(crate) fn now() -> Timestamp {
    Timestamp::now()
}

/// Today's date in the time zone of this machine.
pub(crate) fn today() -> Date {
    ZonedDateTime::now().date()
}
