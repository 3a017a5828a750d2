//! Why the chip was reset, and the watchdog that resets it when the firmware hangs.

use slotwise_bridge::Guard;
use slotwise_bridge::message::ResetCause;
use slotwise_firmware::panic::software_reset;
use stm32f1xx_hal::pac::{DBGMCU, IWDG, RCC};
use stm32f1xx_hal::prelude::*;
use stm32f1xx_hal::watchdog::IndependentWatchdog;

/// Time without a feed after which the chip is reset, in milliseconds, at the typical 40 kHz of its oscillator; from 1.7 to 3.3 s over the
/// tolerance of 30 to 60 kHz (datasheet DS5319, table "LSI oscillator characteristics"). Longer than the longest stretch without a wait
/// in a request (1.2 s on a line that never comes back), shorter than a host waits for an answer (4 s).
const WATCHDOG_MS: u32 = 2_500;

/// Reads the reset flags (RM0008 chapter 7.3.10) and removes them: they add up otherwise. A reset from inside pulls the pin as well, so
/// that its flag says something only where it is alone.
pub(crate) fn cause(rcc: &RCC) -> ResetCause {
    let flags = rcc.csr().read();
    rcc.csr().modify(|_, w| w.rmvf().set_bit());
    let by_software = software_reset();
    if flags.porrstf().bit_is_set() {
        ResetCause::Power
    } else if flags.iwdgrstf().bit_is_set() || flags.wwdgrstf().bit_is_set() {
        ResetCause::Watchdog
    } else if flags.sftrstf().bit_is_set() {
        by_software
    } else if flags.pinrstf().bit_is_set() {
        ResetCause::Pin
    } else {
        ResetCause::Unknown
    }
}

/// The independent watchdog. Only a reset stops it; while a debugger holds the core, it waits.
pub(crate) struct Watchdog(IndependentWatchdog);

impl Watchdog {
    /// Starts it.
    pub(crate) fn start(iwdg: IWDG, debug: &DBGMCU) -> Self {
        let mut watchdog = IndependentWatchdog::new(iwdg);
        watchdog.stop_on_debug(debug, true);
        watchdog.start(WATCHDOG_MS.millis());
        Self(watchdog)
    }
}

impl Guard for Watchdog {
    fn feed(&mut self) {
        self.0.feed();
    }
}
