//! The lines of `record.jsonl`: one JSON object each, a first line that names the format, and a last
//! one that says how many facts there are, so that a file that was cut off is noticed.
//!
//! Numbers are whole where the record's are (grams, half reps in reserve), and the others are
//! written with as many digits as bring the very same number back. `docs/export.md` describes every
//! key; a change that an older program would misread gets the next [`VERSION`].

use std::io::{self, Write};

use domain::{
    Bar, CheckIn, CheckInId, Joint, LiftName, Lifter, LifterName, Limits, Load, LoggedSet, Mass,
    Note, Pain, PlateStock, Refused, Reps, Rir, SetId, SetKind, SetNumber, Unit, When,
};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use serde_json::value::RawValue;
use store::{
    Fact, FloorMessage, ImportId, LifterProgramme, Opens, Outcome, PhoneLink, PlanChange,
    Recording, Standing, Thing,
};

use crate::programme::read_programme;

/// The version of the format written here.
pub(super) const VERSION: u32 = 1;
const FORMAT: &str = "bellwether record";

/// What a line of the file says.
#[derive(Debug)]
pub(super) enum Line {
    /// The first line, with the version of the format.
    First(u32),
    /// One fact.
    Fact(Box<Fact>),
    /// The last line, with the number of facts.
    Last(u64),
}

/// Why a line can't be read.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct BadLine(pub(super) String);

impl From<Refused> for BadLine {
    fn from(refused: Refused) -> BadLine {
        BadLine(refused.to_string())
    }
}

impl From<serde_json::Error> for BadLine {
    fn from(error: serde_json::Error) -> BadLine {
        let text = error.to_string();
        let reason = text.split(" at line ").next().unwrap_or_default();
        BadLine(format!("this is no whole line of a record (column {}): {reason}", error.column()))
    }
}

pub(super) fn write_first(out: &mut dyn Write) -> io::Result<()> {
    write_line(&FirstLine { format: FORMAT.into(), version: VERSION }, out)
}

pub(super) fn write_last(facts: u64, out: &mut dyn Write) -> io::Result<()> {
    write_line(&LastLine { end: true, facts }, out)
}

pub(super) fn write_fact(fact: &Fact, out: &mut dyn Write) -> io::Result<()> {
    let (kind, content) = match &fact.thing {
        Thing::Lifter(lifter) => ("lifter", raw(&LifterContent::of(lifter))?),
        Thing::LiftFile(text) => ("lift-file", raw(&LiftFileContent { text: text.clone() })?),
        Thing::Set(id, set) => ("set", raw(&SetContent::of(*id, set))?),
        Thing::CheckIn(id, check_in) => ("check-in", raw(&CheckInContent::of(*id, check_in))?),
        Thing::PhoneLink(link) => ("phone", raw(&PhoneLinkContent::of(link))?),
        Thing::FloorMessage(message) => ("floor", raw(&FloorMessageContent::of(message))?),
        Thing::Programme(programme) => ("programme", raw(&ProgrammeContent::of(programme))?),
        Thing::PlanChange(change) => ("plan-change", raw(&PlanChangeContent::of(change))?),
    };
    let line = FactLine {
        fact: fact.seq,
        recording: RecordingContent {
            id: fact.recording.id.get(),
            at: fact.recording.at.to_string(),
            source: fact.recording.source.clone(),
        },
        supersedes: fact.supersedes,
        withdrawn: fact.standing == Standing::Withdrawn,
        reason: fact.reason.clone(),
        kind: kind.to_owned(),
        content: &content,
    };
    write_line(&line, out)
}

/// Reads one line, without its line break.
pub(super) fn read_line(text: &str) -> Result<Line, BadLine> {
    let keys: Keys = serde_json::from_str(text)?;
    match keys {
        Keys { format: Some(format), .. } if format == FORMAT => {
            let version = keys.version.ok_or_else(|| BadLine("`version` is missing".to_owned()))?;
            Ok(Line::First(version))
        }
        Keys { end: Some(true), .. } => {
            Ok(Line::Last(serde_json::from_str::<LastLine>(text)?.facts))
        }
        Keys { fact: Some(_), .. } => read_fact(text).map(|fact| Line::Fact(Box::new(fact))),
        _ => Err(BadLine("this is no line of a record: it has none of its keys".to_owned())),
    }
}

