//! The programme at the desk: its page, its form, and what becomes of both.

use domain::programme::{WEEK, weekday_name};
use domain::{EquipmentClass, Joint, Lifter, LifterName, Programme};
use jiff::Timestamp;
use jiff::civil::Date;
use store::LifterProgramme;

use super::form::{days_in, fields_of, programme_in};
use super::view::{CheckView, DoseView};
use super::{
    FollowedView, Planning, ProgrammeError, Remark, check_programme, followed, mend_programme,
    programme_dose, read_programme, write_programme,
};
use crate::forms::{Fields, FormError, Problems};
use crate::record::person::{catalogue, lifter};
use crate::{Desk, ServiceError};

/// The most lifts that one press of a button adds to a day.
const BLANK_ROWS: u16 = 3;

/// The page of a lifter's programme.
#[derive(Clone, Debug)]
pub struct ProgrammePageView {
    /// The day for which it was made.
    pub today: Date,
    /// The programme and what stood before.
    pub followed: FollowedView,
    /// What a coach would remark on the week that today lies in; none without a programme.
    pub check: Option<CheckView>,
    /// What that week doses; none without a programme.
    pub dose: Option<DoseView>,
    /// Other lifters with a programme: who, and what it is called.
    pub others: Vec<(String, String)>,
}

/// The form of a programme.
#[derive(Clone, Debug)]
pub struct ProgrammeFormView {
    /// Whose it is.
    pub lifter: String,
    /// Whether there is a programme that this one would supersede.
    pub is_there: bool,
    /// The form.
    pub fields: Fields,
    /// What is wrong with it.
    pub problems: Problems,
    /// What a coach would remark on it, if it was to be checked and can be read.
    pub check: Option<CheckView>,
    /// Whether it holds a drafted week, of which nothing is kept yet.
    pub is_drafted: bool,
    /// What was changed to cure a remark, or why nothing was; none if nothing was asked for.
    pub mended: Option<String>,
    /// The weekdays.
    pub weekdays: Vec<&'static str>,
    /// Every joint: key and name.
    pub joints: Vec<(&'static str, &'static str)>,
    /// Every class of equipment: key and name.
    pub equipment: Vec<(&'static str, &'static str)>,
    /// Every lift of the catalogue.
    pub known_lifts: Vec<String>,
}

impl Desk {
    /// The page of a lifter's programme.
    ///
    /// # Errors
    /// There is nobody of that name, the programme can't be read any more, or the store has trouble.
    pub fn programme_page(
        &self,
        name: &LifterName,
        today: Date,
    ) -> Result<ProgrammePageView, ServiceError> {
        let followed_view = self.programme(name, today)?;
        let week = followed_view.week.map_or(1, |(week, _)| week);
        let (mut check, mut dose) = (None, None);
        if let Some(now) = &followed_view.now {
            let lifts = catalogue(self.store())?;
            let planning = Planning::of(&*self.person(name)?, today);
            // Lifts that were taken out of the catalogue since are told on the card, by name.
            check = check_programme(&now.text, week, &lifts, &planning).ok();
            dose = programme_dose(&now.text, week, &lifts).ok();
        }
        let mut others = Vec::new();
        for summary in self.store().lifters()? {
            let other = summary.lifter.name;
            if other.key() != name.key()
                && let Ok(Some(theirs)) = followed(self.store(), &other)
            {
                others.push((other.to_string(), theirs.programme.name.to_string()));
            }
        }
        Ok(ProgrammePageView { today, followed: followed_view, check, dose, others })
    }

