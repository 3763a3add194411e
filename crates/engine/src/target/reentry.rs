//! The first session of a lift after more than two weeks away.
//!
//! What is published: strength keeps for about three weeks, and its decay is clear over 5–16 weeks
//! (McMaster 2013, Sports Med 43:367, from memory); over 103 studies maximal force falls by 0.46
//! standard deviations, the more the longer the gap and the older the lifter (Bosquet 2013); after
//! ten weeks off the old level came back in about five (Halonen 2024, read second-hand). None of
//! them says by how much to cut the first session: the percentages, the halved sets and the reserve
//! are a choice of ours, on the careful side. Doesn't ask why somebody was away: after illness or
//! injury a licensed professional decides about training.

use domain::{Limits, Rir};

use super::progression::lighter_by;
use super::{Course, Exposure, Rule, Target, Today, rir_of};

/// Days away (more than the first up to the second) and the cut of the mass moved, in %.
const CUTS: &[(f64, f64)] = &[(21.0, 5.0), (28.0, 10.0), (56.0, 15.0), (112.0, 20.0)];
/// The cut after longer than that, in %.
const LONGEST_CUT: f64 = 30.0;

/// The least reserve on the first day back.
const LEAST_RESERVE: f64 = 3.0;

/// The cut of the load, in % of the mass moved, after so many days away: 0 up to 14, 5 up to three
/// weeks, 10 up to four, 15 up to eight, 20 up to sixteen, then 30. Our choice, see the file's head.
#[must_use]
pub fn cut_pct(days_away: f64) -> f64 {
    if days_away <= Limits::AWAY_DAYS {
        return 0.0;
    }
    CUTS.iter().find(|(upto, _)| days_away <= *upto).map_or(LONGEST_CUT, |(_, cut)| *cut)
}

/// The re-entry target: less load, half the sets, at least 3 repetitions in reserve, and never more
/// than the forecast gives for those repetitions.
pub(super) fn re_entry(rule: &Rule, last: &Exposure, away: f64, today: &Today<'_>) -> Target {
    let cut = cut_pct(away);
    let (low, high) = rule.range();
    let rir = rir_of(rule.rir().map_or(LEAST_RESERVE, Rir::get).max(LEAST_RESERVE));
    let reduced = lighter_by(last.lead().load, cut / 100.0, today);
    let allowed = today.forecast.and_then(|forecast| {
        today.load_kg(forecast.moved_kg_for(f64::from(low.get()) + rir.get()))
    });
    let (load, held_by_forecast) = match allowed {
        Some(kg) if kg < reduced.kg() => {
            (today.ladder.at_or_below(kg).unwrap_or_else(|| today.ladder.lowest()), true)
        }
        _ => (reduced.shown_in(today.ladder.unit()), false),
    };
    let sets = rule.sets().div_ceil(2);
    let why = if held_by_forecast {
        format!(
            "{away:.0} days away: what the forecast allows with {rir} reps in reserve, and {sets} \
             of {} sets on the first day back",
            rule.sets()
        )
    } else {
        format!(
            "{away:.0} days away: about {cut:.0}\u{a0}% less than last time, {rir} reps in reserve, and \
             {sets} of {} sets on the first day back",
            rule.sets()
        )
    };
    Target {
        load,
        reps: low,
        range: (low, high),
        rir: Some(rir),
        sets,
        course: Course::ReEntry,
        why,
    }
}
