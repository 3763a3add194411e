//! Wishes for a week as a form: filled in from what the lifter does now, and read, with each mistake beside
//! its field.
//!
//! Days are `day_Monday` and `minutes_Monday`, lifts that stay as they are `stay_Monday_1`, other fixed lifts
//! `fix1_lift` and so on, muscles `priority_chest`; the rest is called as in a programme's form.

use std::collections::{BTreeMap, BTreeSet};

use domain::programme::{WEEK, checked_minutes, parse_weekday, weekday_name};
use domain::{
    Catalogue, EquipmentClass, Joint, Lift, LiftName, Lifter, LifterName, Muscle, Note,
    PlannedLift, Programme, ProgrammeName, Purpose, SetKind, Unit,
};
use engine::complaint::{Rating, is_above};
use engine::programme::Week;
use engine::programme::draft::model::ALIKE;
use engine::programme::draft::{DayWish, Keep, Wish, Wishes};
use engine::programme::minutes::session_seconds;
use engine::programme::ranges::is_trained_for_itself;
use engine::programme::swap::{is_refused, likeness, loads_spared};
use jiff::ToSpan;
use jiff::civil::Date;

use super::draft::{DraftOf, DraftView, DraftWatch, draft_programme};
use super::form::{Reader, with_purpose};
use super::lately::{Present, present};
use super::{DayWords, Planning, ProgrammeError, WishFile, days_in_words};
use crate::forms::{Fields, FormError, Problems};
use crate::joints::stops::newest_ratings;
use crate::record::person::{Person, catalogue};
use crate::{Desk, ServiceError, words};

/// How many days back pain that is no complaint is looked for.
const PAIN_DAYS: i64 = 28;
/// Pain up to this is no reason to spare a joint: the safe zone of the pain-monitoring model (Thomeé and
/// Silbernagel, from memory) ends at 2 of 10.
const SAFE_PAIN: u8 = 2;
/// How far back a test of a lift says that the lift is to go up, in days. Ours.
const TESTED_DAYS: i64 = 365;
/// The most lifts that are taken as those to go up where none are named, and as those to take if they fit. Ours.
const RAISED: usize = 4;
const PREFERRED: usize = 6;
/// A lift around which a day is built trains this many muscles or more, and stands this early. Ours.
const LARGE: usize = 3;
const EARLY: usize = 2;
/// The least minutes that are proposed for a day.
const LEAST_MINUTES: u32 = 30;
/// Empty rows for fixed lifts.
const FIXED_ROWS: u16 = 1;

/// The form of wishes for a week.
#[derive(Clone, Debug)]
pub struct WishesFormView {
    /// Whose week it is to be.
    pub lifter: String,
    /// The form.
    pub fields: Fields,
    /// What is wrong with it.
    pub problems: Problems,
    /// What the lifter does now, in words; none if nothing is known.
    pub present: Option<PresentView>,
    /// The weekdays.
    pub weekdays: Vec<&'static str>,
    /// Every joint.
    pub joints: Vec<JointChoice>,
    /// Every class of equipment: key and name.
    pub equipment: Vec<(&'static str, &'static str)>,
    /// Every muscle: key, name, and whether it is trained for its own sake unless it is asked for.
    pub muscles: Vec<(&'static str, &'static str, bool)>,
    /// The rows of fixed lifts, by number.
    pub fixed: Vec<u16>,
    /// Every lift of the catalogue.
    pub known_lifts: Vec<String>,
}

/// What a lifter does now.
#[derive(Clone, Debug)]
pub struct PresentView {
    /// The name of the programme that is followed; none if the days come from the log.
    pub followed: Option<String>,
    /// The days.
    pub days: Vec<DayWords>,
}

/// A joint that can be spared.
#[derive(Clone, Debug)]
pub struct JointChoice {
    /// Its key.
    pub key: &'static str,
    /// Its name.
    pub label: &'static str,
    /// Pain that was told of it lately, as a phrase.
    pub told: Option<String>,
}

/// Everything that a draft needs, apart from the store: it can be worked on elsewhere, and later.
#[derive(Clone, Debug)]
pub struct DraftOrder {
    lifter: LifterName,
    file: WishFile,
    catalogue: Catalogue,
    planning: Planning,
    unit: Unit,
}

