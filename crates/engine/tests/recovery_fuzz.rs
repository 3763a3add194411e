//! The fuzz target's driver on some thousand inputs, so that every run of the tests goes through it.
//!
//! Inputs are random bytes from fixed seeds, and the same bytes with most of them small, which makes
//! longer and more ordinary records. `fuzz/` looks for worse ones.

use rand::{RngExt, SeedableRng, rngs::ChaCha8Rng};

#[path = "../../../fuzz/src/recovery.rs"]
mod recovery;

#[test]
fn any_bytes_are_a_record() {
    for seed in 0..2_000 {
        let mut random = ChaCha8Rng::seed_from_u64(seed);
        let length = random.random_range(0..600);
        let most = if seed % 2 == 0 { 255 } else { 14 };
        let bytes: Vec<u8> = (0..length)
            .map(|_| {
                if random.random_bool(0.05) {
                    random.random()
                } else {
                    random.random_range(0..=most)
                }
            })
            .collect();
        assert_eq!(recovery::drive(&bytes), Ok(()), "seed {seed}");
    }
}
