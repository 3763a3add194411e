//! The first session of a lift after more than two weeks away, and the way back to where it was.
//!
//! What is published: strength keeps for about three weeks, and its decay is clear over 5–16 weeks
//! (McMaster 2013, Sports Med 43:367, from memory); over 103 studies maximal force falls by 0.46
//! standard deviations, the more the longer the gap and the older the lifter (Bosquet 2013); after
//! ten weeks off the old level came back in about five (Halonen 2024, read second-hand). None of
//! them says by how much to cut the first session: the percentages, the halved sets and the reserve
//! are a choice of ours, on the careful side. That the way back takes half as long as the time away is
//! Halonen's figure; that it goes evenly is our choice. Doesn't ask why somebody was away: after illness or
//! injury a licensed professional decides about training.

use domain::{Limits, Rir};

use super::progression::lighter_by;
use super::{Course, Exposure, Rule, Target, Today, rir_of};

/// Days away (more than the first up to the second) and the cut of the mass moved, in %.
const CUTS: &[(f64, f64)] = &[(21.0, 5.0), (28.0, 10.0), (56.0, 15.0), (112.0, 20.0)];
/// The cut after longer than that, in %.
const LONGEST_CUT: f64 = 30.0;

/// The least reserve on the first day back, and until half of the way is gone.
const LEAST_RESERVE: f64 = 3.0;
/// How long the way back takes, as a share of the time away: after ten weeks off the old level came back in
/// about five (Halonen 2024, read second-hand; 42 untrained people, so with all caution).
const WAY_BACK: f64 = 0.5;
/// The share of the way after which all sets are done, with the rule's own reserve. Our choice.
const ALL_SETS: f64 = 0.5;

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

/// The target on the way back: from the reduced load evenly up to the one before the time away, within half the
/// time that it lasted; half the sets at first and all of them from half-way on. The load only goes up after a lead
/// set that kept to the rule, and never beyond what the forecast allows.
///
/// `record` is what the rule moves on by, `all` everything done of the lift, tests too. None if the lifter
/// wasn't away, is back where they were, or has gone that way; nor for a share of today's 1RM, which finds its
/// own way.
#[must_use]
pub fn way_back(
    rule: &Rule,
    record: &[Exposure],
    all: &[Exposure],
    today: &Today<'_>,
) -> Option<Target> {
    if matches!(rule, Rule::PercentOfToday(_)) {
        return None;
    }
    let gap = |two: &&[Exposure]| two[1].days() - two[0].days() > Limits::AWAY_DAYS;
    let gap = all.windows(2).rev().find(gap)?;
    let (returned, away) = (gap[1].days(), gap[1].days() - gap[0].days());
    let whole = WAY_BACK * away;
    let gone = (today.days - returned) / whole;
    let before = record.iter().rev().find(|exposure| exposure.days() < returned)?.lead();
    let last = record.last().filter(|last| last.days() >= returned)?.lead();
    let (low, high) = rule.range();
    let was_there = before.reps >= low && before.load.grams() > last.load.grams();
    if !(0.0..1.0).contains(&gone) || !was_there {
        return None;
    }
    let reserve = match gone < ALL_SETS {
        true => Some(rir_of(rule.rir().map_or(LEAST_RESERVE, Rir::get).max(LEAST_RESERVE))),
        false => rule.rir(),
    };
    let kept = last.reps >= low && last.rir.is_none_or(|told| reserve.is_none_or(|r| told >= r));
    let cut = cut_pct(away) * (1.0 - gone) / 100.0;
    let wanted = lighter_by(before.load, cut, today);
    let mut load = if kept && wanted.grams() > last.load.grams() { wanted } else { last.load };
    let allowed = today.forecast.and_then(|forecast| {
        let reserve = reserve.map_or(0.0, Rir::get);
        today.load_kg(forecast.moved_kg_for(f64::from(low.get()) + reserve))
    });
    if let Some(kg) = allowed.filter(|kg| *kg < load.kg()) {
        load = today.ladder.at_or_below(kg).unwrap_or_else(|| today.ladder.lowest());
    }
    let sets = f64::from(rule.sets()) * (0.5 + gone * 0.5 / ALL_SETS);
    let sets = (sets.ceil() as u8).clamp(1, rule.sets());
    let weeks = (whole / 7.0).round().max(1.0);
    let weeks = if weeks == 1.0 { "a week".to_owned() } else { format!("{weeks:.0} weeks") };
    let why = format!(
        "on the way back after {away:.0} days away: step by step to {} within about {weeks}{}",
        before.load.shown_in(today.ladder.unit()),
        if kept {
            ""
        } else {
            ", and the same load again, since the last lead set fell short of what was asked"
        }
    );
    Some(Target {
        load: load.shown_in(today.ladder.unit()),
        reps: low,
        range: (low, high),
        rir: reserve,
        sets,
        course: Course::WayBack,
        why,
    })
}