impl DraftOrder {
    /// Whose week it is to be.
    #[must_use]
    pub fn lifter(&self) -> &LifterName {
        &self.lifter
    }

    /// The wishes.
    #[must_use]
    pub fn file(&self) -> &WishFile {
        &self.file
    }

    /// Drafts so many weeks. The same seed and numbers of steps give the same weeks.
    ///
    /// # Errors
    /// As [`draft_programme`].
    pub fn draft(
        &self,
        (weeks, seed): (usize, u64),
        watch: &mut dyn DraftWatch,
    ) -> Result<DraftView, ProgrammeError> {
        let DraftOrder { file, catalogue, planning, unit, .. } = self;
        draft_programme(&DraftOf { file, catalogue, planning, seed, weeks, unit: *unit }, watch)
    }
}

impl Desk {
    /// The form of wishes for a lifter's week: filled in from what is known, or as it was typed, with what
    /// the button `do` asked for: `fixed` for another fixed lift.
    ///
    /// # Errors
    /// There is nobody of that name, or the store has trouble.
    pub fn wishes_form(
        &self,
        name: &LifterName,
        typed: Option<&Fields>,
        today: Date,
    ) -> Result<WishesFormView, ServiceError> {
        let person = self.person(name)?;
        let lifts = catalogue(self.store())?;
        let present = present(&person, today);
        let fields = match typed {
            Some(typed) => typed.clone(),
            None => filled_in(&person, present.as_ref(), &lifts, today),
        };
        let mut fixed = fixed_rows(&fields);
        if fixed.is_empty() || fields.get("do") == "fixed" {
            let next = fixed.last().map_or(1, |last| last + 1);
            fixed.extend(next..next + FIXED_ROWS);
        }
        let unit = person.lifter.unit;
        Ok(WishesFormView {
            lifter: person.lifter.name.to_string(),
            fields,
            problems: Problems::default(),
            present: present.map(|present| PresentView {
                followed: present.is_followed.then(|| present.programme.name.to_string()),
                days: days_in_words(&present.programme, 0, unit),
            }),
            weekdays: WEEK.iter().map(|weekday| weekday_name(*weekday)).collect(),
            joints: joints(&person, today),
            equipment: EquipmentClass::ALL
                .iter()
                .map(|class| (class.key(), class.label()))
                .collect(),
            muscles: Muscle::ALL
                .iter()
                .map(|muscle| (muscle.key(), muscle.label(), is_trained_for_itself(*muscle)))
                .collect(),
            fixed,
            known_lifts: lifts.lifts().iter().map(|lift| lift.name.to_string()).collect(),
        })
    }

    /// Adds every joint of which a complaint stands to those that the wishes spare; says each that they left out,
    /// as a sentence.
    ///
    /// # Errors
    /// There is nobody of that name, or the store has trouble.
    pub fn spare_complaints(
        &self,
        name: &LifterName,
        wishes: &mut Wishes,
        today: Date,
    ) -> Result<Vec<String>, ServiceError> {
        let person = self.person(name)?;
        let spare = &mut wishes.purpose.spare;
        let mut said = Vec::new();
        for Rating { pain, when } in person.complaints(today)? {
            if spare.contains(&pain.joint) {
                continue;
            }
            spare.push(pain.joint);
            said.push(format!(
                "The {} is spared too: pain of {} was told on {}, and nothing newer answers it.",
                pain.joint.label(),
                pain.rating(),
                words::day(when.date(), today)
            ));
        }
        Ok(said)
    }

    /// Reads the form. `drafted` is the week that stands for what the lifter does now where the form says so.
    ///
    /// # Errors
    /// A field can't be taken, there is nobody of that name, or the store has trouble.
    pub fn draft_order(
        &self,
        name: &LifterName,
        fields: &Fields,
        drafted: Option<Programme>,
        today: Date,
    ) -> Result<DraftOrder, FormError> {
        let person = self.person(name)?;
        let lifts = catalogue(self.store())?;
        let now = present(&person, today).map(|present| present.programme);
        let mut problems = Problems::default();
        let reader = Reader { fields, unit: person.lifter.unit, catalogue: &lifts };
        let file = wishes(&reader, (now, drafted), &mut problems);
        if let Some(file) = &file
            && let Some(lost) = file.wishes.unknown(&lifts).first()
        {
            problems.note(
                "present",
                format!(
                    "`{lost}` is called so no more: change the programme, or begin from nothing"
                ),
            );
        }
        problems.none_left()?;
        let file = file.ok_or_else(|| FormError::Problems(Problems::default()))?;
        Ok(DraftOrder {
            lifter: person.lifter.name.clone(),
            file,
            planning: Planning::of(&person, today),
            catalogue: lifts,
            unit: person.lifter.unit,
        })
    }
}

