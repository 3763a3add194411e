//! The file of test vectors: what stands in it, and how it is read and written.
//!
//! Numbers are rounded to twelve digits before anything is computed from them, so that what is in the
//! file is what the results came from. Knows nothing of the arithmetic.

use serde::{Deserialize, Serialize};

/// Everything in the file.
#[derive(Debug, Deserialize, Serialize)]
pub(crate) struct Vectors {
    pub(crate) about: String,
    pub(crate) session: Session,
    pub(crate) sets: Vec<SetVector>,
    pub(crate) readings: Vec<ReadingVector>,
    pub(crate) updates: Vec<UpdateVector>,
}

/// What the card carries: the `session` of a card, as the service writes it.
#[derive(Clone, Debug, Deserialize, Serialize)]
pub(crate) struct Session {
    pub(crate) mean: Vec<f64>,
    pub(crate) covariance: Vec<Vec<f64>>,
    pub(crate) shortfall: f64,
    pub(crate) threshold: f64,
    pub(crate) reserve_share: f64,
    pub(crate) curve_b: f64,
    pub(crate) freak_share: f64,
    pub(crate) freak_widening: f64,
    pub(crate) freak_of_day: f64,
    pub(crate) lifts: Vec<SessionLift>,
}

/// One lift of it.
#[derive(Clone, Debug, Deserialize, Serialize)]
pub(crate) struct SessionLift {
    pub(crate) name: String,
    pub(crate) place: usize,
    pub(crate) moved_kg: f64,
    pub(crate) reserve: f64,
    pub(crate) luck_variance: f64,
    pub(crate) usual_shown: f64,
    pub(crate) usual_lean: f64,
    pub(crate) is_read: bool,
}

/// A lead set that was done, or could be.
#[derive(Clone, Copy, Debug, Deserialize, PartialEq, Serialize)]
pub(crate) struct Done {
    pub(crate) place: usize,
    pub(crate) moved_kg: f64,
    pub(crate) reps: u16,
    pub(crate) reserve: f64,
    /// Whether the lifter told the reserve.
    pub(crate) is_told: bool,
}

/// What one set shows, and how well.
#[derive(Debug, Deserialize, Serialize)]
pub(crate) struct SetVector {
    pub(crate) set: Done,
    pub(crate) log_shown: f64,
    pub(crate) rep_worth: f64,
    pub(crate) counting_variance: f64,
    pub(crate) reserve_variance: f64,
    pub(crate) length_variance: f64,
    pub(crate) noise: f64,
    pub(crate) lean: f64,
}

/// What a set would say after others.
#[derive(Debug, Deserialize, Serialize)]
pub(crate) struct ReadingVector {
    pub(crate) done: Vec<Done>,
    pub(crate) set: Done,
    pub(crate) innovation: f64,
    pub(crate) spread: f64,
    pub(crate) curve_doubt: f64,
    pub(crate) noise: f64,
    pub(crate) p_by_mixture: f64,
    pub(crate) p_shortfall: f64,
    /// Whether so few repetitions want another reason than scatter.
    pub(crate) far_below: bool,
    /// `ease`, `go on` or `no reading`.
    pub(crate) call: String,
}

/// What is believed after sets, and what the last of them brought.
#[derive(Debug, Deserialize, Serialize)]
pub(crate) struct UpdateVector {
    pub(crate) done: Vec<Done>,
    pub(crate) innovation: f64,
    pub(crate) variance: f64,
    pub(crate) p_freak: f64,
    pub(crate) mean: Vec<f64>,
    pub(crate) covariance: Vec<Vec<f64>>,
}

impl Vectors {
    pub(crate) const PATH: &str =
        concat!(env!("CARGO_MANIFEST_DIR"), "/tests/session_vectors/session-vectors.json");

    /// The file in the repository.
    pub(crate) fn read() -> Vectors {
        let text = std::fs::read_to_string(Vectors::PATH).unwrap();
        serde_json::from_str(&text).unwrap()
    }

    /// One set, reading or update a line.
    pub(crate) fn to_text(&self) -> String {
        let lines = |values: Vec<String>| values.join(",\n    ");
        let json = |value: &dyn Fn() -> serde_json::Result<String>| value().unwrap();
        format!(
            "{{\n  \"about\": {},\n  \"session\": {},\n  \"sets\": [\n    {}\n  ],\n  \"readings\": [\n    \
             {}\n  ],\n  \"updates\": [\n    {}\n  ]\n}}\n",
            json(&|| serde_json::to_string(&self.about)),
            json(&|| serde_json::to_string(&self.session)),
            lines(self.sets.iter().map(|one| serde_json::to_string(one).unwrap()).collect()),
            lines(self.readings.iter().map(|one| serde_json::to_string(one).unwrap()).collect()),
            lines(self.updates.iter().map(|one| serde_json::to_string(one).unwrap()).collect()),
        )
    }
}

impl Session {
    /// The same to twelve digits.
    pub(crate) fn rounded(mut self) -> Session {
        self.mean.iter_mut().for_each(|value| *value = rounded(*value));
        self.covariance.iter_mut().flatten().for_each(|value| *value = rounded(*value));
        self.reserve_share = rounded(self.reserve_share);
        self.curve_b = rounded(self.curve_b);
        for lift in &mut self.lifts {
            lift.luck_variance = rounded(lift.luck_variance);
            lift.usual_shown = rounded(lift.usual_shown);
            lift.usual_lean = rounded(lift.usual_lean);
        }
        self
    }
}

/// To twelve digits.
pub(crate) fn rounded(value: f64) -> f64 {
    format!("{value:.11e}").parse().unwrap()
}
