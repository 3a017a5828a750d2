//! A run as a whole.

#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{CaptureRecord, StepRecord};
use slotwise_limits::edges::EdgeRecord;
use slotwise_rig::Rig;
use slotwise_rig::reply::{BridgeRecord, Driver, LinkRecord, LogRecord, PortRecord};
use slotwise_scenario::Scenario;
use slotwise_terms::FailureKind;

/// Version of the record's form. It changes whenever a reader of the old form would misread the new one.
pub const SCHEMA_VERSION: u32 = 2;

/// All that happened in a run.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Record {
    /// Version of this form. A reader must know it.
    pub schema_version: u32,
    /// Who wrote it.
    pub tool: Tool,
    /// The driver under test.
    pub driver: Driver,
    /// The bridge it ran on.
    pub bridge: BridgeRecord,
    /// When the run began by the clock on the wall, in UTC (RFC 3339). All other times are the rig's.
    pub started_at: String,
    /// Seed of all randomness.
    pub seed: u64,
    /// The rig.
    pub rig: Rig,
    /// The scenario. Numbers of sensors in it are places in the rig's inventory, from 0.
    pub scenario: Scenario,
    /// What became of each step, in order.
    pub steps: Vec<StepRecord>,
    /// The first lines that the firmware logged.
    pub log: Vec<LogRecord>,
    /// How many more there were.
    pub log_not_kept: u64,
    /// How it ended.
    pub end: RunEnd,
}

/// The program that wrote a record.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Tool {
    /// Its name.
    pub name: String,
    /// Its version.
    pub version: String,
}

impl Tool {
    /// This program.
    #[must_use]
    pub fn this() -> Self {
        Self { name: "hil-runner".into(), version: env!("CARGO_PKG_VERSION").into() }
    }
}

/// How a run ended.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct RunEnd {
    /// The outcome of all.
    pub outcome: RunOutcome,
    /// When, by the time of the rig.
    pub at_ns: u64,
    /// What is broken, if the rig is.
    pub breakage: Option<Breakage>,
    /// How the link to the bridge held.
    pub link: LinkRecord,
    /// The times of the bridge's edges against the datasheets' limits, where the rig sees every edge.
    pub edges: Option<EdgeRecord>,
    /// What went through the serial port, where that was the bus master.
    #[serde(default)]
    pub port: Option<PortRecord>,
    /// What the judge of captures says of the line, where the run recorded it.
    #[serde(default)]
    pub capture: Option<CaptureRecord>,
}

/// The outcome of a run.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum RunOutcome {
    /// Every step passed.
    Passed,
    /// At least one expectation was not met, an edge of the bridge was outside the datasheets' limits, or the judge of captures objects to
    /// the line that was recorded.
    Failed,
    /// None was not met, but some could not be checked on this rig, or a part of the recorded line was not judged.
    Incomplete,
    /// It was stopped before its end.
    Interrupted,
    /// The rig is broken, so nothing can be said about the sensors.
    Broken,
}

/// What is broken about a rig.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Breakage {
    /// The step in which it showed.
    pub step: Vec<u32>,
    /// What kind of failure; none if the link to the line was lost.
    pub kind: Option<FailureKind>,
    /// The driver's own words.
    pub text: String,
}
