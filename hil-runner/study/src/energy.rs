//! Charge, energy, average current and how long a cell lasts: of the sensors, and of the pull-up beside them.

#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::Serialize;
use slotwise::line::Timing;

use super::bus_time::BusTime;
use super::datasheet::{
    ACTIVE_MAX_UA, ACTIVE_TYPICAL_UA, CONVERT_COMMAND_ZEROS, CONVERT_SLOTS, DQ_TYPICAL_UA, READ_SLOTS,
    READ_WRITTEN_BITS, READ_ZERO_LOW_MAX_US, STANDBY_MAX_UA, STANDBY_TYPICAL_UA,
};

const HOURS_PER_DAY: f64 = 24.0;

/// What one reading of one sensor takes, and what it comes to.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct EnergyRow {
    /// The resolution; none for a DS18S20.
    pub resolution_bits: Option<u8>,
    /// Which figures.
    pub figures: Figures,
    /// The conversion time that was taken.
    pub conversion_us: u32,
    /// Whether it is the datasheet's for want of a measured one.
    pub conversion_from: ConversionFrom,
    /// Charge of a conversion, in microampere seconds.
    pub charge_uc: f64,
    /// Energy of a conversion, in microjoules, at the voltage given.
    pub energy_uj: Option<f64>,
    /// Average current of one sensor, in microamperes. None: the interval is shorter than the conversion.
    pub average_ua: Option<f64>,
    /// How long the cell lasts with all sensors, in days.
    pub life_days: Option<f64>,
    /// The same with the current through the pull-up, where that is known.
    pub life_with_pull_up_days: Option<f64>,
}

/// Which figures of the datasheet.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Figures {
    /// Typical currents, and the median of the conversion times measured.
    Typical,
    /// Largest currents, and the longest conversion that the datasheets allow.
    Maximum,
}

/// Where a conversion time is from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum ConversionFrom {
    /// It was measured.
    Measured,
    /// The datasheet's longest.
    Datasheet,
}

impl Figures {
    /// Active and standby current, in microamperes.
    const fn currents_ua(self) -> (f64, f64) {
        match self {
            Self::Typical => (ACTIVE_TYPICAL_UA, STANDBY_TYPICAL_UA),
            Self::Maximum => (ACTIVE_MAX_UA, STANDBY_MAX_UA),
        }
    }

    /// Charge of one conversion of this length, in microampere seconds.
    #[must_use]
    pub fn charge_uc(self, conversion_us: u32) -> f64 {
        self.currents_ua().0 * f64::from(conversion_us) / 1e6
    }

    /// Average current of a sensor that converts once in each interval, in microamperes: active while it converts, standby
    /// between, and the input current of DQ all the time. `None` if the interval is shorter than the conversion.
    #[must_use]
    pub fn average_ua(self, conversion_us: u32, interval_s: f64) -> Option<f64> {
        let (active_ua, standby_ua) = self.currents_ua();
        let conversion_s = f64::from(conversion_us) / 1e6;
        (conversion_s <= interval_s)
            .then(|| (active_ua * conversion_s + standby_ua * (interval_s - conversion_s)) / interval_s + DQ_TYPICAL_UA)
    }
}

/// How long a cell lasts, in days. Self-discharge is not modelled, nor that a cell gives less in the cold or to a large load.
#[must_use]
pub fn life_days(cell_mah: f64, current_ua: f64) -> f64 {
    cell_mah * 1_000.0 / current_ua / HOURS_PER_DAY
}

/// The current through the pull-up while the line is low.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct PullUpCurrent {
    /// How long the line is low in a round, in microseconds: resets, presence pulses and slots, at most.
    pub low_us: f64,
    /// Share of the time that it is low.
    pub low_share: f64,
    /// Current while it is low, in microamperes: V / R.
    pub low_ua: f64,
    /// On average.
    pub average_ua: f64,
}

