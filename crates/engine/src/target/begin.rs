//! Where a lift begins in a range of repetitions that its record has nothing of: at the load that today's
//! 1RM allows.
//!
//! A rule goes on from the last lead set, which says little when that was one of three repetitions and eight
//! are asked for. The way from one range to another is the lifter's load–rep curve, and it is only a guess
//! until a set is on record there; so a load comes down for more repetitions, goes up for fewer, and never
//! the other way, whatever the curve says. The number of lead sets looked at and the reserve where none is
//! asked for are our choice.

use domain::{Limits, Reps, Rir};

use super::record::same_load;
use super::{Course, Exposure, Rule, Target, Today, reps_of, rir_of, without_tests};

/// How many of the last lead sets must lie outside a range for the lift to begin anew in it.
const LAST: usize = 3;
/// The reserve with which a lift begins if the rule asks for none, in repetitions.
const RESERVE: f64 = 2.0;

/// The target with which a lift begins in the range of `reps` (lowest and highest, both included); none if the
/// record goes on in it, if today's 1RM isn't known, or after more than [`Limits::AWAY_DAYS`] days away, when
/// the way back comes first. Rules that go by today's 1RM begin nowhere.
#[must_use]
pub fn begin(
    rule: &Rule,
    (low, high): (Reps, Reps),
    record: &[Exposure],
    today: &Today<'_>,
) -> Option<Target> {
    if matches!(rule, Rule::PercentOfToday(_)) {
        return None;
    }
    let away = record.last().map_or(0.0, |exposure| today.days - exposure.days());
    let worked = without_tests(record);
    let worked: &[Exposure] = if worked.iter().all(Exposure::is_test) { &[] } else { &worked };
    let latest = &worked[worked.len().saturating_sub(LAST)..];
    let outside = |exposure: &Exposure| !(low..=high).contains(&exposure.lead().reps);
    if away > Limits::AWAY_DAYS || !latest.iter().all(outside) {
        return None;
    }
    let reserve = rule.rir().map_or(RESERVE, Rir::get);
    let forecast = today.forecast?;
    let allowed = today.load_kg(forecast.moved_kg_for(f64::from(low.get()) + reserve))?;
    let load = today.ladder.at_or_below(allowed);
    let (load, reps) = match load {
        Some(load) => (load, low),
        None => {
            let lightest = today.ladder.lowest();
            let left = forecast.reps_to_failure_at(today.moved_kg(lightest)?) - reserve;
            (lightest, reps_of(left.floor()).min(low))
        }
    };
    let load = load.shown_in(today.ladder.unit());
    let asked = if low == high { format!("{low}") } else { format!("{low}–{high}") };
    let allows = format!(
        "today's 1RM allows {load} for {reps} with {} in reserve, by the curve; the first set there will tell",
        rir_of(reserve)
    );
    let why = match latest.last().map(Exposure::lead) {
        None => format!("no work set on record, only tests: {allows}"),
        Some(last) => {
            let moves = if last.reps < low {
                load.grams() < last.load.grams()
            } else {
                load.grams() > last.load.grams()
            };
            if same_load(load, last.load) || !moves {
                return None;
            }
            format!("{asked} reps wanted, and the last lead set had {}: {allows}", last.reps)
        }
    };
    Some(Target {
        load,
        reps,
        range: (reps.min(low), high),
        rir: Some(rir_of(reserve)),
        sets: rule.sets(),
        course: Course::Begin,
        why,
    })
}