/// The field of the form where a wish stands.
pub(super) fn field_of(wish: &Wish, wishes: &Wishes) -> String {
    match wish {
        Wish::Fixed { .. } => "fixed".to_owned(),
        Wish::Raise(_) => "raise".to_owned(),
        Wish::Spare(joint) => format!("spare_{}", joint.key()),
        Wish::AtHand(_) => "equipment".to_owned(),
        Wish::Refuse(_) => "refuse".to_owned(),
        Wish::Minutes { day } => {
            let name = wishes.days.get(*day).map_or("Monday", DayWish::name);
            format!("minutes_{name}")
        }
        Wish::MostLifts => "most_lifts".to_owned(),
        Wish::Hours => "ignore_hours".to_owned(),
    }
}

/// The form as it is first shown.
fn filled_in(person: &Person, present: Option<&Present>, lifts: &Catalogue, today: Date) -> Fields {
    let programme = present.map(|present| &present.programme);
    let purpose = programme.map_or_else(Purpose::default, |programme| programme.purpose.clone());
    let mut fields = with_purpose(Fields::default(), &purpose)
        .with("name", name(&person.lifter, present))
        .with("keep", "habits")
        .with("present", if present.is_some() { "now" } else { "none" });
    let mut spare = purpose.spare.clone();
    let told = pains(person, today).into_iter().filter(|(.., rating)| *rating > SAFE_PAIN);
    for (joint, ..) in told {
        spare.push(joint);
        fields = fields.with(&format!("spare_{}", joint.key()), "on");
    }
    let sparing = Purpose { spare, ..purpose };
    let mut raise: Vec<String> = sparing.raise.iter().map(LiftName::to_string).collect();
    if raise.is_empty() {
        raise = to_go_up(person, programme, (lifts, &sparing), today);
        fields = fields.with("raise", raise.join(", "));
    }
    let large = programme.map_or_else(Vec::new, |programme| large_lifts(programme, lifts));
    let large = large.into_iter().filter(|(_, lift)| is_fit(lift, &sparing));
    let mut prefer: Vec<String> = large.map(|(_, lift)| lift.name.to_string()).collect();
    prefer.retain(|name| !raise.contains(name));
    prefer.truncate(PREFERRED);
    fields = fields.with("prefer", prefer.join(", "));
    let estimates = programme.map_or_else(BTreeMap::new, |programme| estimates(programme, lifts));
    for day in programme.iter().flat_map(|programme| programme.days()) {
        let weekday = weekday_name(day.weekday());
        let minutes = day.minutes().map(u32::from).or(estimates.get(weekday).copied());
        fields = fields
            .with(&format!("day_{weekday}"), "on")
            .with(&format!("minutes_{weekday}"), minutes.map_or(String::new(), |m| m.to_string()));
    }
    fields
}

fn name(lifter: &Lifter, present: Option<&Present>) -> String {
    match present.filter(|present| present.is_followed) {
        Some(present) => present.programme.name.to_string(),
        None => {
            let name = format!("Week of {}", lifter.name);
            ProgrammeName::new(&name).map_or_else(|_| "A week".to_owned(), |name| name.to_string())
        }
    }
}

