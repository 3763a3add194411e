//! Too little, too much, or one-sided: dose against its ranges, minutes, and balance.

use domain::{DoseRange, Lift, Muscle};

use super::lifts::is_raised;
use super::{About, Finding, Ground, Urgency, WEEK, hard_sets};
use crate::programme::dose::WeekDose;
use crate::programme::minutes::{seconds_per_set, session_seconds};
use crate::programme::ranges::{is_trained_for_itself, usual};
use crate::programme::swap::may_be_taken;
use crate::programme::week::{Week, WeekDay};

/// How many times one side may have the other's dose before it is a finding. Common practice, no source.
const ONE_SIDED: f64 = 2.0;

/// The most hard sets for a muscle in one session before it is a finding. Common practice, no source.
pub(in crate::programme) const MOST_AT_ONCE: f64 = 10.0;

/// Two groups of muscles that are usually kept about level.
const SIDES: [(&str, &[Muscle], &str, &[Muscle]); 2] = [
    (
        "pressing (chest and front delts)",
        &[Muscle::Chest, Muscle::FrontDelts],
        "pulling (lats and upper back)",
        &[Muscle::Lats, Muscle::UpperBack],
    ),
    ("quadriceps", &[Muscle::Quadriceps], "hamstrings", &[Muscle::Hamstrings]),
];

pub(super) fn check(
    week: &Week<'_>,
    dose: &WeekDose,
    ground: &Ground<'_>,
    findings: &mut Vec<Finding>,
) {
    for &muscle in Muscle::ALL {
        let range = range_of(week, muscle);
        let got = dose.week.of(muscle).total();
        if got < range.least() {
            findings.push(too_little(week, ground, (muscle, got, range)));
        } else if got > range.most() {
            findings.push(too_much(week, (muscle, got, range)));
        }
    }
    for (day, dose) in week.days.iter().zip(&dose.days) {
        let of_day = |muscle: &Muscle| too_much_at_once(day, *muscle, dose.of(*muscle).total());
        findings.extend(Muscle::ALL.iter().filter_map(of_day));
        findings.extend(too_long(week, day));
    }
    for (one, of_one, other, of_other) in SIDES {
        let total = |muscles: &[Muscle]| muscles.iter().map(|m| dose.week.of(*m).total()).sum();
        let (a, b): (f64, f64) = (total(of_one), total(of_other));
        let (a, b) = ((one, of_one, a), (other, of_other, b));
        findings.extend(one_sided(a, b).or(one_sided(b, a)));
    }
}

/// The range in force: the programme's own or the usual one.
pub(super) fn range_of(week: &Week<'_>, muscle: Muscle) -> DoseRange {
    week.purpose.dose.get(&muscle).copied().unwrap_or_else(|| usual(muscle).range)
}

fn too_little(
    week: &Week<'_>,
    ground: &Ground<'_>,
    (muscle, got, range): (Muscle, f64, DoseRange),
) -> Finding {
    let missing = range.least() - got;
    let slots = || week.days.iter().flat_map(|day| &day.slots).map(|slot| slot.lift);
    let is_prime = |lift: &&Lift| lift.has_prime_mover(muscle);
    let can = |lift: &&Lift| may_be_taken(lift, week.purpose) && !lift.explosive;
    let found = slots().filter(is_prime).find(can);
    let cure = found.or_else(|| {
        // A usual lift, and one that does little else, so that nothing else is overdone.
        let known = ground.catalogue.lifts().iter().filter(is_prime).filter(can);
        known.min_by_key(|lift| {
            let primes = lift.muscles.iter().filter(|m| m.is_prime()).count();
            (!lift.staple, primes, lift.muscles.len())
        })
    });
    let verb = if found.is_some() { "more of" } else { "of" };
    let asked = week.purpose.dose.contains_key(&muscle) || is_trained_for_itself(muscle);
    Finding {
        urgency: if asked && got < 0.5 * range.least() {
            Urgency::Change
        } else {
            Urgency::Consider
        },
        place: WEEK,
        words: format!(
            "{}: {} a week, and the range begins at {}",
            muscle.label(),
            hard_sets(got),
            range.least()
        ),
        cure: Some(match cure {
            Some(lift) => format!("add {} {verb} `{}`", hard_sets(missing.ceil()), lift.name),
            None => format!(
                "let it stand for now: no lift at hand trains this{}",
                super::lifts::without_spared(week.purpose)
            ),
        }),
        about: About::TooLittle(muscle),
        size: missing / range.least(),
    }
}

