//! What a coach would remark on a week: findings in plain words, worst first, each with a cure if there is
//! one.
//!
//! A finding is a remark and no verdict on a person: it knows the plan, the catalogue and hours of recovery,
//! and nothing of pain, health or technique. Nothing here diagnoses, or clears anybody to train.

pub(super) mod amount;
pub(super) mod lifts;
pub(super) mod order;
mod spacing;

use std::collections::BTreeMap;

use domain::{Catalogue, Joint, Lift, LiftName, Muscle};

use super::dose::WeekDose;
use super::hours::RecoveryHours;
use super::week::Week;
use crate::reading::gauge::WIDEST_SCATTER_PCT;

/// What a week is checked against.
#[derive(Clone, Copy, Debug)]
pub struct Ground<'a> {
    /// The lifts known.
    pub catalogue: &'a Catalogue,
    /// The hours that muscles need.
    pub hours: &'a RecoveryHours,
    /// Whether lifts are gauges by the lifter's own record, by the key of their names; others go by the
    /// scatter that their class starts with.
    pub gauges: &'a BTreeMap<String, bool>,
}

impl Ground<'_> {
    /// Whether the lead set of a lift can be read, or will be once its record is long enough.
    #[must_use]
    pub fn is_gauge(&self, lift: &Lift) -> bool {
        let usual = !lift.explosive && lift.starting_scatter_pct <= WIDEST_SCATTER_PCT;
        self.gauges.get(&lift.name.key()).copied().unwrap_or(usual)
    }
}

/// How much a finding asks for a change.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Urgency {
    /// It can't be done as written, or goes against what the programme says of itself.
    PutRight,
    /// Most coaches would change it.
    Change,
    /// Worth a thought.
    Consider,
}

impl Urgency {
    /// The words shown.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Urgency::PutRight => "put right",
            Urgency::Change => "change",
            Urgency::Consider => "consider",
        }
    }
}

/// What a finding is about, apart from its day: two findings of the same are one that is still there.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum About {
    TooLittle(Muscle),
    TooMuch(Muscle),
    TooMuchAtOnce(Muscle),
    TooLong,
    /// More of the first side than of the second; the muscles of each.
    OneSided(&'static [Muscle], &'static [Muscle]),
    NotAtHand(LiftName),
    Refused(LiftName),
    Spared(LiftName, Joint),
    Untrained(LiftName),
    HardlyTrained(LiftName),
    NoEarlyGauge,
    LateExplosive,
    BackAfterBack,
    LateRaised,
    TooSoon(Muscle),
}

/// One remark on a week.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// How much it asks for a change.
    pub urgency: Urgency,
    /// The day, or `week`.
    pub place: &'static str,
    /// What was found, against what.
    pub words: String,
    /// What would do, if something simple does.
    pub cure: Option<String>,
    /// What it is about.
    pub(super) about: About,
    /// How far off it is, to put findings of one urgency in order; 1 is as far as things usually are.
    pub(super) size: f64,
}

impl Finding {
    /// The joint to be spared that a lift loads, if that is what it is about.
    #[must_use]
    pub fn spared(&self) -> Option<Joint> {
        match self.about {
            About::Spared(_, joint) => Some(joint),
            _ => None,
        }
    }

    /// Whether both say the same of the same day, if by other numbers.
    #[must_use]
    pub fn is_like(&self, other: &Finding) -> bool {
        self.about == other.about && self.place == other.place
    }
}

/// The findings on a week, worst first.
#[must_use]
pub fn check(week: &Week<'_>, ground: &Ground<'_>) -> Vec<Finding> {
    let dose = WeekDose::of(week);
    let mut findings = Vec::new();
    lifts::check(week, ground, &mut findings);
    amount::check(week, &dose, ground, &mut findings);
    spacing::check(week, &dose, ground, &mut findings);
    order::check(week, ground, &mut findings);
    findings.sort_by(|a, b| a.urgency.cmp(&b.urgency).then(b.size.total_cmp(&a.size)));
    findings
}

/// The place of what concerns no day alone.
const WEEK: &str = "week";

/// Sets as people say them: `1 hard set`, `7.5 hard sets`.
fn hard_sets(sets: f64) -> String {
    let rounded = (sets * 10.0).round() / 10.0;
    if rounded == 1.0 { "1 hard set".to_owned() } else { format!("{rounded} hard sets") }
}