/// Lifts that are taken as those to go up where none are named: those tested within a year, the latest first,
/// and then the large ones with a bar with which the days of the present week begin, one for each day and one
/// more. None that is refused or loads a joint to be spared, and none that trains nearly the same as another.
fn to_go_up(
    person: &Person,
    present: Option<&Programme>,
    (known, sparing): (&Catalogue, &Purpose),
    today: Date,
) -> Vec<String> {
    let from = today.saturating_sub(TESTED_DAYS.days());
    let tested = |set: &&domain::LoggedSet| set.kind == SetKind::Test && set.when.date() >= from;
    let mut dated: Vec<(Date, &Lift)> = Vec::new();
    for record in &person.history.lifts {
        let last = record.sets.iter().filter(tested).map(|set| set.when.date()).max();
        dated.extend(last.map(|last| (last, &record.lift)));
    }
    dated.sort_by(|a, b| b.0.cmp(&a.0).then_with(|| a.1.name.cmp(&b.1.name)));
    let large = present.map_or_else(Vec::new, |programme| large_lifts(programme, known));
    let early = large
        .iter()
        .filter(|(place, lift)| *place < EARLY && lift.equipment == EquipmentClass::Barbell);
    let mut built_on: Vec<&Lift> = early.map(|(_, lift)| *lift).collect();
    if built_on.is_empty() {
        built_on = large.iter().filter(|(place, _)| *place == 0).map(|(_, lift)| *lift).collect();
    }
    let mut lifts: Vec<&Lift> = Vec::new();
    for lift in dated.into_iter().map(|(_, lift)| lift).chain(built_on) {
        let is_alike = |other: &&Lift| likeness(lift, other) >= ALIKE;
        if is_fit(lift, sparing) && !lifts.iter().any(is_alike) {
            lifts.push(lift);
        }
    }
    let n_days = present.map_or(1, |programme| programme.days().len());
    lifts.truncate(RAISED.min(n_days + 1));
    lifts.into_iter().map(|lift| lift.name.to_string()).collect()
}

/// Whether a lift may be proposed: it isn't refused, and plainly loads no joint to be spared.
fn is_fit(lift: &Lift, purpose: &Purpose) -> bool {
    !is_refused(lift, purpose) && !loads_spared(lift, purpose)
}

/// The large lifts of a week, each once, with the earliest place that it has in a day: the earliest first, and of
/// the same place those of earlier days.
fn large_lifts<'a>(programme: &Programme, known: &'a Catalogue) -> Vec<(usize, &'a Lift)> {
    let mut all: Vec<(usize, &Lift)> = Vec::new();
    for day in programme.days() {
        for (place, planned) in day.lifts().iter().enumerate() {
            let lift = known.find(planned.lift());
            let large = lift.filter(|lift| lift.muscles.len() >= LARGE && !lift.explosive);
            all.extend(large.map(|lift| (place, lift)));
        }
    }
    all.sort_by_key(|(place, _)| *place); // stable
    let mut once: Vec<(usize, &Lift)> = Vec::new();
    for (place, lift) in all {
        if !once.iter().any(|(_, other)| other.name == lift.name) {
            once.push((place, lift));
        }
    }
    once
}

/// The minutes that each day takes by the estimate, in steps of five.
fn estimates(programme: &Programme, lifts: &Catalogue) -> BTreeMap<&'static str, u32> {
    let Ok(week) = Week::of(programme, lifts, 0) else { return BTreeMap::new() };
    let minutes = |seconds: u32| (seconds.div_ceil(300) * 5).max(LEAST_MINUTES);
    week.days.iter().map(|day| (day.name(), minutes(session_seconds(&day.slots)))).collect()
}

/// The newest rating of each joint, if it was given lately or is a complaint that stands: where, when, and its
/// rating.
fn pains(person: &Person, today: Date) -> Vec<(Joint, Date, u8)> {
    let from = today.saturating_sub(PAIN_DAYS.days());
    let limit = person.lifter.limits.pain();
    let newest = newest_ratings(person, today).into_iter();
    let counts = |one: &Rating| one.when.date() > from || is_above(one.pain.rating(), limit);
    newest.filter(counts).map(|one| (one.pain.joint, one.when.date(), one.pain.rating())).collect()
}

fn joints(person: &Person, today: Date) -> Vec<JointChoice> {
    let pains = pains(person, today);
    let told = |joint: Joint| {
        let (_, date, rating) = pains.iter().find(|(other, ..)| *other == joint)?;
        Some(format!("pain of {rating} in 10 told on {}", words::day(*date, today)))
    };
    let choice =
        |joint: &Joint| JointChoice { key: joint.key(), label: joint.label(), told: told(*joint) };
    Joint::ALL.iter().map(choice).collect()
}

/// The numbers of the rows `fix1_…`, `fix2_…`.
fn fixed_rows(fields: &Fields) -> Vec<u16> {
    let mut rows: BTreeSet<u16> = BTreeSet::new();
    for (field, _) in fields.iter() {
        let number = field.strip_prefix("fix").and_then(|rest| rest.split_once('_'));
        rows.extend(number.and_then(|(number, _)| number.parse::<u16>().ok()));
    }
    rows.into_iter().collect()
}

