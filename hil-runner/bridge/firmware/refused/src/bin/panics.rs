//! Must be refused: the host can make the service panic, two calls deep.

#![no_std]
#![no_main]

use core::hint::black_box;
use cortex_m_rt::entry;
use slotwise_firmware::rtt::FRAMES_DOWN;
// The vector table of the chip.
use stm32f1xx_hal as _;

#[entry]
fn main() -> ! {
    slotwise_bridge_serve()
}

/// The service.
#[expect(unsafe_code, reason = "the check looks for the name")]
#[unsafe(no_mangle)]
#[inline(never)]
fn slotwise_bridge_serve() -> ! {
    loop {
        if let Some(byte) = FRAMES_DOWN.take() {
            black_box(between(byte));
        }
    }
}

#[inline(never)]
fn between(byte: u8) -> u8 {
    pick(black_box(usize::from(byte))) ^ byte
}

/// An index from outside, checked: this is the panic.
#[inline(never)]
fn pick(index: usize) -> u8 {
    black_box(*b"slotwise")[index]
}
