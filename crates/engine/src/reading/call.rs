//! The call: go on, ease, stop, or no reading, with its reason as a sentence.
//!
//! Pain comes first and whatever the numbers say. The tool doesn't diagnose and clears nobody to
//! train: above the limit it says stop and sends to a licensed professional.

use domain::{Lift, Limits};

use super::Reading;
use super::gauge::Gauge;
use crate::complaint::{PainVerdict, Rating, verdict};
use crate::trend::Expectation;

const LOOK_ELSEWHERE: &str = " So far below, look for another reason before going on: the load on the bar, technique, \
                              pain, health.";

/// What to do about a lift now.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Call {
    /// Do the session as planned.
    GoOn,
    /// Cut this lift back now.
    Ease,
    /// Leave the lift: pain above the lifter's limit.
    Stop,
    /// The lead set can't be read; do the session as planned.
    NoReading,
}

impl Call {
    /// The call as it is written everywhere.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Call::GoOn => "go on",
            Call::Ease => "ease",
            Call::Stop => "stop",
            Call::NoReading => "no reading",
        }
    }
}

/// Time away from all training that a lifter is back from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Absence {
    /// How many days it lasted.
    pub days: f64,
    /// The share of strength that is probably still missing.
    pub missing: f64,
}

/// What surrounds a lead set.
#[derive(Clone, Copy, Debug)]
pub struct Circumstances<'a> {
    /// The lift.
    pub lift: &'a Lift,
    /// The coach's limits for this lifter.
    pub limits: &'a Limits,
    /// The verdict on the lift.
    pub gauge: &'a Gauge,
    /// Days since the lift was last done, if it was.
    pub days_since: Option<f64>,
    /// The last absence, if there was one and the model follows what it took.
    pub absence: Option<Absence>,
    /// The complaints that stand, see [`crate::complaint`].
    pub complaints: &'a [Rating],
    /// The reading, if there is one.
    pub reading: Option<&'a Reading>,
    /// The repetitions done in the lead set.
    pub reps: u16,
}

/// A call with its reason.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Ruling {
    /// What to do.
    pub call: Call,
    /// Why, as a sentence or two.
    pub reason: String,
}

/// A load is too far from the record's when the curve's doubt outweighs the lift's own luck.
const DOUBTFUL_LOAD: f64 = 1.0;

/// An absence still matters while more than this share of δ is probably missing.
const STILL_MISSING: f64 = 0.5;

/// Makes the call.
#[must_use]
pub fn rule(now: &Circumstances<'_>) -> Ruling {
    if let Some(reason) = pain_above_limit(now) {
        return Ruling { call: Call::Stop, reason };
    }
    let Some(reading) = now.reading else {
        return no_reading(nothing_to_read(now));
    };
    if let Some(reason) = why_unread(now).or_else(|| why_load_unread(&reading.expected)) {
        return no_reading(reason + look_elsewhere(now, reading));
    }
    by_threshold(now, reading)
}

/// Makes the call by the plain rule alone: `no_better` says whether the lead set was no better than
/// last time's, and none that there is nothing to compare. Pain and time away come first here too.
#[must_use]
pub fn rule_plainly(now: &Circumstances<'_>, no_better: Option<bool>) -> Ruling {
    if let Some(reason) = pain_above_limit(now) {
        return Ruling { call: Call::Stop, reason };
    }
    let Some(no_better) = no_better else {
        return no_reading(nothing_to_read(now));
    };
    if let Some(reason) = why_unread(now) {
        return no_reading(reason);
    }
    let (call, reason) = match no_better {
        true => (Call::Ease, "No better than last time."),
        false => (Call::GoOn, "Better than last time."),
    };
    Ruling { call, reason: reason.to_owned() }
}

