//! The report on a capture, as data.

#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::Serialize;

use super::capture::Damage;
use super::decode::Transaction;
use super::findings::{Finding, SensorReport, Weight};
use super::replay::ReplayReport;
use super::timing::LineTimeReport;
use super::unjudged::Unjudged;

/// How a capture is judged.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Outcome {
    /// All of the capture was judged, and nothing is against the datasheets.
    Sound,
    /// The same, and yet something is not as it should be, or not to be relied on.
    SoundWithDoubts,
    /// Something is.
    Faulty,
    /// Nothing that was judged is, but not all of the capture could be: what was not has a name.
    Incomplete,
    /// There is no reset in it, so nothing could be judged.
    NothingSeen,
}

/// How much there was on the line.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Activity {
    /// Reset pulses.
    pub resets: u64,
    /// Resets without a presence pulse.
    pub unanswered: u64,
    /// Slots.
    pub slots: u64,
    /// Slots at overdrive speed.
    pub fast_slots: u64,
    /// Pulses that are neither.
    pub strays: u64,
    /// Slots before the first reset: what they belong to is not known.
    pub unassigned: u64,
    /// Time inside transactions, from the fall of the reset to the last rise, in nanoseconds.
    pub busy_ns: u64,
}

/// A line of JSON where every transaction is requested.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum WaveformLine<'a> {
    /// One of them, in the order of time.
    Transaction(&'a Transaction),
    /// What was found in all of them: the last line.
    Report(#[cfg_attr(feature = "schema", schemars(schema_with = "by_reference"))] &'a WaveformReport),
}

/// The schema of a report has a file of its own, which that of the lines refers to.
#[cfg(feature = "schema")]
fn by_reference(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
    schemars::json_schema!({ "$ref": "urn:slotwise:schema:waveform" })
}

/// What was found in a capture.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct WaveformReport {
    /// Version of this form. A reader must know it.
    pub schema_version: u32,
    /// The signal that was read, with the scopes it stands in.
    pub signal: String,
    /// Whether it was captured inverted, and was read with high for low.
    pub is_inverted: bool,
    /// How it is judged.
    pub outcome: Outcome,
    /// When the first change was.
    pub from_ns: u64,
    /// When the capture ends.
    pub to_ns: u64,
    /// Steps in which it was sampled, in nanoseconds: times are known to less than this, up and down. 1: exactly.
    pub step_ns: u64,
    /// What happened.
    pub activity: Activity,
    /// Every time of which there are any.
    pub times: Vec<LineTimeReport>,
    /// Every sensor whose ROM code was seen, or that was read without one.
    pub sensors: Vec<SensorReport>,
    /// The findings, faults first.
    pub findings: Vec<Finding>,
    /// How often something more was found that there was no room for.
    pub findings_not_kept: u64,
    /// What of the capture was not judged.
    pub unjudged: Vec<Unjudged>,
    /// Places of the file that could not be read, the first ones.
    pub damages: Vec<Damage>,
    /// How many there were.
    pub damaged: u64,
    /// Whether there were so many that the rest was not read.
    pub is_given_up: bool,
    /// What the driver makes of it, if a replay was requested.
    pub replay: Option<ReplayReport>,
}

impl WaveformReport {
    /// Version of this form. Form 3 has `schema_version` for `version`.
    pub const VERSION: u32 = 3;

    /// The findings that weigh so much.
    pub fn weighing(&self, weight: Weight) -> impl Iterator<Item = &Finding> {
        self.findings.iter().filter(move |finding| finding.weight == weight)
    }
}
