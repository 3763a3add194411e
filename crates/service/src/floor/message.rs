//! Messages as phones write them: JSON, read strictly, with every bound of the domain held.
//!
//! `docs/floor.md` lists the kinds. A message is read whole: all of it has to be JSON that can be written
//! again, also what has no meaning here. A kind that isn't known comes from a newer page; it is kept with
//! that remark and nothing else is made of it.

use domain::{Joint, LiftName, Load, Note, Pain, Refused, Reps, Rir, SetKind, Unit, When};
use jiff::Timestamp;
use jiff::civil::Date;
use serde::Deserialize;
use serde::de::DeserializeOwned;
use serde_json::Value;
use serde_json::value::RawValue;

use super::bounds::DEEPEST;
use super::time::from_clock;
use crate::view::CallWord;

/// What a phone sends at once.
#[derive(Debug, Deserialize)]
pub(super) struct Batch {
    /// The phone's clock when it sent this, in milliseconds since 1970.
    pub(super) sent: i64,
    /// The messages, in the order in which they were logged.
    pub(super) messages: Vec<Box<RawValue>>,
}

/// What every message has.
#[derive(Debug, Deserialize)]
pub(super) struct Envelope {
    id: String,
    pub(super) kind: String,
    day: String,
    /// The phone's clock when it was logged, in milliseconds since 1970.
    logged: i64,
}

/// An envelope that was checked.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Addressed {
    pub(super) id: [u8; 16],
    pub(super) kind: String,
    pub(super) day: Date,
    pub(super) logged: Timestamp,
}

/// What a message says.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Said {
    /// A set was done.
    Set { lift: LiftName, done: Done, when: Option<When> },
    /// A set was logged wrongly.
    Correct { of: [u8; 16], done: Done },
    /// A message is taken back.
    Undo { of: [u8; 16] },
    /// A joint hurts.
    Pain { pain: Pain, when: Option<When> },
    /// How the lifter came in.
    CheckIn { sleep_h: Option<f64>, stress: Option<f64>, soreness: Option<f64>, when: Option<When> },
    /// The lifter's own decision against the call.
    Decision { lift: LiftName, call: CallWord, instead: Instead },
    /// A remark, on a lift or on the session.
    Note { lift: Option<LiftName>, text: Note },
    /// One lift done in the place of another.
    Swap { lift: LiftName, with: LiftName },
    /// A lift left out.
    Skip { lift: LiftName },
    /// One set more than planned.
    Add { lift: LiftName },
    /// The session is over.
    Finish,
}

/// What a lifter may decide to do against a call.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Instead {
    /// The session as planned.
    GoOn,
    /// Cut the lift back.
    Ease,
}

impl Instead {
    /// As messages and people write it.
    pub(super) fn as_str(self) -> &'static str {
        match self {
            Instead::GoOn => "go on",
            Instead::Ease => "ease",
        }
    }
}

/// A set's numbers; a correction without a kind leaves the set's own.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Done {
    pub(super) kind: Option<SetKind>,
    pub(super) load: Load,
    pub(super) reps: Reps,
    pub(super) rir: Option<Rir>,
}

impl Envelope {
    /// Checks what every message needs; without it there is nothing to confirm.
    pub(super) fn checked(self) -> Result<Addressed, Refused> {
        let text = |what, got: &str, needed: &str| Refused::Text {
            what,
            got: domain::bounds::shortened(got),
            needed: needed.to_owned(),
        };
        let id = uuid_in("id", &self.id)?;
        let day = domain::When::parse(&self.day)?.date();
        let logged = from_clock(self.logged);
        if self.kind.is_empty() || self.kind.chars().count() > 40 {
            return Err(text("kind", &self.kind, "use a kind of 1 to 40 characters"));
        }
        Ok(Addressed { id, kind: self.kind, day, logged })
    }
}

/// What the message of this kind says, or why it can't be understood.
pub(super) fn said(kind: &str, body: &str) -> Result<Said, String> {
    match kind {
        "set" => {
            let raw: SetBody = read(body)?;
            let (lift, done) = (lift(&raw.lift)?, raw.numbers.done()?);
            Ok(Said::Set { lift, done, when: when(raw.when.as_deref())? })
        }
        "correct" => {
            let raw: CorrectBody = read(body)?;
            Ok(Said::Correct { of: id(&raw.of)?, done: raw.numbers.done()? })
        }
        "undo" => Ok(Said::Undo { of: id(&read::<UndoBody>(body)?.of)? }),
        "pain" => {
            let raw: PainBody = read(body)?;
            let joint = Joint::parse(&raw.joint).map_err(told)?;
            let pain = Pain::new(joint, raw.rating).map_err(told)?;
            Ok(Said::Pain { pain, when: when(raw.when.as_deref())? })
        }
        "check-in" => check_in(&read::<CheckInBody>(body)?),
        "decision" => {
            let raw: DecisionBody = read(body)?;
            let call = word("call", &raw.call, &CallWord::ALL, CallWord::as_str)?;
            let both = [Instead::GoOn, Instead::Ease];
            let instead = word("instead", &raw.instead, &both, Instead::as_str)?;
            Ok(Said::Decision { lift: lift(&raw.lift)?, call, instead })
        }
        "note" => {
            let raw: NoteBody = read(body)?;
            let text = Note::new(&raw.text).map_err(told)?;
            Ok(Said::Note { lift: raw.lift.as_deref().map(lift).transpose()?, text })
        }
        "swap" => {
            let raw: SwapBody = read(body)?;
            Ok(Said::Swap { lift: lift(&raw.lift)?, with: lift(&raw.with)? })
        }
        "skip" => Ok(Said::Skip { lift: lift(&read::<LiftBody>(body)?.lift)? }),
        "add" => Ok(Said::Add { lift: lift(&read::<LiftBody>(body)?.lift)? }),
        "finish" => Ok(Said::Finish),
        other => Err(format!(
            "messages of the kind `{}` are not known at this desk: use the newer program",
            domain::bounds::shortened(other)
        )),
    }
}

