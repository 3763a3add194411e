//! A lifter's muscles as they are shown: on the days before, now, and in the next days if nothing is trained.

use domain::{Limits, When};
use engine::recovery::MuscleState;
use jiff::Span;
use jiff::civil::Date;

use crate::record::history::Standing;
use crate::record::person::Person;
use crate::view::{Interval, MuscleDay, MuscleView, MusclesView};

/// How many days are shown, today among them: enough for nearly every muscle to be back.
const SHOWN_DAYS: i32 = 5;
/// How many days before today are shown: a week of training.
const PAST_DAYS: i32 = 7;

/// Shows the muscles as of `today`; none without a model of muscles, or without a set on record.
pub(crate) fn muscles_view(
    person: &Person,
    standing: &Standing<'_>,
    today: Date,
) -> Option<MusclesView> {
    let model = standing.recovery()?;
    let last = model.events().last()?.days();
    let now = When::new(today, None).ok()?.days().max(last);
    let limits: &Limits = &person.lifter.limits;
    let shortfall = limits.shortfall_pct() / 100.0;
    let hours: Vec<f64> = (0..SHOWN_DAYS).map(|day| 24.0 * f64::from(day)).collect();
    let ahead = model.muscles_ahead(now, shortfall, &hours);
    let began = model.events().first()?.days().floor();
    let past: Vec<(Date, f64)> = (1..=PAST_DAYS)
        .rev()
        .map(|day| today.saturating_sub(Span::new().days(day)))
        .filter_map(|day| Some((day, When::new(day, None).ok()?.days().floor())))
        .filter(|(_, number)| *number >= began)
        .collect();
    let evenings: Vec<f64> = past.iter().map(|(_, number)| number + 1.0).collect();
    let back = model.muscles_back(&evenings, shortfall);
    let shown = |state: &MuscleState| {
        let (low, mid, high) = state.shortfall_pct;
        MuscleDay { shortfall_pct: Interval { low, mid, high }, p_short: state.p_short }
    };
    let mut muscles: Vec<MuscleView> = model
        .muscles(now, shortfall)
        .iter()
        .enumerate()
        .map(|(idx, state)| MuscleView {
            muscle: state.muscle.label(),
            hours_until_usual: state.hours_until_usual,
            past: back.iter().map(|states| shown(&states[idx])).collect(),
            days: ahead.iter().map(|states| shown(&states[idx])).collect(),
        })
        .collect();
    let doubt = |muscle: &MuscleView| muscle.days.first().map_or(0.0, |day| day.p_short);
    muscles.sort_by(|a, b| doubt(b).total_cmp(&doubt(a)));
    let days = (0..SHOWN_DAYS).map(|day| today.saturating_add(Span::new().days(day))).collect();
    let past = past.into_iter().map(|(day, _)| day).collect();
    Some(MusclesView { short_from_pct: limits.shortfall_pct(), past, days, muscles })
}
