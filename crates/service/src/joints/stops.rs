//! Lifts that are not done while a complaint of a joint stands: what stands in the place of their target.
//!
//! Which they are is decided by [`engine::complaint`] alone; here is what is said of them, and the lifts to take
//! instead. Nothing here diagnoses, and nothing clears anybody to train.

use domain::{Catalogue, CheckIn, Joint, Lift, LifterName, Pain, Purpose, When};
use engine::complaint::{PainVerdict, Rating, newest, verdict};
use engine::programme::swap::substitute_but;
use jiff::Timestamp;
use jiff::civil::Date;
use serde::Serialize;
use store::OnDifference;

use crate::ServiceError;
use crate::desk::Desk;
use crate::forms::{Fields, FormError, Problems};
use crate::record::person::{Person, catalogue, lifter};
use crate::view::as_text;
use crate::words;

/// The most lifts that are named to take in the place of one.
const MOST_INSTEAD: usize = 2;

/// Why a lift is not done, and what to do instead.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct StopView {
    /// The joint.
    pub joint: &'static str,
    /// Its newest rating, of 10.
    pub rating: u8,
    /// The day on which that was reported.
    #[serde(serialize_with = "as_text")]
    pub reported: Date,
    /// The highest rating that stops nothing.
    pub limit: u8,
    /// Lifts for the same muscles that don't plainly load the joint; may be none.
    pub instead: Vec<String>,
    /// All that in sentences, with the usual advice.
    pub words: String,
}

/// A lift of a card that is not done.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct StoppedLift {
    /// The lift's name.
    pub name: String,
    /// Its prime movers, in words.
    pub prime_movers: String,
    /// Why, and what to do instead.
    pub stop: StopView,
}

/// A complaint that stands, to be asked about until a newer rating answers it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ComplaintView {
    /// The joint, as forms and commands name it.
    pub key: &'static str,
    /// The joint, as people name it.
    pub joint: &'static str,
    /// Its newest rating, of 10.
    pub rating: u8,
    /// The day on which that was reported.
    #[serde(serialize_with = "as_text")]
    pub reported: Date,
    /// The highest rating that stops nothing.
    pub limit: u8,
    /// The lifts at hand that are not done while it stands.
    pub stops: Vec<String>,
    /// What is known and the question, in sentences.
    pub words: String,
}

/// The complaints that stand for a lifter on a day, with what is needed to name other lifts.
pub(crate) struct Stops {
    standing: Vec<Rating>,
    limit: u8,
    date: Date,
    purpose: Purpose,
    catalogue: Option<Catalogue>,
}

impl Stops {
    /// What stands by everything reported up to the end of a day.
    pub(crate) fn on(desk: &Desk, person: &Person, date: Date) -> Result<Stops, ServiceError> {
        let standing = person.complaints(date)?;
        Stops::of(desk, person, standing, date)
    }

    /// These complaints.
    pub(crate) fn of(
        desk: &Desk,
        person: &Person,
        standing: Vec<Rating>,
        date: Date,
    ) -> Result<Stops, ServiceError> {
        let programme = person.schedule.as_ref().map(|schedule| &schedule.followed.programme);
        let known = (!standing.is_empty()).then(|| catalogue(desk.store())).transpose()?;
        Ok(Stops {
            standing,
            limit: person.lifter.limits.pain(),
            date,
            purpose: programme.map_or_else(Purpose::default, |known| known.purpose.clone()),
            catalogue: known,
        })
    }

    /// Whether a lift is not done.
    pub(crate) fn is_stopped(&self, lift: &Lift) -> bool {
        matches!(verdict(lift, &self.standing), PainVerdict::Stop(_))
    }

    /// Why a lift is not done, and what to do instead; none if it may be done. `is_taken` says which lifts are
    /// there already.
    pub(crate) fn view(&self, lift: &Lift, is_taken: &dyn Fn(&Lift) -> bool) -> Option<StopView> {
        let PainVerdict::Stop(complaint) = verdict(lift, &self.standing) else { return None };
        let instead = self.instead_of(lift, is_taken);
        let (pain, joint) = (complaint.pain, complaint.pain.joint.label());
        let what = match instead.as_slice() {
            [] => "Leave it out".to_owned(),
            names => {
                let verb = if names.len() == 1 { "doesn't" } else { "don't" };
                let names = names.join(" or ");
                format!("Leave it out, or take {names}, which {verb} plainly load the {joint}")
            }
        };
        Some(StopView {
            joint,
            rating: pain.rating(),
            reported: complaint.when.date(),
            limit: self.limit,
            words: format!(
                "Pain of {} in the {joint}, reported on {}, above the limit of {}. {what}. See a licensed \
                 professional: when it is loaded again is for them to say, not for the numbers here.",
                pain.rating(),
                words::day(complaint.when.date(), self.date),
                self.limit,
            ),
            instead,
        })
    }

