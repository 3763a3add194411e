//! A programme as a form: every day and lift as fields, and back, with each mistake beside its field.
//!
//! Days are `d1`, `d2`, …, lifts of a day `d1_l1`, `d1_l2`, …; a lift without a name and a day without a lift
//! are left out, so taking one away is emptying it. The order of lifts is that of their `place`.

use std::collections::{BTreeMap, BTreeSet};

use domain::bounds::number;
use domain::programme::{ShareOfToday, StepBack, WaveWeek, parse_weekday, weekday_name};
use domain::{
    Catalogue, DoseRange, Drafting, EquipmentClass, Joint, LiftName, Mass, Muscle, Note,
    PlannedLift, Priority, Programme, ProgrammeDay, ProgrammeName, Progression, Purpose, RepRange,
    Rir, Unit,
};

use super::read::MOST_LIFTS;
use crate::forms::{Fields, Problems};
use crate::import::near_lifts;
use crate::settings::{in_unit, read_mass};

/// The rules as a field holds them.
pub const RULES: [&str; 5] =
    ["double progression", "load steps", "rep goal", "share of today", "wave"];

/// The days of the form, each with its lifts, as numbers of fields: `(1, [1, 2, 3])` has `d1_l1` to `d1_l3`.
#[must_use]
pub fn days_in(fields: &Fields) -> Vec<(u16, Vec<u16>)> {
    let mut days: BTreeMap<u16, BTreeSet<u16>> = BTreeMap::new();
    for (field, _) in fields.iter() {
        let Some((day, rest)) = field.strip_prefix('d').and_then(|rest| rest.split_once('_'))
        else {
            continue;
        };
        let Ok(day) = day.parse::<u16>() else { continue };
        let lifts = days.entry(day).or_default();
        let lift = rest.strip_prefix('l').and_then(|rest| rest.split_once('_'));
        lifts.extend(lift.and_then(|(lift, _)| lift.parse::<u16>().ok()));
    }
    days.into_iter().map(|(day, lifts)| (day, lifts.into_iter().collect())).collect()
}

/// The form of a programme, with masses in `unit`.
pub(super) fn fields_of(programme: &Programme, unit: Unit) -> Fields {
    let fields =
        Fields::default().with("name", &programme.name).with("note", programme.note.as_str());
    let mut fields = with_purpose(fields, &programme.purpose);
    for (idx, day) in programme.days().iter().enumerate() {
        fields = with_day(fields, idx + 1, day, unit);
    }
    fields
}

/// What a week is for and what it must get by with, as fields.
pub(super) fn with_purpose(fields: Fields, purpose: &Purpose) -> Fields {
    let raise: Vec<&str> = purpose.raise.iter().map(LiftName::as_str).collect();
    let dose: Vec<String> = purpose
        .dose
        .iter()
        .map(|(muscle, range)| {
            format!("{}: {} {} {}", muscle.label(), range.least(), range.aim(), range.most())
        })
        .collect();
    let mut fields = fields.with("raise", raise.join(", ")).with("dose", dose.join("\n"));
    for joint in &purpose.spare {
        fields = fields.with(&format!("spare_{}", joint.key()), "on");
    }
    for class in purpose.equipment.iter().flatten() {
        fields = fields.with(&format!("equipment_{}", class.key()), "on");
    }
    let refuse: Vec<&str> = purpose.refuse.iter().map(LiftName::as_str).collect();
    let Drafting { priorities, most_lifts, ignore_hours } = &purpose.drafting;
    fields = fields
        .with("refuse", refuse.join(", "))
        .with("most_lifts", most_lifts.map_or(String::new(), |most| most.to_string()));
    if *ignore_hours {
        fields = fields.with("ignore_hours", "on");
    }
    for (muscle, priority) in priorities {
        fields = fields.with(&priority_field(*muscle), priority.key());
    }
    fields
}

fn priority_field(muscle: Muscle) -> String {
    format!("priority_{}", muscle.key())
}

