//! A real browser and the program itself as the server: shared by the tests of the gym floor and of the walk
//! through all pages.

#[expect(dead_code, reason = "print is tried with several families, pages with one")]
pub(crate) mod fonts;
pub(crate) mod gym;
pub(crate) mod phone;
