//! A sensor in a record: its label and its ROM code.

#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use slotwise::bus::RomCode;

use slotwise_rig::Sensor;

/// A sensor, as people and as the line know it.
#[derive(Clone, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Subject {
    /// Its label; none if it is not in the rig's inventory.
    pub label: Option<String>,
    /// Its ROM code.
    #[cfg_attr(feature = "schema", schemars(with = "String"))]
    pub rom: RomCode,
}

impl std::fmt::Display for Subject {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match &self.label {
            Some(label) => write!(f, "{label} ({})", self.rom),
            None => write!(f, "{}, not in the inventory", self.rom),
        }
    }
}

/// The names of the sensor with this ROM code.
#[must_use]
pub fn subject(inventory: &[Sensor], rom: RomCode) -> Subject {
    let labels: Vec<&str> =
        inventory.iter().filter(|sensor| sensor.rom == rom).map(|sensor| sensor.label.as_str()).collect();
    Subject { label: (!labels.is_empty()).then(|| labels.join(" and ")), rom }
}
