//! What a programme's slot asks for today: its rule, and the part of the record by which it moves on.
//!
//! Where days of a programme plan one lift differently, each moves on by its own sessions; and a range of
//! repetitions that the record has nothing of begins at the load that today's 1RM allows.

use domain::{Mass, PlannedLift, Progression, Reps};
use engine::target::{
    self, DoubleProgression, Exposure, LoadStep, PercentOfToday, RepGoal, Rule, Target,
    TargetError, Today, without_tests,
};
use jiff::civil::Date;

use crate::programme::Slot;
use crate::record::person::Person;

/// The target of a slot; none if nothing says what to load.
pub(crate) fn target(
    slot: &Slot<'_>,
    person: &Person,
    exposures: &[Exposure],
    today: &Today<'_>,
) -> Option<Target> {
    let rule = rule(slot.planned, slot.week, today.ladder.usual_step()).ok()?;
    let range = range(slot)?;
    let exposures = &as_planned(slot, person, exposures)[..];
    let own = own_exposures(slot, person, exposures);
    // Time away and days with nothing but other slots are seen in the whole record.
    let away = exposures.last().map_or(0.0, |last| today.days - last.days());
    let is_away = away > domain::Limits::AWAY_DAYS;
    if !is_away {
        let moves_on = own.as_deref().unwrap_or(exposures);
        let back = target::way_back(&rule, &without_tests(moves_on), exposures, today);
        if back.is_some() {
            return back;
        }
    }
    match own {
        Some(own) if !own.is_empty() && !is_away => target::begin(&rule, range, &own, today)
            .or_else(|| target::go_on(&rule, &own, today).ok()),
        _ => target::begin(&rule, range, exposures, today)
            .or_else(|| target::target(&rule, exposures, today).ok()),
    }
}

/// The target of a slot by today's 1RM alone, for a lift that comes twice in one session.
pub(crate) fn by_one_rm(slot: &Slot<'_>, today: &Today<'_>) -> Option<Target> {
    let rule = rule(slot.planned, slot.week, today.ladder.usual_step()).ok()?;
    target::begin(&rule, range(slot)?, &[], today)
        .or_else(|| target::target(&rule, &[], today).ok())
}

/// The rule by which a planned lift moves on in a week of its programme, the first being 0; `step` is the
/// equipment's own.
pub(crate) fn rule(planned: &PlannedLift, week: usize, step: Mass) -> Result<Rule, TargetError> {
    let (sets, rir) = (planned.sets(), planned.rir());
    let (low, high) = (planned.reps().low(), planned.reps().high());
    let or_own = |given: &Option<Mass>| given.unwrap_or(step);
    match planned.progression() {
        Progression::Double { step } => {
            DoubleProgression::new(low, high, sets, rir, or_own(step)).map(Rule::DoubleProgression)
        }
        Progression::LoadSteps { step, back } => {
            LoadStep::new(low, sets, rir, or_own(step), back.misses(), back.pct())
                .map(Rule::LoadStep)
        }
        Progression::RepGoal { total, step } => {
            RepGoal::new(*total, sets, rir, or_own(step)).map(Rule::RepGoal)
        }
        Progression::OfToday(share) => {
            PercentOfToday::new(share.pct(), low, sets, rir).map(Rule::PercentOfToday)
        }
        Progression::Wave { weeks } => {
            let week = weeks[week % weeks.len()];
            PercentOfToday::new(week.share().pct(), week.reps(), week.sets(), rir)
                .map(Rule::PercentOfToday)
        }
    }
}

fn range(slot: &Slot<'_>) -> Option<(Reps, Reps)> {
    let reps = slot.planned.reps();
    Some((Reps::new(reps.low()).ok()?, Reps::new(reps.high()).ok()?))
}

/// The exposures of this slot alone since the programme began; none if all days plan the lift alike.
fn own_exposures(
    slot: &Slot<'_>,
    person: &Person,
    exposures: &[Exposure],
) -> Option<Vec<Exposure>> {
    let days = person.schedule.as_ref()?.days_of(slot, &person.history.days)?;
    let is_own = |exposure: &&Exposure| days.iter().any(|day| is_on(exposure, *day));
    Some(without_tests(exposures).iter().filter(is_own).cloned().collect())
}

/// The exposures without those that were light by plan, since sets left out then say nothing of the lifter; all
/// of them if nothing else is left, or if the last full one is so long ago that it would count as time away.
fn as_planned(slot: &Slot<'_>, person: &Person, exposures: &[Exposure]) -> Vec<Exposure> {
    let (Some(schedule), Some(lift)) = (&person.schedule, slot.lift) else {
        return exposures.to_vec();
    };
    let light: Vec<Date> = person
        .history
        .days
        .iter()
        .map(|day| day.date)
        .filter(|date| schedule.was_light(lift, *date))
        .collect();
    let is_full = |exposure: &&Exposure| !light.iter().any(|day| is_on(exposure, *day));
    let full: Vec<Exposure> = exposures.iter().filter(is_full).cloned().collect();
    let ends = (exposures.last().map(Exposure::days), full.last().map(Exposure::days));
    match ends {
        (Some(last), Some(full_last)) if last - full_last <= domain::Limits::AWAY_DAYS => full,
        _ => exposures.to_vec(),
    }
}

fn is_on(exposure: &Exposure, day: Date) -> bool {
    domain::When::new(day, None).is_ok_and(|when| when.days().floor() == exposure.days().floor())
}
