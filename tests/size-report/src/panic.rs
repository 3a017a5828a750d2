//! A panic handler that leaves its mark in every image that can panic.

use crate::registers::write;
use core::panic::PanicInfo;

const PANICKED: usize = 15;

/// Called only by the panic handler. Where no panic can be reached, the linker leaves it out.
#[expect(unsafe_code, reason = "the name is looked for in the image")]
#[unsafe(no_mangle)]
#[inline(never)]
pub extern "C" fn panicked() -> ! {
    loop {
        write(PANICKED, 1);
    }
}

#[panic_handler]
fn on_panic(_: &PanicInfo<'_>) -> ! {
    panicked()
}