/// Of a line with this supply and pull-up, on which this many sensors are read in each interval. A conversion is taken to be
/// waited for by time: each poll of a busy sensor would be another low slot.
#[must_use]
pub fn pull_up_current(
    bus: &BusTime,
    timing: &Timing,
    (volts, pull_up_ohm): (f64, f64),
    sensors: u32,
    interval_s: f64,
) -> PullUpCurrent {
    let (zero_us, one_us) = (f64::from(timing.write_zero_low_ns) / 1e3, f64::from(timing.start_low_ns) / 1e3);
    let reset_us = f64::from(timing.reset_low_ns) / 1e3 + bus.presence_most_us;
    let sent_bits = READ_SLOTS as f64 - READ_WRITTEN_BITS;
    let read_us = reset_us
        + bus.written_zeros * zero_us
        + (READ_WRITTEN_BITS - bus.written_zeros) * one_us
        + bus.sent_zeros * READ_ZERO_LOW_MAX_US
        + (sent_bits - bus.sent_zeros) * one_us;
    let convert_us = reset_us + CONVERT_COMMAND_ZEROS * zero_us + (CONVERT_SLOTS - CONVERT_COMMAND_ZEROS) * one_us;
    let low_us = convert_us + f64::from(sensors) * read_us;
    let low_share = low_us / (interval_s * 1e6);
    let low_ua = volts / pull_up_ohm * 1e6;
    PullUpCurrent { low_us, low_share, low_ua, average_ua: low_share * low_ua }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::spread::TimeSpread;

    fn near(value: f64, expected: f64) {
        assert!((value - expected).abs() <= expected.abs() * 1e-6, "{value} is not {expected}");
    }

    /// Typically 1 mA for 600 ms: 600 uC. At most 1.5 mA for 750 ms: 1125 uC. At 3.3 V: 1980 uJ and 3712.5 uJ.
    #[test]
    fn charge_is_current_times_time() {
        near(Figures::Typical.charge_uc(600_000), 600.0);
        near(Figures::Maximum.charge_uc(750_000), 1_125.0);
        near(Figures::Maximum.charge_uc(750_000) * 3.3, 3_712.5);
        near(Figures::Typical.charge_uc(93_750), 93.75);
    }

    /// Once a minute. Typically (600 uC + 0.75 uA x 59.4 s) / 60 s + 5 uA = (600 + 44.55) / 60 + 5 = 15.7425 uA. At most
    /// (1125 + 1 x 59.25) / 60 + 5 = 24.7375 uA.
    #[test]
    fn average_is_active_standby_and_input_current() {
        near(Figures::Typical.average_ua(600_000, 60.0).unwrap(), 15.7425);
        near(Figures::Maximum.average_ua(750_000, 60.0).unwrap(), 24.7375);
        // Converting all the time: 1500 + 5.
        near(Figures::Maximum.average_ua(750_000, 0.75).unwrap(), 1_505.0);
        assert_eq!(Figures::Maximum.average_ua(750_000, 0.5), None);
    }

    /// 2400 mAh at 8 x 15.7425 uA = 125.94 uA: 19 056.69 h, which is 794.0289 days.
    #[test]
    fn life_is_charge_over_current() {
        near(life_days(2_400.0, 8.0 * 15.7425), 794.028_902);
        near(life_days(24.0, 1_000.0), 1.0);
    }

    /// Long-line timing: reset 500 us and presence 120 us are 620. A read with 40 zeros written and 36 sent:
    /// 620 + 40 x 65 + 40 x 2 + 36 x 60 + 36 x 2 = 5532 us. Convert T: 620 + 10 x 65 + 6 x 2 = 1282 us. With 8 sensors 45 538 us in
    /// a minute are a share of 7.589667e-4; 3.3 V in 2.2 kohm are 1500 uA, so 1.13845 uA.
    #[test]
    fn pull_up_takes_its_share_of_low_time() {
        let bus = BusTime {
            read: TimeSpread { number: 1, least_us: 14_000, median_us: 14_000, most_us: 14_000 },
            convert_us: 2_000.0,
            slot_us: 90.0,
            written_zeros: 40.0,
            sent_zeros: 36.0,
            presence_most_us: 120.0,
        };
        let current = pull_up_current(&bus, &Timing::LONG_LINE, (3.3, 2_200.0), 8, 60.0);
        near(current.low_us, 45_538.0);
        near(current.low_ua, 1_500.0);
        near(current.average_ua, 1.138_45);
    }
}
