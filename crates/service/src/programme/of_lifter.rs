//! A lifter's programme on record: set, copied from another lifter, taken away, shown.
//!
//! The text of the file is kept as it was written, comments included. It is read whenever it is used, so a
//! lift file that takes a lift away is noticed then.

use domain::{Catalogue, LifterName, Programme, ProgrammeDay};
use jiff::Timestamp;
use jiff::civil::Date;
use store::{Added, LifterProgramme, Standing};

use super::{
    DayWords, ProgrammeError, days_in_words, plan_changes_in_words, read_programme, unknown_lifts,
};
use crate::record::person::{catalogue, lifter};
use crate::{Desk, ServiceError};

/// A programme as a lifter follows it.
#[derive(Clone, Debug, PartialEq)]
pub struct Followed {
    /// The day from which it is followed.
    pub begins: Date,
    /// The programme.
    pub programme: Programme,
    /// The text of its file, as it was written.
    pub text: String,
}

impl Followed {
    /// The Monday of its first week: that of its first session on the day on which it begins or after it.
    #[must_use]
    pub fn first_monday(&self) -> Date {
        let from = self.begins.weekday().to_monday_zero_offset();
        let is_ahead = |day: &ProgrammeDay| day.weekday().to_monday_zero_offset() >= from;
        let wait = if self.programme.days().iter().any(is_ahead) { 0 } else { 7 };
        monday_of(self.begins).saturating_add(jiff::Span::new().days(wait))
    }

    /// Weeks from the first week to that of a day, the first being 0; none before the first week.
    #[must_use]
    pub fn week_on(&self, date: Date) -> Option<usize> {
        if date < self.begins {
            return None;
        }
        let days = monday_of(date).duration_since(self.first_monday()).as_hours() / 24;
        usize::try_from(days.div_euclid(7)).ok()
    }
}

/// What became of a programme that was to be set.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize)]
pub struct ProgrammeSet {
    /// Whose it is.
    pub lifter: String,
    /// What it is called.
    pub programme: String,
    /// The day from which it is followed.
    #[serde(serialize_with = "as_text")]
    pub begins: Date,
    /// The Monday of its first week.
    #[serde(serialize_with = "as_text")]
    pub first_monday: Date,
    /// Whether anything was recorded: the same programme with the same begin was there otherwise.
    pub is_new: bool,
    /// What the programme was called that it supersedes.
    pub before: Option<String>,
}

/// A lifter's programme as it is shown.
#[derive(Clone, Debug, PartialEq)]
pub struct FollowedView {
    /// Whose it is.
    pub lifter: String,
    /// The programme that is in force; none if there is none.
    pub now: Option<Followed>,
    /// The week that the day asked for lies in, from 1, and how many there are; none before the first.
    pub week: Option<(usize, usize)>,
    /// The days of that week in words, or of the first one before it begins.
    pub days: Vec<DayWords>,
    /// Changes of plan that are in force and not over, as sentences.
    pub changes: Vec<String>,
    /// Everything that was ever recorded, the latest first.
    pub versions: Vec<ProgrammeVersionLine>,
}

/// One version of a lifter's programme.
#[derive(Clone, Debug, PartialEq)]
pub struct ProgrammeVersionLine {
    /// What it was called.
    pub programme: String,
    /// The day from which it was followed.
    pub begins: Date,
    /// Whether this is when it was taken away.
    pub is_withdrawn: bool,
    /// Why; empty for a first version, and where none was told.
    pub reason: String,
    /// When it was recorded.
    pub recorded: Timestamp,
}

impl Desk {
    /// The lifter's programme as of a day, with what stood before.
    ///
    /// # Errors
    /// There is nobody of that name, or the text on record can't be read any more.
    pub fn programme(&self, name: &LifterName, today: Date) -> Result<FollowedView, ServiceError> {
        let lifter = lifter(self.store(), name)?;
        let now = followed(self.store(), &lifter.name)?;
        let week = now.as_ref().and_then(|followed| {
            let weeks = followed.programme.weeks();
            Some((followed.week_on(today)? % weeks + 1, weeks))
        });
        let days = now.as_ref().map_or_else(Vec::new, |followed| {
            let week = week.map_or(0, |(week, _)| week - 1);
            days_in_words(&followed.programme, week, lifter.unit)
        });
        let mut versions: Vec<ProgrammeVersionLine> = self
            .store()
            .programmes_of(&lifter.name)?
            .into_iter()
            .map(|version| ProgrammeVersionLine {
                programme: name_in(&version.content.text),
                begins: version.content.begins,
                is_withdrawn: version.standing == Standing::Withdrawn,
                reason: version.reason,
                recorded: version.recording.at,
            })
            .collect();
        versions.reverse();
        let changes = plan_changes_in_words(self.store(), &lifter.name, today)?;
        Ok(FollowedView { lifter: lifter.name.to_string(), now, week, days, changes, versions })
    }

