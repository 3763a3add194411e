//! What each rule says today, from the last sessions.
//!
//! Load steps stay within the published 2–10 % (ACSM position stand 2009, Med Sci Sports Exerc
//! 41:687, from memory: raise the load by 2–10 % once one or two repetitions over the target go).
//! Where one increment is more than 10 %, repetitions are added first, until the curve says that
//! the heavier load goes for the wanted ones. That bridge is ours. Doesn't look at recovery: that is
//! the reading's.

use domain::{Load, Mass, Reps, Rir};

use super::record::same_load;
use super::rule::{DoubleProgression, LoadStep, PercentOfToday, RepGoal, Rule};
use super::{Course, DoneSet, Exposure, Target, TargetError, Today, reps_of, rir_of};
use crate::strength::LoadRepCurve;

/// The largest load step, as a share of the mass moved (ACSM 2009, from memory).
pub const LARGEST_STEP: f64 = 0.10;

/// The most repetitions to which a range is extended: longer sets aren't read.
const MOST_EXTENDED: f64 = 20.0;

/// How far double progression steps back when two lead sets in a row miss the bottom of the range,
/// as a share of the mass moved: common practice, no source.
const STEP_BACK: f64 = 0.05;

/// What lies above a load.
enum Up {
    /// The next load, within the published step.
    To(Load),
    /// The next load is too far: first reach these repetitions.
    RepsFirst { next: Load, share: f64, reps: Reps },
    /// There is no heavier load.
    Top,
}

/// Double progression.
pub(super) fn double_progression(
    rule: &DoubleProgression,
    record: &[Exposure],
    today: &Today<'_>,
) -> Target {
    let Some(last) = record.last() else { unreachable!("called with a record") };
    let lead = last.lead();
    let make = |load: Load, reps: Reps, high: Reps, course: Course, why: String| Target {
        load: in_unit(load, today),
        reps,
        range: (rule.low, high.max(rule.low)),
        rir: rule.rir,
        sets: rule.sets,
        course,
        why,
    };
    if all_reached(last, rule.sets, rule.high, rule.rir) {
        return match step_up(last, rule.step, rule.low, rule.rir, today) {
            Up::To(load) => {
                let why = format!(
                    "{} reached {} last time: {} more, back to {} reps",
                    sets_named(last),
                    rule.high,
                    difference(lead.load, load, today),
                    rule.low
                );
                make(load, rule.low, rule.high, Course::MoreLoad, why)
            }
            Up::RepsFirst { next, share, reps } => {
                let why = reps_first_words(next, share, reps, rule.low);
                make(lead.load, one_more(lead, reps), reps, Course::MoreReps, why)
            }
            Up::Top => {
                let why = format!(
                    "{} is the heaviest load there is: add a rep instead",
                    in_unit(lead.load, today)
                );
                let reps = one_more(lead, reps_of(MOST_EXTENDED));
                make(lead.load, reps, reps, Course::MoreReps, why)
            }
        };
    }
    if missed_twice(record, rule.low) {
        let load = lighter_by(lead.load, STEP_BACK, today);
        if load.grams() < lead.load.grams() {
            let why = format!(
                "the lead set stayed under {} reps twice in a row: {} less, and up again from there",
                rule.low,
                difference(load, lead.load, today)
            );
            return make(load, rule.low, rule.high, Course::StepBack, why);
        }
    }
    let (reps, course, why) = within_range(rule, last);
    make(lead.load, reps, rule.high, course, why)
}

fn in_words(reps: Reps) -> String {
    if reps.get() == 1 { "1 rep".to_owned() } else { format!("{reps} reps") }
}

