//! The result of naming sensors by hand, as data.

#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::Serialize;
use slotwise::bus::RomCode;

use slotwise_record::Head;
use slotwise_record::Subject;

/// Version of this form. It changes whenever a reader of the old form would misread the new one.
pub const IDENTIFICATION_VERSION: u32 = 1;

/// The result of a session.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Identification {
    /// What every file begins with.
    #[serde(flatten)]
    pub head: Head,
    /// Name of the rig.
    pub rig: String,
    /// Its file, into which labels are written.
    pub file: String,
    /// Seed of all randomness.
    pub seed: u64,
    /// How it ended.
    pub ended: Ended,
    /// Sensors that moved alone.
    pub identified: Vec<Identified>,
    /// Sensors that took another label because one that moved was given theirs.
    pub renamed_as_well: Vec<Renamed>,
    /// Labels of the command that have no sensor.
    pub not_identified: Vec<NotIdentified>,
    /// Sensors on the line that were not identified in this session, as they are called now.
    pub others: Vec<Subject>,
}

/// How it ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Ended {
    /// All labels have their sensors.
    Complete,
    /// The person had enough.
    ByPerson,
    /// Ctrl-C, or a signal that means the same.
    Interrupted,
    /// The input with the answers has ended.
    #[serde(rename = "nobody")]
    InputClosed,
    /// The rig file could not be written, or no longer has what was written.
    NotWritten,
    /// The rig is broken.
    RigBroken,
}

/// What was done to the file.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Entry {
    /// The label was written.
    Written,
    /// It was there.
    Unchanged,
}

/// A sensor that moved alone, and what it is called now.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Identified {
    /// What it is called.
    pub label: String,
    /// Its ROM code.
    #[cfg_attr(feature = "schema", schemars(with = "String"))]
    pub rom: RomCode,
    /// What it was called before.
    pub before: Option<String>,
    /// How far it moved, beyond what the others have in common.
    pub moved_celsius: f64,
    /// How long after the prompt.
    pub after_s: f64,
    /// One minus the chance, and never more than 0.9999: beyond, noise need not be normal.
    #[cfg_attr(feature = "schema", schemars(range(max = 0.9999)))]
    pub confidence: f64,
    /// The chance that noise alone does this to any sensor in any round, if it is normal and as in the baseline.
    pub chance_at_most: f64,
    /// What was done to the rig file.
    pub file: Entry,
}

/// A sensor that took another label without having moved.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Renamed {
    /// What it is called now.
    pub label: String,
    /// Its ROM code.
    #[cfg_attr(feature = "schema", schemars(with = "String"))]
    pub rom: RomCode,
    /// What it was called before.
    pub before: String,
}

/// A label without its sensor.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct NotIdentified {
    /// The label.
    pub label: String,
    /// Why.
    pub why: String,
}
