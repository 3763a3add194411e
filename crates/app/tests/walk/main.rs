//! A walk through every page, desk and gym floor, in a real browser: on a phone of 360 × 740 and a screen of
//! 1280 × 800, in light and dark.
//!
//! What each page keeps to: no error and no broken content security policy, no request to anybody else, no
//! scrolling sideways on 320 pixels, no finding of axe-core, and everything reached and worked with keys alone.
//! `PICTURES` in the environment names a folder that takes a picture of each page, as `scripts/pictures` does.

#[path = "../browser/mod.rs"]
#[expect(dead_code, reason = "the gym floor's tests need more of the browser")]
mod browser;
mod keys;
mod looks;
mod pages;
mod walker;
mod work;
