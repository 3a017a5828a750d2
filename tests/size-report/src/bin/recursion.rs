//! Must be refused: a function that calls itself as often as a register says.

#![no_std]
#![no_main]

use slotwise_size_report::{read, write};

/// Where the image begins.
#[expect(unsafe_code, reason = "the linker looks for the name")]
#[unsafe(no_mangle)]
pub extern "C" fn entry() -> ! {
    loop {
        write(8, depth(read(4)));
    }
}

#[inline(never)]
fn depth(value: u32) -> u32 {
    if read(5) == value { value } else { depth(value + 1) ^ depth(value + read(6)) }
}
