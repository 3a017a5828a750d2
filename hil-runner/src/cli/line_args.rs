//! Arguments of `study line`.

use clap::{Args, ValueEnum};

use super::args::RigArgs;
use super::study_args::quantity;
use slotwise_study::line::figures::SUPPLY_MV;
use slotwise_study::line::{SlotTiming, StrongPullUp};
use slotwise_terms::input::dimension::Dimension;
use slotwise_terms::input::quantity::Range;

const EXAMPLES: &str = "\
Examples:
  hil-runner study line
      the cheese cellar on a virtual rig; needs no hardware
  hil-runner study line --rig bench.toml --supply \"3.3 V\" --pull-up \"4.7 kohm\"
      your own line; supply and resistor cannot be measured
  hil-runner study line --plan --supply \"3.3 V\" --pull-up \"4.7 kohm\" \\
                        --cable \"30 m\" --sensors 8 --timing long-line
      the margins of such a line, before it is built
  hil-runner study line --plan --supply \"5 V\" --cable \"30 m\" --sensors 8
      which pull-up such a line needs
  hil-runner study line --plan --rig cellar.toml --cable \"80 m\"
      the line of a rig file with one number changed

It only reads: it searches, queries the power mode and reads scratchpads.
Nothing is written to any sensor, neither scratchpad nor EEPROM.

Exit codes:
  0  the line is sound, as far as it could be measured
  1  a margin is below zero, sensors on parasite power have no strong pull-up,
     a sensor was missed in a search, reads fail too often; or interrupted
  2  bad input or usage, or results could not be written
  3  the rig is broken";

#[derive(Debug, Args)]
#[command(after_help = super::below::with_safety(EXAMPLES))]
pub(super) struct LineArgs {
    #[command(flatten)]
    pub(super) rig: RigArgs,
    /// Compute from numbers alone, on no rig; with --rig, those of its file are taken where no option gives another
    #[arg(long, conflicts_with_all = ["seed", "image"])]
    pub(super) plan: bool,
    /// Number of searches of the line, 1 to 10000
    #[arg(long, value_name = "N", default_value_t = 20, conflicts_with = "plan",
          value_parser = clap::value_parser!(u32).range(1..=10_000))]
    pub(super) searches: u32,
    /// Number of scratchpad reads of each sensor, 1 to 100000
    #[arg(long, value_name = "N", default_value_t = 100, conflicts_with = "plan",
          value_parser = clap::value_parser!(u32).range(1..=100_000))]
    pub(super) reads: u32,
    /// Share of failed reads above which the line is not sound, if the interval lies above it as a whole
    #[arg(long, value_name = "SHARE", default_value = "0.1 %", conflicts_with = "plan", value_parser = error_limit)]
    pub(super) error_limit: u32,
    /// Supply of pull-up and sensors, such as "3.3 V"; that of the rig if its file has it
    #[arg(long, value_name = "VOLTAGE", value_parser = supply)]
    pub(super) supply: Option<f64>,
    /// The pull-up resistor, such as "4.7 kohm"; that of the rig if its file has it, and in a plan the advised one if
    /// not
    #[arg(long, value_name = "RESISTANCE", value_parser = pull_up)]
    pub(super) pull_up: Option<f64>,
    /// Resistance of the strong pull-up's switch, such as "10 ohm", or "none"; that of the rig if its file has it
    #[arg(long, value_name = "RESISTANCE", value_parser = strong_pull_up)]
    pub(super) strong_pull_up: Option<StrongPullUp>,
    /// Capacitance of a metre of cable; 50 pF if neither this option nor, in a plan, a rig file has it (common
    /// practice)
    #[arg(long, value_name = "CAPACITANCE", value_parser = per_metre)]
    pub(super) per_metre: Option<f64>,
    /// Where the master's input sees a rising line as high, as a share of the supply; 70 % is assumed if not given
    #[arg(long, value_name = "SHARE", value_parser = threshold)]
    pub(super) threshold: Option<f64>,
    /// Plan: length of all cable together, such as "30 m"
    #[arg(long, value_name = "LENGTH", requires = "plan", value_parser = cable)]
    pub(super) cable: Option<f64>,
    /// Plan: how many sensors, 1 to 500
    #[arg(long, value_name = "N", requires = "plan", value_parser = clap::value_parser!(u32).range(1..=500))]
    pub(super) sensors: Option<u32>,
    /// Plan: timing set of the driver, not for a serial adapter; `standard` and `long` are understood as well
    #[arg(long, value_name = "SET", requires = "plan")]
    pub(super) timing: Option<Timing>,
    /// Plan: how the sensors are powered; one on parasite power is enough for `parasite`
    #[arg(long, value_name = "MODE", requires = "plan")]
    pub(super) power: Option<Power>,
    /// Write JSON instead of tables; schema in hil-runner/study/src/line/line.schema.json
    #[arg(long)]
    pub(super) json: bool,
}

/// The timing sets, as they are typed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum Timing {
    /// For lines of a few metres
    #[value(alias = "standard")]
    #[value(alias = "recommended")]
    ShortLine,
    /// For long or crowded lines, and for parasite power at 3.3 V
    #[value(alias = "long")]
    LongLine,
}

impl From<Timing> for SlotTiming {
    fn from(timing: Timing) -> Self {
        match timing {
            Timing::ShortLine => Self::ShortLine,
            Timing::LongLine => Self::LongLine,
        }
    }
}

/// How sensors are powered.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum Power {
    /// By a supply wire of their own
    Local,
    /// By the line
    Parasite,
}

/// In volts. Limits: DS18B20 datasheet (7/19), DC table, VDD and VPU.
fn supply(text: &str) -> Result<f64, String> {
    let (least, most) = SUPPLY_MV;
    quantity(Range::new(Dimension::Voltage, least, most), text).map(|amount| amount / 1e3)
}

/// In ohms, as in a rig file.
fn pull_up(text: &str) -> Result<f64, String> {
    quantity(Range::new(Dimension::Resistance, 100, 1_000_000), text)
}

/// In ohms, as in a rig file.
fn strong_pull_up(text: &str) -> Result<StrongPullUp, String> {
    if text.trim() == "none" {
        return Ok(StrongPullUp::None);
    }
    let range = Range::new(Dimension::Resistance, 1, 1_000);
    quantity(range, text).map(StrongPullUp::Ohm).map_err(|error| format!("{error}; or \"none\""))
}

/// In metres. The limit is that of a rig file.
fn cable(text: &str) -> Result<f64, String> {
    quantity(Range::new(Dimension::Length, 0, 2_000_000), text).map(|amount| amount / 1e3)
}

/// In picofarads. "50 pF" is short for "50 pF/m".
fn per_metre(text: &str) -> Result<f64, String> {
    let range = Range::new(Dimension::CapacitancePerLength, 1, 1_000);
    let trimmed = text.trim();
    let is_short = trimmed.ends_with("pF") || trimmed.ends_with("nF");
    quantity(range, &if is_short { format!("{trimmed}/m") } else { trimmed.to_owned() })
}

/// As a share of 1. Outside of these limits nothing is a logic input (chosen).
fn threshold(text: &str) -> Result<f64, String> {
    quantity(Range::new(Dimension::Share, 300_000, 900_000), text).map(|amount| amount / 1e6)
}

/// In millionths.
fn error_limit(text: &str) -> Result<u32, String> {
    // Within the range it is far below the largest number.
    quantity(Range::new(Dimension::Share, 0, 1_000_000), text).map(|amount| amount as u32)
}