    /// Sets the lifter's programme to the text of a programme file. Without a day on which it begins, a
    /// programme of the same name goes on counting its weeks, and any other begins `today`.
    ///
    /// # Errors
    /// The text can't be read or names lifts that aren't known; there is nobody of that name.
    pub fn set_programme(
        &self,
        name: &LifterName,
        text: &str,
        begins: Option<Date>,
        (today, now): (Date, Timestamp),
    ) -> Result<ProgrammeSet, ProgrammeError> {
        let lifter = lifter(self.store(), name)?;
        let programme = read_programme(text)?;
        knows_all_lifts(&programme, &catalogue(self.store())?)?;
        let before = followed(self.store(), &lifter.name)?;
        let same_name = before.as_ref().filter(|before| before.programme.name == programme.name);
        let begins = begins.or(same_name.map(|before| before.begins)).unwrap_or(today);
        let set = LifterProgramme { lifter: lifter.name.clone(), begins, text: text.to_owned() };
        let added = self.store().put_programme(&set, "", now).map_err(ServiceError::from)?;
        let following = Followed { begins, programme, text: set.text };
        Ok(ProgrammeSet {
            lifter: lifter.name.to_string(),
            programme: following.programme.name.to_string(),
            begins,
            first_monday: following.first_monday(),
            is_new: added != Added::AlreadyThere,
            before: before.map(|before| before.programme.name.to_string()),
        })
    }

    /// Gives `to` the programme of `from`, word for word; it begins `today` unless another day is named.
    ///
    /// # Errors
    /// As [`Desk::set_programme`], and `from` has no programme.
    pub fn copy_programme(
        &self,
        from: &LifterName,
        to: &LifterName,
        begins: Option<Date>,
        (today, now): (Date, Timestamp),
    ) -> Result<ProgrammeSet, ProgrammeError> {
        let from = lifter(self.store(), from)?.name;
        let Some(theirs) = followed(self.store(), &from)? else {
            return Err(ServiceError::NoProgramme { lifter: from.to_string() }.into());
        };
        self.set_programme(to, &theirs.text, begins.or(Some(today)), (today, now))
    }

    /// Takes the lifter's programme away: cards follow the log again. What it said is kept.
    ///
    /// # Errors
    /// There is nobody of that name, or no programme.
    pub fn withdraw_programme(
        &self,
        name: &LifterName,
        reason: &str,
        now: Timestamp,
    ) -> Result<(), ServiceError> {
        let lifter = lifter(self.store(), name)?.name;
        if self.store().programme_of(&lifter)?.is_none() {
            return Err(ServiceError::NoProgramme { lifter: lifter.to_string() });
        }
        Ok(self.store().withdraw_programme(&lifter, reason, now)?)
    }
}

/// The programme that a lifter follows, if there is one.
pub(crate) fn followed(
    store: &store::Store,
    name: &LifterName,
) -> Result<Option<Followed>, ServiceError> {
    let Some(on_record) = store.programme_of(name)? else { return Ok(None) };
    let LifterProgramme { begins, text, .. } = on_record;
    match read_programme(&text) {
        Ok(programme) => Ok(Some(Followed { begins, programme, text })),
        Err(error) => {
            Err(ServiceError::Programme { lifter: name.to_string(), reason: error.to_string() })
        }
    }
}

/// The Monday of a day's week.
pub(crate) fn monday_of(date: Date) -> Date {
    date.saturating_sub(jiff::Span::new().days(date.weekday().to_monday_zero_offset()))
}

/// Refuses a programme with a lift that the catalogue lacks.
pub(super) fn knows_all_lifts(
    programme: &Programme,
    catalogue: &Catalogue,
) -> Result<(), ProgrammeError> {
    match engine::programme::Week::of(programme, catalogue, 0) {
        Ok(_) => Ok(()),
        Err(names) => Err(unknown_lifts(&names, catalogue)),
    }
}

fn name_in(text: &str) -> String {
    read_programme(text).map_or_else(|_| "(can't be read)".to_owned(), |p| p.name.to_string())
}

fn as_text<S: serde::Serializer>(date: &Date, to: S) -> Result<S::Ok, S::Error> {
    to.collect_str(date)
}
