//! Changes of a lifter's plan on record: made, listed, taken back.

use domain::{EquipmentClass, LifterName, Muscle, When};
use jiff::Timestamp;
use jiff::civil::Date;
use store::{Standing, Store};

use super::plan_change::{checked_days, checked_pct};
use super::{PlanChange, monday_of};
use crate::forms::{Fields, FormError, Problems};
use crate::record::person::lifter;
use crate::{Desk, ServiceError, words};

/// How many weeks ahead sessions can be picked to be moved or dropped, the present one among them.
const WEEKS: usize = 4;

/// The changes of a lifter's plan, and the form for another one.
#[derive(Clone, Debug)]
pub struct PlanChangesView {
    /// Whose plan it is.
    pub lifter: String,
    /// The day for which it was made.
    pub today: Date,
    /// Everything on record, the latest day first.
    pub lines: Vec<PlanChangeLine>,
    /// The sessions that can be moved or dropped: the day as a field holds it, and what is planned.
    pub sessions: Vec<(String, String)>,
    /// Every muscle: key and name.
    pub muscles: Vec<(&'static str, &'static str)>,
    /// Every class of equipment: key and name.
    pub equipment: Vec<(&'static str, &'static str)>,
    /// The form.
    pub fields: Fields,
    /// What is wrong with it.
    pub problems: Problems,
}

/// One change of plan on record.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize)]
pub struct PlanChangeLine {
    /// Names it.
    pub id: String,
    /// What changes, as a sentence.
    pub words: String,
    /// Its first day.
    pub from: String,
    /// Its last day.
    pub until: String,
    /// Whether its last day has passed.
    pub is_over: bool,
    /// Whether it was taken back.
    pub is_withdrawn: bool,
    /// Why, if it was told.
    pub reason: String,
    /// When it was recorded, or taken back.
    #[serde(serialize_with = "as_text")]
    pub recorded: Timestamp,
}

impl Desk {
    /// The changes of a lifter's plan, with the form for another: empty, or as it was typed.
    ///
    /// # Errors
    /// There is nobody of that name, or something on record can't be read any more.
    pub fn plan_changes(
        &self,
        name: &LifterName,
        typed: Option<&Fields>,
        today: Date,
    ) -> Result<PlanChangesView, ServiceError> {
        let person = self.person(name)?;
        let mut lines = Vec::new();
        for version in self.store().plan_changes_of(&person.lifter.name)? {
            lines.push(line(&version, today));
        }
        lines.sort_by(|a, b| b.from.cmp(&a.from));
        let mut sessions = Vec::new();
        if let Some(schedule) = &person.schedule {
            let first = schedule.followed.week_on(today.max(schedule.followed.begins)).unwrap_or(0);
            for session in (first..first + WEEKS).flat_map(|week| schedule.week(week)) {
                let lifts: Vec<&str> =
                    session.slots().map(|slot| slot.planned.lift().as_str()).collect();
                let words = format!("{}: {}", words::day(session.date(), today), lifts.join(", "));
                sessions.push((session.date().to_string(), words));
            }
        }
        let fields = typed.cloned().unwrap_or_else(|| {
            Fields::default()
                .with("light_from", today)
                .with("light_until", monday_of(today).saturating_add(jiff::Span::new().days(6)))
                .with("light_pct", PlanChange::USUAL_SETS_PCT)
                .with("away_from", today)
                .with("away_until", monday_of(today).saturating_add(jiff::Span::new().days(6)))
        });
        Ok(PlanChangesView {
            lifter: person.lifter.name.to_string(),
            today,
            lines,
            sessions,
            muscles: Muscle::ALL.iter().map(|muscle| (muscle.key(), muscle.label())).collect(),
            equipment: EquipmentClass::ALL
                .iter()
                .filter(|class| **class != EquipmentClass::Bodyweight)
                .map(|class| (class.key(), class.label()))
                .collect(),
            fields,
            problems: Problems::default(),
        })
    }

