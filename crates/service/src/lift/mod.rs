//! One lift of one lifter: its page, how it is shown, and corrections of its sets.

pub(crate) mod amend;
pub(crate) mod page;
pub(crate) mod view;