fn read_fact(text: &str) -> Result<Fact, BadLine> {
    let line: FactLine<'_> = serde_json::from_str(text)?;
    let content = line.content.get();
    let thing = match line.kind.as_str() {
        "lifter" => Thing::Lifter(part::<LifterContent>(content)?.into_lifter()?),
        "lift-file" => Thing::LiftFile(part::<LiftFileContent>(content)?.text),
        "set" => {
            let (id, set) = part::<SetContent>(content)?.into_set()?;
            Thing::Set(id, set)
        }
        "check-in" => {
            let (id, check_in) = part::<CheckInContent>(content)?.into_check_in()?;
            Thing::CheckIn(id, check_in)
        }
        "phone" => Thing::PhoneLink(part::<PhoneLinkContent>(content)?.into_link()?),
        "floor" => Thing::FloorMessage(part::<FloorMessageContent>(content)?.into_message()?),
        "programme" => Thing::Programme(part::<ProgrammeContent>(content)?.into_programme()?),
        "plan-change" => Thing::PlanChange(part::<PlanChangeContent>(content)?.into_change()?),
        other => {
            return Err(BadLine(format!(
                "facts of the kind `{}` are not known here: use the newer program that wrote them",
                domain::bounds::shortened(other)
            )));
        }
    };
    Ok(Fact {
        seq: line.fact,
        recording: line.recording.into_recording()?,
        supersedes: line.supersedes,
        standing: if line.withdrawn { Standing::Withdrawn } else { Standing::Recorded },
        reason: line.reason,
        thing,
    })
}

/// The keys by which the three sorts of line are told apart.
#[derive(Deserialize)]
struct Keys {
    format: Option<String>,
    version: Option<u32>,
    end: Option<bool>,
    fact: Option<u64>,
}

