//! The gym floor in a real browser: a phone of 360 × 740, the program itself as the server, and a store of
//! an invented lifter.
//!
//! The trustworthy way of being without a signal is to stop the server, so that is what is done. Every test
//! ends by asking whether the page told of an error or broke its content security policy.

#[path = "../browser/mod.rs"]
#[expect(dead_code, reason = "the walk through all pages needs more of the browser")]
mod browser;
mod offline;
mod pain;
mod refused;
mod session;