fn priorities(fields: &Fields) -> BTreeMap<Muscle, Priority> {
    let told = |muscle: &Muscle| {
        let priority = Priority::parse(fields.get(&priority_field(*muscle))).ok()?;
        Some((*muscle, priority))
    };
    Muscle::ALL.iter().filter_map(told).collect()
}

fn with_day(fields: Fields, number: usize, day: &ProgrammeDay, unit: Unit) -> Fields {
    let minutes = day.minutes().map_or(String::new(), |minutes| minutes.to_string());
    let mut fields = fields
        .with(&format!("d{number}_weekday"), weekday_name(day.weekday()))
        .with(&format!("d{number}_minutes"), minutes);
    for (idx, planned) in day.lifts().iter().enumerate() {
        let place = idx + 1;
        let mut put = |part: &str, text: String| {
            let field = format!("d{number}_l{place}_{part}");
            fields = std::mem::take(&mut fields).with(&field, text);
        };
        let is_wave = matches!(planned.progression(), Progression::Wave { .. });
        put("place", place.to_string());
        put("lift", planned.lift().to_string());
        put("sets", if is_wave { String::new() } else { planned.sets().to_string() });
        put("reps", if is_wave { String::new() } else { planned.reps().to_string() });
        put("rir", planned.rir().map_or(String::new(), |rir| rir.to_string()));
        put("rest", planned.rest_seconds().map_or(String::new(), |rest| rest.to_string()));
        put("rule", planned.progression().name().to_owned());
        for (part, text) in rule_parts(planned.progression(), unit) {
            put(part, text);
        }
    }
    fields
}

fn rule_parts(progression: &Progression, unit: Unit) -> Vec<(&'static str, String)> {
    let step = |step: &Option<Mass>| {
        let text = step.map_or(String::new(), |step| {
            // A step that pounds would only round is shown in kilograms, so that it comes back as it is.
            let shown = in_unit(step, unit);
            let comes_back = read_mass("step", &shown, unit).is_ok_and(|read| read == step);
            if comes_back { shown } else { in_unit(step, Unit::Kg) }
        });
        ("step", text)
    };
    match progression {
        Progression::Double { step: given } => vec![step(given)],
        Progression::LoadSteps { step: given, back } => vec![
            step(given),
            ("misses", back.misses().to_string()),
            ("back", back.pct().to_string()),
        ],
        Progression::RepGoal { total, step: given } => {
            vec![step(given), ("goal", total.to_string())]
        }
        Progression::OfToday(share) => vec![("share", share.pct().to_string())],
        Progression::Wave { weeks } => {
            let week = |week: &WaveWeek| {
                format!("{} x {} at {}", week.sets(), week.reps(), week.share().pct())
            };
            vec![("weeks", weeks.iter().map(week).collect::<Vec<_>>().join("; "))]
        }
    }
}

/// Reads the form; nothing without a note of what is wrong.
pub(super) fn programme_in(
    fields: &Fields,
    unit: Unit,
    catalogue: &Catalogue,
    problems: &mut Problems,
) -> Option<Programme> {
    let reader = Reader { fields, unit, catalogue };
    let name = problems.take("name", ProgrammeName::new(fields.get("name")));
    let note = problems.take("note", Note::new(fields.get("note")));
    let purpose = reader.purpose(problems);
    let mut days: Vec<ProgrammeDay> = Vec::new();
    for (number, lifts) in days_in(fields) {
        days.extend(reader.day(number, &lifts, &days, problems));
    }
    if days.is_empty() && problems.is_empty() {
        problems.note("d1_l1_lift", "the programme has no lift yet: write one and its sets");
    }
    if !problems.is_empty() {
        return None;
    }
    problems.take("name", Programme::new(name?, note?, purpose, days))
}

/// Reads parts of forms.
pub(super) struct Reader<'a> {
    pub(super) fields: &'a Fields,
    pub(super) unit: Unit,
    pub(super) catalogue: &'a Catalogue,
}