/// Reads the wishes; nothing without a note of what is wrong. `present` is what the lifter does now and
/// what was drafted before.
fn wishes(
    reader: &Reader<'_>,
    (now, drafted): (Option<Programme>, Option<Programme>),
    problems: &mut Problems,
) -> Option<WishFile> {
    let fields = reader.fields;
    let name = problems.take("name", ProgrammeName::new(fields.get("name")));
    let purpose = reader.purpose(problems);
    let mut days = days(reader, problems);
    fix_what_stays(fields, now.as_ref(), &mut days, problems);
    for row in fixed_rows(fields) {
        fix(reader, row, &mut days, problems);
    }
    let present = match fields.get("present") {
        "none" | "" => None,
        "draft" => match drafted {
            Some(programme) => Some(programme),
            None => {
                problems.note("present", "that drafted week waits no more: choose another");
                None
            }
        },
        _ => now,
    };
    let keep = if fields.get("keep") == "all" { Keep::All } else { Keep::Habits };
    let wishes =
        Wishes { purpose, days, prefer: reader.lifts("prefer", problems), present: None, keep }
            .keeping(present);
    problems.is_empty().then_some(WishFile { name: name?, note: Note::default(), wishes })
}

fn days(reader: &Reader<'_>, problems: &mut Problems) -> Vec<DayWish> {
    let mut days = Vec::new();
    for weekday in WEEK {
        let name = weekday_name(weekday);
        if !reader.fields.has(&format!("day_{name}")) {
            continue;
        }
        let field = format!("minutes_{name}");
        let told: Option<Option<u16>> = reader.whole(&field, "minutes", problems);
        let minutes = told.flatten().and_then(|m| problems.take(&field, checked_minutes(m)));
        days.push(DayWish::free(weekday, minutes));
    }
    if days.is_empty() {
        problems.note("day_Monday", "tick at least one day");
    }
    days
}

/// Fixes the lifts of the present week that are ticked to stay as they are.
fn fix_what_stays(
    fields: &Fields,
    now: Option<&Programme>,
    days: &mut [DayWish],
    problems: &mut Problems,
) {
    let there = now.map_or(&[][..], Programme::days);
    for (field, lift) in fields.iter().filter(|(field, _)| field.starts_with("stay_")) {
        let place = field.strip_prefix("stay_").and_then(|rest| rest.split_once('_'));
        let planned = place.and_then(|(weekday, place)| {
            let day = there.iter().find(|day| weekday_name(day.weekday()) == weekday)?;
            day.lifts().get(place.parse::<usize>().ok()?.checked_sub(1)?)
        });
        let weekday = place.map_or("", |(weekday, _)| weekday);
        match planned.filter(|planned| planned.lift().as_str() == lift) {
            None => problems.note("fixed", "the present week has changed: load the page anew"),
            Some(planned) => put(planned.clone(), weekday, "fixed", days, problems),
        }
    }
}

/// Fixes the lift of a row; nothing if the row names none.
fn fix(reader: &Reader<'_>, row: u16, days: &mut [DayWish], problems: &mut Problems) {
    let field = |part: &str| format!("fix{row}_{part}");
    if reader.fields.get(&field("lift")).is_empty() {
        return;
    }
    let planned = reader.planned(&format!("fix{row}"), problems);
    let weekday =
        problems.take(&field("weekday"), parse_weekday(reader.fields.get(&field("weekday"))));
    if let Some((planned, weekday)) = planned.zip(weekday) {
        put(planned, weekday_name(weekday), &field("weekday"), days, problems);
    }
}

fn put(
    planned: PlannedLift,
    weekday: &str,
    field: &str,
    days: &mut [DayWish],
    problems: &mut Problems,
) {
    let is_it = |day: &&mut DayWish| weekday_name_of(day) == weekday;
    match days.iter_mut().find(is_it) {
        Some(day) => day.pinned.push(planned),
        None => problems.note(
            field,
            format!(
                "`{}` is fixed on {weekday}, which isn't ticked: tick the day, or free the lift",
                planned.lift()
            ),
        ),
    }
}

fn weekday_name_of(day: &DayWish) -> &'static str {
    weekday_name(day.weekday)
}
