//! What both programs for the chip do at their start.

use nrf52833_hal::gpio::Level;
use nrf52833_hal::pac;
use slotwise_bridge::message::ResetCause;
use slotwise_bridge::watch::Clock;
use slotwise_firmware::panic::software_reset;
use slotwise_firmware::{CycleClock, PinState};

use crate::board;

/// Reads the reset flags and removes them: they add up otherwise. None of them set means a loss of power (nRF52833 Product
/// Specification, POWER, RESETREAS; from memory). There is no watchdog here: on this chip it outlives the reset that a debug probe makes
/// before it writes the flash, and nothing of ours could show that the writing survives it.
pub(crate) fn reset_cause(power: &pac::POWER) -> ResetCause {
    let flags = power.resetreas.read();
    // Each flag is removed by writing a 1 to it.
    #[expect(unsafe_code, reason = "the register has no safe way to write back what was read")]
    // SAFETY: every bit of this register may be written; it changes nothing but the flags.
    power.resetreas.write(|w| unsafe { w.bits(flags.bits()) });
    let by_software = software_reset();
    if flags.dog().bit_is_set() {
        ResetCause::Watchdog
    } else if flags.lockup().bit_is_set() {
        ResetCause::Fault
    } else if flags.sreq().bit_is_set() {
        by_software
    } else if flags.resetpin().bit_is_set() {
        ResetCause::Pin
    } else if flags.bits() == 0 {
        ResetCause::Power
    } else {
        ResetCause::Unknown
    }
}

/// Runs from the crystal if it starts in time, else on from the oscillator inside. The HAL would wait for it without an end.
pub(crate) fn try_crystal(clocks: &pac::CLOCK, timer: CycleClock) {
    clocks.tasks_hfclkstart.write(|w| w.tasks_hfclkstart().trigger());
    let since = timer.ticks();
    while clocks.events_hfclkstarted.read().events_hfclkstarted().is_not_generated() {
        if timer.ticks().wrapping_sub(since) >= board::CRYSTAL_START_CYCLES {
            defmt::warn!("the crystal does not start: times are right to within some percent only");
            return;
        }
    }
}

/// The HAL has a type of its own for the level of a pin.
pub(crate) fn level(state: PinState) -> Level {
    match state {
        PinState::Low => Level::Low,
        PinState::High => Level::High,
    }
}
