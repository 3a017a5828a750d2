//! When a bus master makes its edges and samples: on a pin, or as bytes of a serial adapter.

#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::Serialize;
use slotwise::line::SerialLine;

use slotwise_rig::{Rig, RigKind, TimingSet};

/// How the bus master makes its slots.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum SlotTiming {
    /// On a pin, by the driver's timing set for short lines.
    ShortLine,
    /// On a pin, by the driver's timing set for long or crowded lines.
    LongLine,
    /// On a serial adapter: each slot is a byte, and has the times of its rate.
    Uart,
}

impl From<TimingSet> for SlotTiming {
    fn from(set: TimingSet) -> Self {
        match set {
            TimingSet::ShortLine => Self::ShortLine,
            TimingSet::LongLine => Self::LongLine,
        }
    }
}

/// The times of slots and resets, in microseconds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SlotTimes {
    /// Low time that starts a write-1 or read slot.
    pub start_low_us: f64,
    /// From the falling edge of a slot to the master's sample.
    pub sample_us: f64,
    /// Low time of a write-0 slot.
    pub write_zero_low_us: f64,
    /// From the falling edge of a slot to the earliest falling edge of the next.
    pub slot_us: f64,
    /// From the end of the reset pulse to the check whether the line has risen. None: there is no such check.
    pub rise_check_us: Option<f64>,
    /// From the end of the reset pulse to the sample at which the line must be high again.
    pub reset_high_us: f64,
    /// From the end of the reset pulse to the earliest falling edge after it.
    pub next_slot_us: f64,
}

impl SlotTiming {
    /// That of the bus master of a rig.
    #[must_use]
    pub fn of_rig(rig: &Rig) -> Self {
        match rig.kind {
            RigKind::Serial(_) => Self::Uart,
            RigKind::Virtual(_) | RigKind::Emulated(_) | RigKind::Bridge(_) => rig.timing.into(),
        }
    }

    /// In numbers.
    #[must_use]
    pub fn times(self) -> SlotTimes {
        match self {
            Self::ShortLine => SlotTimes::of_pin(TimingSet::ShortLine),
            Self::LongLine => SlotTimes::of_pin(TimingSet::LongLine),
            Self::Uart => SlotTimes::of_uart(),
        }
    }

    /// Where these numbers stand.
    #[must_use]
    pub const fn source(self) -> &'static str {
        match self {
            Self::ShortLine | Self::LongLine => "the driver's timing set",
            Self::Uart => "the driver's bytes on a serial adapter",
        }
    }

    /// In words.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::ShortLine => "short-line timing",
            Self::LongLine => "long-line timing",
            Self::Uart => "slots of a serial adapter",
        }
    }
}

impl SlotTimes {
    fn of_pin(set: TimingSet) -> Self {
        let timing = set.timing();
        let us = |ns: u32| f64::from(ns) / 1e3;
        Self {
            start_low_us: us(timing.start_low_ns),
            sample_us: us(timing.sample_ns),
            write_zero_low_us: us(timing.write_zero_low_ns),
            slot_us: us(timing.slot_ns),
            rise_check_us: Some(us(timing.rise_check_ns)),
            reset_high_us: us(timing.reset_high_ns),
            next_slot_us: us(timing.reset_high_ns),
        }
    }

    /// A byte has a start bit, eight bits and a stop bit, and its receiver samples in the middle of each. FFh is low for the start bit
    /// alone and looked at in the next; 00h is low for all but the stop bit.
    fn of_uart() -> Self {
        let bit_us = |baud: u32| 1e6 / f64::from(baud);
        let [reset, slot, second_look] = SerialLine::<(), ()>::RATES;
        let bit = bit_us(slot);
        // The driver's reset bytes: F0h is low for five bits, and its bit 7 must be high again; F8h, sent where no sensor was seen, is
        // low for four, and its bit 5 must be.
        let over_us = (3.5 * bit_us(reset)).min(2.5 * bit_us(second_look));
        Self {
            start_low_us: bit,
            sample_us: 1.5 * bit,
            write_zero_low_us: 9.0 * bit,
            slot_us: 10.0 * bit,
            rise_check_us: None,
            reset_high_us: over_us,
            // Four ones and the stop bit; five ones and the stop bit.
            next_slot_us: (5.0 * bit_us(reset)).min(6.0 * bit_us(second_look)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A bit of 115200 baud is 8.68 us: low 8.68 us, sample 13.02 us, write-0 78.1 us, slot 86.8 us. The samples at the end of presence
    /// are 364.6 us (9600 baud) and 347.2 us (7200 baud) after the release; the byte ends 520.8 us and 833.3 us after it.
    #[test]
    fn a_byte_has_the_times_of_its_rate() {
        let times = SlotTiming::Uart.times();
        let slot = [times.start_low_us, times.sample_us, times.write_zero_low_us, times.slot_us];
        let found = slot.into_iter().chain([times.reset_high_us, times.next_slot_us]);
        for (found, by_hand) in found.zip([8.6806, 13.0208, 78.125, 86.8056, 347.222, 520.833]) {
            assert!((found - by_hand).abs() < 1e-3, "{found}, by hand {by_hand}");
        }
        assert_eq!(times.rise_check_us, None);
    }
}