impl Reader<'_> {
    /// What a week is for and what it must get by with.
    pub(super) fn purpose(&self, problems: &mut Problems) -> Purpose {
        let ticked = |kind: &str, key: &str| self.fields.has(&format!("{kind}_{key}"));
        let raise = self.lifts("raise", problems);
        let equipment: Vec<EquipmentClass> = EquipmentClass::ALL
            .iter()
            .copied()
            .filter(|class| ticked("equipment", class.key()))
            .collect();
        Purpose {
            raise,
            equipment: (!equipment.is_empty()).then_some(equipment),
            spare: Joint::ALL
                .iter()
                .copied()
                .filter(|joint| ticked("spare", joint.key()))
                .collect(),
            dose: problems.take("dose", dose(self.fields.get("dose"))).unwrap_or_default(),
            refuse: self.lifts("refuse", problems),
            drafting: Drafting {
                priorities: priorities(self.fields),
                most_lifts: self.most_lifts(problems),
                ignore_hours: self.fields.has("ignore_hours"),
            },
        }
    }

    fn most_lifts(&self, problems: &mut Problems) -> Option<u8> {
        let most: u8 = self.whole("most_lifts", "the most lifts in a day", problems)??;
        if !MOST_LIFTS.contains(&most) {
            problems.note("most_lifts", "the most lifts in a day must be from 1 to 20");
        }
        Some(most)
    }

    /// Lifts with commas between.
    pub(super) fn lifts(&self, field: &str, problems: &mut Problems) -> Vec<LiftName> {
        let names = self.fields.get(field).split(',').map(str::trim);
        let names = names.filter(|name| !name.is_empty());
        names.filter_map(|name| self.lift(field, name, problems)).collect()
    }

    fn lift(&self, field: &str, name: &str, problems: &mut Problems) -> Option<LiftName> {
        let name = problems.take(field, LiftName::new(name))?;
        if self.catalogue.find(&name).is_some() {
            return Some(name);
        }
        let near = near_lifts(name.as_str(), self.catalogue);
        let near = match near.as_slice() {
            [] => "choose one of the list, or add it with a lift file".to_owned(),
            near => format!("did you mean {}?", near.join(", ")),
        };
        problems.note(field, format!("there is no lift `{name}`: {near}"));
        None
    }

    /// One day; none if it has no lift.
    fn day(
        &self,
        number: u16,
        lifts: &[u16],
        before: &[ProgrammeDay],
        problems: &mut Problems,
    ) -> Option<ProgrammeDay> {
        let named = |lift: &&u16| !self.fields.get(&format!("d{number}_l{lift}_lift")).is_empty();
        let mut named: Vec<u16> = lifts.iter().filter(named).copied().collect();
        if named.is_empty() {
            return None;
        }
        // A place that can't be read is noted with its lift, and stays where it was.
        let place = |lift: &u16| {
            let text = self.fields.get(&format!("d{number}_l{lift}_place"));
            text.parse::<f64>().unwrap_or(f64::from(*lift))
        };
        named.sort_by(|a, b| place(a).total_cmp(&place(b)));
        let field = |part: &str| format!("d{number}_{part}");
        let weekday =
            problems.take(&field("weekday"), parse_weekday(self.fields.get(&field("weekday"))));
        let minutes = self.whole(&field("minutes"), "minutes", problems);
        let lifts: Vec<Option<PlannedLift>> = named
            .iter()
            .map(|lift| self.planned(&format!("d{number}_l{lift}"), problems))
            .collect();
        let lifts: Vec<PlannedLift> = lifts.into_iter().collect::<Option<_>>()?;
        let weekday = weekday?;
        if before.iter().any(|day| day.weekday() == weekday) {
            let name = weekday_name(weekday);
            problems.note(&field("weekday"), format!("{name} comes twice: choose another day"));
            return None;
        }
        problems.take(&field("minutes"), ProgrammeDay::new(weekday, minutes?, lifts))
    }

    /// A planned lift, whose fields begin with `row`.
    pub(super) fn planned(&self, row: &str, problems: &mut Problems) -> Option<PlannedLift> {
        let field = |part: &str| format!("{row}_{part}");
        let get = |part: &str| self.fields.get(&field(part));
        if !get("place").is_empty() {
            problems.take(&field("place"), number("place", get("place")));
        }
        let lift = self.lift(&field("lift"), get("lift"), problems);
        let rir = match get("rir") {
            "" => Some(None),
            text => problems
                .take(&field("rir"), number("reps in reserve", text).and_then(Rir::new))
                .map(Some),
        };
        let rest = self.whole(&field("rest"), "rest", problems);
        let rule = match get("rule") {
            "" => RULES[0],
            rule => rule,
        };
        if rule == "wave" {
            let weeks = problems.take(&field("weeks"), wave(get("weeks")));
            let built = PlannedLift::wave(lift?, weeks?, rir?, rest?);
            return problems.take(&field("weeks"), built);
        }
        let sets: Option<u8> = match get("sets") {
            "" => {
                problems.note(&field("sets"), "say how many sets");
                None
            }
            text => problems.take(&field("sets"), whole("sets", text)),
        };
        let reps = problems.take(&field("reps"), rep_range(get("reps")));
        let progression = self.progression(row, rule, problems);
        let built = PlannedLift::new(lift?, sets?, reps?, rir?, rest?, progression?);
        // What a rule refuses is told where its numbers are.
        let at = if rule == "rep goal" { "goal" } else { "reps" };
        match built {
            Err(domain::programme::ProgrammeError::Refused(refused)) => {
                problems.note(&field(at_of(&refused)), refused);
                None
            }
            built => problems.take(&field(at), built),
        }
    }

    fn progression(&self, row: &str, rule: &str, problems: &mut Problems) -> Option<Progression> {
        let field = |part: &str| format!("{row}_{part}");
        let get = |part: &str| self.fields.get(&field(part));
        let step = match get("step") {
            "" => Some(None),
            text => {
                let read = read_mass("step", text, self.unit).map_err(|e| e.to_string());
                let above = |mass: Mass| match mass {
                    Mass::ZERO => {
                        Err("the step must be above 0: leave it empty for the equipment's own"
                            .to_owned())
                    }
                    mass => Ok(Some(mass)),
                };
                problems.take(&field("step"), read.and_then(above))
            }
        };
        match rule {
            "double progression" => Some(Progression::Double { step: step? }),
            "load steps" => {
                let usual = StepBack::default();
                let misses = match get("misses") {
                    "" => Some(usual.misses()),
                    text => problems.take(&field("misses"), whole("misses", text)),
                };
                let pct = match get("back") {
                    "" => Some(usual.pct()),
                    text => problems.take(&field("back"), number("step back", text)),
                };
                let back = problems.take(&field("back"), StepBack::new(misses?, pct?));
                Some(Progression::LoadSteps { step: step?, back: back? })
            }
            "rep goal" => {
                let total = problems.take(&field("goal"), whole("repetitions in all", get("goal")));
                Some(Progression::RepGoal { total: total?, step: step? })
            }
            "share of today" => {
                let share = number("share of today's 1RM", get("share"));
                let share = share.and_then(ShareOfToday::new);
                problems.take(&field("share"), share).map(Progression::OfToday)
            }
            other => {
                problems
                    .note(&field("rule"), format!("`{other}` is no rule: choose one of the list"));
                None
            }
        }
    }

    /// A whole number that may be left empty.
    pub(super) fn whole<T: TryFrom<u64>>(
        &self,
        field: &str,
        what: &'static str,
        problems: &mut Problems,
    ) -> Option<Option<T>> {
        match self.fields.get(field) {
            "" => Some(None),
            text => problems.take(field, whole(what, text)).map(Some),
        }
    }
}

