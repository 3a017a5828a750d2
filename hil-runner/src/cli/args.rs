//! Arguments that commands share, and the list of commands.

use std::path::PathBuf;
use std::time::Duration;

use clap::{Args, Parser, Subcommand, ValueEnum};

#[cfg(feature = "history")]
use chrono::NaiveDate;

use super::below;
use super::help::HelpArgs;
#[cfg(feature = "history")]
use super::history_args::HistoryArgs;
use super::identify::IdentifyArgs;
use super::new::NewArgs;
#[cfg(feature = "history")]
use super::nightly::date;
use super::study_args::StudyArgs;
use super::waveform_args::WaveformArgs;
use slotwise_scenario::Values;

/// Runs scenarios against 1-Wire temperature sensors on a rig, and judges what comes out.
#[derive(Debug, Parser)]
#[command(name = "hil-runner", version, after_help = below::program(), max_term_width = 100, disable_help_subcommand = true)]
pub(super) struct Cli {
    /// When to use colours; `auto` means on a terminal, unless NO_COLOR is set
    #[arg(long, global = true, value_name = "WHEN", default_value = "auto", visible_alias = "colour")]
    pub(super) color: When,
    #[command(subcommand)]
    pub(super) command: Command,
}

/// When to use colours.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum When {
    /// On a terminal
    Auto,
    /// Even into a file or a pipe
    Always,
    /// Not at all
    Never,
}

#[derive(Debug, Subcommand)]
pub(super) enum Command {
    /// Run scenarios and judge what comes out
    Run(RunArgs),
    /// List the sensors of a rig: ROM code, part, power, resolution, reading, doubts
    Scan(ScanArgs),
    /// Read temperatures, once or again and again
    Read(ReadArgs),
    /// Find out which sensor is which, by warming one after the other by hand, and label them in the rig file
    Identify(IdentifyArgs),
    /// Flash the bridge of a rig, if it does not hold the firmware already
    Flash(FlashArgs),
    /// Run a plan of scenarios and rigs, keep what comes out, and report what has changed
    Nightly(NightlyArgs),
    /// Ask the history of many runs
    History(HistoryArgs),
    /// Measure what the settings of sensors are worth, or how healthy a line is, and what to choose
    Study(StudyArgs),
    /// Decode and judge the waveform of a line that a logic analyser captured
    Waveform(WaveformArgs),
    /// Write a commented template of a rig, a scenario, a plan or a service, to change
    New(NewArgs),
    /// Print a page of the guide, or the help of a command
    Help(HelpArgs),
}

#[derive(Debug, Args)]
pub(super) struct RigArgs {
    /// The rig: a file, the name of a built-in one, or `emulated`
    ///
    /// A file of this name is taken before a built-in rig. Without this option it is the built-in rig that the built-in
    /// scenario is for, and `cellar` for a scenario from a file. `emulated` is the same rig with the real firmware on
    /// an emulated chip between host and line.
    #[arg(long, value_name = "FILE")]
    pub(super) rig: Option<String>,
    /// Firmware image for the bridge, an ELF file, instead of the one that comes with this tool
    #[arg(long, value_name = "ELF")]
    pub(super) image: Option<PathBuf>,
    /// Seed of all randomness; the same seed gives the same run
    ///
    /// Without this option one is chosen. Either way it is shown.
    #[arg(long, value_name = "N")]
    pub(super) seed: Option<u64>,
}

#[derive(Debug, Args)]
#[command(after_help = below::run())]
pub(super) struct RunArgs {
    /// Scenarios: files, or names of built-in ones; the cheese cellar if there are none
    ///
    /// A file of this name is taken before a built-in scenario. All are read and checked before the first one runs.
    /// Each runs on a fresh rig with the same seed.
    #[arg(value_name = "SCENARIO")]
    pub(super) scenarios: Vec<String>,
    #[command(flatten)]
    pub(super) rig: RigArgs,
    /// Folder for record.json, junit.xml, report.html and line.vcd; must be new or empty
    ///
    /// While a run goes on it is marked as taken. If a run was killed, or could not write all of its results, the mark
    /// stays: delete the folder. With several scenarios each has a folder of its own inside, `1-NAME`, `2-NAME` and so
    /// on.
    #[arg(long, value_name = "DIR")]
    pub(super) out: Option<PathBuf>,
    /// Add the runs to this history, an SQLite file, and report what has changed; that of HIL_RUNNER_HISTORY if not
    /// given
    #[arg(long, value_name = "FILE")]
    pub(super) history: Option<PathBuf>,
    /// Write what was found at the ice point into the rig file, as corrections of its sensors
    ///
    /// Fixed point minus mean reading, of each sensor in a stable bath; every other byte of the file stays. A steam
    /// point stores nothing, and a sensor that is off by more than its accuracy limit gets no correction.
    #[arg(long)]
    pub(super) store_corrections: bool,
    /// End the run as soon as standard input ends. So it cannot outlive the process that started it
    #[arg(long, hide = true)]
    pub(super) until_input_ends: bool,
    /// Show the tables of every step, not only of those that did not pass
    #[arg(long, conflicts_with = "json")]
    pub(super) tables: bool,
    /// Write the record of each run as a line of JSON instead of the report; schema in
    /// hil-runner/record/src/record.schema.json
    #[arg(long)]
    pub(super) json: bool,
}

#[derive(Debug, Args)]
#[command(after_help = below::scan())]
pub(super) struct ScanArgs {
    #[command(flatten)]
    pub(super) rig: RigArgs,
    /// Add the corrections of the rig file, and show what was read beside
    #[arg(long)]
    pub(super) corrected: bool,
    /// Write JSON instead of a table; schema in hil-runner/src/cli/scan.schema.json
    #[arg(long)]
    pub(super) json: bool,
}

