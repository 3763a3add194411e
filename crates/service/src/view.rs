//! What pages, commands and the card show: plain data in the reader's words.
//!
//! Built by [`crate::record_of`], [`crate::session::card`] and their neighbours; drawn by the app. Loads are
//! in the lifter's unit, estimates carry their interval, and every verdict carries its sentence.

use domain::{Load, Unit};
use jiff::Timestamp;
use jiff::civil::Date;
use serde::Serialize;

use crate::forms::{Fields, Problems};
pub use crate::joints::stops::{ComplaintView, StopView, StoppedLift};
pub use crate::lift::view::{Extent, LATELY_DAYS};

/// What to do about a lift. The words are shown as they are.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum CallWord {
    /// Do the session as planned.
    GoOn,
    /// Cut this lift back now.
    Ease,
    /// Leave the lift: pain above the limit.
    Stop,
    /// The lead set can't be read; do the session as planned.
    NoReading,
}

impl CallWord {
    /// All calls.
    pub const ALL: [CallWord; 4] =
        [CallWord::GoOn, CallWord::Ease, CallWord::Stop, CallWord::NoReading];

    /// The call as it is written everywhere.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            CallWord::GoOn => "go on",
            CallWord::Ease => "ease",
            CallWord::Stop => "stop",
            CallWord::NoReading => "no reading",
        }
    }
}

/// A middle value with the bounds between which it lies eight times in ten.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Interval {
    /// Lower bound of the 80 % interval.
    pub low: f64,
    /// Middle.
    pub mid: f64,
    /// Upper bound of the 80 % interval.
    pub high: f64,
}

/// The page of all lifters.
#[derive(Clone, Debug, Serialize)]
pub struct SquadView {
    /// The day for which it was made.
    #[serde(serialize_with = "as_text")]
    pub today: Date,
    /// What must be said of the whole record, such as that its people are invented.
    pub remark: Option<&'static str>,
    /// Everybody who has been read, most urgent first.
    pub lifters: Vec<LifterLine>,
    /// The names of those whose record is still to be read.
    pub unread: Vec<String>,
}

/// One lifter among all.
#[derive(Clone, Debug, Serialize)]
pub struct LifterLine {
    /// The name.
    pub name: String,
    /// Number of sets on record.
    pub sets: u64,
    /// Number of lifts on record.
    pub lifts: usize,
    /// The last day with a set.
    #[serde(serialize_with = "as_text_if_any")]
    pub last: Option<Date>,
    /// Why to look at this lifter, as a sentence; or that nothing asks for it.
    pub reason: String,
    /// The calls of the last session, lift by lift.
    pub last_calls: Vec<(String, CallWord)>,
}

/// The page of one lifter.
#[derive(Clone, Debug, Serialize)]
pub struct LifterView {
    /// The name.
    pub name: String,
    /// The unit of every load here.
    #[serde(serialize_with = "unit_as_text")]
    pub unit: Unit,
    /// The day for which it was made.
    #[serde(serialize_with = "as_text")]
    pub today: Date,
    /// What must be said of the whole record, such as that its people are invented.
    pub remark: Option<&'static str>,
    /// The reason to look, as on the page of all lifters.
    pub reason: String,
    /// The complaints that stand, the worst first.
    pub complaints: Vec<ComplaintView>,
    /// Body mass as last told, in the lifter's unit.
    pub body_mass: Option<f64>,
    /// What the programme is called; none if there is none.
    pub programme: Option<String>,
    /// The next sessions of the programme, the first of them for today.
    pub next: Vec<NextSessionView>,
    /// The dose of this week so far against the programme's; empty without one.
    pub dose: Vec<DoseLine>,
    /// Every muscle that the lifts train, the one most in doubt first.
    pub muscles: Option<MusclesView>,
    /// Lifts, the latest used first.
    pub lifts: Vec<LiftView>,
    /// What the fit of this lifter's parameters says of itself, as a sentence.
    pub fit: String,
    /// The last check-ins, latest first.
    pub check_ins: Vec<CheckInLine>,
}

/// A session to come.
#[derive(Clone, Debug, Serialize)]
pub struct NextSessionView {
    /// The day for which its card is made.
    #[serde(serialize_with = "as_text")]
    pub date: Date,
    /// Where its lifts come from, as a sentence.
    pub basis: String,
    /// The lifts in order.
    pub lifts: Vec<String>,
}

