//! A lifter's joints on record: pain as it was told, what loads each joint, which lifts the pain goes with,
//! and what could be done in their place.

use std::collections::BTreeMap;

use domain::{Catalogue, Joint, Lift, LifterName, Purpose, SetKind, When};
use engine::complaint::{PainVerdict, Rating, verdict};
use engine::pain::{Association, FEWEST_DAYS, FEWEST_PAINFUL, PainDay, associations, is_enough};
use engine::programme::joints::weight;
use engine::programme::swap::{gentler, likeness};
use engine::reading::percent;
use jiff::Span;
use jiff::civil::Date;
use serde::Serialize;

use crate::desk::Desk;
use crate::joints::stops::{ComplaintView, Stops};
use crate::programme::monday_of;
use crate::record::person::{Person, catalogue};
use crate::view::{Interval, all_as_text, as_text};
use crate::{ServiceError, words};

/// Weeks of load that are shown.
const SHOWN_WEEKS: i64 = 26;
/// Days after a session up to which pain told before the next one may come of it.
const COMES_OF_IT: f64 = 3.0;
/// Days within which a lift counts as one that is being trained.
const IN_USE_DAYS: f64 = 42.0;

/// What must be said wherever pain is shown.
pub const CAUTIONS: &str = "This shows what was told and what it goes with. It finds no cause, diagnoses nothing and \
    clears nobody to train. Pain that is new, strong, comes at rest or at night, grows set by set, or comes with \
    numbness, weakness, locking or giving way belongs before a licensed professional before the joint is loaded \
    again.";

/// What can't be seen from reports.
const LIMITS: &str = "A day on which nothing was told counts as a day without pain. Pain told after a session and before \
    the next, up to three days later, counts with that session. Lifts that are always done on the same days can't be \
    told apart, and whatever else the joint did isn't known.";

/// A lifter's joints.
#[derive(Clone, Debug, Serialize)]
pub struct JointsView {
    /// The lifter.
    pub lifter: String,
    /// The day for which it was made.
    #[serde(serialize_with = "as_text")]
    pub today: Date,
    /// What must be said of the whole record, such as that its people are invented.
    pub remark: Option<&'static str>,
    /// The rating from which on a lift is stopped.
    pub limit: u8,
    /// The complaints that stand, the worst first, each with the lifts in use that it stops.
    pub complaints: Vec<ComplaintView>,
    /// Joints of which pain was told, the one told last first.
    pub told: Vec<JointRecord>,
    /// Every joint's load in this week and the three before it, latest first, in weighted sets.
    pub loads: Vec<JointLoad>,
    /// The Mondays of those weeks.
    #[serde(serialize_with = "all_as_text")]
    pub weeks: Vec<Date>,
    /// What can't be seen from reports.
    pub limits: &'static str,
    /// The usual cautions.
    pub cautions: &'static str,
}

/// What is on record of one joint.
#[derive(Clone, Debug, Serialize)]
pub struct JointRecord {
    /// Its name.
    pub joint: &'static str,
    /// Whether the programme spares it.
    pub spared: bool,
    /// How often and how badly it hurt, as a sentence.
    pub summary: String,
    /// Every rating told, in order of time; the worst where a day has several.
    pub ratings: Vec<PainLine>,
    /// How much it was loaded in each of the last weeks, in order of time.
    pub weeks: Vec<JointWeekLine>,
    /// The lifts that load it, in groups of those that are always done on the same days; the group that its
    /// pain most probably goes with first, groups out of use last.
    pub groups: Vec<JointGroup>,
    /// Why nothing can be said of the lifts yet, if so.
    pub too_little: Option<String>,
}

/// One day's rating.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct PainLine {
    /// The day.
    #[serde(serialize_with = "as_text")]
    pub date: Date,
    /// The worst rating told on it, of 10.
    pub rating: u8,
}

/// One week's load of a joint.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct JointWeekLine {
    /// Its Monday.
    #[serde(serialize_with = "as_text")]
    pub monday: Date,
    /// Sets, each counted by how much its lift loads the joint.
    pub sets: f64,
}

/// Every joint's load of the last weeks.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct JointLoad {
    /// Its name.
    pub joint: &'static str,
    /// Weighted sets, in the order of [`JointsView::weeks`].
    pub sets: Vec<f64>,
}

/// Lifts that load a joint and are always done on the same days.
#[derive(Clone, Debug, Serialize)]
pub struct JointGroup {
    /// The lifts, the one that loads the joint most first.
    pub lifts: Vec<JointLift>,
    /// Whether one of them is being trained.
    pub in_use: bool,
    /// How the pain goes with them; none where too little is on record.
    pub pain: Option<GroupPain>,
}

