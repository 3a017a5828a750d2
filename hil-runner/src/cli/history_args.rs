//! Arguments of `history`.

use std::path::PathBuf;

use clap::{Args, Subcommand, ValueEnum};

use slotwise_past::RunId;
use slotwise_record::RunOutcome;

#[derive(Debug, Args)]
#[command(after_help = super::below::history())]
pub(super) struct HistoryArgs {
    /// The history, an SQLite file
    ///
    /// Without it that of the variable HIL_RUNNER_HISTORY; else history.sqlite in this folder if it is there; else
    /// hil-runner/history.sqlite in the user's folder for data (XDG_DATA_HOME, or ~/.local/share).
    #[arg(long, global = true, value_name = "FILE")]
    pub(super) history: Option<PathBuf>,
    #[command(subcommand)]
    pub(super) question: Question,
}

#[derive(Debug, Subcommand)]
pub(super) enum Question {
    /// List runs, the newest first
    List(ListArgs),
    /// Show all that is kept of one run
    Show(ShowArgs),
    /// Compare two runs: steps, figures, sensors
    Compare(CompareArgs),
    /// Follow one sensor from day to day
    Follow(FollowArgs),
    /// List changes against a rig's own past, and since when
    Changes(ChangesArgs),
    /// Accept a change: from its first run on, it is the norm
    Accept(AcceptArgs),
    /// Write runs, readings or figures, for other programs
    Export(ExportArgs),
    /// Add runs from their records; those that are there already are not counted twice
    Add(AddArgs),
    /// Check the whole file for damage
    Check,
}

#[derive(Debug, Args)]
pub(super) struct ListArgs {
    #[command(flatten)]
    pub(super) which: WhichArgs,
    /// List at most N runs
    #[arg(long, value_name = "N", default_value_t = 20, value_parser = clap::value_parser!(u32).range(1..))]
    pub(super) most: u32,
    /// Write JSON instead of a table
    #[arg(long)]
    pub(super) json: bool,
}

#[derive(Debug, Args)]
pub(super) struct WhichArgs {
    /// Of the rig of this name
    #[arg(long, value_name = "NAME")]
    pub(super) rig: Option<String>,
    /// Of the scenario of this name
    #[arg(long, value_name = "NAME")]
    pub(super) scenario: Option<String>,
    /// Of this night
    #[arg(long, value_name = "NIGHT")]
    pub(super) night: Option<String>,
    /// With this outcome
    #[arg(long, value_name = "OUTCOME")]
    pub(super) outcome: Option<OutcomeWord>,
}

/// The outcome of a run, as it is typed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum OutcomeWord {
    /// Every expectation met
    Passed,
    /// Some not met
    Failed,
    /// Some could not be checked
    Incomplete,
    /// Stopped before its end
    Interrupted,
    /// The rig was broken
    Broken,
}

impl From<OutcomeWord> for RunOutcome {
    fn from(word: OutcomeWord) -> Self {
        match word {
            OutcomeWord::Passed => Self::Passed,
            OutcomeWord::Failed => Self::Failed,
            OutcomeWord::Incomplete => Self::Incomplete,
            OutcomeWord::Interrupted => Self::Interrupted,
            OutcomeWord::Broken => Self::Broken,
        }
    }
}

#[derive(Debug, Args)]
pub(super) struct ShowArgs {
    /// Number of the run, from the list
    #[arg(value_name = "RUN")]
    pub(super) run: RunId,
    /// Write JSON instead of tables
    #[arg(long)]
    pub(super) json: bool,
}

#[derive(Debug, Args)]
pub(super) struct CompareArgs {
    /// Number of the earlier run
    #[arg(value_name = "RUN")]
    pub(super) earlier: RunId,
    /// Number of the later run
    #[arg(value_name = "RUN")]
    pub(super) later: RunId,
    /// Write JSON instead of tables
    #[arg(long)]
    pub(super) json: bool,
}

#[derive(Debug, Args)]
pub(super) struct FollowArgs {
    /// The sensor, by label or ROM code
    #[arg(value_name = "SENSOR")]
    pub(super) sensor: String,
    /// Number of days back from its last run
    #[arg(long, value_name = "N", default_value_t = 60, value_parser = clap::value_parser!(u32).range(1..))]
    pub(super) days: u32,
    /// Write JSON instead of a table
    #[arg(long)]
    pub(super) json: bool,
}

#[derive(Debug, Args)]
pub(super) struct ChangesArgs {
    /// Also list changes that are over or accepted
    #[arg(long)]
    pub(super) all: bool,
    /// Write JSON instead of a table
    #[arg(long)]
    pub(super) json: bool,
}

#[derive(Debug, Args)]
pub(super) struct AcceptArgs {
    /// Numbers of the changes, from `history changes`
    #[arg(value_name = "CHANGE", required = true)]
    pub(super) changes: Vec<i64>,
}

#[derive(Debug, Args)]
pub(super) struct ExportArgs {
    /// Table to export
    #[arg(value_name = "WHAT")]
    pub(super) what: What,
    /// In which form
    #[arg(long = "as", value_name = "FORM", default_value = "csv")]
    pub(super) form: Form,
    #[command(flatten)]
    pub(super) which: WhichArgs,
}

/// What can be exported.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum What {
    /// A line for each run
    Runs,
    /// A line for each reading
    Readings,
    /// A line for each figure of each run
    Figures,
}

/// In which form.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum Form {
    /// Comma-separated values with a line of names (RFC 4180)
    Csv,
    /// A JSON object in each line
    JsonLines,
}

#[derive(Debug, Args)]
pub(super) struct AddArgs {
    /// Files record.json, in any order: they are added in that of their time
    #[arg(value_name = "RECORD", required = true)]
    pub(super) records: Vec<PathBuf>,
    /// The night they belong to; without it that of the folder around them, if there is one
    #[arg(long, value_name = "NIGHT")]
    pub(super) night: Option<String>,
}
