//! What `docs/evidence.md` says, held to: real strength tests, and the invented squad.
//!
//! The real tests are open data (source and licence in `tests/data`). The plain rivals' errors and the
//! typical errors were worked out a second time from the table alone with Python's `math` and
//! `statistics` (version 3.11), so the conversion, the import and the sums are held against something
//! outside; the one-lift model's own figures are pinned so that the page can't drift.

#![expect(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

#[path = "support/forecast_contest.rs"]
mod forecast_contest;
#[path = "support/recovery_contest.rs"]
mod recovery_contest;
#[path = "support/strength_data.rs"]
mod strength_data;

use std::collections::{BTreeMap, BTreeSet};
use std::sync::LazyLock;

use domain::{Catalogue, CheckIn, Limits, LoggedSet, SetId};
use engine::reading::Call;
use forecast_contest::{
    Forecast, Rival, alike, coverage_pct, forecasts, interval, recovery_coverage_pct, repeat, score,
};
use jiff::civil::date;
use rand::SeedableRng;
use rand::rngs::ChaCha8Rng;
use rand::seq::SliceRandom;
use service::demo::{self, Squad};
use service::record::history::{Model, Point};
use service::record::inputs::Grounds;
use service::replay::{COLUMNS, Replay, row, write_rows};
use strength_data::{
    Exercise, Leg, Replayed, StrengthTest, TIMES, Timing, import, log_of, replayed, rows_of,
    strength_tests,
};

static REAL: LazyLock<Replayed> = LazyLock::new(|| replayed(&Timing::with_session1_on(5)).unwrap());
static FORECASTS: LazyLock<Vec<Forecast>> = LazyLock::new(|| forecasts(&REAL, Leg::Left).unwrap());
static SQUAD: LazyLock<Squad> = LazyLock::new(|| demo::squad(1, date(2031, 5, 4)).unwrap());
static ALONE: LazyLock<Vec<Point>> = LazyLock::new(|| whole_squad(Model::OneLift));
static TOGETHER: LazyLock<Vec<Point>> = LazyLock::new(|| whole_squad(Model::Recovery));

/// What is pinned of the one-lift model: which tests (lift, from which of a leg on); mean absolute
/// error in % and kg, result less forecast in %, coverage in %; intervals of the difference in mean
/// absolute error to the last value and to the last value with the others' gain.
type Pinned = (Option<Exercise>, usize, f64, f64, f64, f64, (f64, f64), (f64, f64));
const PINNED: [Pinned; 6] = [
    (None, 2, 11.3, 17.6, 3.9, 53.0, (-0.1, 1.6), (3.1, 5.7)),
    (Some(Exercise::LegPress), 2, 13.6, 28.9, 4.4, 47.0, (0.4, 3.4), (3.6, 8.2)),
    (Some(Exercise::KneeExtension), 2, 9.0, 6.8, 3.3, 58.0, (-1.3, 0.6), (2.0, 4.1)),
    (None, 3, 11.7, 19.1, 2.3, 59.0, (-0.1, 2.2), (2.9, 6.2)),
    (Some(Exercise::LegPress), 3, 14.3, 31.6, 2.4, 55.0, (0.7, 4.6), (3.2, 9.0)),
    (Some(Exercise::KneeExtension), 3, 9.2, 7.2, 2.3, 64.0, (-1.6, 0.8), (2.1, 4.4)),
];

fn whole_squad(model: Model) -> Vec<Point> {
    replayed_squad(model, SQUAD.sets.clone(), SQUAD.check_ins.clone())
}

fn replayed_squad(model: Model, sets: Vec<LoggedSet>, check_ins: Vec<CheckIn>) -> Vec<Point> {
    let catalogue = Catalogue::built_in().with_file(&SQUAD.lift_file).unwrap();
    Replay {
        catalogue: &catalogue,
        limits: &Limits::default(),
        model,
        grounds: &Grounds::shipped(),
        threads: 2,
    }
    .rows(sets, check_ins, &mut |_, _| ())
}

fn near(got: f64, wanted: f64, within: f64, what: &str) {
    assert!((got - wanted).abs() <= within, "{what}: {got}, not {wanted}");
}

fn chosen(all: &[Forecast], exercise: Option<Exercise>, earliest: usize) -> Vec<&Forecast> {
    all.iter()
        .filter(|one| one.nth >= earliest)
        .filter(|one| exercise.is_none_or(|wanted| one.test.exercise == wanted))
        .collect()
}

