//! The upper half of the drawing: how conversion times are distributed, each as a share of the datasheet's longest.

use plotters::coord::Shift;
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, VPos};

use super::{LEFT, PlotError, RIGHT, ROW, black, drawn, line, name, plain};
use slotwise_study::{ConversionRow, Study};
use slotwise_terms::units::{about_milliseconds, count, milliseconds};

/// From the top of a row to the foot of its bars.
const FOOT: i32 = 72;
/// Height of the tallest bar of a row.
const TALLEST: f64 = 46.0;
/// Room for the heading.
const HEADING: i32 = 46;
/// The axis shows at least from here to there, in percent.
const USUAL: (u32, u32) = (60, 110);

/// The shares on the axis, in percent.
struct Axis {
    from: u32,
    to: u32,
}

impl Axis {
    fn of(study: &Study) -> Self {
        let shares = || study.conversions.iter().flat_map(|row| row.times_us.iter().map(|us| share(row, *us)));
        let (least, most) = (shares().min().unwrap_or(USUAL.0), shares().max().unwrap_or(USUAL.1));
        let (from, to) = (USUAL.0.min(least / 10 * 10), USUAL.1.max((most / 10 + 1) * 10));
        Self { from, to }
    }

    fn x(&self, percent: f64) -> i32 {
        let part = (percent - f64::from(self.from)) / f64::from(self.to - self.from);
        LEFT + (part * f64::from(RIGHT - LEFT)).round() as i32
    }
}

/// Whole percent of the longest.
fn share(row: &ConversionRow, us: u32) -> u32 {
    u32::try_from(u64::from(us) * 100 / u64::from(row.datasheet_max_us)).unwrap_or(u32::MAX).min(1_000)
}

pub(super) fn draw<B: DrawingBackend>(area: &DrawingArea<B, Shift>, study: &Study) -> Result<(), PlotError>
where
    B::ErrorType: std::error::Error,
{
    let axis = Axis::of(study);
    let rows = i32::try_from(study.conversions.len()).unwrap_or(0);
    let bottom = HEADING + rows * ROW.cast_signed();
    drawn(area.draw(&Text::new(
        "conversion time: how often each share of the datasheet maximum was measured",
        (20, 2),
        plain(16),
    )))?;
    let top = HEADING - 16;
    for y in (top..bottom).step_by(10) {
        drawn(area.draw(&line((axis.x(100.0), y), (axis.x(100.0), y + 6), 2)))?;
    }
    let label = black(13, HPos::Center, VPos::Bottom);
    drawn(area.draw(&Text::new("datasheet maximum", (axis.x(100.0), top - 1), label)))?;
    for (row, place) in study.conversions.iter().zip(0..) {
        draw_row(area, row, &axis, HEADING + place * ROW.cast_signed())?;
    }
    drawn(area.draw(&line((LEFT, bottom), (RIGHT, bottom), 1)))?;
    for percent in (axis.from..=axis.to).step_by(10) {
        let x = axis.x(percent.into());
        drawn(area.draw(&line((x, bottom), (x, bottom + 5), 1)))?;
        let style = black(13, HPos::Center, VPos::Top);
        drawn(area.draw(&Text::new(format!("{percent} %"), (x, bottom + 8), style)))?;
    }
    Ok(())
}

fn draw_row<B: DrawingBackend>(
    area: &DrawingArea<B, Shift>,
    row: &ConversionRow,
    axis: &Axis,
    top: i32,
) -> Result<(), PlotError>
where
    B::ErrorType: std::error::Error,
{
    drawn(area.draw(&Text::new(name(row.resolution_bits), (20, top + 26), plain(16))))?;
    let most = format!("max {}", milliseconds(row.datasheet_max_us));
    drawn(area.draw(&Text::new(most, (20, top + 48), plain(13))))?;
    let unwatched = match row.unwatched_sensors {
        0 => String::new(),
        some => format!("; {} on parasite power not seen", count(some as usize, "sensor")),
    };
    let text = match row.measured {
        Some(times) => format!(
            "{} conversions; least {}, median {}, most {}{unwatched}",
            times.number,
            about_milliseconds(times.least_us),
            about_milliseconds(times.median_us),
            about_milliseconds(times.most_us)
        ),
        None => "no sensor shows the end (parasite power): the datasheet maximum counts".into(),
    };
    drawn(area.draw(&Text::new(text, (LEFT + 6, top + 4), plain(13))))?;
    let mut bins = std::collections::BTreeMap::<u32, u32>::new();
    for us in &row.times_us {
        *bins.entry(share(row, *us)).or_default() += 1;
    }
    let tallest = bins.values().copied().max().unwrap_or(1);
    for (percent, count) in bins {
        let height = (f64::from(count) / f64::from(tallest) * TALLEST).max(1.0).round() as i32;
        let (left, right) = (axis.x(percent.into()), axis.x(f64::from(percent + 1)));
        let bar = [(left, top + FOOT - height), (right, top + FOOT)];
        drawn(area.draw(&Rectangle::new(bar, RGBColor(150, 150, 150).filled())))?;
        drawn(area.draw(&Rectangle::new(bar, BLACK.stroke_width(1))))?;
    }
    drawn(area.draw(&line((LEFT, top + FOOT), (RIGHT, top + FOOT), 1)))
}