fn too_much(week: &Week<'_>, (muscle, got, range): (Muscle, f64, DoseRange)) -> Finding {
    let over = got - range.most();
    let slots = week.days.iter().flat_map(|day| day.slots.iter().map(move |slot| (day, slot)));
    let most = slots
        .filter(|(_, slot)| slot.lift.has_prime_mover(muscle) && !is_raised(week, slot.lift))
        .max_by_key(|(_, slot)| slot.sets);
    Finding {
        urgency: if over > 0.3 * range.most() { Urgency::Change } else { Urgency::Consider },
        place: WEEK,
        words: format!(
            "{}: {} a week, and beyond {} more isn't known to help",
            muscle.label(),
            hard_sets(got),
            range.most()
        ),
        cure: most.map(|(day, slot)| {
            let sets = over.ceil().min(f64::from(slot.sets));
            format!("take {} from `{}` on {}", hard_sets(sets), slot.lift.name, day.name())
        }),
        about: About::TooMuch(muscle),
        size: over / range.most().max(1.0),
    }
}

fn too_much_at_once(day: &WeekDay<'_>, muscle: Muscle, got: f64) -> Option<Finding> {
    let over = got - MOST_AT_ONCE;
    (over > 0.0).then(|| Finding {
        urgency: if over > 0.5 * MOST_AT_ONCE { Urgency::Change } else { Urgency::Consider },
        place: day.name(),
        words: format!(
            "{}: {} in one session, and beyond about {MOST_AT_ONCE} more are better shared with another day",
            muscle.label(),
            hard_sets(got)
        ),
        cure: Some(format!("give {} to another day", hard_sets(over.ceil()))),
        about: About::TooMuchAtOnce(muscle),
        size: over / MOST_AT_ONCE,
    })
}

fn too_long(week: &Week<'_>, day: &WeekDay<'_>) -> Option<Finding> {
    let allowed = 60 * u32::from(day.minutes?);
    let needed = session_seconds(&day.slots);
    let over = needed.checked_sub(allowed).filter(|over| *over > 0)?;
    // What is to go up stays longest.
    let plain = day.slots.iter().rev().find(|slot| !is_raised(week, slot.lift));
    let last = plain.or(day.slots.last())?;
    let sets = over.div_ceil(seconds_per_set(last));
    let cure = if sets < u32::from(last.sets) {
        let sets = hard_sets(f64::from(sets)).replace("hard ", "");
        format!("take {sets} from `{}`, or shorten its rest", last.lift.name)
    } else {
        format!("leave `{}` out, or move it to another day", last.lift.name)
    };
    let share = f64::from(over) / f64::from(allowed);
    Some(Finding {
        urgency: if share > 0.1 { Urgency::Change } else { Urgency::Consider },
        place: day.name(),
        words: format!(
            "it takes about {} minutes, and there are {}",
            needed.div_ceil(60),
            allowed / 60
        ),
        cure: Some(cure),
        about: About::TooLong,
        size: 1.0 + share,
    })
}

/// What a side is called, its muscles, and its dose.
type Side = (&'static str, &'static [Muscle], f64);

fn one_sided((more, of_more, a): Side, (less, of_less, b): Side) -> Option<Finding> {
    if a <= ONE_SIDED * b || a < 4.0 {
        return None;
    }
    Some(Finding {
        urgency: Urgency::Consider,
        place: WEEK,
        words: format!("{more}: {}; {less}: {}", hard_sets(a), hard_sets(b)),
        cure: Some(format!("unless that is meant, give {less} some of the sets")),
        about: About::OneSided(of_more, of_less),
        size: 0.5,
    })
}
