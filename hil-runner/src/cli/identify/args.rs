//! Arguments of `identify`.

use std::path::PathBuf;
use std::time::Duration;

use clap::Args;

use crate::cli::args::{RigArgs, interval};
use crate::cli::study_args::quantity;
use slotwise_study::identify::Rules;
use slotwise_terms::input::dimension::Dimension;
use slotwise_terms::input::quantity::Range;

const EXAMPLES: &str = "\
Examples:
  hil-runner identify --rig shed.toml
      warm one sensor after the other by hand, and type its label
  hil-runner identify --rig shed.toml \"brine bath\" door
      these two labels in this order; without a terminal it asks no questions
  hil-runner new rig unnamed my-rig.toml
  hil-runner identify --rig my-rig.toml --rename \"brine bath\"
      needs no hardware: a simulated hand warms a sensor chosen by the seed

The rig must be a file: labels and ROM codes are written into it, and every
other byte stays. A rig file without sensors gets its first ones here.
Keys during the wait: s and Enter skips the label, q and Enter ends.

A sensor counts as moved when it departs from its own baseline by more than the
change that the other sensors share; the confidence assumes normal noise as in
that baseline. Anything else that warms one sensor alone looks like a hand.

Exit codes:
  0  every label given is identified; without labels, every sensor on the line
  1  some are not identified
  2  bad input or usage, or the rig file could not be written
  3  the rig is broken

Safety: touch a sensor only where that is safe: nothing on the mains, nothing
hot or very cold, nothing that rotates, no food without clean hands. Follow
local codes and licensed practice.";

#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub(in crate::cli) struct IdentifyArgs {
    /// Labels in the order in which the sensors are warmed; prompted for one by one if not given
    #[arg(value_name = "LABEL")]
    pub(super) labels: Vec<String>,
    /// The rig file into which the labels are written; a built-in rig cannot be written
    #[arg(long, value_name = "FILE")]
    pub(super) rig: Option<String>,
    /// Firmware image for the bridge, an ELF file, instead of the one built into this tool
    #[arg(long, value_name = "ELF")]
    pub(super) image: Option<PathBuf>,
    /// Seed of all randomness of a simulated line and its hand; shown, and chosen if not given
    #[arg(long, value_name = "N")]
    pub(super) seed: Option<u64>,
    /// Time allowed for each sensor to move, such as 90s or 5m, once all are at rest; from 10s to 1h
    #[arg(long, value_name = "TIME", default_value = "2m", value_parser = limit)]
    pub(super) limit: Duration,
    /// Least change that identifies a sensor, from 0.25 to 20 degC; at least three of its steps
    #[arg(long, value_name = "DEGC", default_value_t = Rules::LEAST_CELSIUS, value_parser = least)]
    pub(super) least: f64,
    /// Rename sensors that have another label already, without asking
    #[arg(long)]
    pub(super) rename: bool,
    /// On a simulated line: the sensor that the simulated hand warms, by label or ROM code, once for each prompt; or
    /// `none`
    ///
    /// Without this option the seed decides the order.
    #[arg(long, value_name = "SENSOR")]
    pub(super) hand: Vec<String>,
    /// Write JSON at the end instead of lines
    #[arg(long)]
    pub(super) json: bool,
}

impl IdentifyArgs {
    /// The options for a rig, as other commands have them.
    pub(super) fn rig(&self) -> RigArgs {
        RigArgs { rig: self.rig.clone(), image: self.image.clone(), seed: self.seed }
    }
}

fn limit(text: &str) -> Result<Duration, String> {
    let limit = interval(text)?;
    let allowed = Duration::from_secs(10)..=Duration::from_secs(3600);
    if allowed.contains(&limit) { Ok(limit) } else { Err("expected a time from 10s to 1h".into()) }
}

/// A bare number is taken for degrees Celsius.
fn least(text: &str) -> Result<f64, String> {
    let is_bare = text.trim().ends_with(|last: char| last.is_ascii_digit());
    let text = if is_bare { format!("{} degC", text.trim()) } else { text.to_owned() };
    quantity(Range::new(Dimension::TemperatureDifference, 250, 20_000), &text).map(|amount| amount / 1e3)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn time_limits_and_least_changes_outside_their_range_are_refused() {
        assert_eq!(limit("90s"), Ok(Duration::from_secs(90)));
        for text in ["9s", "61m", "90", "soon"] {
            assert!(limit(text).is_err(), "{text}");
        }
        assert_eq!((least("0.5"), least("2 K")), (Ok(0.5), Ok(2.0)));
        for text in ["0.2", "21", "warm", "-1"] {
            assert!(least(text).is_err(), "{text}");
        }
    }

    #[test]
    fn the_help_fits_a_terminal() {
        assert!(EXAMPLES.lines().all(|line| line.chars().count() <= 80));
    }
}
