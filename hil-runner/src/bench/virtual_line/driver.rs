//! The requests that go through the driver.

use std::io;

use slotwise::bus::{Bus, RomCode, SearchScope, Target};
use slotwise::line::StrongPullUp;
use slotwise::thermometer::{Evidence, Saved, Settings, Supply, Thermometer, Wait, supply};
use slotwise_virtual_line::{SensorId, VirtualLine};

use super::build::DriverLine;
use super::faults::Injected;
use crate::bench::{Bench, Converted, Extent, Found, Pace, Sample, Trouble, WaveformError, through_driver};
use crate::record::Driver;
use crate::scenario::{Fault, FaultKind};

/// A virtual rig, ready.
pub(super) struct VirtualBench<S> {
    pub(super) bus: Bus<DriverLine<S>>,
    pub(super) line: VirtualLine,
    /// By their places in the inventory.
    pub(super) sensors: Vec<SensorId>,
    pub(super) faults: Injected,
}

impl<S: StrongPullUp> Bench for VirtualBench<S> {
    fn driver(&self) -> Driver {
        // Driver and runner are packages of one workspace with one version.
        Driver { name: "slotwise".into(), version: env!("CARGO_PKG_VERSION").into() }
    }

    fn search(&mut self, scope: SearchScope) -> Found {
        through_driver::search(&mut self.bus, scope)
    }

    fn is_present(&mut self, rom: RomCode) -> Result<bool, Trouble> {
        Ok(self.bus.is_present(rom)?)
    }

    fn supply(&mut self, target: Target) -> Result<Supply, Trouble> {
        Ok(supply(&mut self.bus, target)?)
    }

    fn scratchpad(&mut self, rom: RomCode) -> Result<[u8; 9], Trouble> {
        Ok(*Thermometer::new(rom)?.read_scratchpad(&mut self.bus)?.bytes())
    }

    fn read(&mut self, rom: RomCode, evidence: Evidence) -> Result<Sample, Trouble> {
        through_driver::read(&mut self.bus, rom, evidence)
    }

    fn write(&mut self, rom: RomCode, settings: Settings) -> Result<(), Trouble> {
        Ok(Thermometer::new(rom)?.write(&mut self.bus, settings)?)
    }

    fn save(&mut self, rom: RomCode) -> Result<Saved, Trouble> {
        Ok(Thermometer::new(rom)?.save(&mut self.bus)?)
    }

    fn recall(&mut self, rom: RomCode) -> Result<Settings, Trouble> {
        Ok(Thermometer::new(rom)?.recall(&mut self.bus)?)
    }

    fn convert(&mut self, target: Target, wait: Wait, max_us: u32) -> Result<Converted, Trouble> {
        let line = &self.line;
        through_driver::convert(&mut self.bus, (target, wait, max_us), || line.now_ns())
    }

    fn prove(&mut self, rom: RomCode, wait: Wait, max_us: u32) -> Result<Sample, Trouble> {
        through_driver::prove(&mut self.bus, rom, wait, max_us)
    }

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
        self.switch_off_for(off_ms);
        Ok(())
    }

    fn set_ambient(&mut self, sensors: &[usize], millicelsius: i32) -> Result<(), Trouble> {
        self.surround(sensors, millicelsius)
    }

    fn inject(&mut self, fault: &Fault) -> Result<(), Trouble> {
        self.faults.inject(&self.line, fault)
    }

    fn clear(&mut self, kind: FaultKind) -> Result<(), Trouble> {
        self.faults.clear(&self.line, kind);
        Ok(())
    }

    fn reference_millicelsius(&mut self, sensor: usize) -> Result<i32, Trouble> {
        self.element_millicelsius(sensor)
    }

    fn eeprom_writes(&mut self, sensor: usize) -> Result<u64, Trouble> {
        self.eeprom_write_count(sensor)
    }

    fn write_waveform(&mut self, out: &mut dyn io::Write) -> Result<Extent, WaveformError> {
        self.dump(out)
    }
}