/// The same load again: a rep more if the reserve allows it.
fn within_range(rule: &DoubleProgression, last: &Exposure) -> (Reps, Course, String) {
    let lead = last.lead();
    if lead.reps < rule.low {
        let why = format!(
            "{} last time, under the range of {}–{}: the same load again, for {}",
            in_words(lead.reps),
            rule.low,
            rule.high,
            rule.low
        );
        return (rule.low, Course::Same, why);
    }
    if !reserve_kept(lead, rule.rir) {
        let reps = lead.reps.min(rule.high);
        let (told, wanted) = (words_of_rir(lead.rir), words_of_rir(rule.rir));
        let why = format!("{told} in reserve last time, {wanted} wanted: the same load and reps");
        return (reps, Course::Same, why);
    }
    if lead.reps >= rule.high {
        let there = last.at_lead_load().filter(|set| reached(*set, rule.high, rule.rir)).count();
        let why = format!(
            "{there} of {} sets reached {} last time: the same load until all do",
            usize::from(rule.sets).max(last.at_lead_load().count()),
            rule.high
        );
        return (rule.high, Course::Same, why);
    }
    let reps = one_more(lead, rule.high);
    let why = format!(
        "{} last time: the same load, {} this time, on the way to {}",
        in_words(lead.reps),
        reps,
        rule.high
    );
    (reps, Course::MoreReps, why)
}

/// Load steps.
pub(super) fn load_step(rule: &LoadStep, record: &[Exposure], today: &Today<'_>) -> Target {
    let Some(last) = record.last() else { unreachable!("called with a record") };
    let lead = last.lead();
    let make = |load: Load, reps: Reps, course: Course, why: String| Target {
        load: in_unit(load, today),
        reps,
        range: (rule.reps, reps.max(rule.reps)),
        rir: rule.rir,
        sets: rule.sets,
        course,
        why,
    };
    if all_reached(last, rule.sets, rule.reps, rule.rir) {
        return match step_up(last, rule.step, rule.reps, rule.rir, today) {
            Up::To(load) => {
                let added = difference(lead.load, load, today);
                let why =
                    format!("{} made {} last time: {added} more", sets_named(last), rule.reps);
                make(load, rule.reps, Course::MoreLoad, why)
            }
            Up::RepsFirst { next, share, reps } => {
                let why = reps_first_words(next, share, reps, rule.reps);
                make(lead.load, one_more(lead, reps), Course::MoreReps, why)
            }
            Up::Top => {
                let why = "there is no heavier load: the same again".to_owned();
                make(lead.load, rule.reps, Course::Same, why)
            }
        };
    }
    let misses = record
        .iter()
        .rev()
        .take_while(|e| {
            same_load(e.lead().load, lead.load) && !all_reached(e, rule.sets, rule.reps, rule.rir)
        })
        .count();
    let back = lighter_by(lead.load, rule.back_pct / 100.0, today);
    if misses >= usize::from(rule.misses) && back.grams() < lead.load.grams() {
        let why = format!(
            "{} missed {misses} in a row: {} less, and up again from there",
            in_unit(lead.load, today),
            difference(back, lead.load, today)
        );
        return make(back, rule.reps, Course::StepBack, why);
    }
    let why = format!("not all of {} × {} last time: the same load again", rule.sets, rule.reps);
    make(lead.load, rule.reps, Course::Same, why)
}

/// Repetitions over all sets.
pub(super) fn rep_goal(rule: &RepGoal, record: &[Exposure], today: &Today<'_>) -> Target {
    let Some(last) = record.last() else { unreachable!("called with a record") };
    let lead = last.lead();
    let done: u16 = last.at_lead_load().take(rule.sets.into()).map(|set| set.reps.get()).sum();
    let make = |load: Load, reps: Reps, course: Course, why: String| Target {
        load: in_unit(load, today),
        reps,
        range: (rule.share().min(reps), reps.max(rule.share())),
        rir: rule.rir,
        sets: rule.sets,
        course,
        why,
    };
    let (total, sets) = (rule.total, rule.sets);
    if done < total {
        let why = format!(
            "{done} of {total} reps over {sets} sets last time: the same load until {total} go"
        );
        let reps = lead.reps.max(rule.share());
        return make(lead.load, reps, Course::Same, why);
    }
    match step_up(last, rule.step, rule.share(), rule.rir, today) {
        Up::To(load) => {
            let added = difference(lead.load, load, today);
            let why =
                format!("{done} reps over {sets} sets last time, {total} wanted: {added} more");
            make(load, rule.share(), Course::MoreLoad, why)
        }
        Up::RepsFirst { next, share, reps } => {
            let why = reps_first_words(next, share, reps, rule.share());
            make(lead.load, one_more(lead, reps), Course::MoreReps, why)
        }
        Up::Top => {
            let why = "there is no heavier load: the same again".to_owned();
            make(lead.load, lead.reps, Course::Same, why)
        }
    }
}

