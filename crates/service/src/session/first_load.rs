//! Where to begin a lift that a lifter never did: from the lifter's own related lifts, and from how they stand to it
//! in the coach's other lifters.

use domain::{Lift, LiftName, Load, LoggedSet, Mass, SetKind};
use engine::loading::Ladder;
use engine::programme::swap::likeness;
use engine::strength::{LoadRepCurve, Reserve};
use engine::target::{Related, from_related};
use engine::trend::expectation::Z_80;

use crate::record::history::ASSUMED_BODY_MASS_KG;
use crate::record::person::Person;
use crate::{Desk, ServiceError, words};

/// How alike two lifts' muscles must be.
const ALIKE: f64 = 0.5;
/// How many of the coach's lifters are looked at, at most.
const MOST_LIFTERS: usize = 60;
/// The days before a lifter's last set from which the best set of each lift counts.
const RECENT_DAYS: f64 = 182.0;
/// The longest set that counts for a best, in repetitions to failure.
const LONGEST: f64 = 15.0;

/// A lift of the lifter's own, from which a new one is expected.
struct Known<'a> {
    lift: &'a Lift,
    log_one_rm: f64,
    sd: f64,
}

/// Where to begin a lift.
#[derive(Clone, Debug)]
pub(crate) struct Beginning {
    /// The first load, in the lifter's unit.
    pub(crate) load: Load,
    /// What says so, as a sentence.
    pub(crate) words: String,
}

impl Desk {
    /// Where a lifter might begin a lift; none where the record says too little.
    pub(crate) fn where_to_begin(
        &self,
        person: &Person,
        lift: &Lift,
        (reps, reserve): (u16, f64),
    ) -> Result<Option<Beginning>, ServiceError> {
        let known: Vec<Known<'_>> = person
            .history
            .lifts
            .iter()
            .filter(|record| likeness(lift, &record.lift) >= ALIKE)
            .filter_map(|record| {
                let today = record.points.iter().rev().find_map(|point| point.today)?;
                let (log_one_rm, sd) = (today.log_one_rm, today.log_one_rm_sd);
                Some(Known { lift: &record.lift, log_one_rm, sd })
            })
            .collect();
        if known.is_empty() {
            return Ok(None);
        }
        let mut differences: Vec<Vec<f64>> = vec![Vec::new(); known.len()];
        let others = self.store().lifter_names()?;
        for name in others.iter().filter(|name| **name != person.lifter.name).take(MOST_LIFTERS) {
            let sets = self.store().sets_of(name)?;
            let check_ins = self.store().check_ins_of(name)?;
            let body = check_ins.iter().rev().find_map(|told| told.body_mass).map(Mass::kg);
            let Some(new) = best(&sets, lift, body) else { continue };
            for (known, differences) in known.iter().zip(&mut differences) {
                differences.extend(best(&sets, known.lift, body).map(|best| new - best));
            }
        }
        let told = known.iter().zip(&differences).filter_map(|(known, differences)| {
            Some((known, from_related((known.log_one_rm, known.sd), differences)?))
        });
        let best = told.min_by(|a, b| a.1.sd.total_cmp(&b.1.sd));
        Ok(best
            .map(|(known, related)| beginning(person, lift, known.lift, related, (reps, reserve))))
    }
}

/// The best ln 1RM that the recent sets of a lift show; none without one, or where the lift moves the body and nobody
/// told its mass.
fn best(sets: &[LoggedSet], lift: &Lift, body_mass_kg: Option<f64>) -> Option<f64> {
    if lift.body_mass_share.is_some() && body_mass_kg.is_none() {
        return None;
    }
    let last = sets.last()?.when.days();
    let is_it = |name: &LiftName| {
        let names = std::iter::once(&lift.name).chain(&lift.also);
        names.map(LiftName::key).any(|key| key == name.key())
    };
    let shown = |set: &LoggedSet| {
        let reserve = set.rir.map_or(0.0, domain::Rir::get);
        let n = f64::from(set.reps.get()) + reserve;
        let moved = lift.moved_kg(set.load.kg(), body_mass_kg.unwrap_or_default());
        let read = LoadRepCurve::EPLEY.measure(
            moved,
            f64::from(set.reps.get()),
            Reserve::Reported(reserve),
        );
        (n <= LONGEST).then(|| read.ok().map(|read| read.log_one_rm)).flatten()
    };
    sets.iter()
        .rev()
        .take_while(|set| last - set.when.days() <= RECENT_DAYS)
        .filter(|set| matches!(set.kind, SetKind::Work | SetKind::Test) && is_it(&set.lift))
        .filter_map(shown)
        .max_by(f64::total_cmp)
}

fn beginning(
    person: &Person,
    lift: &Lift,
    known: &Lift,
    related: Related,
    (reps, reserve): (u16, f64),
) -> Beginning {
    let unit = person.lifter.unit;
    let body = person.history.days.last().and_then(|day| person.history.body_mass_kg(day.date));
    let body = body.unwrap_or(ASSUMED_BODY_MASS_KG);
    let load =
        |z: f64| words::load(lift.load_kg((related.log_one_rm + z * related.sd).exp(), body), unit);
    let n = f64::from(reps) + reserve;
    let careful = (related.log_one_rm - Z_80 * related.sd).exp();
    let first = LoadRepCurve::EPLEY.load_for_reps(careful, n).unwrap_or(0.0);
    let ladder = Ladder::new(lift, &person.lifter);
    let first = ladder.at_or_below(lift.load_kg(first, body)).unwrap_or_else(|| ladder.lowest());
    let words = format!(
        "Of the others on record {} do both: their {} is {:.0}\u{a0}% of their {}. By the {} on record its 1RM lies near \
         {:.0} {unit} ({:.0} to {:.0} eight times in ten), so begin at {first} or less and work up.",
        related.n,
        lift.name,
        100.0 * related.difference.exp(),
        known.name,
        known.name,
        load(0.0),
        load(-Z_80),
        load(Z_80),
        unit = unit.as_str(),
    );
    Beginning { load: first.shown_in(unit), words }
}
