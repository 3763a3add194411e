//! What is shown of a programme, as plain data in the reader's words.

use serde::Serialize;

/// A programme held against its ranges, its lifter and the catalogue.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CheckView {
    /// The programme's name.
    pub name: String,
    /// The lifter whose recovery was used, if any.
    pub lifter: Option<String>,
    /// The week looked at, from 1, and how many there are.
    pub week: (usize, usize),
    /// What the check goes by, as sentences: whose hours of recovery, and joints that complain; and which other
    /// weeks have remarks of their own.
    pub recovery: String,
    /// The findings, worst first.
    pub findings: Vec<FindingView>,
    /// The days.
    pub days: Vec<DayView>,
    /// The joints that are loaded at all.
    pub joints: Vec<JointView>,
    /// Lifts that call for a spotter or safety bars.
    pub spotted: Vec<String>,
    /// Cautions.
    pub cautions: &'static str,
}

/// One finding.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FindingView {
    /// `put right`, `change` or `consider`.
    pub urgency: &'static str,
    /// The day, or `week`.
    pub place: &'static str,
    /// What was found, as a sentence.
    pub words: String,
    /// What would do, as a sentence.
    pub cure: Option<String>,
    /// What a change that is made at a press or by a command would change, as a phrase; after it the finding is
    /// gone and no worse one has come. None if no small change does that, or if none was looked for.
    pub mend: Option<String>,
}

impl FindingView {
    /// Names a finding among those of its week.
    #[must_use]
    pub fn key(&self) -> String {
        format!("{}: {}", self.place, self.words)
    }
}

/// One day of a programme.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DayView {
    /// The weekday.
    pub weekday: &'static str,
    /// The minutes that it takes, estimated.
    pub minutes: u32,
    /// The minutes that there are, if told.
    pub minutes_there: Option<u16>,
    /// Work sets.
    pub sets: u32,
    /// Lifts.
    pub lifts: usize,
}

/// One joint's load.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct JointView {
    /// The joint.
    pub joint: &'static str,
    /// Whether the programme spares it.
    pub spared: bool,
    /// Whether it complains and the programme doesn't say so.
    pub complains: bool,
    /// Weighted work sets by day, in the order of the days.
    pub days: Vec<f64>,
    /// Weighted work sets in the week.
    pub week: f64,
}

/// The dose that a programme plans.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DoseView {
    /// The programme's name.
    pub name: String,
    /// The week looked at, from 1, and how many there are.
    pub week: (usize, usize),
    /// The weekdays, in order.
    pub weekdays: Vec<&'static str>,
    /// One row for each muscle that is trained or has a least dose.
    pub muscles: Vec<MuscleDose>,
    /// How sets are counted, and where the ranges come from, in paragraphs.
    pub notes: Vec<String>,
}

/// The dose of one muscle, in hard sets.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MuscleDose {
    /// The muscle.
    pub muscle: &'static str,
    /// Sets in which it is a prime mover.
    pub direct: f64,
    /// Sets in which it assists, by its weight.
    pub assisting: f64,
    /// Both together.
    pub total: f64,
    /// Both together by day.
    pub days: Vec<f64>,
    /// The range: least, aim, most.
    pub range: (f64, f64, f64),
    /// Whether the range is the programme's own.
    pub own_range: bool,
    /// `below least`, `below aim`, `in range` or `above most`.
    pub verdict: &'static str,
}