/// How a joint's pain goes with lifts.
#[derive(Clone, Debug, Serialize)]
pub struct GroupPain {
    /// Days with them, and on how many of those pain was told.
    pub days_with: (usize, usize),
    /// Days without them, and on how many of those pain was told.
    pub days_without: (usize, usize),
    /// Points by which the rating is higher after a usual day of them, other lifts being equal.
    pub points: Interval,
    /// The probability that this is half a point or more.
    pub p_more: f64,
    /// All that in sentences.
    pub words: String,
}

/// One lift that loads a joint.
#[derive(Clone, Debug, Serialize)]
pub struct JointLift {
    /// The lift.
    pub lift: String,
    /// How much it loads the joint, from 0 to 1.
    pub load: f64,
    /// Whether it is being trained: planned, or done in the last six weeks.
    pub in_use: bool,
    /// A lift that trains most of the same and loads the joint less.
    pub swap: Option<JointSwap>,
}

/// A lift to take in another's place.
#[derive(Clone, Debug, Serialize)]
pub struct JointSwap {
    /// The lift.
    pub lift: String,
    /// How much it loads the joint, from 0 to 1.
    pub load: f64,
    /// How much of the same muscles it trains, from 0 to 1.
    pub alike: f64,
}

impl Desk {
    /// A lifter's joints as of a day.
    ///
    /// # Errors
    /// The store has trouble, or there is nobody of that name.
    pub fn joints(&self, name: &LifterName, today: Date) -> Result<JointsView, ServiceError> {
        let person = self.person(name)?;
        let known = catalogue(self.store())?;
        let stops = Stops::on(self, &person, today)?;
        let record = Record::of(&person, person.complaints(today)?, today);
        let mut told: Vec<JointRecord> = Joint::ALL
            .iter()
            .filter_map(|joint| record.joint(&person, &known, *joint, today))
            .collect();
        told.sort_by_key(|one| std::cmp::Reverse(one.ratings.last().map(|last| last.date)));
        let places = 0..record.lifts.len();
        let in_use: Vec<&Lift> = places
            .filter(|place| record.is_in_use(&person, *place, today))
            .map(|place| record.lifts[place])
            .collect();
        let weeks: Vec<Date> = (0..4).map(|back| weeks_back(today, back)).collect();
        let loads = Joint::ALL
            .iter()
            .map(|joint| JointLoad {
                joint: joint.label(),
                sets: weeks.iter().map(|monday| record.load_of_week(*joint, *monday)).collect(),
            })
            .filter(|load| load.sets.iter().any(|sets| *sets > 0.0))
            .collect();
        Ok(JointsView {
            lifter: person.lifter.name.to_string(),
            today,
            remark: self.remark()?,
            limit: person.lifter.limits.pain(),
            complaints: stops.complaints(in_use.into_iter()),
            told,
            loads,
            weeks,
            limits: LIMITS,
            cautions: CAUTIONS,
        })
    }
}

/// What a lifter trained, day by day, up to today.
struct Record<'a> {
    lifts: Vec<&'a Lift>,
    days: Vec<Day>,
    /// The complaints that stand.
    standing: Vec<Rating>,
}

/// One training day.
struct Day {
    date: Date,
    /// When its first set was done, as far as it is known.
    begun: When,
    /// Sets of each lift, warm-ups left out.
    sets: Vec<f64>,
}