/// Counted in the table itself: 624 lines of the two 1RM tests, 81 of them without a result.
#[test]
fn every_real_test_is_imported_and_none_refused() {
    assert_eq!(REAL.tests.len(), 543);
    let report = &REAL.report;
    assert_eq!((report.lines, report.new, report.repeated, report.refused), (543, 543, 0, 0));
    assert!(report.unknown_lifts.is_empty());
    assert_eq!(report.lifters.len(), 52, "two legs of 26 people");
    let of = |wanted: fn(&StrengthTest) -> bool| REAL.tests.iter().filter(|t| wanted(t)).count();
    assert_eq!(of(|test| test.arm == "single"), 270);
    assert_eq!(of(|test| test.included), 479);
    for (test, row) in REAL.tests.iter().zip(&REAL.rows) {
        near(row.set.load.kg(), test.load_kg, 0.0005, "load to the gram");
        assert_eq!(row.set.note.as_str(), TIMES[test.time]);
    }
}

#[test]
fn a_real_log_replays_to_one_row_a_test_and_reads_back() {
    let mut table = Vec::new();
    write_rows(&REAL.rows, &mut table).unwrap();
    let mut reader = csv::Reader::from_reader(table.as_slice());
    assert_eq!(reader.headers().unwrap(), &COLUMNS[..]);
    let column = |name: &str| COLUMNS.iter().position(|known| *known == name).unwrap();
    let (mean, low, high, seen, call) = (
        column("log_1rm_forecast"),
        column("forecast_low"),
        column("forecast_high"),
        column("log_1rm_seen"),
        column("call"),
    );
    let records: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    assert_eq!(records.len(), REAL.tests.len());
    let mut earlier: BTreeMap<(String, &str), usize> = BTreeMap::new();
    for (record, test) in records.iter().zip(&REAL.tests) {
        let n = earlier.entry((test.lifter(), test.exercise.lift())).or_default();
        assert_eq!(record[mean].is_empty(), *n == 0, "{record:?}");
        if *n > 0 {
            let number = |idx: usize| record[idx].parse::<f64>().unwrap();
            assert!(number(low) <= number(high) && number(mean).is_finite(), "{record:?}");
        }
        // A single with nothing left is the 1RM itself.
        near(record[seen].parse().unwrap(), test.load_kg.ln(), 1e-6, "ln 1RM");
        assert_eq!(&record[call], "no reading", "six tests make no gauge");
        *n += 1;
    }
}

#[test]
fn scatter_between_the_first_tests_is_what_the_page_says() {
    // Python: 100·(e^s − 1), s = stdev(ln differences)/√2; mean change; 100·(e^(1.96·√2·s) − 1).
    let wanted = [(51, 5.684, 11.591, 16.562), (52, 5.850, 7.189, 17.069)];
    for (exercise, (legs, cv, change, detectable)) in Exercise::BOTH.into_iter().zip(wanted) {
        let told = repeat(&REAL.tests, exercise, 1).unwrap();
        assert_eq!(told.legs, legs);
        near(told.cv_pct, cv, 0.001, "CV");
        near(told.mean_change_pct, change, 0.001, "mean change");
        near(told.detectable_pct, detectable, 0.001, "detectable change");
        assert!(told.cv_by_legs.0 < told.cv_pct && told.cv_pct < told.cv_by_legs.1);
        assert!(told.cv_by_people.0 < told.cv_pct && told.cv_pct < told.cv_by_people.1);
    }
}

/// Python: mean |ln(result/forecast)|·100, mean |result − forecast| in kg and mean ln ratio·100, the
/// group's gain without the person's two legs.
#[test]
fn the_plain_rivals_errors_are_those_worked_out_from_the_table() {
    use Exercise::{KneeExtension, LegPress};
    let wanted = [
        (None, 2, 439, [10.521, 14.937, 10.027], [6.842, 10.627, -0.335]),
        (Some(LegPress), 2, 215, [11.765, 23.465, 11.223], [7.742, 17.015, -0.306]),
        (Some(KneeExtension), 2, 224, [9.328, 6.752, 8.879], [5.978, 4.495, -0.363]),
        (None, 3, 335, [10.633, 15.523, 10.319], [7.097, 11.514, -0.427]),
        (Some(LegPress), 3, 163, [11.742, 24.340, 11.220], [8.247, 18.622, -0.379]),
        (Some(KneeExtension), 3, 172, [9.582, 7.167, 9.464], [6.007, 4.778, -0.472]),
    ];
    for (exercise, earliest, n, last, group) in wanted {
        let chosen = chosen(&FORECASTS, exercise, earliest);
        assert_eq!(chosen.len(), n);
        for (rival, wanted) in [(Rival::LastValue, last), (Rival::GroupGain, group)] {
            let told = score(&chosen, rival);
            near(told.mae_pct, wanted[0], 0.001, rival.name());
            near(told.mae_kg, wanted[1], 0.001, rival.name());
            near(told.bias_pct, wanted[2], 0.001, rival.name());
        }
    }
}

