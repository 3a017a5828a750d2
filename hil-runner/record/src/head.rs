//! What everything begins with that is written: the version of its form, who wrote it, and where it was measured.
//!
//! A [`Record`](super::Record) has the same keys as fields of its own: records are large, and what is read through a shared head is held
//! in memory twice.

#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::Tool;
use slotwise_rig::reply::{BridgeRecord, Driver};

/// The first keys of a file.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Head {
    /// Version of this form. A reader must know it.
    // Nights of forms 1 and 2 have it by another name.
    #[serde(alias = "night_version")]
    pub schema_version: u32,
    /// The program that wrote it.
    pub tool: Tool,
}

impl Head {
    /// That of this program, for a form of this version.
    #[must_use]
    pub fn of(schema_version: u32) -> Self {
        Self { schema_version, tool: Tool::this() }
    }
}

/// Where something was measured.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct MeasuredOn {
    /// Name of the rig.
    pub rig: String,
    /// Seed of all randomness.
    pub seed: u64,
    /// The driver that spoke to the sensors.
    pub driver: Driver,
    /// The bridge it ran on.
    pub bridge: BridgeRecord,
}
