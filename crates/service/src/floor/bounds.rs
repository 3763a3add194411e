//! How much a phone may send, how deep it may nest, and how far its times may lie off.
//!
//! No bound drops anything. What is too large or too much stays on the phone with its reason; what has no
//! clear time is kept at the desk, and the phone asks when it was. Bounds are generous: a long session has
//! some sixty messages of a few hundred bytes.

use jiff::SignedDuration;

/// The largest batch, in bytes. What is longer isn't read at all; the page sends less at once.
pub const MOST_BATCH_BYTES: usize = 1 << 20;

/// The most messages in one batch.
pub const MOST_MESSAGES: usize = 500;

/// The largest message, in bytes of its JSON: a note of 2,000 characters in any script fits in.
pub const MOST_MESSAGE_BYTES: usize = 16 * 1024;

/// How deep a message may nest lists and objects. A phone's own messages are 1 deep.
pub const DEEPEST: usize = 8;

/// The most messages that one link can add on one day of the desk.
pub const MOST_A_DAY: u64 = 2_000;

/// The most bytes of messages that one link can add on one day of the desk.
pub const MOST_BYTES_A_DAY: u64 = 4 << 20;

/// How many days before its session's day something may have been done, unasked: the phone and the desk may
/// stand in different time zones.
pub const DAYS_BEFORE: i32 = 1;

/// How many days after its session's day something may have been done, unasked: a phone without a signal may
/// open the page of its last session.
pub const DAYS_AFTER: i32 = 14;

/// How far the clocks of phone and desk may be apart, and a phone's be put back between logging and sending, unasked.
pub const CLOCKS_APART: SignedDuration = SignedDuration::from_hours(24);

/// How many days before its session's day a lifter may say that something was done.
pub const SAID_DAYS_BEFORE: i32 = 366;