#[derive(Debug, Args)]
#[command(after_help = below::read())]
pub(super) struct ReadArgs {
    /// Sensors, by label or ROM code; all of the inventory if there are none
    #[arg(value_name = "SENSOR")]
    pub(super) sensors: Vec<String>,
    #[command(flatten)]
    pub(super) rig: RigArgs,
    /// Go on, every INTERVAL (such as 500ms, 5s, 1m; 2s if not given), until Ctrl-C
    #[arg(long, value_name = "INTERVAL", num_args = 0..=1, require_equals = true, default_missing_value = "2s",
          value_parser = interval)]
    pub(super) watch: Option<Duration>,
    /// Add the corrections of the rig file, and show what was read beside
    #[arg(long)]
    pub(super) corrected: bool,
    /// Write JSON, one line for each round of readings; schema in hil-runner/src/cli/read.schema.json
    #[arg(long)]
    pub(super) json: bool,
}

#[derive(Debug, Args)]
#[command(after_help = below::flash())]
pub(super) struct FlashArgs {
    /// The rig with the bridge: a file, or `emulated`
    #[arg(long, value_name = "FILE", required_unless_present = "list")]
    pub(super) rig: Option<String>,
    /// Firmware image for the bridge, an ELF file, instead of the one that comes with this tool
    #[arg(long, value_name = "ELF")]
    pub(super) image: Option<PathBuf>,
    /// List the debug probes that are connected, as rig files name them, and flash nothing
    #[arg(long, conflicts_with_all = ["rig", "image"])]
    pub(super) list: bool,
    /// Write the list as JSON; schema in hil-runner/src/cli/debug-probes.schema.json
    #[arg(long, requires = "list")]
    pub(super) json: bool,
}

#[cfg(feature = "history")]
#[derive(Debug, Args)]
#[command(after_help = below::nightly())]
pub(super) struct NightlyArgs {
    /// The plan file: which scenarios on which rigs, how often, how long at most
    #[arg(value_name = "PLAN")]
    pub(super) plan: PathBuf,
    /// Date of the night; today if not given
    #[arg(long, value_name = "DATE", value_parser = date)]
    pub(super) date: Option<NaiveDate>,
    /// At most so many runs at once; as many as there are processors if not given
    #[arg(long, value_name = "N", value_parser = at_once)]
    pub(super) at_once: Option<usize>,
    /// Only see whether all rigs and scenarios of the plan can be read
    #[arg(long)]
    pub(super) check: bool,
    /// Write the night as JSON at its end instead of lines; schema in hil-runner/past/src/night.schema.json
    #[arg(long, conflicts_with = "check")]
    pub(super) json: bool,
}

#[cfg(feature = "history")]
fn at_once(text: &str) -> Result<usize, String> {
    text.parse()
        .ok()
        .filter(|number| (1..=64).contains(number))
        .ok_or_else(|| "expected a number from 1 to 64".to_owned())
}

/// What was typed after a command that this build does not have.
#[cfg(not(feature = "history"))]
#[derive(Debug, Args)]
#[command(disable_help_flag = true)]
pub(super) struct Unused {
    #[arg(hide = true, trailing_var_arg = true, allow_hyphen_values = true)]
    _words: Vec<std::ffi::OsString>,
}

#[cfg(not(feature = "history"))]
use {Unused as HistoryArgs, Unused as NightlyArgs};

impl ScanArgs {
    /// Which numbers are asked for.
    pub(super) const fn values(&self) -> Values {
        if self.corrected { Values::Corrected } else { Values::AsRead }
    }
}

impl ReadArgs {
    /// Which numbers are asked for.
    pub(super) const fn values(&self) -> Values {
        if self.corrected { Values::Corrected } else { Values::AsRead }
    }
}

const SHORTEST: Duration = Duration::from_millis(100);
const LONGEST: Duration = Duration::from_secs(24 * 3600);

/// An interval between readings.
pub(super) fn interval(text: &str) -> Result<Duration, String> {
    let interval: Duration =
        text.parse::<humantime::Duration>().map_err(|_| "expected a time such as 500ms, 5s or 1m".to_owned())?.into();
    if (SHORTEST..=LONGEST).contains(&interval) {
        Ok(interval)
    } else {
        Err("expected a time from 100ms to 24h".into())
    }
}

#[cfg(test)]
mod tests {
    use clap::CommandFactory;

    use super::*;

    #[test]
    fn the_command_line_is_consistent() {
        Cli::command().debug_assert();
    }

    #[test]
    fn a_label_after_watch_is_a_sensor_and_no_interval() {
        let cli = Cli::parse_from(["hil-runner", "read", "--watch", "door"]);
        let Command::Read(read) = cli.command else { panic!() };
        assert_eq!((read.watch, read.sensors), (Some(Duration::from_secs(2)), vec!["door".to_owned()]));
        let cli = Cli::parse_from(["hil-runner", "read", "--watch=500ms"]);
        let Command::Read(read) = cli.command else { panic!() };
        assert_eq!(read.watch, Some(Duration::from_millis(500)));
    }

    #[test]
    fn absurd_intervals_are_refused() {
        for text in ["0s", "99ms", "25h", "5", "-1s", "soon", ""] {
            assert!(interval(text).is_err(), "{text}");
        }
    }

    #[test]
    fn both_spellings_of_colour_are_taken() {
        for option in ["--color=never", "--colour=never"] {
            assert_eq!(Cli::parse_from(["hil-runner", "run", option]).color, When::Never);
        }
    }
}
