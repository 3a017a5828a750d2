//! The line as the service wants it: counted, timed, and with the bridge's own error.

use core::cell::Cell;

use embedded_io::ErrorKind;
use slotwise::line::{Line, LineError, Presence, SerialError, SerialLine};
use slotwise_bridge::TimingChoice;
use slotwise_bridge::message::{LineReport, MasterFault, TimingSet};
use slotwise_bridge::watch::{Meter, SlotCounter};

use crate::board::CORE_HZ;
use crate::clock::{TickClock, TickDelay};
use crate::uart::LinePort;

const TICKS_PER_US: u32 = CORE_HZ / 1_000_000;

/// Counts resets and slots, and times them by the clock.
pub(crate) struct LineMeter<'a> {
    counter: SlotCounter,
    clock: &'a TickClock,
    /// The time up to which the counter is up to date.
    passed_at: Cell<u32>,
}

impl<'a> LineMeter<'a> {
    /// Nothing counted, no time passed.
    pub(crate) fn new(clock: &'a TickClock) -> Self {
        Self { counter: SlotCounter::new(), clock, passed_at: Cell::new(clock.now()) }
    }

    fn pass_time(&self) {
        let us = self.clock.now().wrapping_sub(self.passed_at.get()) / TICKS_PER_US;
        // The rest of a microsecond counts next time.
        self.passed_at.set(self.passed_at.get().wrapping_add(us * TICKS_PER_US));
        self.counter.pass_us(u64::from(us));
    }
}

impl Meter for LineMeter<'_> {
    fn now_us(&self) -> u64 {
        self.pass_time();
        self.counter.now_us()
    }

    fn begin(&self) {
        self.pass_time();
        self.counter.begin();
    }

    fn finish(&self) -> LineReport {
        self.pass_time();
        self.counter.finish()
    }
}

/// The driver's line on a UART, counted.
pub(crate) struct CountedLine<'a> {
    line: SerialLine<LinePort<'a>, TickDelay<'a>>,
    meter: &'a LineMeter<'a>,
}

impl<'a> CountedLine<'a> {
    /// `line`, counted by `meter`.
    pub(crate) const fn new(line: SerialLine<LinePort<'a>, TickDelay<'a>>, meter: &'a LineMeter<'a>) -> Self {
        Self { line, meter }
    }
}

/// Logs the port's own error; the host learns only that there is one.
fn without_port_error(error: LineError<SerialError<ErrorKind>>) -> LineError<MasterFault> {
    error.map_master(|error| {
        match error {
            SerialError::NoEcho => defmt::warn!("line: no echo"),
            SerialError::WrongEcho { sent, echo } => {
                defmt::warn!("line: sent {=u8:#x}, received {=u8:#x}", sent, echo)
            }
            SerialError::LostEcho { sent, received } => {
                defmt::warn!("line: {=usize} echoes to {=usize} bytes", received, sent)
            }
            SerialError::ExtraEcho { sent, extra } => {
                defmt::warn!("line: {=usize} bytes more than the {=usize} sent", extra, sent)
            }
            _ => defmt::warn!("line: the port failed"),
        }
        MasterFault
    })
}

impl Line for CountedLine<'_> {
    type Error = MasterFault;

    fn reset(&mut self) -> Result<Presence, LineError<MasterFault>> {
        self.meter.counter.count_reset();
        self.line.reset().map_err(without_port_error)
    }

    fn slot(&mut self, bit: bool) -> Result<bool, LineError<MasterFault>> {
        self.meter.counter.count_slot();
        self.line.slot(bit).map_err(without_port_error)
    }

    fn delay_us(&mut self, us: u32) {
        self.line.delay_us(us);
    }

    fn slot_us(&self) -> u32 {
        self.line.slot_us()
    }
}

impl TimingChoice for CountedLine<'_> {
    /// The rates of a UART are what they are; they suit every timing set.
    fn choose_timing(&mut self, _: TimingSet) {}
}
