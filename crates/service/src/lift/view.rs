//! One lift of one lifter as it is shown: every lead set with what was expected, trend, scatter,
//! verdict, chances and next target.

use domain::{Lift, Muscle, SetKind, Unit};
use engine::reading::LiftModel;
use engine::recovery::why::TREND_DAYS;
use engine::recovery::{Cause, Why};
use engine::trend::expectation::Z_80;
use engine::trend::{Prior, smoothed};
use jiff::civil::Date;

use crate::joints::stops::Stops;
use crate::record::history::{ASSUMED_BODY_MASS_KG, History, LiftHistory, Point, Standing};
use crate::record::person::Person;
use crate::session::next_lead::{NextLead, call_word};
use crate::view::{CauseView, ChanceView, Interval, LiftView, PointView, WhyView};
use crate::words;

/// What is said in the place of ordinary scatter after a set far below what was likely, which scatter doesn't explain.
const NOT_ON_RECORD: &str = "The last lead set lies too far below what was likely for scatter: the load on the bar, technique, pain, health.";

/// How much of a lift is shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Extent {
    /// All of it.
    Whole,
    /// The lead sets of the [`LATELY_DAYS`] up to the last, and no chances, which take long: for a page
    /// that shows all lifts.
    Lately,
}

/// How many days before the last lead set [`Extent::Lately`] looks back: half a year.
pub const LATELY_DAYS: f64 = 182.0;

/// Shows one lift as of a day.
pub(crate) fn lift_view(
    person: &Person,
    standing: &Standing<'_>,
    record: &LiftHistory,
    stops: &Stops,
    (today, extent): (Date, Extent),
) -> Option<LiftView> {
    let (lifter, history) = (&person.lifter, &person.history);
    let unit = lifter.unit;
    let model = standing.lift(record)?;
    let next = NextLead::plan(person, standing, record, today);
    let stop = stops.view(&record.lift, &|_| false);
    let body_mass = history.body_mass_kg(today).unwrap_or(ASSUMED_BODY_MASS_KG);
    let estimate = record.points.iter().rev().find_map(|point| point.today);
    let scatter = model.scatter();
    let gauge = engine::reading::gauge(&record.lift, &*model);
    let threshold = lifter.limits.threshold();
    let earlier = match (extent, record.points.last()) {
        (Extent::Lately, Some(last)) => {
            let since = last.lead.days - LATELY_DAYS;
            record.points.partition_point(|point| point.lead.days < since)
        }
        _ => 0,
    };
    Some(LiftView {
        name: record.lift.name.to_string(),
        equipment: record.lift.equipment.label().to_owned(),
        prime_movers: record.lift.prime_movers(),
        load_meaning: words::load_meaning(&record.lift),
        unit,
        points: points_view(history, &*model, record, (unit, earlier)),
        earlier_points: earlier,
        one_rm: estimate.map(|estimate| {
            let spread = Z_80 * estimate.log_one_rm_sd;
            as_loads(&record.lift, estimate.log_one_rm, spread, body_mass, unit)
        }),
        trend_pct_per_week: estimate.map(|estimate| {
            let weekly = |z: f64| 700.0 * (estimate.slope + z * estimate.slope_sd);
            Interval { low: weekly(-Z_80), mid: weekly(0.0), high: weekly(Z_80) }
        }),
        scatter_pct: Interval { low: scatter.low_pct, mid: scatter.pct, high: scatter.high_pct },
        class_scatter_pct: record.lift.starting_scatter_pct,
        is_gauge: gauge.is_gauge,
        gauge_reason: gauge.reason,
        chances: next
            .as_ref()
            .filter(|_| extent == Extent::Whole)
            .and_then(|next| next.chances(record, threshold))
            .map(|chances| chance_view(&chances, threshold)),
        target: next.as_ref().filter(|_| stop.is_none()).map(NextLead::target_view),
        stop,
        why: standing
            .why_flat(record)
            .map(|why| why_view(why, person, record, record.points.last(), today)),
    })
}

/// Shows how often each rule would be right and wrong at a threshold.
pub(crate) fn chance_view(chances: &engine::reading::Chances, threshold: f64) -> ChanceView {
    ChanceView {
        threshold,
        false_alarm: chances.false_alarm,
        caught: chances.caught,
        plain_false_alarm: chances.plain_false_alarm,
        plain_caught: chances.plain_caught,
    }
}

