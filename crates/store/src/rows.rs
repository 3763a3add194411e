//! Rows as they lie in the file, and the way back into the domain's types.
//!
//! What was written was valid, so a row that the domain refuses means a damaged file; it is
//! reported with its place and never skipped.

use domain::{
    Bar, CheckIn, Joint, LiftName, Lifter, LifterName, Limits, Load, LoggedSet, Mass, Note, Pain,
    PlateStock, Refused, Reps, Rir, SetKind, SetNumber, Unit, When,
};
use rusqlite::{Connection, Row, params};

use crate::error::Trouble;

/// The columns of a [`SetRow`], from `logged_set s` and `lift_name l`.
pub(crate) const SET_COLUMNS: &str = "s.seq, l.name, s.day, s.time, s.number, s.kind, s.load_g, \
                                      s.unit, s.reps, s.rir_halves, s.note";

/// The columns of a [`CheckInRow`], from `check_in c`.
pub(crate) const CHECK_IN_COLUMNS: &str = "c.seq, c.day, c.time, c.sleep_h, c.stress, \
                                           c.soreness, c.body_mass_g, c.pain_joint, c.pain_rating";

/// The columns of a [`LifterRow`], from `lifter_settings p`.
pub(crate) const LIFTER_COLUMNS: &str = "p.seq, p.name, p.unit, p.bar_g, p.collars_g, p.pain, \
                                         p.shortfall_pct, p.cut_for_nothing, p.trained_through";

/// A row with the name of the lifter to whom it belongs.
struct Of<'a, R> {
    lifter: &'a LifterName,
    row: R,
}

/// A lifter's row with the plates: grams and number of pairs.
struct WithPlates {
    row: LifterRow,
    plates: Vec<(u32, u8)>,
}

/// A set without its lifter's name.
pub(crate) struct SetRow {
    pub(crate) seq: i64,
    lift: String,
    day: String,
    time: Option<String>,
    number: u8,
    kind: String,
    load_g: i32,
    unit: String,
    reps: u16,
    rir_halves: Option<u8>,
    note: String,
}

impl SetRow {
    /// Reads [`SET_COLUMNS`], which come first.
    pub(crate) fn read(row: &Row<'_>) -> rusqlite::Result<SetRow> {
        Ok(SetRow {
            seq: row.get(0)?,
            lift: row.get(1)?,
            day: row.get(2)?,
            time: row.get(3)?,
            number: row.get(4)?,
            kind: row.get(5)?,
            load_g: row.get(6)?,
            unit: row.get(7)?,
            reps: row.get(8)?,
            rir_halves: row.get(9)?,
            note: row.get(10)?,
        })
    }

    /// The set, as done by `lifter`.
    pub(crate) fn into_set(self, lifter: &LifterName) -> Result<LoggedSet, Trouble> {
        let seq = self.seq;
        LoggedSet::try_from(Of { lifter, row: self }).map_err(bad_row("logged_set", seq))
    }
}

impl TryFrom<Of<'_, SetRow>> for LoggedSet {
    type Error = Refused;

    fn try_from(Of { lifter, row }: Of<'_, SetRow>) -> Result<LoggedSet, Refused> {
        Ok(LoggedSet {
            lifter: lifter.clone(),
            when: moment(&row.day, row.time.as_deref())?,
            lift: LiftName::new(&row.lift)?,
            number: SetNumber::new(row.number)?,
            kind: SetKind::parse(&row.kind)?,
            load: Load::from_grams(row.load_g, Unit::parse(&row.unit)?)?,
            reps: Reps::new(row.reps)?,
            rir: row.rir_halves.map(|halves| Rir::new(f64::from(halves) / 2.0)).transpose()?,
            note: Note::new(&row.note)?,
        })
    }
}

/// A check-in without its lifter's name.
pub(crate) struct CheckInRow {
    pub(crate) seq: i64,
    day: String,
    time: Option<String>,
    sleep_h: Option<f64>,
    stress: Option<f64>,
    soreness: Option<f64>,
    body_mass_g: Option<u32>,
    pain_joint: Option<String>,
    pain_rating: Option<u8>,
}

impl CheckInRow {
    /// Reads [`CHECK_IN_COLUMNS`], which come first.
    pub(crate) fn read(row: &Row<'_>) -> rusqlite::Result<CheckInRow> {
        Ok(CheckInRow {
            seq: row.get(0)?,
            day: row.get(1)?,
            time: row.get(2)?,
            sleep_h: row.get(3)?,
            stress: row.get(4)?,
            soreness: row.get(5)?,
            body_mass_g: row.get(6)?,
            pain_joint: row.get(7)?,
            pain_rating: row.get(8)?,
        })
    }

