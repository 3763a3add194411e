//! What readings by the recovery model rest on beside the record: values of lifters in general, and
//! fits that were kept.
//!
//! A kept fit saves time and changes nothing. While a record is read, a fit falls due now and again
//! ([`engine::recovery::Lifter::is_due`]); if one was kept that rests on the very same ground, it is
//! taken, and computed otherwise. So a record reads the same to the bit whatever is kept of it, no reading
//! looks ahead, and a corrected set makes exactly those fits stale that read it.
//!
//! Values of lifters in general are another matter. When others come into force every record is read
//! anew with them, as with a better program: they are part of the model.

use std::collections::BTreeMap;
use std::fmt::Write;
use std::sync::Arc;

use engine::recovery::numbers::NUMBERS;
use engine::recovery::{
    Lifter, MODEL_VERSION, ParameterFit, Pooled, PooledError, RecoveryFit, fit::Climb,
};
use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::Offset;
use store::{KeptFit, PooledId, Store};
use uuid::Uuid;

use crate::ServiceError;

/// Fingerprint of all that a fit rests on.
pub(crate) type Ground = [u8; 16];

/// Pooled values and where they are from, with the fits kept of one lifter.
#[derive(Clone, Debug)]
pub struct Grounds {
    pooled: Arc<Pooled>,
    origin: Origin,
    kept: BTreeMap<Ground, ParameterFit>,
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum Origin {
    Shipped,
    Estimated { id: PooledId, made: Date, n_lifters: u64 },
    GivenByHand,
}

/// Why a text holds no pooled values.
#[derive(Debug, thiserror::Error)]
pub enum PooledTextError {
    /// The text isn't TOML.
    #[error("line {line} can't be read: {reason}; write each value as `name = number`")]
    NotToml {
        /// The line, from 1.
        line: usize,
        /// What the reader of TOML said.
        reason: String,
    },
    /// Something that is no number.
    #[error("`{name}` is not a number: write each value as `name = number`")]
    NotANumber {
        /// The name before it.
        name: String,
    },
    /// A number is missing, unknown, or can't be right.
    #[error(transparent)]
    Pooled(#[from] PooledError),
}

impl Default for Grounds {
    fn default() -> Grounds {
        Grounds::shipped()
    }
}

impl Grounds {
    /// The pooled values that come with the program, and no fits.
    #[must_use]
    pub fn shipped() -> Grounds {
        Grounds {
            pooled: Arc::new(Pooled::shipped()),
            origin: Origin::Shipped,
            kept: BTreeMap::new(),
        }
    }

    /// Pooled values written down as text, as [`pooled_as_text`] writes them, and no fits.
    ///
    /// # Errors
    /// See [`PooledTextError`].
    pub fn from_text(text: &str) -> Result<Grounds, PooledTextError> {
        let document = toml_edit::Document::parse(text).map_err(|error| {
            let upto = error.span().map_or(0, |span| span.start);
            let line = 1 + text.bytes().take(upto).filter(|byte| *byte == b'\n').count();
            let reason = error.message().lines().next().unwrap_or_default().to_owned();
            PooledTextError::NotToml { line, reason }
        })?;
        let mut numbers = Vec::new();
        for (name, item) in document.as_table() {
            let number = item.as_float().or_else(|| item.as_integer().map(|whole| whole as f64));
            let not_a_number = || PooledTextError::NotANumber { name: name.to_owned() };
            numbers.push((name, number.ok_or_else(not_a_number)?));
        }
        let pooled = Arc::new(Pooled::from_numbers(numbers)?);
        Ok(Grounds { pooled, origin: Origin::GivenByHand, kept: BTreeMap::new() })
    }

    /// The pooled values in force in a store, and no fits.
    pub(crate) fn in_force(store: &Store) -> Result<Grounds, ServiceError> {
        let Some(values) = store.pooled_in_force()? else { return Ok(Grounds::shipped()) };
        let kept = values.numbers.iter().map(|(name, value)| (name.as_str(), *value));
        // A number that the version which kept them hadn't yet is as it comes with the program.
        let is_new = |(name, _): &(&str, f64)| values.numbers.iter().all(|(kept, _)| kept != name);
        let newer = Pooled::shipped().to_numbers().into_iter().filter(is_new);
        let pooled = Arc::new(Pooled::from_numbers(kept.chain(newer))?);
        let made = Offset::UTC.to_datetime(values.made).date();
        let origin = Origin::Estimated { id: values.id, made, n_lifters: values.n_lifters };
        Ok(Grounds { pooled, origin, kept: BTreeMap::new() })
    }

    /// The same values with a lifter's kept fits.
    pub(crate) fn with_kept(self, fits: &[KeptFit]) -> Grounds {
        let fit = |kept: &KeptFit| {
            let climb = Climb {
                log_posterior: kept.log_posterior,
                distance: kept.distance,
                iterations: kept.iterations,
                converged: kept.converged,
            };
            ParameterFit {
                n_lead_sets: usize::try_from(kept.n_lead_sets).unwrap_or(usize::MAX),
                at: kept.at.clone(),
                report: RecoveryFit::Fitted(climb),
            }
        };
        Grounds { kept: fits.iter().map(|kept| (kept.ground, fit(kept))).collect(), ..self }
    }

