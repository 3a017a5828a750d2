//! The driver behind a run.

#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The driver that spoke to the sensors.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Driver {
    /// Its name.
    pub name: String,
    /// Its version.
    pub version: String,
}
