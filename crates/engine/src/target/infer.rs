//! A rule taken from the log, for a lift without a written programme.
//!
//! Always double progression, the rule that asks least of a lift: our choice. Doesn't guess why a
//! lifter did what they did; a written rule goes before it.

use domain::{Mass, Rir};

use super::rule::{DoubleProgression, Rule};
use super::{Exposure, TargetError, rir_of};

/// How many of the last exposures are looked at.
pub const EXPOSURES_READ: usize = 8;

/// The rule that the last [`EXPOSURES_READ`] exposures with more than tests look like; `step` is the lift's usual step
/// ([`crate::loading::Ladder::usual_step`]).
///
/// * Range: from the lower to the upper quartile of the lead sets' repetitions. If they hardly vary,
///   the range is opened upwards to 2 repetitions (up to 5 reps), 3 (up to 10) or 4 (above), except
///   where the lead sets had the same repetitions throughout and the load rose in at least half of
///   the sessions: then the lifter steps the load every time, and the range is that one number.
/// * Sets: the middle one (lower of two) of the numbers of work sets.
/// * Reserve: the middle one of the lead sets' reserves that were told; none if none was.
///
/// # Errors
/// [`TargetError::OutOfRange`] if there is no exposure, or for a step of nothing.
pub fn infer(record: &[Exposure], step: Mass) -> Result<Rule, TargetError> {
    let record = super::without_tests(record);
    let recent = &record[record.len().saturating_sub(EXPOSURES_READ)..];
    super::within("sessions on record", recent.len() as f64, 1.0, 8.0, "sessions")?;
    let (low, high) = range_of(recent);
    let sets = middle(recent.iter().map(|e| e.count().min(20) as u8)).unwrap_or(1);
    let rir = middle(recent.iter().filter_map(|e| e.lead().rir)).map(|rir: Rir| rir_of(rir.get()));
    DoubleProgression::new(low, high, sets, rir, step).map(Rule::DoubleProgression)
}

fn range_of(recent: &[Exposure]) -> (u16, u16) {
    let mut reps: Vec<u16> = recent.iter().map(|e| e.lead().reps.get().min(40)).collect();
    reps.sort_unstable();
    let last = reps.len() - 1;
    let (low, high) = (reps[last / 4], reps[last - last / 4]);
    let rises = recent
        .windows(2)
        .filter(|two| two[1].lead().load.grams() > two[0].lead().load.grams())
        .count();
    let steps_load = recent.len() >= 3 && reps[0] == reps[last] && rises * 2 >= recent.len() - 1;
    let opened = match low {
        _ if steps_load => 0,
        0..=5 => 2,
        6..=10 => 3,
        _ => 4,
    };
    (low, high.max(low + opened))
}

/// The middle value; the lower one of two.
fn middle<T: Ord + Copy>(values: impl Iterator<Item = T>) -> Option<T> {
    let mut sorted: Vec<T> = values.collect();
    sorted.sort_unstable();
    sorted.get(sorted.len().saturating_sub(1) / 2).copied()
}