/// What one muscle was given this week and is to get, in hard sets.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct DoseLine {
    /// The muscle.
    pub muscle: &'static str,
    /// Done in the week before, Monday to Sunday.
    pub last_week: f64,
    /// Done this week, up to the day for which it was made.
    pub so_far: f64,
    /// What the programme plans for this week.
    pub planned: f64,
}

/// A lifter's muscles on the days before, now, and in the next days if nothing is trained.
#[derive(Clone, Debug, Serialize)]
pub struct MusclesView {
    /// How far below usual counts as short, in %.
    pub short_from_pct: f64,
    /// The days before, the earliest first; none before the record begins.
    #[serde(serialize_with = "all_as_text")]
    pub past: Vec<Date>,
    /// The days looked at, the first of them now.
    #[serde(serialize_with = "all_as_text")]
    pub days: Vec<Date>,
    /// The muscles.
    pub muscles: Vec<MuscleView>,
}

/// One muscle.
#[derive(Clone, Debug, Serialize)]
pub struct MuscleView {
    /// Its name.
    pub muscle: &'static str,
    /// Hours until it is back to usual with a probability of 80 % if it isn't trained: 0 if it is now,
    /// none if not within ten days.
    pub hours_until_usual: Option<f64>,
    /// Its state at the end of each day of [`MusclesView::past`], as it was believed then.
    pub past: Vec<MuscleDay>,
    /// Its state on each day of [`MusclesView::days`].
    pub days: Vec<MuscleDay>,
}

/// One muscle on one day.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct MuscleDay {
    /// How far it is under its usual, in % of the strength of a lift that it would do alone; below 0 if
    /// it is fresher than usual.
    pub shortfall_pct: Interval,
    /// The probability that it is short.
    pub p_short: f64,
}

/// Why a lift is flat or falling, as odds.
#[derive(Clone, Debug, Serialize)]
pub struct WhyView {
    /// Mean of the last four lead sets less that of the four before, in % of the 1RM shown.
    pub change_pct: f64,
    /// The causes, the likeliest first.
    pub causes: Vec<CauseView>,
}

/// One cause.
#[derive(Clone, Debug, Serialize)]
pub struct CauseView {
    /// The cause in words.
    pub cause: &'static str,
    /// The probability that it is the largest part of what is missing and takes at least 1 % off; ordinary
    /// scatter has what is left.
    pub odds: f64,
    /// What speaks for or against it, as a sentence.
    pub evidence: String,
}

/// One check-in in words.
#[derive(Clone, Debug, Serialize)]
pub struct CheckInLine {
    /// Date, with time if known, as ISO 8601.
    pub when: String,
    /// Items in words: `slept 6.5 h`, `stress 5 of 7`, `pain in the elbow 6 of 10`.
    pub items: Vec<String>,
    /// Whether pain was above the lifter's limit.
    pub over_limit: bool,
}

/// One lift of one lifter.
#[derive(Clone, Debug, Serialize)]
pub struct LiftView {
    /// The lift's name.
    pub name: String,
    /// What it is done with, in words.
    pub equipment: String,
    /// Its prime movers, in words.
    pub prime_movers: String,
    /// What a load means, if it needs saying: `per hand`, `added to body mass`.
    pub load_meaning: Option<&'static str>,
    /// The unit of every load here.
    #[serde(serialize_with = "unit_as_text")]
    pub unit: Unit,
    /// Every lead set, in order of time; on a page that shows all lifts, those of the last half-year.
    pub points: Vec<PointView>,
    /// How many lead sets came before these.
    pub earlier_points: usize,
    /// Today's 1RM as a load of this lift, in the lifter's unit.
    pub one_rm: Option<Interval>,
    /// The trend, in % a week.
    pub trend_pct_per_week: Option<Interval>,
    /// The lift's scatter, a CV in %.
    pub scatter_pct: Interval,
    /// Where its class starts, a CV in %.
    pub class_scatter_pct: f64,
    /// Whether its lead set can be read.
    pub is_gauge: bool,
    /// Why it can or can't, as a sentence.
    pub gauge_reason: String,
    /// How often each rule would be right and wrong on this very lift; not on a page that shows all lifts.
    pub chances: Option<ChanceView>,
    /// Why the lift is not done, if a complaint stops it.
    pub stop: Option<StopView>,
    /// The next lead set; none while a complaint stops the lift.
    pub target: Option<TargetView>,
    /// The odds of why, if the lift is flat or falling.
    pub why: Option<WhyView>,
}

