//! How likely a virtual lifter is to write down what was written, given the repetitions that would
//! have gone: the generator's own rules for stopping a set and reporting its reserve, without its
//! draws.

use crate::trend::expectation::normal_cdf;

use super::super::exercise::{STOP_SD, felt_reserve};
use super::super::person::RirHabit;

/// One work set as it was written down, and how its lifter stops and reports.
#[derive(Clone, Copy, Debug)]
pub(super) struct Shown {
    pub(super) reps: u16,
    pub(super) rir: Option<f64>,
    /// The reserve aimed at.
    pub(super) aim: f64,
    /// The repetitions at which the set stops anyway.
    pub(super) high: u16,
    pub(super) habit: RirHabit,
    pub(super) bias: f64,
}

impl Shown {
    /// P(repetitions and reserve as written | so many repetitions would have gone).
    pub(super) fn likelihood(&self, possible: f64) -> f64 {
        let most = possible.floor();
        let reps = f64::from(self.reps);
        if most < 1.0 || reps > most {
            return 0.0;
        }
        let at_least = |reps: f64| {
            if reps <= 1.0 { 1.0 } else { normal_cdf((possible - self.aim - reps) / STOP_SD) }
        };
        let capped = reps >= most.min(f64::from(self.high));
        let stops = at_least(reps) - if capped { 0.0 } else { at_least(reps + 1.0) };
        stops * self.reported(most - reps)
    }

    /// P(reserve as reported | so many whole repetitions were left).
    fn reported(&self, reserve: f64) -> f64 {
        let half_step = match self.habit {
            RirHabit::Never => return 1.0,
            RirHabit::Whole => 0.5,
            RirHabit::Halves => 0.25,
        };
        let Some(said) = self.rir else { return 1.0 };
        let (bias, spread) = felt_reserve(reserve, self.bias);
        let below = |felt: f64| normal_cdf((felt - reserve - bias) / spread);
        let up_to = if said >= 6.0 { 1.0 } else { below(said + half_step) };
        let down_to = if said <= 0.0 { 0.0 } else { below(said - half_step) };
        up_to - down_to
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Whatever would have gone, something is written down: probabilities add up to 1.
    #[test]
    fn all_that_could_be_written_adds_up() {
        for (habit, step) in
            [(RirHabit::Never, 9.0), (RirHabit::Whole, 1.0), (RirHabit::Halves, 0.5)]
        {
            for possible in [1.2, 4.9, 8.0, 13.4] {
                let mut total = 0.0;
                for reps in 1..=10 {
                    let mut rir = 0.0;
                    while rir <= 6.0 {
                        let rir_said = (habit != RirHabit::Never).then_some(rir);
                        let set =
                            Shown { reps, rir: rir_said, aim: 1.8, high: 10, habit, bias: -0.4 };
                        total += set.likelihood(possible);
                        rir += step;
                    }
                }
                assert!((total - 1.0).abs() < 1e-9, "{habit:?} {possible}: {total}");
            }
        }
    }

    #[test]
    fn nobody_does_more_than_goes() {
        let set =
            Shown { reps: 6, rir: None, aim: 1.0, high: 8, habit: RirHabit::Never, bias: 0.0 };
        assert_eq!(set.likelihood(5.99), 0.0);
        assert!(set.likelihood(7.5) > set.likelihood(10.5));
    }

    /// Who tells a repetition less than is left is believed to have one more.
    #[test]
    fn a_known_bias_is_allowed_for() {
        let likeliest = |bias: f64| {
            let set =
                Shown { reps: 6, rir: Some(2.0), aim: 2.0, high: 8, habit: RirHabit::Halves, bias };
            (7..12)
                .max_by(|a, b| {
                    set.reported(f64::from(*a) - 6.0).total_cmp(&set.reported(f64::from(*b) - 6.0))
                })
                .unwrap()
        };
        assert_eq!(likeliest(0.0), 8);
        assert_eq!(likeliest(-1.0), 9);
    }
}
