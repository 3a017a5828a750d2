//! What the judge of captures says of the line that a run recorded.

#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The run's own waveform, judged as any capture is.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct CaptureRecord {
    /// How much of the rig's time was judged, in nanoseconds: steps in which no fault is injected and nothing is provoked.
    pub judged_ns: u64,
    /// What speaks against the line there. A run with any is not passed.
    pub objections: Vec<Objection>,
    /// What of these steps was not judged. A run with any is not passed, but incomplete.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub not_judged: Vec<NotJudged>,
}

/// A part of the line that should have been judged, and was not.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct NotJudged {
    /// Where it begins, by the time of the rig.
    pub from_ns: u64,
    /// Where it ends.
    pub to_ns: u64,
    /// Why.
    pub why: String,
}

/// One kind of fault that the judge of captures finds.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Objection {
    /// When it was first, by the time of the rig.
    pub at_ns: u64,
    /// The ROM codes of the sensors that it is about, as far as the line says which.
    pub sensors: Vec<String>,
    /// What was seen.
    pub text: String,
}