    /// The form of a lifter's programme: as it is on record, empty if there is none, or as it was typed, with
    /// what the button `do` asked for: `check`, `day`, or `lift-N` for the day N; or with the change that cures the
    /// remark in `mend`.
    ///
    /// # Errors
    /// As [`Desk::programme_page`].
    pub fn programme_form(
        &self,
        name: &LifterName,
        typed: Option<&Fields>,
        today: Date,
    ) -> Result<ProgrammeFormView, ServiceError> {
        let lifter = lifter(self.store(), name)?;
        let there = followed(self.store(), &lifter.name)?;
        let lifts = catalogue(self.store())?;
        let (mut problems, mut check) = (Problems::default(), None);
        let mut mended = None;
        // A button beside a remark may come from a page that has none of the form's fields.
        let whole = |typed: &Fields| match &there {
            Some(there) if !typed.has("d1_weekday") => {
                let fields = fields_of(&there.programme, lifter.unit);
                fields.with("begins", there.begins).with("mend", typed.get("mend"))
            }
            _ => typed.clone(),
        };
        let whole = typed.map(whole);
        let fields = match whole.as_ref() {
            None => match &there {
                Some(there) => {
                    fields_of(&there.programme, lifter.unit).with("begins", there.begins)
                }
                None => empty(today),
            },
            Some(typed) => {
                let asked = if typed.has("mend") { "mend" } else { typed.get("do") }.to_owned();
                let mut fields = typed.clone();
                if matches!(asked.as_str(), "check" | "keep" | "mend") {
                    let read = programme_in(typed, lifter.unit, &lifts, &mut problems);
                    if let Some(mut programme) = read.filter(|_| asked != "keep") {
                        let planning = Planning::of(&*self.person(name)?, today);
                        let text = write_programme(&programme);
                        if asked == "mend" {
                            let remark = Remark::Key(typed.get("mend"));
                            match mend_programme(&text, 1, remark, (&lifts, &planning)) {
                                Ok((better, words)) => {
                                    fields = fields_of(&better, lifter.unit)
                                        .with("begins", typed.get("begins"))
                                        .with("reason", typed.get("reason"));
                                    mended = Some(Ok(words));
                                    programme = better;
                                }
                                Err(error) => mended = Some(Err(error.to_string())),
                            }
                        }
                        let text = write_programme(&programme);
                        check = check_programme(&text, 1, &lifts, &planning).ok();
                    }
                }
                with_rows(fields, &asked)
            }
        };
        let fields = if typed.is_none() { with_rows(fields, "") } else { fields };
        let mended = mended.map(|told: Result<String, String>| match told {
            Ok(words) => format!("changed: {words}; nothing is kept yet"),
            Err(reason) => reason,
        });
        Ok(ProgrammeFormView {
            lifter: lifter.name.to_string(),
            is_there: there.is_some(),
            fields,
            problems,
            check,
            is_drafted: false,
            mended,
            weekdays: WEEK.iter().map(|weekday| weekday_name(*weekday)).collect(),
            joints: Joint::ALL.iter().map(|joint| (joint.key(), joint.label())).collect(),
            equipment: EquipmentClass::ALL
                .iter()
                .map(|class| (class.key(), class.label()))
                .collect(),
            known_lifts: lifts.lifts().iter().map(|lift| lift.name.to_string()).collect(),
        })
    }

    /// The form with a drafted week in it, and what a coach would remark on that. A programme of the same
    /// name goes on counting its weeks, any other begins today.
    ///
    /// # Errors
    /// As [`Desk::programme_page`].
    pub fn drafted_form(
        &self,
        name: &LifterName,
        drafted: &Programme,
        today: Date,
    ) -> Result<ProgrammeFormView, ServiceError> {
        let lifter = lifter(self.store(), name)?;
        let there = followed(self.store(), &lifter.name)?;
        let goes_on = there.filter(|there| there.programme.name == drafted.name);
        let fields = fields_of(drafted, lifter.unit)
            .with("begins", goes_on.map_or(today, |there| there.begins))
            .with("do", "check");
        let form = self.programme_form(name, Some(&fields), today)?;
        Ok(ProgrammeFormView { is_drafted: true, ..form })
    }

    /// Keeps the programme that a form says.
    ///
    /// # Errors
    /// A field can't be taken, there is nobody of that name, or the store has trouble.
    pub fn keep_programme_form(
        &self,
        name: &LifterName,
        fields: &Fields,
        now: Timestamp,
    ) -> Result<(), FormError> {
        let lifter = lifter(self.store(), name)?;
        let mut problems = Problems::default();
        let programme = programme_in(fields, lifter.unit, &catalogue(self.store())?, &mut problems);
        let begins = day_in("begins", fields, &mut problems);
        problems.none_left()?;
        if let Some((programme, begins)) = programme.zip(begins) {
            self.keep(&lifter, &write_programme(&programme), begins, fields.get("reason"), now)?;
        }
        Ok(())
    }

