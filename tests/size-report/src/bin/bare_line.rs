//! A line that is reset, and no more: what the image "calibrated" is held against.

#![no_std]
#![no_main]

use slotwise::line::{Line, PinLine, Timing};
use slotwise_size_report::{Clock, Pin, write};

const PRESENCE: usize = 8;
const FAULT: usize = 11;

/// Where the image begins.
#[expect(unsafe_code, reason = "the linker looks for the name")]
#[unsafe(no_mangle)]
pub extern "C" fn entry() -> ! {
    loop {
        if let Ok(mut line) = PinLine::new(Pin, Clock, Timing::SHORT_LINE) {
            match line.reset() {
                Ok(presence) => write(PRESENCE, presence as u32),
                Err(_) => write(FAULT, 1),
            }
        }
    }
}
