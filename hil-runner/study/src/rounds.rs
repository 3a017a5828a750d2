//! How many readings a second, and how far behind: a shared Convert T, then each sensor in turn.

#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::Serialize;
use slotwise::thermometer::Supply;

use super::bus_time::BusTime;
use super::conversion::ConversionRow;

/// Numbers of sensors that are computed, beside the wished one (chosen).
pub const USUAL_NUMBERS: [u32; 3] = [1, 8, 20];

/// Rounds at one resolution with a number of sensors.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct RoundRow {
    /// The resolution; none for a DS18S20.
    pub resolution_bits: Option<u8>,
    /// How many sensors.
    pub sensors: u32,
    /// Time of a round whose conversion takes the longest that the datasheets allow.
    pub datasheet_us: f64,
    /// The same with the slowest conversion that was measured. None: no conversion could be polled, or a line on parasite power, which has
    /// to wait for the longest.
    pub measured_us: Option<f64>,
}

impl RoundRow {
    /// Readings of all sensors per second.
    #[must_use]
    pub fn per_second(&self, round_us: f64) -> f64 {
        f64::from(self.sensors) * 1e6 / round_us
    }
}

/// Time of a round: Convert T for all, the conversion, and a read of each sensor.
#[must_use]
pub fn round_us(bus: &BusTime, conversion_us: u32, sensors: u32) -> f64 {
    bus.convert_us + f64::from(conversion_us) + f64::from(sensors) * f64::from(bus.read.median_us)
}

/// A row for each resolution with each of these numbers of sensors.
#[must_use]
pub fn round_rows(conversions: &[ConversionRow], supply: Supply, bus: &BusTime, numbers: &[u32]) -> Vec<RoundRow> {
    let rows = conversions.iter().flat_map(|row| numbers.iter().map(move |sensors| (row, *sensors)));
    rows.map(|(row, sensors)| RoundRow {
        resolution_bits: row.resolution_bits,
        sensors,
        datasheet_us: round_us(bus, row.datasheet_max_us, sensors),
        measured_us: row.seen_on(supply).map(|measured| round_us(bus, measured.most_us, sensors)),
    })
    .collect()
}

/// How far a reading may be from the temperature as it is now.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct TrackingRow {
    /// The resolution; none for a DS18S20.
    pub resolution_bits: Option<u8>,
    /// Age of the last reading of a round as it arrives: from the beginning of Convert T.
    pub age_s: f64,
    /// Off by at most so much as it arrives: rate x age + step.
    pub fresh_celsius: f64,
    /// Off by at most so much just before the next one: rate x (age + interval) + step.
    pub stale_celsius: f64,
}

/// Off by at most so much: rate x age + step. A whole step, not half of it: the datasheets do not say whether a coarser
/// resolution is rounded or cut off.
#[must_use]
pub fn tracking_celsius(rate_celsius_per_h: f64, age_s: f64, step_celsius: f64) -> f64 {
    rate_celsius_per_h * age_s / 3_600.0 + step_celsius
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::spread::TimeSpread;

    fn bus() -> BusTime {
        BusTime {
            read: TimeSpread { number: 1, least_us: 10_700, median_us: 10_700, most_us: 10_700 },
            convert_us: 2_000.0,
            slot_us: 64.0,
            written_zeros: 40.0,
            sent_zeros: 36.0,
            presence_most_us: 120.0,
        }
    }

    /// 2 ms + 750 ms + 20 x 10.7 ms = 966 ms: 20.7039 readings a second. With 1 sensor 762.7 ms: 1.3111.
    #[test]
    fn a_round_is_convert_conversion_and_a_read_of_each() {
        let row = |sensors| RoundRow {
            resolution_bits: Some(12),
            sensors,
            datasheet_us: round_us(&bus(), 750_000, sensors),
            measured_us: None,
        };
        assert_eq!(row(20).datasheet_us, 966_000.0);
        assert!((row(20).per_second(966_000.0) - 20.7039).abs() < 1e-4);
        assert!((row(1).per_second(row(1).datasheet_us) - 1.3111).abs() < 1e-4);
    }

    /// 2 degC/min is 120 degC/h; in 0.9 s that is 0.03 degC, and a step of 0.0625 degC makes 0.0925.
    #[test]
    fn tracking_is_rate_times_age_and_a_step() {
        assert!((tracking_celsius(120.0, 0.9, 0.0625) - 0.0925).abs() < 1e-12);
        assert_eq!(tracking_celsius(0.0, 60.0, 0.5), 0.5);
    }
}