    /// The pooled values.
    #[must_use]
    pub fn pooled(&self) -> &Pooled {
        &self.pooled
    }

    /// Whether every record reads the same on both. Kept fits change no reading.
    pub(crate) fn reads_as(&self, other: &Grounds) -> bool {
        match (self.origin, other.origin) {
            (Origin::Shipped, Origin::Shipped) => true,
            (Origin::Estimated { id, .. }, Origin::Estimated { id: other, .. }) => id == other,
            // Whoever gave them by hand may have given others since.
            _ => false,
        }
    }

    /// The number of the pooled values in the store.
    pub(crate) fn pooled_id(&self) -> PooledId {
        match self.origin {
            Origin::Estimated { id, .. } => id,
            Origin::Shipped | Origin::GivenByHand => PooledId::SHIPPED,
        }
    }

    /// Where the values of lifters in general are from, as the end of a sentence.
    #[must_use]
    pub fn origin_words(&self) -> String {
        match self.origin {
            Origin::Shipped => "come with the program".to_owned(),
            Origin::Estimated { made, n_lifters, .. } => {
                let lifters = if n_lifters == 1 { "lifter" } else { "lifters" };
                let made = made.strftime("%-d %b %Y");
                if n_lifters == 0 {
                    return format!("were taken from a file on {made}");
                }
                format!("were estimated from {n_lifters} {lifters} of this record on {made}")
            }
            Origin::GivenByHand => "were given in a file".to_owned(),
        }
    }

    /// What the model says of its fit of a lifter, and on what that rests.
    pub(crate) fn fit_words(&self, lifter: &Lifter) -> String {
        let (fit, general) = (lifter.fit().words(), self.origin_words());
        match lifter.last_fit() {
            None => format!("{fit} These {general}."),
            Some(last) => format!(
                "{fit} They were made from the first {} of {} lead sets read, and from values of \
                 lifters in general that {general}.",
                last.n_lead_sets,
                lifter.n_lead_sets()
            ),
        }
    }
}

/// Pooled values as text: a line for each, with what it is above it. The program reads it again.
#[must_use]
pub fn pooled_as_text(pooled: &Pooled, heading: &str) -> String {
    let mut text = String::new();
    for line in heading.lines() {
        // Writing to a string doesn't fail.
        let _ = writeln!(text, "# {line}");
    }
    for (number, (name, value)) in NUMBERS.iter().zip(pooled.to_numbers()) {
        let _ = write!(text, "\n# {}\n{name} = {value:?}\n", number.meaning);
    }
    text
}

/// A fit that was used in reading a record.
#[derive(Clone, Debug)]
pub struct UsedFit {
    pub(crate) ground: Ground,
    /// The fit.
    pub fit: ParameterFit,
    /// Whether it was kept from an earlier reading; if not, it was computed in this one.
    pub was_kept: bool,
}

/// A lifter as the recovery model follows one, with the fits that were used on the way.
#[derive(Clone, Debug)]
pub(crate) struct Followed {
    pub(crate) lifter: Lifter,
    pub(crate) used: Vec<UsedFit>,
}

impl Followed {
    /// Notes which of the fits used so far are kept by now.
    pub(crate) fn note_kept(&mut self, grounds: &Grounds) {
        for one in &mut self.used {
            one.was_kept |= grounds.kept.contains_key(&one.ground);
        }
    }

    /// Estimates the parameters anew if that is due, or takes the fit kept for that moment.
    pub(crate) fn settle(&mut self, grounds: &Grounds) {
        if !self.lifter.is_due() {
            return;
        }
        let ground = *Uuid::new_v5(&Uuid::NAMESPACE_OID, &self.lifter.ground()).as_bytes();
        let kept = grounds.kept.get(&ground);
        let was_kept = kept.is_some_and(|fit| self.lifter.take_fit(fit));
        if !was_kept {
            self.lifter.refit();
        }
        let fit = self.lifter.last_fit();
        self.used.extend(fit.map(|fit| UsedFit { ground, fit, was_kept }));
    }
}

/// Fits as they are kept: those in `before` as they were, others as made now.
pub(crate) fn to_keep(
    used: &[UsedFit],
    before: &[KeptFit],
    newest_fact: u64,
    now: Timestamp,
) -> Vec<KeptFit> {
    let keep = |one: &UsedFit| {
        let same = before.iter().find(|kept| kept.ground == one.ground && one.was_kept);
        if let Some(kept) = same {
            return Some(kept.clone());
        }
        let RecoveryFit::Fitted(climb) = one.fit.report else { return None };
        Some(KeptFit {
            n_lead_sets: one.fit.n_lead_sets as u64,
            model: MODEL_VERSION,
            ground: one.ground,
            newest_fact,
            made: now,
            at: one.fit.at.clone(),
            converged: climb.converged,
            log_posterior: climb.log_posterior,
            distance: climb.distance,
            iterations: climb.iterations,
            estimate: None,
        })
    };
    used.iter().filter_map(keep).collect()
}
