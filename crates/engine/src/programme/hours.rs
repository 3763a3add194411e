//! Hours that a muscle needs after a session, and the most that fits before the next one.
//!
//! The recovery model's own shape: a session of n hard sets pushes a muscle down by κ·f(n) with
//! f(n) = ln(1 + n) / ln 5, and the push fades with the muscle's τ. A muscle counts as back for planning
//! when no more is left than of four hard sets after τ, a third of their push: after τ·(1 + ln f(n)).
//! Choosing that mark is ours; with the pooled τ it gives 29 to 43 hours after four sets and 38 to 57 after
//! eight, within the 24 to 48 hours without failure and 48 to 72 with it that whole sessions took
//! (Morán-Navarro 2017, González-Badillo 2016, Belcher 2019, Ferreira 2017, Bartolomei 2017).

use domain::Muscle;

use crate::recovery::parameters::recovery_days;

/// How quickly one lifter's muscles come back.
#[derive(Clone, Debug, PartialEq)]
pub struct RecoveryHours {
    /// τ of each muscle in hours, in the order of [`Muscle::ALL`].
    fading: [f64; Muscle::ALL.len()],
}

impl RecoveryHours {
    /// A lifter whose muscles take `slowness` times as long as most people's; 1 for anybody. What isn't a
    /// number above 0 counts as 1.
    #[must_use]
    pub fn with_slowness(slowness: f64) -> RecoveryHours {
        let times = if slowness.is_finite() && slowness > 0.0 { slowness } else { 1.0 };
        let mut fading = [0.0; Muscle::ALL.len()];
        for muscle in Muscle::ALL {
            fading[*muscle as usize] = 24.0 * times * recovery_days(*muscle);
        }
        RecoveryHours { fading }
    }

    /// Hours until a muscle is back after a session's dose of so many hard sets; 0 for next to nothing.
    #[must_use]
    pub fn needed(&self, muscle: Muscle, hard_sets: f64) -> f64 {
        let push = libm::log1p(hard_sets.max(0.0)) / libm::log(5.0);
        if push <= 0.0 {
            return 0.0;
        }
        (self.fading[muscle as usize] * (1.0 + libm::log(push))).max(0.0)
    }

    /// The most hard sets after which a muscle is back within so many hours.
    #[must_use]
    pub fn most_sets(&self, muscle: Muscle, hours: f64) -> f64 {
        let push = libm::exp(hours / self.fading[muscle as usize] - 1.0);
        libm::expm1(push * libm::log(5.0))
    }
}

impl Default for RecoveryHours {
    /// The pooled values.
    fn default() -> RecoveryHours {
        RecoveryHours::with_slowness(1.0)
    }
}