#[derive(Serialize)]
struct FirstLine {
    format: String,
    version: u32,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct LastLine {
    end: bool,
    facts: u64,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct FactLine<'a> {
    fact: u64,
    recording: RecordingContent,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    supersedes: Option<u64>,
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    withdrawn: bool,
    #[serde(default, skip_serializing_if = "String::is_empty")]
    reason: String,
    kind: String,
    #[serde(borrow)]
    content: &'a RawValue,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct RecordingContent {
    id: u64,
    at: String,
    source: String,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct LifterContent {
    name: String,
    unit: String,
    bar_g: u32,
    collars_g: u32,
    plates: Vec<PlateContent>,
    pain_limit: u8,
    shortfall_pct: f64,
    cost_of_cutting_for_nothing: f64,
    cost_of_training_through: f64,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct PlateContent {
    g: u32,
    pairs: u8,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct LiftFileContent {
    text: String,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct SetContent {
    id: String,
    lifter: String,
    when: String,
    lift: String,
    set: u8,
    kind: String,
    load_g: i32,
    unit: String,
    reps: u16,
    rir: Option<f64>,
    note: String,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct CheckInContent {
    id: String,
    lifter: String,
    when: String,
    sleep_h: Option<f64>,
    stress: Option<f64>,
    soreness: Option<f64>,
    body_mass_g: Option<u32>,
    pain: Option<PainContent>,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct PainContent {
    joint: String,
    rating: u8,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct PhoneLinkContent {
    id: String,
    lifter: String,
    token_sha256: String,
    /// What it opens; left out for a session, as before there was anything else.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    opens: Option<String>,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct FloorMessageContent {
    id: String,
    lifter: String,
    link: String,
    day: String,
    kind: String,
    body: String,
    logged: String,
    sent: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    set: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    check_in: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    refused: Option<String>,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct ProgrammeContent {
    lifter: String,
    begins: String,
    text: String,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct PlanChangeContent {
    id: String,
    lifter: String,
    from: String,
    until: String,
    text: String,
}

impl RecordingContent {
    fn into_recording(self) -> Result<Recording, BadLine> {
        let id = ImportId::new(self.id).ok_or_else(|| {
            BadLine(format!(
                "the recording's number `{}` is out of range: it must be 1 or more",
                self.id
            ))
        })?;
        let at: Timestamp = self.at.parse().map_err(|_| {
            BadLine(format!(
                "the recording's time `{}` can't be read: write it as 2031-05-04T18:20:00Z",
                domain::bounds::shortened(&self.at)
            ))
        })?;
        Ok(Recording { id, at, source: self.source })
    }
}

impl LifterContent {
    fn of(lifter: &Lifter) -> LifterContent {
        let plate = |(mass, pairs): &(Mass, u8)| PlateContent { g: mass.grams(), pairs: *pairs };
        LifterContent {
            name: lifter.name.to_string(),
            unit: lifter.unit.as_str().to_owned(),
            bar_g: lifter.bar.mass.grams(),
            collars_g: lifter.bar.collars.grams(),
            plates: lifter.plates.pairs().iter().map(plate).collect(),
            pain_limit: lifter.limits.pain(),
            shortfall_pct: lifter.limits.shortfall_pct(),
            cost_of_cutting_for_nothing: lifter.limits.cut_for_nothing(),
            cost_of_training_through: lifter.limits.trained_through(),
        }
    }

    fn into_lifter(self) -> Result<Lifter, BadLine> {
        let pairs = self
            .plates
            .iter()
            .map(|plate| Ok((Mass::try_from_grams(plate.g)?, plate.pairs)))
            .collect::<Result<Vec<_>, Refused>>()?;
        Ok(Lifter {
            name: LifterName::new(&self.name)?,
            unit: Unit::parse(&self.unit)?,
            bar: Bar {
                mass: Mass::try_from_grams(self.bar_g)?,
                collars: Mass::try_from_grams(self.collars_g)?,
            },
            plates: PlateStock::new(pairs)?,
            limits: Limits::new(
                self.pain_limit,
                self.shortfall_pct,
                self.cost_of_cutting_for_nothing,
                self.cost_of_training_through,
            )?,
        })
    }
}

impl SetContent {
    fn of(id: SetId, set: &LoggedSet) -> SetContent {
        SetContent {
            id: id.to_string(),
            lifter: set.lifter.to_string(),
            when: set.when.to_string(),
            lift: set.lift.to_string(),
            set: set.number.get(),
            kind: set.kind.as_str().to_owned(),
            load_g: set.load.grams(),
            unit: set.load.unit().as_str().to_owned(),
            reps: set.reps.get(),
            rir: set.rir.map(Rir::get),
            note: set.note.as_str().to_owned(),
        }
    }

    fn into_set(self) -> Result<(SetId, LoggedSet), BadLine> {
        let set = LoggedSet {
            lifter: LifterName::new(&self.lifter)?,
            when: When::parse(&self.when)?,
            lift: LiftName::new(&self.lift)?,
            number: SetNumber::new(self.set)?,
            kind: SetKind::parse(&self.kind)?,
            load: Load::from_grams(self.load_g, Unit::parse(&self.unit)?)?,
            reps: Reps::new(self.reps)?,
            rir: self.rir.map(Rir::new).transpose()?,
            note: Note::new(&self.note)?,
        };
        Ok((SetId::parse(&self.id)?, set))
    }
}

impl CheckInContent {
    fn of(id: CheckInId, check_in: &CheckIn) -> CheckInContent {
        CheckInContent {
            id: id.to_string(),
            lifter: check_in.lifter.to_string(),
            when: check_in.when.to_string(),
            sleep_h: check_in.sleep_h,
            stress: check_in.stress,
            soreness: check_in.soreness,
            body_mass_g: check_in.body_mass.map(Mass::grams),
            pain: check_in.pain.map(|pain| PainContent {
                joint: pain.joint.key().to_owned(),
                rating: pain.rating(),
            }),
        }
    }

    fn into_check_in(self) -> Result<(CheckInId, CheckIn), BadLine> {
        let rating =
            |what, value: Option<f64>| value.map(|value| CheckIn::rating(what, value)).transpose();
        let pain = self.pain.map(|pain| Pain::new(Joint::parse(&pain.joint)?, pain.rating));
        let body_mass = self.body_mass_g.map(|g| CheckIn::body_mass(f64::from(g) / 1000.0));
        let check_in = CheckIn {
            lifter: LifterName::new(&self.lifter)?,
            when: When::parse(&self.when)?,
            sleep_h: self.sleep_h.map(CheckIn::sleep).transpose()?,
            stress: rating("stress", self.stress)?,
            soreness: rating("soreness", self.soreness)?,
            body_mass: body_mass.transpose()?,
            pain: pain.transpose()?,
        };
        Ok((CheckInId::parse(&self.id)?, check_in))
    }
}

impl PhoneLinkContent {
    fn of(link: &PhoneLink) -> PhoneLinkContent {
        PhoneLinkContent {
            id: uuid::Uuid::from_bytes(link.id).to_string(),
            lifter: link.lifter.to_string(),
            token_sha256: link.token_hash.iter().map(|byte| format!("{byte:02x}")).collect(),
            opens: (link.opens != Opens::Session).then(|| link.opens.as_str().to_owned()),
        }
    }

    fn into_link(self) -> Result<PhoneLink, BadLine> {
        let hash = &self.token_sha256;
        let pairs = (hash.len() == 64 && hash.is_ascii()).then(|| {
            (0..32).map(|place| u8::from_str_radix(&hash[2 * place..2 * place + 2], 16).ok())
        });
        let bytes: Option<Vec<u8>> = pairs.and_then(Iterator::collect);
        let token_hash = bytes.and_then(|bytes| bytes.try_into().ok()).ok_or_else(|| {
            BadLine("`token_sha256` can't be read: write 64 hexadecimal digits".to_owned())
        })?;
        let opens = self.opens.as_deref().map_or(Some(Opens::Session), Opens::named);
        let opens = opens.ok_or_else(|| {
            BadLine("`opens` is not known: write `session` or `calendar`".to_owned())
        })?;
        Ok(PhoneLink {
            id: id_in("id", &self.id)?,
            lifter: LifterName::new(&self.lifter)?,
            token_hash,
            opens,
        })
    }
}

impl FloorMessageContent {
    fn of(message: &FloorMessage) -> FloorMessageContent {
        let (mut set, mut check_in, mut refused) = (None, None, None);
        match &message.outcome {
            Outcome::Kept => {}
            Outcome::Set(id) => set = Some(id.to_string()),
            Outcome::CheckIn(id) => check_in = Some(id.to_string()),
            Outcome::Refused(reason) => refused = Some(reason.clone()),
        }
        FloorMessageContent {
            id: uuid::Uuid::from_bytes(message.id).to_string(),
            lifter: message.lifter.to_string(),
            link: uuid::Uuid::from_bytes(message.link).to_string(),
            day: message.day.to_string(),
            kind: message.kind.clone(),
            body: message.body.clone(),
            logged: message.logged.to_string(),
            sent: message.sent.to_string(),
            set,
            check_in,
            refused,
        }
    }

    fn into_message(self) -> Result<FloorMessage, BadLine> {
        let outcome = match (&self.set, &self.check_in, self.refused) {
            (Some(id), None, None) => Outcome::Set(SetId::parse(id)?),
            (None, Some(id), None) => Outcome::CheckIn(CheckInId::parse(id)?),
            (None, None, Some(reason)) => Outcome::Refused(reason),
            (None, None, None) => Outcome::Kept,
            _ => return Err(BadLine("a message has one outcome at most".to_owned())),
        };
        let time = |what: &str, text: &str| {
            text.parse::<Timestamp>().map_err(|_| {
                let got = domain::bounds::shortened(text);
                BadLine(format!("`{what}` `{got}` can't be read: write it as 2031-05-04T18:20:00Z"))
            })
        };
        Ok(FloorMessage {
            id: id_in("id", &self.id)?,
            lifter: LifterName::new(&self.lifter)?,
            link: id_in("link", &self.link)?,
            day: When::parse(&self.day)?.date(),
            kind: self.kind,
            body: self.body,
            logged: time("logged", &self.logged)?,
            sent: time("sent", &self.sent)?,
            outcome,
        })
    }
}

impl ProgrammeContent {
    fn of(programme: &LifterProgramme) -> ProgrammeContent {
        ProgrammeContent {
            lifter: programme.lifter.to_string(),
            begins: programme.begins.to_string(),
            text: programme.text.clone(),
        }
    }

    fn into_programme(self) -> Result<LifterProgramme, BadLine> {
        read_programme(&self.text)
            .map_err(|error| BadLine(format!("its programme can't be read: {error}")))?;
        Ok(LifterProgramme {
            lifter: LifterName::new(&self.lifter)?,
            begins: When::parse(&self.begins)?.date(),
            text: self.text,
        })
    }
}

impl PlanChangeContent {
    fn of(change: &PlanChange) -> PlanChangeContent {
        PlanChangeContent {
            id: uuid::Uuid::from_bytes(change.id).to_string(),
            lifter: change.lifter.to_string(),
            from: change.from.to_string(),
            until: change.until.to_string(),
            text: change.text.clone(),
        }
    }

    fn into_change(self) -> Result<PlanChange, BadLine> {
        crate::programme::PlanChange::read(&self.text)
            .map_err(|error| BadLine(format!("its change of plan can't be read: {error}")))?;
        Ok(PlanChange {
            id: id_in("id", &self.id)?,
            lifter: LifterName::new(&self.lifter)?,
            from: When::parse(&self.from)?.date(),
            until: When::parse(&self.until)?.date(),
            text: self.text,
        })
    }
}

/// The sixteen bytes of an id in its usual text form.
fn id_in(what: &str, text: &str) -> Result<[u8; 16], BadLine> {
    uuid::Uuid::try_parse(text).map(uuid::Uuid::into_bytes).map_err(|_| {
        let got = domain::bounds::shortened(text);
        BadLine(format!("`{what}` `{got}` is no id: write 32 hexadecimal digits with hyphens"))
    })
}

fn part<'a, T: Deserialize<'a>>(content: &'a str) -> Result<T, BadLine> {
    serde_json::from_str(content).map_err(|error| {
        let text = error.to_string();
        let reason = text.split(" at line ").next().unwrap_or_default();
        BadLine(format!("its `content` can't be read: {reason}"))
    })
}

fn raw(content: &impl Serialize) -> io::Result<Box<RawValue>> {
    Ok(serde_json::value::to_raw_value(content)?)
}

fn write_line(line: &impl Serialize, out: &mut dyn Write) -> io::Result<()> {
    serde_json::to_writer(&mut *out, line)?;
    out.write_all(b"\n")
}
