//! A line whose waits can be ended.

use slotwise::line::{Line, LineError, Presence, TimingError};

use super::Attendance;
use crate::message::{MasterFault, TimingSet};
use crate::timing_choice::TimingChoice;

/// Longest piece of a wait, in microseconds. Chosen: the host is heard a hundred times a second.
const PIECE_US: u32 = 10_000;

/// A line whose waits can be ended.
#[derive(Debug)]
pub struct Attended<L, A> {
    line: L,
    attendance: A,
}

impl<L: Line<Error = MasterFault>, A: Attendance> Attended<L, A> {
    /// `line`, listening by `attendance`.
    pub const fn new(line: L, attendance: A) -> Self {
        Self { line, attendance }
    }

    /// Fails once the request is to end.
    #[inline]
    fn attend(&self) -> Result<(), LineError<MasterFault>> {
        if self.attendance.is_ended() { Err(LineError::Master(MasterFault)) } else { Ok(()) }
    }
}

impl<L: Line<Error = MasterFault>, A: Attendance> Line for Attended<L, A> {
    type Error = MasterFault;

    fn reset(&mut self) -> Result<Presence, LineError<MasterFault>> {
        if !self.attendance.goes_on() {
            return Err(LineError::Master(MasterFault));
        }
        self.line.reset()
    }

    fn slot(&mut self, bit: bool) -> Result<bool, LineError<MasterFault>> {
        self.attend()?;
        self.line.slot(bit)
    }

    fn delay_us(&mut self, us: u32) {
        let mut left_us = us;
        while left_us > 0 && self.attendance.goes_on() {
            let piece_us = left_us.min(PIECE_US);
            self.line.delay_us(piece_us);
            left_us -= piece_us;
        }
    }

    fn slot_us(&self) -> u32 {
        self.line.slot_us()
    }

    fn suits(&self, family_code: u8) -> Result<(), TimingError> {
        self.line.suits(family_code)
    }

    fn write_byte_and_power(&mut self, byte: u8) -> Result<(), LineError<MasterFault>> {
        self.attend()?;
        self.line.write_byte_and_power(byte)
    }

    fn end_power(&mut self) -> Result<(), LineError<MasterFault>> {
        self.line.end_power()
    }

    fn write_bit(&mut self, bit: bool) -> Result<(), LineError<MasterFault>> {
        self.line.write_bit(bit)
    }

    fn write_byte(&mut self, byte: u8) -> Result<(), LineError<MasterFault>> {
        self.line.write_byte(byte)
    }

    fn read_byte(&mut self) -> Result<u8, LineError<MasterFault>> {
        self.line.read_byte()
    }

    fn write(&mut self, bytes: &[u8]) -> Result<(), LineError<MasterFault>> {
        self.line.write(bytes)
    }

    fn read(&mut self, bytes: &mut [u8]) -> Result<(), LineError<MasterFault>> {
        self.line.read(bytes)
    }

    fn transfer(&mut self, write: &[&[u8]], read: &mut [u8]) -> Result<(), LineError<MasterFault>> {
        self.line.transfer(write, read)
    }

    fn transfer_bits(&mut self, bits: u16, writes: u8, reads: u8) -> Result<u16, LineError<MasterFault>> {
        self.line.transfer_bits(bits, writes, reads)
    }
}

impl<L: TimingChoice, A> TimingChoice for Attended<L, A> {
    fn choose_timing(&mut self, set: TimingSet) {
        self.line.choose_timing(set);
    }

    fn wire_strong_pull_up(&mut self, wired: bool) {
        self.line.wire_strong_pull_up(wired);
    }
}
