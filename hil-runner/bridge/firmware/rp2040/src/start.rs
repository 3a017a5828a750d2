//! What both programs for the chip have at their start.

use rp2040_hal::pac;
use slotwise_bridge::message::ResetCause;
use slotwise_firmware::PinState;
use slotwise_firmware::panic::software_reset;

/// Second stage of the boot loader, for flash chips of the W25Q080 kind.
#[expect(unsafe_code, reason = "the linker puts it at the start of flash")]
#[unsafe(link_section = ".boot2")]
#[used]
static BOOT2: [u8; 256] = rp2040_boot2::BOOT_LOADER_W25Q080;

/// What the chip says of its last reset (RP2040 Datasheet, 2.12.8 and 4.7; from memory): a flag of the watchdog, else of the whole chip,
/// and nothing of a reset of the cores alone. There is no watchdog here: on this chip it outlives the reset that a debug probe makes before
/// it writes the flash, and nothing of ours could show that the writing survives it.
pub(crate) fn reset_cause(watchdog: &pac::WATCHDOG, chip: &pac::VREG_AND_CHIP_RESET) -> ResetCause {
    let by_watchdog = watchdog.reason().read();
    let of_chip = chip.chip_reset().read();
    match software_reset() {
        // The flags keep the cause of the reset before it.
        by_firmware @ (ResetCause::Panic | ResetCause::Fault) => by_firmware,
        _ if by_watchdog.timer().bit_is_set() => ResetCause::Watchdog,
        _ if by_watchdog.force().bit_is_set() => ResetCause::Software,
        _ if of_chip.had_run().bit_is_set() => ResetCause::Pin,
        _ if of_chip.had_por().bit_is_set() => ResetCause::Power,
        _ => ResetCause::Unknown,
    }
}

/// The HAL has a type of its own for the level of a pin.
pub(crate) fn pin_state(state: PinState) -> rp2040_hal::gpio::PinState {
    match state {
        PinState::Low => rp2040_hal::gpio::PinState::Low,
        PinState::High => rp2040_hal::gpio::PinState::High,
    }
}