    /// The check-in, as given by `lifter`.
    pub(crate) fn into_check_in(self, lifter: &LifterName) -> Result<CheckIn, Trouble> {
        let seq = self.seq;
        CheckIn::try_from(Of { lifter, row: self }).map_err(bad_row("check_in", seq))
    }
}

impl TryFrom<Of<'_, CheckInRow>> for CheckIn {
    type Error = Refused;

    fn try_from(Of { lifter, row }: Of<'_, CheckInRow>) -> Result<CheckIn, Refused> {
        let pain = match (row.pain_joint, row.pain_rating) {
            (Some(joint), Some(rating)) => Some(Pain::new(Joint::parse(&joint)?, rating)?),
            _ => None,
        };
        Ok(CheckIn {
            lifter: lifter.clone(),
            when: moment(&row.day, row.time.as_deref())?,
            sleep_h: row.sleep_h.map(CheckIn::sleep).transpose()?,
            stress: row.stress.map(|rating| CheckIn::rating("stress", rating)).transpose()?,
            soreness: row.soreness.map(|rating| CheckIn::rating("soreness", rating)).transpose()?,
            body_mass: row.body_mass_g.map(Mass::try_from_grams).transpose()?,
            pain,
        })
    }
}

/// A lifter without the plates.
pub(crate) struct LifterRow {
    pub(crate) seq: i64,
    name: String,
    unit: String,
    bar_g: u32,
    collars_g: u32,
    pain: u8,
    shortfall_pct: f64,
    cut_for_nothing: f64,
    trained_through: f64,
}

impl LifterRow {
    /// Reads [`LIFTER_COLUMNS`], which come first.
    pub(crate) fn read(row: &Row<'_>) -> rusqlite::Result<LifterRow> {
        Ok(LifterRow {
            seq: row.get(0)?,
            name: row.get(1)?,
            unit: row.get(2)?,
            bar_g: row.get(3)?,
            collars_g: row.get(4)?,
            pain: row.get(5)?,
            shortfall_pct: row.get(6)?,
            cut_for_nothing: row.get(7)?,
            trained_through: row.get(8)?,
        })
    }

    /// The lifter, with the plates that belong to this version.
    pub(crate) fn into_lifter(self, connection: &Connection) -> Result<Lifter, Trouble> {
        let seq = self.seq;
        let mut statement =
            connection.prepare_cached("SELECT mass_g, pairs FROM lifter_plate WHERE seq = ?1")?;
        let plates = statement
            .query_map(params![seq], |row| Ok((row.get(0)?, row.get(1)?)))?
            .collect::<rusqlite::Result<Vec<(u32, u8)>>>()?;
        Lifter::try_from(WithPlates { row: self, plates }).map_err(bad_row("lifter_settings", seq))
    }
}

impl TryFrom<WithPlates> for Lifter {
    type Error = Refused;

    fn try_from(WithPlates { row, plates }: WithPlates) -> Result<Lifter, Refused> {
        let pairs = plates
            .into_iter()
            .map(|(grams, pairs)| Ok((Mass::try_from_grams(grams)?, pairs)))
            .collect::<Result<Vec<_>, Refused>>()?;
        Ok(Lifter {
            name: LifterName::new(&row.name)?,
            unit: Unit::parse(&row.unit)?,
            bar: Bar {
                mass: Mass::try_from_grams(row.bar_g)?,
                collars: Mass::try_from_grams(row.collars_g)?,
            },
            plates: PlateStock::new(pairs)?,
            limits: Limits::new(
                row.pain,
                row.shortfall_pct,
                row.cut_for_nothing,
                row.trained_through,
            )?,
        })
    }
}

/// The date and time of day as they lie in the file.
pub(crate) fn day_and_time(when: When) -> (String, Option<String>) {
    let time = when.time().map(|t| format!("{:02}:{:02}:{:02}", t.hour(), t.minute(), t.second()));
    (when.date().to_string(), time)
}

/// The error for a row that says something impossible.
pub(crate) fn bad_row(table: &'static str, seq: i64) -> impl Fn(Refused) -> Trouble {
    move |refused| Trouble::BadRow {
        place: format!("table `{table}`, row {seq}"),
        reason: refused.to_string(),
    }
}

fn moment(day: &str, time: Option<&str>) -> Result<When, Refused> {
    match time {
        None => When::parse(day),
        Some(time) => When::parse(&format!("{day}T{time}")),
    }
}
