//! Nothing: what an image costs before the driver is in it.

#![no_std]
#![no_main]

use slotwise_size_report::write;

/// Where the image begins.
#[expect(unsafe_code, reason = "the linker looks for the name")]
#[unsafe(no_mangle)]
pub extern "C" fn entry() -> ! {
    loop {
        write(8, 0);
    }
}