/// Pinned to the page. They are no good figures: people new to the test gain faster than the model
/// expects at first. Better ones are welcome, and belong on the page.
#[test]
fn the_one_lift_models_errors_are_what_the_page_says() {
    for (exercise, earliest, mae_pct, mae_kg, bias_pct, coverage, to_last, to_group) in PINNED {
        let chosen = chosen(&FORECASTS, exercise, earliest);
        let told = score(&chosen, Rival::OneLift);
        near(told.mae_pct, mae_pct, 0.1, "mean absolute error, %");
        near(told.mae_kg, mae_kg, 0.2, "mean absolute error, kg");
        near(told.bias_pct, bias_pct, 0.1, "result less forecast, %");
        near(coverage_pct(&chosen), coverage, 1.0, "coverage, %");
        for (rival, wanted) in
            [Rival::LastValue, Rival::GroupGain].into_iter().zip([to_last, to_group])
        {
            let (low, high) = interval(&chosen, &|some| {
                score(some, Rival::OneLift).mae_pct - score(some, rival).mae_pct
            });
            near(low, wanted.0, 0.15, rival.name());
            near(high, wanted.1, 0.15, rival.name());
        }
    }
}

/// Pooled over other people the recovery model is better than the one-lift model and both plain forecasts,
/// one of which knows how the others' same weeks went; its intervals hold what they claim. It owes that to
/// the leg that was tested first on the day: of the first leg itself it knows no more than they do.
#[test]
fn the_recovery_model_forecasts_real_tests_as_the_page_says() {
    let all = chosen(&FORECASTS, None, 2);
    let told = score(&all, Rival::Recovery);
    near(told.mae_pct, 5.8, 0.15, "mean absolute error, %");
    near(told.bias_pct, -0.1, 0.5, "result less forecast, %");
    let held = recovery_coverage_pct(&all);
    assert!((77.0..=83.0).contains(&held), "{held}");
    let ahead = |of: &[&Forecast], rival: Rival| {
        let by =
            |some: &[&Forecast]| score(some, rival).mae_pct - score(some, Rival::Recovery).mae_pct;
        interval(of, &by)
    };
    for (rival, least) in [(Rival::OneLift, 4.0), (Rival::LastValue, 3.5), (Rival::GroupGain, 0.5)]
    {
        let (low, _) = ahead(&all, rival);
        assert!(low > least, "{}: {low}", rival.name());
    }
    assert!(
        Rival::ALL.iter().all(|rival| score(&all, *rival).mae_pct > 5.0),
        "too good to be true"
    );
    let (low, high) = ahead(&all, Rival::DayGain);
    assert!(low < -0.5 && high < 0.1, "{low} to {high}: the page says that this one is ahead");
    let of = |is_second: bool| -> Vec<&Forecast> {
        all.iter().copied().filter(|one| one.is_second == is_second).collect()
    };
    assert!(ahead(&of(true), Rival::GroupGain).0 > 1.5);
    let (low, high) = ahead(&of(false), Rival::GroupGain);
    assert!(low < 0.0 && high > 0.0, "{low} to {high}: neither is better on first legs");
    for (exercise, legs) in [(Exercise::LegPress, 0.90), (Exercise::KneeExtension, 0.64)] {
        let (both, before) = alike(&FORECASTS, exercise);
        near(both, legs, 0.005, "correlation of both legs' misses");
        assert!((-0.2..0.0).contains(&before), "{before}");
    }
}

/// A promise of the product; the squad is invented and its truth isn't the engine's own model.
#[test]
fn intervals_of_the_squad_hold_about_what_they_claim() {
    for rows in [&ALONE, &TOGETHER] {
        intervals_hold(rows);
    }
}

fn intervals_hold(rows: &[Point]) {
    let mut exposures: BTreeMap<(String, String), usize> = BTreeMap::new();
    let (mut inside, mut n) = (0_u32, 0_u32);
    for point in rows {
        let exposure = exposures.entry((point.set.lifter.key(), point.set.lift.key())).or_default();
        *exposure += 1;
        let (Some(reading), Some(shown)) = (point.reading, point.log_shown) else { continue };
        if *exposure >= 10 {
            let (low, high) = reading.expected.interval();
            inside += u32::from((low..=high).contains(&shown));
            n += 1;
        }
    }
    let share = 100.0 * f64::from(inside) / f64::from(n);
    println!("{share:.1} % of {n} lead sets inside");
    assert!(n > 1_000, "{n} lead sets");
    assert!((75.0..=85.0).contains(&share), "{share} % of {n}");
}