/// Shows the odds of why a lift is flat or falling, after its `last` lead set.
pub(crate) fn why_view(
    why: &Why,
    person: &Person,
    record: &LiftHistory,
    last: Option<&Point>,
    today: Date,
) -> WhyView {
    let lift = &record.lift;
    let is_far_below = last.is_some_and(|point| {
        point.reading.is_some_and(|reading| reading.expected.is_far_below(point.lead.reps))
    });
    let before = jiff::Span::new().days(TREND_DAYS as i64); // four weeks
    let weeks = (today.saturating_sub(before), today);
    let is_light = Muscle::ALL
        .iter()
        .any(|muscle| lift.has_prime_mover(*muscle) && person.leaves_out(*muscle, weeks));
    let cause = |one: &engine::recovery::Weighed| {
        let mut evidence = one.evidence.clone();
        if is_light && one.cause == Cause::UnderDosed {
            evidence.push_str(" Light days or sessions left out by plan fall into these weeks.");
        }
        if is_far_below && one.cause == Cause::OrdinaryScatter {
            let evidence = NOT_ON_RECORD.to_owned();
            return CauseView { cause: "something that isn't on record", odds: one.odds, evidence };
        }
        CauseView { cause: one.cause.as_str(), odds: one.odds, evidence }
    };
    WhyView { change_pct: why.change_pct, causes: why.causes.iter().map(cause).collect() }
}

/// Shows the lead sets after the `earlier` ones, with the trend as the whole record has it.
fn points_view(
    history: &History,
    model: &dyn LiftModel,
    record: &LiftHistory,
    (unit, earlier): (Unit, usize),
) -> Vec<PointView> {
    let shown = &record.points[earlier..];
    let first = shown.first().map_or(f64::INFINITY, |point| point.lead.days);
    let prior = Prior::starting_at(record.lift.starting_scatter_pct);
    let leads = record.points.iter().map(|point| point.lead);
    // Without it the chart has one line less, and nothing else changes.
    let levels = smoothed(&model.alone(), &prior, leads).unwrap_or_default();
    let mut usual = levels.iter().skip_while(|level| level.days < first).peekable();
    shown
        .iter()
        .map(|point| {
            let mut view = point_view(history, model, &record.lift, point, unit);
            // Sets that were too long to be read are none of the trend's.
            if let Some(level) = usual.next_if(|level| level.days == point.lead.days) {
                let body_mass = body_mass_on(history, point);
                let usual = record.lift.load_kg(level.log_one_rm.exp(), body_mass);
                view.one_rm_usual = Some(words::load(usual, unit));
            }
            view
        })
        .collect()
}

fn body_mass_on(history: &History, point: &Point) -> f64 {
    history.body_mass_kg(point.set.when.date()).unwrap_or(ASSUMED_BODY_MASS_KG)
}

/// Shows one lead set. Its 1RMs are by the lift's own curve as `model` has it now, so that sets of many
/// and of few repetitions stand on one scale, and on that of the lift's 1RM.
pub(crate) fn point_view(
    history: &History,
    model: &dyn LiftModel,
    lift: &Lift,
    point: &Point,
    unit: Unit,
) -> PointView {
    let body_mass = body_mass_on(history, point);
    let expected = point.reading.map(|reading| reading.expected);
    let shift = model.to_own_curve(&point.lead);
    let load_of = |log: f64| words::load(lift.load_kg((log + shift).exp(), body_mass), unit);
    PointView {
        when: point.set.when.to_string(),
        days: point.set.when.days(),
        kind: match point.set.kind {
            SetKind::Test => "test",
            SetKind::Work | SetKind::WarmUp | SetKind::Speed => "work",
        },
        load: point.set.load.shown_in(unit),
        reps: point.set.reps.get(),
        rir: point.set.rir.map(domain::Rir::get),
        one_rm_seen: point.log_shown.map(load_of),
        one_rm_expected: expected
            .map(|e| as_loads(lift, e.mean + shift, Z_80 * e.sd(), body_mass, unit)),
        one_rm_usual: None,
        reps_expected: expected.map(|expected| {
            let (low, mid, high) = expected.reps_interval();
            Interval { low, mid, high }
        }),
        p_shortfall: point.reading.map(|reading| reading.p_shortfall),
        call: call_word(point.ruling.call),
        plain_rule: point.plain_rule,
        reason: point.ruling.reason.clone(),
    }
}

fn as_loads(lift: &Lift, log: f64, spread: f64, body_mass: f64, unit: Unit) -> Interval {
    let load = |log: f64| words::load(lift.load_kg(log.exp(), body_mass), unit);
    Interval { low: load(log - spread), mid: load(log), high: load(log + spread) }
}
