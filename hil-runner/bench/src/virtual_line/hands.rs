//! Hands on a line in this process.

use std::io;

use slotwise_virtual_line::VirtualLine;

use super::on_line::{OnLine, line_changes, write_waveform};
use crate::{Extent, Hands, Pace, WaveformError};
use slotwise_rig::reply::Trouble;
use slotwise_rig::{Fault, FaultKind};
use slotwise_terms::fixed_point::FixedPoint;

/// Takes hold of the virtual line itself.
pub struct VirtualHands {
    /// The line.
    pub line: VirtualLine,
    /// What is on it.
    pub on_line: OnLine,
}

impl Hands for VirtualHands {
    fn now_ns(&self) -> u64 {
        self.line.now_ns()
    }

    fn pace(&self) -> Pace {
        Pace::Virtual
    }

    fn wait_us(&mut self, us: u64) -> Result<(), Trouble> {
        self.line.advance_ns(us.saturating_mul(1000));
        Ok(())
    }

    fn power_cycle(&mut self, off_ms: u64) -> Result<(), Trouble> {
        OnLine::power_cycle(&self.line, off_ms);
        Ok(())
    }

    fn set_ambient(&mut self, sensors: &[usize], millicelsius: i32) -> Result<(), Trouble> {
        self.on_line.set_ambient(&self.line, sensors, millicelsius)
    }

    /// Each follows with its lag, as in a bath that is stirred.
    fn immerse(&mut self, sensors: &[usize], at: FixedPoint) -> Result<(), Trouble> {
        self.set_ambient(sensors, at.millicelsius())
    }

    fn hold(&mut self, sensors: &[usize], millicelsius: i32) -> Result<(), Trouble> {
        self.on_line.hold(&self.line, sensors, millicelsius)
    }

    fn let_go(&mut self, sensors: &[usize]) -> Result<(), Trouble> {
        self.on_line.let_go(&self.line, sensors)
    }

    fn inject(&mut self, fault: &Fault) -> Result<(), Trouble> {
        self.on_line.inject(&self.line, fault)
    }

    fn clear(&mut self, kind: FaultKind) -> Result<(), Trouble> {
        self.on_line.clear(&self.line, kind);
        Ok(())
    }

    fn reference_millicelsius(&mut self, sensor: usize) -> Result<i32, Trouble> {
        self.on_line.element_millicelsius(&self.line, sensor)
    }

    fn eeprom_writes(&mut self, sensor: usize) -> Result<u64, Trouble> {
        self.on_line.eeprom_writes(&self.line, sensor)
    }

    fn waveform_changes(&mut self) -> u64 {
        self.line.transitions_noted()
    }

    fn write_waveform(&mut self, out: &mut dyn io::Write) -> Result<Extent, WaveformError> {
        write_waveform(&self.line, out)
    }

    fn line_changes(&mut self) -> Result<(Vec<(u64, bool)>, Extent), WaveformError> {
        line_changes(&self.line)
    }
}
