//! The text below the options in the help of each command: its own examples, exit codes and cautions.

use super::help::pages;
use slotwise_rig::BUILT_IN_RIGS;
use slotwise_scenario::BUILT_IN_SCENARIOS;

/// The cautions in the help of every command that reads sensors or judges a line.
pub(super) const SAFETY: &str = "\
Safety: this is not a certified measuring instrument. Do not rely on it for
food, medical, fire or process safety. Hot water and steam scald. Keep the line
away from mains wiring; a lead that leaves the building needs isolation and
surge protection. Follow local codes and licensed practice.";

/// The exit codes of commands that run scenarios.
pub(super) const CODES: &str = "\
Exit codes:
  0  all expectations met
  1  some expectations not met, or not checked
     (not possible on this rig, or the run was interrupted); or, in a night
     or with --history, something has changed against the runs before
  2  bad input or usage, or results were lost
     (bad input: nothing was run; lost: they could not be written to --out or
     to standard output, or disk, memory or file handles ran out)
  3  the rig is broken
     (no debug probe, flashing failed, no link, no sensor on the line, line
     stuck low or never idle high)";

/// The exit codes of commands that read sensors and run no scenario.
const READING_CODES: &str = "\
Exit codes:
  0  every sensor of the inventory answers with a reading without a doubt
  1  some are missing, fail or give a doubtful reading; or it was interrupted
  2  bad input or usage, or results could not be written
  3  the rig is broken";

const PROGRAM: &str = "\
Examples:
  hil-runner run
      the cheese cellar on a virtual rig; needs no hardware
  hil-runner new rig virtual my-rig.toml
      a commented rig file to change; also bridge, serial, emulated
  hil-runner scan --rig my-rig.toml
      the sensors on the line, with their state
  hil-runner waveform bench.vcd
      decode a capture, and judge it against the datasheets";

const RUN: &str = "\
Examples:
  hil-runner run
      the cheese cellar on a virtual rig; needs no hardware
  hil-runner run night.toml --rig shed.toml --out results
      your own scenario and rig; results go to a new folder
  hil-runner run --rig emulated
      the same with the real firmware on an emulated chip
  hil-runner run soak --seed 4711
      a built-in scenario, with the randomness of an earlier run";

const SCAN: &str = "\
Examples:
  hil-runner scan
      the sensors of the cheese cellar; needs no hardware
  hil-runner scan --rig shed.toml
      those of your own rig, whose file may list no sensors yet
  hil-runner scan --rig shed.toml --json
      the same for a program";

const READ: &str = "\
Examples:
  hil-runner read \"brine bath\" door
      two sensors of the cheese cellar, by label
  hil-runner read --rig shed.toml --watch=5s
      all of a rig, every five seconds until Ctrl-C; on a terminal a live view
  hil-runner read --rig shed.toml --json
      the same for a program, a line for each round";

const FLASH: &str = "\
Examples:
  hil-runner flash --list
      debug probes, as a rig file names them
  hil-runner flash --rig bench.toml
      the firmware built into this tool, unless the chip holds it already

Exit codes:
  0  the bridge runs the firmware, or the list was written
  2  bad input or usage, or the list could not be written
  3  no debug probe, wrong or locked chip, flashing failed, or no link";

#[cfg(feature = "history")]
const NIGHTLY: &str = "\
Examples:
  hil-runner new plan plan.toml
      a commented plan to change
  hil-runner nightly plan.toml --check
      whether all rigs and scenarios can be read; nothing is run
  hil-runner nightly plan.toml
      the night of today";

const NEW: &str = "\
Examples:
  hil-runner new rig serial my-rig.toml
      a rig on a serial adapter
  hil-runner new scenario my-scenario.toml
      a scenario for any rig
  hil-runner new plan > plan.toml
      without a file the text goes to standard output

Exit codes:
  0  the template was written
  2  bad usage, the file is there already, or it cannot be written";

#[cfg(feature = "history")]
const HISTORY: &str = "\
Examples:
  hil-runner history list --rig cellar
  hil-runner history follow \"brine bath\"
  hil-runner history changes
  hil-runner history add nights/*/*/record.json --history new.sqlite
      rebuild a lost history from the records";

/// The lists of what is built in.
fn built_in() -> String {
    let blanks = " ".repeat(13);
    let scenarios =
        textwrap::fill(&BUILT_IN_SCENARIOS.join(", "), textwrap::Options::new(64).subsequent_indent(&blanks));
    let rigs = BUILT_IN_RIGS.join(", ");
    format!(
        "Built in:\n  scenarios  {scenarios}\n  rigs       {rigs}\n             emulated (any of them, on an emulated chip)"
    )
}

fn join(parts: &[&str]) -> String {
    parts.join("\n\n")
}

pub(super) fn program() -> String {
    join(&[PROGRAM, &pages(), &built_in(), CODES, SAFETY])
}

pub(super) fn run() -> String {
    join(&[RUN, &built_in(), CODES, SAFETY])
}

pub(super) fn scan() -> String {
    join(&[SCAN, READING_CODES, SAFETY])
}

pub(super) fn read() -> String {
    join(&[READ, READING_CODES, SAFETY])
}

pub(super) fn flash() -> String {
    join(&[FLASH, SAFETY])
}

#[cfg(feature = "history")]
pub(super) fn nightly() -> String {
    join(&[NIGHTLY, CODES, SAFETY])
}

pub(super) fn new() -> String {
    join(&[NEW])
}

#[cfg(feature = "history")]
pub(super) fn history() -> String {
    join(&[HISTORY, SAFETY])
}

/// Examples of one command with the cautions below.
pub(super) fn with_safety(examples: &str) -> String {
    join(&[examples, SAFETY])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cli::Exit;

    #[test]
    fn the_help_fits_a_terminal() {
        #[cfg(feature = "history")]
        let of_history = [nightly(), history()];
        #[cfg(not(feature = "history"))]
        let of_history: [String; 0] = [];
        for text in [program(), run(), scan(), read(), flash(), new()].into_iter().chain(of_history) {
            let long: Vec<&str> = text.lines().filter(|line| line.chars().count() > 80).collect();
            assert!(long.is_empty(), "{long:?}");
        }
    }

    #[test]
    fn the_help_lists_every_exit_code() {
        for exit in [Exit::AllMet, Exit::NotAllMet, Exit::BadInput, Exit::RigBroken] {
            assert!(program().contains(&format!("\n  {}  {}", exit.code(), exit.meaning())), "{exit:?}");
            let page = include_str!("../../guide/codes.md");
            assert!(page.contains(&format!("\n| {} | {}", exit.code(), exit.meaning())), "{exit:?}");
        }
    }
}