/// One lead set, with what was expected of it.
#[derive(Clone, Debug, Serialize)]
pub struct PointView {
    /// Date, with time if known, as ISO 8601.
    pub when: String,
    /// Days since 1970-01-01, for the axis.
    pub days: f64,
    /// `work` or `test`.
    pub kind: &'static str,
    /// The load, in the lifter's unit.
    #[serde(serialize_with = "as_text")]
    pub load: Load,
    /// Repetitions done.
    pub reps: u16,
    /// Repetitions in reserve, if told.
    pub rir: Option<f64>,
    /// The 1RM that the set shows, as a load in the lifter's unit; none for a set too long to be read.
    pub one_rm_seen: Option<f64>,
    /// The 1RM that was expected to show, as a load in the lifter's unit.
    pub one_rm_expected: Option<Interval>,
    /// The lifter's usual 1RM at that time as it looks from the whole record, later sets too, as a load
    /// in the lifter's unit. For charts: a reading never uses it.
    pub one_rm_usual: Option<f64>,
    /// The repetitions that were expected at this load and reserve.
    pub reps_expected: Option<Interval>,
    /// The probability of a shortfall.
    pub p_shortfall: Option<f64>,
    /// The call.
    pub call: CallWord,
    /// Whether the plain rule ("no better than last time") would have cut back; empty at the first.
    pub plain_rule: Option<bool>,
    /// Why, as a sentence.
    pub reason: String,
}

/// The page of one lift of one lifter.
#[derive(Clone, Debug)]
pub struct LiftPageView {
    /// The lifter.
    pub lifter: String,
    /// The unit of every load here but those of [`LiftPageView::sets`], which stand as they were written.
    pub unit: Unit,
    /// The day for which it was made.
    pub today: Date,
    /// What must be said of the whole record, such as that its people are invented.
    pub remark: Option<&'static str>,
    /// The lift.
    pub lift: LiftView,
    /// What the two costs make of it.
    pub costs: CostsView,
    /// Every set on record, the latest first.
    pub sets: Vec<SetLine>,
    /// The sets that were ever corrected or withdrawn, the latest change first.
    pub amended: Vec<AmendedSet>,
}

/// The two costs in force and those that are being tried.
#[derive(Clone, Debug)]
pub struct CostsView {
    /// What the costs in force make of the lift.
    pub in_force: CostsEffect,
    /// What the costs that are being tried would make of it; none if none are.
    pub chosen: Option<CostsEffect>,
    /// The shortfall that counts, in %.
    pub shortfall_pct: f64,
    /// The form: the costs that are being tried, or those in force.
    pub fields: Fields,
    /// What is wrong with the form.
    pub problems: Problems,
}

/// What two costs make of a lift.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CostsEffect {
    /// The cost of losing a session's sets for nothing.
    pub cut_for_nothing: f64,
    /// The cost of training on top of a shortfall.
    pub trained_through: f64,
    /// The probability of a shortfall above which the lift is eased.
    pub threshold: f64,
    /// How often each rule would be right and wrong; none unless the lift is a gauge.
    pub chances: Option<ChanceView>,
    /// How many of the lead sets that were read would have been eased.
    pub eased: usize,
    /// How many lead sets were read.
    pub read: usize,
}

/// One set as it was written down.
#[derive(Clone, Debug, PartialEq)]
pub struct SetLine {
    /// Its id.
    pub id: String,
    /// Date, with time if known, as ISO 8601.
    pub when: String,
    /// The lift, as it was written.
    pub lift: String,
    /// Its place within the lift and session, from 1.
    pub number: u8,
    /// `warm-up`, `work`, `speed` or `test`.
    pub kind: &'static str,
    /// The load, in the unit in which it was written.
    pub load: Load,
    /// Repetitions done.
    pub reps: u16,
    /// Repetitions in reserve, if told.
    pub rir: Option<f64>,
    /// A remark.
    pub note: String,
    /// The call, if it was a lead set and that is known here.
    pub call: Option<CallWord>,
}

/// A set with everything that was said of it.
#[derive(Clone, Debug, PartialEq)]
pub struct AmendedSet {
    /// The id under which it is found now.
    pub id: String,
    /// Whether it is withdrawn.
    pub is_withdrawn: bool,
    /// Its versions, oldest first; the last is in force.
    pub versions: Vec<SetVersionLine>,
}

