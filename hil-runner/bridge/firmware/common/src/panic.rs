//! When all else fails: a panic or a fault resets the chip.
//!
//! The host then gets the refusal "no session" to whatever it sends next, a named error within a bounded time, where a chip
//! that stands still would only be silent. No panic can be reached from the service; a check of the linked image says so.

use core::panic::PanicInfo;

use cortex_m::peripheral::SCB;

/// Starts the chip again. For a start-up that cannot go on.
pub fn restart() -> ! {
    SCB::sys_reset()
}

/// Called by the panic handler and by nobody else. Where no panic can be reached, the linker leaves it out.
#[expect(unsafe_code, reason = "the name is looked for in the image")]
#[unsafe(no_mangle)]
#[inline(never)]
pub extern "C" fn panicked() -> ! {
    restart()
}

#[panic_handler]
fn on_panic(_: &PanicInfo<'_>) -> ! {
    panicked()
}

#[allow(unsafe_code, reason = "an exception handler is unsafe to call, and nobody calls it")]
#[cortex_m_rt::exception]
unsafe fn HardFault(_: &cortex_m_rt::ExceptionFrame) -> ! {
    restart()
}