impl<'a> Record<'a> {
    fn of(person: &'a Person, standing: Vec<Rating>, today: Date) -> Record<'a> {
        let lifts: Vec<&Lift> = person.history.lifts.iter().map(|one| &one.lift).collect();
        let mut days: BTreeMap<Date, Day> = BTreeMap::new();
        for (place, record) in person.history.lifts.iter().enumerate() {
            for set in record.sets.iter().filter(|set| set.when.date() <= today) {
                let new = || Day {
                    date: set.when.date(),
                    begun: set.when,
                    sets: vec![0.0; person.history.lifts.len()],
                };
                let day = days.entry(set.when.date()).or_insert_with(new);
                day.begun = day.begun.min(set.when);
                if set.kind != SetKind::WarmUp {
                    day.sets[place] += 1.0;
                }
            }
        }
        Record { lifts, days: days.into_values().collect(), standing }
    }

    /// Weighted sets of the week that begins on a Monday.
    fn load_of_week(&self, joint: Joint, monday: Date) -> f64 {
        let week = self.days.iter().filter(|day| monday_of(day.date) == monday);
        week.flat_map(|day| day.sets.iter().zip(&self.lifts))
            .map(|(sets, lift)| sets * weight(lift, joint))
            .sum()
    }

    /// What is on record of one joint; none if no pain was told of it.
    fn joint(
        &self,
        person: &Person,
        known: &Catalogue,
        joint: Joint,
        today: Date,
    ) -> Option<JointRecord> {
        let told: Vec<(When, u8)> = person
            .history
            .check_ins()
            .iter()
            .filter(|check_in| check_in.when.date() <= today)
            .filter_map(|check_in| Some((check_in.when, check_in.pain?)))
            .filter(|(_, pain)| pain.joint == joint)
            .map(|(when, pain)| (when, pain.rating()))
            .collect();
        let ratings = by_day(&told);
        ratings.iter().find(|line| line.rating > 0)?;
        let days = self.pain_days(&told);
        let loads: Vec<f64> = self.lifts.iter().map(|lift| weight(lift, joint)).collect();
        let painful = days.iter().filter(|day| day.worst > 0.0).count();
        let too_little = (!is_enough(&days)).then(|| {
            format!(
                "Which lifts it goes with can't be said yet: that needs {FEWEST_DAYS} training days, \
                 {FEWEST_PAINFUL} of them with pain; there are {} and {painful}.",
                days.len()
            )
        });
        let lift = |place: usize| self.joint_lift(person, known, (joint, place), today);
        let group = |lifts: Vec<JointLift>, pain| {
            let mut lifts = lifts;
            lifts.sort_by(|a, b| b.load.total_cmp(&a.load));
            JointGroup { in_use: lifts.iter().any(|lift| lift.in_use), lifts, pain }
        };
        let found = associations(&days, &loads);
        let mut groups: Vec<JointGroup> = if too_little.is_some() {
            let loading = (0..loads.len()).filter(|place| loads[*place] > 0.0);
            loading.map(|place| group(vec![lift(place)], None)).collect()
        } else {
            let pain = |found: &Association| {
                let (low, mid, high) = found.points;
                GroupPain {
                    days_with: found.with,
                    days_without: found.without,
                    points: Interval { low, mid, high },
                    p_more: found.p_more,
                    words: in_words(found),
                }
            };
            let of = |found: &Association| found.lifts.iter().map(|place| lift(*place)).collect();
            found.iter().map(|found| group(of(found), Some(pain(found)))).collect()
        };
        let likely = |group: &JointGroup| {
            let load = group.lifts.first().map_or(0.0, |lift| lift.load);
            (group.in_use, group.pain.as_ref().map_or(0.0, |pain| pain.p_more), load)
        };
        groups.sort_by(|a, b| {
            let (a, b) = (likely(a), likely(b));
            b.0.cmp(&a.0).then(b.1.total_cmp(&a.1)).then(b.2.total_cmp(&a.2))
        });
        let spared = person
            .schedule
            .as_ref()
            .is_some_and(|schedule| schedule.followed.programme.purpose.spare.contains(&joint));
        Some(JointRecord {
            joint: joint.label(),
            spared,
            summary: summary(&ratings, person.lifter.limits.pain(), today),
            weeks: (0..SHOWN_WEEKS)
                .rev()
                .map(|back| weeks_back(today, back))
                .map(|monday| JointWeekLine { monday, sets: self.load_of_week(joint, monday) })
                .collect(),
            ratings,
            groups,
            too_little,
        })
    }

    /// Each training day with the worst rating told after it began and before the next, up to
    /// [`COMES_OF_IT`] later.
    fn pain_days(&self, told: &[(When, u8)]) -> Vec<PainDay> {
        let worst = |place: usize| -> f64 {
            let (day, next) = (&self.days[place], self.days.get(place + 1));
            let counts = |when: When| {
                let is_after = when.date() > day.date || comes_after(when, day.begun);
                let is_before = next.is_none_or(|next| {
                    when.date() < next.date
                        || (when.date() == next.date && !comes_after(when, next.begun))
                });
                let is_soon = when.days() - day.begun.days() <= COMES_OF_IT;
                is_after && is_before && is_soon && when.date() >= day.date
            };
            let ratings = told.iter().filter(|(when, _)| counts(*when)).map(|(_, rating)| *rating);
            f64::from(ratings.max().unwrap_or(0))
        };
        let day = |(place, day): (usize, &Day)| PainDay {
            days: day.begun.days(),
            worst: worst(place),
            sets: day.sets.clone(),
        };
        self.days.iter().enumerate().map(day).collect()
    }

    /// Whether a lift is being trained: planned, or done lately.
    fn is_in_use(&self, person: &Person, place: usize, today: Date) -> bool {
        let is_with = |day: &&Day| day.sets[place] > 0.0;
        let last = self.days.iter().rev().find(is_with).map(|day| day.date);
        let since = last.map_or(f64::INFINITY, |last| {
            today.duration_since(last).as_hours() as f64 / 24.0 // a few thousand days
        });
        since <= IN_USE_DAYS || person.next_slot(&self.lifts[place].name, today).is_some()
    }

    fn joint_lift(
        &self,
        person: &Person,
        known: &Catalogue,
        (joint, place): (Joint, usize),
        today: Date,
    ) -> JointLift {
        let lift = self.lifts[place];
        let in_use = self.is_in_use(person, place, today);
        JointLift {
            lift: lift.name.to_string(),
            load: weight(lift, joint),
            in_use,
            swap: swap_for(person, known, (lift, joint), &self.standing).filter(|_| in_use),
        }
    }
}

/// Whether something told on the day of a session, or later, was told once it had begun; without a time it counts
/// with the session.
fn comes_after(told: When, begun: When) -> bool {
    match (told.time(), begun.time()) {
        (Some(told_at), Some(begun_at)) if told.date() == begun.date() => told_at >= begun_at,
        _ => told.date() >= begun.date(),
    }
}

fn by_day(told: &[(When, u8)]) -> Vec<PainLine> {
    let mut worst: BTreeMap<Date, u8> = BTreeMap::new();
    for (when, rating) in told {
        let line = worst.entry(when.date()).or_default();
        *line = (*line).max(*rating);
    }
    worst.into_iter().map(|(date, rating)| PainLine { date, rating }).collect()
}

fn summary(ratings: &[PainLine], limit: u8, today: Date) -> String {
    let painful: Vec<&PainLine> = ratings.iter().filter(|line| line.rating > 0).collect();
    let (Some(first), Some(last)) = (painful.first(), painful.last()) else {
        return String::new();
    };
    let worst = painful.iter().map(|line| line.rating).max().unwrap_or(0);
    let over = painful.iter().filter(|line| line.rating > limit).count();
    let over = match over {
        0 => format!("never above the limit of {limit}"),
        1 => format!("once above the limit of {limit}"),
        n => format!("{n} times above the limit of {limit}"),
    };
    let often = match painful.len() {
        1 => format!("Told once, {} of 10 on {}", last.rating, words::day(last.date, today)),
        n => format!(
            "Told on {n} days since {}, last {} of 10 on {}; at worst {worst}",
            words::day(first.date, today),
            last.rating,
            words::day(last.date, today)
        ),
    };
    format!("{often}, {over}.")
}

fn in_words(found: &Association) -> String {
    let (with, without) = (found.with, found.without);
    let (it, its) = if found.lifts.len() > 1 { ("them", "their") } else { ("it", "its") };
    let told = |(all, painful): (usize, usize)| match all {
        0 => "there is no day".to_owned(),
        _ => format!("on {painful} of {all} days"),
    };
    let (low, mid, high) = found.points;
    let how = if mid.abs() < 0.05 {
        format!("as high as without {it}")
    } else {
        let direction = if mid > 0.0 { "higher" } else { "lower" };
        format!("{:.1} {direction}", mid.abs())
    };
    format!(
        "Pain was told {} with {it}, {} without. After a day with {its} usual {:.0} sets the rating is {how} ({} to {} \
         eight times in ten), the other lifts being equal; that it is half a point or more higher is {} likely.",
        told(with),
        told(without),
        found.usual_sets,
        signed(low),
        signed(high),
        percent(found.p_more),
    )
}

fn signed(points: f64) -> String {
    let rounded = (10.0 * points).round() / 10.0 + 0.0;
    if rounded < 0.0 { format!("−{:.1}", -rounded) } else { format!("+{rounded:.1}") }
}

/// A lift that trains most of the same muscles with what is at hand, loads the joint less, and is stopped by no
/// complaint that stands.
fn swap_for(
    person: &Person,
    known: &Catalogue,
    (lift, joint): (&Lift, Joint),
    standing: &[Rating],
) -> Option<JointSwap> {
    let programme = person.schedule.as_ref().map(|schedule| &schedule.followed.programme);
    let purpose = programme.map_or_else(Purpose::default, |known| known.purpose.clone());
    let is_stopped = |other: &Lift| matches!(verdict(other, standing), PainVerdict::Stop(_));
    gentler(lift, joint, &purpose, known, &is_stopped).map(|other| JointSwap {
        lift: other.name.to_string(),
        load: weight(other, joint),
        alike: likeness(lift, other),
    })
}

fn weeks_back(today: Date, weeks: i64) -> Date {
    monday_of(today).saturating_sub(Span::new().weeks(weeks))
}
