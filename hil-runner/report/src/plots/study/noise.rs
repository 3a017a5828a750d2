//! The lower half of the drawing: the noise seen beside what steps alone explain.

use plotters::coord::Shift;
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, VPos};

use super::{LEFT, PlotError, RIGHT, black, drawn, line, name, plain};
use slotwise_study::Study;

/// Top and foot of the figure.
const TOP: i32 = 76;
const FOOT: i32 = 310;
/// From one mark of a resolution to the next.
const APART: i32 = 50;
/// How many intervals the axis is divided into.
const INTERVALS: u32 = 5;
/// Size of the marks.
const MARK: i32 = 5;

/// What is marked.
#[derive(Clone, Copy)]
enum Mark {
    /// The noise seen: a black disc.
    Seen,
    /// Step / root of 12: an empty square.
    Quantisation,
    /// Half a step: a bar.
    HalfStep,
}

pub(super) fn draw<B: DrawingBackend>(area: &DrawingArea<B, Shift>, study: &Study) -> Result<(), PlotError>
where
    B::ErrorType: std::error::Error,
{
    drawn(area.draw(&Text::new(
        "noise of readings at rest against the step (degC, standard deviation)",
        (20, 10),
        plain(16),
    )))?;
    let legend = [
        (Mark::Seen, "seen", 24),
        (Mark::Quantisation, "step / root of 12", 110),
        (Mark::HalfStep, "half a step: up to here the step alone can explain it", 290),
    ];
    for (mark, text, x) in legend {
        draw_mark(area, mark, (x, 46))?;
        drawn(area.draw(&Text::new(text, (x + 14, 46), black(13, HPos::Left, VPos::Center))))?;
    }
    let tallest = study.noise.iter().flat_map(|row| [row.step_celsius / 2.0, row.deviation_celsius.unwrap_or(0.0)]);
    let most = tallest.fold(f64::MIN_POSITIVE, f64::max);
    let grain = tidy(most / f64::from(INTERVALS));
    let full = grain * f64::from(INTERVALS);
    let y = |celsius: f64| FOOT - (celsius / full * f64::from(FOOT - TOP)).round() as i32;
    for interval in 0..=INTERVALS {
        let celsius = grain * f64::from(interval);
        drawn(area.draw(&line((LEFT - 5, y(celsius)), (LEFT, y(celsius)), 1)))?;
        let style = black(13, HPos::Right, VPos::Center);
        drawn(area.draw(&Text::new(short(celsius), (LEFT - 10, y(celsius)), style)))?;
    }
    drawn(area.draw(&line((LEFT, TOP), (LEFT, FOOT), 1)))?;
    drawn(area.draw(&line((LEFT, FOOT), (RIGHT, FOOT), 1)))?;
    let rows = i32::try_from(study.noise.len().max(1)).unwrap_or(1);
    let width = (RIGHT - LEFT) / rows;
    for (row, place) in study.noise.iter().zip(0..) {
        let middle = LEFT + place * width + width / 2;
        let style = || black(14, HPos::Center, VPos::Top);
        drawn(area.draw(&Text::new(name(row.resolution_bits), (middle, FOOT + 8), style())))?;
        let step = format!("step {}", short(row.step_celsius));
        drawn(area.draw(&Text::new(step, (middle, FOOT + 27), style())))?;
        let readings = format!("{} readings", row.readings);
        drawn(area.draw(&Text::new(readings, (middle, FOOT + 46), style())))?;
        let marks = [
            (Mark::Seen, row.deviation_celsius, -APART),
            (Mark::Quantisation, Some(row.quantisation_celsius), 0),
            (Mark::HalfStep, Some(row.step_celsius / 2.0), APART),
        ];
        for (mark, celsius, beside) in marks {
            let Some(celsius) = celsius else { continue };
            let at = (middle + beside, y(celsius));
            draw_mark(area, mark, at)?;
            let above = (at.0, at.1 - MARK - 3);
            drawn(area.draw(&Text::new(short(celsius), above, black(12, HPos::Center, VPos::Bottom))))?;
        }
    }
    Ok(())
}

fn draw_mark<B: DrawingBackend>(area: &DrawingArea<B, Shift>, mark: Mark, at: (i32, i32)) -> Result<(), PlotError>
where
    B::ErrorType: std::error::Error,
{
    let (x, y) = at;
    match mark {
        Mark::Seen => drawn(area.draw(&Circle::new(at, MARK, BLACK.filled()))),
        Mark::Quantisation => {
            drawn(area.draw(&Rectangle::new([(x - MARK, y - MARK), (x + MARK, y + MARK)], BLACK.stroke_width(2))))
        }
        Mark::HalfStep => drawn(area.draw(&line((x - 9, y), (x + 9, y), 3))),
    }
}

/// To four places, as a step at 12 bits has them.
fn short(celsius: f64) -> String {
    crate::plots::short(celsius, 4)
}

/// The next of 1, 2 and 5 times a power of ten, for an axis.
fn tidy(least: f64) -> f64 {
    let power = 10_f64.powf(least.log10().floor());
    [1.0, 2.0, 5.0, 10.0].into_iter().map(|factor| factor * power).find(|size| *size >= least).unwrap_or(10.0 * power)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_axis_is_divided_into_numbers_that_people_read() {
        for (least, expected) in [(0.05, 0.05), (0.051, 0.1), (0.012, 0.02), (3.0, 5.0)] {
            assert!((tidy(least) - expected).abs() < 1e-12, "{least}");
        }
    }
}