    /// Records a change of plan; cards, floor and calendar follow it at once.
    ///
    /// # Errors
    /// There is nobody of that name or no programme, or the change makes no sense for it.
    pub fn change_plan(
        &self,
        name: &LifterName,
        change: &PlanChange,
        reason: &str,
        (today, now): (Date, Timestamp),
    ) -> Result<PlanChangeLine, ServiceError> {
        let person = self.person(name)?;
        let name = &person.lifter.name;
        let Some(schedule) = &person.schedule else {
            return Err(ServiceError::NoProgramme { lifter: name.to_string() });
        };
        if let Some(reason) = why_not(change, schedule) {
            return Err(ServiceError::PlanChange { lifter: name.to_string(), reason });
        }
        let (from, until) = change.days();
        let text = change.write();
        let id = uuid::Uuid::new_v5(
            &uuid::Uuid::NAMESPACE_OID,
            format!("{}\n{}\n{text}", name.key(), now.as_microsecond()).as_bytes(),
        );
        let change_on_record =
            store::PlanChange { id: id.into_bytes(), lifter: name.clone(), from, until, text };
        self.store().put_plan_change(&change_on_record, reason, now)?;
        Ok(PlanChangeLine {
            id: id.to_string(),
            words: words::sentence(&change.words(today)),
            from: from.to_string(),
            until: until.to_string(),
            is_over: until < today,
            is_withdrawn: false,
            reason: reason.to_owned(),
            recorded: now,
        })
    }

    /// Records the change of plan that the form says: `what` is `move`, `drop`, `light` or `away`.
    ///
    /// # Errors
    /// A field can't be taken, or as [`Desk::change_plan`].
    pub fn change_plan_form(
        &self,
        name: &LifterName,
        fields: &Fields,
        (today, now): (Date, Timestamp),
    ) -> Result<PlanChangeLine, FormError> {
        let mut problems = Problems::default();
        let change = change_in(fields, &mut problems);
        let (Some(change), true) = (change, problems.is_empty()) else {
            return Err(FormError::Problems(problems));
        };
        match self.change_plan(name, &change, fields.get("reason"), (today, now)) {
            Err(ServiceError::PlanChange { reason, .. }) => {
                problems.note(&format!("{}_day", fields.get("what")), reason);
                Err(FormError::Problems(problems))
            }
            done => Ok(done?),
        }
    }

    /// Takes a change of plan back. What it said is kept.
    ///
    /// # Errors
    /// There is nobody of that name, or the lifter has no such change in force.
    pub fn withdraw_plan_change(
        &self,
        name: &LifterName,
        id: &str,
        reason: &str,
        now: Timestamp,
    ) -> Result<(), ServiceError> {
        let name = lifter(self.store(), name)?.name;
        let no_such = || ServiceError::PlanChange {
            lifter: name.to_string(),
            reason: "there is no such change in force: look at the list again".to_owned(),
        };
        let id = uuid::Uuid::try_parse(id).map_err(|_| no_such())?.into_bytes();
        match self.store().withdraw_plan_change(&name, &id, reason, now)? {
            true => Ok(()),
            false => Err(no_such()),
        }
    }
}

/// The changes of a lifter's plan that are in force, in the order in which they were recorded. One that can't
/// be read any more counts for nothing: it must not keep anybody from taking it back.
pub(crate) fn plan_changes_in_force(
    store: &Store,
    name: &LifterName,
) -> Result<Vec<PlanChange>, ServiceError> {
    let read = |version: &store::PlanChangeVersion| PlanChange::read(&version.content.text).ok();
    Ok(in_force(store, name)?.iter().filter_map(read).collect())
}

/// The changes that are in force and not over, as sentences, those that can't be read among them.
pub(super) fn plan_changes_in_words(
    store: &Store,
    name: &LifterName,
    today: Date,
) -> Result<Vec<String>, ServiceError> {
    let in_force = in_force(store, name)?;
    let lasting = in_force.iter().filter(|version| version.content.until >= today);
    Ok(lasting.map(|version| in_words(version, today)).collect())
}

fn in_force(
    store: &Store,
    name: &LifterName,
) -> Result<Vec<store::PlanChangeVersion>, ServiceError> {
    let mut versions = store.plan_changes_of(name)?;
    versions.retain(|version| version.standing == Standing::Recorded);
    Ok(versions)
}

