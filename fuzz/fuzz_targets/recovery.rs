//! Fuzz target: the recovery model on any bytes. See `CONTRIBUTING.md` for how to run it.
//!
//! What the bytes mean and what must hold is in `recovery::drive`, which an ordinary test runs as well.

#![no_main]

use libfuzzer_sys::fuzz_target;

#[path = "../src/recovery.rs"]
mod recovery;

fuzz_target!(|bytes: &[u8]| {
    if let Err(broken) = recovery::drive(bytes) {
        panic!("{broken}");
    }
});
