//! Taking on a new lifter: name, unit and equipment, known bests as tests, joints that complain as a
//! check-in; all of it in one act, or none of it.

use domain::{
    CheckIn, Joint, Lifter, LifterName, Load, LoggedSet, Mass, Note, Pain, Reps, SetKind,
    SetNumber, Unit, When,
};
use jiff::Timestamp;
use jiff::civil::Date;
use store::OnDifference;

use crate::ServiceError;
use crate::desk::Desk;
use crate::forms::{Fields, FormError, Problems};
use crate::lift::amend::read_lift;
use crate::settings::read_equipment;

/// How many known bests the form has room for.
pub const BESTS: usize = 6;
/// How many joints the form has room for.
pub const JOINTS: usize = 3;
/// What a best is noted as.
const NOTE: &str = "known best, told at intake";

/// The form as it is shown at first, and what its lists offer.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct IntakeView {
    /// The form.
    pub fields: Fields,
    /// Every lift of the catalogue.
    pub known_lifts: Vec<String>,
    /// Every joint: the key that a field holds and the name shown.
    pub joints: Vec<(&'static str, &'static str)>,
}

impl Desk {
    /// The empty form for a new lifter.
    ///
    /// # Errors
    /// The store has trouble, or a lift file on record can't be read.
    pub fn intake(&self, today: Date) -> Result<IntakeView, ServiceError> {
        let catalogue = crate::record::person::catalogue(self.store())?;
        let fields = (1..=BESTS).fold(Fields::default().with("unit", "kg"), |fields, row| {
            fields.with(&format!("best_date_{row}"), today)
        });
        Ok(IntakeView {
            fields,
            known_lifts: catalogue.lifts().iter().map(|lift| lift.name.to_string()).collect(),
            joints: Joint::ALL.iter().map(|joint| (joint.key(), joint.label())).collect(),
        })
    }

    /// Puts a new lifter on record.
    ///
    /// # Errors
    /// A field can't be taken, somebody has that name already, or the store has trouble.
    pub fn take_on(
        &self,
        fields: &Fields,
        (today, now): (Date, Timestamp),
    ) -> Result<LifterName, FormError> {
        let mut problems = Problems::default();
        let name = problems.take("name", LifterName::new(fields.get("name")));
        if let Some(name) = &name
            && let Some(known) = self.store().lifter(name)?
        {
            let taken = "somebody of that name is on record: give another, say with a surname";
            problems.note("name", format!("`{}` can't be used: {taken}", known.name));
        }
        let unit = problems.take("unit", Unit::parse(fields.get("unit")));
        // Problems of the rest are told at once, so a name stands in while there is none.
        let stand_in = LifterName::new("nobody").map_err(ServiceError::from)?;
        let mut lifter = Lifter::usual(name.unwrap_or(stand_in), unit.unwrap_or_default());
        if let (Some(bar), Some(plates)) = read_equipment(fields, &lifter, &mut problems) {
            lifter = Lifter { bar, plates, ..lifter };
        }
        let catalogue = crate::record::person::catalogue(self.store())?;
        let mut bests: Vec<LoggedSet> = Vec::new();
        for row in 1..=BESTS {
            let best = read_best(fields, row, &lifter, &catalogue, today, &bests, &mut problems);
            bests.extend(best);
        }
        let check_ins = read_check_ins(fields, &lifter, today, &mut problems);
        problems.none_left()?;
        let mut into = self.store().begin_import("intake", now)?;
        into.put_lifter(&lifter)?;
        for best in &bests {
            into.add_set(best, OnDifference::Keep)?;
        }
        for check_in in &check_ins {
            into.add_check_in(check_in, OnDifference::Keep)?;
        }
        into.commit()?;
        Ok(lifter.name)
    }
}

