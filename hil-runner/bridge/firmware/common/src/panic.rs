//! When all else fails: a panic or a fault resets the chip.
//!
//! The host then gets the refusal "no session" to whatever it sends next, with the cause of the reset in it: a named error within a
//! bounded time, where a halted chip would only be silent. No panic can be reached from the service; a check of the linked
//! image says so.

use core::panic::PanicInfo;
use core::sync::atomic::{AtomicU32, Ordering};

use cortex_m::peripheral::SCB;
use slotwise_bridge::message::ResetCause;

/// What the firmware leaves for its next start, in RAM that no start-up code touches. After a loss of power it holds anything, so the
/// words are chosen, and they count only if the chip says that software reset it.
#[allow(unsafe_code, reason = "the linker keeps it out of what is cleared")]
#[unsafe(link_section = ".uninit.slotwise_restart")]
static LEFT: AtomicU32 = AtomicU32::new(0);
const PANICKED: u32 = 0x5107_D1ED;
const FAULTED: u32 = 0x5107_FA17;

/// What is known of a reset by software: whether this firmware made it itself. Read once, at the start.
#[must_use]
pub fn software_reset() -> ResetCause {
    let left = LEFT.load(Ordering::Relaxed);
    LEFT.store(0, Ordering::Relaxed);
    match left {
        PANICKED => ResetCause::Panic,
        FAULTED => ResetCause::Fault,
        _ => ResetCause::Software,
    }
}

/// Starts the chip again. For a start-up that cannot go on.
pub fn restart() -> ! {
    LEFT.store(PANICKED, Ordering::Relaxed);
    SCB::sys_reset()
}

/// Called by the panic handler alone. Where no panic can be reached, the linker leaves it out.
#[expect(unsafe_code, reason = "the check finds the name in the image")]
#[unsafe(no_mangle)]
#[inline(never)]
pub extern "C" fn panicked() -> ! {
    restart()
}

#[panic_handler]
fn on_panic(_: &PanicInfo<'_>) -> ! {
    panicked()
}

#[allow(unsafe_code, reason = "an exception handler is unsafe to call, and no code calls it")]
#[cortex_m_rt::exception]
unsafe fn HardFault(_: &cortex_m_rt::ExceptionFrame) -> ! {
    LEFT.store(FAULTED, Ordering::Relaxed);
    SCB::sys_reset()
}
