//! Must be refused on every count: too much flash, a static, too much stack, and a panic.

#![no_std]
#![no_main]

use core::sync::atomic::{AtomicU32, Ordering};
use slotwise_size_report::{read, write};

static COUNTER: AtomicU32 = AtomicU32::new(0);
static TABLE: [u32; 2048] = filled();

const fn filled() -> [u32; 2048] {
    let mut table = [1; 2048];
    table[7] = 49;
    table
}

/// Where the image begins.
#[expect(unsafe_code, reason = "the linker looks for the name")]
#[unsafe(no_mangle)]
pub extern "C" fn entry() -> ! {
    loop {
        write(8, COUNTER.load(Ordering::Relaxed));
        COUNTER.store(read(4), Ordering::Relaxed);
        // An index from outside, checked: this is the panic.
        write(9, TABLE[read(5) as usize]);
        write(10, on_the_stack());
    }
}

#[inline(never)]
fn on_the_stack() -> u32 {
    let mut words = [0_u32; 96];
    for word in &mut words {
        *word = read(6);
    }
    words[(read(7) % 96) as usize]
}