/// One version of a set.
#[derive(Clone, Debug, PartialEq)]
pub struct SetVersionLine {
    /// What was said.
    pub set: SetLine,
    /// Whether it was taken back.
    pub is_withdrawn: bool,
    /// Why; empty for a first version.
    pub reason: String,
    /// When it was recorded.
    pub recorded: Timestamp,
    /// From where: a log's name, or what was done.
    pub source: String,
}

/// One set with its form and its history.
#[derive(Clone, Debug)]
pub struct SetPageView {
    /// The lifter.
    pub lifter: String,
    /// The lift, by its name in the catalogue.
    pub lift: String,
    /// The id by which the set was asked for.
    pub id: String,
    /// Whether it is withdrawn.
    pub is_withdrawn: bool,
    /// The form, filled in with what is in force.
    pub fields: Fields,
    /// Every lift of the catalogue.
    pub known_lifts: Vec<String>,
    /// Its versions, oldest first.
    pub versions: Vec<SetVersionLine>,
}

/// How often each rule would be right and wrong on one lift, as probabilities.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct ChanceView {
    /// The probability of a shortfall above which the lift is eased.
    pub threshold: f64,
    /// How often an ordinary day would be called short.
    pub false_alarm: f64,
    /// How often a true shortfall of 2, 3 and 5 % would be caught.
    pub caught: [f64; 3],
    /// The same for the plain rule: how often it fires on an ordinary day.
    pub plain_false_alarm: f64,
    /// How often the plain rule catches 2, 3 and 5 %.
    pub plain_caught: [f64; 3],
}

/// One lead set read by hand.
#[derive(Clone, Debug, Serialize)]
pub struct ReadingView {
    /// The lift's name.
    pub lift: String,
    /// The set with what was expected and what it says.
    pub point: PointView,
    /// What follows, as a sentence.
    pub then: String,
    /// The odds of why, if the lift is flat or falling with this set.
    pub why: Option<WhyView>,
}

/// The next lead set of a lift.
#[derive(Clone, Debug, Serialize)]
pub struct TargetView {
    /// The load, in the lifter's unit.
    #[serde(serialize_with = "as_text")]
    pub load: Load,
    /// Repetitions to do.
    pub reps: u16,
    /// Repetitions to keep in reserve.
    pub rir: Option<f64>,
    /// Work sets in all, the lead set among them.
    pub sets: u8,
    /// The chance of making it, if the record is long enough to say.
    pub chance: Option<f64>,
    /// Why there is none, as a sentence.
    pub why_no_chance: Option<&'static str>,
    /// Why this target, as a sentence.
    pub why: String,
}

/// One session for one lifter, ready to print.
#[derive(Clone, Debug, Serialize)]
pub struct CardView {
    /// The lifter.
    pub lifter: String,
    /// The day.
    #[serde(serialize_with = "as_text")]
    pub date: Date,
    /// The unit of every load here.
    #[serde(serialize_with = "unit_as_text")]
    pub unit: Unit,
    /// Where the list of lifts comes from, as a sentence.
    pub basis: String,
    /// What to heed before starting, one line each: complaints to ask about, re-entry, missing body mass.
    pub notes: Vec<String>,
    /// The lifts of the session that are not done while a complaint stands, in order.
    pub stopped: Vec<StoppedLift>,
    /// The other lifts in order.
    pub lifts: Vec<CardLift>,
    /// What is believed of the lifts before the session, for reading later ones in the light of earlier
    /// ones without a connection; none if no model follows all lifts together.
    pub session: Option<SessionView>,
    /// The usual cautions in one line.
    pub cautions: String,
}

/// The belief about a session's lifts before it starts, with the dose planned in between. Quantities 3k,
/// 3k + 1 and 3k + 2 belong to the lift on place k: capacity and capacity less usual, both in ln 1RM with
/// the 1RM as mass moved in kg, and ln b of the lift's own load–rep curve less that of the common one.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SessionView {
    /// Means.
    pub mean: Vec<f64>,
    /// Covariance, by rows.
    pub covariance: Vec<Vec<f64>>,
    /// The shortfall that counts, as a fraction.
    pub shortfall: f64,
    /// The probability of a shortfall above which a lift is eased.
    pub threshold: f64,
    /// The share of the published error variance of a reserve that varies from set to set.
    pub reserve_share: f64,
    /// b of the common load–rep curve: a set shows ln(mass moved) + ln(1 + b·(repetitions + reserve)).
    pub curve_b: f64,
    /// The share of lead sets whose noise is wide.
    pub freak_share: f64,
    /// How many times the usual standard deviation the wide noise has.
    pub freak_widening: f64,
    /// Of the wide sets, the share that is the lift's capacity that day.
    pub freak_of_day: f64,
    /// The lifts, in order.
    pub lifts: Vec<SessionLift>,
}

