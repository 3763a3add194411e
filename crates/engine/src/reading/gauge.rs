//! Whether a lift is a gauge: scatter small enough, record long enough, equipment steady enough.

use domain::{EquipmentClass, Lift};

use super::model::LiftModel;

/// The widest scatter, a CV in %, with which a lead set is read. At 4 % a true shortfall of 5 % hardly
/// stands out of one reading: the minimal detectable change at 80 % would be 4·1.28·√2 = 7 %. Our
/// choice; Hopkins 2000 (from memory) acts on changes of 1.5 to 2 typical errors.
pub const WIDEST_SCATTER_PCT: f64 = 4.0;

/// The fewest earlier lead sets with which a lift is read. Our choice.
pub const FEWEST_EXPOSURES: usize = 6;

/// The same for cables, whose pulleys and stacks differ from machine to machine (common practice, no
/// source).
pub const FEWEST_EXPOSURES_CABLE: usize = 12;

/// The verdict whether a lift's lead set can be read, with the reason as a sentence.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Gauge {
    /// Whether it can.
    pub is_gauge: bool,
    /// Why, or why not.
    pub reason: String,
}

/// Judges a lift by its record so far.
#[must_use]
pub fn gauge(lift: &Lift, record: &dyn LiftModel) -> Gauge {
    let no = |reason: String| Gauge { is_gauge: false, reason };
    let exposures = record.exposures();
    let fewest = match lift.equipment {
        EquipmentClass::Cable => FEWEST_EXPOSURES_CABLE,
        _ => FEWEST_EXPOSURES,
    };
    if lift.explosive {
        return no(
            "A lift that is thrown or caught doesn't follow the load–rep curve, so its lead \
                   set isn't read."
                .to_owned(),
        );
    }
    if exposures < fewest {
        let why = if fewest > FEWEST_EXPOSURES { " on a cable" } else { "" };
        return no(format!(
            "Only {exposures} lead {} on record so far; a lift is read from {fewest} on{why}.",
            if exposures == 1 { "set" } else { "sets" }
        ));
    }
    let scatter = record.scatter();
    let told = format!(
        "It scatters by {:.1}\u{a0}% from session to session (probably {:.1} to {:.1}\u{a0}%, from {exposures} \
         lead sets)",
        scatter.pct, scatter.low_pct, scatter.high_pct
    );
    if scatter.pct > WIDEST_SCATTER_PCT {
        return no(format!(
            "{told}, more than the {WIDEST_SCATTER_PCT:.0}\u{a0}% that can be read."
        ));
    }
    Gauge {
        is_gauge: true,
        reason: format!("{told}; up to {WIDEST_SCATTER_PCT:.0}\u{a0}% can be read."),
    }
}
