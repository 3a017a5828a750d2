//! The driver's line on the port: counted, timed by the clock on the wall, and with its errors noted by name.

use std::cell::Cell;
use std::rc::Rc;
use std::time::Instant;

use slotwise::line::{Line, LineError, Presence, SerialError, SystemPortError};
use slotwise_bridge::TimingChoice;
use slotwise_bridge::message::{LineReport, MasterFault, TimingSet};
use slotwise_bridge::watch::Meter;

use super::Traffic;
use super::fault::AdapterFault;

/// Counts and times. A UART cannot sample the line between slots, so pulses are not measured.
pub(super) struct WallMeter {
    since: Instant,
    began_us: Cell<u64>,
    resets: Cell<u32>,
    slots: Cell<u32>,
}

impl WallMeter {
    pub(super) fn start() -> Self {
        Self { since: Instant::now(), began_us: Cell::new(0), resets: Cell::new(0), slots: Cell::new(0) }
    }
}

/// The meter, seen from the service.
pub(super) struct SharedMeter(pub(super) Rc<WallMeter>);

impl Meter for SharedMeter {
    fn now_us(&self) -> u64 {
        u64::try_from(self.0.since.elapsed().as_micros()).unwrap_or(u64::MAX)
    }

    fn begin(&self) {
        self.0.began_us.set(self.now_us());
        self.0.resets.set(0);
        self.0.slots.set(0);
    }

    fn finish(&self) -> LineReport {
        let at_us = self.0.began_us.get();
        LineReport {
            at_us,
            spent_us: self.now_us().saturating_sub(at_us),
            resets: self.0.resets.get(),
            slots: self.0.slots.get(),
            ..LineReport::default()
        }
    }
}

/// `line`, counted by `meter`.
pub(super) struct CountedLine<L> {
    pub(super) line: L,
    pub(super) port: String,
    pub(super) meter: Rc<WallMeter>,
    pub(super) traffic: Rc<Traffic>,
}

impl<L: Line<Error = SerialError<SystemPortError>>> CountedLine<L> {
    fn count(&self, slots: usize) {
        let counted = self.meter.slots.get();
        self.meter.slots.set(counted.wrapping_add(u32::try_from(slots).unwrap_or(u32::MAX)));
    }

    /// Keeps the port's own error for the report; the service gets [`MasterFault`].
    fn noted<T>(&self, outcome: Result<T, LineError<L::Error>>) -> Result<T, LineError<MasterFault>> {
        outcome.map_err(|error| {
            error.map_master(|error| {
                self.traffic.note(AdapterFault::of(&self.port, error));
                MasterFault
            })
        })
    }
}

impl<L: Line<Error = SerialError<SystemPortError>>> Line for CountedLine<L> {
    type Error = MasterFault;

    fn reset(&mut self) -> Result<Presence, LineError<MasterFault>> {
        self.meter.resets.set(self.meter.resets.get().wrapping_add(1));
        let outcome = self.line.reset();
        self.noted(outcome)
    }

    fn slot(&mut self, bit: bool) -> Result<bool, LineError<MasterFault>> {
        self.count(1);
        let outcome = self.line.slot(bit);
        self.noted(outcome)
    }

    fn delay_us(&mut self, us: u32) {
        self.line.delay_us(us);
    }

    fn slot_us(&self) -> u32 {
        self.line.slot_us()
    }

    fn write_byte_and_power(&mut self, byte: u8) -> Result<(), LineError<MasterFault>> {
        self.count(8);
        let outcome = self.line.write_byte_and_power(byte);
        self.noted(outcome)
    }

    fn end_power(&mut self) -> Result<(), LineError<MasterFault>> {
        let outcome = self.line.end_power();
        self.noted(outcome)
    }

    fn transfer(&mut self, write: &[&[u8]], read: &mut [u8]) -> Result<(), LineError<MasterFault>> {
        let bytes = write.iter().map(|part| part.len()).sum::<usize>() + read.len();
        self.count(8 * bytes);
        let outcome = self.line.transfer(write, read);
        self.noted(outcome)
    }

    fn transfer_bits(&mut self, bits: u16, writes: u8, reads: u8) -> Result<u16, LineError<MasterFault>> {
        self.count(usize::from(writes) + usize::from(reads));
        let outcome = self.line.transfer_bits(bits, writes, reads);
        self.noted(outcome)
    }

    fn write_byte(&mut self, byte: u8) -> Result<(), LineError<MasterFault>> {
        self.transfer(&[&[byte]], &mut [])
    }

    fn read_byte(&mut self) -> Result<u8, LineError<MasterFault>> {
        let mut byte = [0];
        self.transfer(&[], &mut byte)?;
        let [byte] = byte;
        Ok(byte)
    }

    fn write(&mut self, bytes: &[u8]) -> Result<(), LineError<MasterFault>> {
        self.transfer(&[bytes], &mut [])
    }

    fn read(&mut self, bytes: &mut [u8]) -> Result<(), LineError<MasterFault>> {
        self.transfer(&[], bytes)
    }
}

impl<L> TimingChoice for CountedLine<L> {
    /// The rates of a UART are what they are, and a rig file for one chooses no timing set.
    fn choose_timing(&mut self, _: TimingSet) {}
}
