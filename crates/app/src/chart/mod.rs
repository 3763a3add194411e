//! Pictures: plain view data to [`Svg`], laid by hand.
//!
//! Charts are pure. Coordinates are rounded to 0.1, colours are literal presentation attributes
//! (renderers outside the browser know no CSS variables), and classes let a page's style sheet
//! replace them in the dark and in print. Points can be hovered for their exact values; they take no
//! keyboard focus, because hundreds of tab stops help nobody: the table beside each chart does.

mod dose;
mod mark;
mod muscles;
mod pain;
mod record;
mod scale;
mod scatter;

pub use dose::dose_weeks;
pub use mark::call_mark;
pub use muscles::muscles;
pub use pain::pain;
pub use record::{GAP_DAYS, Size, recent, record, test_mark};
pub use scatter::scatter;

use maud::{Markup, Render};

/// A finished picture. The only markup that pages take on trust; only this module makes it.
#[derive(Clone, Debug)]
pub struct Svg(Markup);

impl Svg {
    /// The picture's markup.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0.0
    }
}

impl Render for Svg {
    fn render(&self) -> Markup {
        self.0.clone()
    }
}

/// The colour of forecasts, where no style sheet says otherwise.
const FORECAST: &str = "#1f5673";
/// The colour of a call to ease, where no style sheet says otherwise.
const EASED: &str = "#7a2f58";
/// The paper, where no style sheet says otherwise.
const PAPER: &str = "#fdfcf8";
