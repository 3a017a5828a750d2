//! A drawing of a study, as SVG, that can be read without colours.

mod conversion;
mod noise;

use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};

use super::Study;

const WIDTH: u32 = 960;
/// Room for the heading of the drawing.
const TITLE: i32 = 56;
/// Height for each resolution in the upper half.
const ROW: u32 = 86;
/// What the upper half takes besides.
const UPPER: u32 = 110;
const LOWER: u32 = 380;
/// Room for the caution at the foot.
const CAUTION_ROOM: u32 = 24;
const CAUTION: &str = "Not a certified measuring instrument: no reliance for food, medical, fire or process safety. Keep the line away from mains \
                       wiring; follow local codes and licensed practice.";

/// Where the figure begins and ends, from left to right.
pub(super) const LEFT: i32 = 130;
/// See [`LEFT`].
pub(super) const RIGHT: i32 = 920;

/// Black letters of this size, placed so around their point.
pub(super) fn letters(size: i32, across: HPos, down: VPos) -> TextStyle<'static> {
    TextStyle::from(("sans-serif", size).into_font()).color(&BLACK).pos(Pos::new(across, down))
}

/// Letters that begin at their point.
pub(super) fn plain(size: i32) -> TextStyle<'static> {
    letters(size, HPos::Left, VPos::Top)
}

/// A line from here to there.
pub(super) fn line(from: (i32, i32), to: (i32, i32), width: u32) -> PathElement<(i32, i32)> {
    PathElement::new(vec![from, to], BLACK.stroke_width(width))
}

/// Why there is no drawing.
#[derive(Debug, thiserror::Error)]
#[error("cannot draw: {0}")]
pub struct DrawError(String);

/// An error of the drawing library, whose type depends on where it draws.
pub(super) fn drawn<T, E: std::error::Error>(outcome: Result<T, E>) -> Result<T, DrawError> {
    outcome.map_err(|error| DrawError(error.to_string()))
}

/// Draws conversion times above and noise below.
///
/// # Errors
/// [`DrawError`] if the library refuses.
pub fn svg(study: &Study) -> Result<String, DrawError> {
    let rows = u32::try_from(study.conversions.len()).unwrap_or(u32::MAX).min(8);
    let upper = UPPER + ROW * rows;
    let mut text = String::new();
    {
        let height = TITLE.unsigned_abs() + upper + LOWER;
        let size = (WIDTH, height + CAUTION_ROOM);
        let root = SVGBackend::with_string(&mut text, size).into_drawing_area();
        drawn(root.fill(&WHITE))?;
        let title = format!("{}: what each resolution takes and shows", study.rig);
        drawn(root.draw(&Text::new(title, (20, 14), plain(22))))?;
        let about = format!(
            "{} sensors, {} conversions of each at each resolution, one sensor at a time; seed {}",
            study.sensors.len(),
            study.repeats,
            study.seed
        );
        drawn(root.draw(&Text::new(about, (20, 40), plain(14))))?;
        let (_, below) = root.split_vertically(TITLE);
        let (above, below) = below.split_vertically(upper);
        conversion::draw(&above, study)?;
        let (below, _) = below.split_vertically(LOWER);
        noise::draw(&below, study)?;
        let at = (20, i32::try_from(height).unwrap_or(i32::MAX));
        drawn(root.draw(&Text::new(CAUTION, at, plain(12))))?;
        drawn(root.present())?;
    }
    Ok(text)
}

/// What a row is called.
pub(super) fn name(bits: Option<u8>) -> String {
    bits.map_or_else(|| "DS18S20".into(), |bits| format!("{bits} bits"))
}
