//! Open strength tests of real people as a log of ours: read, converted, imported, replayed.
//!
//! For the example `strength_tests` and the tests of the evidence. The data's README, beside the file,
//! names the source (CC0). For the import and the one-lift model legs are lifters, because a leg is a record of
//! its own; the person stays known, because two legs of one person aren't two people.

use domain::{Catalogue, Limits, LoggedSet, SetKind};
use jiff::ToSpan;
use jiff::civil::{Date, date};
use service::import::{Import, ImportPlan, ImportReport, read_log_whole};
use service::record::history::{Model, Point};
use service::record::inputs::Grounds;
use service::replay::Replay;

/// The tests' table as it was published.
const TABLE: &str = include_str!("../data/strength-volume.csv");

/// The day of `pre`; the data hold no dates, so this and the days of [`Timing`] are our choice.
const FIRST_DAY: Date = date(2031, 1, 6);

/// The times of testing in order, as the data name them.
pub(crate) const TIMES: [&str; 6] = ["pre", "session1", "week2", "week5", "week9", "post"];

/// Days from `pre` to each time: weeks are counted from `pre`, and the day of `session1`, which the
/// data leave open, is chosen.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Timing {
    days: [i32; 6],
}

/// Which strength test.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Exercise {
    LegPress,
    KneeExtension,
}

/// Which leg.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Leg {
    Left,
    Right,
}

/// One 1RM test of one leg.
#[derive(Clone, Debug)]
pub(crate) struct StrengthTest {
    /// The study's code for the person.
    pub(crate) participant: String,
    pub(crate) leg: Leg,
    /// `single` or `multiple`: one set or three in training.
    pub(crate) arm: String,
    /// Whether the study's own analysis took the person in.
    pub(crate) included: bool,
    pub(crate) exercise: Exercise,
    /// Its place in [`TIMES`].
    pub(crate) time: usize,
    pub(crate) load_kg: f64,
}

/// The tests as they went through the import and the replay; all three run in the same order.
pub(crate) struct Replayed {
    pub(crate) tests: Vec<StrengthTest>,
    pub(crate) report: ImportReport,
    pub(crate) rows: Vec<Point>,
    pub(crate) timing: Timing,
}

impl Timing {
    /// `session1` stands `session1_day` days after `pre`.
    pub(crate) fn with_session1_on(session1_day: i32) -> Timing {
        Timing { days: [0, session1_day, 14, 35, 63, 84] }
    }

    /// Days from `pre` to a time of testing.
    pub(crate) fn days(&self, time: usize) -> f64 {
        f64::from(self.days.get(time).copied().unwrap_or(0))
    }

    /// The time of testing on a day.
    pub(crate) fn time_of(&self, days: f64) -> usize {
        (0..self.days.len()).find(|time| self.days(*time) == days).unwrap_or(0)
    }

    fn date(&self, time: usize) -> Date {
        FIRST_DAY.saturating_add(self.days[time].days())
    }
}

impl Exercise {
    pub(crate) const BOTH: [Exercise; 2] = [Exercise::LegPress, Exercise::KneeExtension];

    /// The lift of the built-in catalogue.
    pub(crate) fn lift(self) -> &'static str {
        match self {
            Exercise::LegPress => "single-leg leg press",
            Exercise::KneeExtension => "single-leg leg extension",
        }
    }

    fn of(code: &str) -> Option<Exercise> {
        match code {
            "legpress" => Some(Exercise::LegPress),
            "legext" => Some(Exercise::KneeExtension),
            _ => None,
        }
    }
}

impl Leg {
    pub(crate) const BOTH: [Leg; 2] = [Leg::Left, Leg::Right];

    pub(crate) fn other(self) -> Leg {
        Leg::BOTH[1 - self as usize]
    }

    /// This leg of a person as a lifter: `FP11 L`.
    pub(crate) fn of(self, participant: &str) -> String {
        format!("{participant} {}", ["L", "R"][self as usize])
    }