/// What a lead set of one lift in a session is held against.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SessionLift {
    /// The lift's name, as on the card.
    pub name: String,
    /// Its place among the quantities, from 0.
    pub place: usize,
    /// The mass moved with the target's load, in kg.
    pub moved_kg: f64,
    /// The reserve with which the lead set is planned, in repetitions.
    pub reserve: f64,
    /// Variance of what the lift's lead sets show beyond capacity, counting and reserve.
    pub luck_variance: f64,
    /// The ln 1RM that the lift's latest lead sets showed on the common curve.
    pub usual_shown: f64,
    /// b·n/(1 + b·n) at the repetitions to failure that those sets let expect.
    pub usual_lean: f64,
    /// Whether the lift is read that day at all; a load far from those on record isn't in any case.
    pub is_read: bool,
}

/// One lift on a card.
#[derive(Clone, Debug, Serialize)]
pub struct CardLift {
    /// The lift's name.
    pub name: String,
    /// Its prime movers, in words.
    pub prime_movers: String,
    /// What a load means, if it needs saying.
    pub load_meaning: Option<&'static str>,
    /// Whether a spotter or safety bars belong to it.
    pub spotter: bool,
    /// Warm-up sets, lightest first; may be none.
    pub warm_ups: Vec<CardSet>,
    /// The lead set's target.
    pub lead: CardSet,
    /// Repetitions to keep in reserve in the lead set.
    pub lead_rir: Option<f64>,
    /// The chance of making the target.
    pub chance: Option<f64>,
    /// Why there is none, as a sentence.
    pub why_no_chance: Option<&'static str>,
    /// What the lead set is likely to show, as a phrase: `7 likely, 6 to 8 eight times in ten`.
    pub expected: Option<String>,
    /// Whether this lift's lead set is read, and why.
    pub gauge_reason: String,
    /// What each number of repetitions will mean, best first; empty if the lift isn't read.
    pub outcomes: Vec<OutcomeRow>,
    /// The remaining work sets as planned.
    pub remaining: Vec<CardSet>,
    /// Why this target, as a sentence.
    pub why: String,
}

/// One set on a card.
#[derive(Clone, Debug, Serialize)]
pub struct CardSet {
    /// The load, in the lifter's unit; none if none is known, so that it has to be found.
    #[serde(serialize_with = "as_text_if_any")]
    pub load: Option<Load>,
    /// Repetitions.
    pub reps: u16,
    /// Plates on each side, heaviest first, in words: `20 + 5 + 1.25`; empty bar: `bar only`.
    pub plates: Option<String>,
}

/// What a number of repetitions in the lead set will mean.
#[derive(Clone, Debug, Serialize)]
pub struct OutcomeRow {
    /// The repetitions, in words: `8 or more`, `6 or 7`, `5 or fewer`.
    pub reps: String,
    /// The call.
    pub call: CallWord,
    /// The probability of a shortfall at the ends of the row, lowest first.
    pub p_shortfall: (f64, f64),
    /// What follows: the remaining sets, or speed work with its load.
    pub then: String,
}

pub(crate) fn as_text<T: std::fmt::Display, S: serde::Serializer>(
    value: &T,
    to: S,
) -> Result<S::Ok, S::Error> {
    to.collect_str(value)
}

pub(crate) fn all_as_text<T: std::fmt::Display, S: serde::Serializer>(
    values: &[T],
    to: S,
) -> Result<S::Ok, S::Error> {
    to.collect_seq(values.iter().map(T::to_string))
}

fn as_text_if_any<T: std::fmt::Display, S: serde::Serializer>(
    value: &Option<T>,
    to: S,
) -> Result<S::Ok, S::Error> {
    match value {
        Some(value) => to.collect_str(value),
        None => to.serialize_none(),
    }
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "serde hands fields over by reference")]
fn unit_as_text<S: serde::Serializer>(unit: &Unit, to: S) -> Result<S::Ok, S::Error> {
    to.serialize_str(unit.as_str())
}