/// Why no lead set of this lift is read on this day, whatever it shows, as a sentence; none if one is.
#[must_use]
pub fn why_unread(now: &Circumstances<'_>) -> Option<String> {
    if !now.gauge.is_gauge {
        return Some(now.gauge.reason.clone());
    }
    if let Some(days) = now.days_since.filter(|days| *days > Limits::AWAY_DAYS) {
        return Some(format!(
            "{days:.0} days since this lift was last done: take the first session back lighter and \
             don't read it."
        ));
    }
    let back = now.absence?;
    let matters = STILL_MISSING * now.limits.shortfall_pct() / 100.0;
    (back.missing > matters).then(|| {
        let pct = 100.0 * back.missing;
        let pct = if pct < 1.0 { format!("{pct:.1}") } else { format!("{pct:.0}") };
        format!(
            "Back after {:.0} days away: about {pct}\u{a0}% of strength is probably still missing and comes \
             back within weeks; do the session as targeted and don't read it.",
            back.days
        )
    })
}

/// Why no lead set with the forecast's load is read, whatever it shows, as a sentence; none if one is.
#[must_use]
pub fn why_load_unread(expected: &Expectation) -> Option<String> {
    let own = expected.luck_variance - expected.curve_doubt;
    (expected.curve_doubt > DOUBTFUL_LOAD * own).then(|| {
        "The load is too far from those on record: a set with it says little about the trend."
            .to_owned()
    })
}

fn nothing_to_read(now: &Circumstances<'_>) -> String {
    match now.days_since {
        None => "The first lead set on record: nothing to hold it against yet.".to_owned(),
        Some(_) => "More than 20 repetitions to failure: too long a set to be read.".to_owned(),
    }
}

fn by_threshold(now: &Circumstances<'_>, reading: &Reading) -> Ruling {
    let (low, likely, high) = reading.expected.reps_interval();
    let told = format!(
        "{} {} where {likely:.0} {} likely ({low:.0} to {high:.0} eight times in ten)",
        now.reps,
        if now.reps == 1 { "rep" } else { "reps" },
        if likely.round() == 1.0 { "was" } else { "were" }
    );
    let percent = percent(reading.p_shortfall);
    let muscles = now.lift.prime_movers();
    let shortfall = now.limits.shortfall_pct();
    let threshold = now.limits.threshold();
    if reading.p_shortfall > threshold {
        let how = if reading.p_shortfall > 0.5 { "Probably" } else { "Possibly" };
        let reason = format!(
            "{told}. {how} not recovered: {muscles}; {percent} that the lift is more than {shortfall}\u{a0}% \
             under its usual, above the limit of {:.0}\u{a0}%.{}",
            100.0 * threshold,
            look_elsewhere(now, reading)
        );
        return Ruling { call: Call::Ease, reason };
    }
    let reason = format!(
        "{told}: {percent} that the lift is more than {shortfall}\u{a0}% under its usual.{}",
        look_elsewhere(now, reading)
    );
    Ruling { call: Call::GoOn, reason }
}

/// What is added after far too few repetitions, whatever the call: neither scatter nor a want of recovery is a
/// likely reason then.
fn look_elsewhere(now: &Circumstances<'_>, reading: &Reading) -> &'static str {
    if reading.expected.is_far_below(now.reps) { LOOK_ELSEWHERE } else { "" }
}

fn pain_above_limit(now: &Circumstances<'_>) -> Option<String> {
    let PainVerdict::Stop(complaint) = verdict(now.lift, now.complaints) else { return None };
    Some(format!(
        "Pain of {} in the {}, above the limit of {}: leave this lift until a newer rating lies no higher than \
         that, and see a licensed professional.",
        complaint.pain.rating(),
        complaint.pain.joint.label(),
        now.limits.pain()
    ))
}

fn no_reading(reason: String) -> Ruling {
    Ruling { call: Call::NoReading, reason }
}

/// A probability as a whole percentage, never 0 or 100.
#[must_use]
pub fn percent(p: f64) -> String {
    match 100.0 * p {
        x if x < 1.0 => "under 1\u{a0}%".to_owned(),
        x if x > 99.0 => "over 99\u{a0}%".to_owned(),
        x => format!("{x:.0}\u{a0}%"),
    }
}