/// A percentage of today's 1RM; the reserve is what the curve leaves. Where that is less than the reserve asked
/// for, the load comes down until the curve leaves it: nobody is sent to failure by a percentage.
pub(super) fn percent_of_today(
    rule: &PercentOfToday,
    today: &Today<'_>,
) -> Result<Target, TargetError> {
    let missing = || TargetError::NoForecast { lift: today.lift.name.as_str().to_owned() };
    let forecast = today.forecast.ok_or_else(missing)?;
    let one_rm = forecast.one_rm_kg();
    let reps = f64::from(rule.reps.get());
    let share = one_rm * rule.pct / 100.0;
    let kept = rule.rir.map(|rir| (rir, forecast.moved_kg_for(reps + rir.get())));
    let too_much = kept.filter(|(_, most)| *most < share);
    let moved = too_much.map_or(share, |(_, most)| most);
    let wanted = today.load_kg(moved).ok_or_else(missing)?;
    let load = today.ladder.at_or_below(wanted).unwrap_or_else(|| today.ladder.lowest());
    let moved = today.moved_kg(load).ok_or_else(missing)?;
    let actual = 100.0 * moved / one_rm;
    let left = forecast.reps_to_failure_at(moved) - reps;
    let why = if let Some((rir, _)) = too_much {
        format!(
            "{:.0}\u{a0}% of today's 1RM would leave less than the {rir} in reserve asked for: {actual:.0}\u{a0}% \
             leaves it, by the curve",
            rule.pct
        )
    } else if (actual - rule.pct).abs() < 0.5 {
        format!("{:.0}\u{a0}% of today's 1RM", rule.pct)
    } else {
        format!(
            "{actual:.0}\u{a0}% of today's 1RM, the nearest that can be loaded to {}\u{a0}%",
            rule.pct
        )
    };
    Ok(Target {
        load,
        reps: rule.reps,
        range: (rule.reps, rule.reps),
        rir: Some(rir_of(left)),
        sets: rule.sets,
        course: Course::OfToday,
        why,
    })
}

/// The target after one exposure: the same again, so that there is something to compare with.
pub(super) fn first(rule: &Rule, last: &Exposure, today: &Today<'_>) -> Target {
    let lead = last.lead();
    let (low, high) = rule.range();
    Target {
        load: in_unit(lead.load, today),
        reps: lead.reps,
        range: (low.min(lead.reps), high.max(lead.reps)),
        rir: rule.rir().or(lead.rir),
        sets: rule.sets(),
        course: Course::First,
        why: "one session on record: the same again, to see what repeats".to_owned(),
    }
}

/// Whether there were as many work sets as the rule has, and all of those at the lead load reached
/// `reps` with the wanted reserve. Lighter sets after a top set need only have been done. A reserve
/// that wasn't told counts as kept.
fn all_reached(exposure: &Exposure, sets: u8, reps: Reps, rir: Option<Rir>) -> bool {
    exposure.count() >= usize::from(sets)
        && exposure.at_lead_load().all(|set| reached(set, reps, rir))
}

fn reached(set: DoneSet, reps: Reps, rir: Option<Rir>) -> bool {
    set.reps >= reps && reserve_kept(set, rir)
}

fn reserve_kept(set: DoneSet, wanted: Option<Rir>) -> bool {
    set.rir.zip(wanted).is_none_or(|(told, wanted)| told >= wanted)
}

/// Whether the last two lead sets both stayed under `low`, the last with no less load.
fn missed_twice(record: &[Exposure], low: Reps) -> bool {
    let [.., before, last] = record else { return false };
    last.lead().load.grams() >= before.lead().load.grams()
        && [before, last].iter().all(|exposure| exposure.lead().reps < low)
}

