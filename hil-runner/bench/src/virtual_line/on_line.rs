//! What hangs on the virtual line, and what hands can do to it.

use std::io;

use slotwise_virtual_line::{Completeness, SensorId, Signal, State, SupplyState, VirtualLine, Waveform};

use super::faults::Injected;
use crate::{Extent, WaveformError};
use slotwise_rig::Rig;
use slotwise_rig::reply::Trouble;
use slotwise_rig::{Fault, FaultKind};

/// The sensors of a rig and the faults on its line. The line itself is lent to each call: it may live elsewhere.
pub struct OnLine {
    /// By their places in the inventory.
    sensors: Vec<SensorId>,
    /// What is around each when no hand is, if not what is around all.
    surroundings: Vec<Option<i32>>,
    /// Whether a hand is around it.
    is_held: Vec<bool>,
    faults: Injected,
}

impl OnLine {
    pub(super) fn new(rig: &Rig, sensors: Vec<SensorId>) -> Self {
        Self {
            faults: Injected::new(rig, sensors.clone()),
            surroundings: rig.inventory.iter().map(|sensor| sensor.behaviour.ambient_millicelsius).collect(),
            is_held: vec![false; sensors.len()],
            sensors,
        }
    }

    /// The sensors, for tests that compare with the truth.
    #[cfg(any(test, feature = "for-tests"))]
    pub fn sensors(&self) -> &[SensorId] {
        &self.sensors
    }

    pub fn power_cycle(line: &VirtualLine, off_ms: u64) {
        line.set_supply(SupplyState::Off);
        line.advance_ns(off_ms.saturating_mul(1_000_000));
        line.set_supply(SupplyState::On);
    }

    pub fn set_ambient(&mut self, line: &VirtualLine, sensors: &[usize], millicelsius: i32) -> Result<(), Trouble> {
        let everywhere = sensors.len() == self.sensors.len();
        if everywhere {
            line.set_ambient_millicelsius(millicelsius);
        }
        // Surroundings of its own, unless they are those of all.
        let own = (!everywhere).then_some(millicelsius);
        for sensor in sensors {
            let id = self.id(*sensor)?;
            self.surroundings[*sensor] = own;
            // A hand stays where it is, and what has changed is felt when it lets go.
            if !self.is_held[*sensor] {
                line.set_sensor_ambient_millicelsius(id, own).map_err(lost)?;
            }
        }
        Ok(())
    }

    pub fn hold(&mut self, line: &VirtualLine, sensors: &[usize], millicelsius: i32) -> Result<(), Trouble> {
        for sensor in sensors {
            let id = self.id(*sensor)?;
            line.set_sensor_ambient_millicelsius(id, Some(millicelsius)).map_err(lost)?;
            self.is_held[*sensor] = true;
        }
        Ok(())
    }

    pub fn let_go(&mut self, line: &VirtualLine, sensors: &[usize]) -> Result<(), Trouble> {
        for sensor in sensors {
            let id = self.id(*sensor)?;
            line.set_sensor_ambient_millicelsius(id, self.surroundings[*sensor]).map_err(lost)?;
            self.is_held[*sensor] = false;
        }
        Ok(())
    }

    pub fn inject(&mut self, line: &VirtualLine, fault: &Fault) -> Result<(), Trouble> {
        self.faults.inject(line, fault)
    }

    pub fn clear(&mut self, line: &VirtualLine, kind: FaultKind) {
        self.faults.clear(line, kind);
    }

    pub(crate) fn element_millicelsius(&self, line: &VirtualLine, sensor: usize) -> Result<i32, Trouble> {
        line.element_millicelsius(self.id(sensor)?).map_err(lost)
    }

    pub fn eeprom_writes(&self, line: &VirtualLine, sensor: usize) -> Result<u64, Trouble> {
        Ok(line.inspect(self.id(sensor)?).map_err(lost)?.eeprom_writes)
    }

    fn id(&self, sensor: usize) -> Result<SensorId, Trouble> {
        self.sensors.get(sensor).copied().ok_or_else(|| Trouble::not_possible(format!("reaching sensor {sensor}")))
    }
}

pub fn write_waveform(line: &VirtualLine, out: &mut dyn io::Write) -> Result<Extent, WaveformError> {
    let waveform = line.waveform().ok_or(WaveformError::NotPossible)?;
    waveform.write_vcd(&mut { out })?;
    Ok(extent(&waveform))
}

/// When the line changed, and whether it is high from then on, with its level at the start as the first.
///
/// # Errors
/// [`WaveformError::NotPossible`] where nothing is recorded.
pub fn line_changes(line: &VirtualLine) -> Result<(Vec<(u64, bool)>, Extent), WaveformError> {
    let waveform = line.waveform().ok_or(WaveformError::NotPossible)?;
    let mut changes = vec![(waveform.start_ns(), waveform.initial(Signal::Line) != State::Low)];
    changes.extend(waveform.of(Signal::Line).map(|change| (change.at_ns, change.to != State::Low)));
    Ok((changes, extent(&waveform)))
}

fn extent(waveform: &Waveform) -> Extent {
    match waveform.completeness() {
        Completeness::Complete => Extent::Whole,
        Completeness::Truncated => Extent::End,
    }
}

/// What the virtual line refuses.
pub(super) fn lost(error: impl std::fmt::Display) -> Trouble {
    Trouble::not_possible(error.to_string())
}
