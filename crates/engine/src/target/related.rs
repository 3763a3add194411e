//! The 1RM of a lift that a lifter never did, from a lift that trains the same muscles and from how the two stand
//! to each other in lifters who do both.
//!
//! ln 1RM of the new lift = ln 1RM of the known one + a difference that varies from lifter to lifter, normal with a
//! variance of which little is known from a few of them: it is drawn towards our first guess (a scaled inverse
//! χ² prior; Gelman et al., *Bayesian Data Analysis*, 3rd ed., §3.3, from memory), and what is then expected of one
//! lifter more has Student's t-distribution, of which mean and variance are kept.

/// Other lifters who do both lifts below which nothing is said.
pub const FEWEST: usize = 2;

/// First guess of how much lifters differ in the difference of two lifts, an sd in ln 1RM, and how many lifters that
/// guess counts for: our choice.
const GUESS_SD: f64 = 0.15;
const GUESS_COUNTS: f64 = 4.0;

/// What is expected of the new lift.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Related {
    /// Mean of ln 1RM.
    pub log_one_rm: f64,
    /// Its standard deviation.
    pub sd: f64,
    /// Mean of ln 1RM of the new lift less that of the known one.
    pub difference: f64,
    /// Lifters who do both.
    pub n: usize,
}

/// Expects a new lift from the known one's ln 1RM with its sd, and from the differences of other lifters; none with
/// fewer than [`FEWEST`] of them.
#[must_use]
pub fn from_related((known, known_sd): (f64, f64), differences: &[f64]) -> Option<Related> {
    if differences.len() < FEWEST {
        return None;
    }
    let n = differences.len() as f64; // a few
    let difference = differences.iter().sum::<f64>() / n;
    let squares: f64 = differences.iter().map(|one| (one - difference).powi(2)).sum();
    let freedom = GUESS_COUNTS + n - 1.0;
    let scale = (GUESS_COUNTS * GUESS_SD * GUESS_SD + squares) / freedom;
    // Variance of the t-distribution for one lifter more: 1/n for the doubt about the mean itself.
    let variance = scale * (1.0 + 1.0 / n) * freedom / (freedom - 2.0);
    Some(Related {
        log_one_rm: known + difference,
        sd: (variance + known_sd * known_sd).sqrt(),
        difference,
        n: differences.len(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_who_agree_still_leave_doubt() {
        let told = from_related((100.0_f64.ln(), 0.02), &[-0.2, -0.2]).unwrap();
        assert!((told.log_one_rm - (100.0_f64.ln() - 0.2)).abs() < 1e-12);
        // By hand: scale 4·0.0225/5 = 0.018; ·1.5·5/3 = 0.045; + 0.0004.
        assert!((told.sd - 0.0454_f64.sqrt()).abs() < 1e-12, "{told:?}");
        assert!(from_related((4.6, 0.02), &[-0.2]).is_none());
    }

    #[test]
    fn many_who_agree_are_believed_and_many_who_differ_are_not() {
        let near: Vec<f64> = (0..40).map(|place| -0.2 + 0.03 * f64::from(place % 3 - 1)).collect();
        let far: Vec<f64> = (0..40).map(|place| -0.2 + 0.3 * f64::from(place % 3 - 1)).collect();
        let sd = |differences: &[f64]| from_related((4.6, 0.0), differences).unwrap().sd;
        assert!(sd(&near) < 0.06, "{}", sd(&near));
        assert!(sd(&far) > 0.24, "{}", sd(&far));
    }
}
