//! What somebody wants to know beside what is measured: how fast temperatures move, how often is read, what feeds it, and what is
//! needed.

#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::Serialize;

/// The wishes.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Wishes {
    /// How fast the temperature moves, in degrees Celsius per hour.
    pub rate_celsius_per_h: f64,
    /// From one reading of a sensor to its next.
    pub interval_s: f64,
    /// Charge of the cell, in milliampere hours.
    pub cell_mah: Option<f64>,
    /// Voltage of supply or cell. None: it is not known.
    pub volts: Option<f64>,
    /// How many sensors.
    pub sensors: u32,
    /// Steps that are needed, in degrees Celsius.
    pub steps_celsius: Option<f64>,
    /// How often a new reading of each sensor is needed.
    pub every_s: Option<f64>,
}