    /// Keeps the programme that a pasted file says.
    ///
    /// # Errors
    /// As [`Desk::keep_programme_form`]; what is wrong with the file is told beside `text`.
    pub fn keep_programme_text(
        &self,
        name: &LifterName,
        fields: &Fields,
        now: Timestamp,
    ) -> Result<(), FormError> {
        let lifter = lifter(self.store(), name)?;
        let text = fields.get("text");
        let mut problems = Problems::default();
        let programme = problems.take("text", read_programme(text));
        if let Some(programme) = &programme {
            let lifts = catalogue(self.store())?;
            problems.take("text", super::of_lifter::knows_all_lifts(programme, &lifts));
        }
        let begins = day_in("file_begins", fields, &mut problems);
        problems.none_left()?;
        if let Some(begins) = begins {
            self.keep(&lifter, &format!("{text}\n"), begins, "", now)?;
        }
        Ok(())
    }

    /// Gives a lifter the programme of the one named in the form.
    ///
    /// # Errors
    /// As [`Desk::keep_programme_form`].
    pub fn copy_programme_form(
        &self,
        name: &LifterName,
        fields: &Fields,
        (today, now): (Date, Timestamp),
    ) -> Result<(), FormError> {
        let mut problems = Problems::default();
        let from = problems.take("from", LifterName::new(fields.get("from")));
        let begins = day_in("copy_begins", fields, &mut problems);
        if let Some((from, begins)) = from.zip(begins) {
            match self.copy_programme(&from, name, Some(begins), (today, now)) {
                Err(ProgrammeError::Service(
                    error @ (ServiceError::NoSuchLifter { .. } | ServiceError::NoProgramme { .. }),
                )) => problems.note("from", error),
                Err(ProgrammeError::Service(error)) => return Err(error.into()),
                Err(error) => problems.note("from", error),
                Ok(_) => {}
            }
        }
        problems.none_left()
    }

    fn keep(
        &self,
        lifter: &Lifter,
        text: &str,
        begins: Date,
        reason: &str,
        now: Timestamp,
    ) -> Result<(), FormError> {
        let set = LifterProgramme { lifter: lifter.name.clone(), begins, text: text.to_owned() };
        self.store().put_programme(&set, reason, now)?;
        Ok(())
    }
}

/// The form with nothing in it: one day.
fn empty(today: Date) -> Fields {
    Fields::default().with("begins", today).with("d1_weekday", "Monday").with("d1_minutes", "")
}

/// Adds what a button asked for, and a few empty lifts to a day that has none.
fn with_rows(mut fields: Fields, asked: &str) -> Fields {
    let days = days_in(&fields);
    if asked == "day" {
        let next = days.last().map_or(1, |(day, _)| day + 1);
        let taken: Vec<&str> =
            days.iter().map(|(day, _)| fields.get(&format!("d{day}_weekday"))).collect();
        let free = WEEK.iter().map(|weekday| weekday_name(*weekday));
        let free = free.skip_while(|name| taken.contains(name)).find(|name| !taken.contains(name));
        fields = fields
            .with(&format!("d{next}_weekday"), free.unwrap_or_default())
            .with(&format!("d{next}_minutes"), "");
    }
    for (day, lifts) in days_in(&fields) {
        let last = lifts.last().copied().unwrap_or(0);
        let wanted = match asked.strip_prefix("lift-").and_then(|number| number.parse::<u16>().ok())
        {
            Some(number) if number == day => 1,
            _ if lifts.is_empty() => BLANK_ROWS,
            _ => 0,
        };
        for lift in last + 1..=last + wanted {
            let place = lifts.len() as u16 + lift - last;
            fields = fields
                .with(&format!("d{day}_l{lift}_place"), place)
                .with(&format!("d{day}_l{lift}_rule"), super::form::RULES[0]);
        }
    }
    fields
}

fn day_in(field: &str, fields: &Fields, problems: &mut Problems) -> Option<Date> {
    let when = problems.take(field, domain::When::parse(fields.get(field)))?;
    Some(when.date())
}
