//! Requests that take hold of the virtual line itself.

use std::io;

use slotwise_virtual_line::{Completeness, SensorId, SupplyState};

use super::driver::VirtualBench;
use crate::bench::{Extent, Trouble, WaveformError};

impl<S> VirtualBench<S> {
    pub(super) fn switch_off_for(&mut self, off_ms: u64) {
        self.line.set_supply(SupplyState::Off);
        self.line.advance_ns(off_ms.saturating_mul(1_000_000));
        self.line.set_supply(SupplyState::On);
    }

    pub(super) fn surround(&mut self, sensors: &[usize], millicelsius: i32) -> Result<(), Trouble> {
        let everywhere = sensors.len() == self.sensors.len();
        if everywhere {
            self.line.set_ambient_millicelsius(millicelsius);
        }
        // Surroundings of its own, unless they are those of all.
        let own = (!everywhere).then_some(millicelsius);
        for sensor in sensors {
            let id = self.id(*sensor)?;
            self.line.set_sensor_ambient_millicelsius(id, own).map_err(lost)?;
        }
        Ok(())
    }

    pub(super) fn element_millicelsius(&self, sensor: usize) -> Result<i32, Trouble> {
        let id = self.id(sensor)?;
        self.line.element_millicelsius(id).map_err(lost)
    }

    pub(super) fn eeprom_write_count(&self, sensor: usize) -> Result<u64, Trouble> {
        let id = self.id(sensor)?;
        Ok(self.line.inspect(id).map_err(lost)?.eeprom_writes)
    }

    pub(super) fn dump(&mut self, out: &mut dyn io::Write) -> Result<Extent, WaveformError> {
        let waveform = self.line.waveform().ok_or(WaveformError::NotPossible)?;
        waveform.write_vcd(&mut { out })?;
        Ok(match waveform.completeness() {
            Completeness::Complete => Extent::Whole,
            Completeness::Truncated => Extent::End,
        })
    }

    fn id(&self, sensor: usize) -> Result<SensorId, Trouble> {
        self.sensors.get(sensor).copied().ok_or_else(|| Trouble::not_possible(format!("reaching sensor {sensor}")))
    }
}

/// What the virtual line refuses.
pub(super) fn lost(error: impl std::fmt::Display) -> Trouble {
    Trouble::not_possible(error.to_string())
}