/// Three lifters of the squad, to keep it short; cuts fall within sessions as well as between them.
#[test]
fn a_row_hangs_on_nothing_that_came_after_it() {
    no_row_looks_ahead(Model::OneLift, &ALONE);
    no_row_looks_ahead(Model::Recovery, &TOGETHER);
}

fn no_row_looks_ahead(model: Model, rows: &[Point]) {
    let few: Vec<&str> = SQUAD.lifters[..3].iter().map(|lifter| lifter.name.as_str()).collect();
    let all: Vec<LoggedSet> =
        SQUAD.sets.iter().filter(|set| few.contains(&set.lifter.as_str())).cloned().collect();
    let whole: Vec<&Point> =
        rows.iter().filter(|point| few.contains(&point.set.lifter.as_str())).collect();
    for hundredths in [7, 19, 31, 58, 83] {
        let cut = all.len() * hundredths / 100;
        let known = &all[..cut];
        let last_day = known[cut - 1].when.date();
        let told = SQUAD.check_ins.iter().filter(|one| one.when.date() <= last_day);
        let rows = replayed_squad(model, known.to_vec(), told.cloned().collect());
        let ids: BTreeSet<SetId> = known.iter().map(LoggedSet::id).collect();
        let n_whole = whole.iter().filter(|point| ids.contains(&point.set.id())).count();
        assert_eq!(rows.len(), n_whole, "cut after {cut} sets");
        assert!(rows.len() > 20, "{} rows after {cut} sets", rows.len());
        for (cut_off, whole) in rows.iter().zip(&whole) {
            assert_eq!(row(cut_off), row(whole), "cut after {cut} sets");
            assert_eq!(cut_off.reading, whole.reading, "to the last digit");
        }
    }
}

/// The two models differ on nearly every lead set, so neither is the other under a new name.
#[test]
fn the_model_asked_for_is_the_one_that_reads() {
    let differ = ALONE
        .iter()
        .zip(TOGETHER.iter())
        .filter(|(a, b)| a.reading.zip(b.reading).is_some_and(|(a, b)| a != b))
        .count();
    assert!(10 * differ > 9 * ALONE.len(), "{differ} of {}", ALONE.len());
    let plain = whole_squad(Model::Plain);
    assert_eq!(plain.len(), ALONE.len());
    for point in &plain {
        let cells = row(point);
        let told = cells[16].as_str();
        match point.ruling.call {
            Call::Ease => assert_eq!((told, cells[17].as_str()), ("1.0000", "true")),
            Call::GoOn => assert_eq!((told, cells[17].as_str()), ("0.0000", "false")),
            Call::Stop | Call::NoReading => {}
        }
        for empty in [6, 7, 8, 10, 11, 12, 13, 14] {
            assert_eq!(cells[empty], "", "{}", COLUMNS[empty]);
        }
    }
    let eased = plain.iter().filter(|point| point.ruling.call == Call::Ease).count();
    assert!(3 * eased > plain.len(), "the plain rule eases at {eased} of {}", plain.len());
}

#[test]
fn rows_are_the_same_however_many_lifters_are_read_at_once() {
    let catalogue = Catalogue::built_in().with_file(&SQUAD.lift_file).unwrap();
    let (limits, grounds) = (Limits::default(), Grounds::shipped());
    let with = |threads| {
        let replay = Replay {
            catalogue: &catalogue,
            limits: &limits,
            model: Model::OneLift,
            grounds: &grounds,
            threads,
        };
        let mut told = Vec::new();
        let rows = replay.rows(SQUAD.sets.clone(), SQUAD.check_ins.clone(), &mut |done, whole| {
            told.push((done, whole));
        });
        let n = SQUAD.lifters.len();
        assert_eq!(told, (1..=n).map(|done| (done, n)).collect::<Vec<_>>());
        rows.iter().map(row).collect::<Vec<_>>()
    };
    let one = with(1);
    assert!(one == with(2) && one == with(7) && one == with(0));
}

#[test]
fn rows_come_in_the_logs_order_whatever_order_that_is() {
    let mut tests = strength_tests().unwrap();
    tests.shuffle(&mut ChaCha8Rng::seed_from_u64(3));
    let (sets, _) = import(&log_of(&tests, &Timing::with_session1_on(5))).unwrap();
    assert!(!sets.is_sorted_by_key(|set| set.when), "the log must not be in order of time");
    let order: Vec<SetId> = sets.iter().map(LoggedSet::id).collect();
    let rows = rows_of(sets);
    assert_eq!(rows.iter().map(|point| point.set.id()).collect::<Vec<_>>(), order);
    let in_order: BTreeMap<SetId, [String; 20]> =
        REAL.rows.iter().map(|point| (point.set.id(), row(point))).collect();
    for point in &rows {
        assert_eq!(row(point), in_order[&point.set.id()], "the same reading in any order");
    }
}
