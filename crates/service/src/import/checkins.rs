//! From a line of a table of check-ins to a [`CheckIn`]. Every item may be missing, and an empty
//! cell is a missing item, never an average one.

use std::collections::HashMap;
use std::io::Read;

use domain::{CheckIn, CheckInId, Joint, Pain, Refused, Unit};
use jiff::civil::Date;

use super::columns::{Field, TableKind};
use super::error::ImportError;
use super::log::{Cells, LastDate, Lifters};
use super::numbers;
use super::plan::Resolved;
use super::reading::{Bad, LineReader, run};
use super::report::{ImportReport, RefusalClass};
use super::table::Record;
use super::{Import, Taken};

/// Reads check-ins and hands each over with the line where it stands; see [`super::read_log`].
pub fn read_check_ins(
    reader: impl Read,
    with: Import<'_>,
    take: &mut dyn FnMut(u64, CheckIn) -> Result<Taken, ImportError>,
) -> Result<ImportReport, ImportError> {
    run::<CheckInReader>(reader, with, take)
}

struct CheckInReader {
    last_day: Date,
    lifters: Lifters,
    dates: LastDate,
    seen: HashMap<CheckInId, (CheckIn, u64)>,
    last: Option<(u32, Date)>,
}

impl<'a> LineReader<'a> for CheckInReader {
    type Item = CheckIn;
    const KIND: TableKind = TableKind::CheckIns;

    fn new(with: &Import<'a>, _: &Resolved) -> Result<Self, ImportError> {
        Ok(CheckInReader {
            last_day: with.today.tomorrow().unwrap_or(with.today),
            lifters: Lifters::default(),
            dates: LastDate::default(),
            seen: HashMap::new(),
            last: None,
        })
    }

    fn read(&mut self, record: &Record, resolved: &Resolved) -> Result<Option<CheckIn>, Bad> {
        let cells = Cells { record, resolved };
        let lifter = self.lifters.find(cells.get(Field::Lifter))?;
        let when = self.dates.read(&cells, self.last_day)?;
        let refuse = Bad::of(RefusalClass::Item);
        let check_in = CheckIn {
            lifter: self.lifters.name(lifter).clone(),
            when,
            sleep_h: cells.item(Field::SleepH, CheckIn::sleep).map_err(&refuse)?,
            stress: cells.item(Field::Stress, |v| CheckIn::rating("stress", v)).map_err(&refuse)?,
            soreness: cells
                .item(Field::Soreness, |v| CheckIn::rating("soreness", v))
                .map_err(&refuse)?,
            body_mass: {
                let unit = cells.unit()?.or(resolved.unit).unwrap_or(Unit::Kg);
                cells
                    .item(Field::BodyMass, |v| CheckIn::body_mass(v * unit.kg()))
                    .map_err(&refuse)?
            },
            pain: cells.pain().map_err(&refuse)?,
        };
        self.last = None;
        let (earlier, line) =
            self.seen.entry(check_in.id()).or_insert_with(|| (check_in.clone(), record.line));
        if *line == record.line {
            self.last = Some((lifter, when.date()));
            return Ok(Some(check_in));
        }
        if *earlier == check_in {
            return Ok(None);
        }
        Err(Bad::new(
            RefusalClass::EarlierLine,
            format!(
                "a check-in of `{}` on {when} stands on line {line} with other content: keep one \
                 of the two",
                check_in.lifter
            ),
        ))
    }

    fn taken(&mut self) {
        if let Some((lifter, date)) = self.last.take() {
            self.lifters.add(lifter, date);
        }
    }

    fn finish(self, report: &mut ImportReport) {
        report.set_lifters(self.lifters.counts.into_iter());
    }
}

impl Cells<'_> {
    fn item<T>(
        &self,
        field: Field,
        check: impl Fn(f64) -> Result<T, Refused>,
    ) -> Result<Option<T>, Refused> {
        let text = numbers::with_point(field.key(), self.get(field), self.resolved.decimal)?;
        if text.is_empty() {
            return Ok(None);
        }
        domain::bounds::number(field.key(), &text).and_then(check).map(Some)
    }

    /// Pain needs a joint and a rating; a rating of 0 without a joint is none.
    fn pain(&self) -> Result<Option<Pain>, Refused> {
        let refuse = |got: &str, needed: &str| {
            Err(Refused::Text {
                what: "pain",
                got: domain::bounds::shortened(got),
                needed: needed.to_owned(),
            })
        };
        let joint = self.get(Field::PainJoint);
        let rating = self.item(Field::Pain, |value| {
            if value.fract() == 0.0 {
                return Ok(value);
            }
            Err(Refused::OffScale {
                what: "pain",
                got: value.to_string(),
                needed: "whole points from 0 to 10",
            })
        })?;
        match (joint, rating) {
            ("", None) => Ok(None),
            ("", Some(0.0)) => Ok(None),
            ("", Some(_)) => refuse(self.get(Field::Pain), "name the joint in `pain_joint`"),
            (joint, None) => refuse(joint, "rate the pain from 0 to 10 in `pain`"),
            (joint, Some(rating)) => {
                let joint = Joint::parse(joint)?;
                Pain::new(joint, rating.clamp(0.0, 255.0) as u8).map(Some)
            }
        }
    }
}