/// The field of a lift that a refused value stands in.
fn at_of(refused: &domain::Refused) -> &'static str {
    match refused {
        domain::Refused::OutOfRange { what: "sets", .. } => "sets",
        domain::Refused::OutOfRange { what: "rest", .. } => "rest",
        _ => "reps",
    }
}

fn whole<T: TryFrom<u64>>(what: &'static str, text: &str) -> Result<T, String> {
    let number = text.parse::<u64>().ok().and_then(|number| T::try_from(number).ok());
    number.ok_or_else(|| match text {
        "" => format!("{what} is missing: write a whole number"),
        text => format!("{what} `{}` is no whole number in range", domain::bounds::shortened(text)),
    })
}

/// `5`, `5-8`, `5–8` or `5 to 8`.
fn rep_range(text: &str) -> Result<RepRange, String> {
    let dashed = text.replace("to", "-").replace('–', "-");
    let mut parts = dashed.split('-').map(str::trim);
    let (low, high) = (parts.next().unwrap_or_default(), parts.next());
    if text.is_empty() || parts.next().is_some() {
        return Err(
            "write one number of repetitions, or the lowest and the highest: 5-8".to_owned()
        );
    }
    let low: u16 = whole("repetitions", low)?;
    let high = high.map_or(Ok(low), |high| whole("repetitions", high))?;
    RepRange::new(low, high).map_err(|refused| refused.to_string())
}

