//! What the requests themselves take on this line: a Match ROM + Read Scratchpad, and a Convert T for all.

#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::Serialize;
use slotwise::bus::{RomCode, Target};
use slotwise::thermometer::Receipt;

use super::datasheet::{CONVERT_SLOTS, POWER_SLOTS, READ_COMMAND_ZEROS, READ_SLOTS};
use super::spread::TimeSpread;
use slotwise_bench::Bench;
use slotwise_rig::reply::LineRecord;
use slotwise_rig::reply::{Sample, Trouble};

/// What was seen of the line during a study.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct BusSamples {
    read_us: Vec<u32>,
    power_us: Vec<u32>,
    /// Zeros among the bits that the master wrote and the sensor sent, of all reads.
    written_zeros: u64,
    sent_zeros: u64,
    presence_most_ns: u32,
}

/// What requests take, by the bridge's clock.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct BusTime {
    /// Match ROM + Read Scratchpad: a reset and 152 slots.
    pub read: TimeSpread,
    /// Skip ROM + Convert T: a reset and 16 slots. Computed from Skip ROM + Read Power Supply, a reset and 19 slots, less
    /// three of them.
    pub convert_us: f64,
    /// A slot: the difference between the two requests, over that of their slots.
    pub slot_us: f64,
    /// Zeros among the 80 bits that the master writes for a read, on average.
    pub written_zeros: f64,
    /// Zeros among the 72 bits that a sensor sends, on average.
    pub sent_zeros: f64,
    /// Longest presence pulse.
    pub presence_most_us: f64,
}

impl BusSamples {
    /// Reads a sensor, and keeps what the bridge says of the time it took.
    pub(super) fn read(&mut self, bench: &mut dyn Bench, rom: RomCode, receipt: &Receipt) -> Result<Sample, Trouble> {
        let _ = bench.take_line();
        let sample = bench.read(rom, receipt)?;
        if let Some(us) = self.plain(bench.take_line(), READ_SLOTS) {
            self.read_us.push(us);
            let zeros = |bytes: &[u8]| bytes.iter().map(|byte| u64::from(byte.count_zeros())).sum::<u64>();
            self.written_zeros += u64::from(READ_COMMAND_ZEROS) + zeros(rom.bytes());
            self.sent_zeros += zeros(&sample.bytes);
        }
        Ok(sample)
    }

    /// Asks all for their power mode, which takes as long as a Convert T for all, and three slots.
    pub(super) fn power(&mut self, bench: &mut dyn Bench) -> Result<(), Trouble> {
        let _ = bench.take_line();
        bench.supply(Target::All)?;
        if let Some(us) = self.plain(bench.take_line(), POWER_SLOTS) {
            self.power_us.push(us);
        }
        Ok(())
    }

    /// How long it took, if it was this request once and nothing was repeated.
    fn plain(&mut self, line: Option<LineRecord>, slots: u64) -> Option<u32> {
        let line = line.filter(|line| (line.requests, line.resets, line.slots) == (1, 1, slots))?;
        let presence_ns = line.presence_width_ns.map_or(0, |spread| spread.most);
        self.presence_most_ns = self.presence_most_ns.max(presence_ns);
        u32::try_from(line.busy_us).ok()
    }

    /// What they come to. `None` where nothing was seen.
    #[must_use]
    pub fn time(&self) -> Option<BusTime> {
        let (read, power) = (TimeSpread::of(&self.read_us)?, TimeSpread::of(&self.power_us)?);
        let slot_us = (f64::from(read.median_us) - f64::from(power.median_us)) / (READ_SLOTS - POWER_SLOTS) as f64;
        Some(BusTime {
            read,
            convert_us: f64::from(power.median_us) - slot_us * (POWER_SLOTS as f64 - CONVERT_SLOTS),
            slot_us,
            written_zeros: self.written_zeros as f64 / f64::from(read.number),
            sent_zeros: self.sent_zeros as f64 / f64::from(read.number),
            presence_most_us: f64::from(self.presence_most_ns) / 1_000.0,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A read of 14 600 us and a power request of 2 630 us are 133 slots of 90 us apart, and a Convert T is three slots less.
    #[test]
    fn a_slot_is_what_two_requests_differ_by() {
        let samples = BusSamples {
            read_us: vec![14_600, 14_600, 14_700],
            power_us: vec![2_630],
            written_zeros: 120,
            sent_zeros: 90,
            presence_most_ns: 130_500,
        };
        let time = samples.time().unwrap();
        assert_eq!((time.slot_us, time.convert_us, time.read.most_us), (90.0, 2_360.0, 14_700));
        assert_eq!((time.written_zeros, time.sent_zeros, time.presence_most_us), (40.0, 30.0, 130.5));
        assert_eq!(BusSamples::default().time(), None);
    }

    #[test]
    fn a_request_that_was_repeated_is_no_measure() {
        let line = LineRecord { requests: 1, resets: 2, slots: 304, busy_us: 30_000, ..LineRecord::default() };
        let mut samples = BusSamples::default();
        assert_eq!(samples.plain(Some(line), READ_SLOTS), None);
        let line = LineRecord { resets: 1, slots: 152, ..line };
        assert_eq!(samples.plain(Some(line), READ_SLOTS), Some(30_000));
    }
}