fn check_in(raw: &CheckInBody) -> Result<Said, String> {
    use domain::CheckIn;
    let rating = |what, value: Option<f64>| value.map(|value| CheckIn::rating(what, value));
    Ok(Said::CheckIn {
        sleep_h: raw.sleep_h.map(CheckIn::sleep).transpose().map_err(told)?,
        stress: rating("stress", raw.stress).transpose().map_err(told)?,
        soreness: rating("soreness", raw.soreness).transpose().map_err(told)?,
        when: when(raw.when.as_deref())?,
    })
}

#[derive(Deserialize)]
struct Numbers {
    set_kind: Option<String>,
    load: f64,
    unit: String,
    reps: u16,
    rir: Option<f64>,
}

impl Numbers {
    fn done(&self) -> Result<Done, String> {
        let unit = Unit::parse(&self.unit).map_err(told)?;
        Ok(Done {
            kind: self.set_kind.as_deref().map(SetKind::parse).transpose().map_err(told)?,
            load: Load::new(self.load, unit).map_err(told)?,
            reps: Reps::new(self.reps).map_err(told)?,
            rir: self.rir.map(Rir::new).transpose().map_err(told)?,
        })
    }
}

#[derive(Deserialize)]
struct SetBody {
    lift: String,
    when: Option<String>,
    #[serde(flatten)]
    numbers: Numbers,
}

#[derive(Deserialize)]
struct CorrectBody {
    of: String,
    #[serde(flatten)]
    numbers: Numbers,
}

#[derive(Deserialize)]
struct UndoBody {
    of: String,
}

#[derive(Deserialize)]
struct PainBody {
    joint: String,
    rating: u8,
    when: Option<String>,
}

#[derive(Deserialize)]
struct CheckInBody {
    sleep_h: Option<f64>,
    stress: Option<f64>,
    soreness: Option<f64>,
    when: Option<String>,
}

#[derive(Deserialize)]
struct DecisionBody {
    lift: String,
    call: String,
    instead: String,
}

#[derive(Deserialize)]
struct NoteBody {
    lift: Option<String>,
    text: String,
}

#[derive(Deserialize)]
struct SwapBody {
    lift: String,
    with: String,
}

#[derive(Deserialize)]
struct LiftBody {
    lift: String,
}

/// The whole of a message, if every part of it can be written again: no number that none here holds, no
/// half of a character, nothing nested deeper than [`DEEPEST`].
pub(super) fn whole(body: &str) -> Result<Value, String> {
    let all: Value = read(body)?;
    match depth(&all) {
        deep if deep > DEEPEST => Err(format!(
            "this message can't be read: it nests lists and objects {deep} deep, and {DEEPEST} are the most"
        )),
        _ => Ok(all),
    }
}

fn depth(value: &Value) -> usize {
    // As deep as the parser goes, which is some hundred.
    match value {
        Value::Array(all) => 1 + all.iter().map(depth).max().unwrap_or(0),
        Value::Object(all) => 1 + all.values().map(depth).max().unwrap_or(0),
        Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) => 0,
    }
}

fn read<T: DeserializeOwned>(body: &str) -> Result<T, String> {
    serde_json::from_str(body).map_err(|error| {
        let text = error.to_string();
        let text = text.split(" at line ").next().unwrap_or("");
        // Such a message may quote a value of any length.
        let short: String = text.chars().take(200).collect();
        format!("this message can't be read: {short}")
    })
}

/// The value that is called so.
fn word<T: Copy>(
    what: &'static str,
    text: &str,
    all: &[T],
    name: impl Fn(T) -> &'static str,
) -> Result<T, String> {
    all.iter().copied().find(|value| name(*value) == text).ok_or_else(|| {
        let known: Vec<String> = all.iter().map(|value| format!("`{}`", name(*value))).collect();
        let got = domain::bounds::shortened(text);
        told(Refused::UnknownWord { what, got, known: known.join(", ") })
    })
}

fn when(text: Option<&str>) -> Result<Option<When>, String> {
    text.map(When::parse).transpose().map_err(told)
}

fn lift(name: &str) -> Result<LiftName, String> {
    LiftName::new(name).map_err(told)
}

fn id(text: &str) -> Result<[u8; 16], String> {
    uuid_in("of", text).map_err(told)
}

fn uuid_in(what: &'static str, text: &str) -> Result<[u8; 16], Refused> {
    uuid::Uuid::try_parse(text).map(uuid::Uuid::into_bytes).map_err(|_| Refused::Text {
        what,
        got: domain::bounds::shortened(text),
        needed: "write 32 hexadecimal digits with hyphens".to_owned(),
    })
}

#[expect(clippy::needless_pass_by_value, reason = "as `map_err` hands it over")]
fn told(refused: Refused) -> String {
    refused.to_string()
}
