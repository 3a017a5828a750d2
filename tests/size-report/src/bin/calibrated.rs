//! The image "bare-line", whose line measures first what its calls cost.

#![no_std]
#![no_main]

use slotwise::line::{Line, PinLine, Timing};
use slotwise_size_report::{Clock, Pin, write};

const PRESENCE: usize = 8;
const FAULT: usize = 11;
const DELAY: usize = 12;

/// Where the image begins.
#[expect(unsafe_code, reason = "the linker looks for the name")]
#[unsafe(no_mangle)]
pub extern "C" fn entry() -> ! {
    loop {
        if let Ok(mut line) = PinLine::new(Pin, Clock, Timing::SHORT_LINE) {
            match line.calibrate(Clock::HZ, Clock::ticks) {
                Ok(overhead) => write(DELAY, overhead.delay_ns),
                Err(_) => write(FAULT, 2),
            }
            match line.reset() {
                Ok(presence) => write(PRESENCE, presence as u32),
                Err(_) => write(FAULT, 1),
            }
        }
    }
}
