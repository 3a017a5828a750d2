//! The real driver on the virtual line: what tests and benches build on.
#![allow(dead_code)] // each test file uses its own part

use slotwise::bus::{Bus, RomCode, SearchScope, Target};
use slotwise::line::{
    InterruptMask, NoStrongPullUp, Overhead, PinLine, PullUpSwitch, StrongPullUp, SwitchLevel, Timing,
};
use slotwise::thermometer::{Reading, Receipt, Thermometer, Wait, convert};
use slotwise_virtual_line::{DataPin, LineDelay, StrongPullUpPin, VirtualLine};

/// Masks the virtual interrupts.
pub struct Masked(slotwise_virtual_line::InterruptMask);

impl InterruptMask for Masked {
    fn masked<R>(&mut self, slot: impl FnOnce() -> R) -> R {
        self.0.mask();
        let result = slot();
        self.0.unmask();
        result
    }
}

pub type DeskBus<S = NoStrongPullUp> = Bus<PinLine<DataPin, LineDelay, Masked, S>>;

/// What calls cost on the virtual master.
pub fn overhead(line: &VirtualLine) -> Overhead {
    let cpu = line.cpu();
    Overhead {
        pin_write_ns: cpu.pin_write_ns,
        pin_read_ns: cpu.pin_read_ns,
        // A delay is rounded up to whole steps; half of one on average.
        delay_ns: cpu.delay_overhead_ns + cpu.delay_step_ns / 2,
    }
}

fn master(line: &VirtualLine, timing: Timing) -> PinLine<DataPin, LineDelay, Masked> {
    PinLine::new(line.pin(), line.delay(), timing)
        .unwrap()
        .with_mask(Masked(line.interrupt_mask()))
        .with_overhead(overhead(line))
        .unwrap()
}

/// A bus without strong pull-up.
pub fn bus(line: &VirtualLine, timing: Timing) -> DeskBus {
    Bus::new(master(line, timing))
}

/// A bus with the strong pull-up of the line.
pub fn powered_bus(line: &VirtualLine, timing: Timing) -> DeskBus<PullUpSwitch<StrongPullUpPin>> {
    let switch = PullUpSwitch::new(line.strong_pull_up_pin().unwrap(), SwitchLevel::High).unwrap();
    Bus::new(master(line, timing).with_strong_pull_up(switch).unwrap())
}

/// Searches, converts for all, and reads all. The error of whatever went wrong first, as text.
pub fn measure_all<S: StrongPullUp>(bus: &mut DeskBus<S>, wait: Wait) -> Result<Vec<(RomCode, Reading)>, String> {
    let roms: Vec<RomCode> =
        bus.search(SearchScope::All).collect::<Result<_, _>>().map_err(|error| format!("search: {error}"))?;
    let converted = convert(bus, Target::All, wait, 750_000).map_err(|error| format!("convert: {error}"))?;
    roms.into_iter().map(|rom| read(bus, rom, &converted.receipt).map(|reading| (rom, reading))).collect()
}

/// Reads one.
pub fn read<S: StrongPullUp>(bus: &mut DeskBus<S>, rom: RomCode, receipt: &Receipt) -> Result<Reading, String> {
    let sensor = Thermometer::new(rom).map_err(|error| error.to_string())?;
    sensor.read(bus, receipt).map_err(|error| format!("read: {error}"))
}
