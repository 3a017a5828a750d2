//! A drawing of a study, as SVG, that can be read without colours.

mod conversion;
mod noise;

use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, VPos};

use super::PlotError;
use slotwise_study::Study;

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
const LEFT: i32 = 130;
/// See [`LEFT`].
const RIGHT: i32 = 920;

/// Black letters.
fn black(size: i32, across: HPos, down: VPos) -> TextStyle<'static> {
    super::letters(size, &BLACK, across, down)
}

/// Letters that begin at their point.
fn plain(size: i32) -> TextStyle<'static> {
    black(size, HPos::Left, VPos::Top)
}

/// A black line from here to there.
fn line(from: (i32, i32), to: (i32, i32), width: u32) -> PathElement<(i32, i32)> {
    super::line(from, to, BLACK, width)
}

/// An error of the drawing library.
fn drawn<T, E: std::error::Error>(outcome: Result<T, E>) -> Result<T, PlotError> {
    outcome.map_err(|error| PlotError::of("the study", &error))
}

/// Draws conversion times above and noise below.
///
/// # Errors
/// [`PlotError`] if the library refuses.
pub fn study_svg(study: &Study) -> Result<String, PlotError> {
    let rows = u32::try_from(study.conversions.len()).unwrap_or(u32::MAX).min(8);
    let upper = UPPER + ROW * rows;
    let mut text = String::new();
    {
        let height = TITLE.unsigned_abs() + upper + LOWER;
        let size = (WIDTH, height + CAUTION_ROOM);
        let root = SVGBackend::with_string(&mut text, size).into_drawing_area();
        drawn(root.fill(&WHITE))?;
        let title = format!("{}: what each resolution takes and shows", study.on.rig);
        drawn(root.draw(&Text::new(title, (20, 14), plain(22))))?;
        let about = format!(
            "{} sensors, {} conversions of each at each resolution, one sensor at a time; seed {}",
            study.sensors.len(),
            study.repeats,
            study.on.seed
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
fn name(bits: Option<u8>) -> String {
    bits.map_or_else(|| "DS18S20".into(), |bits| format!("{bits} bits"))
}
