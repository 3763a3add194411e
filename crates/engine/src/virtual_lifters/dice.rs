//! Random draws that are the same on every machine.
//!
//! A stream of ChaCha8 per lifter; draws are rounded to 1e-9, and whoever turns them into strength
//! takes exponentials and logarithms from the `libm` crate, not from the machine's own library. No
//! entropy is drawn here: the seed is an argument.

use rand::rngs::ChaCha8Rng;
use rand::{RngExt, SeedableRng};
use rand_distr::{Distribution, StandardNormal, StudentT};

use super::world::Tail;

/// A lifter's own stream of draws.
#[derive(Debug)]
pub(super) struct Dice(ChaCha8Rng);

impl Dice {
    /// The stream with this number of this seed.
    pub(super) fn new(seed: u64, stream: u64) -> Dice {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        rng.set_stream(stream);
        Dice(rng)
    }

    /// A standard normal draw.
    pub(super) fn normal(&mut self) -> f64 {
        let draw: f64 = StandardNormal.sample(&mut self.0);
        rounded(draw, 1e9)
    }

    /// A draw of mean 0 and standard deviation 1 with the tails asked for.
    pub(super) fn unusual(&mut self, tail: Tail) -> f64 {
        match tail {
            Tail::Student { freedom } => {
                let draw: f64 = StudentT::new(freedom).map_or(0.0, |t| t.sample(&mut self.0));
                rounded(draw * ((freedom - 2.0) / freedom).sqrt(), 1e9)
            }
            Tail::TwoScale { share, times } => {
                let wide = self.happens(share);
                let scale = if wide { times } else { 1.0 };
                let sd = (1.0 - share + share * times * times).sqrt();
                rounded(self.normal() * scale / sd, 1e9)
            }
        }
    }

    /// Whether something of this probability happens.
    pub(super) fn happens(&mut self, probability: f64) -> bool {
        self.0.random::<f64>() < probability
    }

    /// A whole number below `end`, which must not be 0.
    pub(super) fn below(&mut self, end: usize) -> usize {
        self.0.random_range(0..end)
    }

    /// A factor around 1 whose logarithm has this standard deviation, cut at two of them.
    pub(super) fn factor(&mut self, log_sd: f64) -> f64 {
        libm::exp(log_sd * self.normal().clamp(-2.0, 2.0))
    }

    /// One of `some`, each as likely as the others.
    pub(super) fn one_of<T: Copy>(&mut self, some: &[T]) -> T {
        some[self.below(some.len())]
    }
}

/// `value` rounded to one part in `steps`.
pub(super) fn rounded(value: f64, steps: f64) -> f64 {
    (value * steps).round() / steps
}
