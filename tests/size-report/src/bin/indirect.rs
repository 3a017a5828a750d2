//! Must be refused: the stack depth of a call through a pointer is unknown.

#![no_std]
#![no_main]

use slotwise_size_report::{read, write};

/// Where the image begins.
#[expect(unsafe_code, reason = "the linker looks for the name")]
#[unsafe(no_mangle)]
pub extern "C" fn entry() -> ! {
    let ways: [fn(u32); 3] = [first, second, third];
    loop {
        ways[(read(4) % 2) as usize + 1](read(5));
        ways[0](read(6));
    }
}

#[inline(never)]
fn first(value: u32) {
    write(8, value);
}

#[inline(never)]
fn second(value: u32) {
    write(9, value ^ read(4));
}

#[inline(never)]
fn third(value: u32) {
    write(10, value + read(5));
}
