//! From the file of a rig to an emulated chip with a session.

use std::sync::atomic::{AtomicU32, Ordering};

use slotwise_emulated_mcu::{
    Active, CHIP_NAME, ChipConfig, ChipLost, Crystal, EmulatedChips, PinName, Port, StartError, SwitchPin, Wiring,
};
pub use slotwise_emulated_mcu::{ResetBy, Trip};
use slotwise_virtual_line::{Cpu, InterruptLoad};

use super::chip::{Chip, Watching};
use super::further::{FurtherChip, FurtherChips};
use super::hands::EmulatedHands;
use crate::bridge::BridgeBench;
use crate::debug_probe::{ChipError, attach, bring_up, chosen_image, open_rtt};
use crate::link::Link;
use crate::virtual_line::{OnLine, build_line};
use crate::{Bench, OpenError, Outside, Tracing};
use slotwise_rig::{Rig, VirtualLine};

/// How many chips this process has started.
static CHIPS: AtomicU32 = AtomicU32::new(1);

/// What may differ between emulated chips beside the line.
#[derive(Clone, Debug, Default)]
pub struct EmulatedChip {
    /// Interrupts that take the CPU away from the firmware.
    pub interrupt_load: Option<InterruptLoad>,
    /// How much faster than nominal its clock is, in millionths.
    pub clock_error_ppm: i32,
    /// Frequency of the oscillator behind the watchdog, in hertz. `None`: typical.
    pub lsi_hz: Option<u32>,
    /// What the flash holds before.
    pub flash: Vec<u8>,
    /// What goes wrong with it before the debug probe attaches.
    pub trip_before: Option<Trip>,
    /// What goes wrong with it once the session is open.
    pub trip_in_run: Option<Trip>,
}

pub(super) fn next_serial() -> String {
    format!("bench-{}", CHIPS.fetch_add(1, Ordering::Relaxed))
}

/// Pins as in the board file of the firmware for the STM32F103.
fn wiring(line: &VirtualLine) -> Wiring {
    let switch = |number, active| Some(SwitchPin { pin: PinName::new(Port::B, number), active });
    Wiring {
        data: PinName::new(Port::B, 6),
        // A rig without one leaves the pin unconnected.
        strong_pull_up: line.strong_pull_up_ohm.and_then(|_| switch(7, Active::Low)),
        supply_switch: switch(8, Active::Low),
        short_switch: switch(9, Active::High),
    }
}

/// Starts an emulated chip, flashes it by its debug probe, and opens a session.
///
/// # Errors
/// [`OpenError`] if the rig cannot be, or the firmware does not come up.
pub fn open_emulated(
    rig: &Rig,
    virtual_line: &VirtualLine,
    (seed, tracing): (u64, Tracing),
    chip: EmulatedChip,
    outside: Outside<'_>,
) -> Result<Box<dyn Bench>, OpenError> {
    let (bench, _) = open_emulated_with(rig, virtual_line, (seed, tracing), (chip, &[]), outside)?;
    Ok(bench)
}

/// The same with further chips on the same line and in the same time. They start with what their flash holds, while the first is
/// flashed and opened.
///
/// # Errors
/// [`OpenError`] if the rig cannot be, or the firmware of the first chip does not come up.
pub fn open_emulated_with(
    rig: &Rig,
    virtual_line: &VirtualLine,
    (seed, tracing): (u64, Tracing),
    (chip, further): (EmulatedChip, &[FurtherChip]),
    outside: Outside<'_>,
) -> Result<(Box<dyn Bench>, FurtherChips), OpenError> {
    let image = chosen_image(outside.image, CHIP_NAME).map_err(ChipError::from)?;
    let mut config = ChipConfig::new(seed, wiring(virtual_line));
    config.crystal = if virtual_line.clock_mhz == 8 { Crystal::Missing } else { Crystal::Hz8MHz };
    config.interrupt_load = chip.interrupt_load;
    config.clock_error_ppm = chip.clock_error_ppm;
    config.lsi_hz = chip.lsi_hz.unwrap_or(config.lsi_hz);
    // Several chips may run in one process, each with a debug probe of its own.
    config.serial = next_serial();
    config.flash = chip.flash;
    let build = {
        let (rig, virtual_line) = (rig.clone(), virtual_line.clone());
        // The chip's own cycles are what its calls cost.
        move || build_line(&rig, &virtual_line, Cpu::ideal(), seed, tracing)
    };
    let families: Vec<_> = rig.inventory.iter().map(|sensor| sensor.part).collect();
    let watching = Watching::new(&families);
    config.on_pin_event = Some(watching.sink());
    let mut configs = vec![config];
    configs.extend(further.iter().zip(1..).map(|(further, number)| further.config(seed.wrapping_add(number))));
    let mcu: EmulatedChips<OnLine> = EmulatedChips::start(configs, build).map_err(|error| match error {
        StartError::Line(error) => OpenError::Line(error),
        other => OpenError::Emulator(other.to_string()),
    })?;
    let hands = EmulatedHands(Chip::new(mcu, watching));
    let stumble = |trip: Option<Trip>| trip.map_or(Ok(()), |trip| hands.0.mcu.trip(0, trip));
    let stopped = |error: ChipLost| OpenError::Emulator(error.to_string());
    stumble(chip.trip_before).map_err(stopped)?;
    let mut attached = attach(hands.0.mcu.debug_probe(0), CHIP_NAME, None)?;
    bring_up(&mut attached, &image, outside.listener)?;
    hands.0.ready_ns.set(hands.0.mcu.now_ns().map_err(stopped)?);
    let carrier = open_rtt(attached, &image, hands.clone())?;
    // Every emulated chip is a new one, on which no session was before.
    let mut link = Link::open(Box::new(carrier), 1)?;
    link.note_image(image.size);
    let bench = BridgeBench::new(link, hands.clone(), rig)?;
    stumble(chip.trip_in_run).map_err(stopped)?;
    Ok((Box::new(bench), FurtherChips(hands)))
}
