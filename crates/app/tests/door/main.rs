//! The door: who comes in by which name, with which key, and for how long; and whether what
//! `docs/security.md` promises is held by a test.

mod browsers;
mod desk;
mod promises;
mod served;
mod who;