/// `3 x 8 at 70; 4 x 6 at 75`.
fn wave(text: &str) -> Result<Vec<WaveWeek>, String> {
    const HOW: &str = "write each week as 3 x 8 at 70, with semicolons between";
    let parts = text.split([';', '\n']).map(str::trim).filter(|part| !part.is_empty());
    let weeks: Vec<WaveWeek> = parts
        .enumerate()
        .map(|(idx, part)| {
            let plain = part.replace(['×', 'X'], "x").replace('%', "");
            let week = plain.split_once('x').and_then(|(sets, rest)| {
                let (reps, pct) = rest.split_once("at")?;
                Some((
                    sets.trim().parse().ok()?,
                    reps.trim().parse().ok()?,
                    pct.trim().parse().ok()?,
                ))
            });
            let (sets, reps, pct) =
                week.ok_or_else(|| format!("week {}: `{part}` can't be read: {HOW}", idx + 1))?;
            ShareOfToday::new(pct)
                .and_then(|share| WaveWeek::new(sets, reps, share))
                .map_err(|refused| format!("week {}: {refused}", idx + 1))
        })
        .collect::<Result<_, String>>()?;
    if weeks.is_empty() { Err(HOW.to_owned()) } else { Ok(weeks) }
}

/// A line for each muscle: `quadriceps: 4 8 14`.
fn dose(text: &str) -> Result<BTreeMap<Muscle, DoseRange>, String> {
    let mut ranges = BTreeMap::new();
    for (idx, line) in text.lines().enumerate().filter(|(_, line)| !line.trim().is_empty()) {
        let at = |reason: String| format!("line {}: {reason}", idx + 1);
        let how = || at(format!("`{line}` can't be read: write it as quadriceps: 4 8 14"));
        let (muscle, numbers) = line.split_once(':').ok_or_else(how)?;
        let muscle = Muscle::parse(muscle.trim()).map_err(|refused| at(refused.to_string()))?;
        let numbers: Vec<f64> = numbers
            .split([' ', ',', '-', '–'])
            .filter(|part| !part.is_empty())
            .map(|part| number("dose", part).map_err(|refused| at(refused.to_string())))
            .collect::<Result<_, _>>()?;
        let [least, aim, most] = numbers[..] else { return Err(how()) };
        let range = DoseRange::new(least, aim, most).map_err(|refused| at(refused.to_string()))?;
        ranges.insert(muscle, range);
    }
    Ok(ranges)
}
