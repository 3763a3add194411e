//! A complete table of repeated measurements: people by trials.
//!
//! Valid by construction, so the statistics that start from it needn't look again. It doesn't fill
//! gaps: a person with a missing trial is the caller's decision.

use super::RepeatabilityError;

/// Measurements of at least two people, each with the same number of at least two trials, all finite.
#[derive(Clone, Debug, PartialEq)]
pub struct Trials {
    /// Row by row: person 1's trials, then person 2's.
    values: Vec<f64>,
    trials: usize,
}

impl Trials {
    /// The largest magnitude of a value: any measurement of the trade fits, and squares stay exact
    /// enough.
    pub const MAX: f64 = 1e9;

    /// Takes one row per person, in any unit.
    ///
    /// # Errors
    /// [`RepeatabilityError::TooFew`] under two people or trials, [`RepeatabilityError::Ragged`] for
    /// rows of different length, [`RepeatabilityError::Value`] for a value that is not finite or
    /// beyond ±[`Trials::MAX`].
    pub fn from_rows<R: AsRef<[f64]>>(rows: &[R]) -> Result<Trials, RepeatabilityError> {
        if rows.len() < 2 {
            return Err(RepeatabilityError::TooFew { what: "people", got: rows.len(), need: 2 });
        }
        let trials = rows[0].as_ref().len();
        if trials < 2 {
            return Err(RepeatabilityError::TooFew { what: "trials", got: trials, need: 2 });
        }
        let mut values = Vec::with_capacity(rows.len() * trials);
        for (row_idx, row) in rows.iter().map(AsRef::as_ref).enumerate() {
            if row.len() != trials {
                let (person, got) = (row_idx + 1, row.len());
                return Err(RepeatabilityError::Ragged { person, got, need: trials });
            }
            for (trial_idx, value) in row.iter().enumerate() {
                if !(-Self::MAX..=Self::MAX).contains(value) {
                    return Err(RepeatabilityError::Value {
                        person: row_idx + 1,
                        trial: trial_idx + 1,
                        got: *value,
                        max: Self::MAX,
                    });
                }
            }
            values.extend_from_slice(row);
        }
        Ok(Trials { values, trials })
    }

    /// How many people, at least 2.
    #[must_use]
    pub fn n_people(&self) -> usize {
        self.values.len() / self.trials
    }

    /// How many trials each, at least 2.
    #[must_use]
    pub fn n_trials(&self) -> usize {
        self.trials
    }

    /// The rows, one per person.
    pub fn rows(&self) -> impl Iterator<Item = &[f64]> {
        self.values.chunks_exact(self.trials)
    }

    /// The mean of each trial over all people.
    #[must_use]
    pub fn trial_means(&self) -> Vec<f64> {
        let n = self.n_people() as f64;
        (0..self.trials)
            .map(|trial_idx| self.rows().map(|row| row[trial_idx]).sum::<f64>() / n)
            .collect()
    }

    /// The natural logarithm of every value.
    ///
    /// # Errors
    /// [`RepeatabilityError::NotAboveZero`] for the first value of 0 or less.
    pub fn logarithms(&self) -> Result<Trials, RepeatabilityError> {
        if let Some(value_idx) = self.values.iter().position(|value| *value <= 0.0) {
            return Err(RepeatabilityError::NotAboveZero {
                person: value_idx / self.trials + 1,
                trial: value_idx % self.trials + 1,
                got: self.values[value_idx],
            });
        }
        let values = self.values.iter().map(|value| value.ln()).collect();
        Ok(Trials { values, trials: self.trials })
    }
}
