//! Arguments of `study` and `study resolution`.

use std::path::PathBuf;
use std::time::Duration;

use clap::{Args, Subcommand};

use super::args::{RigArgs, interval};
use super::line_args::LineArgs;
use slotwise_terms::input::dimension::Dimension;
use slotwise_terms::input::quantity::{Range, Refusal};

#[derive(Debug, Args)]
pub(super) struct StudyArgs {
    #[command(subcommand)]
    pub(super) subject: StudySubject,
}

#[derive(Debug, Subcommand)]
pub(super) enum StudySubject {
    /// Measure conversion time and noise at 9, 10, 11 and 12 bits, and recommend a resolution
    Resolution(ResolutionArgs),
    /// Margins of a line, measured on a rig or planned from numbers; which pull-up, how much more cable
    Line(LineArgs),
}

const EXAMPLES: &str = "\
Examples:
  hil-runner study resolution
      the cheese cellar on a virtual rig; needs no hardware
  hil-runner study resolution --rig shed.toml --steps 0.1 --every 1s
      which resolution for steps of 0.1 degC every second on your own line?
  hil-runner study resolution --interval 15m --cell \"2400 mAh\" --plot study.svg
      how long does a cell last at a reading every 15 minutes? With a drawing

Settings are written to the scratchpads only, never to EEPROM, and restored at
the end, also after Ctrl-C (a second one ends at once and restores nothing). If
that fails, the output says so; what is in EEPROM comes back at the next
power-up.

Exit codes:
  0  measured, whether or not a resolution meets the demands
  1  some sensors missing, failing, too slow or not restored; or interrupted
  2  bad input or usage, or results could not be written
  3  the rig is broken";

#[derive(Debug, Args)]
#[command(after_help = super::below::with_safety(EXAMPLES))]
pub(super) struct ResolutionArgs {
    #[command(flatten)]
    pub(super) rig: RigArgs,
    /// Conversions of each sensor at each resolution, 2 to 10000; as many as two minutes allow if not given, 3 to 50
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(2..=10_000))]
    pub(super) repeats: Option<u32>,
    /// How fast the temperature moves, for the tracking error, such as "2 degC/min"
    #[arg(long, value_name = "RATE", default_value = "1 degC/min", value_parser = rate)]
    pub(super) rate: f64,
    /// From one reading of a sensor to its next, for current and tracking error, such as 60s or 15m
    #[arg(long, value_name = "TIME", default_value = "60s", value_parser = interval)]
    pub(super) interval: Duration,
    /// Charge of the cell that feeds the sensors, such as "2400 mAh"
    #[arg(long, value_name = "CHARGE", value_parser = cell)]
    pub(super) cell: Option<f64>,
    /// Voltage of the cell or supply, such as "3.0 V"; that of the rig if its file has it
    #[arg(long, value_name = "VOLTAGE", value_parser = volts)]
    pub(super) cell_volts: Option<f64>,
    /// Recommend a resolution: the steps that you need, in degC
    #[arg(long, value_name = "DEGC", value_parser = steps)]
    pub(super) steps: Option<f64>,
    /// Recommend a resolution: how often you need a new reading of each sensor, such as 1s
    #[arg(long, value_name = "TIME", value_parser = interval)]
    pub(super) every: Option<Duration>,
    /// How many sensors there are to be on the line, 1 to 500; as many as were found if not given
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=500))]
    pub(super) sensors: Option<u32>,
    /// Write JSON instead of tables; schema in hil-runner/study/src/study.schema.json
    #[arg(long)]
    pub(super) json: bool,
    /// Draw conversion times and noise into this SVG file
    #[arg(long, value_name = "FILE")]
    pub(super) plot: Option<PathBuf>,
}

/// Reads a quantity in its smallest unit, as a float for arithmetic.
pub(super) fn quantity(range: Range, text: &str) -> Result<f64, String> {
    match range.read(text) {
        // No range is wider than a float is exact.
        Ok(amount) => Ok(amount as f64),
        Err(Refusal { expected, found, hint }) => {
            let hint = hint.map_or_else(String::new, |hint| format!(" ({hint})"));
            Err(format!("expected {expected}, found {found}{hint}"))
        }
    }
}

/// Rate of change in degrees Celsius per hour, up to a step that no sensor follows (chosen).
fn rate(text: &str) -> Result<f64, String> {
    quantity(Range::new(Dimension::TemperatureRate, 0, 100 * 3_600_000), text).map(|amount| amount / 1e3)
}

/// Charge in milliampere hours, from a capacitor to a lorry's battery (chosen).
fn cell(text: &str) -> Result<f64, String> {
    quantity(Range::new(Dimension::Charge, 1, 1_000_000_000), text).map(|amount| amount / 1e3)
}

/// From a dead cell to the most that the pins survive (DS18B20 datasheet (7/19), Absolute Maximum Ratings: 6.0 V). In
/// volts.
fn volts(text: &str) -> Result<f64, String> {
    quantity(Range::new(Dimension::Voltage, 1_000, 6_000), text).map(|amount| amount / 1e3)
}

/// A bare number is taken for degrees Celsius.
fn steps(text: &str) -> Result<f64, String> {
    let range = Range::new(Dimension::TemperatureDifference, 1, 10_000);
    let is_bare = text.trim().ends_with(|last: char| last.is_ascii_digit());
    let text = if is_bare { format!("{} degC", text.trim()) } else { text.to_owned() };
    quantity(range, &text).map(|amount| amount / 1e3)
}
