//! What was seen of a line, as data.

#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::Serialize;
use slotwise::thermometer::Supply;

use super::cable::Estimates;
use super::error_rate::ErrorRate;
use slotwise_record::Subject;
use slotwise_rig::reply::SpreadRecord;
#[cfg(feature = "schema")]
use slotwise_terms::notation;

/// What was seen of a line.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct LineSeen {
    /// How often the line was searched.
    pub searches: u32,
    /// How many searches ended early.
    pub searches_failed: u32,
    /// Why the first of them did.
    pub search_failure: Option<String>,
    /// How often the scratchpad of each sensor that was found was read.
    pub reads_each: u32,
    /// The sensors of the inventory, and whoever else was found.
    pub sensors: Vec<SensorSeen>,
    /// Reset pulses during which the line was watched.
    pub resets: u64,
    /// From the release of a reset pulse to the master's threshold. None: this rig does not see it.
    pub rise_ns: Option<SpreadRecord>,
    /// From there to the first presence pulse. None: this rig does not see it.
    pub presence_delay_ns: Option<SpreadRecord>,
    /// Length of the presence pulse of all sensors together. None: this rig does not see it.
    pub presence_width_ns: Option<SpreadRecord>,
    /// By how much these three may be wrong: the longest time between two samples of the line.
    pub grain_ns: u32,
    /// From the falling edge of a slot to the master's sample of its bit, where the rig sees every edge of the master.
    pub read_sample_ns: Option<Pulse>,
    /// What follows from the rise. None without one.
    pub estimates: Option<Estimates>,
    /// How often reads failed. None: nothing was read.
    pub error_rate: Option<ErrorRate>,
}

/// Least and most of a time that was measured edge by edge.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Pulse {
    /// How many.
    pub count: u64,
    /// The least, in nanoseconds.
    pub least_ns: i64,
    /// The most, in nanoseconds.
    pub most_ns: i64,
}

/// What was seen of a sensor.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct SensorSeen {
    /// Its names.
    #[serde(flatten)]
    pub sensor: Subject,
    /// Its part. None: of a family that is not decoded.
    pub part: Option<String>,
    /// In how many searches it was found.
    pub seen: u32,
    /// How it is powered, as it says. None: it did not say.
    #[cfg_attr(feature = "schema", schemars(with = "Option<notation::SupplyForm>"))]
    pub power: Option<Supply>,
    /// How often it was read.
    pub reads: u32,
    /// How many of these failed.
    pub errors: u32,
    /// How the first of them failed, or why it did not say how it is powered.
    pub failure: Option<String>,
}