    fn read(code: &str) -> Option<Leg> {
        match code {
            "L" => Some(Leg::Left),
            "R" => Some(Leg::Right),
            _ => None,
        }
    }
}

impl StrengthTest {
    /// The leg as a lifter: `FP11 L`.
    pub(crate) fn lifter(&self) -> String {
        self.leg.of(&self.participant)
    }
}

/// The 1RM tests of the table in its order; those that weren't done are left out.
pub(crate) fn strength_tests() -> Result<Vec<StrengthTest>, Box<dyn std::error::Error>> {
    let mut tests = Vec::new();
    for record in csv::Reader::from_reader(TABLE.as_bytes()).into_records() {
        let record = record?;
        // participant, sex, include, time, sets, leg, exercise, load
        let cell = |column: usize| record.get(column).unwrap_or_default();
        let Some(exercise) = Exercise::of(cell(6)) else { continue };
        if cell(7).is_empty() {
            continue;
        }
        let time = TIMES.iter().position(|time| *time == cell(3));
        tests.push(StrengthTest {
            participant: cell(0).to_owned(),
            leg: Leg::read(cell(5)).ok_or_else(|| format!("`{}` is no leg", cell(5)))?,
            arm: cell(4).to_owned(),
            included: cell(2) == "incl",
            exercise,
            time: time.ok_or_else(|| format!("`{}` is no time of testing", cell(3)))?,
            load_kg: cell(7).parse()?,
        });
    }
    Ok(tests)
}

/// The tests as a log in our own format: test sets of one repetition with nothing left.
pub(crate) fn log_of(tests: &[StrengthTest], timing: &Timing) -> String {
    let mut log = String::from("lifter,date,lift,set,kind,load,unit,reps,rir,note\n");
    for test in tests {
        log.push_str(&format!(
            "{},{},{},1,{},{},kg,1,0,{}\n",
            test.lifter(),
            timing.date(test.time),
            test.exercise.lift(),
            SetKind::Test.as_str(),
            test.load_kg,
            TIMES[test.time]
        ));
    }
    log
}

/// Reads a log as the program does.
pub(crate) fn import(
    log: &str,
) -> Result<(Vec<LoggedSet>, ImportReport), Box<dyn std::error::Error>> {
    let (mut rejects, mut progress) = (Vec::new(), |_| ());
    let with = Import {
        catalogue: &Catalogue::built_in(),
        plan: &ImportPlan::default(),
        today: FIRST_DAY.saturating_add(1.years()),
        rejects: &mut rejects,
        progress: &mut progress,
    };
    let (sets, report) = read_log_whole(log.as_bytes(), with)?;
    Ok((sets.into_iter().map(|(_, set)| set).collect(), report))
}

/// Replays sets one lift at a time: one lift of a leg is tested every few weeks, so that other lifts and
/// doses could tell nothing.
pub(crate) fn rows_of(sets: Vec<LoggedSet>) -> Vec<Point> {
    let replay = Replay {
        catalogue: &Catalogue::built_in(),
        limits: &Limits::default(),
        model: Model::OneLift,
        grounds: &Grounds::shipped(),
        threads: 1,
    };
    replay.rows(sets, Vec::new(), &mut |_, _| ())
}

/// Converts, imports and replays the whole table.
pub(crate) fn replayed(timing: &Timing) -> Result<Replayed, Box<dyn std::error::Error>> {
    let tests = strength_tests()?;
    let (sets, report) = import(&log_of(&tests, timing))?;
    let rows = rows_of(sets);
    let same = |(test, row): (&StrengthTest, &Point)| {
        test.lifter() == row.set.lifter.as_str() && test.exercise.lift() == row.set.lift.as_str()
    };
    if rows.len() != tests.len() || !tests.iter().zip(&rows).all(same) {
        return Err("the replay's rows aren't the tests, one for one and in their order".into());
    }
    Ok(Replayed { tests, report, rows, timing: *timing })
}
