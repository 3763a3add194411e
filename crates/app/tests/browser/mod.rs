//! A real browser and the program itself as the server: shared by the tests of the gym floor and of the walk
//! through all pages.

pub(crate) mod gym;
pub(crate) mod phone;
