//! The driver behind a run.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The driver that spoke to the sensors.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Driver {
    /// Its name.
    pub name: String,
    /// Its version.
    pub version: String,
}
