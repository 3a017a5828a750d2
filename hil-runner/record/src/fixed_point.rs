//! What was found at a fixed point.

#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::Subject;
use slotwise_terms::fixed_point::FixedPoint;

/// A bath and the sensors in it. The readings of its last window stand beside it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct FixedPointRecord {
    /// Which fixed point.
    pub at: FixedPoint,
    /// Its temperature.
    pub millicelsius: i32,
    /// Who says so.
    pub source: String,
    /// How the bath was at the end.
    pub bath: BathState,
    /// Rounds of readings in all, those before the window included.
    pub rounds: u32,
    /// How long the window lasts.
    pub window_ns: u64,
    /// By how much the distance between warmest and coldest sensor has changed in the window, from its earlier half to its
    /// later one.
    pub spread_drift_millicelsius: i32,
    /// Each sensor in the window; empty if a sensor gave no number.
    pub sensors: Vec<FixedPointSensor>,
}

/// How a bath was when no more was read.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum BathState {
    /// Stirred and stable.
    Stable,
    /// Not stable in the time that there was.
    NotStable,
}

/// One sensor at a fixed point.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct FixedPointSensor {
    /// Its names.
    pub sensor: Subject,
    /// Readings in the window.
    pub readings: u32,
    /// Mean of those in its later half.
    pub mean_millicelsius: i32,
    /// Largest minus smallest reading.
    pub span_millicelsius: u32,
    /// Mean of the later half minus that of the earlier one.
    pub drift_millicelsius: i32,
    /// What is to be added to its readings, so that they would be right here: fixed point minus mean.
    pub correction_millicelsius: i32,
    /// Lowest resolution of its readings; none for a DS18S20.
    pub resolution_bits: Option<u8>,
}
