//! The drawer of plots, for pages and for drawings that stand alone: what a library draws into SVG.
//!
//! `chart` draws numbers over numbers in colours of a page's style sheet, `study` a whole drawing in black and white. Both write with the
//! same letters and lines.

mod chart;
mod study;
mod thin;

use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};

pub(super) use chart::{Chart, Curve, LegendEntry};
pub use study::study_svg;
pub(super) use thin::thin;

/// Why a plot could not be drawn.
#[derive(Debug, thiserror::Error)]
#[error("no plot of {what} can be drawn: {why}")]
pub struct PlotError {
    /// What it was to show.
    what: String,
    /// What the library says.
    why: String,
}

impl PlotError {
    /// An error of the library, whose type depends on where it draws.
    fn of(what: &str, error: &impl std::error::Error) -> Self {
        Self { what: what.to_owned(), why: error.to_string() }
    }
}

/// Letters of this size and colour, placed so around their point.
fn letters(size: i32, colour: &'static RGBColor, across: HPos, down: VPos) -> TextStyle<'static> {
    TextStyle::from(("sans-serif", size).into_font()).color(colour).pos(Pos::new(across, down))
}

/// A line from here to there.
fn line<C>(from: C, to: C, colour: RGBColor, width: u32) -> PathElement<C> {
    PathElement::new(vec![from, to], colour.stroke_width(width))
}

/// To so many places, without needless zeros.
fn short(number: f64, places: usize) -> String {
    let text = format!("{number:.places$}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}
