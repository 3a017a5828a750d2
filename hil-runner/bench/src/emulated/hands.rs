//! Hands on the line of an emulated chip: what they do happens on the chip's own thread, at the chip's own time.

use std::io;
use std::time::Duration;

use slotwise_emulated_mcu::ChipLost;

use super::chip::Chip;
use crate::debug_probe::TimeSource;
use crate::virtual_line::{line_changes, write_waveform};
use crate::{Extent, Hands, Pace, WaveformError};
use slotwise_limits::edges::EdgeRecord;
use slotwise_rig::reply::Trouble;
use slotwise_rig::{Fault, FaultKind};
use slotwise_terms::fixed_point::FixedPoint;

/// Between two looks of the host into the chip's memory: a micro-frame of USB 2.0, in which a debug probe gets one turn.
const LOOK_NS: u64 = 125_000;

/// Takes hold of the line behind the chip.
#[derive(Clone)]
pub(super) struct EmulatedHands(pub(super) Chip);

fn lost(error: &ChipLost) -> Trouble {
    Trouble::Link { text: format!("the emulated chip has stopped: {error}") }
}

impl TimeSource for EmulatedHands {
    fn now(&self) -> Duration {
        // A chip that has stopped is found out by the next access.
        Duration::from_nanos(self.0.now_ns())
    }

    fn pause(&self) {
        let _ = self.0.mcu.run_for_ns(LOOK_NS);
    }
}

impl Hands for EmulatedHands {
    fn now_ns(&self) -> u64 {
        self.0.now_ns()
    }

    fn pace(&self) -> Pace {
        Pace::Virtual
    }

    fn wait_us(&mut self, us: u64) -> Result<(), Trouble> {
        self.0.mcu.run_for_ns(us.saturating_mul(1000)).map_err(|error| lost(&error))
    }

    fn set_ambient(&mut self, sensors: &[usize], millicelsius: i32) -> Result<(), Trouble> {
        let sensors = sensors.to_vec();
        self.0
            .mcu
            .with(move |on_line, line| on_line.set_ambient(line, &sensors, millicelsius))
            .map_err(|error| lost(&error))?
    }

    /// Each follows with its lag, as in a bath that is stirred.
    fn immerse(&mut self, sensors: &[usize], at: FixedPoint) -> Result<(), Trouble> {
        self.set_ambient(sensors, at.millicelsius())
    }

    fn hold(&mut self, sensors: &[usize], millicelsius: i32) -> Result<(), Trouble> {
        let sensors = sensors.to_vec();
        self.0
            .mcu
            .with(move |on_line, line| on_line.hold(line, &sensors, millicelsius))
            .map_err(|error| lost(&error))?
    }

    fn let_go(&mut self, sensors: &[usize]) -> Result<(), Trouble> {
        let sensors = sensors.to_vec();
        self.0.mcu.with(move |on_line, line| on_line.let_go(line, &sensors)).map_err(|error| lost(&error))?
    }

    fn inject(&mut self, fault: &Fault) -> Result<(), Trouble> {
        let fault = fault.clone();
        self.0.mcu.with(move |on_line, line| on_line.inject(line, &fault)).map_err(|error| lost(&error))?
    }

    fn clear(&mut self, kind: FaultKind) -> Result<(), Trouble> {
        self.0.mcu.with(move |on_line, line| on_line.clear(line, kind)).map_err(|error| lost(&error))
    }

    fn reference_millicelsius(&mut self, sensor: usize) -> Result<i32, Trouble> {
        self.0
            .mcu
            .with(move |on_line, line| on_line.element_millicelsius(line, sensor))
            .map_err(|error| lost(&error))?
    }

    fn eeprom_writes(&mut self, sensor: usize) -> Result<u64, Trouble> {
        self.0.mcu.with(move |on_line, line| on_line.eeprom_writes(line, sensor)).map_err(|error| lost(&error))?
    }

    fn take_edges(&mut self) -> Option<EdgeRecord> {
        self.0.take_edges()
    }

    fn waveform_began_ns(&self) -> u64 {
        // The line is there while the chip is flashed.
        self.0.ready_ns.get()
    }

    fn waveform_changes(&mut self) -> u64 {
        self.0.mcu.with(|_, line| line.transitions_noted()).unwrap_or_default()
    }

    fn write_waveform(&mut self, out: &mut dyn io::Write) -> Result<Extent, WaveformError> {
        let written = self.0.mcu.with(|_, line| {
            let mut text = Vec::new();
            write_waveform(line, &mut text).map(|extent| (text, extent))
        });
        let (text, extent) = written.map_err(|error| WaveformError::Lost(error.to_string()))??;
        out.write_all(&text)?;
        Ok(extent)
    }

    fn line_changes(&mut self) -> Result<(Vec<(u64, bool)>, Extent), WaveformError> {
        self.0.mcu.with(|_, line| line_changes(line)).map_err(|error| WaveformError::Lost(error.to_string()))?
    }
}