/// One step up from the last lead load: the load nearest below `load + step`, or the next one if
/// that is no more than the load itself.
fn step_up(
    last: &Exposure,
    step: Mass,
    reps_after: Reps,
    rir: Option<Rir>,
    today: &Today<'_>,
) -> Up {
    let load = last.lead().load;
    let aimed = today.ladder.at_or_below(load.kg() + step.kg());
    let higher = aimed.filter(|next| next.grams() > load.grams() && !same_load(*next, load));
    let Some(next) = higher.or_else(|| today.ladder.next_above(load)) else { return Up::Top };
    let share = ratio(load, next, today) - 1.0;
    if share <= LARGEST_STEP {
        return Up::To(next);
    }
    let needed = reps_before_step(1.0 + share, reps_after, rir, today);
    let fewest = last.at_lead_load().map(|set| set.reps).min().unwrap_or(reps_after);
    if fewest >= needed { Up::To(next) } else { Up::RepsFirst { next, share, reps: needed } }
}

/// The repetitions that must go at a load before `ratio` times its mass goes for `reps_after`, with
/// the same reserve: n = (ratio·(1 + b·n′) − 1)/b, rounded up, at most 20.
fn reps_before_step(ratio: f64, reps_after: Reps, rir: Option<Rir>, today: &Today<'_>) -> Reps {
    let b = today.forecast.map_or(LoadRepCurve::EPLEY, |forecast| forecast.curve()).b();
    let left = rir.map_or(0.0, Rir::get);
    let after = f64::from(reps_after.get()) + left;
    let before = (ratio * (1.0 + b * after) - 1.0) / b - left;
    let most = MOST_EXTENDED.max(f64::from(reps_after.get()));
    reps_of((before - 1e-9).ceil().min(most))
}

/// The mass moved with `next` over that moved with `load`; of the loads alone if body mass is
/// unknown.
fn ratio(load: Load, next: Load, today: &Today<'_>) -> f64 {
    match (today.moved_kg(load), today.moved_kg(next)) {
        (Some(moved), Some(next)) => next / moved,
        _ if load.grams() > 0 => next.kg() / load.kg(),
        _ => 1.0, // nothing added and no body mass known: a share can't be told
    }
}

/// The load that moves `share` less, rounded down, and at least one rung down if there is one.
pub(super) fn lighter_by(load: Load, share: f64, today: &Today<'_>) -> Load {
    let wanted = today
        .moved_kg(load)
        .and_then(|moved| today.load_kg(moved * (1.0 - share)))
        .unwrap_or(load.kg() - load.kg().abs() * share);
    let below = today.ladder.at_or_below(wanted).filter(|lower| !same_load(*lower, load));
    below.or_else(|| today.ladder.next_below(load)).unwrap_or(load)
}

fn one_more(lead: DoneSet, most: Reps) -> Reps {
    reps_of(f64::from(lead.reps.get()) + 1.0).min(most)
}

/// A load in the lifter's unit.
fn in_unit(load: Load, today: &Today<'_>) -> Load {
    load.shown_in(today.ladder.unit())
}

/// How much more `high` is than `low`, in the lifter's unit.
fn difference(low: Load, high: Load, today: &Today<'_>) -> String {
    let unit = today.ladder.unit();
    let value = (in_unit(high, today).value() - in_unit(low, today).value()).abs();
    format!("{} {}", (value * 100.0).round() / 100.0, unit.as_str())
}

fn reps_first_words(next: Load, share: f64, reps: Reps, after: Reps) -> String {
    format!(
        "the next load is {next}, {:.0}\u{a0}% more, over the usual 2–10\u{a0}%: add a rep first, up to \
         {reps}, then {next} for {after}",
        share * 100.0
    )
}

fn sets_named(exposure: &Exposure) -> &'static str {
    if exposure.at_lead_load().count() == 1 { "the lead set" } else { "all sets" }
}

fn words_of_rir(rir: Option<Rir>) -> String {
    match rir {
        None => "an unknown number".to_owned(),
        Some(rir) if rir.get() == 1.0 => "1 rep".to_owned(),
        Some(rir) => format!("{rir} reps"),
    }
}