/// Reads one row of known bests; none if its lift, load and reps are empty. Sets of one lift and day count
/// up from those `before`.
fn read_best(
    fields: &Fields,
    row: usize,
    lifter: &Lifter,
    catalogue: &domain::Catalogue,
    today: Date,
    before: &[LoggedSet],
    problems: &mut Problems,
) -> Option<LoggedSet> {
    let [lift, load, reps, date] =
        ["lift", "load", "reps", "date"].map(|part| format!("best_{part}_{row}"));
    if [&lift, &load, &reps].iter().all(|field| fields.get(field).is_empty()) {
        return None;
    }
    let known = read_lift(fields.get(&lift), catalogue, problems, &lift);
    let weight = problems.take(&load, Load::parse(fields.get(&load), lifter.unit));
    let count = problems.take(&reps, Reps::parse(fields.get(&reps)));
    let when = problems.take(&date, When::parse(fields.get(&date)));
    if when.is_some_and(|when| when.date() > today) {
        problems.note(&date, format!("`{}` lies ahead: today is {today}", fields.get(&date)));
    }
    let (known, weight) = (known?, weight?);
    problems.take(&load, known.accepts_load(weight))?;
    let when = when?;
    let same = before.iter().filter(|set| set.lift == known.name && set.when == when).count();
    Some(LoggedSet {
        lifter: lifter.name.clone(),
        when,
        lift: known.name.clone(),
        number: SetNumber::new(1 + same as u8).ok()?, // at most the rows of the form
        kind: SetKind::Test,
        load: weight,
        reps: count?,
        rir: None,
        note: Note::new(NOTE).ok()?,
    })
}

/// Reads body mass and the joints that complain, as check-ins of today.
fn read_check_ins(
    fields: &Fields,
    lifter: &Lifter,
    today: Date,
    problems: &mut Problems,
) -> Vec<CheckIn> {
    let body_mass = match fields.get("body_mass") {
        "" => None,
        text => problems
            .take("body_mass", domain::bounds::number("body mass", text))
            .and_then(|value| problems.take("body_mass", read_body_mass(value, lifter.unit))),
    };
    let mut pains: Vec<Option<Pain>> = Vec::new();
    for row in 1..=JOINTS {
        pains.extend(read_pain(fields, row, &pains, problems).map(Some));
    }
    if pains.is_empty() && body_mass.is_some() {
        pains.push(None);
    }
    let Some(when) = problems.take("date", When::new(today, None)) else { return Vec::new() };
    let check_in = |(place, pain): (usize, Option<Pain>)| CheckIn {
        lifter: lifter.name.clone(),
        when,
        sleep_h: None,
        stress: None,
        soreness: None,
        body_mass: body_mass.filter(|_| place == 0),
        pain,
    };
    pains.into_iter().enumerate().map(check_in).collect()
}

/// A body mass, or why not, with the bounds in the unit in which it was written.
fn read_body_mass(value: f64, unit: Unit) -> Result<Mass, String> {
    CheckIn::body_mass(value * unit.kg()).map_err(|_| {
        let bound = |kg: f64| (kg / unit.kg()).round();
        format!(
            "body mass `{value}` is out of range: it must be from {} to {} {}",
            bound(20.0),
            bound(400.0),
            unit.as_str()
        )
    })
}

fn read_pain(
    fields: &Fields,
    row: usize,
    before: &[Option<Pain>],
    problems: &mut Problems,
) -> Option<Pain> {
    let [joint, pain] = ["joint", "pain"].map(|part| format!("{part}_{row}"));
    let (named, rated) = (fields.get(&joint), fields.get(&pain));
    match (named, rated) {
        ("", "") => return None,
        ("", _) => problems.note(&joint, format!("pain of `{rated}` has no joint: choose one")),
        (_, "") => problems.note(&pain, "there is no rating: write a whole number from 0 to 10"),
        _ => {}
    }
    let place = problems.take(&joint, Joint::parse(named))?;
    let rating = rated
        .parse::<u8>()
        .map_err(|_| format!("pain `{rated}` can't be read: write a whole number from 0 to 10"));
    let found = problems.take(&pain, rating)?;
    if before.iter().flatten().any(|told| told.joint == place) {
        problems.note(&joint, format!("the {} is named twice: keep one of the two", place.label()));
        return None;
    }
    problems.take(&pain, Pain::new(place, found))
}
