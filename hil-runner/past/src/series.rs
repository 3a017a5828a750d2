//! Runs that can be compared with each other: the same scenario on the same rig.

use std::fmt;

#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use slotwise_record::Record;
use slotwise_rig::{Rig, RigKind};

/// A rig and a scenario.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Series {
    /// Name of the rig.
    pub rig: String,
    /// Its kind: `virtual`, `emulated`, `bridge` or `serial`.
    pub kind: String,
    /// Name of the scenario.
    pub scenario: String,
}

impl Series {
    /// That of a run.
    #[must_use]
    pub fn of(record: &Record) -> Self {
        Self {
            rig: record.rig.name.clone(),
            kind: kind_word(&record.rig).into(),
            scenario: record.scenario.name.clone(),
        }
    }
}

impl fmt::Display for Series {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} on {} ({})", self.scenario, self.rig, self.kind)
    }
}

/// The kind of a rig in one word.
#[must_use]
pub const fn kind_word(rig: &Rig) -> &'static str {
    match rig.kind {
        RigKind::Virtual(_) => "virtual",
        RigKind::Emulated(_) => "emulated",
        RigKind::Bridge(_) => "bridge",
        RigKind::Serial(_) => "serial",
    }
}
