//! Arguments of `waveform`.

use std::path::PathBuf;

use clap::Args;

use super::below::SAFETY;

const EXAMPLES: &str = "\
Examples:
  hil-runner waveform bench.vcd
      does this line, and its master, keep within the datasheets?
  hil-runner waveform bench.vcd --signal D3 --transactions
      one of several signals, with every transaction
  hil-runner waveform bench.vcd --html bench.html
      a report as a page, with the waveform at each finding
  hil-runner waveform bench.vcd --replay
      how the driver decodes each search and reading of this capture";

const CODES: &str = "\
Exit codes:
  0  all of the capture was judged, and no datasheet limit is broken
  1  a limit is broken; or a part could not be judged, or there is no reset; or,
     with --doubts-fail, there are doubts; or, with --replay, the driver decodes
     it differently
  2  no capture, or the signal is ambiguous, or the file of --html cannot be
     written";

fn after_help() -> String {
    [EXAMPLES, CODES, SAFETY].join("\n\n")
}

#[derive(Debug, Args)]
#[command(after_help = after_help())]
pub(super) struct WaveformArgs {
    /// The capture: a Value Change Dump (VCD), as logic analysers and simulators write it
    #[arg(value_name = "FILE")]
    pub(super) file: PathBuf,
    /// The signal that is the line, by its name, with or without the scopes it stands in
    ///
    /// Without this option it is the only one, or the one that looks like a line.
    #[arg(long, value_name = "NAME")]
    pub(super) signal: Option<String>,
    /// Steps in which it was sampled, such as 1us; found in the capture if not given
    ///
    /// A time is known to less than one step, up and down. A limit counts as broken only if it is broken whatever lies
    /// between two samples.
    #[arg(long, value_name = "TIME", value_parser = step)]
    pub(super) step: Option<u64>,
    /// Show every transaction, as it is decoded
    ///
    /// With --json each is a line of JSON, and the report is the last one; schema in
    /// hil-runner/waveform/src/lines.schema.json.
    #[arg(long)]
    pub(super) transactions: bool,
    /// Exit with 1 where there are doubts, too: what is no breach, and yet not as it should be
    #[arg(long)]
    pub(super) doubts_fail: bool,
    /// Play searches and readings of the capture to the real driver, and report the difference
    #[arg(long)]
    pub(super) replay: bool,
    /// Write JSON; schema in hil-runner/waveform/src/waveform.schema.json
    #[arg(long)]
    pub(super) json: bool,
    /// Write the report into this HTML file, with the waveform at each finding
    #[arg(long, value_name = "FILE")]
    pub(super) html: Option<PathBuf>,
}

/// A step of at least a nanosecond; a coarser one than 100 us shows no slot.
fn step(text: &str) -> Result<u64, String> {
    let expected = || "expected a time from 1ns to 100us".to_owned();
    let step: std::time::Duration = text.parse::<humantime::Duration>().map_err(|_| expected())?.into();
    u64::try_from(step.as_nanos()).ok().filter(|step| (1..=100_000).contains(step)).ok_or_else(expected)
}

#[cfg(test)]
mod tests {
    use super::step;

    #[test]
    fn steps_are_between_a_nanosecond_and_a_slot() {
        assert_eq!((step("1us"), step("125ns"), step("100us")), (Ok(1_000), Ok(125), Ok(100_000)));
        for text in ["0ns", "101us", "1", "", "-1us", "soon"] {
            assert!(step(text).is_err(), "{text}");
        }
    }
}