    /// Lifts in the place of one: for the same muscles, at hand, and stopped by nothing.
    fn instead_of(&self, lift: &Lift, is_taken: &dyn Fn(&Lift) -> bool) -> Vec<String> {
        let Some(known) = &self.catalogue else { return Vec::new() };
        let mut found: Vec<&Lift> = Vec::new();
        while found.len() < MOST_INSTEAD {
            let refused = |other: &Lift| {
                is_taken(other)
                    || self.is_stopped(other)
                    || found.iter().any(|one| one.name == other.name)
            };
            let Some(other) = substitute_but(lift, &self.purpose, known, &refused) else { break };
            found.push(other);
        }
        found.into_iter().map(|lift| lift.name.to_string()).collect()
    }

    /// Every complaint with the question, the worst first; `lifts` are those that it may concern.
    pub(crate) fn complaints<'a>(
        &self,
        lifts: impl Iterator<Item = &'a Lift> + Clone,
    ) -> Vec<ComplaintView> {
        let view = |complaint: &Rating| {
            let named = |of: &dyn Fn(PainVerdict) -> bool| -> Vec<String> {
                let alone = std::slice::from_ref(complaint);
                let meant = lifts.clone().filter(|lift| of(verdict(lift, alone)));
                meant.map(|lift| lift.name.to_string()).collect()
            };
            let stops = named(&|verdict| matches!(verdict, PainVerdict::Stop(_)));
            let lightly = named(&|verdict| matches!(verdict, PainVerdict::Lightly(_)));
            let joint = complaint.pain.joint;
            ComplaintView {
                key: joint.key(),
                joint: joint.label(),
                rating: complaint.pain.rating(),
                reported: complaint.when.date(),
                limit: self.limit,
                words: self.question(complaint, &stops, &lightly),
                stops,
            }
        };
        self.standing.iter().map(view).collect()
    }

    fn question(&self, complaint: &Rating, stops: &[String], lightly: &[String]) -> String {
        let (joint, limit) = (complaint.pain.joint.label(), self.limit);
        let mut text = format!(
            "How is the {joint} today? Pain of {} was reported on {}, above the limit of {limit}, and no newer \
             rating is at or below it.",
            complaint.pain.rating(),
            words::day(complaint.when.date(), self.date),
        );
        if !stops.is_empty() {
            let verb = if stops.len() == 1 { "is" } else { "are" };
            text.push_str(&format!(" Until one is, {} {verb} not done.", words::list(stops)));
        }
        if !lightly.is_empty() {
            let verb = if lightly.len() == 1 { "loads" } else { "load" };
            text.push_str(&format!(
                " {} {verb} it lightly: leave out whatever hurts.",
                words::capitalised(&words::list(lightly))
            ));
        }
        text.push_str(" Pain belongs before a licensed professional.");
        text
    }
}

impl Desk {
    /// Records how a joint feels at a moment, as the coach was told: fields `joint` and `pain`, a rating from 0 to
    /// 10. It takes the place of older ratings of that joint, and so answers or renews a complaint.
    ///
    /// # Errors
    /// A field can't be taken, the store has trouble, or nobody has that name.
    pub fn rate_joint(
        &self,
        name: &LifterName,
        fields: &Fields,
        (when, now): (When, Timestamp),
    ) -> Result<Pain, FormError> {
        let lifter = lifter(self.store(), name)?;
        let mut problems = Problems::default();
        let joint = problems.take("joint", Joint::parse(fields.get("joint")));
        let text = fields.get("pain");
        let needed = "write a whole number from 0, none, to 10, the worst imaginable";
        let rating =
            text.parse::<u8>().map_err(|_| format!("pain `{text}` can't be read: {needed}"));
        let rating = problems.take("pain", rating);
        let pain = joint
            .zip(rating)
            .and_then(|(joint, rating)| problems.take("pain", Pain::new(joint, rating)));
        let Some(pain) = pain else { return Err(FormError::Problems(problems)) };
        let told = CheckIn { pain: Some(pain), ..CheckIn::empty(lifter.name, when) };
        let mut into = self.store().begin_import("the desk", now)?;
        into.add_check_in(&told, OnDifference::Correct)?;
        into.commit()?;
        Ok(pain)
    }
}

impl Person {
    /// The complaints that stand by everything reported up to the end of a day.
    pub(crate) fn complaints(&self, date: Date) -> Result<Vec<Rating>, ServiceError> {
        Ok(self.history.complaints(When::new(date, None)?, &self.lifter.limits))
    }
}

/// The newest rating of each joint of which pain was reported up to the end of a day.
pub(crate) fn newest_ratings(person: &Person, date: Date) -> Vec<Rating> {
    let ratings = person.history.ratings().iter();
    newest(ratings.filter(|rating| rating.when.date() <= date).copied())
}