fn in_words(version: &store::PlanChangeVersion, today: Date) -> String {
    match PlanChange::read(&version.content.text) {
        Ok(change) => words::sentence(&change.words(today)),
        Err(error) => format!(
            "A change from {} to {} can't be read any more and counts for nothing ({error}): take it back.",
            version.content.from, version.content.until
        ),
    }
}

fn line(version: &store::PlanChangeVersion, today: Date) -> PlanChangeLine {
    let content = &version.content;
    PlanChangeLine {
        id: uuid::Uuid::from_bytes(content.id).to_string(),
        words: in_words(version, today),
        from: content.from.to_string(),
        until: content.until.to_string(),
        is_over: content.until < today,
        is_withdrawn: version.standing == Standing::Withdrawn,
        reason: version.reason.clone(),
        recorded: version.recording.at,
    }
}

/// Why a change makes no sense for a schedule; none if it does.
fn why_not(change: &PlanChange, schedule: &super::Schedule) -> Option<String> {
    if let Err(refused) = change.checked() {
        return Some(refused.to_string());
    }
    let nothing = |day: Date| format!("nothing is planned for {day}: name the day of a session");
    match change {
        PlanChange::Move { day, to } => {
            if schedule.planned_on(*day).is_none() {
                return Some(nothing(*day));
            }
            if day == to {
                return Some("it is planned for that day already: name another".to_owned());
            }
            if monday_of(*day) != monday_of(*to) {
                return Some(format!(
                    "{to} lies in another week (Monday to Sunday): name a day of the same, or leave the \
                     session out"
                ));
            }
            if *to < schedule.followed.begins {
                return Some(format!("the programme begins later than {to}: name another day"));
            }
            schedule.planned_on(*to).map(|_| {
                format!("another session is planned for {to}: move or leave out that one first")
            })
        }
        PlanChange::Drop { day } => schedule.planned_on(*day).is_none().then(|| nothing(*day)),
        PlanChange::Light { days: (_, until), .. } | PlanChange::Away { days: (_, until), .. } => {
            (*until < schedule.followed.begins)
                .then(|| "the programme begins after that: name later days".to_owned())
        }
    }
}

/// Reads the form; nothing without a note of what is wrong.
fn change_in(fields: &Fields, problems: &mut Problems) -> Option<PlanChange> {
    let mut day =
        |field: &str| problems.take(field, When::parse(fields.get(field))).map(|when| when.date());
    match fields.get("what") {
        "move" => {
            let (day, to) = (day("move_day"), day("move_to"));
            Some(PlanChange::Move { day: day?, to: to? })
        }
        "drop" => Some(PlanChange::Drop { day: day("drop_day")? }),
        what @ ("light" | "away") => {
            let (from, until) = (day(&format!("{what}_from")), day(&format!("{what}_until")));
            let (from, until) = (from?, until?);
            let days = problems.take(&format!("{what}_until"), checked_days(from, until));
            if what == "away" {
                return Some(PlanChange::Away { days: days?, equipment: equipment(fields) });
            }
            let pct = fields.get("light_pct").parse::<u8>().map_err(|_| {
                format!("`{}` is no whole number of %: write 50", fields.get("light_pct"))
            });
            let pct = problems.take("light_pct", pct);
            let sets_pct = pct.and_then(|pct| problems.take("light_pct", checked_pct(pct)));
            Some(PlanChange::Light { days: days?, sets_pct: sets_pct?, muscles: muscles(fields) })
        }
        _ => {
            problems.note("what", "say what changes: press one of the buttons of the page");
            None
        }
    }
}

fn equipment(fields: &Fields) -> Vec<EquipmentClass> {
    let ticked = |class: &EquipmentClass| fields.has(&format!("equipment_{}", class.key()));
    EquipmentClass::ALL.iter().copied().filter(ticked).collect()
}

fn muscles(fields: &Fields) -> Vec<Muscle> {
    let ticked = |muscle: &Muscle| fields.has(&format!("muscle_{}", muscle.key()));
    Muscle::ALL.iter().copied().filter(ticked).collect()
}

fn as_text<S: serde::Serializer>(at: &Timestamp, to: S) -> Result<S::Ok, S::Error> {
    to.collect_str(at)
}
