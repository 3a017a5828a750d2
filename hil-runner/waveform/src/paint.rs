//! Paints the waveform of a line, for tests.
#![allow(missing_docs, clippy::missing_panics_doc, clippy::unwrap_used, clippy::must_use_candidate)]

use std::fmt::Write;

use crate::decode::Transaction;
use crate::{Chosen, Finding, Topic, WaveformReport, analyse};

/// The ROM code of a sensor on a captured line.
pub const ROM: [u8; 8] = [0x28, 0xEE, 0x94, 0xF7, 0x27, 0x16, 0x01, 0x8D];
/// 24.125 degC in a scratchpad as it was read off that line.
pub const SCRATCHPAD: [u8; 9] = [0x82, 0x01, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10, 0xE1];

/// Times of master and sensors, in nanoseconds.
#[derive(Clone, Copy, Debug)]
pub struct Times {
    pub reset_low: u64,
    pub reset_high: u64,
    pub presence_after: u64,
    pub presence_low: u64,
    pub zero_low: u64,
    pub one_low: u64,
    pub read_low: u64,
    pub read_zero_low: u64,
    /// From falling edge to falling edge.
    pub slot: u64,
}

/// In the middle of what the datasheets allow, and for sensors what was measured on real lines.
pub const STANDARD: Times = Times {
    reset_low: 500_000,
    reset_high: 500_000,
    presence_after: 28_000,
    presence_low: 115_000,
    zero_low: 65_000,
    one_low: 6_000,
    read_low: 5_000,
    read_zero_low: 28_000,
    slot: 75_000,
};

/// The same at overdrive speed: DS1996 and DS28EC20 datasheets.
pub const OVERDRIVE: Times = Times {
    reset_low: 60_000,
    reset_high: 60_000,
    presence_after: 4_000,
    presence_low: 16_000,
    zero_low: 8_000,
    one_low: 1_500,
    read_low: 1_500,
    read_zero_low: 4_000,
    slot: 13_000,
};

/// A waveform on its way.
#[derive(Clone, Debug)]
pub struct Paint {
    pub now: u64,
    pub times: Times,
    pub changes: Vec<(u64, bool)>,
}

impl Paint {
    pub fn new(times: Times) -> Self {
        Self { now: 1_000_000, times, changes: vec![(0, true)] }
    }

    /// The line is low for a while, and nothing else happens.
    pub fn low(&mut self, ns: u64) -> &mut Self {
        self.changes.push((self.now, false));
        self.now += ns;
        self.changes.push((self.now, true));
        self
    }

    pub fn wait(&mut self, ns: u64) -> &mut Self {
        self.now += ns;
        self
    }

    fn slot_of(&mut self, low: u64) {
        let slot = self.times.slot;
        self.low(low).wait(slot.saturating_sub(low));
    }

    /// A reset that is answered.
    pub fn reset(&mut self) -> &mut Self {
        let times = self.times;
        self.low(times.reset_low).wait(times.presence_after).low(times.presence_low);
        self.wait(times.reset_high - times.presence_after - times.presence_low)
    }

    /// A reset without a presence pulse.
    pub fn lonely_reset(&mut self) -> &mut Self {
        let times = self.times;
        self.low(times.reset_low).wait(times.reset_high)
    }

    pub fn write_bit(&mut self, bit: bool) -> &mut Self {
        self.slot_of(if bit { self.times.one_low } else { self.times.zero_low });
        self
    }

    pub fn read_bit(&mut self, bit: bool) -> &mut Self {
        self.slot_of(if bit { self.times.read_low } else { self.times.read_zero_low });
        self
    }

    pub fn write(&mut self, bytes: &[u8]) -> &mut Self {
        for place in 0..bytes.len() * 8 {
            self.write_bit(bytes[place / 8] >> (place % 8) & 1 == 1);
        }
        self
    }

    pub fn read(&mut self, bytes: &[u8]) -> &mut Self {
        for place in 0..bytes.len() * 8 {
            self.read_bit(bytes[place / 8] >> (place % 8) & 1 == 1);
        }
        self
    }

    /// A search pass that ends with one ROM code, with others on the line.
    pub fn search(&mut self, rom: [u8; 8], others: &[[u8; 8]]) -> &mut Self {
        let bit = |rom: &[u8; 8], place: usize| rom[place / 8] >> (place % 8) & 1 == 1;
        let mut taking_part: Vec<[u8; 8]> = others.to_vec();
        taking_part.push(rom);
        self.reset().write(&[0xF0]);
        for place in 0..64 {
            self.read_bit(taking_part.iter().all(|other| bit(other, place)));
            self.read_bit(taking_part.iter().all(|other| !bit(other, place)));
            self.write_bit(bit(&rom, place));
            taking_part.retain(|other| bit(other, place) == bit(&rom, place));
        }
        self
    }

    /// Read Scratchpad of one sensor.
    pub fn read_scratchpad(&mut self, rom: [u8; 8], bytes: [u8; 9]) -> &mut Self {
        self.reset().write(&[0x55]).write(&rom).write(&[0xBE]).read(&bytes)
    }

    /// Convert T of one sensor.
    pub fn convert(&mut self, rom: [u8; 8]) -> &mut Self {
        self.reset().write(&[0x55]).write(&rom).write(&[0x44])
    }

    /// As a capture with nanosecond steps.
    pub fn vcd(&self) -> String {
        let mut text =
            "$timescale 1 ns $end\n$scope module bench $end\n$var wire 1 ! line $end\n$upscope $end\n$enddefinitions $end\n"
                .to_owned();
        for (at, is_high) in &self.changes {
            let _ = writeln!(text, "#{at} {}!", u8::from(*is_high));
        }
        let _ = writeln!(text, "#{}", self.now);
        text
    }

    pub fn report(&self) -> WaveformReport {
        report(&self.vcd())
    }

    pub fn transactions(&self) -> Vec<Transaction> {
        let mut all = Vec::new();
        run(&self.vcd(), &mut |transaction| all.push(transaction.clone()));
        all
    }
}

/// What is found in the first signal of a capture.
pub fn report(vcd: &str) -> WaveformReport {
    run(vcd, &mut |_| ())
}

fn run(vcd: &str, each: &mut dyn FnMut(&Transaction)) -> WaveformReport {
    let chosen = Chosen::of(vcd.as_bytes(), 0).unwrap();
    analyse(chosen.open(vcd.as_bytes()).unwrap(), chosen, each)
}

/// The findings of a topic.
pub fn about(report: &WaveformReport, topic: Topic) -> Vec<&Finding> {
    report.findings.iter().filter(|finding| finding.topic == topic).collect()
}
